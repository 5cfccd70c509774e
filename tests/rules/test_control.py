"""Rules of control: a sheet that breaks each, and one that does not.

Interlock of a boiler: Approved Document L and the controls schemes. A cut-out reset by hand on every immersion heater:
EN 60335-2-73 clause 22. 90 degC limit on a store: parts page; case study. Differences of a solar pump: common practice,
no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import (
    ADVICE,
    DANGER,
    FAULT,
    boiler_on,
    found,
    house,
    line,
    missing,
    radiators_on,
    said,
    solar_on,
    sound,
    standing,
    stove_on,
)

from loopwright import draw

TAPS = {
    "top": 1.6,
    "bottom": 0.1,
    "supply": {"height_m": 1.5, "side": "right"},
    "back": {"height_m": 0.3, "side": "right"},
    "up": 0.8,
    "down": 0.05,
    "boss": {"height_m": 1.0, "side": "right"},
    "eye": {"height_m": 1.2, "side": "right", "purpose": "sensor"},
    "low eye": {"height_m": 0.45, "side": "right", "purpose": "sensor"},
}
SUN = ({"name": "sun", "bottom_m": 0.05, "top_m": 0.8, "lower": "down", "upper": "up"},)


def boiler(**props: Any) -> tuple[draw.Drawing, draw.PartRef]:
    s, store = house(taps=TAPS, coils=SUN, design_temp_c=80)
    boiler_on(s, store, "top", "bottom", **{"limit_c": 95.0, **props})
    return s, store


def collector() -> tuple[draw.Drawing, draw.PartRef]:
    s, store = house(taps=TAPS, coils=SUN, design_temp_c=80)
    solar_on(s, store, "up", "down")
    return s, store


@pytest.mark.parametrize(
    "slug", ["control/pump-uncontrolled", "control/boiler-no-interlock", "control/store-no-high-limit"]
)
def test_controls_that_are_not_drawn_are_not_guessed(slug):
    s, _ = boiler()
    assert not sound(s, slug) and not found(s, slug) and len(missing(s, slug)) == 1


def test_a_radiator_pump_wants_a_control():
    s, store = house(taps=TAPS)
    radiators_on(s, store, "supply", "back")
    s.link(
        s.add("programmer", "clock", x_m=9, height_m=5), s.add("motorised_2port", "MV", x_m=9, height_m=6), "schedule"
    )
    assert found(s, "control/pump-uncontrolled") == [(ADVICE, "R1_pump")]
    s.link(s.add("room_thermostat", "TR", x_m=9, height_m=4), "R1_pump", "runs_below", setting_c=20)
    assert sound(s, "control/pump-uncontrolled")


def test_a_stoves_pump_is_named_once():
    s, store = house(taps=TAPS)
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0)
    pump = s.add("pump", "P", x_m=2, height_m=0.2, turn=2)
    line(s, stove["flow"], store["top"])
    line(s, store["bottom"], pump, stove["return"])
    s.link(
        s.add("room_thermostat", "TR", x_m=9, height_m=4),
        s.add("motorised_2port", "MV", x_m=9, height_m=6),
        "runs_below",
    )
    assert found(s, "control/pump-uncontrolled") == [(ADVICE, "P")]
    assert "control/pump-uncontrolled" not in standing(s)


def test_a_solar_pump_follows_a_difference():
    s, store = collector()
    s.link(store.pocket("low eye"), "solar_pump", "runs_below", setting_c=60)
    assert found(s, "control/pump-uncontrolled") == [(FAULT, "solar_pump")]
    s.link("collector", "solar_pump", "difference", second=store.pocket("low eye"), setting_c=8.0, off_c=4.0)
    assert sound(s, "control/pump-uncontrolled")


@pytest.mark.parametrize(("on", "off"), [(2.0, 1.0), (6.0, 7.0)])
def test_a_solar_pump_that_hunts(on, off):
    s, store = collector()
    s.link("collector", "solar_pump", "difference", second=store.pocket("low eye"), setting_c=on, off_c=off)
    assert found(s, "control/pump-uncontrolled") == [(ADVICE, "solar_pump")]


def test_a_boiler_is_called_by_heat_wanted():
    slug = "control/boiler-no-interlock"
    s, store = boiler()
    clock = s.add("programmer", "clock", x_m=9, height_m=5)
    s.link(clock, "boiler", "schedule")
    assert found(s, slug) == [(FAULT, "boiler")]
    s.link(store.pocket("eye"), "boiler", "runs_below", setting_c=65)
    assert sound(s, slug)


def test_a_zone_valves_end_switch_carries_its_thermostats_call():
    s, _ = boiler()
    valve, stat = s.add("motorised_2port", "MV", x_m=9, height_m=6), s.add("room_thermostat", "TR", x_m=9, height_m=4)
    s.link(valve, "boiler", "runs_above")
    assert found(s, "control/boiler-no-interlock") == [(FAULT, "boiler")]
    s.link(stat, valve, "opens_above")
    assert sound(s, "control/boiler-no-interlock")


@pytest.mark.parametrize(("cut_out", "wanted"), [(False, [(DANGER, "IH")]), (True, []), (None, [])])
def test_an_immersion_heaters_cut_out(cut_out, wanted):
    s, store = house(taps=TAPS)
    heater = s.add("immersion_heater", "IH", x_m=6, height_m=1.1, cut_out_built_in=cut_out)
    line(s, heater["boss"], store["boss"])
    assert found(s, "control/immersion-no-cut-out") == wanted
    assert missing(s, "control/immersion-no-cut-out") == (["cut_out_built_in"] if cut_out is None else [])


def test_a_boiler_hotter_than_its_store_is_stopped_by_a_sensor():
    slug = "control/store-no-high-limit"
    s, store = boiler()
    s.link(s.add("room_thermostat", "TR", x_m=9, height_m=4), "boiler", "runs_below", setting_c=20)
    assert found(s, slug) == [(FAULT, "boiler")]
    s.link(store.pocket("eye"), "boiler_pump", "stops_above", setting_c=80)
    assert sound(s, slug)


def test_a_boiler_no_hotter_than_its_store_needs_no_limit_there():
    assert sound(boiler(limit_c=75.0)[0], "control/store-no-high-limit")


@pytest.mark.parametrize(("at", "wanted"), [(80, []), (88, [(ADVICE, "collector")]), (95, [(FAULT, "collector")])])
def test_the_sun_stops_in_time(at, wanted):
    s, store = collector()
    s.link(store.pocket("low eye"), "solar_pump", "stops_above", setting_c=at)
    assert found(s, "control/store-no-high-limit") == wanted


def test_a_stove_is_not_asked():
    s, store = house(taps=TAPS)
    stove_on(s, store, "top", "bottom")
    assert said(s, "control/store-no-high-limit") == []
