"""How much water a drawn water holds, part by part, by how much it swells, and the vessel that takes the swelling up.

Owns the sums, for figures and rules alike. What nobody has stated is listed and bounded, so that whoever asks can tell
whether it matters. Knows nothing of findings.
"""

from __future__ import annotations

from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering import expansion
from loopwright.engineering.drawn_parts import drawn_fluid
from loopwright.engineering.expansion import VesselNeed
from loopwright.engineering.pipes import tube
from loopwright.engineering.water import HIGHEST_C
from loopwright.errors import FigureError
from loopwright.sheet.geometry import developed_length_m
from loopwright.waterways.graph import Waterways
from loopwright.waterways.waters import Water, water_of

COIL_AT_MOST_L, PART_AT_MOST_L, VESSEL_AT_MOST_L, PIPE_AT_MOST_L_M = 25.0, 100.0, 2000.0, 2.0
"""What a coil, another part, a vessel and a metre of pipe in a house hold at most: common practice, no source."""
USUAL_C = 80.0
FIRE_C = 95.0
"""The hottest that a fire's water is sized for: the limit of log boilers."""
VESSELS = ("store", "cylinder", "header", "drain_vessel")


class Contents(msgspec.Struct, frozen=True, kw_only=True):
    """Litres of a water in pipes, in vessels' bodies and in other parts, and how many litres it swells.

    `missing` are part or pipe and property, with the most they could add; `assumed` are parts whose default was taken.
    """

    pipes_l: float
    bodies_l: float
    parts_l: float
    swells_l: float
    hottest_c: float
    missing: tuple[tuple[str, str], ...]
    missing_at_most_l: float
    assumed: tuple[str, ...]

    @property
    def litres(self) -> float:
        """All of it that is known."""
        return self.pipes_l + self.bodies_l + self.parts_l


def contents(ways: Waterways, water: Water) -> Contents:
    """The contents of a water and its swelling from 10 degC to its design temperature. Kept by the sheet.

    A vessel's volume does not count its coils; what stands in an open cistern stays cold and is not counted.
    """
    memo = cast(dict[int, Contents], ways.cache.setdefault("contents", {}))
    if water.number not in memo:
        memo[water.number] = _contents(ways, water)
    return memo[water.number]


def design_c(ways: Waterways, water: Water) -> float:
    """The hottest design temperature on a water: of its stores and cylinders, and the flow of its sources."""
    asked = [ways.number(b[1], "design_temp_c") for b in ways.bodies("store", "cylinder") if b in water.places]
    asked += [ways.number(s.part, "t_flow_c") for s in water.sources]
    return min(max((t for t in asked if t is not None), default=USUAL_C), HIGHEST_C)


def hottest_c(ways: Waterways, water: Water) -> float:
    """The hottest a sealed water is sized for: the limits of what heats it, directly or through a coil.

    A fire counts 95 degC at least; the sun as hot as the figures of water go, 110 degC.
    """
    own = {s.part for s in water.sources}
    heating = set(own)
    for body in ways.bodies("store", "cylinder"):
        if body in water.places:
            heating |= _by_coil(ways, body[1])
    found = [design_c(ways, water)]
    for part in heating:
        stops = ways.source_of[part].stops
        if stops == "sun":
            found.append(HIGHEST_C if part in own else 0.0)
        else:
            limit = ways.number(part, "limit_c")
            found.append(max(limit or 0.0, FIRE_C if stops == "fire" else 0.0))
    return min(max(found), HIGHEST_C)


def _by_coil(ways: Waterways, vessel: str) -> set[str]:
    """Sources whose own water passes a coil in a vessel, not those that heat it directly."""
    body = water_of(ways, ("body", vessel))
    found: set[str] = set()
    for element in ways.by_part[vessel]:
        if element.does is Behaviour.COIL:
            passing = water_of(ways, element.a)
            if passing is not None and passing is not body:
                found |= {s.part for s in passing.sources}
    return found


def static_head_m(ways: Waterways, water: Water) -> float:
    """Metres of water above the lowest vessel of a sealed water."""
    top = max(ways.at[p][1] for p in water.places)
    return max(0.0, top - min(ways.at["port", v, "a"][1] for v in water.vessels))


def steam_l(ways: Waterways, water: Water) -> float:
    """Litres of a solar water's collectors, which turn to steam when the pump stands in full sun."""
    return sum(ways.number(s.part, "content_l") or 0.0 for s in water.sources)


def vessel_need(ways: Waterways, water: Water, litres: float, relief_bar: float, margin_bar: float = 0.3) -> VesselNeed:
    """Least size of all vessels of a sealed water together, with the gas pressure drawn if that is higher than needed.

    `margin_bar` over the static head. Raises FigureError where the pressures leave no room.
    """
    head = static_head_m(ways, water)
    gas = max(ways.number(v, "precharge_bar") or 0.0 for v in water.vessels)
    gas = max(gas, head * expansion.BAR_PER_M + margin_bar)
    hottest = hottest_c(ways, water)
    if water.fluid == "solar":
        fluid, _ = drawn_fluid(ways, water)
        share = fluid.expansion_fraction(hottest, expansion.FILL_C)
        return expansion.solar_vessel(litres, steam_l(ways, water), hottest, head, relief_bar, gas, share)
    return expansion.sealed_vessel(litres, hottest, head, relief_bar, gas)


def swelling_of(litres: float, temp_c: float) -> float:
    """Litres by which cold water swells when heated, held to 110 degC."""
    return expansion.expansion_L(litres, min(temp_c, HIGHEST_C))


class _Sum:
    """The running sum over one water."""

    def __init__(self, hottest: float) -> None:
        self.hottest = hottest
        self.litres = {"pipes": 0.0, "bodies": 0.0, "parts": 0.0}
        self.by_temp: dict[float, float] = {}
        self.missing: list[tuple[str, str]] = []
        self.at_most = 0.0

    def add(
        self, where: str, name: str, litres: float | None, prop: str, most: float, temp_c: float | None = None
    ) -> None:
        """Count litres, or note what is not stated."""
        if litres is None:
            self.missing.append((name, prop))
            self.at_most += most
            return
        temp = min(temp_c if temp_c is not None else self.hottest, HIGHEST_C)
        self.litres[where] += litres
        self.by_temp[temp] = self.by_temp.get(temp, 0.0) + litres


def _contents(ways: Waterways, water: Water) -> Contents:
    total = _Sum(design_c(ways, water))
    assumed: set[str] = set()
    counted: set[str] = set()

    def stated(part: str, prop: str) -> float | None:
        litres = ways.number(part, prop)
        if litres is not None and not ways.typed(part, prop):
            assumed.add(part)
        return litres

    for body in ways.bodies(*VESSELS):
        if body in water.places:
            counted.add(body[1])
            litres = stated(body[1], "volume_l")
            if litres is not None and ways.kind(body[1]).body == "drain_vessel":
                litres = max(0.0, litres - (stated(body[1], "air_room_l") or 0.0))
            hot = ways.number(body[1], "design_temp_c")
            total.add("bodies", body[1], litres, "volume_l", VESSEL_AT_MOST_L, hot)
    for key in sorted(water.elements):
        element = ways.elements[key]
        if element.pipe:
            _pipe(ways, total, element.pipe)
        elif element.does is Behaviour.COIL and ways.kind(element.part).body:
            name = element.key[2].removeprefix("coil ")
            coil = next((c for c in ways.sheet.parts[element.part].coils if c.name == name), None)
            total.add("parts", element.part, coil.content_l if coil else None, "content_l", COIL_AT_MOST_L)
        elif element.part not in counted and not ways.kind(element.part).body:
            counted.add(element.part)
            litres = stated(element.part, "content_l")
            if litres is not None or ways.kind(element.part).large:
                total.add("parts", element.part, litres, "content_l", PART_AT_MOST_L)
    return Contents(
        pipes_l=total.litres["pipes"],
        bodies_l=total.litres["bodies"],
        parts_l=total.litres["parts"],
        swells_l=sum(expansion.expansion_L(litres, temp) for temp, litres in total.by_temp.items()),
        hottest_c=total.hottest,
        missing=tuple(total.missing),
        missing_at_most_l=total.at_most,
        assumed=tuple(sorted(assumed)),
    )


def _pipe(ways: Waterways, total: _Sum, pipe_id: str) -> None:
    pipe = ways.sheet.pipes[pipe_id]
    if pipe.joint:
        return
    length = developed_length_m(ways.sheet, pipe, ways.catalogue)
    try:
        litres = tube(pipe.size, pipe.material).litres_per_m * length
    except FigureError:
        litres = None
    total.add("pipes", pipe_id, litres, "size", PIPE_AT_MOST_L_M * length)
