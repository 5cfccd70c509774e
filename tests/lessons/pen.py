"""A short hand for edits: what a learner does in the window, by the same edits.

Owns shorthand alone. Knows no lesson.
"""

from __future__ import annotations

from typing import Any

import msgspec

from loopwright.catalogue import standard_catalogue
from loopwright.draw import Drawing
from loopwright.sheet import edits
from loopwright.sheet.change import with_records
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part, Point, Sheet

CATALOGUE = standard_catalogue()


class Pen(Drawing):
    """A drawing that may also be taken apart."""

    def __init__(self, sheet: Sheet) -> None:
        super().__init__(sheet, CATALOGUE)

    def cut(self, *ids: str) -> None:
        """Parts and pipes taken away; a fitting in line leaves a plain pipe."""
        self.sheet = edits.delete(self.sheet, ids, CATALOGUE)

    def uncap(self, part: str, way: str) -> End:
        """The cap on a port taken off; the free end."""
        end = self.at(part, way)
        for pipe in self.sheet.pipes_of(part):
            if end in (pipe.a, pipe.b):
                self.cut(pipe.other(part).part)
        return end

    def cut_between(self, one: str, two: str) -> None:
        """All pipes between two parts taken away."""
        self.cut(*[p.id for p in self.sheet.pipes.values() if {p.a.part, p.b.part} == {one, two}])

    def at(self, part: str, way: str) -> End:
        """The port of a part by name, tapping, or the way it leaves (up, down, left, right)."""
        ports = ports_of(self.sheet.parts[part], CATALOGUE)
        if way in ("up", "down", "left", "right") and way not in ports:
            return End(part, next(name for name, port in ports.items() if port.side == way))
        if self.sheet.parts[part].kind in ("tee", "cross"):
            return End(part, next(name for name, port in ports.items() if port.side == way))
        return self[part][way]

    def put(self, pipe: str, kind: str, id: str, at: Point, **props: Any) -> None:
        """A fitting in a pipe."""
        part = Part(id=id, kind=kind, x_m=at[0], height_m=at[1], props=props)
        self.sheet = edits.insert_in_pipe(self.sheet, pipe, part, at, CATALOGUE)

    def set(self, part: str, **props: Any) -> None:
        """Properties typed."""
        for name, value in props.items():
            self.sheet = edits.set_property(self.sheet, part, name, value, CATALOGUE)

    def lay(self, *pipes: str, **changes: Any) -> None:
        """Pipes changed: size, material, points, graded."""
        for pipe in pipes:
            self.sheet = edits.set_pipe(
                self.sheet, pipe, **({"held": ()} | changes if "points" in changes else changes)
            )

    def tap(self, part: str, tapping: str, height_m: float | None = None, **changes: Any) -> None:
        """A tapping changed; its pipe follows."""
        letter = next(t.letter for t in self.sheet.parts[part].tappings if tapping in (t.letter, t.name))
        more = changes if height_m is None else {"height_m": height_m, **changes}
        self.sheet = edits.set_tapping(self.sheet, part, letter, CATALOGUE, **more)

    def taps(self, part: str, **heights: float) -> None:
        """Several tappings moved at once, so that they may pass each other; blanks in names written as _."""
        from loopwright.sheet.pipework import refit

        old = self.sheet.parts[part]
        named = {name.replace("_", " "): height for name, height in heights.items()}
        taps = tuple(msgspec.structs.replace(t, height_m=named.get(t.name, t.height_m)) for t in old.tappings)
        new = msgspec.structs.replace(old, tappings=taps)
        edits.check_vessel(new, CATALOGUE[new.kind])
        self.sheet = refit(self.sheet, {**self.sheet.parts, part: new}, CATALOGUE)

    def coil(self, part: str, name: str, bottom_m: float, top_m: float) -> None:
        """A coil with its two ends moved."""
        coil = next(c for c in self.sheet.parts[part].coils if c.name == name)
        part_now = self.sheet.parts[part]
        taps = tuple(
            msgspec.structs.replace(t, height_m=bottom_m if t.letter == coil.lower else top_m)
            if t.letter in (coil.lower, coil.upper)
            else t
            for t in part_now.tappings
        )
        coils = tuple(
            msgspec.structs.replace(c, bottom_m=bottom_m, top_m=top_m) if c.name == name else c for c in part_now.coils
        )
        from loopwright.sheet.pipework import refit

        new = msgspec.structs.replace(part_now, tappings=taps, coils=coils)
        self.sheet = refit(self.sheet, {**self.sheet.parts, part: new}, CATALOGUE)

    def move(self, part: str, x_m: float, height_m: float) -> None:
        """A part moved to a place."""
        old = self.sheet.parts[part]
        self.sheet = edits.move(self.sheet, [part], x_m - old.x_m, height_m - old.height_m, CATALOGUE)

    def turn(self, part: str, quarters: int = 2) -> None:
        """A fitting turned on the spot, its pipes staying on the ends where they were: a pump put in the other way."""
        old = self.sheet.parts[part]
        new = msgspec.structs.replace(old, turn=(old.turn + quarters) % 4)
        swapped = {}
        for pipe in self.sheet.pipes.values():
            a = End(part, {"a": "b", "b": "a"}[pipe.a.port]) if pipe.a.part == part else pipe.a
            b = End(part, {"a": "b", "b": "a"}[pipe.b.port]) if pipe.b.part == part else pipe.b
            swapped[pipe.id] = msgspec.structs.replace(pipe, a=a, b=b)
        self.sheet = with_records(self.sheet, parts={**self.sheet.parts, part: new}, pipes=swapped)

    def exchange(self, part: str, kind: str, **props: Any) -> None:
        """A part exchanged for one of another kind with the same ports."""
        from loopwright.sheet.pipework import refit

        new = msgspec.structs.replace(self.sheet.parts[part], kind=kind, props=props)
        self.sheet = refit(self.sheet, {**self.sheet.parts, part: new}, CATALOGUE)

    def drop_links(self, *targets: str) -> None:
        """Control links of some targets taken away."""
        self.sheet = with_records(
            self.sheet, links={k: v for k, v in self.sheet.links.items() if v.target not in targets}
        )

    def swap_ends(self, one: str, two: str, part_one: str, part_two: str | None = None) -> None:
        """Two pipes exchange the ends they have at a part (or at two parts)."""
        p, q = self.sheet.pipes[one], self.sheet.pipes[two]
        at_p = p.a if p.a.part == part_one else p.b
        at_q = q.a if q.a.part == (part_two or part_one) else q.b
        p2 = msgspec.structs.replace(
            p, a=at_q if p.a == at_p else p.a, b=at_q if p.b == at_p else p.b, points=(), held=()
        )
        q2 = msgspec.structs.replace(
            q, a=at_p if q.a == at_q else q.a, b=at_p if q.b == at_q else q.b, points=(), held=()
        )
        self.cut(one, two)
        for pipe in (p2, q2):
            self.pipe(pipe.a, pipe.b, pipe.size, pipe.material, via=None, id=pipe.id, insulation_mm=pipe.insulation_mm)
