"""A piece of a sheet: what is chosen taken out as a small sheet of its own, and put into a sheet again.

Owns what belongs to a piece (pipes, links and dimensions wholly among its parts) and the fresh ids and names it
gets. Knows nothing of clipboards and files: a piece is a sheet, and is written and read as one.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from itertools import chain

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet.change import LONGEST_NAME, id_like, ids_in_use, with_records
from loopwright.sheet.ports import box_of
from loopwright.sheet.runs import shifted
from loopwright.sheet.values import ControlLink, Dimension, End, Foot, Part, Pipe, Point, Sheet

_NUMBERED = re.compile(r"^(.*?)(?:\s+(\d+))?$", re.DOTALL)


def cut_out(sheet: Sheet, ids: Collection[str]) -> Sheet:
    """The parts and notes among `ids` with every pipe, link, dimension and fact that is wholly about them.

    Raises SheetError when there is neither a part nor a note among them.
    """
    parts = {key: part for key, part in sheet.parts.items() if key in ids}
    notes = tuple(n for n in sheet.notes if n.id in ids)
    if not parts and not notes:
        raise SheetError("There is no part among what is to be copied", do="Choose parts")
    return Sheet(
        title=sheet.title,
        levels=sheet.levels,
        parts=parts,
        pipes={k: p for k, p in sheet.pipes.items() if p.a.part in parts and p.b.part in parts},
        links={k: link for k, link in sheet.links.items() if link.parts <= set(parts)},
        notes=notes,
        dimensions=tuple(d for d in sheet.dimensions if _stands(d, parts, ids)),
        facts={name: value for name, value in sheet.facts.items() if _about(name) in parts},
    )


def _about(fact: str) -> str:
    """The part that a fact is about: its name ends in @ and the part's id."""
    return fact.rpartition("@")[2] if "@" in fact else ""


def _stands(dimension: Dimension, parts: Collection[str], ids: Collection[str]) -> bool:
    feet = [foot.part for foot in (dimension.a, dimension.b)]
    return all(part in parts for part in feet) or (
        dimension.id in ids and all(part in parts or not part for part in feet)
    )


def put_in(sheet: Sheet, piece: Sheet, dx_m: float = 0.0, dz_m: float = 0.0) -> tuple[Sheet, frozenset[str]]:
    """The sheet with a piece put in, moved by (dx, dz), under fresh ids; and the ids of all that is new.

    New records come last, in the order of the piece. Parts are never locked. A name that the sheet already has gets
    the next number: “Hall radiator” becomes “Hall radiator 2”.
    """
    used = ids_in_use(sheet)
    names = {part.name for part in sheet.parts.values() if part.name}
    every = chain(piece.parts, piece.pipes, piece.links, (n.id for n in piece.notes), (d.id for d in piece.dimensions))
    twin: dict[str, str] = {}
    for old in every:
        new = id_like(old, used) if old in used else old
        twin[old] = new
        used.add(new)
    parts = [_part(part, twin[key], names, dx_m, dz_m) for key, part in piece.parts.items()]
    pipes = [_pipe(pipe, twin, dx_m, dz_m) for pipe in piece.pipes.values()]
    links = [_link(link, twin) for link in piece.links.values()]
    notes = tuple(
        msgspec.structs.replace(n, id=twin[n.id], x_m=_by(n.x_m, dx_m), height_m=_by(n.height_m, dz_m))
        for n in piece.notes
    )
    dimensions = tuple(_dimension(d, twin, dx_m, dz_m) for d in piece.dimensions)
    made = with_records(
        sheet,
        parts={**sheet.parts, **{p.id: p for p in parts}},
        pipes={**sheet.pipes, **{p.id: p for p in pipes}},
        links={**sheet.links, **{link.id: link for link in links}},
        facts={
            **sheet.facts,
            **{f"{name.rpartition('@')[0]}@{twin[_about(name)]}": v for name, v in piece.facts.items()},
        },
    )
    made = msgspec.structs.replace(made, notes=(*sheet.notes, *notes), dimensions=(*sheet.dimensions, *dimensions))
    return made, frozenset(twin.values())


def _by(value: float, change: float) -> float:
    return round(value + change, 6)


def _part(part: Part, new_id: str, names: set[str], dx: float, dz: float) -> Part:
    name = next_name(part.name, names) if part.name else ""
    names.add(name)
    return msgspec.structs.replace(
        part, id=new_id, name=name, x_m=_by(part.x_m, dx), height_m=_by(part.height_m, dz), locked=False
    )


def next_name(name: str, taken: Iterable[str]) -> str:
    """The name itself while nothing has it, else with the first free number behind it; no longer than a name may be."""
    known = set(taken)
    if name not in known:
        return name
    found = _NUMBERED.match(name)
    stem, number = (found[1], int(found[2] or 1)) if found else (name, 1)
    while _with_number(stem, number + 1) in known:
        number += 1
    return _with_number(stem, number + 1)


def _with_number(stem: str, number: int) -> str:
    return f"{stem[: LONGEST_NAME - len(str(number)) - 1]} {number}"


def _pipe(pipe: Pipe, twin: dict[str, str], dx: float, dz: float) -> Pipe:
    return msgspec.structs.replace(
        pipe,
        id=twin[pipe.id],
        a=End(twin[pipe.a.part], pipe.a.port),
        b=End(twin[pipe.b.part], pipe.b.port),
        points=tuple((round(x, 6), round(z, 6)) for x, z in shifted(pipe.points, dx, dz)),
    )


def _link(link: ControlLink, twin: dict[str, str]) -> ControlLink:
    def place(name: str) -> str:
        owner, slash, letter = name.partition("/")
        return f"{twin[owner]}{slash}{letter}" if owner else ""

    return msgspec.structs.replace(
        link, id=twin[link.id], sensor=place(link.sensor), target=place(link.target), second=place(link.second)
    )


def _dimension(dimension: Dimension, twin: dict[str, str], dx: float, dz: float) -> Dimension:
    def foot(old: Foot) -> Foot:
        if old.part:
            return msgspec.structs.replace(old, part=twin[old.part])
        pipe = twin.get(old.pipe, "")
        run = old.run if pipe else ""
        return msgspec.structs.replace(old, pipe=pipe, run=run, x_m=_by(old.x_m, dx), height_m=_by(old.height_m, dz))

    return msgspec.structs.replace(
        dimension,
        id=twin[dimension.id],
        a=foot(dimension.a),
        b=foot(dimension.b),
        x_m=_by(dimension.x_m, dx),
        level_m=None if dimension.level_m is None else _by(dimension.level_m, dz),
    )


def middle_of(piece: Sheet, catalogue: Catalogue) -> Point:
    """The middle of the box round a piece's parts and notes, m."""
    boxes = [box_of(part, catalogue) for part in piece.parts.values()]
    boxes += [(n.x_m, n.height_m, n.x_m, n.height_m) for n in piece.notes]
    xs = [x for box in boxes for x in (box[0], box[2])]
    zs = [z for box in boxes for z in (box[1], box[3])]
    return (min(xs) + max(xs)) / 2, (min(zs) + max(zs)) / 2
