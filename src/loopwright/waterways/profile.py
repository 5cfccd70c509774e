"""Heights along a walk: vertices in order, dips, humps, falls, level runs.

Two heights are level within 5 mm. A pipe marked `graded` counts as rising 1:120 towards the end its mark names; the mark
bears only on level runs and never hides a drawn fall.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.sheet.values import Point
from loopwright.waterways.graph import Element, Key, Waterways
from loopwright.waterways.skeleton import Step

LEVEL_M = 0.005
GRADE = 1.0 / 120.0


class Stop(msgspec.Struct, frozen=True):
    """A vertex of a walk: the element it belongs to, where it is, and its height with grading counted."""

    key: Key
    at: Point
    z: float
    grade: int = 0
    """+1 the run that arrives here is graded to rise along the walk, -1 to fall, 0 not graded."""


class Bend(msgspec.Struct, frozen=True):
    """A dip or a hump: its turning point, and its depth in metres."""

    key: Key
    at: Point
    depth_m: float
    keys: tuple[Key, ...]


def points_of(ways: Waterways, element: Element) -> list[Point]:
    """The vertices of an element from a to b."""
    if element.pipe:
        pipe = ways.sheet.pipes[element.pipe]
        return [ways.at[element.a], *pipe.points, ways.at[element.b]]
    return [ways.at[element.a], ways.at[element.b]]


def is_waterway(ways: Waterways, element: Element) -> bool:
    """Whether the inside of the element is not examined for shape (emitters, coils, large parts)."""
    return bool(element.part) and (element.does in (Behaviour.EMITTER, Behaviour.COIL, Behaviour.SOURCE)
                                   or ways.kind(element.part).large)


def stops(ways: Waterways, steps: Iterable[Step]) -> list[Stop]:
    """The vertices of a walk in order. Insides of large parts give only the place where the walk leaves them: the middle
    of a body is no place on the way."""
    out: list[Stop] = []
    lift = 0.0
    for key, forward in steps:
        element = ways.elements[key]
        points = points_of(ways, element)
        if not forward:
            points = points[::-1]
        if is_waterway(ways, element):
            points = points[-1:] if out and (element.b if forward else element.a)[0] != "body" else []
        mark = ways.sheet.pipes[element.pipe].graded if element.pipe else ""
        grade = 0 if not mark else (1 if (mark == "b") == forward else -1)
        before: Point | None = None
        for point in points:
            if before is not None:
                if abs(point[1] - before[1]) > LEVEL_M:
                    lift = 0.0  # a drawn rise or fall is far more than what grading adds: its own heights hold
                elif grade:
                    lift += grade * GRADE * abs(point[0] - before[0])
            out.append(Stop(key, point, point[1] + lift, grade if before is not None else 0))
            before = point
    return out


def dips(walk: list[Stop]) -> list[Bend]:
    """Falls followed by a rise, deepest first."""
    return _bends([(s, -s.z) for s in walk])


def humps(walk: list[Stop]) -> list[Bend]:
    """Rises followed by a fall, highest first. The ends of the walk are no humps."""
    return _bends([(s, s.z) for s in walk])


def _bends(walk: list[tuple[Stop, float]]) -> list[Bend]:
    """Local tops of a height line that stand more than LEVEL_M above both sides."""
    out: list[Bend] = []
    if not walk:
        return out
    low, top, top_index = walk[0][1], walk[0][1], 0
    rising = False
    for index, (_stop, z) in enumerate(walk):
        if not rising:
            low = min(low, z)
            if z > low + LEVEL_M:
                rising, top, top_index = True, z, index
        elif z > top + 1e-9:
            top, top_index = z, index
        elif z < top - LEVEL_M:
            after = z
            for _s, later in walk[index:]:  # how far it falls before it climbs past this again
                if later > after + LEVEL_M:
                    break
                after = min(after, later)
            stop = walk[top_index][0]
            keys = tuple(dict.fromkeys(s.key for s, zz in walk if abs(zz - top) <= LEVEL_M))
            out.append(Bend(stop.key, stop.at, min(top - low, top - after), keys))
            rising, low = False, z
    return sorted(out, key=lambda b: -b.depth_m)


def falls(walk: list[Stop]) -> list[tuple[Stop, float]]:
    """Vertices at which a walk that should rise has fallen, with the fall from the last vertex in metres."""
    out = []
    for before, here in zip(walk, walk[1:]):
        if here.z < before.z - LEVEL_M:
            out.append((here, before.z - here.z))
    return out


def level_runs(walk: list[Stop]) -> list[tuple[Stop, float]]:
    """Level runs that are not graded: where they end, and their length in metres."""
    out: list[tuple[Stop, float]] = []
    for before, here in zip(walk, walk[1:]):
        length = abs(here.at[0] - before.at[0])
        if abs(here.at[1] - before.at[1]) <= LEVEL_M and not here.grade and length > LEVEL_M:
            if out and out[-1][0] is before:
                out[-1] = (here, out[-1][1] + length)
            else:
                out.append((here, length))
    return out
