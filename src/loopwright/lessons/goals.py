"""The vocabulary of a lesson's goal: what must hold on the sheet, never what the sheet must look like.

Owns the conditions as plain typed values, as a lesson file writes them. Knows nothing of how they are judged.

Wherever a condition names a part, it takes an id ("stove"), or a choice of parts: "kind:heat_store", "tag:stove",
several with a bar between them ("tag:stove|tag:log_boiler"). A choice that finds no part is not met.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec


class _Condition(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="is"):
    """Any condition. `words` is said in place of the words that loopwright would make; `unmet` when it fails."""

    words: str = ""
    unmet: str = ""


class Clear(_Condition, frozen=True, kw_only=True, tag="clear"):
    """A rule's answer is pass: for `of` alone if it is given. With `or_absent` nothing to look at will do as well.

    `advice_ok` lets an advice stand. Covered by another rule is a miss; not assessed is not finished yet.
    """

    rule: str
    of: str = ""
    or_absent: bool = False
    advice_ok: bool = False


class Quiet(_Condition, frozen=True, kw_only=True, tag="quiet"):
    """No danger and no fault (no advice either if `least` says so) of these themes; of all when none is named."""

    themes: tuple[str, ...] = ()
    least: Literal["advice", "fault", "danger"] = "fault"
    at_most: int = 0


class Answered(_Condition, frozen=True, kw_only=True, tag="answered"):
    """No rule waits for a missing figure."""


class FixedLoop(_Condition, frozen=True, kw_only=True, tag="fixed_loop"):
    """A loop from source to sink and back in which nothing can be shut and nothing needs electricity."""

    source: str
    sink: str


class CircuitMoves(_Condition, frozen=True, kw_only=True, tag="circuit"):
    """With the power on, water goes from source to sink and back."""

    source: str
    sink: str


class VentPath(_Condition, frozen=True, kw_only=True, tag="vent_path"):
    """An open pipe that nothing can shut leads from the source to the air over a cistern."""

    source: str


class SameWater(_Condition, frozen=True, kw_only=True, tag="same_water"):
    """Two parts share their water."""

    a: str
    b: str


class Parted(_Condition, frozen=True, kw_only=True, tag="parted"):
    """Two parts do not share any water. `or_absent`: one of them need not be there."""

    a: str
    b: str
    or_absent: bool = False


class Reached(_Condition, frozen=True, kw_only=True, tag="reached"):
    """Water can get from a to b in a view. `not_reached` turns it round."""

    a: str
    b: str
    view: Literal["open", "fixed", "self_acting", "rest", "running"] = "open"
    not_reached: bool = False


class Along(_Condition, frozen=True, kw_only=True, tag="along"):
    """Walking from the first part to the last one meets the others in this order, whatever stands between."""

    parts: tuple[str, ...]


class Above(_Condition, frozen=True, kw_only=True, tag="above"):
    """The tapping that one circuit uses lies above that of another: "boiler flow", "floor return"."""

    upper: str
    lower: str
    store: str = "kind:heat_store"
    by_m: float = 0.0


class Present(_Condition, frozen=True, kw_only=True, tag="present"):
    """So many parts of a choice are there, with figures not below those named. `between` two parts, if named."""

    part: str
    least: int = 1
    most: int | None = None
    having: dict[str, float | str | bool] = {}
    between: tuple[str, str] | None = None


class ValvedBothSides(_Condition, frozen=True, kw_only=True, tag="valved_both_sides"):
    """A hand valve stands on each side of a part, before the next branch."""

    part: str


class Moves(_Condition, frozen=True, kw_only=True, tag="moves"):
    """Water passes a part with the power on, or in a power cut. `still` turns it round."""

    part: str
    power: bool = True
    still: bool = False


class Within(_Condition, frozen=True, kw_only=True, tag="figure"):
    """A figure of the lesson within bounds. Names are those of `measures.MEASURES`."""

    name: str
    of: str = ""
    sink: str = ""
    minutes: float = 60.0
    least: float | None = None
    most: float | None = None


class Stated(_Condition, frozen=True, kw_only=True, tag="property"):
    """A property of a part: equal to a value, or within bounds."""

    part: str
    name: str
    equals: float | str | bool | None = None
    least: float | None = None
    most: float | None = None


class PipesWithin(_Condition, frozen=True, kw_only=True, tag="pipes"):
    """Every pipe, or those named, no wider than so many millimetres outside, and in the size they were."""

    most_mm: float | None = None
    unchanged: tuple[str, ...] = ()


class ClearOf(_Condition, frozen=True, kw_only=True, tag="clear_of"):
    """No pipe passes through a box of the house, such as a beam or a doorway."""

    name: str
    left_m: float
    right_m: float
    low_m: float
    high_m: float


class HeatedBy(_Condition, frozen=True, kw_only=True, tag="heated_by"):
    """Hot water at an outlet comes from a vessel that one of these sources can heat."""

    outlet: str
    source: str


class Found(_Condition, frozen=True, kw_only=True, tag="found"):
    """So many of the hidden faults are marked with their rule, or put right."""

    least: int = 5


class AnyOf(_Condition, frozen=True, kw_only=True, tag="any_of"):
    """One of several ways is complete: each a list of conditions."""

    ways: tuple[tuple[Condition, ...], ...]


Condition: TypeAlias = (
    Clear | Quiet | Answered | FixedLoop | CircuitMoves | VentPath | SameWater | Parted | Reached | Along | Above
    | Present | ValvedBothSides | Moves | Within | Stated | PipesWithin | ClearOf | HeatedBy | Found | AnyOf
)  # fmt: skip


def each(conditions: tuple[Condition, ...]) -> tuple[Condition, ...]:
    """All conditions, those inside `any_of` included."""
    out: list[Condition] = []
    for condition in conditions:
        out.append(condition)
        if isinstance(condition, AnyOf):
            for way in condition.ways:
                out += each(way)
    return tuple(out)
