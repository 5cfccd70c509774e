"""How much water a water holds, part by part, and by how much it swells.

Owns the sum. What nobody has stated is bounded, so that a rule can tell whether it matters.
"""

from __future__ import annotations

from itertools import pairwise
from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering import water as water_figures
from loopwright.engineering.water import HIGHEST_C
from loopwright.rules.bores import tube_of
from loopwright.rules.registry import Case
from loopwright.waterways.profile import points_of
from loopwright.waterways.waters import Water

FILL_C = 10.0
COIL_AT_MOST_L, PART_AT_MOST_L = 25.0, 100.0
"""What a coil or another part in a house holds at most: common practice, no source."""
USUAL_C = 80.0


class Contents(msgspec.Struct, frozen=True, kw_only=True):
    """Litres of a water, how many litres it swells, and what is missing with the most it could add."""

    litres: float
    swells_l: float
    hottest_c: float
    missing: tuple[tuple[str, str], ...]
    """Part or pipe, and property."""
    missing_at_most_l: float


def contents(case: Case, water: Water) -> Contents:
    """The contents of a water from cold to its design temperature. Cached."""
    memo = cast(dict[int, Contents], case.ways.cache.setdefault("contents", {}))
    if water.number not in memo:
        memo[water.number] = _contents(case, water)
    return memo[water.number]


def design_c(case: Case, water: Water) -> float:
    """The hottest design temperature on a water: of its stores and cylinders, and the flow of its sources."""
    ways = case.ways
    asked = [ways.number(b[1], "design_temp_c") for b in ways.bodies("store", "cylinder") if b in water.places]
    asked += [ways.number(s.part, "t_flow_c") for s in water.sources]
    return min(max((t for t in asked if t is not None), default=USUAL_C), HIGHEST_C)


def _contents(case: Case, water: Water) -> Contents:
    ways = case.ways
    hottest = design_c(case, water)
    held: list[tuple[float, float]] = []
    missing: list[tuple[str, str]] = []
    at_most = 0.0
    counted: set[str] = set()

    def part(name: str, litres: float | None, prop: str, temp_c: float | None, most: float) -> None:
        nonlocal at_most
        if litres is None:
            missing.append((name, prop))
            at_most += most
        else:
            held.append((litres, min(temp_c if temp_c is not None else hottest, HIGHEST_C)))

    for body in ways.bodies("store", "cylinder", "header"):
        if body in water.places:
            counted.add(body[1])
            part(body[1], ways.number(body[1], "volume_l"), "volume_l", ways.number(body[1], "design_temp_c"), 2000.0)
    for key in sorted(water.elements):
        element = ways.elements[key]
        if element.pipe:
            pipe = ways.sheet.pipes[element.pipe]
            if pipe.joint:
                continue
            found = tube_of(case, pipe.id)
            drawn = sum(abs(x1 - x0) + abs(z1 - z0) for (x0, z0), (x1, z1) in pairwise(points_of(ways, element)))
            length = drawn + pipe.extra_length_m
            part(pipe.id, found.litres_per_m * length if found else None, "size", None, 2.0 * length)
        elif element.does is Behaviour.COIL and ways.kind(element.part).body:
            name = element.key[2].removeprefix("coil ")
            coil = next((c for c in ways.sheet.parts[element.part].coils if c.name == name), None)
            part(element.part, coil.content_l if coil else None, "content_l", None, COIL_AT_MOST_L)
        elif element.part not in counted and not ways.kind(element.part).body:
            counted.add(element.part)
            litres = ways.number(element.part, "content_l")
            if litres is not None or ways.kind(element.part).large:
                part(element.part, litres, "content_l", None, PART_AT_MOST_L)
    by_temp: dict[float, float] = {}
    for litres, temp_c in held:
        by_temp[temp_c] = by_temp.get(temp_c, 0.0) + litres
    swells = sum(litres * water_figures.expansion_fraction(t, FILL_C) for t, litres in by_temp.items())
    return Contents(
        litres=sum(litres for litres, _ in held),
        swells_l=float(swells),
        hottest_c=hottest,
        missing=tuple(missing),
        missing_at_most_l=at_most,
    )


def swelling_of(litres: float, temp_c: float) -> float:
    """Litres by which cold water swells when heated."""
    return float(litres * water_figures.expansion_fraction(min(temp_c, HIGHEST_C), FILL_C))
