"""The what-if panel: the bad conditions first, played on the sheet, recorded for the report and taken out again."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QUrl
from PySide6.QtGui import QTextDocument

from loopwright.files.reader import load
from loopwright.rules.review import conditions_tried
from loopwright.waterways.views import NORMAL, Condition

FAULTY = Path(__file__).parents[2] / "samples" / "faulty" / "valve-on-stove-flow.loopwright"
SHUT = "The isolating valve between Stove and Heat store shut"


@pytest.fixture
def panel(window, catalogue):
    window.document.open(load(FAULTY, catalogue), None)
    return window.places.open("what_if")


def test_the_worst_stands_first_and_plays_on_the_sheet(window, panel):
    assert "24 conditions tried. 6 leave a source in danger" in panel.said.text()
    assert panel.list.item(0).text() == f"{SHUT}\nNo water moves through Stove."
    panel.list.setCurrentRow(0)
    assert window.conditions.condition == Condition(shut=frozenset({"V1"}))
    assert "No water moves through Stove" in window.status.words.text()
    few = panel.list.count()
    panel.every.setChecked(True)
    assert panel.list.count() == 24 > few


def test_a_condition_is_recorded_and_taken_out_as_undoable_edits(window, panel):
    panel.list.setCurrentRow(0)
    panel.record.click()
    assert conditions_tried(window.document.sheet) == [Condition(shut=frozenset({"V1"}))]
    assert panel.list.item(0).text().endswith("Recorded for the report")
    assert panel.record.text() == "Take out of the report"
    panel.record.click()
    assert conditions_tried(window.document.sheet) == []
    window.commands.undo()
    assert conditions_tried(window.document.sheet) == [Condition(shut=frozenset({"V1"}))]


def test_leaving_goes_back_to_normal_running(window, panel):
    panel.list.setCurrentRow(0)
    window.escape()
    assert window.conditions.condition == NORMAL and window.places.front("right") == ""
    assert panel.list.currentItem() is None


def test_a_finding_plays_the_condition_in_which_it_tells(window, panel, qtbot):
    window.places.close("what_if")
    qtbot.waitUntil(lambda: window.survey is not None and bool(window.survey.findings))
    finding = next(f for f in window.survey.findings if f.condition == SHUT)
    window.answers.show_why(finding)
    assert "It tells when" in window.why.text.toPlainText()
    window.why.text.anchorClicked.emit(QUrl("show:condition"))
    assert window.conditions.condition == Condition(shut=frozenset({"V1"}))


def test_a_rule_page_shows_its_examples(window, panel, qtbot):
    qtbot.waitUntil(lambda: window.survey is not None and bool(window.survey.findings))
    window.answers.show_why(window.survey.findings[0])
    document = window.why.text.document()
    for which in ("wrong", "right"):
        name = QUrl(f"example:{window.survey.findings[0].rule}/{which}")
        image = document.resource(QTextDocument.ResourceType.ImageResource, name)
        assert image is not None and image.width() > 300
