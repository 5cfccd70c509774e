"""Hidden faults: what a learner marks on a sheet, and which of a lesson's faults are found.

Owns how marks travel: as facts of the sheet, so that an answer is one file. A fault is found when a part of it is
marked with its rule, or when it has been put right.
"""

from __future__ import annotations

import msgspec

from loopwright.lessons.lesson import Decoy, Fault, Lesson
from loopwright.lessons.looking import Look
from loopwright.rules.findings import Finding
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet

PREFIX = "fault at "
FOR_A_PART, FOR_A_REASON, FALSE_MARK, DECOY_MARK = 15, 5, 5, 10
"""Points of a fault sheet: for each part rightly marked, for its reason; lost by a false mark, by a marked decoy."""


class Marks(msgspec.Struct, frozen=True, kw_only=True):
    """How a learner's marks stand: faults found with their reason, parts rightly marked for another reason, others."""

    found: tuple[Fault, ...]
    part_only: tuple[Fault, ...]
    decoys: tuple[Decoy, ...]
    false: tuple[str, ...]
    points: int


def with_mark(sheet: Sheet, part: str, rule: str) -> Sheet:
    """The sheet with a part or pipe marked as faulty, for the reason that a rule gives. An empty rule takes it away."""
    return edits.set_fact(sheet, f"{PREFIX}{part}", rule or None)


def marks_in(sheet: Sheet) -> dict[str, str]:
    """What is marked, and the rule given as the reason."""
    return {
        name.removeprefix(PREFIX): str(rule) for name, rule in sheet.facts.items() if name.startswith(PREFIX) and rule
    }


def found_faults(lesson: Lesson, look: Look, start: Look) -> tuple[Fault, ...]:
    """Faults of a lesson that are marked with their rule, or put right."""
    marks = marks_in(look.sheet)
    return tuple(f for f in lesson.faults if any(marks.get(i) == f.rule for i in f.at) or _mended(f, look, start))


def _mended(fault: Fault, look: Look, start: Look) -> bool:
    """Whether the finding was there at the start and is gone, with what it is about and all large parts still there."""
    was = _standing(fault, start)
    kept = {f.subject for f in was} | {p.id for p in start.sheet.parts.values() if start.catalogue[p.kind].large}
    here = look.sheet.parts.keys() | look.sheet.pipes.keys()
    return bool(was) and kept <= here and not _standing(fault, look)


def _standing(fault: Fault, look: Look) -> list[Finding]:
    at = set(fault.at)
    return [f for f in look.survey.findings if fault.rule in (f.rule, *f.also) and at & {f.subject, *f.culprits}]


def marks_of(lesson: Lesson, look: Look, start: Look) -> Marks:
    """All marks judged, and the points they make: never below nil."""
    marks = marks_in(look.sheet)
    found = found_faults(lesson, look, start)
    part_only = tuple(f for f in lesson.faults if f not in found and any(i in marks for i in f.at))
    decoys = tuple(d for d in lesson.decoys if any(i in marks for i in d.at))
    known = {i for f in lesson.faults for i in f.at} | {i for d in lesson.decoys for i in d.at}
    false = tuple(i for i in marks if i not in known)
    points = len(found) * (FOR_A_PART + FOR_A_REASON) + len(part_only) * FOR_A_PART
    points -= len(false) * FALSE_MARK + len(decoys) * DECOY_MARK
    return Marks(found=found, part_only=part_only, decoys=decoys, false=false, points=max(0, points))
