"""Even spacing against scipy (bounded least squares, quadratic programme); corridors against their
promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, lsq_linear, minimize

from loopwright.sheet.crossings import count_crossings
from loopwright.sheet.plane import Point, clear_of
from loopwright.sheet.tidy import spread, tidy_corridors

places = st.lists(st.integers(0, 200).map(lambda n: n / 50), min_size=1, max_size=7)


@given(places, st.integers(1, 30).map(lambda n: n / 50))
@settings(max_examples=60, deadline=None)
def test_spread_is_the_bounded_least_squares_of_scipy(wanted: list[float], gap: float) -> None:
    n = len(wanted)
    # x = first place + gaps so far: every gap is at least `gap`
    matrix = np.tril(np.ones((n, n)))
    solved = lsq_linear(matrix, np.array(wanted), bounds=([-np.inf] + [gap] * (n - 1), np.inf), method="bvls")
    assert spread(wanted, gap) == pytest.approx(matrix @ solved.x, abs=1e-6)


@given(places, st.integers(1, 30).map(lambda n: n / 50))
@settings(max_examples=25, deadline=None)
def test_spread_between_limits_is_the_quadratic_programme_of_scipy(wanted: list[float], gap: float) -> None:
    n, low, high = len(wanted), 0.8, 3.1
    ours = np.array(spread(wanted, gap, low, high))
    used = min(gap, (high - low) / max(n - 1, 1))
    assert np.all(np.diff(ours) >= used - 1e-9) and ours[0] >= low - 1e-9 and ours[-1] <= high + 1e-9
    if (n - 1) * gap > high - low:
        assert ours == pytest.approx(np.linspace(low, high, n))
        return
    steps = np.diff(np.eye(n), axis=0) if n > 1 else np.zeros((1, 1))
    start = np.linspace(low, high, n) if n > 1 else np.array([2.0])
    solved = minimize(
        lambda x: float(np.sum((x - wanted) ** 2)), start, jac=lambda x: 2 * (x - wanted), method="SLSQP",
        bounds=[(low, high)] * n, constraints=[LinearConstraint(steps, gap if n > 1 else 0.0, np.inf)],
        options={"ftol": 1e-12, "maxiter": 300},
    )  # fmt: skip
    assert float(np.sum((ours - wanted) ** 2)) <= solved.fun + 1e-6


def test_spread_of_nothing_and_of_things_with_room() -> None:
    assert spread([], 1.0) == []
    assert spread([1.0, 3.0, 9.0], 1.0) == [1.0, 3.0, 9.0]
    assert spread([5.0, 5.0], 2.0) == [4.0, 6.0]
    assert spread([0.0, 0.0, 0.0], 10.0, 0.0, 6.0) == [0.0, 3.0, 6.0]


def steps(*xs: float) -> dict[str, tuple[Point, ...]]:
    """Pipes from left to right that rise at the given x; the first is the lowest on the left, highest on the
    right."""
    n = len(xs)
    return {
        f"P{k}": ((0.0, 0.2 * k), (x, 0.2 * k), (x, 4 - 0.2 * (n - 1 - k)), (4.0, 4 - 0.2 * (n - 1 - k)))
        for k, x in enumerate(xs)
    }


def test_risers_on_one_line_part_in_the_order_that_crosses_least_and_keep_their_heights() -> None:
    pipes = steps(2.0, 2.0, 2.0)
    new = tidy_corridors(pipes, {}, [])
    after = pipes | new
    xs = [after[p][1][0] for p in pipes]
    # the lowest on the left must stand farthest right, or its level run crosses the rest
    assert xs == pytest.approx([2.1, 2.0, 1.9])
    assert count_crossings(after) == 0
    assert [[z for _, z in after[p]] for p in pipes] == [[z for _, z in pipes[p]] for p in pipes]


def test_held_risers_and_boxes_are_walls() -> None:
    pipes = steps(2.02, 1.98)
    held = {"P1": frozenset({1})}
    after = pipes | tidy_corridors(pipes, held, [])
    assert after["P1"] == pipes["P1"] and after["P0"][1][0] == pytest.approx(2.08)
    wall = (2.06, 1.0, 3.0, 2.0)
    after = pipes | tidy_corridors(pipes, {}, [wall])
    assert [after[p][1][0] for p in ("P1", "P0")] == pytest.approx([1.86, 1.96])


def test_only_the_named_pipes_move_and_nothing_moves_too_far() -> None:
    many = steps(*[2.0] * 9)
    closer = tidy_corridors(many, {}, [])
    assert sorted(p[1][0] for p in closer.values())[0] == pytest.approx(1.7), "at 0.10 m the outermost moves 0.40 m"
    assert tidy_corridors(steps(*[2.0] * 15), {}, []) == {}, "0.35 m even at half the pitch"
    assert set(tidy_corridors(steps(2.0, 2.0, 2.0), {}, [], only={"P1"})) <= {"P1"}


def random_corridor(seed: int) -> dict[str, tuple[Point, ...]]:
    """Steps between two walls whose risers often lie on or very near each other."""
    rng = np.random.default_rng(seed)
    pipes: dict[str, tuple[Point, ...]] = {}
    for k in range(8):
        z0, z1 = (round(float(z), 2) for z in rng.uniform(0.2, 5.8, 2))
        x = round(float(rng.choice([0.9, 0.95, 1.3, 2.0, 2.05, 2.9])), 2)
        pipes[f"P{k}"] = ((0.5, z0), (x, z0), (x, z1), (3.5, z1))
    return pipes


def gap_shortfall(pipes: dict[str, tuple[Point, ...]]) -> float:
    """How much closer than a pitch the risers that overlap in height are, summed over all pairs, m."""
    risers = [(p[1][0], *sorted((p[1][1], p[2][1]))) for p in pipes.values()]
    return sum(
        max(0.0, 0.1 - abs(a[0] - b[0]))
        for k, a in enumerate(risers) for b in risers[k + 1 :] if min(a[2], b[2]) > max(a[1], b[1])
    )  # fmt: skip


def crossings_when_parted(pipes: dict[str, tuple[Point, ...]], seed: int) -> float:
    """Crossings the pipes have once those on one line are set a hair apart at random, as they come: the
    median."""
    rng = np.random.default_rng(seed)
    counts = []
    for _ in range(41):
        off = dict(zip(pipes, 0.002 * rng.permutation(len(pipes))))
        jittered = {p: (q[0], (q[1][0] + off[p], q[1][1]), (q[2][0] + off[p], q[2][1]), q[3]) for p, q in pipes.items()}
        counts.append(count_crossings(jittered))
    return float(np.median(counts))


def test_random_corridors_keep_their_promises_and_most_become_tidier() -> None:
    boxes = [(0.0, 0.0, 0.5, 6.0), (3.5, 0.0, 4.0, 6.0), (1.6, 2.5, 1.9, 3.0)]
    tidier = 0
    for seed in range(30):
        pipes = random_corridor(seed)
        clear = {pipe for pipe, points in pipes.items() if clear_of(points, boxes)}
        new = tidy_corridors(pipes, {"P3": frozenset({1})}, boxes)
        after = pipes | new
        assert count_crossings(after) <= crossings_when_parted(pipes, seed)
        assert after["P3"] == pipes["P3"]
        assert gap_shortfall(after) <= gap_shortfall(pipes) + 1e-9
        tidier += gap_shortfall(after) < 0.5 * gap_shortfall(pipes)
        for pipe, points in after.items():
            assert [z for _, z in points] == [z for _, z in pipes[pipe]], "a height changed"
            assert max(abs(p[0] - q[0]) for p, q in zip(points, pipes[pipe])) <= 0.3005
            assert pipe not in clear or clear_of(points, boxes)
            assert points[1][0] - points[0][0] >= 0.0995 and points[-1][0] - points[-2][0] >= 0.0995
    assert tidier >= 20
