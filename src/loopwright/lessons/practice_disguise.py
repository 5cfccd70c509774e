"""A faulty sheet under fresh ids, so that neither names nor the order of a file tell what was put in last.

Owns the renaming. Knows nothing of faults.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.sheet.change import numbered, with_records
from loopwright.sheet.dimensions import with_feet
from loopwright.sheet.geometry import polyline
from loopwright.sheet.values import ControlLink, End, Pipe, Sheet

PRIVATE = ("done ", "fault at ")
"""Starts of the names of facts that are about somebody's own work on the sheet."""


def disguised(sheet: Sheet, catalogue: Catalogue) -> tuple[Sheet, Mapping[str, str]]:
    """The sheet with every fitting and pipe numbered anew from left to right, and the new id of each old one.

    Large parts and notes keep their ids. A kind that has a part without a name loses the names of all its parts.
    """
    new: dict[str, str] = {}
    large = [p for p in sheet.parts.values() if catalogue[p.kind].large]
    small = [p for p in sheet.parts.values() if not catalogue[p.kind].large]
    small.sort(key=lambda p: (p.x_m, p.height_m, p.kind, p.turn))
    used = {p.id for p in large} | {n.id for n in sheet.notes} | {d.id for d in sheet.dimensions}
    for part in large:
        new[part.id] = part.id
    for part in small:
        kind = catalogue[part.kind]
        new[part.id] = numbered(kind.letter or kind.id, used)
        used.add(new[part.id])
    pipes = sorted(sheet.pipes.values(), key=lambda p: _spread(sheet, p, catalogue))
    for pipe in pipes:
        new[pipe.id] = numbered("pipe", used)
        used.add(new[pipe.id])
    nameless = {p.kind for p in small if not p.name}
    parts = {
        new[p.id]: msgspec.structs.replace(p, id=new[p.id], name="" if p.kind in nameless else p.name)
        for p in (*large, *small)
    }
    named = {new[p.id]: _repiped(p, new) for p in pipes}
    plain = with_records(
        sheet,
        parts=parts,
        pipes=named,
        links=_relinked(sheet, new, used),
        facts={name: value for name, value in sheet.facts.items() if not name.startswith(PRIVATE)},
    )
    footed = with_feet(plain, lambda old: new.get(old, old))
    return msgspec.structs.replace(footed, dispositions=()), new


def _spread(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> tuple[float, ...]:
    line = polyline(sheet, pipe, catalogue)
    xs, zs = [x for x, _ in line], [z for _, z in line]
    return (min(xs), min(zs), max(xs), max(zs))


def _repiped(pipe: Pipe, new: Mapping[str, str]) -> Pipe:
    a, b = (End(new[end.part], end.port) for end in (pipe.a, pipe.b))
    return msgspec.structs.replace(pipe, id=new[pipe.id], a=a, b=b)


def _relinked(sheet: Sheet, new: Mapping[str, str], used: set[str]) -> dict[str, ControlLink]:
    def place(old: str) -> str:
        owner, slash, letter = old.partition("/")
        return f"{new.get(owner, owner)}{slash}{letter}"

    moved = [
        msgspec.structs.replace(k, sensor=place(k.sensor), second=place(k.second), target=place(k.target))
        for k in sheet.links.values()
    ]
    moved.sort(key=lambda k: (k.target, k.sensor, k.does))
    out = {}
    for link in moved:
        key = numbered("link", used)
        used.add(key)
        out[key] = msgspec.structs.replace(link, id=key)
    return out
