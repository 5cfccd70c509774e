"""Control links in plain words, and what a new link most likely does."""

from __future__ import annotations

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.sheet import edits
from loopwright.sheet.link_words import condition_of, with_condition
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


@pytest.mark.parametrize(
    ("text", "does", "setting", "off"),
    [
        ("runs below 60 °C", "runs_below", 60.0, None),
        ("below 55 until 65", "runs_below", 55.0, 65.0),
        ("Opens over 70", "opens_above", 70.0, None),
        ("stops when above 185 °F", "stops_above", 85.0, None),  # 185 degF is 85 degC, by definition of the scales
        ("closes above 90c", "shuts_above", 90.0, None),
        ("runs 8 K above and stops at 4 K", "difference", 8.0, 4.0),
        ("runs 18 °F difference", "difference", 10.0, 3.0),  # a difference of 9 degF is one of 5 K
        ("by the clock", "schedule", None, None),
        ("runs below -5", "runs_below", -5.0, None),
    ],
)
def test_a_condition_is_read_from_plain_words_and_written_so(text, does, setting, off):
    link = ControlLink(id="l", sensor="store/C", target="P1", does="runs_above", setting_c=50.0)
    new = with_condition(link, text)
    assert (new.does, new.off_c) == (does, off) and new.setting_c == pytest.approx(setting)
    assert (new.sensor, new.target) == (link.sensor, link.target)
    for system in ("metric", "imperial"):
        again = with_condition(new, condition_of(new, system), system)
        assert again.does == does
        assert (again.setting_c, again.off_c) == pytest.approx((setting, off), abs=0.01)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "when I like",
        "runs",
        "runs above",
        "opens below 40",
        "above 20 below 60",
        "1 2 3",
        "above 5000",
        "runs " * 99,
    ],
)
def test_what_is_no_condition_is_refused_with_the_forms(text):
    link = ControlLink(id="l", sensor="store/C", target="P1", does="runs_above", setting_c=50.0)
    with pytest.raises(SheetError, match="runs below 60"):
        with_condition(link, text)
