"""Which way water moves: four drawn situations, conservation, and a convex programme solved by scipy."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from scipy.optimize import minimize

from loopwright import draw
from loopwright.catalogue import Behaviour
from loopwright.waterways import Waterways
from loopwright.waterways.trace import drivers_in, moving, trace
from loopwright.waterways.views import POWER_CUT, Ask, Condition, passing
from waterways.drawn import TAPPINGS, base, source_of, stove_and_radiator, way, ways_of
from waterways.test_graph import random_sheet


@pytest.mark.parametrize(("against", "sign"), [(False, 1), (True, -1)])
def test_a_pump_drives_its_source_the_way_it_faces(against, sign):
    ways = ways_of(stove_and_radiator(("pump", "P1", {"against": against})))
    flow = trace(ways, passing(ways, Ask.OPEN), {way("P1", "pump"): 1.0})
    assert np.sign(flow[source_of(ways).key]) == sign and flow[way("P1", "pump")] > 0


@pytest.mark.parametrize(("against", "moves"), [(False, True), (True, False)])
def test_a_flap_the_wrong_way_stops_a_gravity_loop(against, moves):
    ways = ways_of(stove_and_radiator(("flap_valve", "C1", {"against": against})))
    key = source_of(ways).key
    assert (key in trace(ways, passing(ways, Ask.REST), {key: 1.0})) is moves
    assert key in trace(ways, passing(ways, Ask.OPEN), {key: 1.0})


def two_boilers() -> Waterways:
    """Two boilers side by side on one radiator, a pump in each one's return."""
    d = draw.sheet("Two boilers")
    rad = d.add("radiator", "rad", x_m=9.0, height_m=2.0)
    up, down = d.add("tee", "up", x_m=7.0, height_m=2.5), d.add("tee", "down", x_m=7.0, height_m=0.2)
    for name, x, flow, back in (("one", 1.0, "left", "left"), ("two", 4.0, "branch", "branch")):
        boiler = d.add("boiler_oil", name, x_m=x, height_m=0.0)
        pump = d.add("pump", f"pump_{name}", x_m=x + 1, height_m=0.2, mirror=True)
        d.pipe(boiler["flow"], up[flow])
        d.pipe(down[back], pump["a"])
        d.pipe(pump["b"], boiler["return"])
    d.pipe(up["right"], rad["flow"])
    d.pipe(rad["return"], down["right"])
    return ways_of(d)


def test_an_idle_boiler_is_passed_backwards_if_its_standing_pump_lets_it():
    ways = two_boilers()
    alone = {way("pump_one", "pump"): 1.0}
    flow = trace(ways, passing(ways, Ask.IDLE), alone)
    one, two = source_of(ways, "one").key, source_of(ways, "two").key
    assert flow[one] > 0 > flow[two]
    stopped = passing(ways, Ask.RUNNING, Condition(stopped=frozenset({"pump_two"})))
    flow = trace(ways, stopped, alone)
    assert flow[one] > 0 and two not in flow


@pytest.mark.parametrize("turned", [False, True])
def test_a_load_pump_draws_from_one_tapping_and_gives_back_at_the_other(turned):
    d = draw.sheet("Load")
    store = d.store("store", x_m=2.0, height_m=0.0, tappings=TAPPINGS)
    rad = d.add("radiator", "rad", x_m=6.0, height_m=2.0)
    pump = d.add("pump", "P1", x_m=4.0, height_m=1.2, mirror=turned)
    first, last = ("b", "a") if turned else ("a", "b")
    d.pipe(store["load flow"], pump[first])
    d.pipe(pump[last], rad["flow"])
    d.pipe(rad["return"], store["load return"])
    ways = ways_of(d)
    flow = trace(ways, passing(ways, Ask.RUNNING), {way("P1", "pump"): 1.0})
    letters = {t.name: t.letter for t in ways.sheet.parts["store"].tappings}
    out = [e for e in ways.links["body", "store"] if flow.get(e.key, 0.0) < 0]  # its own direction is port -> body
    assert [e.a[2] for e in out] == [letters["load return" if turned else "load flow"]]


def test_a_pump_from_a_vessel_into_the_same_vessel_moves_its_water():
    # a secondary circulation, or a stirring pump: a ring that leaves and meets one body
    d = draw.sheet("Stirred")
    store = d.store("store", x_m=2.0, height_m=0.0, tappings=TAPPINGS)
    pump = d.add("pump", "P1", x_m=4.0, height_m=0.7)
    check = d.add("check_valve", "C1", x_m=5.0, height_m=0.7)
    d.pipe(store["load flow"], pump["a"])
    d.pipe(pump["b"], check["a"])
    d.pipe(check["b"], store["load return"])
    ways = ways_of(d)
    flow = moving(ways)
    assert flow[way("P1", "pump")] > 0 and flow[way("C1")] > 0
    assert not moving(ways, POWER_CUT)
    wrong = dict(passing(ways, Ask.RUNNING))
    wrong[way("C1")] = 2
    assert not trace(ways, wrong, {way("P1", "pump"): 1.0})


def test_nothing_moves_without_a_driver_and_nothing_beyond_its_own_piece():
    ways = base()
    assert not trace(ways, passing(ways, Ask.OPEN), {})
    flow = trace(ways, passing(ways, Ask.RUNNING), {way("P3", "pump"): 1.0})
    moved = {k[1] for k in flow if k[0] == "pipe"}
    assert moved == {p for p in ways.sheet.pipes if p.startswith(("solar_flow", "solar_return"))}


def test_what_moves_in_the_base_system():
    ways = base()

    def pipes(condition):
        return {k[1] for k in moving(ways, condition) if k[0] == "pipe"}

    stove = {"stove_flow", "store_flow", "riser", "leak_flow", "leak_return", "return_1", "return_2", "return_3"}
    assert pipes(POWER_CUT) == stove
    running = pipes(Condition())
    assert stove | {"boiler_flow_1", "solar_return_1", "rad_flow_1", "floor_return"} <= running
    assert not running & {"feed", "stove_vent", "store_vent", "overflow", "vessel_branch", "fill_supply", "cold_4"}
    boiler = {p for p in ways.sheet.pipes if p.startswith(("boiler_flow", "boiler_return"))}
    assert len(boiler) > 3 and running - pipes(Condition(stopped=frozenset({"P2"}))) == boiler
    assert pipes(Condition(power=False, out=frozenset({"stove"}))) == set()


def test_a_fire_without_a_sink_above_it_drives_nothing():
    def drawn(height):
        d = draw.sheet("High or low")
        stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=3.0)
        rad = d.add("radiator", "rad", x_m=4.0, height_m=height)
        d.pipe(stove["flow"], rad["flow"])
        d.pipe(rad["return"], stove["return"])
        return ways_of(d)

    assert source_of(drawn(5.0)).key in drivers_in(drawn(5.0))
    assert not drivers_in(drawn(0.0)) and not moving(drawn(0.0), POWER_CUT)


def pumps(ways):
    return {k: 1.0 for k, e in ways.elements.items() if e.does is Behaviour.PUMP}


@pytest.mark.parametrize("seed", range(60))
def test_what_comes_to_a_place_leaves_it_and_nothing_passes_backwards(seed):
    ways = random_sheet(seed)
    view = passing(ways, Ask.RUNNING)
    flow = trace(ways, view, pumps(ways))
    for place, links in ways.links.items():
        net = sum(flow.get(e.key, 0.0) * ((e.a == place) - (e.b == place)) for e in links)
        assert net == pytest.approx(0.0, abs=2e-6 * len(links)), place  # what is under 1e-6 is left out
    for key, q in flow.items():
        assert view[key] & (1 if q > 0 else 2)


def convex(ways, view, drive):
    """Least of sum(q^2 / 2 - f q) over flows round the cycles, one-ways not negative: networkx cycles, scipy SLSQP."""
    graph = nx.Graph()
    for key, e in ways.elements.items():
        if view[key]:
            nx.add_path(graph, [e.a, key, e.b])
    keys = [k for k in graph if k in view]
    rows = []
    for cycle in nx.cycle_basis(graph):
        row = dict.fromkeys(keys, 0.0)
        for here, there in zip(cycle, [*cycle[1:], cycle[0]]):
            if there in row:  # a step place -> element
                row[there] = 1.0 if ways.elements[there].a == here else -1.0
        rows.append([row[k] for k in keys])
    if not rows:
        return dict.fromkeys(keys, 0.0)
    c = np.array(rows).T
    f = np.array([drive.get(k, 0.0) for k in keys])
    held = [i for i, k in enumerate(keys) if view[k] == 1]
    best = minimize(
        lambda y: 0.5 * ((c @ y) ** 2).sum() - f @ (c @ y),
        np.zeros(c.shape[1]),
        jac=lambda y: c.T @ (c @ y - f),
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
        constraints=[{"type": "ineq", "fun": lambda y: (c @ y)[held], "jac": lambda y: c[held]}],
    )
    return dict(zip(keys, c @ best.x))


def test_directions_are_those_of_the_convex_programme():
    compared = 0
    for seed in range(120):
        ways = random_sheet(seed)
        view, drive = passing(ways, Ask.RUNNING), pumps(ways)
        flow = trace(ways, view, drive)
        for key, q in convex(ways, view, drive).items():
            if abs(q) > 0.01:  # resistances are spread a little: smaller flows may differ
                assert np.sign(flow.get(key, 0.0)) == np.sign(q), (seed, key)
                compared += 1
            elif abs(q) < 1e-9:
                assert abs(flow.get(key, 0.0)) < 0.01
    assert compared > 100
