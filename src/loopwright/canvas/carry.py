"""What a changed sheet takes over from the one before it, until it is known better: services of pipes, and how far
things have been moved whole.

Owns these guesses and comparisons. Refuses to know scenes and surveys.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.drawing.look import Point
from loopwright.sheet.values import Part, Pipe, Sheet

TINY_M = 1e-6


def drift_of(old: Part, new: Part) -> Point:
    """How far a part has been moved, in drawing units."""
    dx, dz = new.x_m - old.x_m, new.height_m - old.height_m  # rounded, so that what goes along goes as far
    return round(dx * 100.0, 4), -round(dz * 100.0, 4)


def whole_drifts(old: Sheet, new: Sheet, parts: Collection[str], pipes: Collection[str]) -> dict[str, Point]:
    """Of some parts and pipes, those that were moved and not otherwise changed: how far, in drawing units."""
    out: dict[str, Point] = {}
    # most go the same way: it is worked out once, and is the same object for all
    ways: dict[Point, Point] = {}
    same: dict[Point, Point] = {}
    parts_before, parts_now = old.parts, new.parts
    for key in parts:
        was, now = parts_before.get(key), parts_now[key]
        if was is not None and _moved_part(was, now):
            exact = now.x_m - was.x_m, now.height_m - was.height_m
            way = ways.get(exact)
            if way is None:
                way = drift_of(was, now)
                way = ways[exact] = same.setdefault(way, way)
            out[key] = way
    pipes_before, pipes_now = old.pipes, new.pipes
    for key in pipes:
        pipe, before = pipes_now[key], pipes_before.get(key)
        way = out.get(pipe.a.part)
        if before is not None and way is not None and out.get(pipe.b.part) == way and _moved_pipe(before, pipe, way):
            out[key] = way
    return out


_X, _HEIGHT = (Part.__struct_fields__.index(field) for field in ("x_m", "height_m"))
assert _HEIGHT == _X + 1
_POINTS = Pipe.__struct_fields__.index("points")


def _moved_part(old: Part, new: Part) -> bool:
    """Whether nothing but its place differs."""
    one, two = msgspec.structs.astuple(old), msgspec.structs.astuple(new)
    return one[:_X] == two[:_X] and one[_HEIGHT + 1 :] == two[_HEIGHT + 1 :]


def _moved_pipe(old: Pipe, new: Pipe, way: Point) -> bool:
    """Whether nothing but its corners differs, and they by this way alone."""
    if old is new:
        return not old.points
    if len(old.points) != len(new.points):
        return False
    one, two = msgspec.structs.astuple(old), msgspec.structs.astuple(new)
    if one[:_POINTS] != two[:_POINTS] or one[_POINTS + 1 :] != two[_POINTS + 1 :]:
        return False
    dx, dz = way[0] / 100.0, -way[1] / 100.0
    for (xa, za), (xb, zb) in zip(old.points, new.points):
        if abs(xb - xa - dx) > TINY_M or abs(zb - za - dz) > TINY_M:
            return False
    return True


def carried_services(sheet: Sheet, known: Mapping[str, str], catalogue: Catalogue) -> dict[str, str]:
    """Services of the pipes that are still there; a new pipe takes that of a pipe beyond one of its
    fittings."""
    out = {k: known[k] for k in sheet.pipes if k in known}
    if len(out) == len(sheet.pipes):
        return out
    for key, pipe in sheet.pipes.items():
        if key not in out:
            fittings = [e.part for e in (pipe.a, pipe.b) if not catalogue[sheet.parts[e.part].kind].large]
            near = (known.get(p.id) for part in fittings for p in sheet.pipes_of(part) if p.id != key)
            found = next((s for s in near if s and s != "unknown"), None)
            out[key] = found or "unknown"  # said, so that it is not asked again at every move
    return out
