"""Rules of underfloor heating: a sheet that breaks each, and one that does not.

55 degC at most to a floor in screed, and a limit that stops the pump: EN 1264.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import DANGER, FAULT, boiler_on, found, house, line, missing, said, sound, stove_on

from loopwright import draw

MIX, LIMIT = "underfloor/no-mixing", "underfloor/no-high-limit"
TAPS = {
    "top": 1.6,
    "bottom": 0.1,
    "supply": {"height_m": 1.0, "side": "right"},
    "back": {"height_m": 0.2, "side": "right"},
    "eye": {"height_m": 1.2, "side": "right", "purpose": "sensor"},
}


def floor(source: str = "boiler", *, mixer: bool = False, setting: float | None = 45.0, **props: Any) -> draw.Drawing:
    """A store heated by one source, and a pumped floor on it, with a mixing valve if asked for."""
    s, store = house(taps=TAPS)
    if source == "stove":
        stove_on(s, store, "top", "bottom")
    elif source == "heat pump":
        boiler_on(s, store, "top", "bottom", kind="heat_pump", t_flow_c=45.0)
    else:
        boiler_on(s, store, "top", "bottom")
    manifold = s.add("underfloor_manifold", "floor", x_m=9, height_m=0, **props)
    pump = s.add("pump", "P", x_m=8, height_m=0.6)
    if mixer:
        valve = s.add("mixing_valve", "MX", x_m=6, height_m=1.1, setting_c=setting)
        tee = s.add("tee", "T", x_m=6, height_m=0.3)
        line(s, store["supply"], (valve, "hot", "mixed"), pump, manifold["flow"])
        line(s, manifold["return"], (tee, "right", "left"), store["back"])
        line(s, tee["branch"], valve["cold"])
    else:
        line(s, store["supply"], pump, manifold["flow"])
        line(s, manifold["return"], store["back"])
    return s


def test_a_boilers_store_straight_to_a_floor():
    assert found(floor(mixing_built_in=False), MIX) == [(FAULT, "floor")]
    assert sound(floor(mixer=True), MIX)
    assert sound(floor(mixing_built_in=True), MIX)


def test_a_fires_store_straight_to_a_floor_without_a_limit():
    assert found(floor("stove", mixing_built_in=False, high_limit_built_in=False), MIX) == [(DANGER, "floor")]
    assert found(floor("stove", mixing_built_in=False, high_limit_built_in=True), MIX) == [(FAULT, "floor")]
    assert found(floor("stove", mixing_built_in=False), MIX) == [(FAULT, "floor")]  # unanswered: never a danger


def test_a_cool_heat_pump_needs_no_mixing():
    assert sound(floor("heat pump", mixing_built_in=False), MIX)
    assert said(floor("heat pump", mixing_built_in=False), LIMIT) == []


def test_mixing_nobody_spoke_of_is_asked_for():
    assert missing(floor(), MIX) == ["mixing_built_in"]
    assert missing(floor(mixer=True), LIMIT) == ["high_limit_built_in"]


def test_a_valve_set_too_hot_mixes_nothing():
    assert found(floor(mixer=True, setting=65.0, mixing_built_in=False), MIX) == [(FAULT, "floor")]


@pytest.mark.parametrize(
    ("sensor", "does", "at", "wanted"),
    [
        ("pipe_thermostat", "stops_above", 50.0, []),
        ("pipe_thermostat", "stops_above", 70.0, [(FAULT, "floor")]),
        ("room_thermostat", "runs_below", 20.0, [(FAULT, "floor")]),
    ],
)
def test_something_stops_the_floors_pump_when_the_mixing_fails(sensor, does, at, wanted):
    s = floor(mixer=True, high_limit_built_in=False)
    s.link(s.add(sensor, "TS", x_m=9, height_m=2), "P", does, setting_c=at)
    assert found(s, LIMIT) == wanted


def test_a_built_in_limit_is_enough():
    assert sound(floor(mixing_built_in=True, high_limit_built_in=True), LIMIT)
