"""A person draws the whole three-source system from a blank sheet with mouse and keys alone, in fewer than 150 actions.

A stove by gravity with its heat leak, open vent, feed, overflow and filling; an oil boiler by pump; solar by a coil
with its own relief valve and vessel; two radiators by pump; hot water from the mains through a coil, with a mixing
valve before two taps; and what controls them. It ends with a survey that finds nothing. An action is a click, a
drag, a key or a chord, or one word typed. Moving the pointer alone is no action.
"""

from __future__ import annotations

from itertools import pairwise
from math import dist

import pytest
from hand import PLAIN, Hand
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from test_story import shown

from loopwright.rules.findings import Outcome
from loopwright.sheet.values import End
from loopwright.survey import survey as surveyed
from loopwright.window.fields import FlagField, TextField
from loopwright.window.main import MainWindow

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
MOST_ACTIONS = 150


class Counting(Hand):
    """A hand that counts what it does."""

    def __init__(self, window) -> None:
        super().__init__(window)
        self.actions = 0

    def key(self, key, mods=PLAIN) -> None:
        self.actions += 1
        super().key(key, mods)

    def type(self, text: str) -> None:
        self.actions += len(text.split())
        for sign in text:
            super().type(sign)

    def click(self, at, mods=PLAIN) -> None:
        self.actions += 1
        super().click(at, mods)

    def add(self, words: str, at: tuple[float, float]) -> str:
        """Point, A, name what is wanted, Enter. Gives the id of what it placed, of the first of several."""
        before = self.window.document.sheet.parts
        self.point(at)
        self.key(Qt.Key.Key_A)
        self.type(words)
        self.key(Qt.Key.Key_Return)
        new = [i for i in self.window.document.sheet.parts if i not in before]
        chosen = [i for i in new if i in self.window.document.chosen]
        assert len(chosen) >= 1 + words.count(",") or words.startswith("store"), f"{words}: {chosen} of {new} are new"
        return chosen[0]

    def pipes(self, *ways: tuple[tuple[float, float], ...]) -> None:
        """Draw these ways with the pipe tool, which is in hand."""
        for way in ways:
            before = len(self.window.document.sheet.pipes)
            for at in way:
                self.click(at)
            assert len(self.window.document.sheet.pipes) > before, f"{way}: {self.window.status.words.text()}"

    def switch(self, name: str) -> None:
        """Click a yes or no of what is chosen."""
        field = self.window.properties.fields()[name]
        assert isinstance(field, FlagField)
        self.window.properties.area.ensureWidgetVisible(field)
        self.actions += 1
        QTest.mouseClick(field.switch, Qt.MouseButton.LeftButton)

    def say(self, name: str, text: str) -> None:
        """Click into an empty field of what is chosen, type, Enter."""
        field = self.window.properties.fields()[name]
        assert isinstance(field, TextField) and not field.entry.text()
        self.window.properties.area.ensureWidgetVisible(field)
        self.actions += 1
        QTest.mouseClick(field.entry, Qt.MouseButton.LeftButton)
        self.type(text)
        self.key(Qt.Key.Key_Return)

    def line(self, part: str, port: str) -> tuple[tuple[float, float], ...]:
        """The line of the pipe at a port, as it is seen."""
        sheet = self.window.document.sheet
        return self.window.stage.scene.lines[sheet.taken[End(part, port)]]

    def middle(self, part: str) -> tuple[float, float]:
        """Where a fitting stands."""
        one = self.window.document.sheet.parts[part]
        return one.x_m, one.height_m

    def on(self, part: str, port: str, level: bool, share: float = 0.5) -> tuple[float, float]:
        """A place on the longest level (or upright) run of the pipe at a port."""
        runs = [r for r in pairwise(self.line(part, port)) if (abs(r[0][1] - r[1][1]) < 1e-3) == level]
        a, b = max(runs, key=lambda r: dist(*r))
        return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share

    def below(self, part: str, port: str, of: str, stub: str) -> tuple[float, float]:
        """The place on the longest level run at a vessel's stub that is straight below (or above) a port."""
        return self.port(part, port)[0], self.on(of, stub, True)[1]


@pytest.fixture
def window(qtbot, catalogue, memory, answers, tmp_path):
    """A window that checks when the hand rests, as it does for a person."""
    made = MainWindow(catalogue, memory, rest_ms=400, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(made, before_close_func=lambda w: w.shut_down())
    return made


def test_the_three_source_system_from_a_blank_sheet(qtbot, window, catalogue):
    shown(qtbot, window)
    hand = Counting(window)
    port, on = hand.port, hand.on
    for _ in range(2):
        hand.key(Qt.Key.Key_Minus, CTRL)

    # what stands where: each turns its flow to the store by itself
    store = hand.add("store 450, solar coil 1.2m2 7l, hot water coil 2.5m2 10l", (4.0, 0.2))
    stove = hand.add("stove 10kWh 1.25h", (0.9, 0.12))
    leak = hand.add("leak", (-0.3, 3.0))
    cistern = hand.add("feed", (1.8, 5.5))
    hand.switch("hot_rated")
    boiler = hand.add("oil", (9.0, 0.0))
    hand.key(Qt.Key.Key_J)  # piped to the store: its flow and return to stubs of their own
    radiator = hand.add("radiator 1", (7.2, 2.8))
    hand.key(Qt.Key.Key_J)
    panel = hand.add("collector", (7.2, 5.9))
    hand.key(Qt.Key.Key_J)  # to the coil for the sun
    thermostat = hand.add("room", (8.8, 3.6))
    main = hand.add("mains", (8.2, -0.6))
    mixer = hand.add("mixing 44", (5.6, 2.3))
    sink = hand.add("sink", (6.8, 2.6))
    solar, hot_water = window.document.sheet.parts[store].coils

    # pipes: what water moves in by itself is laid to rise; a pipe that ends on a pipe makes a tee, on a shell a stub
    hand.key(Qt.Key.Key_P)
    hand.key(Qt.Key.Key_G)
    hand.pipes(
        (port(stove, "flow"), port(store, "A")),
        (port(stove, "return"), port(store, "B")),
    )
    hand.pipes((port(cistern, "vent"), on(stove, "flow", False, 0.6)))
    hand.pipes(
        (port(leak, "flow"), (on(cistern, "vent", False)[0], port(leak, "flow")[1])),
        (port(leak, "return"), on(store, "B", True, 0.6)),
    )
    hand.pipes(
        (port(cistern, "feed"), hand.below(cistern, "feed", stove, "return")),
        (port(store, "E"), port(cistern, "vent_2")),
    )
    hand.key(Qt.Key.Key_G)
    hand.pipes(
        (port(main, "a"), port(store, hot_water.lower)),
        (port(store, hot_water.upper), port(mixer, "hot")),
        (port(mixer, "mixed"), port(sink, "hot")),
    )

    # fittings into the pipes, on a branch of them, and on ports
    hand.add("stop, reducing, tee, check, potable", on(main, "a", True, 0.45))
    branch = next(
        End(part.id, name)
        for part in window.document.sheet.parts.values()
        for name in ("left", "right", "branch")
        if part.kind == "tee" and End(part.id, name) not in window.document.sheet.taken
    )
    hand.key(Qt.Key.Key_P)
    hand.pipes((port(branch.part, branch.port), port(mixer, "cold")))
    hand.add("check", on(mixer, "cold", False))
    hand.add("bath", on(sink, "hot", True, 0.4))
    hand.add("stop, mains", port(cistern, "float_in"))
    hand.add("discharge", port(cistern, "overflow"))
    for low in (port(store, "F"), on(stove, "return", True, 0.4), on(store, solar.lower, True, 0.7)):
        hand.add("drain", low)
    boiler_pump = hand.add("pump 3m 2m3/h", on(boiler, "return", True))
    room_pump = hand.add("pump 3m 2m3/h, anti-gravity", on(radiator, "flow", True, 0.35))
    solar_pump = hand.add("solar pump 6m 2.5m3/h, relief, discharge, solar vessel 35", on(panel, "return", False))
    # the whole gravity circuit is lagged: a click on one of its pipes, and another on it chosen
    for _ in range(2):
        hand.click(on(store, "A", True, 0.8))
    hand.say("insulation_mm", "25")
    hand.click(hand.middle(radiator))
    hand.key(Qt.Key.Key_D, CTRL | SHIFT)  # and a second radiator, piped alike

    # the sun's pump runs on the difference and stops when the store is hot; the boiler and its pump run while the store
    # is cold, the pump of the radiators while the room is
    cold, warm = (4.05, 0.5), (4.05, 1.15)
    hand.key(Qt.Key.Key_L)
    hand.click((7.2, 6.4))
    hand.click(cold, SHIFT)
    for spot in (
        *(hand.middle(solar_pump), cold, hand.middle(solar_pump)),
        *(warm, (9.0, 0.4), hand.middle(boiler_pump)),
        *(hand.middle(thermostat), hand.middle(room_pump)),
    ):
        hand.click(spot)

    qtbot.waitUntil(lambda: not window.surveyor.busy, timeout=5000)
    sheet = window.document.sheet
    kinds = [part.kind for part in sheet.parts.values()]
    assert {"boiler_stove", "boiler_oil", "solar_collector"} <= set(kinds), "three sources"
    assert {"heat_store", "heat_leak_radiator", "feed_expansion_cistern", "mixing_valve", "bath", "sink"} <= set(kinds)
    assert {"pressure_reducing_valve", "expansion_vessel_potable", "relief_valve"} <= set(kinds)
    assert kinds.count("radiator") == 2 and kinds.count("pump") == 2 and kinds.count("mains_supply") == 2
    assert all(sheet.pipes_of(p.id) for p in sheet.parts.values() if p.id != thermostat), "all of it is piped up"
    assert {(link.target, link.does) for link in sheet.links.values()} == {
        (solar_pump, "difference"),
        (solar_pump, "stops_above"),
        (boiler, "runs_below"),
        (boiler_pump, "runs_below"),
        (room_pump, "runs_below"),
    }
    survey = window.survey
    assert survey is not None and survey.services, "the survey was made"
    assert not window.findings.model.findings, [f"{f.rule}: {f.message}" for f in window.findings.model.findings]
    whole = surveyed(sheet, catalogue, computed=True)
    assert not whole.findings, "nor do the rules that solve the flow"
    silent = {a.rule for a in whole.answers if a.outcome is Outcome.NOT_ASSESSED}
    assert not silent, "every figure that a rule asks for was typed"
    for water in ("flow", "return", "vent", "feed", "solar_flow", "cold", "hot"):
        assert water in survey.services.values(), f"no pipe carries {water}"
    assert 100 < hand.actions < MOST_ACTIONS, hand.actions
