"""What must not change an answer: the order and names of a description, where a pipe is cut, who is solved beside it.

First principles throughout, no source: water knows neither how it is written down nor which way a pump was drawn.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopwright.engineering import network, steady, stepping
from loopwright.engineering.abreast import abreast, carried_out
from loopwright.engineering.arrays import arrays
from loopwright.engineering.beside import side_by_side
from loopwright.engineering.fluid import mixture
from loopwright.engineering.hydraulics import flows
from loopwright.engineering.net import Branch, End, Net, Node
from loopwright.engineering.newton import newton

from . import nets

FEW = settings(max_examples=4, deadline=None, derandomize=True)
KINDS = st.sampled_from([nets.stove_and_store, nets.pumped])
SEEDS = st.integers(0, 15)


def ended(net: Net) -> steady.Ending:
    """The end of one start, without a look at others."""
    A = arrays(net)
    return steady.settle(A, steady.from_kick(A), "kick", False)


def by_name(net: Net, ending: steady.Ending) -> dict[str, float]:
    return {b.name: float(m) for b, m in zip(net.branches, ending.state.m, strict=True)}


@FEW
@given(KINDS, SEEDS, st.randoms(use_true_random=False))
def test_joints_may_be_numbered_in_any_order(build, seed, chance):
    net = build(seed)
    before = by_name(net, ended(net))
    nodes, branches = list(net.nodes), list(net.branches)
    chance.shuffle(nodes)
    chance.shuffle(branches)
    called = {n.name: f"joint {i}" for i, n in enumerate(nodes)}

    def renamed(end: End) -> End:
        return replace(end, place=called.get(end.place, end.place))

    again = Net(
        tuple(replace(b, a=renamed(b.a), b=renamed(b.b)) for b in branches),
        tuple(replace(n, name=called[n.name]) for n in nodes), net.stores, net.line, net.room_C, net.fluid,
    )  # fmt: skip
    assert by_name(again, ended(again)) == pytest.approx(before, rel=1e-6, abs=1e-8)


@FEW
@given(SEEDS, st.data())
def test_a_pipe_cut_in_two_is_the_same_pipe(seed, data):
    net = nets.pumped(seed)
    before = by_name(net, ended(net))
    whole = data.draw(st.sampled_from([b for b in net.branches if all(c.plain for c in b.cells)] or [net.branches[1]]))
    if not all(c.plain for c in whole.cells):  # a radiator between two pipes: the first pipe is cut off it
        parts = (whole.cells[:1], whole.cells[1:])
    else:
        parts = ((whole.cells[0],), (replace(whole.cells[0], rise_m=0.0), *whole.cells[1:]))
    shares = (0.5, 0.5)
    middle = net.height_of(whole.a) + sum(c.rise_m for c in parts[0])
    halves = [
        Branch(f"half {i}", a, b, cells,
               tuple(replace(s, length_m=share * s.length_m, k=share * s.k) for s in whole.segments))
        for i, (a, b, cells, share) in enumerate(
            zip((whole.a, End("cut")), (End("cut"), whole.b), parts, shares, strict=True))
    ]  # fmt: skip
    others = tuple(b for b in net.branches if b.name != whole.name)
    cut = replace(net, branches=(*others, *halves), nodes=(*net.nodes, Node("cut", middle)))
    after = by_name(cut, ended(cut))
    assert after["half 0"] == pytest.approx(after["half 1"], abs=1e-12)
    most = max(map(abs, before.values()))
    assert after["half 0"] == pytest.approx(before[whole.name], abs=3e-4 * most)
    assert {b.name: after[b.name] for b in others} == pytest.approx(
        {b.name: before[b.name] for b in others}, abs=3e-4 * most
    )


@FEW
@given(SEEDS)
def test_a_pump_turned_round_drives_the_mirrored_flow(seed):
    net = nets.pumped(seed)
    net = replace(net, stores=tuple(replace(s, layers_C=(50.0,) * len(s.layers_C)) for s in net.stores))
    forth = net.branches[0]
    bare = replace(forth, pump=None)
    back = replace(bare.reversed(), pump=forth.pump)
    turned = net.with_branch(back)
    start = network.start_at(arrays(net), 50.0)
    one, two = flows(arrays(net), start).m, flows(arrays(turned), start).m
    assert two[0] == pytest.approx(one[0], rel=1e-9)  # the pump's own branch is counted the other way now
    assert two[1:] == pytest.approx(-one[1:], rel=1e-9, abs=1e-12)


# side by side


def several() -> list[Net]:
    glycol = replace(nets.pumped(1), fluid=mixture(40.0))
    return [nets.stove_and_store(1), nets.pumped(2), glycol, nets.loop(), nets.stove_and_store(129)]


def test_nets_led_abreast_end_as_each_alone():
    together = carried_out(abreast([steady._answer(net) for net in several()]))
    for net, got in zip(several(), together, strict=True):
        alone = carried_out(steady._answer(net))
        assert (got.outcome, got.branch) == (alone.outcome, alone.branch)
        for one, two in ((got.rest, alone.rest), (got.kick, alone.kick)):
            assert one.state.m == pytest.approx(two.state.m, abs=1e-9)
            assert np.max(np.abs(one.state.T - two.state.T)) < 1e-5


def test_a_step_side_by_side_is_the_step_of_each():
    members = [arrays(net) for net in several()]
    whole, slots = side_by_side(members)
    rng = np.random.default_rng(3)
    states = [
        network.State(rng.uniform(20, 80, (A.B, A.K)), rng.uniform(-0.1, 0.1, A.B), rng.uniform(-50, 50, A.Np),
                      np.where(A.is_fixed, A.T_fix, rng.uniform(20, 80, A.Nt)))
        for A in members
    ]  # fmt: skip
    T = np.zeros((whole.B, whole.K))
    for A, slot, s in zip(members, slots, states, strict=True):
        T[slot.b, : A.K] = s.T
    s = network.State(T, *(np.concatenate([getattr(x, k) for x in states]) for k in ("m", "p", "N")))
    d = newton(whole, s, s, 30.0, network.lag(whole, s))
    for A, slot, own in zip(members, slots, states, strict=True):
        want = newton(A, own, own, 30.0, network.lag(A, own))
        assert d.m[slot.b] == pytest.approx(want.m, rel=1e-8, abs=1e-10)
        assert d.N[slot.n] == pytest.approx(want.N, rel=1e-8, abs=1e-8)
        assert (d.T[slot.b, : A.K] * A.real) == pytest.approx(want.T * A.real, rel=1e-8, abs=1e-8)


# what never settles


def test_a_state_that_any_disturbance_leaves_is_not_called_steady():
    """Long steps land on it, honest time does not: an hour on, in steps of 20 s, its water still swings."""
    answer = steady.steady(nets.ladder(7))
    assert answer.outcome == "swings"
    A, s, swing = answer.arrays, answer.ending.state, answer.ending.swing
    row = [b.name for b in A.net.branches].index(swing.branch)
    seen = []
    for _ in range(180):
        s = stepping.run_for(A, s, 20.0, 20.0)
        seen.append(s.T[row])
    assert np.ptp(np.array(seen), axis=0).max() == pytest.approx(swing.range_K, rel=0.4)
