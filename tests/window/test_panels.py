"""Whole-window stories: drawing, checking, trying a power cut, explaining, and what each command does.

What a power cut does is general knowledge (common practice, no source): a pump stops, a fire goes on.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import weakref

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication

from loopwright.rules.findings import Finding, Severity
from loopwright.sheet import edits
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.actions import COMMANDS
from loopwright.window.main import MainWindow
from loopwright.window.tools import TOOLS


def settle(qtbot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: not window.surveyor.busy)


def test_the_empty_window_offers_three_ways_to_begin(window, qtbot):
    with qtbot.waitExposed(window):
        window.show()
    assert window.start.isVisible()
    window.start.place_store.click()
    assert window.stage.tool == "place" and not window.start.isVisible()


def test_a_store_is_placed_by_clicks_and_is_one_step(window, qtbot):
    with qtbot.waitExposed(window):
        window.show()
    window.start.place_store.click()
    view = window.stage.view
    spot = QPoint(300, 250)
    qtbot.mouseMove(view.viewport(), spot)
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    store = next(iter(window.document.sheet.parts.values()))
    assert store.kind == "heat_store" and len(store.tappings) >= 4
    assert window.document.undo_label
    window.document.undo()
    assert not window.document.sheet.parts and window.start.isVisible()


def test_every_findings_number_stands_in_the_list_and_on_the_sheet(drawn, qtbot):
    settle(qtbot, drawn)
    survey = drawn.survey
    assert survey is not None and survey.findings, "a stove without a vent and a heat leak cannot be clear"
    assert sorted(f.number for f in drawn.findings.model.findings) == list(range(1, len(survey.findings) + 1))
    assert {f.number for f in drawn.stage.scene.flags} == {f.number for f in survey.findings if f.spot}
    assert "rules answered" in drawn.findings.said.text()


def test_choosing_a_finding_lights_its_path_and_letting_go_puts_it_out(drawn, qtbot):
    settle(qtbot, drawn)
    drawn.actions_["next_finding"].trigger()
    finding = drawn.findings.current
    lit, token = drawn.stage.scene._lit
    assert finding is not None and finding.subject.partition("/")[0] in lit and token == finding.severity.word
    drawn.escape()
    assert drawn.findings.current is None and not drawn.stage.scene._lit[0]


def test_next_finding_goes_round(drawn, qtbot):
    settle(qtbot, drawn)
    count = len(drawn.survey.findings)
    numbers = []
    for _ in range(count + 1):
        drawn.actions_["next_finding"].trigger()
        numbers.append(drawn.findings.current.number)
    assert sorted(numbers[:-1]) == list(range(1, count + 1)) and numbers[-1] == numbers[0] == 1
    drawn.actions_["last_finding"].trigger()
    assert drawn.findings.current.number == numbers[-2]


def test_what_is_about_the_same_part_stands_under_the_gravest_and_says_so(drawn, qtbot):
    settle(qtbot, drawn)
    model, rows = drawn.findings.model, drawn.findings.model.findings
    inset = [f for f in rows if model.under(f)]
    assert inset and all(f.shared for f in inset)
    for row, finding in enumerate(rows):
        head = next((f for f in reversed(rows[:row]) if not model.under(f)), None)
        if model.under(finding):
            assert head is not None and head.number == finding.cause and head.severity >= finding.severity
            said = model.data(model.index(row), Qt.ItemDataRole.AccessibleTextRole)
            assert f"Belongs to finding {head.number}" in said
            assert drawn.findings._painter.left(finding) > drawn.findings._painter.left(head)


def test_why_shows_the_rules_page_and_back_again(drawn, qtbot):
    from loopwright.rules.registry import page

    settle(qtbot, drawn)
    drawn.actions_["why"].trigger()
    finding = drawn.findings.current
    assert drawn.right.currentWidget() is drawn.why
    assert drawn.why.title.text() == page(finding.rule).title
    text = drawn.why.text.toPlainText()
    assert finding.message in text and finding.todo in text and "Why it matters" in text
    drawn.escape()
    assert drawn.right.currentWidget() is not drawn.why


def test_a_finding_without_a_page_says_so(drawn):
    drawn.why.show_finding(
        Finding(
            severity=Severity.FAULT, subject="stove", culprits=(), message="M.", todo="T.", rule="no/such", number=1
        )
    )
    assert "There is no rule" in drawn.why.text.toPlainText()


def test_a_chosen_finding_stays_chosen_after_an_edit_that_does_not_mend_it(drawn, qtbot):
    settle(qtbot, drawn)
    drawn.findings.step(1)
    before = drawn.findings.current
    drawn.document.apply("Set title", lambda s: edits.set_title(s, "Other"))
    settle(qtbot, drawn)
    assert drawn.findings.current is not before
    assert (drawn.findings.current.rule, drawn.findings.current.subject) == (before.rule, before.subject)


def test_a_power_cut_stops_pumps_not_the_fire(drawn, qtbot):
    with qtbot.waitExposed(drawn):
        drawn.show()
    settle(qtbot, drawn)
    drawn.actions_["power_cut"].trigger()
    assert drawn.conditions.condition == POWER_CUT
    assert drawn.condition_bar.name.text() == "Power cut" and drawn.condition_bar.property("abnormal")
    assert drawn.actions_["power_cut"].isChecked()
    states = _states(drawn)
    assert states["stopped/P1"] == ("stopped", False) and states["out/stove"] == ("lit", True)
    drawn.escape()
    assert drawn.conditions.condition == NORMAL and not drawn.actions_["power_cut"].isChecked()


def _states(window: MainWindow) -> dict[str, tuple[str, bool]]:
    from loopwright.window.switch import Switch

    return {
        str(s.property("key")): (s.accessibleDescription(), s.isChecked())
        for s in window.conditions._rows_host.findChildren(Switch)
        if not s.isHidden()
    }


def test_escape_goes_back_to_normal_from_the_list_of_findings_too(drawn, qtbot):
    drawn.findings.choose(drawn.survey.findings[0])
    drawn.actions_["power_cut"].trigger()
    for told in (True, False):
        assert drawn.findings.current is not None
        assert (drawn.conditions.condition == POWER_CUT) is told
        qtbot.keyClick(drawn.findings.list, Qt.Key.Key_Escape)
    assert drawn.findings.current is None


def test_a_condition_of_ones_own(drawn, qtbot, catalogue):
    with qtbot.waitExposed(drawn):
        drawn.show()
    from loopwright.window.switch import Switch

    switch = next(s for s in drawn.conditions._rows_host.findChildren(Switch) if s.property("key") == "stopped/P1")
    switch.click()
    assert drawn.conditions.condition == Condition(stopped=frozenset({"P1"}))
    assert drawn.conditions.segments.checkedId() == 2
    drawn.document.apply("Delete", lambda s: edits.delete(s, ["P1"], catalogue))
    assert drawn.conditions.condition == NORMAL, "a pump that is gone cannot be stopped"


def test_the_segments_come_back_to_what_was_tried(drawn):
    tried = Condition(out=frozenset({"stove"}))
    drawn.conditions.set_condition(tried)
    drawn.conditions._segment(0)
    assert drawn.conditions.condition == NORMAL
    drawn.conditions._segment(2)
    assert drawn.conditions.condition == tried


def test_parts_are_found_by_synonym_and_picked_by_enter(window, qtbot):
    with qtbot.waitExposed(window):
        window.show()
    window.actions_["find_part"].trigger()
    qtbot.keyClicks(window.parts.search, "buffer tank")
    qtbot.keyClick(window.parts.search, Qt.Key.Key_Return)
    assert window.stage.tool == "place" and window.stage.view.tool.kind == "heat_store"


def test_parts_say_when_nothing_is_called_that(window, qtbot):
    with qtbot.waitExposed(window):
        window.show()
    window.parts.search.setText("zzz")
    assert window.parts.nothing.isVisible() and not window.parts.tree.isVisible()
    qtbot.keyClick(window.parts.search, Qt.Key.Key_Escape)
    assert window.parts.tree.isVisible()


def test_the_tree_lists_every_kind_once(window, catalogue):
    from loopwright.window.parts import KIND

    model = window.parts.model
    listed = [
        model.index(k, 0, model.index(g, 0)).data(KIND)
        for g in range(model.rowCount())
        for k in range(model.rowCount(model.index(g, 0)))
    ]
    assert sorted(listed) == sorted(kind.id for kind in catalogue)


def test_delete_duplicate_turn_and_mirror(drawn):
    drawn.document.choose(["P1"])
    drawn.actions_["turn"].trigger()
    assert drawn.document.sheet.parts["P1"].turn == 1
    drawn.actions_["mirror"].trigger()
    assert drawn.document.sheet.parts["P1"].mirror
    drawn.actions_["duplicate"].trigger()
    assert drawn.document.chosen == {"P2"}
    drawn.actions_["delete"].trigger()
    assert "P2" not in drawn.document.sheet.parts and "P1" in drawn.document.sheet.parts
    assert drawn.actions_["undo"].text().startswith("Undo delete")


def test_a_refused_command_is_said_and_changes_nothing(drawn):
    before = drawn.document.sheet
    drawn.document.choose(["store"])
    drawn.actions_["turn"].trigger()
    assert drawn.document.sheet is before and "upright" in drawn.status.words.text()


def test_turn_goes_to_the_part_on_the_pointer(drawn):
    drawn.stage.place("pump")
    drawn.actions_["turn"].trigger()
    assert drawn.stage.view.tool.turn == 1 and drawn.document.sheet.parts["P1"].turn == 0


@pytest.mark.parametrize("tool", [t for t in TOOLS if t != "place"])
def test_each_tool_is_taken_and_put_down_with_escape(drawn, qtbot, tool):
    with qtbot.waitExposed(drawn):
        drawn.show()
    before = drawn.document.sheet
    drawn.actions_[tool].trigger()
    assert drawn.stage.tool == tool and drawn.actions_[tool].isChecked()
    qtbot.keyClick(drawn.stage.view, Qt.Key.Key_Escape)
    assert drawn.stage.tool == "select" and drawn.document.sheet is before


def test_escape_on_the_sheet_takes_back_the_condition_then_the_choice(drawn, qtbot):
    with qtbot.waitExposed(drawn):
        drawn.show()
    drawn.document.choose(["P1"])
    drawn.conditions.toggle_power_cut()
    qtbot.keyClick(drawn.stage.view, Qt.Key.Key_Escape)
    assert drawn.conditions.condition == NORMAL and drawn.document.chosen == {"P1"}
    qtbot.keyClick(drawn.stage.view, Qt.Key.Key_Escape)
    assert drawn.document.chosen == frozenset()


def test_no_key_has_two_meanings():
    keys = [key for command in COMMANDS for key in command.keys]
    assert len(keys) == len(set(keys))


def test_a_part_is_dragged_in_from_the_tree(drawn, qtbot):
    from PySide6.QtCore import QMimeData
    from PySide6.QtGui import QDragEnterEvent, QDropEvent

    from loopwright.window.parts import MIME

    with qtbot.waitExposed(drawn):
        drawn.show()
    data = QMimeData()
    data.setData(MIME, b"pump")
    spot, port = QPoint(200, 120), drawn.stage.view.viewport()
    none, left = Qt.KeyboardModifier.NoModifier, Qt.MouseButton.LeftButton
    QApplication.sendEvent(port, QDragEnterEvent(spot, Qt.DropAction.CopyAction, data, left, none))
    QApplication.sendEvent(port, QDropEvent(QPointF(spot), Qt.DropAction.CopyAction, data, left, none))
    assert "P2" in drawn.document.sheet.parts


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1600, 1000)])
def test_nothing_of_the_furniture_is_cut(drawn, qtbot, width, height):
    drawn.resize(width, height)
    with qtbot.waitExposed(drawn):
        drawn.show()
    drawn.lay_out()
    qtbot.wait(10)
    for button in drawn.tool_row.findChildren(type(drawn.condition_bar.button).__mro__[1]):
        if button.isVisible():
            assert button.width() >= button.minimumSizeHint().width()
            assert button.geometry().right() <= drawn.tool_row.width()
    for number in range(3):
        segment = drawn.conditions.segments.button(number)
        assert segment.width() >= segment.fontMetrics().horizontalAdvance(segment.text())
    assert drawn.stage.width() > 600 and drawn.properties.area.viewport().width() > 280


def test_a_closed_window_leaves_nothing_behind(qtbot, catalogue, memory, answers, tmp_path, small):
    window = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path)
    window.document.open(small, None)
    window.document.choose(["store"])
    window.show()
    qtbot.wait(5)
    gone = weakref.ref(window)
    window.close()
    window.deleteLater()
    del window
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert gone() is None


def test_in_a_low_window_the_switches_come_with_custom(drawn, qtbot):
    drawn.resize(1280, 800)
    with qtbot.waitExposed(drawn):
        drawn.show()
    drawn.lay_out()
    assert drawn.conditions.is_folded
    drawn.conditions._segment(2)
    assert not drawn.conditions.is_folded and drawn.conditions.height() > 200
    drawn.conditions._segment(0)
    assert drawn.conditions.is_folded and drawn.conditions.height() < 200


def test_an_empty_sheet_is_not_called_sound(window, qtbot):
    settle(qtbot, window)
    assert "Nothing is drawn" in window.findings.said.text()


def test_arrows_follow_the_water_in_normal_running_without_a_halo(drawn, qtbot):
    """A fire pushes its water out of its flow and back into its return (common practice, no source)."""
    settle(qtbot, drawn)
    scene = drawn.stage.scene
    assert not scene._moving_halo
    for pipe in drawn.document.sheet.pipes.values():
        from_stove = pipe.a.part == "stove"
        wanted = 1 if (pipe.a.port if from_stove else pipe.b.port) == "flow" else -1
        assert scene._turned.get(pipe.id) == (wanted if from_stove else -wanted)


APP = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from loopwright.window.app import run
from loopwright.window.cautions import CautionDialog
from loopwright.window.main import MainWindow

app = QApplication([])

def look():
    shown = [w for w in app.allWidgets() if w.isVisible()]
    names = [w.document.name for w in shown if isinstance(w, MainWindow)]
    if names in ([], ["Untitled"]):  # still on its way
        QTimer.singleShot(200, look)
        return
    print(names, any(isinstance(w, CautionDialog) for w in shown))
    app.quit()

QTimer.singleShot(600, look)
QTimer.singleShot(30000, app.quit)
sys.exit(run(Path(sys.argv[1])))
"""


def test_the_application_starts_and_ends(tmp_path, small):
    """The whole way in, with a file, in a process of its own: the drawing shows, the cautions too the first time."""
    from loopwright.files.writer import save

    save(small, tmp_path / "barn.loopwright")
    home = {
        name: str(tmp_path) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")
    }
    command = [sys.executable, "-c", APP, str(tmp_path / "barn.loopwright")]
    said = []
    for _ in range(2):
        ended = subprocess.run(
            command, env={**os.environ, **home}, capture_output=True, text=True, timeout=60, check=False
        )
        assert ended.returncode == 0, ended.stderr
        assert "Traceback" not in ended.stderr
        said.append(ended.stdout.strip())
    assert said == ["['Kiln Lane barn'] True", "['Kiln Lane barn'] False"]
