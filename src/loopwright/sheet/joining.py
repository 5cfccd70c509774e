"""Edits of pipes: connect, change, put a fitting in line, tee in, and close the gap that a fitting leaves.

Pure functions from sheet to sheet. Knows nothing of the parts' meaning beyond their ports.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from math import dist, isfinite
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import SheetError
from loopwright.sheet.change import (
    changed,
    check_id,
    check_property,
    ids_in_use,
    new_id,
    new_pipe_id,
    numbered,
    pipe_named,
    with_part,
    with_pipe,
    with_records,
)  # fmt: skip
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.pipework import backwards, end_port, joined, route_between, split
from loopwright.sheet.plane import OPPOSITE, STEPS, TINY_M, Dir
from loopwright.sheet.ports import ports_of
from loopwright.sheet.runs import merged, runs_of
from loopwright.sheet.sizes import size_for_bore, size_name, sizes
from loopwright.sheet.values import End, Part, Pipe, Point, Sheet

USUAL = ("22", "copper")
BRANCH_M = 0.10
"""Length of the pipe between a tee and a fitting put on its branch."""
END_ROOM_M = 0.02
"""Least pipe left on each side of a fitting put in a run."""


def connect(
    sheet: Sheet,
    a: End,
    b: End,
    catalogue: Catalogue,
    *,
    points: Iterable[Point] | None = None,
    size: str | float | None = None,
    material: str | None = None,
    pipe_id: str | None = None,
    held: Iterable[int] = (),
    joint: bool = False,
    **more: Any,
) -> Sheet:
    """A new pipe from port a to port b.

    `points` are its corners, else a way is found. `size` and `material` are those of the pipe at the other
    side of a fitting, else the size of the tapping or boss, unless given. `joint` screws two parts together:
    their ports must meet. `more` are fields of Pipe. Raises SheetError: port unknown or taken, size not
    listed.
    """
    port_a, port_b = end_port(sheet, a, catalogue), end_port(sheet, b, catalogue)
    for end in (a, b):
        if end in sheet.taken:
            raise SheetError(
                f"“{end.port}” of “{end.part}” already holds {sheet.taken[end]}",
                do="Choose a free port, or put a tee into that pipe",
            )
    if a == b:
        raise SheetError(f"A pipe cannot begin and end on “{a.port}” of “{a.part}”", do="End it somewhere else")
    pipe_id = check_id(pipe_id, ids_in_use(sheet)) if pipe_id else new_pipe_id(sheet)
    inherited = inherited_size(sheet, a, b, catalogue)
    material = material or inherited[1]
    if size is None:
        size = inherited[0] if inherited[0] in sizes(material) else sizes(material)[0]
    corners: tuple[Point, ...] = ()
    if joint:
        if dist(port_a.at, port_b.at) > 2 * TINY_M:
            raise SheetError(
                f"“{a.port}” of “{a.part}” and “{b.port}” of “{b.part}” do not meet",
                do="Put the parts together first, or join them by a pipe",
            )
    elif points is None:
        corners = route_between(sheet, port_a, port_b, catalogue)
    else:
        line, marks = merged((port_a.at, *((float(x), float(z)) for x, z in points), port_b.at), held)
        corners, held = line[1:-1], marks
    pipe = Pipe(id=pipe_id, a=a, b=b, points=corners, held=tuple(sorted(held)), joint=joint)
    return with_pipe(sheet, _checked(changed(pipe, size=size_name(size, material), material=material, **more)))


def inherited_size(sheet: Sheet, a: End, b: End, catalogue: Catalogue) -> tuple[str, str]:
    """Size and material a new pipe between two ports takes: from the pipe beyond a fitting, else from a
    boss."""
    for end in (a, b):
        part = sheet.parts[end.part]
        if not catalogue[part.kind].large:
            for pipe in sheet.pipes_of(end.part):
                if not pipe.joint:
                    return pipe.size, pipe.material
    for end in (a, b):
        tapping = sheet.parts[end.part].tapping(end.port)
        if tapping is not None:
            return tapping.size, USUAL[1]
        spec = catalogue[sheet.parts[end.part].kind].port(end.port)
        if spec is not None and spec.bore_mm:
            return size_for_bore(spec.bore_mm), USUAL[1]
    return USUAL


def set_pipe(sheet: Sheet, pipe_id: str, **changes: Any) -> Sheet:
    """The sheet with fields of a pipe changed (not its id nor its ends). Raises SheetError for a wrong
    value."""
    pipe = pipe_named(sheet, pipe_id)
    for name in ("a", "b", "joint"):
        if name in changes:
            raise SheetError(f"The ends of {pipe_id} are not properties", do="Delete it and connect anew")
    if "size" in changes or "material" in changes:
        material = changes.get("material", pipe.material)
        if "size" in changes:
            changes["size"] = size_name(changes["size"], material)
        elif pipe.size not in sizes(material):
            raise SheetError(
                f"{material.capitalize()} pipe is not listed in size “{pipe.size}”",
                do=f"Give a size with it: {', '.join(sizes(material))}",
            )
    return with_pipe(sheet, _checked(changed(pipe, **changes)))


def _checked(pipe: Pipe) -> Pipe:
    check_pipe(pipe)
    return pipe


def check_pipe(pipe: Pipe) -> None:
    """Raises SheetError for a pipe whose figures no pipe can have. Its ends are not looked at."""
    size_name(pipe.size, pipe.material)
    if not 0 <= pipe.extra_length_m <= 200:
        raise SheetError(f"{pipe.id} cannot have {pipe.extra_length_m:g} m out of the section", do="Give 0 to 200 m")
    if not 0 <= pipe.extra_bends <= 200:
        raise SheetError(f"{pipe.id} cannot have {pipe.extra_bends} further bends", do="Give 0 to 200")
    lag = pipe.insulation_mm
    if lag is not None and not (isfinite(lag) and 0 <= lag <= 300):
        raise SheetError(f"{pipe.id} cannot have {lag:g} mm of insulation", do="Give 0 to 300 mm")
    if any(not 0 <= k <= len(pipe.points) for k in pipe.held):
        raise SheetError(
            f"{pipe.id} has {len(pipe.points) + 1} runs, and holds one that is not there",
            do="Number runs from 0 at end a",
        )
    if pipe.joint and (pipe.points or pipe.extra_length_m):
        raise SheetError(f"Joint {pipe.id} has a length", do="Make it a pipe, or take its corners away")


# fittings in line


def insert_in_pipe(
    sheet: Sheet, pipe_id: str, part: Part, at: Point, catalogue: Catalogue, *, towards: Dir | None = None
) -> Sheet:
    """The part put into the pipe at the place of its line nearest to `at`, turned so that a -> b is end a ->
    end b.

    The pipe keeps its id up to the part; a new one goes on from there. `towards` is the way a third port
    should face. Raises SheetError where the part has no two opposite ports or the run is too short for it.
    """
    pipe = pipe_named(sheet, pipe_id)
    kind = catalogue[part.kind]
    check_id(part.id, ids_in_use(sheet))
    for name, value in part.props.items():
        check_property(kind, name, value)
    if kind.through is None:
        raise SheetError(f"A {kind.name.lower()} does not lie in a pipe", do="Place it beside and pipe it to a tee")
    if pipe.joint:
        raise SheetError(f"{pipe_id} is a joint without length", do="Make it a pipe first")
    line = polyline(sheet, pipe, catalogue)
    first, second = kind.through
    long = dist(*(spec.at for spec in kind.ports if spec.name in kind.through))
    number, foot = _place_on(line, at, long, pipe_id, kind)
    run = runs_of(line)[number]
    (x0, z0), (x1, z1) = run.begin, run.end
    heading: Dir = ("right" if x1 > x0 else "left") if run.way == "level" else ("up" if z1 > z0 else "down")
    part = faced(part, catalogue, {first: OPPOSITE[heading], second: heading}, towards)
    ports = ports_of(part, catalogue)
    here = [(p + q) / 2 for p, q in zip(ports[first].at, ports[second].at)]
    part = msgspec.structs.replace(
        part, x_m=round(part.x_m + foot[0] - here[0], 6), height_m=round(part.height_m + foot[1] - here[1], 6)
    )
    ports = ports_of(part, catalogue)
    halves = split(
        pipe,
        line,
        number,
        ports[first].at,
        ports[second].at,
        End(part.id, first),
        End(part.id, second),
        new_pipe_id(with_part(sheet, part)),
    )
    return with_records(with_part(sheet, part), pipes=_spliced(sheet, pipe_id, halves))


def _spliced(sheet: Sheet, pipe_id: str, new: tuple[Pipe, ...]) -> dict[str, Pipe]:
    out: dict[str, Pipe] = {}
    for key, pipe in sheet.pipes.items():
        out.update({p.id: p for p in new} if key == pipe_id else {key: pipe})
    return out


def _place_on(line: tuple[Point, ...], at: Point, long: float, pipe_id: str, kind: Kind) -> tuple[int, Point]:
    """Run number and middle of a fitting of that length, as near to `at` as the run's ends allow."""
    number, foot, _ = nearest_on(line, at)
    run = runs_of(line)[number]
    if run.way == "sloping":
        raise SheetError(f"That run of {pipe_id} slopes", do=f"Put the {kind.name.lower()} on a level run or a riser")
    need = long / 2 + END_ROOM_M
    if run.length_m < 2 * need - TINY_M:
        raise SheetError(
            f"That run of {pipe_id} is {run.length_m:.2f} m long and a {kind.name.lower()} needs {2 * need:.2f} m",
            where=f"At x {foot[0]:.2f} m, height {foot[1]:.2f} m",
            do="Choose a longer run, or move what it leads to",
        )
    axis = 0 if run.way == "level" else 1
    low, high = sorted((run.begin[axis], run.end[axis]))
    along = min(max(foot[axis], low + need), high - need) if high - low > 2 * need else (low + high) / 2
    return number, ((round(along, 3), run.begin[1]) if axis == 0 else (run.begin[0], round(along, 3)))


def faced(part: Part, catalogue: Catalogue, sides: dict[str, Dir], towards: Dir | None = None) -> Part:
    """The part turned, and mirrored where turning does not do it, so that each port named leaves its way.

    `towards` is a wish for the first other port. Raises SheetError if no way of turning does it.
    """
    fits: list[tuple[bool, bool, int, Part]] = []
    for mirror, turn in product((part.mirror, not part.mirror), range(4)):
        new = msgspec.structs.replace(part, turn=turn, mirror=mirror)
        ports = ports_of(new, catalogue)
        if all(ports[name].side == side for name, side in sides.items()):
            third = next((p for name, p in ports.items() if name not in sides), None)
            missed = towards is not None and third is not None and third.side != towards
            fits.append((missed, mirror != part.mirror, turn, new))
    if not fits:
        raise SheetError(f"“{part.id}” cannot be turned that way", do="Place it by hand and pipe it")
    return min(fits, key=lambda fit: fit[:3])[3]


def tee_into(
    sheet: Sheet,
    pipe_id: str,
    at: Point,
    catalogue: Catalogue,
    *,
    part_id: str | None = None,
    towards: Point | Dir | None = None,
) -> tuple[Sheet, End]:
    """A tee put into a pipe at the place nearest to `at`, and its free branch.

    The branch faces `towards` (a way or a place), else the side of the pipe on which `at` lies, else up or
    right.
    """
    kind = catalogue["tee"]
    line = polyline(sheet, pipe_named(sheet, pipe_id), catalogue)
    number, foot, _ = nearest_on(line, at)
    level = runs_of(line)[number].way == "level"
    if not isinstance(towards, str):
        target = at if towards is None else towards
        axis = 1 if level else 0
        low = target[axis] < foot[axis] - TINY_M
        towards = ("down" if low else "up") if level else ("left" if low else "right")
    part = Part(id=part_id or new_id(sheet, kind), kind="tee", x_m=foot[0], height_m=foot[1])
    sheet = insert_in_pipe(sheet, pipe_id, part, at, catalogue, towards=towards)
    return sheet, End(part.id, kind.ports[2].name)


def branch_from(sheet: Sheet, pipe_id: str, part: Part, at: Point, catalogue: Catalogue) -> Sheet:
    """A fitting that cannot lie in line (a relief valve, an air vent, a gauge) put beside a pipe: a tee in the pipe
    at the place nearest to `at`, and a short pipe from its branch to the fitting's first port.

    The fitting stands as it is turned where its first port can face the pipe that way, else it is turned. Raises
    SheetError for a large part and where there is no room.
    """
    kind = catalogue[part.kind]
    check_id(part.id, ids_in_use(sheet))
    if kind.large or not kind.ports:
        raise SheetError(f"A {kind.name.lower()} does not stand on a pipe", do="Place it beside and pipe it up")
    port, line = kind.ports[0].name, polyline(sheet, pipe_named(sheet, pipe_id), catalogue)
    level = runs_of(line)[nearest_on(line, at)[0]].way == "level"
    faces = ports_of(part, catalogue)[port].side
    if (faces in ("up", "down")) != level:
        faces = "down" if level else "left"
    part = faced(part, catalogue, {port: faces})
    tee_id = numbered(catalogue["tee"].letter or "tee", {*ids_in_use(sheet), part.id})
    sheet, branch = tee_into(sheet, pipe_id, at, catalogue, part_id=tee_id, towards=OPPOSITE[faces])
    free, mine = (ports_of(p, catalogue)[n].at for p, n in ((sheet.parts[tee_id], branch.port), (part, port)))
    dx, dz = STEPS[OPPOSITE[faces]]
    part = msgspec.structs.replace(
        part,
        x_m=round(part.x_m + free[0] + dx * BRANCH_M - mine[0], 6),
        height_m=round(part.height_m + free[1] + dz * BRANCH_M - mine[1], 6),
    )
    return connect(with_part(sheet, part), branch, End(part.id, port), catalogue, points=())


# taking away


def without_pipes(sheet: Sheet, ids: Iterable[str]) -> Sheet:
    """The sheet without some pipes."""
    gone = set(ids)
    return with_records(sheet, pipes={key: pipe for key, pipe in sheet.pipes.items() if key not in gone})


def without_part(sheet: Sheet, part_id: str, catalogue: Catalogue) -> Sheet:
    """The sheet without a part and its pipes. A fitting in line leaves one pipe in place of two of the same
    size.

    Links and joints that named the part go with it.
    """
    kind = catalogue[sheet.parts[part_id].kind]
    healed = _healed(sheet, part_id, kind, catalogue)
    pipes: dict[str, Pipe] = {}
    for key, pipe in sheet.pipes.items():
        if healed and key == healed.id:
            pipes[key] = healed
        elif part_id not in (pipe.a.part, pipe.b.part):
            pipes[key] = pipe
    links = {key: link for key, link in sheet.links.items() if part_id not in link.parts}
    parts = {key: part for key, part in sheet.parts.items() if key != part_id}
    return with_records(sheet, parts=parts, pipes=pipes, links=links)


def _healed(sheet: Sheet, part_id: str, kind: Kind, catalogue: Catalogue) -> Pipe | None:
    if kind.through is None:
        return None
    ends = [End(part_id, port) for port in kind.through]
    ids = [sheet.taken.get(end) for end in ends]
    if None in ids or ids[0] == ids[1]:
        return None
    one, two = (sheet.pipes[str(key)] for key in ids)
    if (one.size, one.material) != (two.size, two.material):
        return None
    if part_id in (one.other(part_id).part, two.other(part_id).part):
        return None  # led back to a third port of the part that goes
    if one.a == ends[0] and two.b == ends[1]:
        one, two = two, one  # both run from b to a through the part: keep their direction
        ends.reverse()
    if one.b != ends[0]:
        one = backwards(one)
    if two.a != ends[1]:
        two = backwards(two)
    return joined(one, two, polyline(sheet, one, catalogue), polyline(sheet, two, catalogue))
