"""Hops against shapely's own crossing of lines, and touched-only against from scratch."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from shapely import LineString

from loopwright.sheet.crossings import HOP_M, Crossings, Hop, all_hops, count_crossings, hops_of
from loopwright.sheet.plane import Point

Pipes = dict[str, tuple[Point, ...]]


def random_pipe(rng: random.Random) -> tuple[Point, ...]:
    x, z, upright = rng.randint(0, 60), rng.randint(0, 60), rng.random() < 0.5
    points = [(x / 20, z / 20)]
    for _ in range(rng.randint(1, 5)):
        step = rng.choice([-1, 1]) * rng.randint(2, 30)
        x, z = (x, z + step) if upright else (x + step, z)
        points.append((x / 20, z / 20))
        upright = not upright
    return tuple(points)


def random_sheet(seed: int, count: int = 25) -> Pipes:
    rng = random.Random(seed)
    return {f"P{n}": random_pipe(rng) for n in range(count)}


def true_crossings(pipes: Pipes) -> list[tuple[str, int, str, int, Point]]:
    """(riser's pipe, run, level run's pipe, run, point) by shapely, each pair of runs looked at."""
    runs = [(p, k, a, b) for p, points in pipes.items() for k, (a, b) in enumerate(pairwise(points))]
    out = []
    for p, k, a, b in runs:
        for q, m, c, d in runs:
            if p != q and a[0] == b[0] and c[1] == d[1] and LineString([a, b]).crosses(LineString([c, d])):
                met = LineString([a, b]).intersection(LineString([c, d]))
                ends = (a, b, c, d)
                if all(met.distance(LineString([e, e]).centroid) > 1e-9 for e in ends):
                    out.append((p, k, q, m, (met.x, met.y)))
    return out


@pytest.mark.parametrize("seed", range(8))
def test_every_crossing_of_shapely_has_its_hop(seed: int) -> None:
    pipes = random_sheet(seed)
    expected: dict[str, set[tuple[int, Point, bool, str]]] = {}
    crossings = true_crossings(pipes)
    for riser, k, level, m, at in crossings:
        room = min(abs(at[1] - z) for _, z in pipes[riser][k : k + 2])
        level_room = min(abs(at[0] - x) for x, _ in pipes[level][m : m + 2])
        if room >= 2 * HOP_M - 1e-6:
            expected.setdefault(riser, set()).add((k, at, True, level))
        elif level_room >= 2 * HOP_M - 1e-6:
            expected.setdefault(level, set()).add((m, at, False, riser))
    found = all_hops(pipes)
    assert {p: {(h.run, h.point, h.upright, h.over) for h in hops} for p, hops in found.items()} == expected
    assert sum(map(len, found.values())) == sum(map(len, expected.values()))
    assert count_crossings(pipes) == len(crossings)


@pytest.mark.parametrize("seed", range(20, 40))
def test_looking_only_at_what_was_touched_gives_the_same(seed: int) -> None:
    pipes = random_sheet(seed)
    before = all_hops(pipes)
    rng = random.Random(seed)
    touched = set(rng.sample(sorted(pipes), 4))
    after = dict(pipes)
    for name, what in zip(sorted(touched), ("change", "change", "delete", "delete")):
        del after[name]
        if what == "change":
            after[name] = random_pipe(rng)
    after["new"] = random_pipe(rng)
    touched.add("new")
    found = hops_of(touched, after, before)
    assert found == all_hops(after)
    for pipe, hops in found.items():
        if pipe in before and before[pipe] == hops:
            assert hops is before[pipe]


@pytest.mark.parametrize("seed", range(20, 30))
def test_crossings_kept_through_edits_are_those_of_the_whole_sheet(seed: int) -> None:
    rng, pipes, kept = random.Random(seed), random_sheet(seed), Crossings()
    kept.update(pipes)
    for step in range(6):
        before = dict(kept.hops)
        names = rng.sample(sorted(pipes), 3 if step < 5 else len(pipes) - 1)
        gone = names[:1]
        new = {name: random_pipe(rng) for name in [*names[1:], f"new{step}"]}
        pipes = {**{k: v for k, v in pipes.items() if k not in gone}, **new}
        changed = kept.update(new, gone)
        assert kept.hops == all_hops(pipes) and kept.lines == pipes
        assert changed == {p for p in pipes if before.get(p, ()) != kept.hops.get(p, ())}
        for pipe in pipes:
            assert set(kept.over(pipe)) == {p for p, hops in kept.hops.items() if any(h.over == pipe for h in hops)}


def test_mirrored_sheet_mirrored_hops() -> None:
    pipes = random_sheet(3)
    mirrored = {p: tuple((-x, z) for x, z in points) for p, points in pipes.items()}
    assert all_hops(mirrored) == {
        p: tuple(Hop(h.run, (-h.point[0], h.point[1]), h.upright, h.over) for h in hops)
        for p, hops in all_hops(pipes).items()
    }


def test_the_riser_hops_and_near_its_corner_the_level_run() -> None:
    level = ((0.0, 1.0), (4.0, 1.0))
    assert all_hops({"A": level, "B": ((2.0, 0.0), (2.0, 2.0))}) == {"B": (Hop(0, (2.0, 1.0), True, "A"),)}
    assert all_hops({"A": level, "B": ((2.0, 0.95), (2.0, 2.0))}) == {"A": (Hop(0, (2.0, 1.0), False, "B"),)}
    assert all_hops({"A": level, "B": ((2.0, 1.0), (2.0, 2.0))}) == {}, "a branch is no crossing"
    assert all_hops({"A": level, "B": ((0.05, 0.95), (0.05, 2.0))}) == {}
    assert all_hops({}) == {} and hops_of(["A"], {}, {"A": ()}) == {}
