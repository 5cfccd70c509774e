"""Tapping rules: a sheet that breaks each, and one that does not.

What is right is the order of heights published for stores (hot water enters at the layer of its own temperature); the
sheets are small ones made for each rule. Heights are metres above the base of a body 1.8 m high.
"""

from __future__ import annotations

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
    solar_on,
    sound,
    standing,
    stove_on,
)

from loopwright import draw

PAIR = {"top": 1.6, "bottom": 0.1}
FOUR = {"top": 1.6, "bottom": 0.1, "supply": 1.35, "back": 0.5}


def coil(name: str, low: float, high: float) -> dict:
    return {"name": name, "bottom_m": low, "top_m": high, "lower": f"{name} low", "upper": f"{name} high"}


def coil_taps(*coils: dict) -> dict:
    return {
        c[end]: {"height_m": c[m], "purpose": "coil", "side": "right"}
        for c in coils
        for end, m in (("lower", "bottom_m"), ("upper", "top_m"))
    }


def with_coils(*coils: dict, taps: dict | None = None) -> tuple[draw.Drawing, draw.PartRef]:
    return house(taps={**(taps or {}), **coil_taps(*coils)}, coils=coils)


def test_flow_enters_above_return():
    s, store = house(taps=PAIR)
    stove_on(s, store, "top", "bottom")
    assert sound(s, "tapping/flow-below-return")


def test_flow_below_return_is_a_danger_where_the_store_is_all_a_stove_has():
    s, store = house(taps=PAIR)
    stove_on(s, store, "bottom", "top")
    assert found(s, "tapping/flow-below-return") == [(DANGER, "stove")]


def test_flow_below_return_of_a_boiler_is_a_fault_and_level_counts():
    s, store = house(taps=PAIR)
    boiler_on(s, store, "bottom", "top")
    assert found(s, "tapping/flow-below-return") == [(FAULT, "boiler")]
    s, store = house(taps={"one": 0.9, "two": {"height_m": 0.9, "side": "right"}})
    boiler_on(s, store, "one", "two")
    assert found(s, "tapping/flow-below-return") == [(FAULT, "boiler")]


def test_a_layering_inlet_may_enter_at_any_height():
    s, store = house(taps={"low": {"height_m": 0.3, "layering": True}, "back": 0.5})
    boiler_on(s, store, "low", "back")
    assert found(s, "tapping/flow-below-return") == []


@pytest.mark.parametrize(
    ("top", "bottom", "severities"),
    [
        ("source_return", "source_flow", [FAULT]),
        ("source_flow", "source_return", []),
        ("load_flow", "source_return", [ADVICE]),
    ],
)
def test_purposes_of_tappings_are_compared_with_what_is_on_them(top, bottom, severities):
    s, store = house(taps={"top": {"height_m": 1.6, "purpose": top}, "bottom": {"height_m": 0.1, "purpose": bottom}})
    stove_on(s, store, "top", "bottom")
    assert [severity for severity, _ in found(s, "tapping/swapped")] == severities


def test_purposes_not_said_are_not_assessed():
    s, store = house(taps=PAIR)
    stove_on(s, store, "top", "bottom")
    assert missing(s, "tapping/swapped") == ["purpose"]


@pytest.mark.parametrize(("stove", "pump", "wanted"), [("high", "middle", []), ("middle", "high", [(FAULT, "stove")])])
def test_the_hotter_source_enters_higher(stove, pump, wanted):
    s, store = house(taps={"high": 1.6, "middle": 0.9, "low": 0.1, "lower": {"height_m": 0.1, "side": "right"}})
    stove_on(s, store, stove, "low", t_flow_c=75)
    boiler_on(s, store, pump, "lower", "heat_pump", t_flow_c=45)
    assert found(s, "tapping/hotter-below-cooler") == wanted


SOLAR, OIL = coil("solar", 0.05, 0.6), coil("oil", 0.9, 1.5)


def test_solar_coil_lowest_and_boiler_above_it():
    s, store = with_coils(SOLAR, OIL)
    solar_on(s, store, "solar high", "solar low")
    boiler_on(s, store, "oil high", "oil low")
    assert sound(s, "tapping/solar-not-lowest")
    assert sound(s, "tapping/steals-from-solar")


def test_coils_exchanged_is_one_finding():
    s, store = with_coils(SOLAR, OIL)
    solar_on(s, store, "oil high", "oil low")
    boiler_on(s, store, "solar high", "solar low")
    assert found(s, "tapping/solar-not-lowest") == [(FAULT, "collector")]
    assert "tapping/solar-not-lowest" in standing(s)
    assert "tapping/steals-from-solar" not in standing(s)


def test_a_solar_coil_that_ends_high_is_advice():
    s, store = with_coils(coil("solar", 0.05, 1.0))
    solar_on(s, store, "solar high", "solar low")
    assert found(s, "tapping/solar-not-lowest") == [(ADVICE, "collector")]


def test_a_boiler_that_returns_beside_the_solar_coil_steals_but_a_stove_may():
    s, store = with_coils(SOLAR, taps=PAIR)
    solar_on(s, store, "solar high", "solar low")
    boiler_on(s, store, "top", "bottom")
    assert found(s, "tapping/steals-from-solar") == [(FAULT, "boiler")]
    s, store = with_coils(SOLAR, taps=PAIR)
    solar_on(s, store, "solar high", "solar low")
    stove_on(s, store, "top", "bottom")
    assert found(s, "tapping/steals-from-solar") == []


@pytest.mark.parametrize(
    ("height", "use", "wanted"),
    [
        (0.3, "boost_only", [(ADVICE, "immersion")]),
        (0.3, "whole_store", []),
        (1.2, "boost_only", []),
    ],
)
def test_a_boost_immersion_stands_above_the_solar_part(height, use, wanted):
    s, store = with_coils(SOLAR, taps={"boss": {"height_m": height, "purpose": "immersion"}})
    solar_on(s, store, "solar high", "solar low")
    heater = s.add("immersion_heater", "immersion", x_m=2, height_m=2, immersion_use=use)
    s.joint(store["boss"], heater["boss"])
    assert found(s, "tapping/steals-from-solar") == wanted


def test_loads_draw_from_the_heated_part():
    s, store = with_coils(OIL, taps={"supply": 1.35, "back": 0.5})
    boiler_on(s, store, "oil high", "oil low")
    radiators_on(s, store, "supply", "back")
    assert sound(s, "tapping/load-draws-cold")
    s, store = with_coils(OIL, taps={"supply": 0.6, "back": 0.2})
    boiler_on(s, store, "oil high", "oil low")
    radiators_on(s, store, "supply", "back")
    assert found(s, "tapping/load-draws-cold") == [(FAULT, "R1")]


def test_a_low_draw_on_a_store_with_fire_alone_is_advice():
    s, store = house(taps={**PAIR, "supply": 0.4, "back": 0.2})
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back")
    assert found(s, "tapping/load-draws-cold") == [(ADVICE, "R1")]


def test_a_load_comes_back_below_its_supply():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back")
    assert sound(s, "tapping/return-mixes-hot")
    s, store = house(taps={**FOUR, "supply": 0.2})
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back")
    assert found(s, "tapping/return-mixes-hot") == [(FAULT, "R1")]
    assert "tapping/load-draws-cold" not in standing(s)


def test_a_pump_turned_round_is_not_taken_for_exchanged_tappings():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back", backwards=True)
    assert found(s, "tapping/return-mixes-hot") == []
    assert found(s, "circuit/pump-backwards") == [(FAULT, "R1_pump")]


def test_a_cool_return_stays_below_a_hotter_loads_supply():
    s, store = house(
        taps={
            **FOUR,
            "floor supply": {"height_m": 1.75, "side": "right"},
            "floor back": {"height_m": 1.5, "side": "right"},
        }
    )
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back")
    radiators_on(s, store, "floor supply", "floor back", kind="underfloor_manifold", id="floor")
    assert found(s, "tapping/return-mixes-hot") == [(FAULT, "floor")]


def test_a_heat_pump_wants_no_hot_return():
    s, store = house(taps={"high": 1.6, "middle": 0.9, "low": 0.1, "mid": {"height_m": 0.95, "side": "right"}})
    boiler_on(s, store, "high", "mid", "heat_pump", id="heat_pump", max_return_c=55)
    boiler_on(s, store, "middle", "low", t_flow_c=70, x_m=-4)
    assert found(s, "tapping/return-mixes-hot") == [(ADVICE, "heat_pump")]


@pytest.mark.parametrize(("height", "wanted"), [(0.1, []), (0.9, [(ADVICE, "stove")])])
def test_a_fires_return_leaves_low(height, wanted):
    s, store = house(taps={"top": 1.6, "bottom": height})
    stove_on(s, store, "top", "bottom")
    assert found(s, "tapping/fire-return-too-high") == wanted


def test_a_part_kept_cold_on_purpose_answers_a_high_return():
    s, store = house(taps={"top": 1.6, "bottom": 0.9}, keep_cold_zone=True)
    stove_on(s, store, "top", "bottom")
    assert sound(s, "tapping/fire-return-too-high")


def test_a_heating_coil_takes_its_flow_above():
    s, store = with_coils(OIL)
    boiler_on(s, store, "oil high", "oil low")
    assert sound(s, "tapping/coil-upside-down")
    s, store = with_coils(OIL)
    boiler_on(s, store, "oil low", "oil high")
    assert found(s, "tapping/coil-upside-down") == [(FAULT, "store")]


def test_a_stoves_only_coil_upside_down_is_a_danger():
    s, store = with_coils(OIL)
    stove_on(s, store, "oil low", "oil high")
    assert found(s, "tapping/coil-upside-down") == [(DANGER, "store")]


@pytest.mark.parametrize(
    ("cold", "hot", "wanted"), [("tap low", "tap high", []), ("tap high", "tap low", [(FAULT, "store")])]
)
def test_the_main_enters_a_coil_below(cold, hot, wanted):
    s, store = with_coils(coil("tap", 0.3, 1.6))
    mains, basin = s.add("mains_supply", "mains", x_m=0, height_m=0), s.add("basin", "basin", x_m=8, height_m=1)
    valve = s.add("mixing_valve", "mix", x_m=6, height_m=1.7)
    tee = s.add("tee", "T", x_m=1, height_m=0)
    line(s, mains["a"], (tee, "left", "right"), store[cold])
    line(s, store[hot], (valve, "hot", "mixed"), basin["hot"])
    line(s, tee["branch"], valve["cold"])
    assert found(s, "tapping/coil-upside-down") == wanted


def vented(vent_at: dict, **more: float) -> draw.Drawing:
    s, store = house(taps={**PAIR, "vent": vent_at, **more})
    stove_on(s, store, "top", "bottom")
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=4, height_m=5)
    line(s, store["vent"], cistern["vent"])
    return s


def test_a_store_vents_from_its_top():
    assert sound(vented({"height_m": 1.8, "side": "top"}), "tapping/vent-not-top")
    assert found(vented({"height_m": 1.3}), "tapping/vent-not-top") == [(DANGER, "store")]


def test_a_pocket_above_the_vent_is_a_fault_where_it_is_above_the_stoves_flow():
    s, store = house(taps={"top": 1.2, "bottom": 0.1, "vent": 1.4, "spare": 1.75})
    stove_on(s, store, "top", "bottom")
    s.cap(store["spare"])
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=4, height_m=5)
    line(s, store["vent"], cistern["vent"])
    assert found(s, "tapping/vent-not-top") == [(FAULT, "store")]


def test_a_cold_feed_above_half_height_is_advice():
    s, store = house(taps={**PAIR, "feed": 1.2})
    stove_on(s, store, "top", "bottom")
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=4, height_m=5)
    line(s, cistern["feed"], store["feed"])
    assert found(s, "tapping/vent-not-top") == [(ADVICE, "store")]


@pytest.mark.parametrize(("height", "wanted"), [(0.3, []), (1.0, [(FAULT, "collector")])])
def test_a_solar_sensor_sits_beside_the_solar_coil(height, wanted):
    s, store = with_coils(SOLAR, taps={"pocket": {"height_m": height, "purpose": "sensor"}})
    solar_on(s, store, "solar high", "solar low")
    s.link(store.pocket("pocket"), "solar_pump", "difference")
    assert found(s, "tapping/sensor-in-wrong-zone") == wanted


def test_a_loads_sensor_sits_near_its_supply_or_higher():
    for height, wanted in ((1.5, []), (0.6, [(FAULT, "R1")])):
        s, store = house(taps={**FOUR, "pocket": {"height_m": height, "purpose": "sensor"}})
        stove_on(s, store, "top", "bottom")
        radiators_on(s, store, "supply", "back")
        s.link(store.pocket("pocket"), "R1_pump", "runs_above")
        assert found(s, "tapping/sensor-in-wrong-zone") == wanted


def test_without_links_sensors_are_not_judged():
    s, store = house(taps=PAIR)
    stove_on(s, store, "top", "bottom")
    assert not sound(s, "tapping/sensor-in-wrong-zone") and found(s, "tapping/sensor-in-wrong-zone") == []
