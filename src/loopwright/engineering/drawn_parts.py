"""What the parts of a drawing bring to its flow network: heat in, heat out, pumps, stores, the boiling line.

Owns how a part's properties become figures of the network, and which of them are assumed. Knows nothing of runs.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from loopwright.engineering.fluid import WATER, Fluid, fluid_of
from loopwright.engineering.net import Cell, End, Pump, Store, WaterLine
from loopwright.engineering.tables import table
from loopwright.engineering.water import ATMOSPHERE_PA, GRAVITY
from loopwright.errors import FigureError
from loopwright.sheet.values import Coil
from loopwright.waterways.graph import Place, Sink, Source, Waterways
from loopwright.waterways.views import Ask, Condition
from loopwright.waterways.waters import Water

WATER_J_L_K = 4100.0  # heat of a litre at about 60 degC
PUMP_KG_M3 = 998.0  # pump curves are measured with cold water
HOLD_W_K = 1e4  # a thermostat's grip on the water that leaves its source: numerical
TALL_M = 0.3  # an upright header taller than this has layers of its own; a lower one is a joint


class Charge(StrEnum):
    """How warm the stores stand."""

    FULL = "full"
    """At their design temperature throughout: the worst case for a fire."""
    WORKING = "working"
    """Lower half at the temperature of water coming back from the house, upper half at design temperature."""


@dataclass(frozen=True)
class Heat:
    """What a source gives: watts that come whatever happens, or a flow temperature that its thermostat holds."""

    watts: float = 0.0
    held_C: float | None = None


@dataclass(frozen=True)
class Side:
    """What one side of a plate exchanger meets on its other side: a temperature, through a conductance."""

    ua_W_K: float
    other_C: float


@dataclass
class Asked:
    """The question put to a drawing, and what was assumed while it was answered."""

    ways: Waterways
    condition: Condition
    ask: Ask
    charge: Charge
    heats: Mapping[str, Heat]
    lossy: bool = False
    """Whether pipes lose heat, bare or lagged as drawn."""
    sides: Mapping[tuple[str, str], Side] = field(default_factory=dict)
    """What each side of a plate exchanger meets, by part and way."""
    assumed: list[str] = field(default_factory=list)
    plates: bool = False
    """Whether plate exchangers pass heat, through nodes that stand for their metal."""

    def number(self, part: str, prop: str, words: str) -> float:
        """A number that nothing can be computed without."""
        found = self.ways.number(part, prop)
        if found is None:
            raise FigureError(f"{self.ways.name(part)}: {words} is missing", where=f"{part}, {prop}", do="State it")
        return found

    def suppose(self, words: str) -> None:
        """Note an assumption once."""
        if words not in self.assumed:
            self.assumed.append(words)


def figure(name: str, key: str) -> float:
    """A figure of `resources/tables/flow.toml`."""
    return float(table("flow")[name][key])


def heat_of(ways: Waterways, source: Source, condition: Condition, ask: Ask, share: float = 1.0) -> Heat:
    """What a source gives under a condition, at a share of its nominal output.

    Fires give their power to water. Switched sources hold their flow temperature while there is power. Those with
    residual heat give that without power. The sun shines with power on; without it the collector's pump stands.
    """
    name = ways.name(source.part)

    def number(prop: str, words: str) -> float:
        found = ways.number(source.part, prop)
        if found is None:
            raise FigureError(f"{name}: {words} is missing", where=f"{source.part}, {prop}", do="State it")
        return found

    if source.part in condition.out or share <= 0.0:
        return Heat()
    powered = condition.power and ask is Ask.RUNNING
    if source.stops == "fire":
        return Heat(1000.0 * share * number("power_kw", "power to water"))
    if source.stops == "sun":
        area = number("absorber_m2", "absorber area")
        return Heat(share * figure("sun", "watts_per_m2") * area) if powered else Heat()
    if powered:
        return Heat(1000.0 * share * number("power_kw", "power to water"), number("t_flow_c", "flow temperature"))
    if source.stops == "residual":
        return Heat(1000.0 * (ways.number(source.part, "residual_kw") or 0.0))
    return Heat()


def source_cell(asked: Asked, source: Source) -> Cell | None:
    """The heated water of a source, or None if it gives no heat."""
    heat = asked.heats.get(source.part, Heat())
    if heat.watts <= 0.0:
        return None
    litres = asked.ways.number(source.part, "content_l") or 5.0
    stored = 1000.0 * figure("source_metal", "kj_per_k") + WATER_J_L_K * litres
    if heat.held_C is None:
        return Cell(heat_J_K=stored, source_W=heat.watts)
    return Cell(heat_J_K=stored, coil_W_K=HOLD_W_K, coil_to=End(thermostat(source), source.height_m))


def thermostat(source: Source) -> str:
    """Name of the body of fixed temperature that stands for a source's thermostat."""
    return f"thermostat of {source.part}"


def thermostat_store(asked: Asked, source: Source) -> Store | None:
    """The body of fixed temperature that a held source gives or takes heat from."""
    heat = asked.heats.get(source.part, Heat())
    if heat.watts <= 0.0 or heat.held_C is None:
        return None
    return Store(thermostat(source), source.height_m, source.height_m + 0.1, 1.0, (heat.held_C,))


def side_name(part: str, way: str) -> str:
    """Name of the body that stands for what a side of a plate exchanger meets."""
    return f"beyond {part} {way}"


def side_store(part: str, way: str, side: Side) -> Store:
    """That body: of one fixed temperature."""
    return Store(side_name(part, way), 0.0, 1.0, 1.0, (side.other_C,))


def emitter_cell(asked: Asked, sink: Sink) -> Cell:
    """An emitter by its rated output, after EN 442; a floor by its own design temperature."""
    ways, part = asked.ways, sink.part
    room = figure("room", "celsius")
    stored = 1000.0 * figure("emitter_metal", "kj_per_k") + WATER_J_L_K * (ways.number(part, "content_l") or 3.0)
    powered = asked.condition.power and asked.ask is Ask.RUNNING
    if ways.has_tag(part, "fan") and not powered:
        return Cell(heat_J_K=stored, emitter_W=ways.number(part, "output_without_fan_w") or 0.0, room_C=room)
    output = asked.number(part, "output_w", "rated output")
    exponent = ways.number(part, "exponent") or 1.3
    rise = 50.0
    if ways.has_tag(part, "underfloor"):
        need = asked.number(part, "t_need_c", "flow temperature needed")
        rise = max(2.0, need - 0.5 * figure("floor", "spread_k") - room)
        if ways.value(part, "mixing_built_in"):
            exponent = figure("floor", "held_exponent")
            asked.suppose(f"{ways.name(part)} mixes down to what its floor needs")
    return Cell(heat_J_K=stored, emitter_W=output, emitter_n=exponent, emitter_dT_K=rise, room_C=room)


@dataclass(frozen=True)
class Tubing:
    """A coil as one plain tube: bore and length from its surface and content, and what it passes, W/K."""

    bore_m: float
    length_m: float
    ua_W_K: float


def tubing(asked: Asked, part: str, coil: Coil) -> Tubing:
    """The tube of a coil of the drawing asked about."""
    return coil_tube(asked.ways, part, coil)


def coil_tube(ways: Waterways, part: str, coil: Coil) -> Tubing:
    """Surface A and content V give bore 4 V / A and length A / (pi bore), the wall neglected; UA is U A."""
    name = f"{ways.name(part)}, coil “{coil.name}”"
    for value, words, prop in ((coil.area_m2, "surface", "area_m2"), (coil.content_l, "water content", "content_l")):
        if not value:
            raise FigureError(f"{name}: {words} is missing", where=f"{part}, {prop}", do="State it")
    assert coil.area_m2 and coil.content_l
    bore = 4.0 * coil.content_l / 1000.0 / coil.area_m2
    return Tubing(bore, coil.area_m2 / (math.pi * bore), coil.area_m2 * figure("coil", "watts_per_m2_K"))


def drawn_fluid(ways: Waterways, of: Water) -> tuple[Fluid, str]:
    """What fills a water, and what had to be supposed, empty if nothing. Antifreeze is what one of its parts says."""
    for part in sorted(of.parts):
        if part in ways.sheet.parts and ways.kind(part).body != "cistern":
            words = ways.value(part, "fluid")
            found, supposed = fluid_of(words if isinstance(words, str) else None)
            if found is not WATER or supposed:
                if not ways.typed(part, "fluid"):
                    supposed = supposed or f"{ways.name(part)} is filled with {found.name}"
                return found, supposed
    return WATER, ""


def pump_curve(asked: Asked, part: str) -> Pump:
    """A parabola from the head with no flow down to the flow with no head."""
    head = PUMP_KG_M3 * GRAVITY * asked.number(part, "head_m", "head with no flow")
    most = PUMP_KG_M3 * asked.number(part, "flow_max_m3h", "flow with no head") / 3600.0
    if most <= 0.0:
        raise FigureError(f"{asked.ways.name(part)}: flow with no head is nil", where=f"{part}, flow_max_m3h")
    if asked.ways.value(part, "pressure_controlled"):
        asked.suppose(f"{asked.ways.name(part)} runs at its full setting")
    return Pump(head, 0.0, -head / most**2)


def opening_Pa(asked: Asked, part: str, light: bool) -> float:
    """Pressure that lifts a one-way's disc, `light` for a flap that buoyancy lifts; a bypass valve's own setting."""
    kpa = asked.ways.number(part, "setting_kpa")
    if kpa is not None:
        return 1000.0 * kpa
    stated = asked.ways.number(part, "opening_pa")
    if stated is None:
        stated = figure("flap" if light else "check", "opening_pa")
        asked.suppose(f"{asked.ways.name(part)} opens at {stated:g} Pa")
    return stated


def is_store(ways: Waterways, place: Place) -> bool:
    """Whether a body has layers: a store, a cylinder, or a tall header. Any other body is a joint."""
    if place[0] != "body":
        return False
    base, top = ways.body_range(place[1])
    return ways.kind(place[1]).body in ("store", "cylinder") or top - base > TALL_M


def store_of(asked: Asked, part: str) -> Store:
    """A vessel with its layers held, or a tall header with layers that the water makes."""
    ways = asked.ways
    base, top = ways.body_range(part)
    litres = asked.number(part, "volume_l", "volume")
    if ways.kind(part).body not in ("store", "cylinder"):
        return Store(part, base, top, litres / 1000.0, (40.0,) * 4, evolving=True)
    design = asked.number(part, "design_temp_c", "design temperature")
    count = round(figure("layers", "count"))
    layers = [design] * count
    if asked.charge is Charge.WORKING:
        cold = min(design, figure("cold_side", "celsius"))
        layers = [cold if i < count // 2 else design for i in range(count)]
    return Store(part, base, top, litres / 1000.0, tuple(layers))


def line_of(asked: Asked, water: Water) -> WaterLine:
    """Where the absolute pressure of a water is known: the lowest cistern's line, or the charge of its vessel."""
    ways = asked.ways
    lines = [
        ways.sheet.parts[part].height_m + asked.number(part, "water_line_m", "cold water line")
        for _, part in water.feeds
    ]
    if lines:
        return WaterLine(min(lines))
    drains = [b[1] for b in ways.bodies("drain_vessel") if b in water.places]
    if drains:
        return WaterLine(
            min(ways.sheet.parts[d].height_m + asked.number(d, "water_line_m", "cold water line") for d in drains)
        )
    charged = [
        (asked.number(v, "precharge_bar", "gas pressure before filling"), ways.at["port", v, "a"][1])
        for v in water.vessels
    ]
    if charged:
        bar, height = min(charged, key=lambda c: c[0] * 1e5 / (PUMP_KG_M3 * GRAVITY) + c[1])
        return WaterLine(height, ATMOSPHERE_PA + 1e5 * bar)
    asked.suppose("The water stands under the air's pressure at its highest place")
    return WaterLine(max(ways.at[p][1] for p in water.places))
