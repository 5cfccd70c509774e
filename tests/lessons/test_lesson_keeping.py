"""Progress, marking a folder, lessons from any sheet, and the two commands."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from pen import Pen

from loopwright.cli import cli
from loopwright.errors import LessonError
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.lessons import Progress, complaints, lesson_named, load_lessons, make_lesson, mark, start
from loopwright.lessons.attempt import Attempt, Verdict
from loopwright.lessons.goals import Clear, FixedLoop
from loopwright.lessons.marking import as_csv, as_text, common_misses


def _pen(lesson: str) -> tuple[Attempt, Pen]:
    attempt = start(lesson_named(lesson))
    return attempt, Pen(attempt.sheet)


def _passed() -> tuple[Attempt, Verdict]:
    attempt, pen = _pen("S1")
    pen.cut("V1", "V2")
    return attempt, attempt.check(pen.done())


# -- progress ---------------------------------------------------------------------------------------------------------


def test_progress_is_kept_read_again_and_reset(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "progress.json"
    progress = Progress(path)
    assert not path.exists()
    attempt, verdict = _passed()
    progress.keep(attempt, verdict, minutes=4.0, on=date(2030, 1, 1))
    again = Progress(path).of("S1")
    assert (again.best, again.passed, again.checks, again.attempts) == (80, True, 1, 1)
    missed, _ = _pen("S1")
    Progress(path).keep(missed, missed.check(missed.sheet))
    later = Progress(path).of("S1")
    assert later.best == 80 and later.passed and later.attempts == 2
    assert later.missed["solid-fuel/heat-leak-can-be-shut"] >= 1
    Progress(path).reset("S1")
    assert not Progress(path).of("S1").passed
    Progress(path).keep(attempt, verdict)
    Progress(path).reset()
    assert not Progress(path).standings


def test_a_sure_lesson_comes_back_after_1_7_and_30_days(tmp_path: Path) -> None:
    progress = Progress(tmp_path / "p.json")
    attempt, verdict = _passed()
    attempt.answer_why(1)
    day = date(2030, 1, 1)
    progress.keep(attempt, verdict, on=day)
    for gap in (1, 7, 30):
        assert progress.due(on=day + timedelta(days=gap - 1)) == []
        day += timedelta(days=gap)
        assert progress.due(on=day) == ["S1"]
        progress.reviewed("S1", on=day)
    assert progress.due(on=day + timedelta(days=400)) == []


def test_an_unreadable_file_is_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    path.write_text("{half", encoding="utf-8")
    progress = Progress(path)
    assert not progress.standings and progress.set_aside is not None
    assert progress.set_aside.read_text(encoding="utf-8") == "{half"


# -- marking ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Four answers: right, wrong, beyond the lesson, and no sheet at all."""
    attempt, pen = _pen("S1")
    save(pen.done(), tmp_path / "b-unchanged.loopwright")
    pen.cut("V1", "V2")
    save(pen.done(), tmp_path / "a-right.loopwright")
    far = Pen(attempt.lesson.sheet)
    far.cut("V1", "V2")
    far.set("stove", power_kw=1.0)
    save(far.done(), tmp_path / "c-beyond.loopwright")
    (tmp_path / "d-broken.loopwright").write_text("no sheet", encoding="utf-8")
    return tmp_path


def test_a_folder_is_marked_a_row_a_file(folder: Path) -> None:
    lesson = lesson_named("S1")
    rows = mark(lesson, [folder])
    assert [r.name[0] for r in rows] == ["a", "b", "c", "d"]
    right, wrong, beyond, broken = rows
    assert right.passed and right.score == 80 and not right.missed
    assert not wrong.passed and wrong.score == 0 and "solid-fuel/heat-leak-can-be-shut" in wrong.rules
    assert beyond.outside and not beyond.passed
    assert broken.refused and not broken.passed
    assert "1 of 4 passed" in as_text(lesson, rows)
    table = list(csv.DictReader(io.StringIO(as_csv(rows))))
    assert [t["passed"] for t in table] == ["true", "false", "false", "false"]
    assert common_misses(rows)[0][1] == 1


def test_an_answer_from_another_sheet_is_told(tmp_path: Path) -> None:
    save(lesson_named("R1").sheet, tmp_path / "x.loopwright")
    (row,) = mark(lesson_named("S1"), [tmp_path / "x.loopwright"])
    assert row.another_start and not row.passed


def test_mark_command_exit_codes_and_formats(folder: Path) -> None:
    run = CliRunner().invoke
    right = str(folder / "a-right.loopwright")
    wrong = str(folder / "b-unchanged.loopwright")
    assert run(cli, ["mark", "s1", right], standalone_mode=False).return_value == 0
    assert run(cli, ["mark", "S1", right, wrong], standalone_mode=False).return_value == 1
    told = run(cli, ["mark", "S1", str(folder), "--format", "json"], standalone_mode=False)
    assert told.return_value == 2
    rows = json.loads(told.stdout)["rows"]
    assert len(rows) == 4 and rows[0]["passed"]
    table = run(cli, ["mark", "S1", right, "--format", "csv"], standalone_mode=False)
    assert table.stdout.splitlines()[0].startswith("name,passed,score")
    with pytest.raises(LessonError):
        run(cli, ["mark", "nothing", right], standalone_mode=False, catch_exceptions=False)


def test_lessons_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPWRIGHT_PROGRESS", str(tmp_path / "p.json"))
    run = CliRunner().invoke
    listed = run(cli, ["lessons"], standalone_mode=False)
    assert "Up is up" in listed.stdout and "A leak nobody can shut" in listed.stdout
    plain = json.loads(run(cli, ["lessons", "--format", "json"], standalone_mode=False).stdout)
    assert sum(len(c["lessons"]) for c in plain) >= 26
    one = run(cli, ["lessons", "s1"], standalone_mode=False).stdout
    assert lesson_named("S1").hints[0] in one
    out = tmp_path / "s1.loopwright"
    assert run(cli, ["lessons", "S1", "-o", str(out)], standalone_mode=False).return_value == 0
    assert load(out) == lesson_named("S1").sheet


# -- a teacher's lesson -----------------------------------------------------------------------------------------------


def _barn_with_a_valve() -> tuple[Pen, Pen]:
    import bases

    sound = bases.stove_and_store("Our own house").b.done()
    spoilt = Pen(sound)
    spoilt.put("store_flow", "isolating_valve", "V1", (3.0, 1.72))
    return spoilt, Pen(spoilt.done())


def test_lesson_from_a_sheet_and_one_answer_proposes_its_goal(tmp_path: Path) -> None:
    spoilt, answer = _barn_with_a_valve()
    answer.cut("V1")
    lesson = make_lesson(
        spoilt.done(), tmp_path, id="OWN-1", title="Our valve", task="Take it out.", answer=answer.done()
    )
    assert Clear(rule="gravity-loop/isolating-valve") in lesson.goal
    assert FixedLoop(source="stove", sink="store") in lesson.goal
    assert lesson.allowed.remove == ("V1",)
    assert "right answers" in lesson.draft or "wrong answers" in lesson.draft
    attempt = start(lesson)
    assert not attempt.check(attempt.sheet).passed
    assert attempt.check(answer.done()).passed
    (course,) = load_lessons(tmp_path)
    assert course.id == "own" and course.lessons[0].title == "Our valve"


def test_a_lesson_is_a_draft_until_its_answers_behave(tmp_path: Path) -> None:
    spoilt, answer = _barn_with_a_valve()
    answer.cut("V1")
    other = Pen(spoilt.done())
    other.cut("V1")
    other.put("store_flow", "union", "U1", (3.0, 1.72))
    moved, locked = Pen(spoilt.done()), Pen(spoilt.done())
    moved.cut("V1")
    moved.put("return_3", "isolating_valve", "V2", (4.0, 0.2))
    locked.set("V1", locked_open=True)
    common = {"title": "Our valve", "task": "Take it out.", "answer": answer.done()}
    from loopwright.lessons.teaching import proposed_edits

    allowed = proposed_edits(spoilt.done(), other.done())
    done = make_lesson(
        spoilt.done(), tmp_path, id="A", right=[other.done()], wrong=[moved.done(), locked.done()], allowed=allowed,
        **common,
    )  # fmt: skip
    assert done.draft == "" and complaints(done) == []
    bad = make_lesson(
        spoilt.done(), tmp_path, id="B", right=[other.done()], wrong=[moved.done(), answer.done()], allowed=allowed,
        number=2, **common,
    )  # fmt: skip
    assert "passes all conditions" in bad.draft


def test_what_cannot_be_a_lesson_is_refused(tmp_path: Path) -> None:
    spoilt, answer = _barn_with_a_valve()
    with pytest.raises(LessonError, match="no goal"):
        make_lesson(spoilt.done(), tmp_path, id="X", title="x", task="x", answer=spoilt.done())
    with pytest.raises(LessonError, match="no name"):
        make_lesson(spoilt.done(), tmp_path, id="../x", title="x", task="x", answer=answer.done())
    answer.cut("V1")
    make_lesson(spoilt.done(), tmp_path, id="X", title="x", task="x", answer=answer.done())
    with pytest.raises(LessonError, match="there already"):
        make_lesson(spoilt.done(), tmp_path, id="X", title="x", task="x", answer=answer.done())


@pytest.mark.parametrize("name", ["S4", "R6", "T2", "D1"])
def test_every_sort_of_goal_survives_being_written(tmp_path: Path, name: str) -> None:
    known = lesson_named(name)
    made = make_lesson(
        known.sheet, tmp_path, id=name, title="It's “quoted”\nand broken", task="Do \\ it.", goal=known.goal,
        allowed=known.allowed,
    )  # fmt: skip
    assert made.goal == known.goal and made.allowed == known.allowed
    assert made.title == "It's “quoted”\nand broken" and made.task == "Do \\ it."
