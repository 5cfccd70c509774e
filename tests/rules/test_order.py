"""Rules of order and sides: a sheet that breaks each, and one that does not. Decided by what joins what."""

from __future__ import annotations

import pytest
from circuit_sheets import ADVICE, DANGER, FAULT, found, house, line, sound

from loopwright import draw

TAP = {"name": "tap", "bottom_m": 0.3, "top_m": 1.6, "lower": "low", "upper": "high"}
TAP_TAPS = {"low": {"height_m": 0.3, "purpose": "coil"}, "high": {"height_m": 1.6, "purpose": "coil"}}


def tap_water(hot: str = "hot", cold: str = "cold", mixed: str = "mixed") -> draw.Drawing:
    """A main through a store's coil and a mixing valve to a bath, ports as named."""
    s, store = house(taps=TAP_TAPS, coils=(TAP,))
    mains, bath = s.add("mains_supply", "mains", x_m=0, height_m=0), s.add("bath", "bath", x_m=8, height_m=1)
    tee, valve = s.add("tee", "T", x_m=1, height_m=0), s.add("mixing_valve", "mix", x_m=6, height_m=1.7)
    line(s, mains["a"], (tee, "left", "right"), store["low"])
    line(s, store["high"], valve[hot])
    line(s, tee["branch"], valve[cold])
    line(s, valve[mixed], bath["hot"])
    return s


def test_hot_on_the_hot_inlet():
    assert sound(tap_water(), "order/mixing-valve-inlets")


def test_inlets_exchanged_is_a_danger_where_taps_are_served():
    assert found(tap_water(hot="cold", cold="hot"), "order/mixing-valve-inlets") == [(DANGER, "mix")]


def test_a_supply_on_the_mixed_side():
    assert found(tap_water(cold="mixed", mixed="cold"), "order/mixing-valve-inlets") == [(FAULT, "mix")]


def test_a_preheating_store_may_feed_the_cold_inlet():
    s, store = house(taps=TAP_TAPS, coils=(TAP,))
    other = s.store("solar", x_m=1, height_m=0.1, volume_l=200, body_height_m=1.8, tappings=TAP_TAPS, coils=(TAP,))
    mains, bath = s.add("mains_supply", "mains", x_m=-2, height_m=0), s.add("bath", "bath", x_m=8, height_m=1)
    tee, valve = s.add("tee", "T", x_m=2.5, height_m=0), s.add("mixing_valve", "mix", x_m=6, height_m=1.7)
    line(s, mains["a"], other["low"])
    line(s, other["high"], (tee, "left", "right"), store["low"])
    line(s, store["high"], (valve, "hot", "mixed"), bath["hot"])
    line(s, tee["branch"], valve["cold"])
    assert found(s, "order/mixing-valve-inlets") == []


@pytest.mark.parametrize(("hot", "cold", "wanted"), [("hot", "cold", []), ("cold", "hot", [(FAULT, "mix")])])
def test_a_floors_mixing_valve(hot, cold, wanted):
    s, store = house(taps={"supply": 1.0, "back": 0.1})
    floor, pump = s.add("underfloor_manifold", "floor", x_m=9, height_m=0), s.add("pump", "P", x_m=8, height_m=1)
    mix, tee = s.add("mixing_valve", "mix", x_m=7, height_m=1), s.add("tee", "T", x_m=7, height_m=0.3)
    line(s, store["supply"], mix[hot])
    line(s, mix["mixed"], pump, floor["flow"])
    line(s, floor["return"], (tee, "right", "left"), store["back"])
    line(s, tee["branch"], mix[cold])
    assert found(s, "order/mixing-valve-inlets") == wanted


@pytest.mark.parametrize(("hot", "cold", "wanted"), [("hot", "cold", []), ("cold", "hot", [(FAULT, "valve")])])
def test_a_return_valve_takes_the_boilers_flow_as_hot(hot, cold, wanted):
    s, store = house(taps={"top": 1.6, "bottom": 0.1})
    boiler, pump = s.add("log_boiler", "logs", x_m=0, height_m=0), s.add("pump", "P", x_m=1, height_m=0.2, turn=2)
    valve, tee = s.add("return_temperature_valve", "valve", x_m=2, height_m=0.2), s.add("tee", "T", x_m=2, height_m=1.2)
    line(s, boiler["flow"], (tee, "left", "right"), store["top"])
    line(s, tee["branch"], valve[hot])
    line(s, store["bottom"], valve[cold])
    line(s, valve["mixed"], pump, boiler["return"])
    assert found(s, "order/mixing-valve-inlets") == wanted


def unit(boiler_return: str = "boiler_return", store_return: str = "store_return") -> draw.Drawing:
    s, store = house(taps={"top": 1.6, "bottom": 0.1})
    boiler = s.add("log_boiler", "logs", x_m=0, height_m=0)
    loading = s.add("loading_unit_4", "unit", x_m=2, height_m=0.5)
    line(s, boiler["flow"], (loading, "boiler_flow", "store_flow"), store["top"])
    line(s, store["bottom"], loading[store_return])
    line(s, loading[boiler_return], boiler["return"])
    return s


def test_a_loading_unit_meets_its_own_on_every_side():
    assert sound(unit(), "order/loading-unit-sides")


def test_a_loading_unit_with_its_returns_exchanged():
    exchanged = unit(boiler_return="store_return", store_return="boiler_return")
    assert found(exchanged, "order/loading-unit-sides") == [(FAULT, "unit")]


def test_a_three_port_unit_teed_to_the_flow():
    s, store = house(taps={"top": 1.6, "bottom": 0.1})
    boiler, tee = s.add("log_boiler", "logs", x_m=0, height_m=0), s.add("tee", "T", x_m=2, height_m=1.2)
    loading = s.add("loading_unit_3", "unit", x_m=2, height_m=0.5)
    line(s, boiler["flow"], (tee, "left", "right"), store["top"])
    line(s, tee["branch"], loading["bypass"])
    line(s, store["bottom"], (loading, "store_return", "boiler_return"), boiler["return"])
    assert sound(s, "order/loading-unit-sides")


def vented_boiler(order: str, gap: float = 0.05) -> draw.Drawing:
    """A vented oil boiler with a radiator; along the flow stand v (vent), f (feed) and p (pump), `gap` m apart."""
    s = draw.sheet("Vented")
    boiler, radiator = s.add("boiler_oil", "boiler", x_m=0, height_m=0), s.add("radiator", "R1", x_m=6, height_m=0)
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=2, height_m=5)
    stops: list = [boiler["flow"]]
    x = 1.0
    for letter in order:
        if letter == "p":
            stops.append(s.add("pump", "P", x_m=x + 0.5, height_m=2))
            x += 1.0
        else:
            tee = s.add("tee", letter, x_m=x, height_m=2)
            stops.append((tee, "left", "right"))
            line(s, tee["branch"], cistern["vent" if letter == "v" else "feed"])
            x += 0.08 + gap
    line(s, *stops, radiator["flow"])
    line(s, radiator["return"], boiler["return"])
    return s


def test_vent_feed_pump_in_that_order():
    assert sound(vented_boiler("vfp"), "order/vent-feed-pump")


def test_a_pump_between_vent_and_feed_is_a_fault():
    assert found(vented_boiler("vpf"), "order/vent-feed-pump") == [(FAULT, "boiler")]


def test_joints_more_than_150_mm_apart_are_a_fault():
    assert found(vented_boiler("vfp", gap=0.5), "order/vent-feed-pump") == [(FAULT, "boiler")]


def test_order_alone_is_advice():
    assert found(vented_boiler("fvp"), "order/vent-feed-pump") == [(ADVICE, "boiler")]


def test_vent_on_the_flow_and_feed_on_the_return_with_the_pump_on_the_load_is_sound():
    s = draw.sheet("Gravity vent")
    boiler, radiator = s.add("boiler_oil", "boiler", x_m=0, height_m=0), s.add("radiator", "R1", x_m=6, height_m=0)
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=2, height_m=5)
    vent, feed = s.add("tee", "v", x_m=1, height_m=2), s.add("tee", "f", x_m=1, height_m=0.2)
    pump = s.add("pump", "P", x_m=3, height_m=2)
    line(s, boiler["flow"], (vent, "left", "right"), pump, radiator["flow"])
    line(s, radiator["return"], (feed, "right", "left"), boiler["return"])
    line(s, vent["branch"], cistern["vent"])
    line(s, feed["branch"], cistern["feed"])
    assert sound(s, "order/vent-feed-pump")
