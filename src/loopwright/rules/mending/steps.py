"""Edits that repairs are made of, beyond those of the sheet: taking out, turning round, exchanging, capping.

Pure functions from sheet to sheet that raise SheetError. Knows no rule, and of the water only what a part is called.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import dist

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet import edits
from loopwright.sheet.change import free_part, with_records
from loopwright.sheet.geometry import polyline
from loopwright.sheet.pipework import end_port, refit, route_between
from loopwright.sheet.plane import OPPOSITE, TINY_M
from loopwright.sheet.ports import port_of, ports_of
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import End, Part, Pipe, Sheet
from loopwright.waterways import naming
from loopwright.waterways.graph import Waterways


def in_line(sheet: Sheet, part_id: str, catalogue: Catalogue) -> bool:
    """Whether the part is a fitting with two ports, a pipe on each, that lies in a run."""
    part = sheet.parts.get(part_id)
    if part is None:
        return False
    kind = catalogue[part.kind]
    return kind.inline and len(kind.ports) == 2 and all(End(part_id, p.name) in sheet.taken for p in kind.ports)


def take_out(sheet: Sheet, ids: Iterable[str], catalogue: Catalogue) -> Sheet:
    """The fittings gone and their pipes joined; where size or material changes there, a union in their place."""
    for part_id in ids:
        if not in_line(sheet, part_id, catalogue):
            raise SheetError(f"“{part_id}” does not lie in a run of pipe", do="Take it out by hand")
        after = edits.delete(sheet, [part_id], catalogue)
        healed = len(after.pipes) == len(sheet.pipes) - 1
        sheet = after if healed else exchange_kind(sheet, part_id, "union", catalogue)
    return sheet


def exchange_kind(sheet: Sheet, part_id: str, kind_id: str, catalogue: Catalogue) -> Sheet:
    """Another kind of fitting in the same place, under the same id; its properties and control links go."""
    part = free_part(sheet, part_id)
    new = msgspec.structs.replace(part, kind=kind_id, name="", props={})
    links = {key: link for key, link in sheet.links.items() if part_id not in link.parts}
    return with_records(refit(sheet, {part_id: new}, catalogue), links=links)


def turn_round(sheet: Sheet, part_id: str, catalogue: Catalogue) -> Sheet:
    """A fitting in line turned end for end; the pipes stay where they are."""
    part = free_part(sheet, part_id)
    if not in_line(sheet, part_id, catalogue):
        raise SheetError(f"“{part_id}” does not lie in a run of pipe", do="Turn it by hand")
    first, second = (p.name for p in catalogue[part.kind].ports)
    new = msgspec.structs.replace(part, turn=(part.turn + 2) % 4)
    was, now = ports_of(part, catalogue), ports_of(new, catalogue)
    if dist(was[first].at, now[second].at) > TINY_M or dist(was[second].at, now[first].at) > TINY_M:
        raise SheetError(f"The ends of “{part_id}” do not lie in line", do="Turn it by hand")
    other = {first: second, second: first}

    def end(old: End) -> End:
        return End(part_id, other[old.port]) if old.part == part_id else old

    pipes = {p.id: msgspec.structs.replace(p, a=end(p.a), b=end(p.b)) for p in sheet.pipes_of(part_id)}
    return with_records(sheet, parts={**sheet.parts, part_id: new}, pipes={**sheet.pipes, **pipes})


def exchange_places(sheet: Sheet, one: str, two: str, catalogue: Catalogue) -> Sheet:
    """Two fittings in line, each put where the other was."""
    a, b = free_part(sheet, one), free_part(sheet, two)
    if not (in_line(sheet, one, catalogue) and in_line(sheet, two, catalogue)):
        raise SheetError(f"“{one}” and “{two}” do not both lie in a run of pipe", do="Exchange them by hand")
    twin = {one: two, two: one}
    names = {part.id: tuple(p.name for p in catalogue[part.kind].ports) for part in (a, b)}

    def end(old: End) -> End:
        if old.part not in twin:
            return old
        return End(twin[old.part], names[twin[old.part]][names[old.part].index(old.port)])

    touched = {p.id: p for part_id in twin for p in sheet.pipes_of(part_id)}
    pipes = {p.id: msgspec.structs.replace(p, a=end(p.a), b=end(p.b)) for p in touched.values()}
    new = {
        p.id: msgspec.structs.replace(p, x_m=q.x_m, height_m=q.height_m, turn=q.turn, mirror=q.mirror)
        for p, q in ((a, b), (b, a))
    }
    before, after = ports_of(a, catalogue), ports_of(new[two], catalogue)
    if any(dist(before[p].at, after[q].at) > TINY_M for p, q in zip(names[one], names[two])):
        raise SheetError(f"“{one}” and “{two}” are not of one length", do="Exchange them by hand")
    return with_records(sheet, parts={**sheet.parts, **new}, pipes={**sheet.pipes, **pipes})


def exchange_ends(sheet: Sheet, one: End, two: End, catalogue: Catalogue) -> Sheet:
    """The pipes of two ports exchanged there and led anew; sizes, lagging and ids stay with the pipes."""
    ids = [sheet.taken.get(one), sheet.taken.get(two)]
    if None in ids or ids[0] == ids[1]:
        raise SheetError(f"There are no two pipes on “{one.port}” and “{two.port}”", do="Draw them first")
    old = [sheet.pipes[str(key)] for key in ids]
    if any(p.joint for p in old):
        raise SheetError("Two parts that are screwed together cannot be exchanged", do="Join them by pipes first")
    swapped = {one: two, two: one}
    heights = {p.id: sorted({r.at_m for r in runs_of(polyline(sheet, p, catalogue)) if r.way == "level"}) for p in old}
    new = {
        p.id: msgspec.structs.replace(p, a=swapped.get(p.a, p.a), b=swapped.get(p.b, p.b), points=(), held=())
        for p in old
    }
    sheet = with_records(sheet, pipes={**sheet.pipes, **new})
    for pipe in new.values():
        sheet = led_anew(sheet, pipe, catalogue, heights[pipe.id])
    return sheet


def exchange_pipes(sheet: Sheet, part: str, pairs: Iterable[tuple[str, str]], catalogue: Catalogue) -> Sheet:
    """Pairs of ports of one part, the pipes on each exchanged."""
    for one, two in pairs:
        sheet = exchange_ends(sheet, End(part, one), End(part, two), catalogue)
    return sheet


def led_anew(sheet: Sheet, pipe: Pipe, catalogue: Catalogue, favoured: Iterable[float] = ()) -> Sheet:
    """The pipe with a new way between its ports."""
    a, b = end_port(sheet, pipe.a, catalogue), end_port(sheet, pipe.b, catalogue)
    corners = route_between(sheet, a, b, catalogue, without={pipe.id}, favoured=favoured)
    return with_records(sheet, pipes={**sheet.pipes, pipe.id: msgspec.structs.replace(pipe, points=corners, held=())})


def cap(sheet: Sheet, end: End, catalogue: Catalogue) -> Sheet:
    """A cap screwed onto a free port."""
    port = port_of(sheet, end.part, end.port, catalogue)
    kind = catalogue["cap"]
    name = kind.ports[0].name
    part = Part(id=edits.new_id(sheet, kind), kind=kind.id, x_m=port.at[0], height_m=port.at[1])
    part = edits.faced(part, catalogue, {name: OPPOSITE[port.side]})
    here = ports_of(part, catalogue)[name].at
    part = msgspec.structs.replace(
        part, x_m=round(part.x_m + port.at[0] - here[0], 6), height_m=round(part.height_m + port.at[1] - here[1], 6)
    )
    return edits.connect(edits.place(sheet, part), end, End(part.id, name), catalogue, joint=True)


def called(sheet: Sheet, ident: str, catalogue: Catalogue) -> str:
    """What people call a part or a pipe: a name, else what it is and what it stands between, as the finding has it."""
    part = sheet.parts.get(ident)
    return (part.name if part else "") or naming.called(Waterways(sheet, catalogue), ident)
