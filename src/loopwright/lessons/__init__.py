"""Lessons: what an apprentice is asked to draw, how the answer is judged, and what follows from it.

    from loopwright.lessons import load_lessons, lesson_named, start, consequence

    courses = load_lessons()                  # four courses, each with its lessons in order
    attempt = start(lesson_named("S1"))       # attempt.sheet is where to begin
    verdict = attempt.check(sheet)            # counts; attempt.look(sheet) does not
    verdict.passed, verdict.say, verdict.conditions, verdict.findings, verdict.outside, verdict.harm
    feedback(verdict, hints_left=attempt.hints_left, answer=attempt.has_answer)   # what to say, light, offer
    attempt.hint(); attempt.answer_why(2); attempt.show_answer(); attempt.score()
    consequence(attempt.lesson, sheet, verdict=verdict)   # a sentence, and what a view can play
    Progress().keep(attempt, verdict)

No Qt. Every refusal is a LessonError. Names are loaded when they are first asked for.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Attempt, Told, Verdict, start
    from loopwright.lessons.findfaults import Marks, marks_in, with_mark
    from loopwright.lessons.lesson import Allowed, Course, Lesson, Misconception, Question
    from loopwright.lessons.marking import Row, mark
    from loopwright.lessons.playing import Consequence, consequence
    from loopwright.lessons.progress import Progress, Standing
    from loopwright.lessons.reader import lesson_named, load_lessons, misconceptions, read_lesson
    from loopwright.lessons.saying import Feedback, feedback
    from loopwright.lessons.teaching import complaints, make_lesson, proposed_goal
    from loopwright.lessons.watercourse import Judged

_WHERE = {
    "attempt": ("Attempt", "Told", "Verdict", "start"),
    "playing": ("Consequence", "consequence"),
    "saying": ("Feedback", "feedback"),
    "findfaults": ("Marks", "marks_in", "with_mark"),
    "lesson": ("Allowed", "Course", "Lesson", "Misconception", "Question"),
    "marking": ("Row", "mark"),
    "progress": ("Progress", "Standing"),
    "reader": ("lesson_named", "load_lessons", "misconceptions", "read_lesson"),
    "teaching": ("complaints", "make_lesson", "proposed_goal"),
    "watercourse": ("Judged",),
}
_MODULE = {name: module for module, names in _WHERE.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _MODULE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_MODULE[name]}"), name)


__all__ = [
    "Allowed",
    "Attempt",
    "Consequence",
    "Course",
    "Feedback",
    "Judged",
    "Lesson",
    "Marks",
    "Misconception",
    "Progress",
    "Question",
    "Row",
    "Standing",
    "Told",
    "Verdict",
    "complaints",
    "consequence",
    "feedback",
    "lesson_named",
    "load_lessons",
    "make_lesson",
    "mark",
    "marks_in",
    "misconceptions",
    "proposed_goal",
    "read_lesson",
    "start",
    "with_mark",
]
