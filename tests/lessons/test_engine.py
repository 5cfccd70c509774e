"""The lesson engine: broken files are refused with place and reason; attempts, hints and score; what follows, played.

Scores and costs are those of the lesson design: common practice of the trainer, no source.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from pen import Pen

from loopwright.errors import LessonError
from loopwright.lessons import Attempt, lesson_named, load_lessons, read_lesson, start
from loopwright.lessons.filling import fill
from loopwright.lessons.findfaults import marks_in, with_mark
from loopwright.lessons.goals import Clear, each
from loopwright.lessons.looking import Look
from loopwright.lessons.playing import consequence
from loopwright.lessons.reader import lesson_root, misconceptions
from loopwright.lessons.saying import feedback
from loopwright.resources import resource_root

# -- what ships -------------------------------------------------------------------------------------------------------


def test_four_courses_hold_at_least_26_lessons() -> None:
    courses = load_lessons()
    assert [c.id for c in courses] == ["up", "store", "run", "safety"]
    lessons = [x for c in courses for x in c.lessons]
    assert sum(x.sort == "lesson" for x in lessons) >= 26
    assert {x.sort for x in courses[-1].lessons} == {"lesson", "faults", "brief"}
    assert all(len(x.faults) == 5 and x.decoys for x in lessons if x.sort == "faults")


def test_every_misconception_is_treated_or_left_to_practice() -> None:
    treated = {m for c in load_lessons() for x in c.lessons for m in x.misconceptions}
    assert treated == set(misconceptions())


def test_every_hidden_fault_stands_alone_at_the_start() -> None:
    for lesson in load_lessons()[-1].lessons:
        if lesson.sort != "faults":
            continue
        found = Attempt(lesson).start.survey.findings
        for fault in lesson.faults:
            assert any(f.rule == fault.rule and set(fault.at) & {f.subject, *f.culprits} for f in found), fault
        bad = {i for f in found if f.severity > 1 for i in f.culprits}
        assert not bad & {i for d in lesson.decoys for i in d.at}, lesson.id


# -- broken files -----------------------------------------------------------------------------------------------------


def _broken(tmp_path: Path, old: str, new: str, name: str = "S1") -> LessonError:
    text = (lesson_root() / f"{name}.toml").read_text(encoding="utf-8")
    assert old in text
    shutil.copy(lesson_root() / f"{name}.loopwright", tmp_path)
    (tmp_path / f"{name}.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(LessonError) as caught:
        start(read_lesson(tmp_path / f"{name}.toml"))
    return caught.value


@pytest.mark.parametrize(
    ("old", "new", "what", "key"),
    [
        ('rule = "gravity-loop/pump-in-line"', 'rule = "gravity-loop/pump-in-lime"', "no rule", "goal[3].rule"),
        ('is = "fixed_loop"', 'is = "mixed_loop"', "mixed_loop", "goal[0]"),
        ('source = "stove"', 'sauce = "stove"', "sauce", "goal[0]"),
        ('source = "stove"', 'source = "oven"', "oven", "goal[0]"),
        ("minutes = 12", 'minutes = "long"', "int", "minutes"),
        ('id = "S1"', 'id = "S2"', "S2", "id"),
        ('course = "safety"', 'course = "danger"', "no course", "course"),
        ('remove = ["V1", "V2"]', 'remove = ["V1", "V7"]', "V7", "allowed.remove"),
        ('place = ["*"]', 'place = ["gate"]', "no kind", "allowed.place"),
        ('V1 = ["*"]', 'V1 = ["colour"]', "colour", "allowed.change.V1"),
        ('misconceptions = ["M4"', 'misconceptions = ["M99"', "M99", "misconceptions"),
        ('"fact:sf.leak.valves"', '"fact:sf.leek"', "sf.leek", "next[2]"),
        ("right = 1", "right = 4", "number of a choice", "why.right"),
        ('task = "', 'task = ""\nlost = "', "lost", ""),
    ],
)
def test_broken_lesson_is_refused_with_key_and_reason(tmp_path: Path, old: str, new: str, what: str, key: str) -> None:
    bad = _broken(tmp_path, old, new)
    assert what in bad.what
    assert "S1.toml" in bad.where and key in bad.where
    assert bad.do


def test_the_line_is_named(tmp_path: Path) -> None:
    bad = _broken(tmp_path, "minutes = 12", 'minutes = "long"')
    lines = (tmp_path / "S1.toml").read_text(encoding="utf-8").splitlines()
    number = lines.index('minutes = "long"') + 1
    assert f"line {number}" in bad.where


def test_the_line_of_an_inline_condition_is_named(tmp_path: Path) -> None:
    bad = _broken(tmp_path, 'name = "leak_kw"', 'name = "leak_hp"', "S2")
    lines = (tmp_path / "S2.toml").read_text(encoding="utf-8").splitlines()
    wanted = next(n for n, line in enumerate(lines, 1) if "leak_hp" in line)
    assert f"line {wanted}," in bad.where and "leak_hp" in bad.what


def test_no_toml_no_sheet_no_lesson(tmp_path: Path) -> None:
    (tmp_path / "X.toml").write_text("id = ", encoding="utf-8")
    with pytest.raises(LessonError, match=r"X\.toml"):
        read_lesson(tmp_path / "X.toml")
    shutil.copy(lesson_root() / "S1.toml", tmp_path)
    with pytest.raises(LessonError, match="starting sheet of lesson S1"):
        start(read_lesson(tmp_path / "S1.toml"))
    (tmp_path / "S1.loopwright").write_text("{}", encoding="utf-8")
    with pytest.raises(LessonError, match="starting sheet of lesson S1"):
        start(read_lesson(tmp_path / "S1.toml"))
    with pytest.raises(LessonError, match="no lesson “Z9”"):
        lesson_named("Z9")


def test_two_lessons_with_one_number_are_refused(tmp_path: Path) -> None:
    text = (lesson_root() / "S2.toml").read_text(encoding="utf-8")
    (tmp_path / "S2.toml").write_text(text.replace("number = 2", "number = 1"), encoding="utf-8")
    shutil.copy(lesson_root() / "S1.toml", tmp_path)
    with pytest.raises(LessonError, match="both have number 1"):
        load_lessons(tmp_path)


# -- an attempt -------------------------------------------------------------------------------------------------------


def _right(attempt: Attempt):
    pen = Pen(attempt.sheet)
    pen.cut("V1", "V2")
    return pen.done()


def _one_left(attempt: Attempt):
    pen = Pen(attempt.sheet)
    pen.cut("V1")
    return pen.done()


def test_first_check_right_without_hints_gives_all_points() -> None:
    attempt = start(lesson_named("S1"))
    verdict = attempt.check(_right(attempt))
    assert verdict.passed and verdict.score == 80
    assert not attempt.answer_why(0)
    assert attempt.answer_why(1) and attempt.score() == 80  # the second choice does not score
    other = start(lesson_named("S1"))
    other.check(_right(other))
    assert other.answer_why(1) and other.score() == 100 and other.sure


def test_checks_and_hints_cost_and_never_below_forty() -> None:
    attempt = start(lesson_named("S1"))
    assert attempt.score() == 0
    attempt.check(attempt.sheet)
    attempt.check(_one_left(attempt))
    assert attempt.hint() == attempt.lesson.hints[0]
    assert attempt.check(_right(attempt)).score == 80 - 2 * 10 - 5
    worst = start(lesson_named("S1"))
    for _ in range(6):
        worst.check(worst.sheet)
    for _ in range(3):
        worst.hint()
    assert worst.check(_right(worst)).score == 40 and not worst.sure
    with pytest.raises(LessonError, match="no further hint"):
        worst.hint()


def test_a_look_counts_nothing() -> None:
    attempt = start(lesson_named("S1"))
    for _ in range(5):
        attempt.look(attempt.sheet)
    assert attempt.check(_right(attempt)).score == 80


def test_a_near_miss_is_free_the_first_time() -> None:
    attempt = start(lesson_named("U2"))
    near = Pen(attempt.sheet)
    near.lay("store_flow", "return_3", extra_length_m=5.0, extra_bends=5)
    attempt.check(attempt.sheet)  # the first check is free anyway
    assert attempt.check(near.done()).near  # some 95 degC against 94 is within a tenth: free
    attempt.check(near.done())  # the second time it costs
    pen = Pen(attempt.sheet)
    pen.lay("store_flow", "return_3", extra_length_m=0.0, extra_bends=0)
    assert attempt.check(pen.done()).score == 80 - 10 - 10


def test_what_was_put_right_is_said_and_misses_are_counted() -> None:
    attempt = start(lesson_named("R3"))
    first = attempt.check(attempt.sheet)
    assert first.misses == 1 and not first.put_right
    pen = Pen(attempt.sheet)
    pen.turn("P2")
    second = attempt.check(pen.done())
    assert any("wrong way" in said for said in second.put_right)
    assert second.misses == 2  # the next condition was missed before as well
    assert attempt.check(pen.done()).misses == 3


def test_changes_outside_the_lesson_do_not_pass() -> None:
    attempt = start(lesson_named("S1"))
    pen = Pen(attempt.lesson.sheet)
    pen.cut("V1", "V2")
    pen.set("stove", power_kw=2.0)
    verdict = attempt.check(pen.done())
    assert not verdict.passed and all(c.met for c in verdict.conditions)
    assert "stay" in verdict.outside[0].said and verdict.say == verdict.outside[0].said


def test_new_harm_keeps_the_lesson_open() -> None:
    attempt = start(lesson_named("S1"))
    pen = Pen(attempt.sheet)
    pen.cut("V1", "V2")
    pen.put("stove_vent", "isolating_valve", "V9", (1.7, 4.6))
    verdict = attempt.check(pen.done())
    assert not verdict.passed
    assert "solid-fuel/vent-can-close" in {t.rule for t in verdict.harm}


def test_what_must_stay_is_locked_on_the_sheet_to_begin_with() -> None:
    attempt = start(lesson_named("S1"))
    parts = attempt.sheet.parts
    assert parts["stove"].locked and parts["cistern"].locked
    assert not parts["V1"].locked and not parts["T"].locked


def test_unfinished_is_not_a_miss() -> None:
    attempt = start(lesson_named("S2"))
    pen = Pen(attempt.sheet)
    pen.cut("leak")
    verdict = attempt.check(pen.done())
    assert not verdict.passed
    blank = start(lesson_named("D1"))
    told = blank.check(blank.sheet)
    assert not told.finished and not told.passed


def test_an_answer_may_be_shown_for_forty_points() -> None:
    attempt = start(lesson_named("S1"))
    assert attempt.has_answer
    assert attempt.check(attempt.show_answer()).score == 40
    assert not start(lesson_named("F1")).has_answer
    with pytest.raises(LessonError, match="no answer to show"):
        start(lesson_named("F1")).show_answer()


def test_feedback_says_more_each_time_the_same_is_missed() -> None:
    attempt = start(lesson_named("S1"))
    told = [feedback(attempt.check(attempt.sheet), hints_left=attempt.hints_left) for _ in range(4)]
    assert told[0].play and not told[0].path and told[0].offer == ""
    assert told[1].path and told[1].offer == "hint" and not told[1].play
    assert told[2].offer == "hint" and told[3].offer == "answer"
    done = feedback(attempt.check(_right(attempt)))
    assert done.offer == "next" and done.play and done.right


def test_unfinished_plays_no_disaster() -> None:
    attempt = start(lesson_named("D1"))
    verdict = attempt.check(attempt.sheet)
    assert not feedback(verdict).play or verdict.first_miss.state == "unmet"
    live = attempt.look(attempt.show_answer(), slow=False)
    assert not live.passed and {c.said for c in live.conditions if not c.met} == {"This is worked out when you check."}


# -- hidden faults ----------------------------------------------------------------------------------------------------


def test_marks_travel_with_the_sheet_and_score(tmp_path: Path) -> None:
    from loopwright.files.reader import load
    from loopwright.files.writer import save

    lesson = lesson_named("F1")
    attempt = start(lesson)
    sheet = attempt.sheet
    for fault in lesson.faults[:3]:
        sheet = with_mark(sheet, fault.at[0], fault.rule)
    sheet = with_mark(sheet, lesson.faults[3].at[0], "gravity-loop/dips")  # right part, wrong reason
    sheet = with_mark(sheet, lesson.decoys[0].at[0], "gravity-loop/dips")
    sheet = with_mark(sheet, "stove", "gravity-loop/dips")
    save(sheet, tmp_path / "answer.loopwright")
    back = load(tmp_path / "answer.loopwright")
    assert marks_in(back) == marks_in(sheet)
    verdict = attempt.check(back)
    assert verdict.marks is not None
    assert (len(verdict.marks.found), len(verdict.marks.part_only)) == (3, 1)
    assert len(verdict.marks.decoys) == 1 and verdict.marks.false == ("stove",)
    assert verdict.score == 3 * 20 + 15 - 10 - 5
    assert not marks_in(with_mark(sheet, "stove", "")).get("stove")


# -- what follows -----------------------------------------------------------------------------------------------------


def test_layers_fill_from_the_top_once_the_pipes_are_right() -> None:
    attempt = start(lesson_named("T1"))
    wrong = consequence(attempt.lesson, attempt.sheet)
    pen = Pen(attempt.sheet)
    pen.swap_ends("boiler_flow", "boiler_return_1", "store")
    right = consequence(attempt.lesson, pen.done())
    assert wrong.show == right.show == "layers"
    assert wrong.rule == "tapping/flow-below-return" and wrong.sentence != right.sentence
    for told in (wrong, right):
        rows = np.array(told.layers_c)
        assert rows.shape == (len(told.minutes), 20)
        assert (np.diff(rows, axis=1) > -1e-6).all()  # warm water never lies under cold
        assert (np.diff(rows.sum(axis=1)) > -1e-6).all()
    at_20 = right.minutes.index(20.0)
    assert right.layers_c[at_20][-1] > wrong.layers_c[at_20][-1] + 5.0


def test_heat_into_the_layers_is_what_the_source_gave() -> None:
    """First law: 18 kW for an hour is 18 kWh; 1.163 Wh a litre and kelvin is the heat of water (definition)."""
    attempt = start(lesson_named("T1"))
    pen = Pen(attempt.sheet)
    pen.swap_ends("boiler_flow", "boiler_return_1", "store")
    filled = fill(Look(pen.done(), pen.catalogue).case, "store", minutes=60.0)
    assert filled is not None
    kwh = 500.0 / 20 * 1.163 * sum(t - 15.0 for t in filled.layers_c[-1]) / 1000.0
    assert kwh == pytest.approx(18.0, rel=0.02)


def test_power_cut_plays_the_stove() -> None:
    attempt = start(lesson_named("S9"))
    told = consequence(attempt.lesson, attempt.sheet)
    assert told.show == "cut" and told.fire == "stove"
    assert told.boils_at_min is not None and told.boils_at_min < 30.0
    assert max(told.water_c) > 100.0 and len(told.minutes) == len(told.water_c) == len(told.layers_c)
    pen = Pen(attempt.sheet)
    pen.cut("P5", "TS1", "V1", "V2", "V3")
    pen.set("leak", output_w=1300.0)
    calm = consequence(attempt.lesson, pen.done())
    assert calm.boils_at_min is None and max(calm.water_c) < 100.0


def test_a_locked_valve_is_shut_when_its_danger_is_played() -> None:
    attempt = start(lesson_named("S1"))
    pen = Pen(attempt.sheet)
    pen.cut("V1", "V2")
    pen.put("leak_flow", "isolating_valve", "V3", (1.45, 3.552), locked_open=True)
    assert consequence(attempt.lesson, pen.done()).blocked == ("V3",)


def test_stalled_loop_is_lit() -> None:
    attempt = start(lesson_named("U1"))
    pen = Pen(attempt.sheet)
    pen.move("leak", -0.6, 3.0)
    down = [(1.3, 3.552), (1.3, 2.75), (0.3, 2.75), (0.3, 3.552)]
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=down, id="leak_flow")
    pen.pipe(pen["leak"]["return"], pen.uncap("R", "up"), "28", via=[(3.2, 3.048)])
    told = consequence(attempt.lesson, pen.done())
    assert told.show == "loop" and told.rule == "gravity-loop/dips"
    assert {"stove", "leak", "leak_flow"} <= set(told.path) and "leak_flow" in told.blocked


def test_every_goal_rule_has_a_page() -> None:
    for course in load_lessons():
        for lesson in course.lessons:
            for condition in each(lesson.goal):
                if isinstance(condition, Clear):
                    assert (resource_root() / "rules" / f"{condition.rule}.md").is_file()
