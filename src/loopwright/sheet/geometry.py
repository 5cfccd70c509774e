"""What a pipe's line says: its vertices, developed length and bends, and what of it is nearest to a place.

Joins pipes to the ports they end on. Knows nothing of routing, water or drawing.
"""

from __future__ import annotations

from itertools import pairwise
from math import dist, hypot

from loopwright.catalogue import Catalogue
from loopwright.sheet.plane import TINY_M
from loopwright.sheet.ports import port_of
from loopwright.sheet.values import Pipe, Point, Sheet


def polyline(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> tuple[Point, ...]:
    """All vertices of a pipe, its two ports included. Raises SheetError if a port does not exist."""
    a = port_of(sheet, pipe.a.part, pipe.a.port, catalogue)
    b = port_of(sheet, pipe.b.part, pipe.b.port, catalogue)
    return (a.at, *pipe.points, b.at)


def drawn_length_m(points: tuple[Point, ...]) -> float:
    """Length of a polyline, m."""
    return sum(dist(a, b) for a, b in pairwise(points))


def developed_length_m(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> float:
    """Drawn length plus what the section cannot show, m. A joint has none."""
    if pipe.joint:
        return 0.0
    return drawn_length_m(polyline(sheet, pipe, catalogue)) + pipe.extra_length_m


def bends(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> int:
    """Drawn corners plus `extra_bends`. Points in the middle of a straight stretch are no corners."""
    return _corners(polyline(sheet, pipe, catalogue)) + pipe.extra_bends


def _corners(points: tuple[Point, ...]) -> int:
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points) if dist(a, b) > TINY_M]
    count = 0
    for (ax, az), (bx, bz) in pairwise(steps):
        # the sine of the angle between two steps: anything beyond a hundredth is a bend, so is turning back
        cross = abs(ax * bz - az * bx) / (hypot(ax, az) * hypot(bx, bz))
        count += cross > 0.01 or ax * bx + az * bz < 0
    return int(count)


def nearest_on(points: tuple[Point, ...], at: Point) -> tuple[int, Point, float]:
    """The run of a polyline nearest to a place: its number, the foot on it, and how far that is, m.

    Of equally near runs the longest is taken, so that a corner belongs to the run with more room.
    """
    import numpy as np  # both heavy, and a check of a sheet does without this
    import shapely

    ends = np.asarray(points, dtype=float)
    lines = shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1))
    spot = shapely.Point(at)
    away = shapely.distance(lines, spot)
    length = shapely.length(lines)
    near = np.flatnonzero(away <= away.min() + TINY_M)
    k = int(near[np.argmax(length[near])])
    foot = shapely.line_interpolate_point(lines[k], shapely.line_locate_point(lines[k], spot))
    return k, (float(foot.x), float(foot.y)), float(away[k])
