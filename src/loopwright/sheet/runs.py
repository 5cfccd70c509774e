"""Owns a pipe's polyline seen as runs: level or upright, and attached, held or free.

Refuses to know pipes as records, ports as records, or what moves them. Run 0 begins at end a; run k goes from
vertex k to vertex k + 1 of the whole polyline, ends included.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal

from loopwright.sheet.plane import Point, is_level, is_upright, same

Way = Literal["level", "upright", "sloping"]
Hold = Literal["attached", "held", "free"]


@dataclass(frozen=True, slots=True)
class PipeRun:
    """One run. `at_m` is its height if level, its x if upright (of a sloping run: the height it begins at).

    `attached`: its coordinate is that of the port it begins or ends at. `held`: a person placed it; no
    algorithm moves it. `free`: the router's. A sloping run is always held.
    """

    number: int
    way: Way
    hold: Hold
    at_m: float
    begin: Point
    end: Point

    @property
    def length_m(self) -> float:
        """Developed length, m."""
        return hypot(self.end[0] - self.begin[0], self.end[1] - self.begin[1])


def way_of(a: Point, b: Point) -> Way:
    """Level, upright or sloping; a stretch without length counts as level."""
    if same(a[1], b[1]):
        return "level"
    return "upright" if same(a[0], b[0]) else "sloping"


def runs_of(points: Sequence[Point], held: Iterable[int] = ()) -> tuple[PipeRun, ...]:
    """The runs of a polyline given by all its vertices, ends included. `held` are numbers of runs placed by
    hand.

    The first and the last run are attached even when they are listed as held: they follow their ports.
    """
    keep = frozenset(held)
    last = len(points) - 2
    out: list[PipeRun] = []
    for k in range(last + 1):
        a, b = points[k], points[k + 1]
        way = way_of(a, b)
        hold: Hold = "free"
        if way == "sloping":
            hold = "held"
        elif k in (0, last):
            hold = "attached"
        elif k in keep:
            hold = "held"
        out.append(PipeRun(k, way, hold, a[0] if way == "upright" else a[1], a, b))
    return tuple(out)


def merged(points: Sequence[Point], held: Iterable[int]) -> tuple[tuple[Point, ...], frozenset[int]]:
    """The same polyline without empty runs and with neighbouring runs in one line joined, and the held
    numbers anew.

    A joined run is held if any of its pieces with a length was. A run that has shrunk to nothing holds
    nothing.
    """
    keep = frozenset(held)
    chain: list[Point] = [points[0]]
    marks: list[bool] = []
    for k, point in enumerate(points[1:]):
        last = chain[-1]
        if same(last[0], point[0]) and same(last[1], point[1]):
            continue
        mark = k in keep
        if marks and _one_line(chain[-2], last, point):
            mark = marks.pop() or mark
            chain.pop()
        chain.append(point)
        marks.append(mark)
    if len(chain) == 1:
        return (points[0], points[-1]), frozenset()
    chain[-1] = points[-1]
    return tuple(chain), frozenset(k for k, mark in enumerate(marks) if mark)


def shifted(points: Sequence[Point], dx_m: float, dz_m: float) -> tuple[Point, ...]:
    """The whole polyline moved: what happens to a pipe when the parts at both its ends move together."""
    return tuple((x + dx_m, z + dz_m) for x, z in points)


def _one_line(a: Point, b: Point, c: Point) -> bool:
    """Whether b lies between a and c on one level or upright line (going on, or turning straight back)."""
    return (is_level(a, b) and is_level(b, c)) or (is_upright(a, b) and is_upright(b, c))
