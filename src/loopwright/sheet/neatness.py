"""How neatly a pipe runs among others: its metres, bends, crossings, turns up and down, and what it runs into.

Owns one price for a line that is there, so that two ways can be compared. Refuses to find ways: `routing` does, and
draws pipes beside each other in doing so, which this leaves out of account.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from loopwright.sheet.geometry import drawn_length_m
from loopwright.sheet.plane import PITCH_M, Box
from loopwright.sheet.values import Point

BEND_M, CROSSING_M, REVERSAL_M, ENTERED_M, CROWDED = 0.6, 0.35, 1.6, 100.0, 4.0
"""Metres of plain pipe that a bend, a crossing, a turn from up to down, and a part run through are worth; and how many
times a metre closer than half a pitch beside another pipe counts."""
TINY_M = 1e-3


def untidiness(line: Sequence[Point], others: Iterable[Sequence[Point]], boxes: Iterable[Box]) -> float:
    """The price of a line among other lines and the boxes of parts, in metres of plain pipe."""
    runs = [(a, b) for a, b in pairwise(line) if a != b]
    ways = [b[1] - a[1] > 0 for a, b in runs if abs(b[1] - a[1]) > TINY_M]
    price = drawn_length_m(tuple(line)) + BEND_M * max(len(runs) - 1, 0)
    price += REVERSAL_M * sum(one != two for one, two in pairwise(ways))
    for box in boxes:
        price += ENTERED_M * sum(_inside(run, box) for run in runs)
    for other in others:
        for theirs in pairwise(other):
            for mine in runs:
                price += CROSSING_M * _cross(mine, theirs) + CROWDED * _beside(mine, theirs)
    return price


def _span(run: tuple[Point, Point], way: int) -> tuple[float, float]:
    return min(run[0][way], run[1][way]), max(run[0][way], run[1][way])


def _inside(run: tuple[Point, Point], box: Box) -> bool:
    """Whether a run passes through the inside of a box."""
    (x0, x1), (z0, z1) = _span(run, 0), _span(run, 1)
    return x1 > box[0] + TINY_M and x0 < box[2] - TINY_M and z1 > box[1] + TINY_M and z0 < box[3] - TINY_M


def _cross(one: tuple[Point, Point], two: tuple[Point, Point]) -> bool:
    """Whether a level and an upright run cross away from their ends."""
    (ax0, ax1), (az0, az1) = _span(one, 0), _span(one, 1)
    (bx0, bx1), (bz0, bz1) = _span(two, 0), _span(two, 1)
    if az1 - az0 < TINY_M and bx1 - bx0 < TINY_M:
        return ax0 + TINY_M < bx0 < ax1 - TINY_M and bz0 + TINY_M < az0 < bz1 - TINY_M
    if ax1 - ax0 < TINY_M and bz1 - bz0 < TINY_M:
        return bx0 + TINY_M < ax0 < bx1 - TINY_M and az0 + TINY_M < bz0 < az1 - TINY_M
    return False


def _beside(one: tuple[Point, Point], two: tuple[Point, Point]) -> float:
    """How far two parallel runs lie closer than half a pitch, m."""
    for way, across in ((0, 1), (1, 0)):
        mine, theirs = _span(one, across), _span(two, across)
        if mine[1] - mine[0] < TINY_M and theirs[1] - theirs[0] < TINY_M:
            if abs(mine[0] - theirs[0]) >= PITCH_M / 2:
                return 0.0
            low, high = zip(_span(one, way), _span(two, way))
            return max(min(high) - max(low), 0.0)
    return 0.0
