"""What is on the sheet, in words for who does not see it: parts with their ports, pipes with their ends, lines.

Owns these sentences. Refuses to know widgets and how they reach a screen reader.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from loopwright.catalogue import Catalogue
from loopwright.drawing.look import service_look
from loopwright.sheet.dimensions import measured_m
from loopwright.sheet.geometry import drawn_length_m, polyline
from loopwright.sheet.links import sentence
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part, Pipe, Sheet

Metres = Callable[[float], str]


def described(
    sheet: Sheet,
    one: str,
    catalogue: Catalogue,
    services: Mapping[str, str],
    marks: Iterable[tuple[str, frozenset[str]]],
    metres: Metres,
) -> str:
    """One thing of the sheet in a sentence or two. `marks` are severities of findings with the ids they are about."""
    found = [severity for severity, about in marks if one in about]
    counted = [f"{found.count(s)} {s}{'s' if found.count(s) > 1 else ''}" for s in dict.fromkeys(found)]
    findings = f" Findings: {', '.join(counted)}." if counted else ""
    if one in sheet.parts:
        return _part(sheet, sheet.parts[one], catalogue, metres) + findings
    if one in sheet.pipes:
        return _pipe(sheet, sheet.pipes[one], catalogue, services, metres) + findings
    if one in sheet.links:
        return f"Control link. {sentence(sheet, sheet.links[one], catalogue)}"
    for note in sheet.notes:
        if note.id == one:
            return f"Note: {note.text}"
    for dimension in sheet.dimensions:
        if dimension.id == one:
            what = "Width" if dimension.level_m is not None else "Dimension"
            return f"{what}, {metres(measured_m(sheet, dimension, catalogue) or 0.0)}"
    return one


def _name(sheet: Sheet, part_id: str, catalogue: Catalogue) -> str:
    part = sheet.parts[part_id]
    return part.name or f"{catalogue[part.kind].name.lower()} {part.id}"


def _part(sheet: Sheet, part: Part, catalogue: Catalogue, metres: Metres) -> str:
    ports = ports_of(part, catalogue)
    joined = []
    for name, port in ports.items():
        pipe = sheet.pipes.get(sheet.taken.get(End(part.id, name), ""))
        if pipe is not None:
            joined.append(f"{port.label or name} to {_name(sheet, pipe.other(part.id).part, catalogue)}")
    head = f"{catalogue[part.kind].name} {part.name or part.id}, height {metres(part.height_m)}"
    ways = f", {len(joined)} of {len(ports)} ports piped" if ports else ""
    return f"{head}{ways}{': ' if joined else ''}{', '.join(joined)}."


def _pipe(sheet: Sheet, pipe: Pipe, catalogue: Catalogue, services: Mapping[str, str], metres: Metres) -> str:
    ends = [
        f"{ports_of(sheet.parts[e.part], catalogue)[e.port].label or e.port} of {_name(sheet, e.part, catalogue)}"
        for e in (pipe.a, pipe.b)
    ]
    carries = service_look(services.get(pipe.id, "unknown")).words.lower()
    long = metres(drawn_length_m(polyline(sheet, pipe, catalogue)))
    return f"Pipe, {carries}, {pipe.size} mm {pipe.material}, from {ends[0]} to {ends[1]}, {long} long."
