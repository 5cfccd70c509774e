"""Warm floors, switching instants, pumps that go on, and pipes with no stated lagging.

Sources: a slab that cools to its room dies away as exp(-t UA / C) (one body, any textbook); mixing by energy balance;
straight lines between instants by arithmetic; the rest common practice, no source.
"""

from __future__ import annotations

import math
import sys
from functools import cache
from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.engineering.drawn_branch import loss_W_mK
from loopwright.engineering.drawn_parts import Asked, Charge, Heat
from loopwright.engineering.pipes import tube
from loopwright.engineering.runs.controls import share_passed
from loopwright.engineering.runs.day import days, run_day
from loopwright.engineering.runs.floors import FloorSet, slab_of
from loopwright.engineering.runs.result import Run
from loopwright.engineering.runs.whole import Whole, whole
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL, Ask

sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "samples"))
import systems


@cache
def barn() -> Waterways:
    return Waterways(systems.done(systems.three_source()), standard_catalogue())


@cache
def net() -> Whole:
    return whole(barn(), lambda _, n: [50.0] * n, layers=10)


def early(hours: float):
    share = [0.0]
    return {"progress": lambda x: share.__setitem__(0, x), "cancel": lambda: share[0] >= hours / 24.0 - 1e-9}


@cache
def night() -> Run:
    """Six hours of winter with the boiler allowed for the first two and nothing drawn."""
    day = msgspec.structs.replace(days()["winter"], boiler=(("00:00", "02:00"),), draws=(), fires=())
    return run_day(barn(), day, **early(4.0))


def test_a_floor_gives_its_design_output_at_its_design_temperatures():
    asked = Asked(barn(), NORMAL, Ask.RUNNING, Charge.FULL, {"x": Heat()})
    slab = slab_of(asked, "floor")
    assert slab.to_room_W_K * (slab.return_C - 20.0) == pytest.approx(3000.0)
    assert slab.design_kg_s * 4186.0 * (slab.flow_C - slab.return_C) == pytest.approx(3000.0)
    # 3000 W at 50 W/m2 are 60 m2; 65 mm of 2000 kg/m3 and 0.9 kJ/(kg K) hold 117 kJ/(m2 K)
    assert slab.heat_J_K == pytest.approx(60.0 * 0.065 * 2000.0 * 900.0)


def test_the_mixing_set_lets_in_what_mixes_to_the_floors_flow():
    asked = Asked(barn(), NORMAL, Ask.RUNNING, Charge.FULL, {})
    slab = slab_of(asked, "floor")
    set_ = FloorSet(next(m for m in net().moving if m.part == "floor"), 1, slab)
    hot, back = 70.0, slab.return_C
    share = (set_.want_kg_s(hot, back) or 0.0) / slab.design_kg_s
    assert share * hot + (1.0 - share) * back == pytest.approx(slab.flow_C)
    assert set_.want_kg_s(slab.flow_C - 1.0, back) is None


def test_a_floor_whose_pump_stands_never_falls_below_its_room():
    """A summer's morning, the floor pump off: what little creeps round warms the floor and no more than that."""
    run = run_day(barn(), days()["summer"], **early(7.0))
    assert (run.parts["floor"] > run.parts["room floor"] - 0.5).all()
    assert run.books.loads["floor"] < 2.0


def test_a_slab_cools_as_one_body():
    """From the books of a night: given to the room, as UA (T - air) of the temperatures told, in the same hours."""
    run = night()
    slab = net().slabs["floor"][0]
    steps = np.diff(run.times_s)
    told = slab.to_room_W_K * (run.parts["floor"] - run.parts["room floor"])[1:]
    still = np.abs(run.flows["floor_return"][1:]) < 1e-3
    given = -run.powers["floor"][1:]
    assert (told[~still] * steps[~still]).sum() == pytest.approx((given[~still] * steps[~still]).sum(), rel=0.03)
    assert abs(run.books.residual) < 1e-3 * run.books.put_in
    # alone, 7 MJ/K over 200 W/K is a time constant of 9.75 h
    assert slab.heat_J_K / slab.to_room_W_K / 3600.0 == pytest.approx(9.75)
    assert math.exp(-1.0 / 9.75) == pytest.approx(0.9025, abs=1e-3)


@pytest.mark.parametrize(
    ("was", "now", "at", "rising", "share"),
    [
        (60.0, 70.0, 65.0, True, 0.5), (70.0, 60.0, 62.5, False, 0.75), (60.0, 64.0, 65.0, True, None),
        (66.0, 70.0, 65.0, True, None), (60.0, 70.0, 65.0, False, None), (65.0, 69.0, 65.0, True, 0.0),
    ],
)  # fmt: skip
def test_a_switch_lies_on_the_straight_line_between_two_instants(was, now, at, rising, share):
    assert share_passed(was, now, at, rising) == share


def test_a_burner_stops_within_the_step_at_its_own_temperature():
    """80 degC is 75 and the 5 K that it overshoots; with 15 kW on 50 kJ/K a whole step more would be 15 K."""
    run = night()
    stops = [e.time_s for e in run.events if e.part == "boiler" and e.what == "off"]
    assert stops and any(abs(t / 60.0 - round(t / 60.0)) > 0.02 for t in stops)
    assert run.parts["boiler"].max() < 83.0


def test_the_boilers_pump_goes_on_for_a_while_and_then_stands_though_the_store_calls():
    """The plan ends the boiler's hours at two; 5 min of overrun are assumed; the store stays below its setting."""
    run = night()
    pump = [(e.time_s, e.what) for e in run.events if e.part == "P2" and e.time_s > 7100.0]
    burner = [(e.time_s, e.what) for e in run.events if e.part == "boiler" and e.time_s < 7300.0]
    last = max(t for t, what in burner if what == "off")
    off = next(t for t, what in pump if what == "off")
    assert off == pytest.approx(max(7200.0, last + 300.0), abs=61.0)
    flow = np.abs(run.flows["boiler_flow_1"])  # by gravity through the standing pump, a twentieth of the pumped at most
    assert flow[run.times_s > off + 120.0].max() < 0.05 * flow.max()
    assert (run.parts["boiler"][run.times_s > off + 120.0] < 80.0).all()


def test_pipes_that_state_no_lagging_are_lagged_and_those_of_emitters_bare():
    A, made = net().A, net()
    branch, laid = made.pipes["boiler_return_2"]
    names = [p for p, (b, x) in made.pipes.items() if (b, x.cell) == (branch, laid.cell)]
    want = sum(made.pipes[p][1].length_m * loss_W_mK(tube(barn().sheet.pipes[p].size, "copper"), 20.0) for p in names)
    assert A.UA[branch, laid.cell] == pytest.approx(want)
    branch, laid = made.pipes["leak_flow"]
    riser = barn().sheet.pipes["riser"]
    bare = laid.length_m * loss_W_mK(tube("28", "copper"), 0.0)
    lagged = made.pipes["riser"][1].length_m * loss_W_mK(tube("28", "copper"), riser.insulation_mm or 0.0)
    assert A.UA[branch, laid.cell] == pytest.approx(bare + lagged)
    assert any("no lagging" in note for note in made.notes)


def test_what_goes_round_by_gravity_with_no_fire_is_told():
    """The heat leak hangs open above a warm store: the summer's books and the note tell the same kilowatt-hours."""
    run = run_day(barn(), days()["summer"], **early(7.0))
    assert run.figures["crept_leak_kwh"] == pytest.approx(run.books.loads["leak"], rel=1e-6)
    assert any("by gravity to Heat-leak radiator" in n for n in run.notes)


def test_a_vented_fire_that_boils_says_what_boils_away_and_who_makes_it_up():
    """2676 kJ/kg of steam at 100 degC less 42 kJ/kg of water at 10 degC (IAPWS-IF97): litres an hour of its power."""
    from iapws import IAPWS97

    from loopwright.engineering.runs.cut import power_cut

    run = power_cut(barn(), store_full=True)
    each = (IAPWS97(T=373.15, x=1).h - IAPWS97(T=283.15, P=0.1).h) * 1000.0
    assert run.outcome == "boils" and run.figures["steam_l_h"] == pytest.approx(3600.0 * 8000.0 / each, rel=0.02)
    assert run.figures["steam_most_l"] < 10.0 * 3.6e6 / each and "by its float valve" in run.verdict
