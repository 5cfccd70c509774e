"""Answers to the sheets with hidden faults: marks with reasons, and faults put right."""

from __future__ import annotations

from collections.abc import Callable

from answers import ANSWERS, Answer
from pen import Pen

from loopwright.lessons import lesson_named, with_mark
from loopwright.lessons.lesson import Fault

Mend = Callable[[Pen], None]


def _faults(lesson: str) -> tuple[Fault, ...]:
    return lesson_named(lesson).faults


def _mark(pen: Pen, part: str, rule: str) -> None:
    pen.sheet = with_mark(pen.sheet, part, rule)


def _all_marked(lesson: str) -> Mend:
    """Each fault marked at its first part."""

    def edit(pen: Pen) -> None:
        for fault in _faults(lesson):
            _mark(pen, fault.at[0], fault.rule)

    return edit


def _some_mended(lesson: str, rule: str, mend: Mend) -> Mend:
    """One fault put right, the others marked at their last part."""

    def edit(pen: Pen) -> None:
        for fault in _faults(lesson):
            if fault.rule != rule:
                _mark(pen, fault.at[-1], fault.rule)
        mend(pen)

    return edit


def _four(lesson: str) -> Mend:
    """One fault not seen, a decoy marked in its place."""

    def edit(pen: Pen) -> None:
        found = lesson_named(lesson)
        for fault in found.faults[:4]:
            _mark(pen, fault.at[0], fault.rule)
        _mark(pen, found.decoys[0].at[0], found.faults[4].rule)

    return edit


def _wrong_reasons(lesson: str) -> Mend:
    """Every part right, every reason that of another."""

    def edit(pen: Pen) -> None:
        faults = _faults(lesson)
        for fault, other in zip(faults, (*faults[1:], faults[0]), strict=True):
            _mark(pen, fault.at[0], other.rule)

    return edit


MENDS: dict[str, tuple[str, Mend]] = {
    "F1": (
        "gravity-loop/dips",
        lambda pen: pen.lay("store_flow", points=(), graded="b"),
    ),
    "F2": ("gravity-loop/isolating-valve", lambda pen: pen.cut("V1")),
    "F3": ("solid-fuel/vent-can-close", lambda pen: pen.cut("V3")),
    "F4": ("vent-and-feed/cistern-too-small", lambda pen: pen.set("cistern", expansion_room_l=45.0)),
    "F5": ("solid-fuel/plastic-pipe", lambda pen: pen.lay("leak_return", material="copper", size="28")),
    "F6": ("circuit/pump-backwards", lambda pen: pen.turn("P1")),
}

for name, (slug, repair) in MENDS.items():
    ANSWERS.append(Answer(name, True, "all_marked", _all_marked(name)))
    ANSWERS.append(Answer(name, True, "one_mended", _some_mended(name, slug, repair)))
    ANSWERS.append(Answer(name, False, "four_and_a_decoy", _four(name), "4 of 5 faults found"))
    ANSWERS.append(Answer(name, False, "wrong_reasons", _wrong_reasons(name), "0 of 5 faults found"))
