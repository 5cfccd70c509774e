"""Plate exchangers between two circulating waters: what each side meets on the other, sought by turns.

Owns the exchange. Each water is solved alone, its plate as a coil in a body at the other water's arriving temperature,
with the conductance that gives the heat of a counterflow exchanger (effectiveness and number of transfer units).
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from loopwright.catalogue import Behaviour
from loopwright.engineering.coils import effectiveness_counterflow
from loopwright.engineering.drawn_parts import Side
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways
from loopwright.waterways.waters import Water, water_of

TURNS = 15
WITHIN = 0.003  # of the heat, of the conductance, and of a usual span of temperature
SPAN_K = 20.0
SPECIFIC_J_KG_K = 4190.0
TRICKLE_KG_S = 5e-4


@dataclass(frozen=True)
class Plate:
    """A plate exchanger between two waters, by their numbers. `ways` are its two sides, in the same order."""

    part: str
    ways: tuple[str, str]
    numbers: tuple[int, int]
    ua_W_K: float


@dataclass(frozen=True)
class Arriving:
    """What arrives at a side: flow and temperature."""

    flow_kg_s: float
    inlet_C: float


def plates_on(ways: Waterways, of: Water) -> tuple[Plate, ...]:
    """Plate exchangers between this water and another one of heating. Raises FigureError for a missing conductance."""
    found = []
    for part in ways.tagged("plate"):
        sides = [e for e in ways.by_part[part.id] if e.does is Behaviour.COIL]
        waters = [water_of(ways, e.a) for e in sides]
        if len(sides) != 2 or any(w is None or w.fluid == "domestic" for w in waters):
            continue
        numbers = tuple(w.number for w in waters if w is not None)
        if of.number not in numbers or numbers[0] == numbers[1]:
            continue
        ua = ways.number(part.id, "ua_w_k")
        if ua is None:
            raise FigureError(
                f"{ways.name(part.id)}: heat passed per degree is missing", where=f"{part.id}, ua_w_k", do="State it"
            )
        one, two = (e.key[2] for e in sides)
        found.append(Plate(part.id, (one, two), (numbers[0], numbers[1]), ua))
    return tuple(found)


Solve = Callable[[int, Mapping[tuple[str, str], Side]], Callable[[str], Arriving | None]]
"""Solve a water by its number with these sides; the answer says what arrives at a plate of it, None if nothing does."""


def exchanged(plates: tuple[Plate, ...], solve: Solve) -> dict[tuple[str, str], Side]:
    """What each side meets once both waters agree on the heat, by turns.

    Raises FigureError where they do not come to agree.
    """
    sides = {(plate.part, way): Side(0.0, 20.0) for plate in plates for way in plate.ways}
    heats: dict[str, float] = {}
    for turn in range(TURNS):
        weight = 1.0 if turn < 3 else 0.6
        seen = {number: solve(number, sides) for number in dict.fromkeys(n for p in plates for n in p.numbers)}
        moved = 0.0
        for plate in plates:
            one, two = (seen[number](plate.part) for number in plate.numbers)
            heat, facing = _facing(plate, one, two)
            before = heats.get(plate.part, 0.0)
            moved = max(moved, abs(heat - before) / max(abs(heat), 10.0))
            heats[plate.part] = heat
            for key, new in facing.items():
                old = sides[key]
                moved = max(moved, abs(new.other_C - old.other_C) / SPAN_K, abs(new.ua_W_K - old.ua_W_K) / plate.ua_W_K)
                sides[key] = Side(
                    old.ua_W_K + weight * (new.ua_W_K - old.ua_W_K), old.other_C + weight * (new.other_C - old.other_C)
                )
        if moved < WITHIN:
            return sides
    raise FigureError(
        "The waters on both sides of a plate exchanger do not come to agree on its heat",
        where=", ".join(p.part for p in plates),
        do="Look at the pumps of both circuits",
    )


def _facing(plate: Plate, one: Arriving | None, two: Arriving | None) -> tuple[float, dict[tuple[str, str], Side]]:
    """Heat from the first to the second water, and what each side meets."""
    keys = [(plate.part, way) for way in plate.ways]
    if one is None or two is None or min(one.flow_kg_s, two.flow_kg_s) < TRICKLE_KG_S:
        return 0.0, {key: Side(0.0, 20.0) for key in keys}
    rates = [side.flow_kg_s * SPECIFIC_J_KG_K for side in (one, two)]
    least, most = min(rates), max(rates)
    passed = effectiveness_counterflow(plate.ua_W_K / least, least / most) * least
    own = [-rate * math.log1p(-min(passed / rate, 1.0 - 1e-9)) for rate in rates]
    facing = {keys[0]: Side(own[0], two.inlet_C), keys[1]: Side(own[1], one.inlet_C)}
    return passed * (one.inlet_C - two.inlet_C), facing
