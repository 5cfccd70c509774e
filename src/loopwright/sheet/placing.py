"""Where new parts go: beside each other on the sheet, in a row in a pipe, on a free port, or on a vessel's shell.

Owns these edits, each for one part or several in a row. Pure functions; knows nothing of pointers.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import SheetError
from loopwright.sheet.change import ids_in_use, new_id, with_part
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.joining import BRANCH_M, branch_from, connect, faced, insert_in_pipe
from loopwright.sheet.pipework import boxes_of, end_port
from loopwright.sheet.plane import OPPOSITE, STEPS, TINY_M, Box, Dir, box_round, overlap
from loopwright.sheet.ports import Port, box_of, ports_of
from loopwright.sheet.values import End, Part, Point, Sheet, TappingSide
from loopwright.sheet.vessels import add_tapping

APART_M = 0.4
"""Between the middles of fittings set in a row in a pipe, and between parts set beside each other."""
UPRIGHT_M = (0.2, 0.3)
"""How far out, and up or down, of a level port a part that stays upright is set."""
FAR_M = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9)
"""How much farther a part on a port is set where something else is in its place."""
INTO = ("domestic_cold", "emitter_flow", "cooling", "source_return")
"""Roles of a part's own ports that take water in."""
INTO_VESSEL = ("source_flow", "load_return", "feed")
"""Purposes of a vessel's tappings that take water in."""
SHELL = {"drain": ("drain", "15"), "air": ("air_vent", "15"), "vent": ("vent", "22")}
"""Purpose and size of a tapping made for a part, by the role of the port that goes onto it."""


def on_sheet(sheet: Sheet, parts: Sequence[Part], catalogue: Catalogue) -> Sheet:
    """The parts under fresh ids: the first where it says, each other to the right of the one before, level with it."""
    last: Part | None = None
    for part in parts:
        part = _fresh(sheet, part, catalogue)
        if last is not None:
            before, mine = box_of(last, catalogue), box_of(part, catalogue)
            part = msgspec.structs.replace(
                part, x_m=round(part.x_m + before[2] + APART_M - mine[0], 3), height_m=last.height_m
            )
        sheet, last = with_part(sheet, part), part
    return sheet


def can_lie(kind: Kind) -> bool:
    """Whether a part of that kind can be set into a pipe, on a branch of one, or on a port."""
    return not kind.large and bool(kind.ports) and kind.ports[0].role != "immersion"


def in_pipe(sheet: Sheet, pipe_id: str, parts: Sequence[Part], at: Point, catalogue: Catalogue) -> Sheet:
    """The parts in a pipe in the way it was drawn, about the place nearest to `at`: along one run, `APART_M` apart or
    as near as that run asks. A part that cannot lie in line stands on a branch, and a discharge goes onto the outlet
    of the valve named before it. Raises SheetError: no room.
    """
    line = polyline(sheet, sheet.pipes[pipe_id], catalogue)
    number, foot, _ = nearest_on(line, at)
    pieces, last = {pipe_id}, ""
    lying = [part for part in parts if not _discharges(part, catalogue)] or list(parts[:1])
    spots = iter(_spots(line[number], line[number + 1], foot, len(lying)))
    for part in parts:
        outlet = _outlet(sheet, last, catalogue) if _discharges(part, catalogue) else None
        if outlet is not None:
            sheet = on_port(sheet, outlet, (part,), catalogue)
            continue
        spot = next(spots, foot)
        known = set(sheet.pipes)
        now = min(pieces, key=lambda k: (nearest_on(polyline(sheet, sheet.pipes[k], catalogue), spot)[2], k))
        part = _fresh(sheet, part, catalogue)
        last = part.id
        if catalogue[part.kind].through is None:
            sheet = branch_from(sheet, now, part, spot, catalogue)
        else:
            level = abs(line[number][1] - line[number + 1][1]) < TINY_M
            away: Dir | None = None if part.kind != "tee" or part.turn else "up" if level else "right"
            sheet = insert_in_pipe(sheet, now, part, spot, catalogue, towards=away)
        pieces |= set(sheet.pipes) - known
    return sheet


def _discharges(part: Part, catalogue: Catalogue) -> bool:
    """Whether a part takes what a relief valve lets out."""
    ports = catalogue[part.kind].ports
    return bool(ports) and ports[0].role == "discharge"


def _outlet(sheet: Sheet, part_id: str, catalogue: Catalogue) -> End | None:
    """The free discharge of a part."""
    part = sheet.parts.get(part_id)
    ports = catalogue[part.kind].ports if part is not None else ()
    ends = [End(part_id, port.name) for port in ports if port.role == "discharge"]
    return next((end for end in ends if end not in sheet.taken), None)


def _spots(a: Point, b: Point, foot: Point, count: int) -> list[Point]:
    """Places for so many fittings on a run from a to b, about a place on it."""
    if count == 1:
        return [foot]
    axis = 0 if abs(b[0] - a[0]) >= abs(b[1] - a[1]) else 1
    long = abs(b[axis] - a[axis])
    step = min(APART_M, long / (count + 1))
    way = 1.0 if b[axis] > a[axis] else -1.0
    middle = abs(foot[axis] - a[axis])
    first = min(max(middle - step * (count - 1) / 2, step / 2), long - step * (count - 0.5))
    along = [round(a[axis] + way * (first + step * k), 3) for k in range(count)]
    return [(s, foot[1]) if axis == 0 else (foot[0], s) for s in along]


def on_port(sheet: Sheet, end: End, parts: Sequence[Part], catalogue: Catalogue) -> Sheet:
    """The parts one behind the other on a free port, joined by short pipes and turned so that water goes through each
    its own way. Raises SheetError where a port is taken, or a part lets nothing follow."""
    for n, part in enumerate(parts):
        port, kind = end_port(sheet, end, catalogue), catalogue[part.kind]
        if end in sheet.taken:
            raise SheetError(
                f"“{end.port}” of “{end.part}” already holds {sheet.taken[end]}", do="Choose a free port, or that pipe"
            )
        if not can_lie(kind):
            raise SheetError(f"A {kind.name.lower()} does not stand on a port", do="Place it beside and pipe it up")
        entry, beyond = _ways_through(kind, _takes_water(sheet, end, port, catalogue))
        part = _clear(sheet, _fresh(sheet, part, catalogue), entry, port, catalogue)
        mine = ports_of(part, catalogue)[entry]
        corners = () if mine.side == OPPOSITE[port.side] else ((mine.at[0], port.at[1]),)
        sheet = connect(with_part(sheet, part), end, End(part.id, entry), catalogue, points=corners)
        if not beyond and n < len(parts) - 1:
            raise SheetError(f"Nothing can follow a {kind.name.lower()}", do="Name it last")
        end = End(part.id, beyond)
    return sheet


def _takes_water(sheet: Sheet, end: End, port: Port, catalogue: Catalogue) -> bool:
    """Whether water goes into the part there."""
    part = sheet.parts[end.part]
    if part.tapping(end.port) is not None:
        return port.role in INTO_VESSEL
    kind = catalogue[part.kind]
    if kind.inline and end.port in (kind.through or ()):
        return end.port == kind.ports[0].name
    return port.role in INTO and "mains" not in kind.tags


def _ways_through(kind: Kind, backwards: bool) -> tuple[str, str]:
    """(the port that goes onto the port before, the port that the next part goes onto)."""
    ways = kind.through or (kind.ports[0].name, "")
    return (ways[1], ways[0]) if backwards and ways[1] else ways


def _clear(sheet: Sheet, part: Part, entry: str, port: Port, catalogue: Catalogue) -> Part:
    """The part turned and set so that one of its ports faces a port, as near as nothing else is in its place. One that
    stands or hangs (a tap, a drain cock, an air vent, a discharge) stays upright, above or below a level port."""
    dx, dz = STEPS[port.side]
    kind, own = catalogue[part.kind], ports_of(part, catalogue)[entry].side
    upright = dz == 0 and own in ("up", "down") and not kind.through
    if not upright:
        part = faced(part, catalogue, {entry: OPPOSITE[port.side]})
    rise = (UPRIGHT_M[1] if own == "down" else -UPRIGHT_M[1]) if upright else 0.0
    mine = ports_of(part, catalogue)[entry].at
    taken = _taken(sheet, catalogue)
    tried = []
    for far in FAR_M:
        out = far + UPRIGHT_M[0] if upright else far + BRANCH_M
        x, z = port.at[0] + dx * out - mine[0], port.at[1] + dz * out + rise - mine[1]
        there = msgspec.structs.replace(part, x_m=round(part.x_m + x, 6), height_m=round(part.height_m + z, 6))
        box = box_of(there, catalogue)
        if not any(overlap(box, other) for other in taken):
            return there
        tried.append(there)
    return tried[0]


def _taken(sheet: Sheet, catalogue: Catalogue) -> list[Box]:
    """Boxes of all parts, and of all runs of pipes as lines."""
    runs = [run for pipe in sheet.pipes.values() for run in pairwise(polyline(sheet, pipe, catalogue))]
    return [*boxes_of(sheet, catalogue), *(box_round(a, b) for a, b in runs)]


def on_shell(
    sheet: Sheet, vessel: str, height_m: float, side: TappingSide, parts: Sequence[Part], catalogue: Catalogue
) -> Sheet:
    """The parts on a new tapping of a vessel, `height_m` above its base, of the purpose that the first of them asks
    for. Raises SheetError where another stub is too near."""
    role = catalogue[parts[0].kind].ports[0].role if catalogue[parts[0].kind].ports else "any"
    purpose, size = SHELL.get(role, ("any", "22"))
    sheet = add_tapping(sheet, vessel, height_m, catalogue, side=side, purpose=purpose, size=size)
    return on_port(sheet, End(vessel, sheet.parts[vessel].tappings[-1].letter), parts, catalogue)


def _fresh(sheet: Sheet, part: Part, catalogue: Catalogue) -> Part:
    """The part under an id that nothing on the sheet has."""
    if part.id and part.id not in ids_in_use(sheet):
        return part
    return msgspec.structs.replace(part, id=new_id(sheet, catalogue[part.kind]))
