"""Owns the plain geometry words of a section: points, boxes, runs, directions, and rounding to the
millimetre.

Refuses to know parts, pipes or fluids. A point is (x_m, height_m), height positive upwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Literal

Point = tuple[float, float]
"""(x_m, height_m)."""
Dir = Literal["left", "right", "up", "down"]
"""The way out of a port."""
Box = tuple[float, float, float, float]
"""(x0_m, z0_m, x1_m, z1_m) with x0 <= x1 and z0 <= z1."""
Run = tuple[Point, Point]
"""One straight stretch of a pipe, along an axis."""

STEPS: dict[str, tuple[int, int]] = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}
OPPOSITE: dict[str, Dir] = {"left": "right", "right": "left", "up": "down", "down": "up"}

PITCH_M = 0.10
"""Least distance between the centre lines of two pipes drawn side by side."""
STUB_M = 0.10
"""Least straight stretch before a pipe turns after a port."""
TINY_M = 0.0005
"""Half a millimetre: stored coordinates are whole millimetres, so anything nearer is the same place."""


def to_mm(value_m: float) -> int:
    """A length in metres as whole millimetres, halves away from zero so that mirrored input stays
    mirrored."""
    size = int(abs(value_m) * 1000.0 + 0.5)
    return size if value_m >= 0 else -size


def rounded(point: Point) -> Point:
    """The point on whole millimetres."""
    return to_mm(point[0]) / 1000.0, to_mm(point[1]) / 1000.0


def same(a: float, b: float) -> bool:
    """Whether two coordinates in metres are one coordinate on the sheet."""
    return abs(a - b) <= TINY_M


def is_level(a: Point, b: Point) -> bool:
    """Whether the stretch from a to b keeps its height and has a length."""
    return same(a[1], b[1]) and not same(a[0], b[0])


def is_upright(a: Point, b: Point) -> bool:
    """Whether the stretch from a to b keeps its x and has a length."""
    return same(a[0], b[0]) and not same(a[1], b[1])


def cleaned(points: Iterable[Point]) -> tuple[Point, ...]:
    """The same polyline without repeated points and without points in the middle of a straight stretch.

    The two ends are always kept, even when they are one place.
    """
    chain: list[Point] = []
    for point in points:
        if chain and same(chain[-1][0], point[0]) and same(chain[-1][1], point[1]):
            if len(chain) > 1:
                chain[-1] = point  # so that the last end survives as given
            continue
        while len(chain) > 1 and _in_line(chain[-2], chain[-1], point):
            chain.pop()
        chain.append(point)
    return tuple(chain)


def _in_line(a: Point, b: Point, c: Point) -> bool:
    """Whether b adds nothing between a and c: both stretches level, or both upright."""
    return (same(a[1], b[1]) and same(b[1], c[1])) or (same(a[0], b[0]) and same(b[0], c[0]))


def box_round(a: Point, b: Point) -> Box:
    """The box that has two places for opposite corners."""
    return min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])


def overlap(one: Box, two: Box) -> bool:
    """Whether two boxes share more than a side; a line as a box has no inside, and still lies in another's."""
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


def enters_box(a: Point, b: Point, box: Box) -> bool:
    """Whether the axis-parallel stretch a to b has a length inside the box; touching a side is not
    entering."""
    x0, z0, x1, z1 = box
    if same(a[1], b[1]):
        return z0 + TINY_M < a[1] < z1 - TINY_M and min(max(a[0], b[0]), x1) - max(min(a[0], b[0]), x0) > TINY_M
    return x0 + TINY_M < a[0] < x1 - TINY_M and min(max(a[1], b[1]), z1) - max(min(a[1], b[1]), z0) > TINY_M


def clear_of(points: Sequence[Point], boxes: Sequence[Box]) -> bool:
    """Whether no stretch of the polyline enters any of the boxes."""
    return not any(enters_box(a, b, box) for a, b in pairwise(points) for box in boxes)
