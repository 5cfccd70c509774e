"""What is shown while a group is dragged, and that the drop is none the worse for it: checks of our own, no source."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from itertools import pairwise
from math import dist
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from scripts import ScriptHost, event

from loopwright.canvas.scene import SheetScene
from loopwright.canvas.tools.base import Event
from loopwright.canvas.tools.select import SelectTool
from loopwright.canvas.view import SheetView
from loopwright.catalogue import standard_catalogue
from loopwright.files import load
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.meanwhile import Hand
from loopwright.sheet.pipework import rested
from loopwright.sheet.ports import ports_of

CATALOGUE = standard_catalogue()
HOUSE = load(Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright", CATALOGUE)
GROUP = frozenset(sorted(HOUSE.parts)[:20])
STEPS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}
PLACES = [(0.3, 0.0), (0.6, 0.1), (1.9, 0.45), (-0.8, 0.3), (-0.35, -0.75)]


def moved(place, hand=None):
    return edits.move(HOUSE, GROUP, *place, CATALOGUE, hand)


def heading(a, b):
    return tuple(0 if abs(q - p) < 1e-6 else (1 if q > p else -1) for p, q in zip(a, b))


def check_on_its_ports(sheet, pipe):
    line = polyline(sheet, pipe, CATALOGUE)
    headings = [heading(a, b) for a, b in pairwise(line)]
    assert all(dx == 0 or dz == 0 for dx, dz in headings), "right-angled"
    assert (0, 0) not in headings
    assert all(a[0] * b[0] + a[1] * b[1] == 0 for a, b in pairwise(headings)), "never back along itself"
    for end, way in ((pipe.a, headings[0]), (pipe.b, tuple(-d for d in headings[-1]))):
        assert way == STEPS[ports_of(sheet.parts[end.part], CATALOGUE)[end.port].side], "leaves its port straight"


@pytest.mark.parametrize("place", PLACES)
def test_what_stands_in_is_a_pipe_on_its_ports(place):
    hand, owed = Hand(), set()
    for share in (0.2, 0.5, 0.9, 1.0):
        shown = moved((round(place[0] * share, 3), round(place[1] * share, 3)), hand)
        owed |= hand.owing
        for key in hand.owing:
            check_on_its_ports(shown, shown.pipes[key])
    last = moved(place)
    assert {key for key in shown.pipes if shown.pipes[key] != last.pipes[key]} <= hand.owing, "only these are put off"
    assert owed, "else this says nothing"


def test_moves_after_a_rest_go_on_from_what_was_led_there():
    hand = Hand()
    moved((0.6, 0.1), hand)
    owed = hand.owing
    there = moved((0.6, 0.1))
    rested(there, hand, CATALOGUE)
    assert owed and not hand.owing
    on, near = moved((0.61, 0.1), hand), set()
    for key in hand.owing:
        check_on_its_ports(on, on.pipes[key])
        line, was = polyline(on, on.pipes[key], CATALOGUE), polyline(there, there.pipes[key], CATALOGUE)
        if len(line) == len(was) and all(dist(p, q) < 0.011 for p, q in zip(line, was)):
            near.add(key)
    assert near & owed, "stretched by the little that the hand went on"


@pytest.mark.parametrize("rests", [False, True])
def test_the_drop_is_the_move_itself_and_so_is_the_picture_at_rest(rests):
    host = ScriptHost(HOUSE)
    host.catalogue, host.chosen = CATALOGUE, GROUP
    tool, lead = SelectTool(host), HOUSE.parts[min(GROUP)]
    start = (lead.x_m, lead.height_m)
    tool.feed(Event("press", start, (0.0, 0.0), host.hit(start), frozenset(), "left"))
    put_off = 0
    for dx, dz in PLACES[:3]:
        at = (start[0] + dx, start[1] + dz)
        tool.feed(event(host, "move", at))
        part = host.preview.parts[lead.id]
        whole = moved((round(part.x_m - lead.x_m, 6), round(part.height_m - lead.height_m, 6)))
        put_off += host.preview != whole
        if rests:
            tool.feed(Event("rest", at))
            assert host.preview == whole
    assert put_off
    tool.feed(event(host, "release", at))
    assert host.commits and host.sheet == whole


class Watching(SelectTool):
    """Notes what it is fed."""

    def feed(self, event):
        self.fed = [*getattr(self, "fed", []), event.kind]
        super().feed(event)


def test_moves_before_a_frame_count_as_one(qapp):
    scene = SheetScene(CATALOGUE)
    scene.show(HOUSE)
    view = SheetView(scene)
    view.resize(800, 600)
    view.show()
    host = ScriptHost(HOUSE)
    host.catalogue, host.show = CATALOGUE, lambda overlay, sheet=None: scene.show_overlay(overlay)
    tool = Watching(host)
    view.set_tool(tool)
    qapp.processEvents()

    def mouse(sort, x, button=Qt.MouseButton.NoButton, held=Qt.MouseButton.LeftButton):
        spot = QPointF(x, 40.0)
        there = QPointF(view.viewport().mapToGlobal(QPoint(x, 40)))
        QApplication.sendEvent(
            view.viewport(), QMouseEvent(sort, spot, there, button, held, Qt.KeyboardModifier.NoModifier)
        )

    left = Qt.MouseButton.LeftButton
    mouse(QEvent.Type.MouseButtonPress, 20, left)
    tool.fed = []
    for x in (40, 60, 80, 100):
        mouse(QEvent.Type.MouseMove, x)
    assert tool.fed == ["move"]
    qapp.processEvents()
    QTest.qWait(30)
    assert tool.fed == ["move", "move"], "the last of those that waited"
    assert host.commits == [] and scene.overlay_layer.overlay.frame[1] == view.metres(QPointF(100.0, 40.0))
    QTest.qWait(100)
    assert tool.fed == ["move", "move", "rest"]
    for x in (120, 140):
        mouse(QEvent.Type.MouseMove, x)
    mouse(QEvent.Type.MouseButtonRelease, 140, left, Qt.MouseButton.NoButton)
    assert tool.fed == ["move", "move", "rest", "move", "move", "release"], "none is lost by letting go"
    QTest.qWait(100)
    assert tool.fed[-1] == "release"
    view.close()
    view.setScene(None)
