"""A fire's cooling coil behind a thermal discharge valve: what cold water carries off once the valve opens by itself.

Owns the coil, the valve's opening and the water that runs away. Knows nothing of the network: it tells a step how much
heat leaves the fire's water for each kelvin, and above which temperature. Whether the supply may be relied on is a
matter of rules; here it counts if water reaches the coil under the condition asked about.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from dataclasses import dataclass

from loopwright.catalogue import Behaviour
from loopwright.engineering.coils import effectiveness_still
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.water import GRAVITY
from loopwright.waterways.graph import Element, Place, Waterways
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BOTH, Ask, Condition, Passing, passing
from loopwright.waterways.waters import water_of

J_KG_K = 4186.0
LEAST_SLOPE_W_K = 1.0


@dataclass
class Cooler:
    """A cooling coil: flow with the valve wide open, what the coil passes a kelvin, and the litres gone so far.

    The valve opens in a straight line over `band_K` above `opens_C`. The fire's water is one body, so that the coil
    takes `m cp (1 - exp(-UA / m cp)) (T - cold)` (effectiveness and number of transfer units).
    """

    valve: str
    opens_C: float
    band_K: float
    full_kg_s: float
    ua_W_K: float
    cold_C: float
    litres: float = 0.0
    open_now: bool = False

    def flow_kg_s(self, water_C: float) -> float:
        """Cold water that runs while the fire's water is that warm."""
        return self.full_kg_s * min(1.0, max(0.0, (water_C - self.opens_C) / self.band_K))

    def heat_W(self, water_C: float) -> float:
        """Heat that it carries off then."""
        rate = self.flow_kg_s(water_C) * J_KG_K
        if rate <= 0.0:
            return 0.0
        return rate * effectiveness_still(self.ua_W_K / rate) * (water_C - self.cold_C)

    def line(self, water_C: float) -> tuple[float, float]:
        """The heat near that temperature as a straight line: watts a kelvin, and where it would come to nil.

        The line is taken a kelvin upwards, where a fire drives the water; shut, it is nil.
        """
        if water_C <= self.opens_C:
            return 0.0, self.opens_C
        here = self.heat_W(water_C)
        slope = max(LEAST_SLOPE_W_K, self.heat_W(water_C + 1.0) - here)
        return slope, water_C - here / slope


def cooler_of(ways: Waterways, source: str, condition: Condition, cold_C: float) -> tuple[Cooler | None, str]:
    """The cooling coil of a source, if cold water reaches it through a thermal discharge valve; and what was assumed.

    The flow is the rule's litres an hour for each kilowatt, with the root of the pressure before the coil over that
    which makers ask for. The coil is one that carries off its boiler's whole power at the test's temperatures.
    """
    coil = next((e for e in ways.by_part[source] if e.does is Behaviour.COIL), None)
    if coil is None:
        return None, ""
    view = _view(ways, condition)
    near = reach(ways, passing(ways, Ask.OPEN), [coil.a, coil.b], drop={coil.key})
    valve = next(
        (e for e in ways.elements.values() if ways.has_tag(e.part, "thermal_discharge") and {e.a, e.b} & near), None
    )
    bar = None if valve is None else _pressure_bar(ways, view, coil)
    if valve is None or bar is None:
        return None, ""
    power = 1000.0 * (ways.number(source, "power_kw") or 0.0)
    usual = power / 1000.0 * assumed("cooling", "l_h_kw") / 3600.0
    full = usual * math.sqrt(max(0.0, bar) / assumed("cooling", "at_bar"))
    hot, cold = assumed("cooling", "test_hot_c"), assumed("cooling", "test_cold_c")
    share = min(0.98, power / max(1e-9, usual * J_KG_K * (hot - cold)))
    ua = -math.log1p(-share) * usual * J_KG_K
    opens = ways.number(valve.part, "opens_c") or 95.0
    words = (
        f"{ways.name(valve.part)} lets {3600.0 * full:.0f} l of cold water an hour through the coil of"
        f" {ways.name(source)}"
    )
    return Cooler(valve.part, opens, assumed("cooling", "band_k"), full, ua, cold_C), words


def _view(ways: Waterways, condition: Condition) -> Passing:
    """What lets cold water through: everything as in running, the discharge valve open, pumps only with power."""
    runs, rests = passing(ways, Ask.RUNNING, condition), passing(ways, Ask.REST, condition)
    out: Passing = {}
    for key, e in ways.elements.items():
        still = not condition.power and e.does in (Behaviour.PUMP, Behaviour.POWERED)
        out[key] = rests[key] if still else runs[key]
        if ways.has_tag(e.part, "thermal_discharge") or e.does is Behaviour.COIL:
            out[key] = BOTH
    return out


def _pressure_bar(ways: Waterways, view: Passing, coil: Element) -> float | None:
    """Pressure of the supply at the coil's height while nothing flows; None where no supply reaches it."""
    found: list[float] = []
    height = ways.at[coil.a][1]
    mains: list[tuple[Place, float]] = []
    for part in ways.tagged("mains"):
        bar = ways.number(part.id, "pressure_bar") or assumed("mains", "bar")
        mains += [(("port", part.id, name), bar) for name in ways.ports[part.id]]
    for place, bar in mains:
        if {coil.a, coil.b} & reach(ways, view, [place]):
            found.append(bar - 1e-5 * 998.0 * GRAVITY * (height - ways.at[place][1]))
    water = water_of(ways, coil.a)
    for body in ways.bodies("cistern"):
        line = ways.number(body[1], "water_line_m")
        if line is None or water is None or water.fluid != "domestic":
            continue
        if {coil.a, coil.b} & reach(ways, view, [body]):
            found.append(1e-5 * 998.0 * GRAVITY * (ways.sheet.parts[body[1]].height_m + line - height))
    return max(found, default=None)
