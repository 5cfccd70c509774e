"""How fast flows are solved: hydraulics alone, flow and heat with both starts, and nets of up to 200 branches.

Limits are checked with `--benchmark-enable`; without it each runs once. Times are of the processor, so that a busy
machine is not measured.
"""

from __future__ import annotations

import time
from collections import Counter

import numpy as np
import pytest

from loopwright.engineering import network, steady
from loopwright.engineering.arrays import arrays
from loopwright.engineering.hydraulics import flows
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Pump, Segment, WaterLine

AIM_MS = 200.0
NEVER_AIM_MS = 1500.0
OUTCOMES = {"steady", "boils", "two states", "swings", "drifting", "stalled"}


def ladder(rungs: int, seed: int, power_w: float = 12e3, pump: bool = True) -> Net:
    """A two-pipe ladder of 3 `rungs` + 1 branches: a boiler at its foot, radiators between flow and return."""
    rng = np.random.default_rng(seed)
    heights = np.sort(rng.uniform(0.6, 5.5, rungs))
    share = rng.uniform(0.6, 1.4, rungs)
    nominal = 1.4 * power_w * share / share.sum()

    def pipe(length: float, bore: float, k: float) -> tuple[Segment, ...]:
        return (Segment(bore, length, k),)

    def cell(rise: float, **more: float) -> Cell:
        return Cell(rise_m=rise, heat_J_K=3000.0, **more)

    nodes = [Node("f0", 0.3), Node("r0", 0.0)]
    head = Pump(30e3, 0.0, -6e4) if pump else None
    branches = [
        Branch("boiler", End("r0"), End("f0"), (cell(0.1), Cell(heat_J_K=70e3, source_W=power_w), cell(0.2)),
               pipe(2.0, 0.0326, 4.0), pump=head)
    ]  # fmt: skip
    for i, height in enumerate(heights, 1):
        before = 0.0 if i == 1 else float(heights[i - 2])
        up, far = float(height) - before, float(rng.uniform(0.5, 3.0))
        nodes += [Node(f"f{i}", float(height) + 0.3), Node(f"r{i}", float(height))]
        loss = 0.2 * (abs(up) + far)
        third = (cell(up / 3, loss_W_K=loss / 3),) * 3
        back = (cell(-up / 3, loss_W_K=loss / 3),) * 3
        branches += [
            Branch(f"up{i}", End(f"f{i - 1}"), End(f"f{i}"), third, pipe(up + far, 0.0262, 2.0)),
            Branch(f"down{i}", End(f"r{i}"), End(f"r{i - 1}"), back, pipe(up + far, 0.0262, 2.0)),
            Branch(f"rung{i}", End(f"f{i}"), End(f"r{i}"),
                   (cell(-0.15), Cell(heat_J_K=25e3, emitter_W=float(nominal[i - 1])), cell(-0.15)),
                   pipe(float(rng.uniform(1, 6)), 0.0202, float(rng.uniform(4, 12)))),
        ]  # fmt: skip
    return Net(tuple(branches), tuple(nodes), (), WaterLine(9.0))


def median_ms(work, times: int) -> float:
    """Processor milliseconds of a piece of work, the median of some runs."""
    taken = []
    for _ in range(times):
        begin = time.process_time()
        work()
        taken.append(1000 * (time.process_time() - begin))
    return float(np.median(taken))


def test_hydraulics_of_thirty_branches(benchmark, measured):
    net = ladder(10, 1)
    assert len(net.branches) == 31
    A = arrays(net)
    start = network.start_at(A, 60.0)
    got = benchmark(lambda: flows(A, start))
    # momentum and continuity of every branch and joint, at the temperatures given
    L = network.linearise(A, got, got, 1e30, network.lag(A, got))
    assert np.max(np.abs(L.M)) < 1e-3 and np.max(np.abs(A.inc @ got.m)) < 1e-12
    if benchmark.enabled:
        took = median_ms(lambda: flows(arrays(net), start), 20)
        measured("hydraulics of 31 branches, cold", took, 5.0, note="the arrays built anew each time")
        measured.judge()


@pytest.mark.parametrize("pump", [True, False], ids=["pumped", "gravity"])
def test_flow_and_heat_of_thirty_branches_with_both_starts(benchmark, measured, pump):
    """Gravity ladders without any pump are harsh: some never settle, and that must be said nearly as soon."""
    nets = [ladder(10, seed, pump=pump) for seed in range(6 if benchmark.enabled else 1)]
    answers = benchmark.pedantic(lambda: [steady.steady(nets[0])], rounds=1, iterations=1)
    assert all(a.outcome in OUTCOMES for a in answers)
    if benchmark.enabled:
        times, moving = [], []
        steady.steady.cache_clear()
        for net in nets:
            begin = time.process_time()
            answer = steady.steady(net)
            took = 1000 * (time.process_time() - begin)
            (moving if answer.rest.marched or answer.kick.marched else times).append(took)
        word = "pumped" if pump else "gravity"
        note = f"median of {len(times)} that settled"
        measured(f"flow and heat of 31 branches, both starts, {word}", float(np.median(times)), AIM_MS, note=note)
        if moving:
            note = f"slowest of {len(moving)}"
            measured(f"flow and heat of 31 branches that never settle, {word}", max(moving), NEVER_AIM_MS, note=note)
        measured.judge()


@pytest.mark.parametrize("rungs", [5, 12, 20, 66])
def test_generated_nets_answer_with_a_class(rungs, benchmark, measured):
    """Up to 199 branches: steady, boils, drifts or swings with the branch that decides; never a false number."""
    if rungs > 12 and not benchmark.enabled:
        pytest.skip("half a minute")
    seeds = range(3 if rungs <= 20 and benchmark.enabled else 1)
    classes: Counter[str] = Counter()
    begin = time.process_time()
    for seed in seeds:
        net = ladder(rungs, 50 + seed, pump=seed % 3 != 2)
        answer = steady.steady(net)
        classes[answer.outcome] += 1
        assert answer.outcome in OUTCOMES and answer.branch
        if answer.outcome == "steady":
            book = answer.ending.balance
            assert book.momentum_Pa < 2e-3 and abs(book.gap_W) < 1e-4 * book.source_W
    took = (time.process_time() - begin) / len(seeds)
    measured(f"class of a net of {3 * rungs + 1} branches", took, None, "s", ", ".join(sorted(classes)))
    benchmark.pedantic(lambda: None, rounds=1)
