"""Dimensions of a sheet: where their feet stand, what they measure, and how they follow the parts they stand on.

Owns these rules as pure functions. Knows nothing of how a dimension is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import pairwise

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.sheet.change import check_dimension, check_id, ids_in_use
from loopwright.sheet.geometry import polyline
from loopwright.sheet.ports import place, ports_of, size_of
from loopwright.sheet.values import Dimension, Foot, Point, Sheet


def foot_at(sheet: Sheet, foot: Foot, catalogue: Catalogue) -> Point | None:
    """Where a foot stands, m. None when its part is gone; a port that is gone leaves the part's origin, and a pipe
    that is gone the place where the foot was put."""
    if foot.pipe in sheet.pipes:
        return _on_run(polyline(sheet, sheet.pipes[foot.pipe], catalogue), foot)
    if not foot.part:
        return foot.x_m, foot.height_m
    part = sheet.parts.get(foot.part)
    if part is None:
        return None
    if not foot.port:
        return round(part.x_m + foot.x_m, 6), round(part.height_m + foot.height_m, 6)
    port = ports_of(part, catalogue).get(foot.port)
    if port is not None:
        return port.at
    tapping = part.tapping(foot.port)  # a pocket takes no pipe and is no port, but has a height
    if tapping is not None:
        half = size_of(part, catalogue[part.kind])[0] / 2
        return place(part, {"left": -half, "right": half}.get(tapping.side, 0.0), tapping.height_m)
    return part.x_m, part.height_m


def _on_run(line: Sequence[Point], foot: Foot) -> Point:
    """The place on a pipe that a foot has come to: on the run that lies as it did and passes nearest."""
    x, z = foot.x_m, foot.height_m
    best: tuple[float, Point] | None = None
    for a, b in pairwise(line):
        level = abs(a[1] - b[1]) <= abs(a[0] - b[0])
        if foot.run and level != (foot.run == "level"):
            continue
        along = _within(x, a[0], b[0]), _within(z, a[1], b[1])
        # beyond the end of a run counts more than beside it: a run moves sideways, and keeps its ends
        off, beside = (abs(along[0] - x), abs(along[1] - z)) if level else (abs(along[1] - z), abs(along[0] - x))
        if best is None or 3.0 * off + beside < best[0]:
            best = 3.0 * off + beside, along
    return (x, z) if best is None else (round(best[1][0], 6), round(best[1][1], 6))


def _within(value: float, one: float, two: float) -> float:
    return min(max(value, min(one, two)), max(one, two))


def freed_feet(before: Sheet, after: Sheet, catalogue: Catalogue) -> Sheet:
    """The sheet after some pipes went, with the feet that stood on them where they stood last."""

    def freed(foot: Foot) -> Foot:
        if not foot.pipe or foot.pipe in after.pipes:
            return foot
        x, z = foot_at(before, foot, catalogue) or (foot.x_m, foot.height_m)
        return Foot(x_m=x, height_m=z)

    return _with(
        after, (msgspec.structs.replace(d, a=freed(d.a), b=freed(d.b)) if _on_pipes(d) else d for d in after.dimensions)
    )


def _on_pipes(dimension: Dimension) -> bool:
    return bool(dimension.a.pipe or dimension.b.pipe)


def measured_m(sheet: Sheet, dimension: Dimension, catalogue: Catalogue) -> float | None:
    """The height, or width, between the two feet, m, never negative; None when a part is gone."""
    a, b = foot_at(sheet, dimension.a, catalogue), foot_at(sheet, dimension.b, catalogue)
    way = 1 if dimension.level_m is None else 0
    return None if a is None or b is None else abs(a[way] - b[way])


def put_dimension(sheet: Sheet, dimension: Dimension) -> Sheet:
    """A dimension put in, or exchanged for the one of that id. Raises SheetError."""
    check_dimension(sheet, dimension)
    if any(d.id == dimension.id for d in sheet.dimensions):
        new = tuple(dimension if d.id == dimension.id else d for d in sheet.dimensions)
    else:
        check_id(dimension.id, ids_in_use(sheet))
        new = (*sheet.dimensions, dimension)
    return msgspec.structs.replace(sheet, dimensions=new)


def moved_dimensions(sheet: Sheet, named: Collection[str], parts: Collection[str], dx: float, dz: float) -> Sheet:
    """The sheet with its dimensions moved: those named by their free feet and their line, and the line of those that
    stand with both feet on moved parts."""

    def moved(d: Dimension) -> Dimension:
        whole = d.id in named
        if not whole and not all(f.part in parts for f in (d.a, d.b)):
            return d
        a, b = (
            msgspec.structs.replace(f, x_m=round(f.x_m + dx, 6), height_m=round(f.height_m + dz, 6))
            if whole and not f.part and f.pipe not in sheet.pipes
            else f
            for f in (d.a, d.b)
        )
        level = None if d.level_m is None else round(d.level_m + dz, 6)
        return msgspec.structs.replace(d, a=a, b=b, x_m=round(d.x_m + dx, 6), level_m=level)

    return _with(sheet, map(moved, sheet.dimensions))


def without_dimensions(sheet: Sheet, named: Collection[str], parts: Collection[str] = ()) -> Sheet:
    """The sheet without these dimensions and without those that stand on these parts."""
    return _with(
        sheet,
        (d for d in sheet.dimensions if d.id not in named and d.a.part not in parts and d.b.part not in parts),
    )


def with_feet(sheet: Sheet, change: Callable[[str], str]) -> Sheet:
    """The sheet with the parts that feet stand on under other ids."""

    def moved(d: Dimension) -> Dimension:
        a, b = (msgspec.structs.replace(f, part=change(f.part)) if f.part else f for f in (d.a, d.b))
        return d if (a, b) == (d.a, d.b) else msgspec.structs.replace(d, a=a, b=b)

    return _with(sheet, map(moved, sheet.dimensions))


def _with(sheet: Sheet, dimensions: Iterable[Dimension]) -> Sheet:
    new = tuple(dimensions)
    return sheet if new == sheet.dimensions else msgspec.structs.replace(sheet, dimensions=new)
