"""Water content of each water: pipes from their geometry, parts from their properties."""

from __future__ import annotations

from itertools import pairwise
from typing import cast

import msgspec

from loopwright.engineering.pipes import tube
from loopwright.errors import FigureError
from loopwright.waterways.graph import Key, Waterways
from loopwright.waterways.waters import Water


class Content(msgspec.Struct, frozen=True):
    """Litres in pipes, in vessels' bodies and in other parts; and the parts whose content is not known."""

    pipes_l: float
    bodies_l: float
    parts_l: float
    missing: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def total_l(self) -> float:
        """All of it."""
        return self.pipes_l + self.bodies_l + self.parts_l


def developed_m(ways: Waterways, key: Key) -> float:
    """Developed length of a pipe element, metres: drawn length and what the section cannot show."""
    pipe, element = ways.pipe(key), ways.elements[key]
    if pipe.joint:
        return 0.0
    points = [ways.at[element.a], *pipe.points, ways.at[element.b]]
    drawn = sum(((x1 - x0) ** 2 + (z1 - z0) ** 2) ** 0.5 for (x0, z0), (x1, z1) in pairwise(points))
    return drawn + pipe.extra_length_m


def content(ways: Waterways, water: Water) -> Content:
    """Litres of a water, cached. A body counts its volume less the contents of the coils inside it."""
    memo = cast(dict[int, Content], ways.cache.setdefault("water content", {}))
    if water.number not in memo:
        memo[water.number] = _content(ways, water)
    return memo[water.number]


def _content(ways: Waterways, water: Water) -> Content:
    pipes = bodies = parts = 0.0
    missing: list[str] = []
    assumed: list[str] = []
    for key in water.elements:
        if key[0] != "pipe":
            continue
        pipe = ways.pipe(key)
        try:
            pipes += tube(pipe.size, pipe.material).litres_per_m * developed_m(ways, key)
        except FigureError:
            missing.append(pipe.id)
    counted: set[str] = set()
    for place in sorted(water.places):
        part = place[1]
        if place[0] == "body":
            litres = ways.number(part, "volume_l")
            if litres is None and ways.kind(part).body in ("store", "cylinder", "drain_vessel"):
                missing.append(part)
                continue
            coils = sum(c.content_l or 0.0 for c in ways.sheet.parts[part].coils)
            bodies += max(0.0, (litres or ways.number(part, "content_l") or 0.0) - coils)
        elif part not in counted and not ways.kind(part).body:
            counted.add(part)
            litres = ways.number(part, "content_l")
            if litres is not None:
                parts += litres
                if not ways.typed(part, "content_l"):
                    assumed.append(part)
            elif ways.kind(part).large and (ways.kind(part).source or "emitter" in ways.kind(part).tags):
                missing.append(part)
    for part_id in sorted({p[1] for p in water.places}):
        for coil in ways.sheet.parts[part_id].coils:
            if ("port", part_id, coil.lower) in water.places:
                if coil.content_l is None:
                    missing.append(part_id)
                else:
                    parts += coil.content_l
    return Content(pipes, bodies, parts, tuple(sorted(set(missing))), tuple(sorted(set(assumed))))
