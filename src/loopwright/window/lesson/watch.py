"""What a lesson does to the sheet under it: edits it does not allow are refused, findings not its own are held back.

Owns the functions that the document and the findings are given while a lesson is on. What is allowed and what is
watched is asked of `loopwright.lessons`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import msgspec

from loopwright.errors import LessonError

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.lessons.attempt import Attempt
    from loopwright.rules.findings import Finding
    from loopwright.sheet.values import Sheet
    from loopwright.survey import Survey

SEARCHING = "Findings are hidden while you look for the faults yourself."
SILENT = "Silent until you check."


def nothing_shown(_survey: Survey) -> tuple[Sequence[Finding], str]:
    """A sieve that leaves nothing: a sheet of faults to be found."""
    return (), SEARCHING


def kinds_for(attempt: Attempt) -> frozenset[str] | None:
    """Kinds of part that a lesson allows; None for all."""
    from loopwright.lessons.allowed import ALWAYS

    allowed = attempt.lesson.allowed
    return None if allowed.anything or "*" in allowed.place else frozenset(allowed.place) | ALWAYS


def guard_for(attempt: Attempt, catalogue: Catalogue) -> Callable[[Sheet, Sheet], None]:
    """Refuses, as a LessonError, an edit that changes more than the lesson allows."""

    def guard(before: Sheet, after: Sheet) -> None:
        from loopwright.lessons.allowed import outside

        lesson = attempt.lesson
        was = {o.said for o in outside(lesson.sheet, before, lesson.allowed, catalogue)}
        for new in outside(lesson.sheet, after, lesson.allowed, catalogue):
            if new.said not in was:
                raise LessonError(new.said.rstrip("."))

    return guard


def sieve_for(attempt: Attempt, live: Callable[[], bool]) -> Callable[[Survey], tuple[Sequence[Finding], str]]:
    """Leaves the findings on the lesson's subject and new harm; none of a sheet of faults, and none unless `live`."""

    def sieve(survey: Survey) -> tuple[Sequence[Finding], str]:
        from loopwright.lessons.attempt import watched_rules
        from loopwright.rules.findings import Severity

        if attempt.lesson.sort == "faults":
            return (), SEARCHING
        if not live():
            return (), SILENT
        watched, was = watched_rules(attempt.lesson), attempt.start.harms
        shown = [
            msgspec.structs.replace(f, todo="")  # where, not what to do: that is for the learner to find
            for f in survey.findings
            if {f.rule, *f.also} & watched or (f.severity > Severity.ADVICE and (f.rule, f.subject) not in was)
        ]
        left = len(survey.findings) - len(shown)
        said = [] if shown else ["Nothing found on the lesson's subject."]
        if left:
            said.append(f"{left} other finding{'' if left == 1 else 's'} not for this lesson.")
        return shown, " ".join(said)

    return sieve
