"""Runs of a polyline and back; lengths against shapely."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from loopwright.sheet.plane import Point
from loopwright.sheet.runs import merged, runs_of, shifted

LIFT: tuple[Point, ...] = ((0.0, 1.0), (1.0, 1.0), (1.0, 2.5), (3.0, 2.5))


def test_ways_and_holds() -> None:
    runs = runs_of(((0, 0), (1, 0), (1, 1), (2, 1), (2, 2), (3, 2), (4, 3), (4, 4)), {2})
    assert [r.way for r in runs] == ["level", "upright", "level", "upright", "level", "sloping", "upright"]
    assert [r.hold for r in runs] == ["attached", "free", "held", "free", "free", "held", "attached"]
    assert [r.at_m for r in runs[:5]] == [0, 1, 1, 2, 2]


def test_an_end_run_is_attached_even_when_it_was_placed_by_hand() -> None:
    assert [r.hold for r in runs_of(LIFT, {0, 1})] == ["attached", "held", "attached"]


@st.composite
def polylines(draw: st.DrawFn) -> tuple[Point, ...]:
    """Alternating level and upright runs with whole millimetres, no empty one."""
    x, z = draw(st.integers(0, 4000)), draw(st.integers(0, 4000))
    upright = draw(st.booleans())
    points = [(x / 1000, z / 1000)]
    for length in draw(st.lists(st.integers(1, 3000), min_size=1, max_size=7)):
        length *= draw(st.sampled_from([-1, 1]))
        x, z = (x, z + length) if upright else (x + length, z)
        points.append((x / 1000, z / 1000))
        upright = not upright
    return tuple(points)


@given(polylines())
@settings(max_examples=150, deadline=None)
def test_corners_come_back_from_the_runs_and_lengths_agree_with_shapely(points: tuple[Point, ...]) -> None:
    runs = runs_of(points)
    assert (runs[0].begin, *(run.end for run in runs)) == points
    assert sum(r.length_m for r in runs) == pytest.approx(LineString(points).length)


@given(polylines(), st.data())
@settings(max_examples=150, deadline=None)
def test_points_put_into_runs_and_taken_out_again_leave_the_pipe_as_it_was(
    points: tuple[Point, ...], data: st.DataObject
) -> None:
    held = data.draw(st.frozensets(st.integers(0, len(points) - 2)))
    many: list[Point] = [points[0]]
    marks: set[int] = set()
    for k, (a, b) in enumerate(pairwise(points)):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        pieces = data.draw(st.sampled_from([[b], [middle, b], [b, b]]))
        for piece in pieces:
            if k in held:
                marks.add(len(many) - 1)
            many.append(piece)
    tall = [abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairwise(points)]
    if min(tall) > 0.002:
        assert merged(many, marks) == (points, held)


def test_a_moved_pipe_keeps_its_shape() -> None:
    moved = shifted(LIFT, 0.5, -0.25)
    assert LineString(moved).length == pytest.approx(LineString(LIFT).length)
    assert moved[0] == (0.5, 0.75)
