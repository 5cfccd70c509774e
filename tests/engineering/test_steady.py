"""Properties that any right answer of the flow network has, and the outcomes by name."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from loopwright.engineering import network, outcomes, steady, stepping
from loopwright.engineering.arrays import arrays
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Segment, Store, WaterLine

from . import nets


@cache
def solved(kind: str, seed: int) -> outcomes.Answer:
    return steady.steady(getattr(nets, kind)(seed))


def flows(answer: outcomes.Answer) -> dict[str, float]:
    return {b.name: answer.flow_kg_s(b.name) for b in answer.arrays.net.branches}


CASES = [("ladder", s) for s in (1, 2, 3, 5)] + [("stove_and_store", s) for s in range(6)]


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_mass_heat_and_pressure_close(kind, seed):
    for ending in (solved(kind, seed).rest, solved(kind, seed).kick):
        book = ending.balance
        assert book.continuity_kg_s < 1e-12
        assert abs(book.gap_W) < 1e-5 * max(book.source_W, 100.0)
        assert book.momentum_Pa < stepping.MOMENTUM_PA


@pytest.mark.parametrize(("kind", "seed"), [("ladder", 2), ("stove_and_store", 1), ("stove_and_store", 3)])
def test_order_and_direction_of_description_do_not_matter(kind, seed):
    net = getattr(nets, kind)(seed)
    rng = np.random.default_rng(5)
    turned = {b.name: rng.random() < 0.5 for b in net.branches}
    branches = [b.reversed() if turned[b.name] else b for b in net.branches]
    rng.shuffle(branches)
    nodes = list(net.nodes)
    rng.shuffle(nodes)
    again = flows(steady.steady(replace(net, branches=tuple(branches), nodes=tuple(nodes))))
    for name, m in flows(solved(kind, seed)).items():
        assert again[name] == pytest.approx(-m if turned[name] else m, abs=1e-9)


def symmetric(power_W=4000.0) -> Net:
    """A fired run below, a cooled run above, two equal risers: nothing says which way to turn."""
    flat = (nets.pipe_cell(0.0), Cell(heat_J_K=20e3, source_W=power_W), nets.pipe_cell(0.0))
    top = (nets.pipe_cell(0.0), Cell(heat_J_K=20e3, emitter_W=2.0 * power_W), nets.pipe_cell(0.0))
    up = (nets.pipe_cell(1.0), nets.pipe_cell(1.0))
    pipe = (nets.run(3.0, k=3.0),)
    return Net(
        (
            Branch("fire", End("sw"), End("se"), flat, pipe),
            Branch("east", End("se"), End("ne"), up, pipe),
            Branch("west", End("sw"), End("nw"), up, pipe),
            Branch("cool", End("ne"), End("nw"), top, pipe),
        ),
        (Node("sw", 0.0), Node("se", 0.0), Node("nw", 2.0), Node("ne", 2.0)), (), WaterLine(5.0),
    )  # fmt: skip


def test_a_symmetric_loop_leaves_rest_and_turns_either_way():
    answer = steady.steady(symmetric())
    rest, kick = abs(answer.rest.state.m[0]), abs(answer.kick.state.m[0])
    assert rest > 0.02
    assert rest == pytest.approx(kick, rel=1e-6)
    # mirrored left to right the kick drives the other way, and the same flow comes out with its sign turned
    net = symmetric()
    level = {"fire", "cool"}
    mirrored = replace(net, branches=tuple(b.reversed() if b.name in level else b for b in net.branches))
    other = steady.steady(mirrored)
    assert other.kick.state.m[0] == pytest.approx(answer.kick.state.m[0], rel=1e-6)
    assert other.kick.state.m[1] == pytest.approx(-answer.kick.state.m[1], rel=1e-6)


@pytest.mark.parametrize(("kind", "seed", "name"), [("ladder", 2, "up2"), ("stove_and_store", 1, "leak up")])
def test_a_split_pipe_is_the_same_pipe(kind, seed, name):
    net = getattr(nets, kind)(seed)
    whole = next(b for b in net.branches if b.name == name)
    halves = []
    middle = net.height_of(whole.a) + 0.5 * whole.rise_m
    for i, (a, b) in enumerate(((whole.a, End("cut")), (End("cut"), whole.b))):
        cells = tuple(
            replace(c, rise_m=c.rise_m / 2, heat_J_K=c.heat_J_K / 2, loss_W_K=c.loss_W_K / 2) for c in whole.cells
        )
        parts = tuple(replace(s, length_m=s.length_m / 2, k=s.k / 2) for s in whole.segments)
        halves.append(replace(whole, name=f"{name} {i}", a=a, b=b, cells=cells, segments=parts))
    others = tuple(b for b in net.branches if b.name != name)
    cut = replace(net, branches=(*others, *halves), nodes=(*net.nodes, Node("cut", middle)))
    answer = steady.steady(cut)
    before = flows(solved(kind, seed))
    largest = max(map(abs, before.values()))
    for b in others:
        assert answer.flow_kg_s(b.name) == pytest.approx(before[b.name], abs=3e-4 * largest)


def test_a_dead_end_and_a_zero_length_joint_change_nothing():
    net = nets.stove_and_store(1)
    before = flows(solved("stove_and_store", 1))
    spur = Branch("spur", End("out"), End("spur end"), (nets.pipe_cell(0.7),), (nets.run(1.0, nets.CU22),))
    leak = next(b for b in net.branches if b.name == "leak")
    joint = Branch("joint", End("leak top"), End("beside"), (Cell(heat_J_K=400.0),), (Segment(nets.CU22, 0.001),))
    moved = replace(leak, a=End("beside"))
    branches = tuple(moved if b.name == "leak" else b for b in net.branches)
    nodes = (*net.nodes, Node("spur end", 1.3), Node("beside", net.height_of(leak.a)))
    answer = steady.steady(replace(net, branches=(*branches, spur, joint), nodes=nodes))
    for name, m in before.items():
        assert answer.flow_kg_s(name) == pytest.approx(m, abs=3e-4 * 0.08)
    assert abs(answer.flow_kg_s("spur")) < 1e-9


@pytest.mark.parametrize("seed", [0, 3])
def test_all_at_one_temperature_nothing_moves(seed):
    net = nets.stove_and_store(seed)
    store = replace(net.stores[0], layers_C=(20.0,) * 10)
    still = replace(net, stores=(store,), branches=tuple(b.with_source(0.0) for b in net.branches))
    answer = steady.steady(still)
    assert np.max(np.abs(answer.ending.state.m)) < 1e-6


def test_heights_count_from_anywhere():
    net = nets.stove_and_store(1)
    lift = 5.0

    def up(end):
        return end if end.height_m is None else replace(end, height_m=end.height_m + lift)

    higher = Net(
        tuple(replace(b, a=up(b.a), b=up(b.b)) for b in net.branches),
        tuple(replace(n, height_m=n.height_m + lift) for n in net.nodes),
        tuple(replace(s, base_m=s.base_m + lift, top_m=s.top_m + lift) for s in net.stores),
        replace(net.line, height_m=net.line.height_m + lift), net.room_C,
    )  # fmt: skip
    again = flows(steady.steady(higher))
    for name, m in flows(solved("stove_and_store", 1)).items():
        assert again[name] == pytest.approx(m, abs=1e-9)


def test_more_bore_and_more_rise_never_lower_the_flow():
    last = 0.0
    for bore in (nets.CU22, 0.0262, 0.0326, 0.0396):
        m = steady.steady(nets.loop(bore_m=bore)).flow_kg_s("riser")
        assert m > last
        last = m
    last = 0.0
    for height in (1.0, 1.5, 2.0, 3.5):
        m = steady.steady(nets.loop(height_m=height)).flow_kg_s("riser")
        assert m > last
        last = m


def test_a_check_changes_nothing_where_the_flow_goes_its_way():
    free = steady.steady(nets.loop()).flow_kg_s("riser")
    assert steady.steady(nets.loop(check=True)).flow_kg_s("riser") == pytest.approx(free, rel=1e-9)


def test_without_a_source_no_temperature_leaves_its_bounds():
    net = nets.stove_and_store(1)
    cold = replace(net, branches=tuple(b.with_source(0.0) for b in net.branches))
    s = steady.steady(cold).ending.state
    layers = net.stores[0].layers_C
    assert s.T.min() >= 20.0 - 1e-6
    assert s.T.max() <= max(layers) + 1e-6


def test_a_hot_store_feeds_a_radiator_backwards():
    # conventions of gravity heating: with the fire out, a hot store drives the leak in reverse through the stove
    store = Store("store", 1.0, 2.5, 0.8, (80.0,) * 10)
    net = Net(
        (
            Branch("to radiator", End("store", 2.4), End("radiator"), (nets.pipe_cell(1.0), nets.pipe_cell(0.0)),
                   (nets.run(5.0, nets.CU22, 3.0),)),
            Branch("back", End("radiator"), End("store", 1.1),
                   (nets.pipe_cell(0.0), Cell(heat_J_K=25e3, emitter_W=1500.0), nets.pipe_cell(-2.3)),
                   (nets.run(6.0, nets.CU22, 9.0),)),
        ),
        (Node("radiator", 3.4),), (store,), WaterLine(6.0),
    )  # fmt: skip
    answer = steady.steady(net)
    assert answer.outcome == "steady"
    assert answer.flow_kg_s("back") > 0.005
    assert answer.ending.balance.fixed_W == pytest.approx(-answer.ending.balance.emitted_W, rel=1e-6)


def test_heat_with_nowhere_to_go_boils():
    net = nets.radiator_loop(nominal_W=0.0)
    answer = steady.steady(net)
    assert answer.outcome == "boils"
    assert answer.branch in ("flow", "return")
    assert sum(answer.ending.boil_W.values()) == pytest.approx(6000.0, rel=0.02)


def test_a_shut_loop_boils_at_the_stove():
    net = nets.loop(power_W=3000.0, check=True)
    backwards = net.branches[0]
    cells = tuple(replace(c, rise_m=-c.rise_m) for c in reversed(backwards.cells))
    # the check points down the hot riser: buoyancy holds it shut
    shut = net.with_branch(
        replace(backwards, a=End("column", 3.0), b=End("column", 0.0), cells=cells, should_carry=True)
    )
    answer = steady.steady(shut)
    assert answer.outcome == "boils"
    assert answer.branch == "riser"
    assert answer.ending.stalls[0].by_check


def test_most_power_is_where_boiling_begins():
    net = nets.loop(height_m=1.0, bore_m=0.0136, length_m=10.0, k=10.0)
    most = steady.most_power_W(net, "riser", within_W=50.0)
    assert 500.0 < most < 20e3
    assert not steady.steady(net.with_branch(net.branches[0].with_source(0.98 * most))).ending.boils
    over = steady.steady(net.with_branch(net.branches[0].with_source(1.1 * most)))
    assert over.outcome in ("boils", "two states")
    assert over.ending.boils


def test_stove_lit_under_a_hot_store_is_not_called_plainly_steady():
    # a check valve, a cold riser, a store at 85 degC above: it may or may not start; the outcome must not hide it
    store = Store("store", 1.5, 3.0, 0.8, (85.0,) * 10)
    net = Net(
        (
            Branch("riser", End("store", 1.6), End("store", 2.9),
                   (nets.pipe_cell(-1.5), Cell(heat_J_K=70e3, source_W=4000.0), nets.pipe_cell(1.4),
                    nets.pipe_cell(1.4)), (nets.run(9.0, k=9.0),), check=True),
        ),
        (), (store,), WaterLine(6.0),
    )  # fmt: skip
    answer = steady.steady(net)
    assert answer.kick.kind == "steady"
    assert answer.kick.state.m[0] > 0.02
    agree = abs(answer.rest.state.m[0] - answer.kick.state.m[0]) < 2e-3 and not answer.rest.boils
    assert answer.outcome == ("steady" if agree else answer.outcome)
    assert agree or answer.outcome in ("two states", "boils", "swings", "drifting")


def test_rest_and_kick_agree_on_a_single_loop():
    for power in (300.0, 3000.0, 12000.0):
        answer = steady.steady(nets.loop(power))
        assert answer.outcome == "steady"
        assert answer.rest.state.m[0] == pytest.approx(answer.kick.state.m[0], rel=1e-6)


def test_the_nudge_finds_an_unstable_state():
    # the resting state of the symmetric loop: settled, yet any disturbance grows
    net = symmetric(400.0)
    A = arrays(net)
    still = stepping.polish(A, network.start_at(A, 20.0))
    s, settled, _ = stepping.grow(A, still)
    assert settled
    assert np.max(np.abs(s.m)) < 1e-6
    _, ran_away = stepping.nudge(A, s)
    assert ran_away


def test_the_march_names_what_moves():
    # an evolving store under a fire drifts: 5 kW into 800 L is 5.4 K an hour
    net = nets.stove_and_store(0)
    store = replace(net.stores[0], evolving=True, layers_C=(20.0,) * 10)
    A = arrays(replace(net, stores=(store,), branches=tuple(b.with_source(5000.0) if b.name == "stove" else b
                                                            for b in net.branches)))  # fmt: skip
    s, kind, swing = stepping.march(A, steady.from_rest(A), 2.0)
    assert kind == "drifting"
    assert swing.net_K > 1.0
    heated = (s.N[A.is_layer].mean() - 20.0) * 0.8 * 988 * 4181
    assert heated == pytest.approx(5000.0 * 2.5 * 3600.0, rel=0.1)  # first law, less what the pipes hold


def test_a_hot_store_over_a_cold_riser_without_a_check_has_two_states():
    # the store's hot column first drives the loop backwards through the cold riser; once fired up it holds its way
    answer = steady.steady(nets.stove_and_store(129))
    assert answer.outcome == "two states"
    assert answer.rest.state.m[0] < -0.02
    assert answer.kick.state.m[0] > 0.02
    assert answer.ending in (answer.rest, answer.kick)
    for ending in (answer.rest, answer.kick):
        assert abs(ending.balance.gap_W) < 1e-5 * ending.balance.source_W
    # a check in the stove's loop leaves only one of the two
    net = nets.stove_and_store(129)
    checked = steady.steady(net.with_branch(replace(net.branches[0], check=True)))
    assert checked.kick.state.m[0] == pytest.approx(answer.kick.state.m[0], rel=1e-6)
    assert checked.rest.state.m[0] > -1e-5


def test_a_swing_is_a_swing_at_half_the_step():
    # a swing belongs to the water, not to the step: its range stands when the step is halved
    A = arrays(nets.ladder(106))
    s, kind, swing = stepping.march(A, steady.from_rest(A), 4.0)
    assert kind == "swings"
    temperatures = []
    row = [b.name for b in A.net.branches].index(swing.branch)
    for _ in range(180):
        s = stepping.run_for(A, s, 20.0, 10.0)
        temperatures.append(s.T[row])
    span = np.ptp(np.array(temperatures), axis=0).max()
    assert span == pytest.approx(swing.range_K, rel=0.4)


def test_a_store_heated_from_within_boils_at_its_top():
    # an immersion heater in a store without loss or load: by the first law all of its heat boils away in the end
    store = Store("store", 0.0, 1.5, 0.1, (20.0,) * 5, True, source_W=(0.0, 3000.0, 0.0, 0.0, 0.0))
    spur = Branch("spur", End("store", 1.5), End("end"), (Cell(),), (nets.run(0.5),))
    answer = steady.steady(Net((spur,), (Node("end", 1.5),), (store,), WaterLine(4.0)))
    assert answer.outcome == "boils"
    assert answer.branch == "store"
    assert answer.ending.balance.boiled_W == pytest.approx(3000.0, rel=1e-4)
