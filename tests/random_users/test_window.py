"""The whole window under a random hand: commands by their keys and menus, tools, clicks, drags and typing.

Always: what is on the sheet can be written and reads back equal, and is what the canvas shows. At the end the findings
are those of the reopened file, and undo leads back to the beginning, exactly. A longer run: LOOPWRIGHT_STEPS=300
LOOPWRIGHT_RUNS=10.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test
from PySide6.QtCore import QEvent, QPoint, QPointF, QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from loopwright.catalogue import standard_catalogue
from loopwright.drawing.look import to_units
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps
from loopwright.survey import survey
from loopwright.window.main import MainWindow
from loopwright.window.questions import Choice
from loopwright.window.recent import Memory
from window.hand import Hand

from .test_document import begin

STEPS = int(os.environ.get("LOOPWRIGHT_STEPS", "22"))
RUNS = int(os.environ.get("LOOPWRIGHT_RUNS", "3"))
CATALOGUE = standard_catalogue()
COMMANDS = [
    "undo",
    "redo",
    "delete",
    "cut",
    "copy",
    "paste",
    "duplicate",
    "copy_picture",
    "turn",
    "mirror",
    "choose_all",
    "choose_none",
    "choose_circuit",
    "zoom_in",
    "zoom_out",
    "zoom_fit",
    "zoom_full",
    "zoom_chosen",
    "metric",
    "imperial",
    "legend",
    "overview",
    "page_frame",
    "sides",
    "select",
    "pipe",
    "place",
    "pan",
    "note",
    "dimension",
    "link",
    "find_part",
    "properties",
    "align_left",
    "align_centre",
    "align_right",
    "align_top",
    "align_middle",
    "align_bottom",
    "level_ports",
    "spread_across",
    "spread_up",
    "lead_anew",
    "lead_all_anew",
    "without_corner",
    "space_risers",
    "check",
    "next_finding",
    "last_finding",
    "why",
    "conditions",
    "power_cut",
    "normal",
    "save",
]
KEYS = [Qt.Key.Key_Escape, Qt.Key.Key_Return, Qt.Key.Key_Delete, Qt.Key.Key_Left, Qt.Key.Key_Up, Qt.Key.Key_Tab,
        Qt.Key.Key_Space, Qt.Key.Key_Backspace, Qt.Key.Key_V, Qt.Key.Key_P, Qt.Key.Key_X]  # fmt: skip
PLACES = st.tuples(st.integers(-2, 20).map(lambda n: n / 2), st.integers(0, 9).map(lambda n: n / 2))


class Loose(Hand):
    """A hand that goes to the edge of the view where a place lies outside."""

    def spot(self, at: tuple[float, float]) -> QPoint:
        view = self.window.stage.view
        spot, room = view.mapFromScene(QPointF(*to_units(at))), view.viewport().rect()
        return QPoint(min(max(spot.x(), 1), room.width() - 2), min(max(spot.y(), 1), room.height() - 2))


class Hands(RuleBasedStateMachine):
    """A hand that knows the window and means nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        place = Path(self.folder.name)
        memory = Memory(QSettings(str(place / "s.ini"), QSettings.Format.IniFormat))
        memory.mode, memory.caution_read = "light", True
        self.window = MainWindow(CATALOGUE, memory, rest_ms=0, inline=True, recovery_folder=place / "unsaved")
        self.window.resize(1400, 900)
        self.first = begin()
        self.path = place / "sheet.loopwright"
        self.window.document.open(self.first, None)
        self.window.show()
        self.window.activateWindow()
        QApplication.processEvents()
        self.window.stage.take_focus()
        self.hand = Loose(self.window)
        self.saved = False

    @rule(name=st.sampled_from(COMMANDS))
    def command(self, name: str) -> None:
        action = self.window.actions_[name]
        if action.isEnabled():
            action.trigger()
            QApplication.processEvents()

    @rule(at=PLACES)
    def click(self, at: tuple[float, float]) -> None:
        self.hand.click(at)

    @rule(part=st.integers(0, 9), port=st.integers(0, 9))
    def click_a_port(self, part: int, port: int) -> None:
        from loopwright.sheet.ports import ports_of

        parts = list(self.window.document.sheet.parts.values())
        if parts:
            spots = list(ports_of(parts[part % len(parts)], CATALOGUE).values())
            if spots:
                self.hand.click(spots[port % len(spots)].at)

    @rule(a=PLACES, b=PLACES)
    def drag(self, a: tuple[float, float], b: tuple[float, float]) -> None:
        self.hand.drag(a, b)

    @rule(kind=st.sampled_from(["heat_store", "pump", "tee", "radiator", "isolating_valve"]), at=PLACES)
    def place(self, kind: str, at: tuple[float, float]) -> None:
        self.window.stage.place(kind)
        self.hand.click(at)

    @rule(key=st.sampled_from(KEYS))
    def key(self, key: Qt.Key) -> None:
        widget = QApplication.focusWidget()
        if widget is not None and self.window.isAncestorOf(widget):
            QTest.keyClick(widget, key)
            QApplication.processEvents()

    @rule(text=st.sampled_from(["12", "-1 mm", "<b>", "1e99 kW", "%n", "0.5 m"]))
    def type(self, text: str) -> None:
        widget = QApplication.focusWidget()
        if widget is not None and self.window.isAncestorOf(widget):
            QTest.keyClicks(widget, text)

    @rule(seed=st.integers(0, 99))
    def choose(self, seed: int) -> None:
        sheet, r = self.window.document.sheet, Random(seed)
        named = [*sheet.parts, *sheet.pipes]
        self.window.document.choose(r.sample(named, min(len(named), r.randint(0, 3))))

    @invariant()
    def whole(self) -> None:
        sheet = self.window.document.sheet
        assert loads(dumps(sheet), CATALOGUE) == sheet
        assert set(self.window.stage.scene.lines) == set(sheet.pipes)
        if self.path.exists() and self.window.document.clean:
            assert load(self.path, CATALOGUE) == sheet

    def teardown(self) -> None:
        window = self.window
        for _ in range(6):
            window.stage.view.setFocus()
            QTest.keyClick(window.stage.view, Qt.Key.Key_Escape)
        for _ in range(300):
            QApplication.processEvents()
            if not window.surveyor.busy:
                break
        assert window.survey is not None
        again = survey(loads(dumps(window.document.sheet), CATALOGUE), CATALOGUE)
        assert [
            (f.rule, f.subject, f.message) for f in window.survey.findings if f.rule in {x.rule for x in again.findings}
        ] == [(f.rule, f.subject, f.message) for f in again.findings]
        while window.document.undo_label:
            window.document.undo()
        assert window.document.sheet is self.first
        window.shut_down()
        window.close()
        window.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
        self.folder.cleanup()


def test_random_hands(qtbot, qapp: QApplication, answers: dict[str, object], tmp_path: Path):
    answers.update(
        ask_save=Choice.DROP, ask_save_path=tmp_path / "x.loopwright", ask_overwrite_changed=True, tell=None,
        ask_open_path=None, ask_folder=None, ask_recover=False,
    )  # fmt: skip
    run_state_machine_as_test(
        Hands,
        settings=settings(
            max_examples=RUNS, stateful_step_count=STEPS, deadline=None, suppress_health_check=list(HealthCheck),
            derandomize="LOOPWRIGHT_RUNS" not in os.environ, database=None,
            phases=(Phase.generate,),  # a failing walk is told as it was: to shorten it takes minutes
        ),
    )  # fmt: skip


@pytest.mark.parametrize("junk", [b"", b"\x00" * 100, b"{", b"[" * 5000, b'{"format":"loopwright-sheet","version":99}'])
def test_a_clipboard_of_garbage(qtbot, qapp, answers, memory, tmp_path, junk):
    from PySide6.QtCore import QMimeData

    from loopwright.window.clipboard import MIME

    window = MainWindow(CATALOGUE, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(window, before_close_func=lambda w: w.shut_down())
    first = begin()
    window.document.open(first, None)
    data = QMimeData()
    data.setData(MIME, junk)
    data.setText("pasted text")
    QApplication.clipboard().setMimeData(data)
    window.actions_["paste"].trigger()
    assert window.document.sheet is first
    assert window.status.words.text(), "nothing is said"
    QApplication.clipboard().clear()
