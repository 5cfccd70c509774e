"""Large sheets made of one: copies side by side, ids and x shifted."""

from __future__ import annotations

import msgspec

from loopwright.sheet.values import End, Sheet


def side_by_side(sheet: Sheet, copies: int, apart_m: float = 20.0) -> Sheet:
    """A sheet of that many copies, none joined to another."""
    parts, pipes, links = {}, {}, {}
    for number in range(copies):
        shift = number * apart_m

        def to(name: str, number: int = number) -> str:
            part, slash, letter = name.partition("/")
            return f"{part}_{number}{slash}{letter}" if name else ""

        for part in sheet.parts.values():
            parts[to(part.id)] = msgspec.structs.replace(part, id=to(part.id), x_m=part.x_m + shift)
        for pipe in sheet.pipes.values():
            pipes[to(pipe.id)] = msgspec.structs.replace(
                pipe,
                id=to(pipe.id),
                a=End(to(pipe.a.part), pipe.a.port),
                b=End(to(pipe.b.part), pipe.b.port),
                points=tuple((x + shift, z) for x, z in pipe.points),
            )
        for link in sheet.links.values():
            links[to(link.id)] = msgspec.structs.replace(
                link, id=to(link.id), sensor=to(link.sensor), target=to(link.target), second=to(link.second)
            )
    return msgspec.structs.replace(sheet, parts=parts, pipes=pipes, links=links)
