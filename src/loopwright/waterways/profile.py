"""Heights along a walk: vertices in order, dips, humps, falls, level runs.

Two heights are level within 5 mm. A pipe marked `graded` counts as rising 1:120 towards the end its mark names; the
mark bears only on level runs, so it never hides a drawn fall. A fitting in line lies as the pipe beside it.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import accumulate, pairwise

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


def length_m(ways: Waterways, element: Element) -> float:
    """Developed length of a pipe, m: as drawn and what the section cannot show; of a way its size on the sheet."""
    drawn = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in pairwise(points_of(ways, element)))
    return drawn + (ways.sheet.pipes[element.pipe].extra_length_m if element.pipe else 0.0)


def is_waterway(ways: Waterways, element: Element) -> bool:
    """Whether the inside of the element is not examined for shape (emitters, coils, large parts)."""
    return bool(element.part) and (
        element.does in (Behaviour.EMITTER, Behaviour.COIL, Behaviour.SOURCE) or ways.kind(element.part).large
    )


def stops(ways: Waterways, steps: Iterable[Step]) -> list[Stop]:
    """The vertices of a walk in order.

    Insides of large parts give only the place where the walk leaves them: the middle of a body, or the
    water in a source, is no place on the way.
    """
    out: list[Stop] = []
    lift = 0.0
    steps = list(steps)
    for (key, forward), grade in zip(steps, _grades(ways, steps)):
        element = ways.elements[key]
        points = points_of(ways, element)
        if not forward:
            points = points[::-1]
        if is_waterway(ways, element):
            points = points[-1:] if out and (element.b if forward else element.a)[0] == "port" else []
        before: Point | None = None
        for point in points:
            if before is not None and grade and abs(point[1] - before[1]) <= LEVEL_M:
                lift += grade * GRADE * abs(point[0] - before[0])
            out.append(Stop(key, point, point[1] + lift, grade if before is not None else 0))
            before = point
    return out


def _grades(ways: Waterways, steps: list[Step]) -> list[int]:
    """Per step: +1 graded to rise along the walk, -1 to fall, 0 not graded."""
    own: list[int | None] = []
    for key, forward in steps:
        pipe = ways.sheet.pipes.get(ways.elements[key].pipe)
        own.append(None if pipe is None else 0 if not pipe.graded else 1 if (pipe.graded == "b") == forward else -1)
    before, after = list(accumulate(own, _last)), list(accumulate(reversed(own), _last))[::-1]
    out = []
    for (key, _), grade, one, two in zip(steps, own, before, after):
        if grade is None:
            beside = {one, two} - {None, 0}
            grade = beside.pop() or 0 if len(beside) == 1 and not ways.kind(ways.elements[key].part).large else 0
        out.append(grade)
    return out


def _last(before: int | None, here: int | None) -> int | None:
    return before if here is None else here


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
            first, last = top_index, top_index  # the level top, and no other place that happens to be as high
            while first and abs(walk[first - 1][1] - top) <= LEVEL_M:
                first -= 1
            while last + 1 < len(walk) and abs(walk[last + 1][1] - top) <= LEVEL_M:
                last += 1
            keys = tuple(dict.fromkeys(s.key for s, _ in walk[first : last + 1]))
            out.append(Bend(stop.key, stop.at, min(top - low, top - after), keys))
            rising, low = False, z
    return sorted(out, key=lambda b: -b.depth_m)


def falls(walk: list[Stop]) -> list[tuple[Stop, float]]:
    """Vertices at which a walk that should rise has fallen, with the fall from the last vertex in metres."""
    out = []
    for before, here in pairwise(walk):
        if here.z < before.z - LEVEL_M:
            out.append((here, before.z - here.z))
    return out


def level_runs(walk: list[Stop]) -> list[tuple[Stop, float]]:
    """Level runs that are not graded: where they end, and their length in metres."""
    out: list[tuple[Stop, float]] = []
    on = False
    for before, here in pairwise(walk):
        length = abs(here.at[0] - before.at[0])
        if here.at == before.at:
            continue  # where one element ends and the next begins
        level = abs(here.at[1] - before.at[1]) <= LEVEL_M and not here.grade and length > LEVEL_M
        if level and on:
            out[-1] = (here, out[-1][1] + length)
        elif level:
            out.append((here, length))
        on = level
    return out
