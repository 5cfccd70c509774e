"""What sources give and what controls do, on plain numbers.

Heat of a charge: by its definition (it is all given in the end). Switching differences: common practice, no source.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopwright.catalogue import standard_catalogue
from loopwright.engineering.drawn_parts import Charge as Stores
from loopwright.engineering.network import start_at
from loopwright.engineering.runs.controls import Controls, Now, rooms_served, sense_of, switch_of
from loopwright.engineering.runs.gear import blenders, gear_of
from loopwright.engineering.runs.heat import Burner, Charge, Fire, heat_pump_electric_W, heat_pump_share
from loopwright.engineering.runs.rooms import Room
from loopwright.engineering.runs.whole import Whole, charged, whole
from loopwright.sheet.values import ControlLink
from loopwright.waterways import Waterways

sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "samples"))
import systems


@cache
def barn() -> Whole:
    catalogue = standard_catalogue()
    ways = Waterways(systems.done(systems.three_source()), catalogue)
    return whole(ways, charged(ways, Stores.WORKING), layers=30)


@given(
    power=st.floats(500.0, 60e3),
    kwh=st.floats(0.2, 100.0),
    lighting=st.floats(0.0, 3600.0),
    share=st.floats(0.1, 0.95),
)
def test_a_charge_gives_all_its_heat_and_never_more_than_its_power(power, kwh, lighting, share):
    charge = Charge(power, 3.6e6 * kwh, lighting, share)
    at = np.linspace(0.0, 40.0 * charge.heat_J / power + lighting, 400)
    given_J = np.array([charge.given_J(t) for t in at])
    assert given_J[0] == 0.0 and (np.diff(given_J) >= -1e-6).all()
    assert charge.given_J(1e7) == pytest.approx(charge.heat_J, rel=1e-6)
    assert (np.diff(given_J) / np.diff(at) <= power * (1.0 + 1e-9)).all()


def test_a_charge_burns_at_full_power_between_kindling_and_embers():
    """8 kW and 10 kWh, 15 min to catch: 1 kWh by then; 70 % of the heat, 7 kWh, after 15 min and 6 kWh / 8 kW: 1 h."""
    charge = Charge(8000.0, 36e6, 900.0, 0.7)
    assert charge.given_J(900.0) == pytest.approx(3.6e6)
    assert charge.mean_W(1200.0, 3600.0) == pytest.approx(8000.0)
    assert charge.given_J(3600.0) == pytest.approx(0.7 * 36e6)
    later = charge.mean_W(3600.0 + 1350.0, 3600.0 + 1351.0)  # after heat left / power = 3 kWh / 8 kW = 22.5 min: 1/e
    assert later == pytest.approx(8000.0 / np.e, rel=1e-3)
    fire = Fire("stove", [(100.0, charge)])
    assert not fire.burns(99.0) and fire.burns(2000.0) and not fire.burns(20000.0)
    assert fire.mean_W(0.0, 1000.0) * 1000.0 == pytest.approx(charge.given_J(900.0))


def burner(**more) -> Burner:
    usual = {"least_W": 10e3, "overshoot_K": 5.0, "least_run_s": 180.0, "least_rest_s": 180.0}
    return Burner("boiler", 10e3, flow_C=70.0, cell_J_K=60e3, **{**usual, **more})


def test_a_burner_stops_above_its_flow_temperature_and_rests():
    b = burner()
    assert b.step(0.0, 60.0, 40.0, True) == 10e3
    assert b.step(60.0, 60.0, 76.0, True) == 10e3  # too hot already, but the least burn is 3 min
    assert b.step(180.0, 60.0, 76.0, True) == 0.0
    assert b.step(240.0, 60.0, 50.0, True) == 0.0  # the least rest
    assert b.step(360.0, 60.0, 50.0, True) == 10e3
    assert b.step(420.0, 60.0, 90.0, True) == 0.0  # far too hot: its limit stops it at once
    assert b.step(900.0, 60.0, 40.0, False) == 0.0
    assert b.starts == 2


def test_a_burner_modulates_to_its_flow_temperature():
    """A load of 5 kW drawn from 60 kJ/K: the burner settles at 5 kW and 70 degC."""
    b, t, at = burner(least_W=2e3), 20.0, 0.0
    for _ in range(200):
        watts = b.step(at, 30.0, t, True)
        t += 30.0 * (watts - 5000.0) / 60e3
        at += 30.0
    assert watts == pytest.approx(5000.0, rel=0.02) and t == pytest.approx(70.0, abs=0.5)


def test_a_heat_pump_gives_less_in_the_cold_and_needs_more_for_a_hot_flow():
    assert heat_pump_share(-10.0) < heat_pump_share(2.0) == 1.0 < heat_pump_share(12.0)
    cool, hot = heat_pump_electric_W(6000.0, 35.0, 2.0), heat_pump_electric_W(6000.0, 55.0, 2.0)
    assert 1200.0 < cool < hot < 3000.0  # figures of 4 to 5 and 2.5 to 3: EN 14511 tables, from memory


def test_a_room_cools_as_its_time_constant_says():
    """Newton's law of cooling: after one time constant 1/e of the difference is left."""
    room = Room("R1", loss_W_K=50.0, heat_J_K=50.0 * 3600.0 * 30.0, want_C=20.0, air_C=20.0)
    for _ in range(30 * 60):
        room.step(60.0, 0.0, -2.0)  # 2 K of free warmth: as 0 degC outdoors
    assert room.air_C == pytest.approx(20.0 / np.e, abs=0.01)
    assert room.lacking_J > 0.0


# -- controls -----------------------------------------------------------------------------------------------------


def now(layers_C: float = 20.0, source_C: float = 20.0, room_C: float = 20.0) -> Now:
    house = barn()
    s = start_at(house.A, source_C)
    N = np.where(house.A.is_layer, layers_C, s.N)
    return Now(type(s)(s.T, s.m, s.p, N), dict.fromkeys(("R1", "R2", "floor", "leak"), room_C), frozenset())


def link(does: str, **more) -> ControlLink:
    return ControlLink(id="x", does=does, **{"sensor": "store/R", "target": "P2", "setting_c": 60.0, **more})


def states(control: ControlLink, felt: list[float]) -> list[bool]:
    switch, out = switch_of(barn(), control), []
    for t in felt:
        switch.look(now(layers_C=t))
        out.append(switch.on)
    return out


def test_links_switch_with_their_difference():
    assert states(link("runs_below", hysteresis_k=5.0), [54.0, 58.0, 61.0, 58.0, 54.0]) == [
        True,
        True,
        False,
        False,
        True,
    ]
    assert states(link("runs_above", hysteresis_k=5.0), [58.0, 61.0, 57.0, 54.0]) == [False, True, True, False]
    assert states(link("runs_above", off_c=40.0), [61.0, 45.0, 39.0]) == [True, True, False]
    assert states(link("stops_above", hysteresis_k=5.0), [61.0, 54.0]) == [True, False]
    assert states(link("stops_above", manual_reset=True), [61.0, 20.0]) == [True, True]


def test_a_difference_compares_two_places():
    control = link("difference", sensor="collector", second="store/Q", target="P3", setting_c=7.0, off_c=3.0)
    switch, out = switch_of(barn(), control), []
    for gap in (6.0, 8.0, 4.0, 2.0):
        switch.look(now(layers_C=40.0, source_C=40.0 + gap))
        out.append(switch.on)
    assert out == [False, True, True, False]


def test_links_on_one_thing_go_together():
    """Running links are alternatives, a programmer allows, a stopping link forbids (common practice)."""
    controls = Controls(barn())
    controls.look(now(layers_C=30.0, room_C=18.0))
    assert controls.wants("boiler", clock=True) and controls.wants("P2", clock=True)
    assert controls.wants("P1", clock=True)  # its room is cold
    controls.look(now(layers_C=90.0, source_C=100.0, room_C=21.0))
    assert not controls.wants("boiler", clock=True) and not controls.wants("P1", clock=True)
    assert not controls.wants("P3", clock=True)  # 10 K hotter, but its store is above 85 degC
    controls.timed["P1"] = [link("schedule")]
    controls.look(now(room_C=18.0))
    assert controls.wants("P1", clock=True) and not controls.wants("P1", clock=False)


def test_a_room_thermostat_feels_the_rooms_of_its_own_circuit():
    assert set(rooms_served(barn(), "P1")) == {"R1", "R2"}
    assert rooms_served(barn(), "P4") == ("floor",)
    sense = sense_of(barn(), "TR2", "P4")
    assert sense is not None
    felt = Now(now().state, {"R1": 10.0, "R2": 10.0, "floor": 21.0}, frozenset())
    assert sense(felt) == 21.0


def test_a_mixing_valve_moves_at_most_a_quarter_of_its_stroke():
    house = barn()
    gear, (valve,) = gear_of(house), blenders(house)
    gear.open_way("TM1", "hot", 1.0)
    s = start_at(house.A, 60.0)
    s.T[valve.cold.branch] = 10.0
    s.N[valve.node] = 90.0
    before = gear.opening["TM1", "hot"]
    valve.follow(gear, s)
    assert before - gear.opening["TM1", "hot"] == pytest.approx(0.25)
    assert gear.opening["TM1", "hot"] + gear.opening["TM1", "cold"] == pytest.approx(1.0)
    # 44 degC of 60 and 10 is 68 % hot: there it stays
    s.N[valve.node] = 44.0
    gear.open_way("TM1", "hot", 0.68)
    valve.follow(gear, s)
    assert gear.opening["TM1", "hot"] == pytest.approx(0.68)
