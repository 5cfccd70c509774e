"""The same again, piped alike: a copy of some parts above them, each pipe that leaves them teed into its twin.

Owns where the copy stands and where its tees go. Knows no pointer and no water.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise
from math import dist

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError, SheetError
from loopwright.sheet import routing
from loopwright.sheet.geometry import polyline
from loopwright.sheet.joining import connect, tee_into
from loopwright.sheet.pieces import cut_out, put_in
from loopwright.sheet.pipework import boxes_of, end_port, other_runs
from loopwright.sheet.plane import Box, Dir, overlap, same
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import End, Pipe, Point, Sheet

GAP_M = 0.4
"""Between the parts and their copy."""
SHARES = (0.5, 0.3, 0.7)
"""Where along a run a tee is tried."""
LEAST_RUN_M = 0.4
STEPS = tuple((0.0, float(n)) for n in (1, 2, 3)) + tuple((float(n), 0.0) for n in (1, -1, 2, -2))


def again(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> tuple[Sheet, frozenset[str]]:
    """The sheet with the parts named once more, above them or where else there is room, and the ids of the copies.

    Every pipe from one of them to something else is matched: the copy's port is piped to a tee in that pipe. Fittings
    that sit right at them (a radiator's valves) are copied with them. Raises SheetError for no parts, and where no tee
    fits.
    """
    piece = cut_out(sheet, _with_fittings(sheet, ids, catalogue))
    mine = set(piece.parts)
    boxes = [box_of(part, catalogue) for part in piece.parts.values()]
    x0, z0, x1, z1 = (pick(box[k] for box in boxes) for k, pick in enumerate((min, min, max, max)))
    others = [box_of(part, catalogue) for key, part in sheet.parts.items() if key not in mine]
    dx, dz = next(
        (by for by in _shifts(x1 - x0, z1 - z0) if not any(_touch((x0, z0, x1, z1), by, box) for box in others)),
        (0.0, round(z1 - z0 + GAP_M, 2)),
    )
    leaving = [
        (pipe, end)
        for pipe in sheet.pipes.values()
        for end, other in ((pipe.a, pipe.b), (pipe.b, pipe.a))
        if end.part in mine and other.part not in mine and not pipe.joint
    ]
    made, _ = put_in(sheet, piece, dx, dz)
    new = [key for key in made.parts if key not in sheet.parts]
    twins = dict(zip(piece.parts, new))
    for pipe, end in leaving:
        made = _teed(made, pipe, End(twins[end.part], end.port), catalogue)
    return made, frozenset(new)


def _with_fittings(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> set[str]:
    """The parts named with the fittings in line that stand so near to them that no tee fits between."""
    out = {i for i in ids if i in sheet.parts}
    fresh = sorted(out)
    while fresh:
        part = fresh.pop()
        for pipe in sheet.pipes_of(part):
            other = pipe.other(part).part
            through = catalogue[sheet.parts[other].kind].through
            near = max(dist(*run) for run in pairwise(polyline(sheet, pipe, catalogue))) < LEAST_RUN_M
            piped = len(sheet.pipes_of(other)) == 2
            if other not in out and near and piped and through is not None:
                out.add(other)
                fresh.append(other)
    return out


def _shifts(wide: float, tall: float) -> list[Point]:
    """Where the copy may go, nearest first: above, then beside."""
    steps = [(x * (wide + GAP_M), z * (tall + GAP_M)) for x, z in STEPS]
    return [(round(round(x / 0.05) * 0.05, 2), round(round(z / 0.05) * 0.05, 2)) for x, z in steps]


def _touch(box: Box, by: Point, other: Box) -> bool:
    return overlap((box[0] + by[0], box[1] + by[1], box[2] + by[0], box[3] + by[1]), other)


def _teed(sheet: Sheet, pipe: Pipe, end: End, catalogue: Catalogue) -> Sheet:
    """A pipe from a free port to a tee in a pipe, where the way is cheapest."""
    port = end_port(sheet, end, catalogue)
    line = polyline(sheet, sheet.pipes[pipe.id], catalogue)
    boxes, runs = boxes_of(sheet, catalogue), other_runs(sheet, catalogue, {pipe.id})
    tried: list[tuple[float, Point, Dir]] = []
    for a, b in pairwise(line):
        long = abs(a[0] - b[0]) + abs(a[1] - b[1])
        if long < LEAST_RUN_M or not (same(a[0], b[0]) or same(a[1], b[1])):
            continue
        sides: tuple[Dir, Dir] = ("up", "down") if same(a[1], b[1]) else ("left", "right")
        for share in SHARES:
            at = (round(a[0] + (b[0] - a[0]) * share, 3), round(a[1] + (b[1] - a[1]) * share, 3))
            for side in sides:
                way = routing.route(port.at, port.side, at, side, boxes, runs, 60)
                tried.append((way.cost, at, side))
    refused: LoopwrightError = SheetError(
        f"{pipe.id} has no run long enough for a tee", do="Move its parts farther apart, or pipe the copy by hand"
    )
    for _cost, at, side in sorted(tried):
        try:
            after, branch = tee_into(sheet, pipe.id, at, catalogue, towards=side)
            return connect(after, end, branch, catalogue, size=pipe.size, material=pipe.material)
        except LoopwrightError as bad:
            refused = bad
    raise refused
