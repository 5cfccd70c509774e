"""Nets that nobody would draw on purpose: each ends in a right answer or in a refusal that says what is wrong."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from loopwright.engineering import steady, stepping, water
from loopwright.engineering.arrays import arrays
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Pump, Segment, Store, WaterLine
from loopwright.errors import FigureError

from . import nets, reference

BARE = Segment(0.0262, 0.0)
"""A pipe without length or fitting: nothing resists in it."""


def closes(answer) -> None:
    """Continuity to 1e-9 of the largest flow; the first law and the momentum of steady ends as the solver promises."""
    for end in (answer.rest, answer.kick):
        A, s, book = answer.arrays, end.state, end.balance
        assert all(np.isfinite(x).all() for x in (s.T, s.m, s.p, s.N))
        assert np.max(np.abs(A.inc @ s.m)) <= 1e-9 * max(np.max(np.abs(s.m)), 1e-9)
        assert end.kind == "steady"
        assert abs(book.gap_W) < 1e-5 * max(book.source_W, book.emitted_W, abs(book.fixed_W), 100.0)
        assert book.momentum_Pa < stepping.MOMENTUM_PA


def solved(net: Net):
    answer = steady.steady(net)
    closes(answer)
    return answer


def with_bores(net: Net, bore_m: float, length_m: float = 6.0, k: float = 5.0) -> Net:
    return replace(net, branches=tuple(replace(b, segments=(Segment(bore_m, length_m, k),)) for b in net.branches))


# -- refused, since no answer is right


@pytest.mark.parametrize("pump", [None, Pump(1000.0)])
def test_a_ring_in_which_nothing_resists_is_refused(pump):
    # any flow round it fulfils momentum: there is no answer to find
    nodes = (Node("a", 0.0), Node("c", 0.0))
    pair = [Branch(x, End(p), End(q), (Cell(),), (BARE,)) for x, p, q in (("one", "a", "c"), ("two", "c", "a"))]
    with pytest.raises(FigureError, match="Nothing resists"):
        Net((replace(pair[0], pump=pump), pair[1]), nodes)
    # a curve that falls has one flow at which its head is nil: 1000 = 50 m + 5 m^2
    net = Net((replace(pair[0], pump=Pump(1000.0, -50.0, -5.0)), pair[1]), nodes)
    assert solved(net).flow_kg_s("two") == pytest.approx(10.0, rel=1e-9)


@pytest.mark.parametrize("what", [math.nan, math.inf, -math.inf])
def test_figures_that_are_none_are_refused(what):
    net = nets.stove_and_store(1)
    b = net.branches[0]
    put: dict[Any, Callable[[Any], Net]] = {
        net.line: lambda x: replace(net, line=x),
        net.nodes[0]: lambda x: replace(net, nodes=(x, *net.nodes[1:])),
        net.stores[0]: lambda x: replace(net, stores=(x,)),
        b.cells[1]: lambda x: net.with_branch(replace(b, cells=(b.cells[0], x, *b.cells[2:]))),
        b.segments[0]: lambda x: net.with_branch(replace(b, segments=(x,))),
        Pump(1e3, 0.0, -1e4): lambda x: net.with_branch(replace(b, pump=x)),
    }
    tried = 0
    for part, into in put.items():
        into(part)
        for name, x in vars(part).items():
            if isinstance(x, float) or name in ("boil_C", "fixed_C"):
                tried += 1
                with pytest.raises(FigureError):
                    into(replace(part, **{name: what}))
    assert tried == 28


def test_heat_drawn_from_water_that_nothing_warms_is_given_up_in_words():
    # first law: without a source its temperature falls for ever; no steady state, and no water, is left
    with pytest.raises(FigureError, match="More heat is drawn"):
        steady.steady(nets.radiator_loop(-3000.0, 0.0))


def test_what_moves_too_slowly_to_be_seen_is_not_called_steady():
    # 5 kW into 1e12 J/K a cell: 2e-5 K in four hours, and yet all of it is being stored (first law)
    net = nets.radiator_loop()
    slow = tuple(replace(b, cells=tuple(replace(c, heat_J_K=1e12) for c in b.cells)) for b in net.branches)
    assert steady.steady(replace(net, branches=slow)).outcome == "drifting"


# -- right answers at the ends of the range


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (2, 3, 0, 1)])
def test_a_hair_beside_a_main_shares_as_the_laws_of_pipes_say(order):
    # 0.1 mm beside 200 mm, 1e13 times as hard: Hagen-Poiseuille in the hair, from the pressure across the main
    net = nets.radiator_loop()
    down = (nets.pipe_cell(0.0), Cell(heat_J_K=3e4, emitter_W=5e3), nets.pipe_cell(-3.0))
    more = (
        Branch("hair", End("top"), End("stove"), (Cell(rise_m=-3.0, loss_W_K=1.0),), (Segment(1e-4, 5.0, 0.0, 1e-6),)),
        Branch("main", End("top"), End("stove"), down, (Segment(0.2, 5.0, 2.0),)),
    )
    branches = (*net.branches, *more)
    answer = solved(replace(net, branches=tuple(branches[i] for i in order)))
    t = answer.cells_C("hair")[0]
    state, A = answer.ending.state, answer.arrays
    across = float(state.p[0] - state.p[1])  # stove less top, of reduced pressure
    push = -across + water.GRAVITY * 3.0 * (water.density_kg_m3(t) - 988.0)
    conductance = math.pi * 1e-16 * water.density_kg_m3(t) / (128.0 * water.viscosity_Pa_s(t) * 5.0)
    assert [x.name for x in A.net.nodes] == ["stove", "top"]
    assert answer.flow_kg_s("hair") == pytest.approx(conductance * push, rel=1e-4)


def test_a_megawatt_through_a_pump():
    # pump curve against Darcy-Weisbach with Colebrook by `fluids`, at the mean temperature found: scalar root by scipy
    net = with_bores(nets.radiator_loop(1e6, 1.5e6), 0.2)
    net = replace(net, branches=(replace(net.branches[0], pump=Pump(5e4, 0.0, -50.0)), net.branches[1]))
    answer = solved(replace(net, line=WaterLine(30.0)))
    area = math.pi / 4 * 0.2**2
    hot, cold = answer.cells_C("flow")[-1], answer.cells_C("return")[-1]

    def gap(m):
        out = 5e4 - 50.0 * m * m + water.GRAVITY * 3.0 * (water.density_kg_m3(cold) - water.density_kg_m3(hot))
        for name in ("flow", "return"):
            t = float(np.mean(answer.cells_C(name)))
            re = m * 0.2 / area / water.viscosity_Pa_s(t)
            f = fluids.friction.Colebrook(re, 1.5e-6 / 0.2)
            out -= (f * 30.0 + 5.0) * m * m / (2 * water.density_kg_m3(t) * area**2)
        return out

    assert answer.flow_kg_s("flow") == pytest.approx(brentq(gap, 1.0, 100.0), rel=1e-3)
    assert answer.ending.balance.emitted_W == pytest.approx(1e6, rel=1e-6)


def test_equal_pumps_against_each_other_leave_gravity_its_own():
    # heads of two like pumps in one ring cancel: what is left is the ring without pumps, save for what m takes of them
    against = nets.radiator_loop(5000.0)
    back = replace(against.branches[1].reversed(), pump=Pump(20e3))
    front = replace(against.branches[0], pump=Pump(20e3))
    got = solved(replace(against, branches=(front, back))).flow_kg_s("flow")
    assert got == pytest.approx(solved(against).flow_kg_s("flow"), rel=1e-6)


def test_two_stores_alike_exchange_nothing():
    # columns of one density in equilibrium (hydrostatics), layered or not
    for layers in ((50.0,) * 5, (30.0, 40.0, 50.0, 60.0, 70.0)):
        stores = tuple(Store(x, 0.0, 1.5, 0.3, layers) for x in "AB")
        pipes = tuple(Branch(f"at {h}", End("A", h), End("B", h), (Cell(),), (nets.run(3.0),)) for h in (0.1, 1.4))
        answer = solved(Net(pipes, (), stores))
        assert max(abs(answer.flow_kg_s(b.name)) for b in pipes) < 1e-9


def test_closed_off_islands_leave_the_rest_alone():
    net = nets.radiator_loop()
    islands = tuple(Branch(f"i{k}", End(f"x{k}"), End(f"y{k}"), (Cell(rise_m=1.0),), (nets.run(1.0),)) for k in "abc")
    nodes = tuple(Node(f"{x}{k}", h) for k in "abc" for x, h in (("x", 0.0), ("y", 1.0)))
    answer = solved(replace(net, branches=(*islands, *net.branches), nodes=(*nodes, *net.nodes, Node("alone", 5.0))))
    assert all(answer.flow_kg_s(b.name) == 0.0 for b in islands)
    assert answer.flow_kg_s("flow") == pytest.approx(solved(net).flow_kg_s("flow"), rel=1e-9)


def test_a_ring_of_many_branches_is_one_pipe():
    # 80 pieces of 0.1 m in a ring against one loop of two: the same momentum and the same heat
    count, pump = 80, Pump(1e4, 0.0, -1e4)
    cells = {0: Cell(heat_J_K=1e4, source_W=5e3), count // 2: Cell(heat_J_K=1e4, emitter_W=8e3)}
    places = [f"n{i}" for i in range(count)]
    ring = [
        Branch(f"b{i}", End(a), End(b), (cells.get(i, Cell()),), (nets.run(0.1),), pump=pump if i == 5 else None)
        for i, (a, b) in enumerate(pairwise([*places, places[0]]))
    ]
    many = solved(Net(tuple(ring), tuple(Node(p, 0.0) for p in places)))
    half = (nets.run(0.05 * count),)
    halves = (
        Branch("one", End("a"), End("b"), (cells[0],), half, pump=pump),
        Branch("two", End("b"), End("a"), (cells[count // 2],), half),
    )
    whole = solved(Net(halves, (Node("a", 0.0), Node("b", 0.0))))
    assert many.flow_kg_s("b7") == pytest.approx(whole.flow_kg_s("two"), rel=2e-3)
    assert many.ending.balance.emitted_W == pytest.approx(5e3, rel=1e-6)


def test_a_trickle_that_long_steps_swap_is_settled():
    """A rung of 0.4 g/s, whose exchange and emission long steps swap for ever.

    Its ring dies away in time (growth -1.7e-4 1/s by the eigenvalues of equations written apart from these, and a march
    of 24 h by scipy's BDF ends in it): it is steady, not swinging.
    """
    answer = solved(nets.ladder(76, pipe_loss=0.2))
    assert answer.outcome == "steady"
    assert 1e3 * answer.flow_kg_s("rung1") == pytest.approx(-0.3787, abs=2e-4)  # scipy's root of the same equations


def test_water_near_freezing_and_near_boiling():
    # closed column of 0.5 degC: independent residual (fluids, iapws), densest about 4 degC; 104 degC under 3 m boils
    net = replace(nets.loop(2000.0, 2.0, cooler_C=0.5), room_C=0.5)
    answer = solved(net)
    s = answer.ending.state
    m, _, miss = reference.solve(net, s.m, s.N, s.p)
    assert miss < 1e-6 and answer.flow_kg_s("riser") == pytest.approx(m[0], rel=0.01)
    hot = solved(replace(nets.loop(3000.0, 2.0, cooler_C=104.0), line=WaterLine(5.0)))
    assert hot.outcome == "boils" and arrays(hot.arrays.net).B == 1
