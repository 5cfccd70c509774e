"""Circuit rules: a sheet that breaks each, and one that does not. Decided by what joins what, without a figure."""

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


def test_every_port_joined_or_closed():
    s, store = house(taps=PAIR)
    stove_on(s, store, "top", "bottom")
    assert sound(s, "circuit/open-end")


def test_an_unused_tapping_wants_a_cap():
    s, store = house(taps={**PAIR, "spare": 1.0})
    stove_on(s, store, "top", "bottom")
    assert found(s, "circuit/open-end") == [(FAULT, "store")]
    s.cap(store["spare"])
    assert sound(s, "circuit/open-end")


def test_a_fires_open_port_is_a_danger():
    s = draw.sheet("Left open")
    s.add("boiler_stove", "stove", x_m=0, height_m=0)
    assert found(s, "circuit/open-end") == [(DANGER, "stove")]


def test_a_pipe_that_ends_in_the_air_is_an_open_end():
    s, store = house(taps=PAIR)
    end = s.add("open_end", "end", x_m=1, height_m=3)
    line(s, store["top"], end["a"])
    s.cap(store["bottom"])
    assert found(s, "circuit/open-end") == [(FAULT, "end")]


def straight(**boiler_props: float) -> tuple[draw.Drawing, draw.PartRef, draw.PartRef]:
    """A boiler with one radiator, no store."""
    s = draw.sheet("Straight")
    boiler = s.add("boiler_oil", "boiler", x_m=0, height_m=0, **boiler_props)
    radiator = s.add("radiator", "R1", x_m=5, height_m=0)
    return s, boiler, radiator


def test_a_flow_comes_back_to_its_return():
    s, boiler, radiator = straight()
    line(s, boiler["flow"], radiator["flow"])
    line(s, radiator["return"], boiler["return"])
    assert sound(s, "circuit/no-return")


def test_a_radiator_with_both_ends_on_the_flow_has_no_way_back():
    s, boiler, radiator = straight()
    tee = s.add("tee", "T", x_m=2, height_m=1)
    line(s, boiler["flow"], (tee, "left", "right"), radiator["flow"])
    line(s, tee["branch"], radiator["return"])
    cap = s.add("cap", "cap", x_m=1, height_m=0.2)
    line(s, boiler["return"], cap["a"])
    assert (FAULT, "boiler") in found(s, "circuit/no-return")
    assert (FAULT, "R1") in found(s, "circuit/no-return")


def test_circuits_that_close_through_a_header_or_a_store_are_complete():
    s = draw.sheet("Header")
    boiler = s.add("boiler_oil", "boiler", x_m=0, height_m=0)
    header = s.add("low_loss_header", "header", x_m=3, height_m=0)
    radiator = s.add("radiator", "R1", x_m=6, height_m=0)
    line(s, boiler["flow"], header["primary_flow"])
    line(s, header["primary_return"], boiler["return"])
    line(s, header["load_flow"], radiator["flow"])
    line(s, radiator["return"], header["load_return"])
    assert sound(s, "circuit/no-return")
    assert sound(s, "circuit/crossed")


def teed(*between: tuple[str, dict], bypass: bool = False) -> draw.Drawing:
    """A boiler on two radiators, its flow and return joined by a pipe, with fittings in that pipe."""
    s, boiler, _ = straight()
    second = s.add("radiator", "R2", x_m=8, height_m=0)
    out, back = s.add("tee", "F", x_m=2, height_m=2), s.add("tee", "R", x_m=2, height_m=-1)
    more, less = s.add("tee", "F2", x_m=3, height_m=2), s.add("tee", "R2tee", x_m=3, height_m=-1)
    radiator = s["R1"]
    line(s, boiler["flow"], (out, "left", "right"), (more, "left", "right"), second["flow"])
    line(s, second["return"], (less, "right", "left"), (back, "right", "left"), boiler["return"])
    line(s, more["branch"], radiator["flow"])
    line(s, radiator["return"], less["branch"])
    parts = [s.add(kind, f"between{k}", x_m=2, height_m=0.5, **props) for k, (kind, props) in enumerate(between)]
    if parts:
        line(s, out["branch"], *parts, back["branch"])
    else:
        s.pipe(out["branch"], back["branch"], via=[], bypass=bypass, id="short")
    return s


def test_a_plain_pipe_between_flow_and_return_is_crossed():
    s = teed()
    assert found(s, "circuit/crossed") == [(FAULT, "boiler")]


def test_declared_bypasses_and_valves_are_not_crossed():
    assert sound(teed(bypass=True), "circuit/crossed")
    assert sound(teed(("automatic_bypass_valve", {})), "circuit/crossed")


def test_a_one_pipe_ring_is_not_crossed():
    s, boiler, radiator = straight()
    one, two = s.add("tee", "T1", x_m=4, height_m=-0.5), s.add("tee", "T2", x_m=5, height_m=-0.5)
    line(s, boiler["flow"], (one, "left", "right"), (two, "left", "right"), boiler["return"])
    line(s, one["branch"], s.add("lockshield_valve", "V", x_m=4, height_m=0), radiator["flow"])
    line(s, radiator["return"], two["branch"])
    assert sound(s, "circuit/crossed")


@pytest.mark.parametrize(("backwards", "wanted"), [(False, []), (True, [(FAULT, "R1_pump")])])
def test_a_load_pump_pushes_from_supply_to_return(backwards, wanted):
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back", backwards=backwards)
    assert found(s, "circuit/pump-backwards") == wanted


def test_a_boilers_pump_pushes_from_flow_to_return():
    s, store = house(taps=PAIR)
    boiler_on(s, store, "top", "bottom")
    assert sound(s, "circuit/pump-backwards")
    s, store = house(taps=PAIR)
    boiler, pump = s.add("boiler_oil", "boiler", x_m=0, height_m=0), s.add("pump", "P", x_m=2, height_m=0)
    line(s, boiler["flow"], store["top"])
    line(s, store["bottom"], (pump, "b", "a"), boiler["return"])
    assert found(s, "circuit/pump-backwards") == [(FAULT, "P")]


def test_a_pump_against_a_check_valve():
    for into, out, wanted in (("a", "b", []), ("b", "a", [(FAULT, "R1_pump")])):
        s, store = house(taps=FOUR)
        stove_on(s, store, "top", "bottom")
        radiator = s.add("radiator", "R1", x_m=8, height_m=3)
        pump, check = s.add("pump", "R1_pump", x_m=6, height_m=2), s.add("check_valve", "C1", x_m=6, height_m=1)
        line(s, store["supply"], pump, radiator["flow"])
        line(s, radiator["return"], (check, into, out), store["back"])
        assert found(s, "circuit/pump-backwards") == wanted


def test_a_loading_unit_with_flap_faces_right():
    s, store = house(taps=PAIR)
    boiler = s.add("log_boiler", "logs", x_m=0, height_m=0)
    unit = s.add("loading_unit_4_flap", "unit", x_m=2, height_m=0.5)
    line(s, boiler["flow"], (unit, "boiler_flow", "store_flow"), store["top"])
    line(s, store["bottom"], (unit, "store_return", "boiler_return"), boiler["return"])
    assert sound(s, "circuit/pump-backwards")


def test_two_pumps_in_one_line():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiator = s.add("radiator", "R1", x_m=8, height_m=3)
    one, two = s.add("pump", "P1", x_m=6, height_m=2), s.add("pump", "P2", x_m=6, height_m=1)
    line(s, store["supply"], one, radiator["flow"])
    line(s, radiator["return"], (two, "a", "b"), store["back"])
    assert found(s, "circuit/pumps-in-series") == [(FAULT, "P1")]


def test_pumps_either_side_of_a_store_and_a_floor_pump_with_a_mixing_leg_are_not_in_line():
    s, store = house(taps=FOUR)
    boiler_on(s, store, "top", "bottom")
    floor = s.add("underfloor_manifold", "floor", x_m=9, height_m=0)
    main, own = s.add("pump", "main", x_m=6, height_m=2), s.add("pump", "own", x_m=8, height_m=1)
    mix, tee = s.add("mixing_valve", "mix", x_m=7, height_m=1), s.add("tee", "T", x_m=7, height_m=0.3)
    line(s, store["supply"], main, (mix, "hot", "mixed"), own, floor["flow"])
    line(s, floor["return"], (tee, "right", "left"), store["back"])
    line(s, tee["branch"], mix["cold"])
    assert sound(s, "circuit/pumps-in-series")
    assert sound(s, "circuit/pump-backwards")
    assert sound(s, "order/mixing-valve-inlets")


def test_a_pump_behind_thermostatic_valves_alone_has_no_way_to_push():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back", valves="thermostatic_radiator_valve")
    assert found(s, "circuit/dead-headed-pump") == [(FAULT, "R1_pump")]


def test_an_automatic_bypass_keeps_a_way_open():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiator = s.add("radiator", "R1", x_m=8, height_m=3)
    pump, trv = s.add("pump", "P", x_m=6, height_m=2), s.add("thermostatic_radiator_valve", "V", x_m=7, height_m=3)
    bypass = s.add("automatic_bypass_valve", "B", x_m=6.5, height_m=1.5)
    out, back = s.add("tee", "T1", x_m=6.5, height_m=2), s.add("tee", "T2", x_m=6.5, height_m=1)
    line(s, store["supply"], pump, (out, "left", "right"), trv, radiator["flow"])
    line(s, radiator["return"], (back, "right", "left"), store["back"])
    line(s, out["branch"], bypass, back["branch"])
    assert sound(s, "circuit/dead-headed-pump")
    assert sound(s, "circuit/crossed")


def test_a_pressure_controlled_pump_without_a_source_is_advice():
    s, store = house(taps=FOUR)
    stove_on(s, store, "top", "bottom")
    radiator = s.add("radiator", "R1", x_m=8, height_m=3)
    pump = s.add("pump", "P", x_m=6, height_m=2, pressure_controlled=True)
    line(s, store["supply"], pump, s.add("thermostatic_radiator_valve", "V", x_m=7, height_m=3), radiator["flow"])
    line(s, radiator["return"], store["back"])
    assert found(s, "circuit/dead-headed-pump") == [(ADVICE, "P")]


def test_a_boiler_that_runs_on_wants_a_way_left_open():
    for overrun, wanted in ((5.0, [(FAULT, "boiler")]), (0.0, [])):
        s, boiler, radiator = straight(overrun_min=overrun)
        line(s, boiler["flow"], s.add("thermostatic_radiator_valve", "V", x_m=3, height_m=0.7), radiator["flow"])
        line(s, radiator["return"], boiler["return"])
        assert [f for f in found(s, "circuit/dead-headed-pump") if f[1] == "boiler"] == wanted


SOLAR = {"name": "solar", "bottom_m": 0.05, "top_m": 0.6, "lower": "low", "upper": "high"}
SOLAR_TAPS = {"low": {"height_m": 0.05, "purpose": "coil"}, "high": {"height_m": 0.6, "purpose": "coil"}}


def test_a_collector_above_its_coil_wants_a_check_valve():
    s, store = house(taps=SOLAR_TAPS, coils=(SOLAR,))
    solar_on(s, store, "high", "low")
    assert sound(s, "circuit/night-thermosyphon")
    s, store = house(taps=SOLAR_TAPS, coils=(SOLAR,))
    solar_on(s, store, "high", "low", check=False)
    assert found(s, "circuit/night-thermosyphon") == [(FAULT, "collector")]
    assert "circuit/night-thermosyphon" in standing(s)


def test_radiators_above_the_store_wait_for_the_flow_network_unless_a_check_holds_them():
    s, store = house(taps=FOUR)
    radiators_on(s, store, "supply", "back")
    assert found(s, "circuit/night-thermosyphon") == [] and missing(s, "circuit/night-thermosyphon") == [""]
    s, store = house(taps=FOUR)
    radiators_on(s, store, "supply", "back", valves="anti_gravity_check")
    assert sound(s, "circuit/night-thermosyphon")
