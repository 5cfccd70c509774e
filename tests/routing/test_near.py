"""Nearest ports, runs and boxes against shapely distances."""

from __future__ import annotations

import random

import pytest
from shapely import LineString, box
from shapely import Point as Place

from loopwright.sheet.near import Near

RNG = random.Random(11)


def some() -> float:
    return round(RNG.uniform(0, 10), 3)


PORTS = [(some(), some()) for _ in range(60)]
RUNS = [((x := some(), z := some()), (some(), z) if RNG.random() < 0.5 else (x, some())) for _ in range(80)]
BOXES = [(x := some(), z := some(), x + 0.1 + some() / 8, z + 0.1 + some() / 8) for _ in range(40)]
NEAR = Near.of(PORTS, RUNS, BOXES)


@pytest.mark.parametrize("where", [(some(), some()) for _ in range(40)])
def test_nearest_agrees_with_shapely(where: tuple[float, float]) -> None:
    at = Place(where)
    for hit, shapes in (
        (NEAR.port(where, 99), [Place(p) for p in PORTS]),
        (NEAR.run(where, 99), [LineString(r) for r in RUNS]),
        (NEAR.box(where, 99), [box(*b) for b in BOXES]),
    ):
        least = min(at.distance(s) for s in shapes)
        assert hit is not None
        assert hit.distance_m == pytest.approx(least, abs=1e-9)
        assert at.distance(shapes[hit.index]) == pytest.approx(least, abs=1e-9)
        assert shapes[hit.index].distance(Place(hit.point)) == pytest.approx(0, abs=1e-9)
        assert at.distance(Place(hit.point)) == pytest.approx(least, abs=1e-9)


def test_reach_is_kept_and_an_empty_sheet_has_nothing() -> None:
    empty = Near.of([], [], [])
    assert empty.port((0, 0), 9) is None and empty.run((0, 0), 9) is None and empty.box((0, 0), 9) is None
    near = Near.of([(1.0, 0.0)], [((0.0, 1.0), (2.0, 1.0))], [(3.0, 3.0, 4.0, 4.0)])
    assert near.port((0, 0), 0.9) is None and near.port((0, 0), 1.0) is not None
    assert near.run((1, 0), 0.9) is None and near.run((1, 0), 1.0) is not None
    assert near.box((2.9, 3.5)) is None and near.box((2.9, 3.5), 0.2) is not None


def test_of_boxes_that_hold_the_point_the_smallest_is_hit() -> None:
    near = Near.of([], [], [(0, 0, 9, 9), (4, 4, 5, 5), (4, 4, 7, 7)])
    hit = near.box((4.5, 4.5))
    assert hit is not None and hit.index == 1 and hit.distance_m == 0
