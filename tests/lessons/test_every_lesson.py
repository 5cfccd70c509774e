"""Every lesson: at least two different right answers pass, at least two plausible wrong ones do not, and why.

What is right and wrong is common practice of the trade, no source, as each answer says; figures are the rules' own.
"""

from __future__ import annotations

from functools import cache

import pytest
from answers import Answer
from answers import every as all_answers
from pen import Pen
from starts import every as all_starts

from loopwright.files.reader import load
from loopwright.lessons import Attempt, load_lessons, start
from loopwright.lessons.playing import consequence
from loopwright.sheet.values import Sheet

LESSONS = {lesson.id: lesson for course in load_lessons() for lesson in course.lessons}
ANSWERS = all_answers()


@cache
def opened(lesson: str) -> Attempt:
    """One attempt a lesson, looked at only: nothing is counted."""
    return start(LESSONS[lesson])


SHEETS: dict[tuple[str, str], Sheet] = {}


def drawn(answer: Answer) -> Sheet:
    """The sheet of an answer, drawn once."""
    key = answer.lesson, answer.name
    if key not in SHEETS:
        pen = Pen(opened(answer.lesson).sheet)
        answer.edit(pen)
        SHEETS[key] = pen.done()
    return SHEETS[key]


@pytest.mark.parametrize("answer", [a for a in ANSWERS if a.right], ids=lambda a: f"{a.lesson}-{a.name}")
def test_right_answer_passes(answer: Answer) -> None:
    verdict = opened(answer.lesson).look(drawn(answer))
    said = [c.said for c in verdict.conditions if not c.met], [t.said for t in verdict.harm], verdict.outside
    assert verdict.passed, said


@pytest.mark.parametrize("answer", [a for a in ANSWERS if not a.right], ids=lambda a: f"{a.lesson}-{a.name}")
def test_wrong_answer_misses(answer: Answer) -> None:
    attempt, sheet = opened(answer.lesson), drawn(answer)
    verdict = attempt.look(sheet)
    assert not verdict.passed
    misses = [c for c in verdict.conditions if not c.met]
    told = {c.rule for c in misses} | {t.rule for t in verdict.harm}
    words = " ".join([*(c.said for c in misses), *(o.said for o in verdict.outside)])
    assert answer.misses in told or answer.misses.lower() in words.lower(), (told, words)
    assert verdict.say
    assert consequence(attempt.lesson, sheet, verdict=verdict, play=False).sentence


@pytest.mark.parametrize("lesson", list(LESSONS))
def test_lesson_is_whole(lesson: str) -> None:
    found = LESSONS[lesson]
    own = [a for a in ANSWERS if a.lesson == lesson]
    assert sum(a.right for a in own) >= 2
    assert sum(not a.right for a in own) >= 2
    assert not opened(lesson).look(found.sheet).passed
    assert found.hints and found.next and found.reason
    assert found.sort != "lesson" or (found.bet and found.why and found.misconceptions)


@pytest.mark.parametrize("lesson", list(all_starts()))
def test_starting_sheet_is_what_the_script_draws(lesson: str) -> None:
    same = load(LESSONS[lesson].sheet_path) == all_starts()[lesson]()
    assert same, "Something it is drawn with has changed: run tests/lessons/make.py and look at what it gives"


@pytest.mark.parametrize("lesson", list(LESSONS))
def test_nobody_passes_by_taking_everything_away(lesson: str) -> None:
    attempt = opened(lesson)
    empty = Pen(attempt.lesson.sheet)
    empty.cut(*empty.sheet.parts)
    verdict = attempt.look(empty.done())
    assert not verdict.passed and verdict.say
    assert consequence(attempt.lesson, empty.done(), verdict=verdict).sentence


def test_right_answers_differ() -> None:
    for lesson in LESSONS:
        sheets = [drawn(a) for a in ANSWERS if a.lesson == lesson and a.right]
        assert all(a != b for n, a in enumerate(sheets) for b in sheets[n + 1 :])


@pytest.mark.parametrize("lesson", [x.id for x in LESSONS.values() if x.sort != "faults"])
def test_the_answer_that_can_be_shown_is_a_right_one(lesson: str) -> None:
    shown = start(LESSONS[lesson]).show_answer()
    assert shown == drawn(next(a for a in ANSWERS if a.lesson == lesson and a.right)), "run tests/lessons/make.py"
