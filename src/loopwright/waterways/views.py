"""Which ways pass, by the question asked: the views of `Ask`, under a condition.

A standing pump blocks where circulation is needed and passes where it is not wanted; the worse case is always taken.
Relief seats, air gaps, guards and diaphragms are shut in every view: they part waters.
"""

from __future__ import annotations

from enum import StrEnum
from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import PARTING, Element, Key, Waterways

FORWARD, BACK, BOTH, SHUT = 1, 2, 3, 0
ALWAYS_OPEN = frozenset({Behaviour.PIPE, Behaviour.FREE, Behaviour.SOURCE, Behaviour.EMITTER, Behaviour.COIL})
CLOSABLE = frozenset(
    {Behaviour.HAND, Behaviour.PUMP, Behaviour.THERMAL, Behaviour.ONE_WAY, Behaviour.RELIEF, Behaviour.POWERED}
)


class Ask(StrEnum):
    """What is asked of the water."""

    OPEN = "open"
    """Every closable way open: waters, would-be loops."""
    FIXED = "fixed"
    """Only what can never be shut: vents, relief, heat leak."""
    SELF_ACTING = "self_acting"
    """Fixed, and the flaps that buoyancy opens."""
    REFILL = "refill"
    """How a cistern refills a source."""
    REST = "rest"
    """Power off, what certainly passes: gravity loops."""
    IDLE = "idle"
    """Pumps standing, what may pass: unwanted circulation."""
    RUNNING = "running"
    """Power on, pumps forward."""


class Condition(msgspec.Struct, frozen=True):
    """What a person may try: the power off, pumps stopped, valves shut, sources out."""

    power: bool = True
    stopped: frozenset[str] = frozenset()
    shut: frozenset[str] = frozenset()
    out: frozenset[str] = frozenset()

    @property
    def words(self) -> str:
        """The condition in plain words."""
        if self == NORMAL:
            return "Normal running"
        said = [] if self.power else ["Power cut"]
        said += [f"{p} stopped" for p in sorted(self.stopped)]
        said += [f"{v} shut" for v in sorted(self.shut)]
        said += [f"{s} out" for s in sorted(self.out)]
        return ", ".join(said)


NORMAL = Condition()
POWER_CUT = Condition(power=False)

Passing = dict[Key, int]
"""Per element: bit 1 passes a -> b, bit 2 passes b -> a."""


def passing(ways: Waterways, ask: Ask, condition: Condition = NORMAL) -> Passing:
    """What each element lets through in a view. Kept per sheet, view and condition: copy it before you change it."""
    cached = ways.cache.get(("passing", ask, condition))
    if cached is None:
        cached = {key: _passes(ways, e, ask, condition) for key, e in ways.elements.items()}
        ways.cache["passing", ask, condition] = cached
        _shared_views(ways)[id(cached)] = cached
    return cast(Passing, cached)


def _shared_views(ways: Waterways) -> dict[int, Passing]:
    return cast(dict[int, Passing], ways.cache.setdefault("kept views", {}))


def is_kept(ways: Waterways, view: Passing) -> bool:
    """Whether a view is one that `passing` keeps, so that what follows from it may be kept as well."""
    return _shared_views(ways).get(id(view)) is view


def closable(ways: Waterways, element: Element) -> bool:
    """Whether some position shuts it, or it is a pump, thermal or one-way way."""
    return element.does in CLOSABLE and not open_in_every_position(ways, element)


def open_in_every_position(ways: Waterways, element: Element) -> bool:
    """A tied way that all positions of its part leave open (a diverter's common leg)."""
    if element.way is None:
        return True
    kind = ways.kind(element.part)
    if not kind.positions:
        return False
    return all(element.way.name in opened for opened in kind.positions.values())


def gravity_ok(ways: Waterways, element: Element, circulating_m: float = 0.5) -> bool:
    """Whether buoyancy alone opens a one-way way: a low-resistance flap, or a stated opening pressure small enough.

    The driving pressure is 100 Pa per metre of circulating height (density of water at 75 and 55 degC, arithmetic).
    """
    if element.way is None or element.does is not Behaviour.ONE_WAY:
        return False
    if element.way.gravity_ok:
        return True
    opening = ways.number(element.part, "opening_pa")
    return opening is not None and ways.typed(element.part, "opening_pa") and opening < 100.0 * circulating_m


def rest_position(ways: Waterways, part_id: str) -> str:
    """Where a powered valve rests without power: open, shut, as_left, or a position's name."""
    return str(ways.value(part_id, "rest") or "shut")


def rests_open(ways: Waterways, element: Element) -> bool | None:
    """How a powered way rests without power: True open, False shut, None as left."""
    rest = rest_position(ways, element.part)
    kind = ways.kind(element.part)
    if rest == "as_left":
        return None
    if kind.positions and element.way is not None:
        return element.way.name in kind.positions.get(rest, ())
    return rest == "open"


def _passes(ways: Waterways, element: Element, ask: Ask, condition: Condition) -> int:
    does = element.does
    if does in PARTING:
        return SHUT
    if element.part and element.part in condition.shut and does is not Behaviour.PUMP and closable(ways, element):
        return SHUT
    if does in ALWAYS_OPEN or ask is Ask.OPEN:
        return BOTH
    if ask in (Ask.FIXED, Ask.SELF_ACTING, Ask.REFILL):
        if does is Behaviour.ONE_WAY and ask is not Ask.FIXED:
            return FORWARD if gravity_ok(ways, element) else SHUT
        return BOTH if open_in_every_position(ways, element) else SHUT
    return _passes_as_drawn(ways, element, ask, condition)


def _passes_as_drawn(ways: Waterways, element: Element, ask: Ask, condition: Condition) -> int:
    """What a way that can shut lets through in `rest`, `idle` and `running`: as it is drawn, driven or left."""
    powered = condition.power and ask is Ask.RUNNING
    match element.does:
        case Behaviour.HAND:
            return BOTH if ways.value(element.part, "open") is not False else SHUT
        case Behaviour.POWERED:
            rests = True if powered else rests_open(ways, element)
            return BOTH if (ask is Ask.IDLE if rests is None else rests) else SHUT
        case Behaviour.PUMP:
            if powered and element.part not in condition.stopped:
                return FORWARD
            return BOTH if ask is Ask.IDLE else SHUT
        case Behaviour.ONE_WAY:
            return FORWARD if ask is not Ask.REST or gravity_ok(ways, element) else SHUT
    return BOTH
