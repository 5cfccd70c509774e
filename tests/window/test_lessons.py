"""Lessons in the window: answered wrongly and rightly, hinted, edits refused, faults marked, own lessons made."""

from __future__ import annotations

import gc
import shutil
import weakref
from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication

from loopwright.files.reader import load
from loopwright.lessons import Progress, lesson_named, read_lesson
from loopwright.lessons.reader import lesson_root
from loopwright.sheet import edits
from loopwright.sheet.values import Part
from loopwright.window import questions
from loopwright.window.help_here import page_here
from loopwright.window.lesson import library
from loopwright.window.lesson.answers import AnswersDialog
from loopwright.window.lesson.make import MakeDialog
from loopwright.window.lesson.practice import PracticeDialog
from loopwright.window.lesson.words import Words, allowed_words, with_words
from loopwright.window.main import MainWindow

SOUND = Path(__file__).parents[2] / "samples" / "sound" / "stove-by-gravity.loopwright"


@pytest.fixture(autouse=True)
def own_progress(tmp_path, monkeypatch):
    monkeypatch.setenv("LOOPWRIGHT_PROGRESS", str(tmp_path / "progress.json"))


@pytest.fixture
def begun(frame):
    """Begin a lesson; its window and panel."""

    def begin(name: str):
        frame.current.commands.lessons.begin_lesson(lesson_named(name))
        window = frame.current
        return window, window.places.widget("lesson")

    return begin


def answer(name: str, catalogue):
    return load(lesson_root() / f"{name}.right-1.loopwright", catalogue)


# -- a lesson ---------------------------------------------------------------------------------------------------------


def test_what_may_be_changed_names_no_pipe_by_a_word_that_stands_nowhere(catalogue):
    allowed = read_lesson(lesson_root() / "U2.toml").allowed
    said = " ".join(allowed_words(allowed, load(lesson_root() / "U2.loopwright", catalogue), catalogue))
    assert "lagging of 5 pipes at Stove, Heat store may be changed" in said and "return_1" not in said


def test_the_courses_teach_begin_a_lesson_and_show_how_it_stands(frame, catalogue):
    first = frame.current
    first.document.apply("Set title", lambda s: edits.set_title(s, "Mine"))
    view = first.places.open("courses")
    assert view._lesson().id == "U1" and "Begin with the first one" in view.state.text()
    assert view.able.plain.startswith("<b>What it teaches:</b>")
    assert not view.reset.isEnabled()
    view.start_button.click()
    window = frame.current
    assert window is not first and window.document.clean and window.document.sheet.title != "Mine"
    panel = window.places.widget("lesson")
    window.document.apply("Draw an answer", lambda _s: answer("U1", catalogue))
    panel.check()
    view = window.places.open("courses")
    assert view.stand.text().startswith("1 of ") and view.reset.isEnabled()
    assert view._lesson().id == "U2"  # the first that is not done


def test_a_wrong_answer_is_told_played_and_hinted_and_a_right_one_passes(begun, catalogue):
    window, panel = begun("T1")
    assert panel.verdict is None and panel.said.isHidden()
    panel.bet.choices[0].click()
    assert [c.isHidden() for c in panel.bet.choices].count(False) == 1
    panel.check()
    assert panel.said.head.text() == "Not yet" and "must enter higher" in panel.said.words.plain
    assert panel.said.follows.plain.startswith("After an hour the store is one grey block")
    assert panel.bet.said.plain.startswith("It came otherwise: Lukewarm all through.")
    cons = panel.picture.cons
    assert cons.show == "layers" and not panel.picture.isHidden()
    panel.picture.slider.setValue(panel.picture.slider.maximum())
    assert panel.picture.when.text() == "60 min"
    assert window.stage.scene._lit[0]  # what is at fault is lit on the sheet
    panel.buttons.hint.setFocus()
    assert page_here(window) == "lessons"
    panel.buttons.hint.click()
    assert "Hint 1: " in panel.hint.plain and panel.buttons.hint.text() == "Hint (2)"
    panel.check()
    assert panel.said.offer.text() == "Take a hint" and "Check 2" in panel.said.score.text()
    assert panel.buttons.next.isHidden()
    window.document.apply("Draw an answer", lambda _s: answer("T1", catalogue))
    assert all(row.accessibleName().startswith(("Met", "Not yet")) for row in panel.goals.rows)
    panel.check()
    assert panel.said.head.text() == "The task is done" and panel.attempt.passed
    assert not panel.buttons.next.isHidden() and not panel.reading.isHidden()
    standing = Progress().of("T1")
    assert standing.passed and standing.checks == 3 and standing.hints == 1


def test_the_reason_is_asked_after_a_lesson_and_scores_at_the_first_choice(begun, catalogue):
    window, panel = begun("S1")
    window.document.apply("Draw an answer", lambda _s: answer("S1", catalogue))
    panel.check()
    assert panel.said.score.text() == "80 of 100" and not panel.why.isHidden()
    panel.why.choices[panel.attempt.lesson.why.right].click()
    assert panel.said.score.text() == "100 of 100" and Progress().of("S1").best == 100
    assert Progress().of("S1").checks == 1


def test_the_next_lesson_takes_the_tab_of_an_answer_that_is_saved(begun, frame, answers, catalogue, tmp_path):
    window, panel = begun("T1")
    window.document.apply("Draw an answer", lambda _s: answer("T1", catalogue))
    panel.check()
    answers["ask_save_path"] = tmp_path / "t1.loopwright"
    assert window.filing.save_as()
    open_before = len(frame.windows())
    panel.next_lesson()
    assert len(frame.windows()) == open_before and frame.current is window
    assert panel.attempt.lesson.id == "T2" and window.places.front("left") == "lesson"
    assert window.document.path is None and window.document.guard is not None
    window.document.apply("Draw an answer", lambda _s: answer("T2", catalogue))
    panel.next_lesson()
    assert len(frame.windows()) == open_before + 1 and frame.current is not window
    assert window.document.sheet.title == answer("T2", catalogue).title


def test_an_edit_outside_the_lesson_is_refused_in_words(begun, catalogue):
    window, _ = begun("T1")
    before = window.document.sheet
    stores = [p.id for p in before.parts.values() if p.kind == "heat_store"]
    assert not window.desk.apply("Delete", lambda s: edits.delete(s, stores, catalogue))
    assert window.document.sheet is before
    assert "stay in this lesson" in window.status.words.text() or "locked" in window.status.words.text()
    pump = Part(id="P9", kind="pump", x_m=8.0, height_m=3.0)
    assert not window.desk.apply("Add a pump", lambda s: edits.place(s, pump))
    assert window.status.words.text() == "P9: a pump is not for this lesson."
    assert window.document.sheet is before and not window.document.undo_label
    union = Part(id="U9", kind="union", x_m=8.0, height_m=3.0)
    assert window.desk.apply("Add a union", lambda s: edits.place(s, union))


def test_the_parts_and_findings_are_those_of_the_lesson_and_come_back(begun, catalogue):
    window, panel = begun("T1")
    kinds = {
        window.parts.model.index(row, 0, window.parts.model.index(group, 0)).data()
        for group in range(window.parts.model.rowCount())
        for row in range(window.parts.model.rowCount(window.parts.model.index(group, 0)))
    }
    assert kinds == {catalogue[k].name for k in ("tee", "cross", "cap", "union")}
    assert panel.isAncestorOf(window.parts)
    window.surveyor._start()
    shown = {f.rule for f in window.findings.model.findings}
    every = {f.rule for f in window.survey.findings}
    assert shown < every and "not for this lesson" in window.findings.said.text()
    assert all(not f.todo for f in window.findings.model.findings)  # where, never what to do
    window.escape()
    assert window.places.front("left") == "lesson"  # Esc does not put a lesson away
    window.desk.close("lesson")
    assert {f.rule for f in window.findings.model.findings} == every
    assert window.left.isAncestorOf(window.parts) and window.document.guard is None
    assert window.parts.aside.text() == f"{len(catalogue)} kinds"
    window.actions_["lesson"].trigger()
    assert window.places.front("left") == "lesson" and window.document.guard is not None


def test_without_live_judging_the_sheet_is_silent_until_it_is_checked(begun):
    window, panel = begun("T1")
    window.surveyor._start()
    assert panel.goals.rows and window.findings.model.findings
    panel.buttons.live.setChecked(False)
    assert not panel.goals.rows and not window.findings.model.findings
    panel.check()
    assert panel.goals.rows


def test_a_brief_begins_on_an_empty_sheet_without_the_card(begun):
    window, panel = begun("D1")
    assert not window.document.sheet.parts and window.start.isHidden()
    assert panel.goals.rows and window.filing.held
    assert window.commands.lessons.task == "lesson"


# -- hidden faults ----------------------------------------------------------------------------------------------------


def test_faults_are_marked_with_a_reason_and_graded(begun, qtbot):
    window, panel = begun("F1")
    window.surveyor._start()
    assert not window.findings.model.findings and "hidden" in window.findings.said.text()
    assert not window.stage.scene.flags and not window.actions_["review"].isEnabled()
    window.document.choose(["store_flow"])
    window.actions_["mark_fault"].trigger()
    dialog = panel.marking.dialog
    dialog.search.setText("dip gravity")
    assert dialog.rule == "gravity-loop/dips"
    dialog.accept()
    assert panel.marking.marks() == {"store_flow": "gravity-loop/dips"}
    assert [f.number for f in window.stage.scene.flags] == [1]
    panel.marking.put("return_3", "gravity-loop/dips")
    panel.marking.put("bath", "sealed/no-vessel")
    assert panel.marks.list.count() == 3 and panel.marks.list.item(0).text().endswith("dip or hump in a gravity loop")
    panel.check()
    told = [row.words.plain for row in panel.found.rows]
    assert told[0].startswith("Found. The flow falls 0.3 m") and "for another reason" in told[1]
    assert told[2].startswith("Sound, though it looks odd")
    assert panel.said.score.text() == "25 of 100"  # 15 + 5 for the pair, 15 for the place, 10 lost by the decoy
    panel.marks.list.setCurrentRow(1)
    qtbot.keyClick(panel.marks.list, Qt.Key.Key_Delete)
    assert len(panel.marking.marks()) == 2
    window.commands.undo()
    assert len(panel.marking.marks()) == 3


def test_practice_opens_an_exercise_and_grades_the_marks(frame, catalogue):
    first = frame.current
    first.filing.open(SOUND)
    dialog = PracticeDialog(first.desk)
    dialog.faults.setValue(1)
    dialog.seed.setValue(7)
    dialog.start.click()
    window = frame.current
    panel = window.places.widget("exercise")
    assert window is not first and len(panel.exercise.hidden) == 1
    window.surveyor._start()
    assert not window.findings.model.findings
    fault = panel.exercise.hidden[0]
    sound = next(i for i in window.document.sheet.pipes if i not in fault.at and i != fault.subject)
    panel.marking.ask([sound])
    panel.check()
    assert panel.said.text() == "0 of 1 found. 1 marked where nothing is wrong."
    panel.marking.ask([sound])
    panel.marking.ask([fault.at[0]])
    panel.check()
    assert panel.said.text() == "The fault is found." and fault.reason in panel.found.rows[0].words.plain


def test_a_sheet_with_faults_of_its_own_is_refused_for_practice(drawn):
    dialog = PracticeDialog(drawn.desk)
    dialog.start.click()
    assert "of its own" in dialog.said.text() and dialog.start.isEnabled()


# -- the teacher ------------------------------------------------------------------------------------------------------


def test_a_made_lesson_loads_again_and_is_listed(window, catalogue, answers, tmp_path):
    start = lesson_named("U3").sheet
    window.document.open(start, None)
    dialog = MakeDialog(window.desk)
    dialog.write()
    assert dialog.said.text() == "The lesson has no title yet."
    dialog.title.setText("A dip to lift")
    dialog.title.textEdited.emit("A dip to lift")
    assert dialog.ident.text() == "a-dip-to-lift"
    dialog.task.setPlainText("Lift the dip so that the water climbs all the way.")
    dialog.hints.setPlainText("Look where the flow falls.\nRaise the pipe.")
    dialog.folder.setText(str(tmp_path / "own"))
    first = dialog.rules.item(0)
    assert "fails now" in first.data(Qt.ItemDataRole.AccessibleTextRole)
    dialog.tick("gravity-loop/dips")
    answers["ask_open_path"] = lesson_root() / "U3.right-1.loopwright"
    dialog._add_answer(dialog.right)
    dialog.write()
    assert "is written" in dialog.said.text() and "draft" in dialog.said.text()
    lesson = read_lesson(tmp_path / "own" / "a-dip-to-lift.toml")
    assert lesson.title == "A dip to lift" and len(lesson.hints) == 2 and lesson.goal[0].rule == "gravity-loop/dips"
    (tmp_path / "own" / "broken.toml").write_text("id = 3\n", encoding="utf-8")
    own, refused = library.own_lessons(library.own_folder(window.memory))
    assert [x.id for x in own] == ["a-dip-to-lift"] and len(refused) == 1
    view = window.places.open("courses")
    last = view.tree.topLevelItem(view.tree.topLevelItemCount() - 1)
    assert last.text(0) == "Own lessons" and last.childCount() == 2
    dialog.write()
    assert "is there already" in dialog.said.text()


def test_a_folder_of_answers_is_marked_and_saved(window, answers, tmp_path):
    folder = tmp_path / "answers"
    folder.mkdir()
    for name in ("U1", "U1.right-1"):
        shutil.copy(lesson_root() / f"{name}.loopwright", folder / f"{name.replace('.', '-')}.loopwright")
    (folder / "torn.loopwright").write_text("{", encoding="utf-8")
    dialog = AnswersDialog(window.desk)
    assert "Choose the lesson" in dialog.said.text()
    dialog.check(folder)
    stands = {dialog.table.item(n, 0).text(): dialog.table.item(n, 1).text() for n in range(3)}
    assert stands == {"U1.loopwright": "not yet", "U1-right-1.loopwright": "passed", "torn.loopwright": "unreadable"}
    answers["ask_save_path"] = tmp_path / "rows.csv"
    dialog.save()
    assert (tmp_path / "rows.csv").read_text(encoding="utf-8").startswith("name,passed,score")


def test_progress_is_forgotten_after_a_question(window, monkeypatch, catalogue):
    from loopwright.lessons import start

    attempt = start(lesson_named("U1"))
    Progress().keep(attempt, attempt.check(answer("U1", catalogue)))
    view = window.places.open("courses")
    monkeypatch.setattr(questions, "ask_forget_progress", lambda *_: False)
    view.reset.click()
    assert Progress().of("U1").passed
    monkeypatch.setattr(questions, "ask_forget_progress", lambda *_: True)
    view.reset.click()
    assert not Progress().standings and not view.reset.isEnabled()


def test_a_sure_lesson_comes_back_as_one_question(window, catalogue):
    from loopwright.lessons import start

    attempt = start(lesson_named("U1"))
    verdict = attempt.check(answer("U1", catalogue))
    attempt.answer_why(attempt.lesson.why.right)
    Progress().keep(attempt, verdict, on=date.today() - timedelta(days=2))
    view = window.places.open("courses")
    item = view.tree.topLevelItem(0).child(0)
    assert item.text(2) == "done, comes back" and item.text(3) == "100"
    view.tree.setCurrentItem(item)
    assert not view.again.isHidden()
    right = attempt.lesson.why.right
    view.again.choices[(right + 1) % 4].click()
    assert "not the reason" in view.again.said.plain and "U1" in Progress().due()
    view.again.choices[right].click()
    assert "U1" not in Progress().due()


# -- words ------------------------------------------------------------------------------------------------------------


def test_trade_words_are_explained_once_and_never_inside_a_link(window):
    html = with_words('<p>The heat leak and the heat leak.</p><p><a href="help:tour">Heat leak</a></p>')
    assert html.count('class="word"') == 1 and html.count("leak") >= 3
    label = Words()
    label.say("Follow the cold feed & the open vent.", window.look)
    assert "word:" in label.text() and label.accessibleName() == "Follow the cold feed & the open vent."
    window.desk.help("glossary")
    help_window = window.commands._help
    assert help_window.page == "glossary" and "Heat leak" in help_window.text.toPlainText()
    help_window.close()


def test_lessons_let_go_of_a_window_that_was_closed(qtbot, catalogue, memory, answers, tmp_path):
    window = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "gone")
    window.commands.lessons.begin_lesson(lesson_named("F1"))
    panel = window.places.widget("lesson")
    panel.marking.put("store_flow", "gravity-loop/dips")
    panel.check()
    panel.take_hint()
    for place in ("courses", "order"):
        window.places.open(place)
    panel.marking.ask(["bath"])
    panel.marking.dialog.reject()
    window.show()
    qtbot.wait(5)
    gone = weakref.ref(window)
    window.shut_down()
    window.deleteLater()
    del window, panel
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert gone() is None
