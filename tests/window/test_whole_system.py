"""A person draws a three-source system from a blank sheet with mouse and keys alone, in fewer than 150 actions.

A stove by gravity with its heat leak, open vent, feed and overflow; an oil boiler by pump; solar by a coil with its own
relief valve and vessel; two radiators by pump. An action is a click, a drag, a key or a chord, or a word typed.
"""

from __future__ import annotations

from itertools import pairwise
from math import dist

import pytest
from hand import PLAIN, Hand
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from test_story import shown

from loopwright.rules.findings import Severity
from loopwright.window.main import MainWindow

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
MOST_ACTIONS = 150


class Counting(Hand):
    """A hand that counts what it does. Moving the pointer alone is no action."""

    def __init__(self, window) -> None:
        super().__init__(window)
        self.actions = 0

    def key(self, key, mods=PLAIN) -> None:
        self.actions += 1
        super().key(key, mods)

    def type(self, text: str) -> None:
        self.actions += 1
        for sign in text:  # each goes where the focus is by then: the first may open a cell
            super().type(sign)

    def click(self, at, mods=PLAIN) -> None:
        self.actions += 1
        super().click(at, mods)

    def add(self, words: str, at: tuple[float, float]) -> str:
        """Point, name a part, Enter. Gives its id."""
        before = set(self.window.document.sheet.parts)
        self.point(at)
        self.key(Qt.Key.Key_A)
        self.type(words)
        self.key(Qt.Key.Key_Return)
        new = [i for i in self.window.document.sheet.parts if i not in before]
        chosen = self.window.document.chosen & set(new)
        assert len(chosen) == 1, f"{words}: {new} are new; {self.window.status.words.text()}"
        return next(iter(chosen))

    def add_to_vessel(self, row: int) -> None:
        """The menu beside the tappings of the chosen vessel: open it, go down by keys, Enter."""
        button = self.window.properties.tappings.add
        QTimer.singleShot(0, lambda: self._down(button.menu(), row))
        self.actions += 1
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
        self.window.activateWindow()
        self.breathe()

    def _down(self, menu, row: int) -> None:
        for _ in range(row + 1):
            QTest.keyClick(menu, Qt.Key.Key_Down)
        QTest.keyClick(menu, Qt.Key.Key_Return)
        self.actions += row + 2

    def pipes(self, *ways: tuple[tuple[float, float], ...]) -> None:
        """Take the pipe tool once and draw these ways with it."""
        self.key(Qt.Key.Key_P)
        for way in ways:
            before = len(self.window.document.sheet.pipes)
            for at in way:
                self.click(at)
            assert len(self.window.document.sheet.pipes) > before, f"{way}: {self.window.status.words.text()}"

    def line(self, part: str, port: str) -> tuple[tuple[float, float], ...]:
        """The line of the pipe at a port, as it is seen."""
        pipe = next(
            p for p in self.window.document.sheet.pipes_of(part) for e in (p.a, p.b) if (e.part, e.port) == (part, port)
        )
        return self.window.stage.scene.lines[pipe.id]

    def middle(self, part: str) -> tuple[float, float]:
        """Where a fitting stands."""
        one = self.window.document.sheet.parts[part]
        return one.x_m, one.height_m

    def on(self, part: str, port: str, level: bool, share: float = 0.5) -> tuple[float, float]:
        """A place on the longest level (or upright) run of the pipe at a port."""
        runs = [r for r in pairwise(self.line(part, port)) if (abs(r[0][1] - r[1][1]) < 1e-3) == level]
        a, b = max(runs, key=lambda r: dist(*r))
        return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


@pytest.fixture
def window(qtbot, catalogue, memory, answers, tmp_path):
    """A window that checks when the hand rests, as it does for a person."""
    made = MainWindow(catalogue, memory, rest_ms=400, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(made, before_close_func=lambda w: w.shut_down())
    return made


def test_the_three_source_system_from_a_blank_sheet(qtbot, window):
    shown(qtbot, window)
    hand = Counting(window)
    for _ in range(2):
        hand.key(Qt.Key.Key_Minus, CTRL)

    # what stands where
    store = hand.add("heat store", (4.0, 0.2))
    hand.fill("volume_l", "450")  # as much as the stove's firing asks for
    hand.actions += 4
    hand.add_to_vessel(2)  # a coil for the sun
    hand.add_to_vessel(1)  # and a pocket for its sensor
    hand.type("0.3")
    hand.key(Qt.Key.Key_Return)
    hand.add_to_vessel(1)  # and one for the boiler's, where it stands by itself
    hand.click((1.0, 7.0))  # back to the sheet
    coil = window.document.sheet.parts[store].coils[0]
    stove = hand.add("boiler stove", (0.0, 0.0))
    leak = hand.add("heat-leak", (-0.3, 3.0))
    hand.key(Qt.Key.Key_M, CTRL)
    cistern = hand.add("feed and exp", (1.45, 5.5))
    boiler = hand.add("boiler, oil", (9.0, 0.0))
    hand.key(Qt.Key.Key_M, CTRL)
    low = hand.add("radiator", (7.2, 2.8))
    high = hand.add("radiator", (7.2, 4.0))
    panel = hand.add("solar collector", (7.2, 5.9))
    hand.key(Qt.Key.Key_M, CTRL)
    overflow = hand.add("discharge point", (2.6, 5.2))
    drain = hand.add("drain cock", (5.0, -0.4))
    thermostat = hand.add("room thermostat", (8.8, 3.6))

    # pipes from port to port; a pipe that ends on a pipe makes a tee, one that ends on the shell a tapping
    port = hand.port
    foot = port(stove, "return")[1]
    hand.pipes(
        (port(stove, "flow"), (0.7, port(stove, "flow")[1]), port(store, "A")),
        (port(stove, "return"), (2.9, foot), (2.9, port(store, "B")[1]), port(store, "B")),
    )
    hand.pipes((port(cistern, "vent"), (1.0, port(store, "A")[1])))
    hand.pipes(
        (port(leak, "flow"), (hand.line(cistern, "vent")[-1][0], port(leak, "flow")[1])),
        (port(leak, "return"), (2.2, foot)),
        (port(cistern, "feed"), (1.7, foot)),
        (port(store, "E"), port(cistern, "vent_2")),
        (port(boiler, "flow"), (4.15, 1.2)),
        ((4.15, 0.8), port(boiler, "return")),
        (port(store, "C"), port(low, "flow")),
        (port(low, "return"), port(store, "D")),
    )
    hand.pipes(
        (port(high, "flow"), hand.on(low, "flow", True, 0.4)),
        (port(high, "return"), hand.on(low, "return", True, 0.3)),
        (port(cistern, "overflow"), port(overflow, "in")),
        (port(store, "F"), port(drain, "a")),
        (port(panel, "flow"), port(store, coil.upper)),
        (port(store, coil.lower), port(panel, "return")),
    )
    # fittings into the pipes, or on a branch of them
    boiler_pump = hand.add("pump", hand.on(boiler, "return", True, 0.6))
    room_pump = hand.add("pump", hand.on(store, "C", True, 0.3))
    pump = hand.add("solar pump", hand.on(panel, "return", False, 0.5))
    low_point = hand.add("drain cock", (0.6, port(stove, "return")[1]))
    relief = hand.add("relief valve", hand.on(panel, "flow", True, 0.3))
    hand.add("expansion vessel, solar", hand.on(panel, "return", False, 0.3))
    hand.fill("volume_l", "24")
    hand.actions += 4
    hand.key(Qt.Key.Key_Escape)
    out = hand.add("discharge point", (port(relief, "outlet")[0] + 0.5, 6.4))
    hand.pipes((port(relief, "outlet"), port(out, "in")))

    # the sun's pump runs on the difference, and stops when the store is hot
    at = window.document.sheet.parts[pump]
    pocket = min(
        (t for t in window.document.sheet.parts[store].tappings if t.purpose == "sensor"), key=lambda t: t.height_m
    )
    hand.key(Qt.Key.Key_L)
    hand.click((7.2, 6.4))
    hand.click((4.0, 0.1 + pocket.height_m), SHIFT)
    hand.click((at.x_m, at.height_m))
    hand.key(Qt.Key.Key_L)
    hand.click((4.0, 0.1 + pocket.height_m))
    hand.click((at.x_m, at.height_m))
    # the boiler and its pump run while the store is cold, the pump of the radiators while the room is
    middle = window.document.sheet.parts[store].height_m + 0.8
    for sensor, target in (
        ((4.0, middle), (9.1, 0.3)),
        ((4.0, middle), hand.middle(boiler_pump)),
        (hand.middle(thermostat), hand.middle(room_pump)),
    ):
        hand.key(Qt.Key.Key_L)
        hand.click(sensor)
        hand.click(target)

    qtbot.waitUntil(lambda: not window.surveyor.busy, timeout=5000)
    sheet = window.document.sheet
    kinds = {part.kind for part in sheet.parts.values()}
    assert {"boiler_stove", "boiler_oil", "solar_collector", "heat_store", "heat_leak_radiator"} <= kinds
    assert all(sheet.pipes_of(part) for part in (low_point, relief, pump)), "a flag is never in the way of a tool"
    findings = window.findings.model.findings
    # nothing remains to be said but that the two gravity loops run level as far as the room is wide
    assert {f.rule for f in findings} <= {"gravity-loop/level-run"}, [f"{f.rule}: {f.message}" for f in findings]
    assert all(f.severity is Severity.ADVICE for f in findings)
    assert window.survey is not None and window.survey.services, "the survey was made"
    assert 100 < hand.actions < MOST_ACTIONS, hand.actions
