"""The tapping table and the section: heights typed and dragged, refusals kept, letters that never overlap."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QLineEdit
from scipy.optimize import isotonic_regression

from loopwright.window.section import spread
from loopwright.window.tappings import HEIGHT, NAME, SIZE


@pytest.fixture
def table(drawn, qtbot):
    drawn.document.choose(["store"])
    with qtbot.waitExposed(drawn):
        drawn.show()
    return drawn.properties.tappings


def _cell(table, letter: str, column: int):
    row = next(i for i, tap in enumerate(table.model.taps) if tap.letter == letter)
    return table.model.index(row, column)


def _tap(window, letter: str):
    return window.document.sheet.parts["store"].tapping(letter)


@given(st.lists(st.floats(100, 200), min_size=1, max_size=12), st.floats(0, 15))
def test_letters_are_spread_as_least_squares_would(wanted, gap):
    """Reference: scipy's isotonic regression (pool adjacent violators), on places less their offsets."""
    wanted = sorted(wanted)
    offsets = gap * np.arange(len(wanted))
    best = isotonic_regression(np.array(wanted) - offsets).x + offsets
    assert spread(wanted, gap, -1e6, 1e6) == pytest.approx(list(best), abs=1e-6)


@given(st.lists(st.floats(0, 300), min_size=2, max_size=15))
def test_letters_keep_their_order_and_stay_on_the_picture(wanted):
    places = spread(sorted(wanted), 12.0, 10.0, 290.0)
    assert all(b - a >= 12.0 - 1e-6 for a, b in pairwise(places))
    assert places[0] >= 10.0 - 1e-6 and places[-1] <= 290.0 + 1e-6


def test_tappings_are_listed_from_the_top_down(table):
    heights = [tap.height_m for tap in table.model.taps]
    assert heights == sorted(heights, reverse=True)
    assert table.model.data(_cell(table, "C", SIZE)) == "pocket"


def test_a_height_is_typed_with_a_unit_and_the_pipe_follows(table, drawn):
    pipe = next(p for p in drawn.document.sheet.pipes.values() if p.b.port == "A")
    assert table.model.setData(_cell(table, "A", HEIGHT), "4 ft")
    assert _tap(drawn, "A").height_m == pytest.approx(4 * 0.3048)
    assert drawn.document.sheet.pipes[pipe.id].b.port == "A"


def test_two_stubs_too_close_are_refused_in_words_and_the_text_stays(table, drawn, qtbot):
    before = drawn.document.sheet
    table.model.setData(_cell(table, "A", HEIGHT), "0.12")
    assert drawn.document.sheet is before
    assert table.model.data(_cell(table, "A", HEIGHT)) == "0.12"
    assert "too close" in table.refusal.text() and table.refusal.isVisible()
    qtbot.keyClick(table.table, Qt.Key.Key_Escape)
    assert table.model.data(_cell(table, "A", HEIGHT)) == "1.30" and not table.refusal.text()


def test_a_height_that_is_no_length_is_refused(table, drawn):
    before = drawn.document.sheet
    table.model.setData(_cell(table, "A", HEIGHT), "high")
    assert drawn.document.sheet is before and "“high”" in table.refusal.text()


def test_a_stub_is_dragged_on_the_section(table, drawn, qtbot):
    section = table.section
    start = QPoint(20, round(section._y(1.3)))
    end = QPoint(20, round(section._y(1.0)))
    qtbot.mousePress(section, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(section, end)
    assert _tap(drawn, "A").height_m == 1.3, "the sheet changes on release alone"
    qtbot.mouseRelease(section, Qt.MouseButton.LeftButton, pos=end)
    height = _tap(drawn, "A").height_m
    assert height == pytest.approx(1.0, abs=0.02)
    assert round(height * 100) == pytest.approx(height * 100), "a drag goes by whole centimetres"
    drawn.document.undo()
    assert _tap(drawn, "A").height_m == 1.3


def test_add_and_remove(table, drawn):
    table._add_tapping()
    added = drawn.document.sheet.parts["store"].tappings[-1]
    assert added.letter == "F"
    table.choose("F")
    table._remove()
    assert _tap(drawn, "F") is None
    table.choose("A")
    table._remove()
    assert _tap(drawn, "A") is not None and "pipe" in table.refusal.text().lower()


def test_add_a_pocket_and_a_coil(table, drawn):
    table._add_pocket()
    assert drawn.document.sheet.parts["store"].tappings[-1].purpose == "sensor"
    table._add_coil()
    coils = drawn.document.sheet.parts["store"].coils
    assert len(coils) == 2 and not table.refusal.text()


def test_name_purpose_and_coil_height(table, drawn):
    table.model.setData(_cell(table, "B", NAME), "from the stove")
    assert _tap(drawn, "B").name == "from the stove"
    table.choose("B")
    table.purpose.box.activated.emit(table.purpose.box.findData("load_return"))
    assert _tap(drawn, "B").purpose == "load_return"
    table._coil_fields["solar", "top_m"].entry.setText("0.7")
    table._coil_fields["solar", "top_m"].entry.returnPressed.emit()
    assert drawn.document.sheet.parts["store"].coils[0].top_m == pytest.approx(0.7)


def test_tab_goes_down_the_column_while_a_height_is_typed(table, drawn, qtbot):
    with qtbot.waitActive(drawn):
        drawn.activateWindow()
    table.table.setCurrentIndex(_cell(table, "A", HEIGHT))
    table.table.edit(_cell(table, "A", HEIGHT))
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    editor.selectAll()
    qtbot.keyClicks(editor, "1.2")
    qtbot.keyClick(editor, Qt.Key.Key_Tab)
    assert _tap(drawn, "A").height_m == pytest.approx(1.2)
    at = table.table.currentIndex()
    assert (table.model.taps[at.row()].letter, at.column()) == ("C", HEIGHT)


def test_tab_leaves_the_table_when_nothing_is_typed(table, drawn, qtbot):
    with qtbot.waitActive(drawn):
        drawn.activateWindow()
    table.choose("A")
    table.table.setFocus()
    qtbot.keyClick(table.table, Qt.Key.Key_Tab)
    assert not table.table.hasFocus()
