"""The order of work in the window: ticked by undoable edits, explained, lit, saved, and arranged by the learner."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from PySide6.QtCore import QModelIndex, Qt, QUrl

from loopwright.files.reader import load
from loopwright.lessons.order import ticked
from loopwright.window.lesson.checklist import KEY

THREE = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"


@pytest.fixture
def panel(window, catalogue):
    window.document.open(load(THREE, catalogue), None)
    return window.places.open("order")


def keys(page) -> list[str]:
    return [k for n in range(page.list.count()) if (k := page.list.item(n).data(KEY))]


def test_an_empty_sheet_teaches_instead_of_a_list(window):
    panel = window.places.open("order")
    assert not panel.nothing.isHidden() and panel.stack.isHidden()
    assert "no work to put in order" in panel.nothing.text()


def test_jobs_are_ticked_by_edits_that_can_be_undone(window, panel):
    page = panel.checklist
    assert len(keys(page)) == len(panel.order.tasks) > 60
    assert page.list.item(0).text() == panel.order.tasks[0].stage  # a heading before its jobs
    order = panel.order
    page.list.item(1).setCheckState(Qt.CheckState.Checked)
    first = order.tasks[0].key
    assert ticked(window.document.sheet) == {first} and window.document.undo_label == "Tick a job"
    assert panel.order is order  # a tick asks for no new order
    assert page.said.text().startswith(f"1 of {len(order.tasks)} done")
    page.show_what.setCurrentIndex(1)
    assert first not in keys(page) and 0 < len(keys(page)) < 20
    page.show_what.setCurrentIndex(0)
    window.commands.undo()
    assert not ticked(window.document.sheet)
    assert page.list.item(1).checkState() == Qt.CheckState.Unchecked
    page.list.item(1).setCheckState(Qt.CheckState.Checked)
    page.untick.click()
    assert not ticked(window.document.sheet)


def test_a_job_lights_its_parts_and_gives_its_reasons(window, panel):
    page = panel.checklist
    page.choose("stand-store@store")
    assert "store" in window.stage.scene._lit[0]
    said = page.why.toPlainText()
    assert "Stand Heat store" in said and "what is large goes in while the way is open" in said
    assert "All 2 jobs that come before it" in said
    before = said.count("After")
    page._follow(QUrl("every:"))
    assert page.why.toPlainText().count("After") > before
    page._follow(QUrl("job:holes"))
    assert page.job == "holes"
    window.desk.close("order")
    assert not window.stage.scene._lit[0]


def test_the_checklist_is_saved_for_paper(panel, answers, tmp_path):
    page = panel.checklist
    for ending, begins in ((".pdf", b"%PDF-"), (".html", b"<!doctype html>"), (".txt", b"Order of work: ")):
        answers["ask_save_path"] = tmp_path / f"work{ending}"
        page.save(ending)
        assert (tmp_path / f"work{ending}").read_bytes().startswith(begins)
    document = pypdfium2.PdfDocument(tmp_path / "work.pdf")
    first = document[0].get_textpage().get_text_bounded()
    assert first.startswith("Order of work: Kiln Lane barn") and 4 <= len(document) <= 8
    heading = document[0].get_textpage().get_charbox(0)
    assert heading[3] - heading[1] > 8.0  # points: a heading that can be read
    document.close()


def test_jobs_are_arranged_by_keys_and_what_is_broken_is_told(window, panel, qtbot):
    panel.show_page(1)
    page = panel.arrange
    assert page.list.count() == 8 and page.said.isHidden()
    page.put(["stand-store@store", "holes", "papers"])
    page.check()
    assert [(b.before, b.after) for b in page.faults] == [
        ("holes", "stand-store@store"),
        ("papers", "stand-store@store"),  # by way of jobs that are not in the list
        ("papers", "holes"),
    ]
    assert page.said.plain.startswith("“Stand Heat store and level it” comes after")
    assert "Why: " in page.said.plain
    assert page.list.item(0).data(Qt.ItemDataRole.AccessibleTextRole).endswith("too early")
    page.list.setCurrentRow(2)
    for _ in range(2):
        qtbot.keyClick(page.list, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert page.keys() == ["papers", "stand-store@store", "holes"] and len(page.faults) == 1
    page.list.setCurrentRow(2)
    qtbot.keyClick(page.list, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert not page.faults and page.said.plain.startswith("No precedence is broken")
    page.list.model().moveRow(QModelIndex(), 0, QModelIndex(), 3)  # as a drag does
    assert page.keys() == ["holes", "stand-store@store", "papers"] and page.faults
    page.which.setCurrentIndex(1)
    page.shuffle(5)
    stages = {panel.order.by_key[key].stage for key in keys(page)}
    assert stages == {panel.order.tasks[0].stage} and not page.judged
    page.solve()
    assert not page.faults


def test_a_drawn_part_changes_the_jobs(window, panel, catalogue):
    from loopwright.sheet import edits

    before = len(panel.order.tasks)
    window.desk.apply("Delete", lambda s: edits.delete(s, ["bath"], catalogue))
    assert len(panel.order.tasks) <= before and panel._of is window.document.sheet
