"""Everything that can have the focus has a name, and Tab alone goes round the window and through every place."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QScrollBar, QWidget

from loopwright.window.cautions import CautionDialog

PLACES = ("figures", "review", "what_if", "compare", "run", "courses", "order")


def takes_tab(widget: QWidget) -> bool:
    policy = widget.focusPolicy()
    return bool(policy.value & Qt.FocusPolicy.TabFocus.value) and not isinstance(widget, QScrollBar | QLabel)


def nameless(root: QWidget) -> list[str]:
    found = []
    for widget in root.findChildren(QWidget):
        inner = widget.objectName().startswith("qt_") or "QComboBoxPrivate" in type(widget.parent()).__name__
        if not takes_tab(widget) or inner or widget.window() is not root.window():
            continue
        text = widget.text() if hasattr(widget, "text") else ""  # a button says its own words
        if not (widget.accessibleName() or (isinstance(text, str) and text) or widget.focusProxy()):
            found.append(f"{type(widget).__name__} in {type(widget.parent()).__name__}")
    return found


@pytest.fixture
def shown(window, small, qtbot):
    window.document.open(small, None)
    window.resize(1440, 900)
    window.show()
    qtbot.waitUntil(lambda: window.survey is not None)
    window.document.choose(["store"])
    return window


def test_what_can_have_the_focus_has_a_name(shown):
    assert nameless(shown) == []


def test_what_can_have_the_focus_in_a_place_has_a_name(shown):
    assert {name: nameless(shown.places.open(name)) for name in PLACES} == {name: [] for name in PLACES}


def test_boxes_have_names_too(shown, qtbot):
    box = CautionDialog(shown)
    qtbot.addWidget(box)
    assert nameless(box) == []


def test_tab_goes_round_every_panel_of_the_window(shown):
    shown.activateWindow()
    shown.properties.focus_first()
    panels = (shown.properties, shown.beneath, shown.tool_row, shown.parts, shown.conditions)
    seen = set()
    first = None
    for _ in range(300):
        now = QApplication.focusWidget()
        if now is None or (first is not None and now is first):
            break
        first = first or now
        seen |= {panel for panel in panels if panel.isAncestorOf(now)}
        QTest.keyClick(now, Qt.Key.Key_Tab)
        if QApplication.focusWidget() is now:  # the sheet keeps Tab for its parts: F6 and Esc lead on from there
            break
    assert shown.properties in seen and shown.beneath in seen
    QTest.keyClick(shown, Qt.Key.Key_F6)
    assert shown.conditions.isAncestorOf(QApplication.focusWidget())
