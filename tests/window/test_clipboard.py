"""Copy, cut and paste by keys, within a sheet and from one window to another."""

from __future__ import annotations

import pytest
from hand import Hand
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtXml import QDomDocument
from test_story import shown

from loopwright.window import clipboard
from loopwright.window.main import MainWindow

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def hand(qtbot, drawn) -> Hand:
    return shown(qtbot, drawn)


@pytest.fixture
def other(qtbot, catalogue, memory, tmp_path) -> MainWindow:
    made = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved2")
    qtbot.addWidget(made, before_close_func=lambda w: w.shut_down())
    return made


def test_what_is_chosen_is_pasted_at_the_pointer_with_its_pipes(drawn, hand):
    doc = drawn.document
    before = doc.sheet
    hand.key(Qt.Key.Key_A, CTRL)
    hand.key(Qt.Key.Key_C, CTRL)
    hand.point((4.0, 3.0))
    hand.key(Qt.Key.Key_V, CTRL)
    assert len(doc.sheet.parts) == 6 and len(doc.sheet.pipes) == 4
    assert doc.undo_label == "Paste 3 parts"
    new = [doc.sheet.parts[i] for i in doc.chosen if i in doc.sheet.parts]
    assert {p.name for p in new} == {"Heat store 2", "Stove 2", ""}
    twin = next(p for p in new if p.kind == "heat_store")
    shift = twin.x_m - 4.0, twin.height_m - 0.1
    assert all(abs(s / 0.05 - round(s / 0.05)) < 1e-6 for s in shift), "what stood on the snap stays on it"
    xs = [p.x_m for p in new]
    assert min(xs) < 4.0 < max(xs), "the pointer is in the middle of what was pasted"
    hand.key(Qt.Key.Key_V, CTRL)
    assert len(doc.sheet.parts) == 9 and len(set(doc.sheet.pipes)) == 6
    hand.undo()
    hand.undo()
    assert doc.sheet == before


def test_cut_takes_away_and_paste_brings_back(drawn, hand):
    doc = drawn.document
    hand.click((7.0, 1.0))
    assert doc.chosen == {"P1"}
    hand.key(Qt.Key.Key_X, CTRL)
    assert "P1" not in doc.sheet.parts and doc.undo_label == "Cut 1 part"
    hand.point((6.0, 2.0))
    hand.key(Qt.Key.Key_V, CTRL)
    assert (doc.sheet.parts["P1"].x_m, doc.sheet.parts["P1"].height_m) == (6.0, 2.0)


def test_from_one_window_to_another(qtbot, drawn, hand, other):
    hand.key(Qt.Key.Key_A, CTRL)
    hand.key(Qt.Key.Key_C, CTRL)
    second = shown(qtbot, other)
    second.point((4.0, 1.0))
    second.key(Qt.Key.Key_V, CTRL)
    assert set(other.document.sheet.parts) == set(drawn.document.sheet.parts)
    assert set(other.document.sheet.pipes) == set(drawn.document.sheet.pipes)
    heights = {key: part.height_m for key, part in drawn.document.sheet.parts.items()}
    assert {key: part.height_m for key, part in other.document.sheet.parts.items()} == heights, "as in the other house"


def test_other_programs_get_a_picture(drawn, hand):
    hand.key(Qt.Key.Key_C, CTRL | SHIFT)  # nothing chosen: the whole sheet
    held = QGuiApplication.clipboard().mimeData()
    assert not clipboard.holds_piece()
    page = QDomDocument()
    assert page.setContent(held.data(clipboard.SVG)) and page.documentElement().tagName() == "svg"
    assert "Heat store" in bytes(held.data(clipboard.SVG).data()).decode()
    assert held.hasImage() and QGuiApplication.clipboard().image().width() > 400
    hand.key(Qt.Key.Key_V, CTRL)
    assert "nothing to paste" in drawn.status.words.text()


def test_a_field_keeps_its_own_copy_and_paste(drawn, hand):
    hand.click((7.0, 1.0))
    hand.key(Qt.Key.Key_F2)
    hand.type("Pump")
    hand.key(Qt.Key.Key_A, CTRL)
    hand.key(Qt.Key.Key_C, CTRL)
    assert QGuiApplication.clipboard().text() == "Pump" and len(drawn.document.sheet.parts) == 3


@pytest.mark.parametrize("data", [b"", b"{", b'{"format": "loopwright-sheet", "version": 99}', b"[1, 2]"])
def test_a_clipboard_that_cannot_be_read_is_said_and_changes_nothing(drawn, hand, data):
    from PySide6.QtCore import QMimeData

    held = QMimeData()
    held.setData(clipboard.MIME, data)
    QGuiApplication.clipboard().setMimeData(held)
    before = drawn.document.sheet
    hand.key(Qt.Key.Key_V, CTRL)
    assert drawn.document.sheet is before and drawn.status.words.text()
