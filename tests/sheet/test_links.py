"""Control links in plain words, and what a new link most likely does."""

from __future__ import annotations

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.sheet import edits
from loopwright.sheet.links import can_drive, can_sense, driven_places, likely, sensing_places, sentence
from loopwright.sheet.values import ControlLink

CATALOGUE = standard_catalogue()


@pytest.fixture
def sheet():
    s = draw.sheet("Links")
    s.store("store", x_m=4, height_m=0, volume_l=200, tappings={"low": {"height_m": 0.3, "purpose": "sensor"}})
    s.add("solar_collector", "collector", x_m=7, height_m=4, name="Collector")
    s.add("pump", "P1", x_m=6, height_m=2)
    s.add("boiler_oil", "boiler", x_m=9, height_m=0)
    s.add("room_thermostat", "TR1", x_m=2, height_m=2, name="Hall stat")
    s.add("high_limit_thermostat", "HL", x_m=3, height_m=2)
    s.add("programmer", "TC1", x_m=3, height_m=3)
    s.add("radiator", "r", x_m=9, height_m=3)
    return s.done()


def test_what_feels_and_what_is_driven(sheet):
    assert sensing_places(sheet, CATALOGUE) == ["store/A", "collector", "boiler", "TR1", "HL", "TC1"]
    assert driven_places(sheet, CATALOGUE) == ["collector", "P1", "boiler"]
    assert not can_sense(sheet.parts["r"], CATALOGUE["radiator"]) and not can_drive(CATALOGUE["radiator"])


@pytest.mark.parametrize(
    ("sensor", "target", "second", "words"),
    [
        ("collector", "P1", "store/A",
         "Pump runs while Collector is 6 K above heat store at 0.30 m (A, low), and stops at 3 K."),
        ("TR1", "P1", "", "Pump runs while Hall stat is below 20 °C."),
        ("HL", "boiler", "",
         "Boiler, oil stops when high-limit thermostat is above 85 °C, and waits to be reset by hand."),
        ("TC1", "P1", "", "Pump runs by the clock of programmer."),
        ("store/A", "boiler", "", "Boiler, oil runs while heat store at 0.30 m (A, low) is below 60 °C."),
    ],
)  # fmt: skip
def test_a_new_link_does_what_is_likely_and_says_so(sheet, sensor, target, second, words):
    link = likely(sheet, "L1", sensor, target, second, CATALOGUE)
    assert sentence(edits.put_link(sheet, link), link, CATALOGUE) == words


def test_a_vessels_sensor_stops_what_something_else_starts(sheet):
    started = edits.put_link(sheet, likely(sheet, "L1", "collector", "P1", "store/A", CATALOGUE))
    assert likely(started, "L2", "store/A", "P1", "", CATALOGUE).does == "stops_above"


def test_a_link_without_figures_still_has_a_sentence(sheet):
    link = ControlLink(id="L1", sensor="TR1", target="P1", does="difference")
    assert sentence(sheet, link, CATALOGUE) == "Pump runs while Hall stat is its setting above a second sensor."
