"""How long runs take. Timed only with `--benchmark-enable`.

The figures stand in the table that `pytest tests/benchmarks --benchmark-enable -s` prints. Aims: a power cut in half a
second, a day of 60 s steps with 30 layers and 40 branches in three, the cost linear in steps (aims of this project, no
source).
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

from benchmarks.many import side_by_side
from loopwright.engineering.runs.cut import power_cut
from loopwright.engineering.runs.day import days, run_day
from loopwright.waterways import Waterways
from waterways.drawn import CATALOGUE

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
import systems

pytestmark = pytest.mark.benchmark(timer=time.process_time)
LOOSE = 4.0
"""A shared or slow machine may take so many times the aim before the test fails."""


def barn(copies: int = 1):
    sheet = systems.done(systems.three_source())
    return sheet if copies == 1 else side_by_side(sheet, copies)


@pytest.mark.parametrize("full", [False, True], ids=["working", "full"])
def test_a_power_cut(benchmark, measured, full):
    run = benchmark.pedantic(lambda: power_cut(Waterways(barn(), CATALOGUE), store_full=full), rounds=3, iterations=1)
    assert run.outcome == ("boils" if full else "peaks")
    if benchmark.enabled:
        assert benchmark.stats["min"] < LOOSE * 0.5
        measured(f"power cut, store {'full' if full else 'working'}", 1e3 * benchmark.stats["min"], 500.0)
        measured.judge()


@pytest.mark.parametrize("name", ["winter", "summer"])
@pytest.mark.parametrize(("copies", "layers"), [(1, 30), (2, 15)], ids=["22 branches", "44 branches"])
def test_a_day(benchmark, measured, name, copies, layers):
    if not benchmark.enabled:
        pytest.skip("only timed")
    sheet = barn(copies)
    run = benchmark.pedantic(
        lambda: run_day(Waterways(sheet, CATALOGUE), days()[name], layers=layers), rounds=1, iterations=1
    )
    assert len(run.times_s) == 1441
    assert benchmark.stats["min"] < LOOSE * 3.0
    measured(f"day, {name}, {22 * copies} branches, 30 layers", benchmark.stats["min"], 3.0, "s")
    measured.judge()


def test_the_cost_is_linear_in_steps(benchmark, measured):
    if not benchmark.enabled:
        pytest.skip("only timed")

    def seconds(step_s: float) -> float:
        """Of the hours before noon."""
        share = [0.0]
        ways, start = Waterways(barn(), CATALOGUE), time.process_time()
        run_day(
            ways, days()["summer"], step_s=step_s, progress=lambda x: share.__setitem__(0, x),
            cancel=lambda: share[0] >= 0.5,
        )  # fmt: skip
        return time.process_time() - start

    one, two = benchmark.pedantic(lambda: (seconds(60.0), seconds(30.0)), rounds=1, iterations=1)
    measured("half a day of 1440 steps, to one of 720", two / one, 2.2, "times", f"{one:.2f} and {two:.2f} s")
    assert two < 3.0 * one
    measured.judge()
