"""Everything that can have the focus has a name, and Tab alone goes round the window and through every place."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QScrollBar, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window.actions import COMMANDS, key_words, keys_html
from loopwright.window.cautions import CautionDialog
from loopwright.window.commands import Page
from loopwright.window.help import HelpWindow
from loopwright.window.lesson.answers import AnswersDialog
from loopwright.window.lesson.make import MakeDialog
from loopwright.window.lesson.practice import PracticeDialog
from loopwright.window.lesson.reasons import ReasonDialog
from loopwright.window.limits import LimitsDialog

HEAVY = {"report", "exercise"}
"""Places that make something long when they open; their widgets are made of those of others."""


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
    names = [name for name in shown.places if name not in HEAVY]
    found = {}
    for name in names:
        place = shown.places.open(name)
        if name == "lesson":
            place.said.offer.setText("Help")  # it has its words whenever it shows
        found[name] = nameless(place)
    assert found == {name: [] for name in names}
    shown.places.open("run").edit_day()
    shown._file_refused("barn.loopwright", LoopwrightError("It is no sheet"))
    assert nameless(shown) == [], "the whole window, with every place and page made"


def test_boxes_have_names_too(shown, qtbot):
    makers = (
        lambda: CautionDialog(shown),
        lambda: LimitsDialog(shown.desk),
        lambda: PracticeDialog(shown.desk),
        lambda: MakeDialog(shown.desk),
        lambda: ReasonDialog(shown.desk, "store"),
        lambda: AnswersDialog(shown.desk),
        lambda: HelpWindow(shown.desk),
        lambda: Page(shown, "Keys", keys_html()),
    )
    for make in makers:
        box = make()
        qtbot.addWidget(box)
        assert nameless(box) == [], type(box).__name__


def test_the_frame_with_several_sheets_and_what_opens_over_them(frame, qtbot):
    frame.show()
    frame.add()
    frame.current.stage.over.quick_add((1.0, 1.0), frame.current.parts.lets)
    assert nameless(frame) == []
    assert frame.tabs.focusPolicy() & Qt.FocusPolicy.TabFocus and frame.tabs.accessibleName()


def test_keys_are_said_as_they_are_pressed():
    assert [key_words(k) for k in ("Ctrl+Shift+S", "Ctrl++", "Ctrl+=", "/", "F5")] == [
        "Ctrl Shift S", "Ctrl +", "Ctrl =", "/", "F5"
    ]  # fmt: skip


def test_every_command_is_reached_by_a_menu_and_its_tip_says_more_than_its_name(shown):
    reached = {
        action.property("command")
        for menu in shown.menus.values()
        for action in menu.actions()
        if action.property("command")
    }
    assert reached == {command.id for command in COMMANDS}
    for command in COMMANDS:
        tip = shown.actions_[command.id].toolTip()
        assert all(part in tip for part in (command.help, *map(key_words, command.keys[:1]))), command.id


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
