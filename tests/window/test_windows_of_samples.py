"""Every sheet that ships, opened in the window: what the list says, the sheet shows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hand import Hand
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from loopwright.canvas.items import PipeItem
from loopwright.resources import resource_root
from loopwright.survey import condition_view
from loopwright.waterways.views import POWER_CUT
from loopwright.window.main import MainWindow

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*/*.loopwright"))
STARTERS = sorted((resource_root() / "starters").glob("*.loopwright"))


def test_there_are_samples():
    assert {p.parent.name for p in SAMPLES} == {"sound", "faulty"} and STARTERS


@pytest.fixture
def opened(request, qtbot, window, answers) -> Hand:
    """A sample opened by Ctrl O; any box that speaks of an error fails the test, as no answer to it is given."""
    answers["ask_open_path"] = request.param
    window.resize(1600, 1000)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    qtbot.waitUntil(lambda: window.stage.view.hasFocus(), timeout=3000)
    hand = Hand(window)
    hand.key(Qt.Key.Key_O, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not window.surveyor.busy, timeout=10_000)
    return hand


def pipes_that_are(window: MainWindow, state: str) -> set[str]:
    """Pipes that the sheet shows in a state."""
    items = window.stage.scene.items_by_id.items()
    return {key for key, item in items if isinstance(item, PipeItem) and item.state == state}


@pytest.mark.parametrize("opened", [*SAMPLES, *STARTERS], indirect=True, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_a_sample_in_the_window(qtbot, opened, catalogue):
    window = opened.window
    sheet, scene = window.document.sheet, window.stage.scene
    assert window.views.currentIndex() == 0, "the page of a refused file is shown"
    assert not window.start.isVisible() and not window.isWindowModified()
    assert set(scene.items_by_id) >= set(sheet.parts) | set(sheet.pipes)

    # flags on the sheet: one for each finding of the list, at its own spot, with its number and shape
    listed = window.findings.model.findings
    opened.breathe()
    assert {(f.flag.number, f.flag.severity, f.flag.at) for f in scene.labels.flags} == {
        (f.number, f.severity.word, f.spot) for f in listed if f.spot is not None
    }
    assert [f.number for f in listed] == list(range(1, len(listed) + 1))
    assert all(f.spot is not None for f in listed), "a finding has no place on the sheet"

    expected = window.document.path.with_name(f"{window.document.path.stem}.expected.json")
    if expected.exists():
        wanted = {(f["rule"], f["subject"]) for f in json.loads(expected.read_text(encoding="utf-8"))}
        assert wanted and wanted <= {(f.rule, f.subject) for f in listed}

    # a click on a row of the list lights the path of that finding and lets the rest stand back
    rows = window.findings.list
    for k, finding in enumerate(listed[:3]):
        rows.scrollTo(window.findings.model.index(k))
        spot = rows.visualRect(window.findings.model.index(k)).topLeft()
        QTest.mouseClick(rows.viewport(), Qt.MouseButton.LeftButton, pos=spot + QPoint(60, 14))
        assert window.findings.current is not None and window.findings.current.number == finding.number
        lit = {name.partition("/")[0] for name in (*finding.path, *finding.culprits, finding.subject)}
        lit &= scene.items_by_id.keys()
        assert lit, f"nothing of {finding.rule} is on the sheet"
        bright = {key for key, item in scene.items_by_id.items() if item.opacity() == 1.0}
        assert bright == lit
    opened.key(Qt.Key.Key_Escape)
    assert all(item.opacity() == 1.0 for item in scene.items_by_id.values())

    # a power cut: what the survey says stands still is shown so, and nothing else
    opened.key(Qt.Key.Key_F6, Qt.KeyboardModifier.ShiftModifier)
    view = condition_view(sheet, catalogue, POWER_CUT)
    assert pipes_that_are(window, "idle") == set(view.idle) and pipes_that_are(window, "moving") == set(view.moving)
    pumped = {p.id for part in sheet.parts.values() if part.kind == "pump" for p in sheet.pipes_of(part.id)}
    if pumped:
        assert view.idle, "with no electricity, something that is pumped stands still"
    assert window.condition_bar.name.text() == "Power cut"
    opened.key(Qt.Key.Key_F6, Qt.KeyboardModifier.ShiftModifier)
    assert not pipes_that_are(window, "idle") and window.condition_bar.name.text() == "Normal running"
