"""Repairs in the findings list: links under the chosen finding, made as one step that can be undone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from loopwright.sheet import edits

RULE = "solid-fuel/plastic-pipe"


@pytest.fixture
def plastic(window, small, qtbot):
    """The small sheet with its stove's return in plastic, checked, the finding chosen and its repairs found."""
    pipe = next(p for p in small.pipes.values() if p.a.port == "return")
    sheet = edits.set_pipe(small, pipe.id, material="polybutylene", size="28")
    window.document.open(sheet, None)
    window.surveyor._start()
    window.show()
    window.findings.choose(next(f for f in window.survey.findings if f.rule == RULE))
    qtbot.waitUntil(lambda: not window.surveyor.busy and bool(window.findings._painter.offered[1]))
    return window


def test_a_click_makes_the_repair_as_one_undo_step(plastic, qtbot):
    window, before = plastic, plastic.document.sheet
    view, painter = window.findings.list, window.findings._painter
    view.doItemsLayout()
    row = view.visualRect(view.currentIndex())
    finding = window.findings.current
    ((box, one),) = painter.repair_boxes(row, finding)
    assert "copper" in one.label and row.contains(box)
    assert box.center().y() < painter.why_box(row, finding).center().y()
    view.scrollTo(view.currentIndex())
    box = painter.repair_boxes(view.visualRect(view.currentIndex()), window.findings.current)[0][0]
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=box.center())
    assert {p.material for p in window.document.sheet.pipes.values()} == {"copper"}
    assert window.document.undo_label == one.label
    assert window.status.words.text().startswith("Done: ") and "cop" in window.status.words.text()
    window.document.undo()
    assert window.document.sheet == before


def test_ctrl_enter_makes_the_first_repair(plastic, qtbot):
    qtbot.keyClick(plastic.findings.list, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert {p.material for p in plastic.document.sheet.pipes.values()} == {"copper"}
    plastic.surveyor._start()
    assert RULE not in {f.rule for f in plastic.survey.findings}


def test_repairs_go_when_the_sheet_changes(plastic):
    assert plastic.findings._painter.offered[1]
    plastic.document.apply("Move", lambda s: edits.move(s, ["P1"], 1.0, 0.0, plastic.catalogue))
    assert plastic.findings._painter.offered == (None, ())


def test_a_finding_without_a_repair_has_only_why(drawn, qtbot):
    qtbot.waitUntil(lambda: not drawn.surveyor.busy)
    finding = next(f for f in drawn.survey.findings if f.rule == "solid-fuel/sealed-water")
    drawn.findings.choose(finding)
    with qtbot.waitSignal(drawn.mender.offered):
        pass
    row = drawn.findings.list.visualRect(drawn.findings.list.currentIndex())
    assert drawn.findings._painter.repair_boxes(row, finding) == []
    assert drawn.findings._painter.why_box(row, finding).isValid()
