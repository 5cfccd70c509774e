"""Properties of any right answer, on generated nets; the edge between two states, the sweep of power, hydraulics."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from loopwright.engineering import friction, hysteresis, network, steady, water
from loopwright.engineering.arrays import arrays
from loopwright.engineering.hydraulics import flows
from loopwright.engineering.net import Branch, End, Net, Node, Pump

from . import nets

FEW = settings(max_examples=4, deadline=None, derandomize=True)
KINDS = st.sampled_from([nets.stove_and_store, nets.pumped])
SEEDS = st.integers(0, 15)


def once(net: Net):
    """The end of one start, without looking at others."""
    A = arrays(net)
    return A, steady.settle(A, steady.from_kick(A), "kick", look=False)


@FEW
@given(KINDS, SEEDS)
def test_mass_and_heat_close(build, seed):
    A, end = once(build(seed))
    assert np.max(np.abs(A.inc @ end.state.m)) < 1e-12
    book = end.balance
    assert abs(book.gap_W) < 1e-6 * max(book.source_W, 100.0)


@FEW
@given(SEEDS, st.floats(-20.0, 30.0))
def test_heights_count_from_anywhere(seed, lift):
    net = nets.stove_and_store(seed)
    lifted = replace(
        net,
        branches=tuple(
            replace(b, **{e: replace(x, height_m=x.height_m + lift)
                          for e, x in (("a", b.a), ("b", b.b)) if x.height_m is not None})
            for b in net.branches
        ),
        nodes=tuple(replace(n, height_m=n.height_m + lift) for n in net.nodes),
        stores=tuple(replace(s, base_m=s.base_m + lift, top_m=s.top_m + lift) for s in net.stores),
        line=replace(net.line, height_m=net.line.height_m + lift),
    )  # fmt: skip
    one, two = once(net)[1].state.m, once(lifted)[1].state.m
    assert two == pytest.approx(one, rel=1e-6, abs=1e-7)


@FEW
@given(SEEDS)
def test_all_at_one_temperature_nothing_moves(seed):
    net = nets.stove_and_store(seed)
    cold = replace(
        net,
        branches=tuple(b.with_source(0.0) for b in net.branches),
        stores=tuple(replace(s, layers_C=(20.0,) * len(s.layers_C)) for s in net.stores),
        room_C=20.0,
    )
    _, end = once(cold)
    assert np.max(np.abs(end.state.m)) < 1e-6


@FEW
@given(SEEDS, st.sampled_from([1.2, 1.5, 2.0]))
def test_more_bore_never_lowers_a_pumps_flow(seed, wider):
    net = nets.pumped(seed)
    wide = replace(net, branches=tuple(
        replace(b, segments=tuple(replace(s, bore_m=s.bore_m * wider) for s in b.segments)) for b in net.branches
    ))  # fmt: skip
    start = network.start_at(arrays(net), 50.0)
    before, after = (flows(arrays(n), start).m[0] for n in (net, wide))
    assert after >= before


@FEW
@given(SEEDS)
def test_finer_cells_give_the_same_flow(seed):
    net = nets.pumped(seed)
    one, two = once(net)[1].state.m, once(net.finer())[1].state.m
    assert np.max(np.abs(two - one)) < 3e-4 * np.max(np.abs(one))


@FEW
@given(SEEDS)
def test_hydraulics_agree_with_the_whole(seed):
    net = nets.pumped(seed)
    A, end = once(net)
    again = flows(A, replace(end.state, m=np.zeros(A.B), p=np.zeros(A.Np)))
    assert again.m == pytest.approx(end.state.m, rel=1e-5, abs=1e-7)


def test_hydraulics_of_a_pump_against_a_scalar_root():
    # head of the pump against friction at 20 degC, root by scipy
    net = Net(
        (
            Branch("out", End("low"), End("high"), (nets.pipe_cell(2.0),), (nets.run(10, nets.CU22, 6.0),),
                   pump=Pump(15e3, 0.0, -1e5)),
            Branch("back", End("high"), End("low"), (nets.pipe_cell(-2.0),), (nets.run(10, nets.CU22, 6.0),)),
        ),
        (Node("low", 0.0), Node("high", 2.0)),
    )  # fmt: skip
    A = arrays(net)

    def gap(m):
        rho, mu = water.density_kg_m3(20.0), water.viscosity_Pa_s(20.0)
        return 15e3 - 1e5 * m * m - friction.loss_and_slope(m, nets.CU22, 20.0, 12.0, 1.5e-6, rho, mu)[0]

    assert flows(A, network.start_at(A, 20.0)).m[0] == pytest.approx(brentq(gap, 1e-3, 2.0), rel=1e-7)


# the edge


def test_two_states_are_asked_again_with_finer_cells():
    """A hot store over a cold riser has two states by its nature: finer cells do not take one away."""
    answer = steady.steady(nets.stove_and_store(129))
    assert answer.outcome == "two states" and answer.finer and answer.on_the_edge == (answer.finer != "two states")


def test_the_edge_is_where_the_fineness_decides():
    answer = steady.steady(nets.loop())
    assert answer.finer == "" and not answer.on_the_edge
    assert replace(answer, outcome="two states", finer="steady").on_the_edge
    assert not replace(answer, outcome="two states", finer="two states").on_the_edge


def test_a_sweep_of_a_plain_loop_has_no_hysteresis():
    # a single loop has one state at any power: flow goes as its cube root (closed form, local losses)
    points = hysteresis.sweep(nets.loop(length_m=0.0, k=40.0), "riser", (2e3, 4e3, 8e3))
    assert not any(p.differs for p in points)
    assert [p.power_W for p in points] == [2e3, 4e3, 8e3]
    assert points[2].up_kg_s / points[0].up_kg_s == pytest.approx(4 ** (1 / 3), rel=0.08)  # properties change a little


def test_a_finer_net_is_the_same_water():
    net = nets.ladder(2, pipe_loss=0.3)
    fine = net.finer()
    for one, two in zip(net.branches, fine.branches, strict=True):
        assert two.rise_m == pytest.approx(one.rise_m) and two.source_W == one.source_W
        assert sum(c.heat_J_K for c in two.cells) == pytest.approx(sum(c.heat_J_K for c in one.cells))
        assert sum(c.loss_W_K for c in two.cells) == pytest.approx(sum(c.loss_W_K for c in one.cells))
