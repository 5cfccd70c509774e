"""What sources give in time: a charge burning down, the sun on a collector, a burner that modulates and cycles.

Owns the heat curves and the state of each source between steps. Knows nothing of pipes, and asks no schedule: who runs
it says when a fire is lit, whether a burner may burn, what the weather is.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from dataclasses import dataclass, field

from loopwright.engineering.drawn_parts import Asked
from loopwright.engineering.runs.given import assumed
from loopwright.waterways.graph import Source, Waterways

LEAST_HORIZON_S = 20.0
"""A burner that modulates does not try to put its water right sooner than that, however short a step is."""


@dataclass(frozen=True)
class Charge:
    """One load of fuel: heat to water `heat_J` at full power `power_W` after `lighting_s` of kindling.

    Power rises in a straight line while it catches, stands until a stated share of the heat has been given, then dies
    down as embers do, exponentially, so that all of it has been given in the end.
    """

    power_W: float
    heat_J: float
    lighting_s: float
    share: float

    def given_J(self, seconds: float) -> float:
        """Heat given to the water by then, J."""
        t = max(0.0, seconds)
        if self.power_W <= 0.0 or self.heat_J <= 0.0:
            return 0.0
        kindled = 0.5 * self.power_W * self.lighting_s
        peak, lighting = self.power_W, self.lighting_s
        if kindled > self.share * self.heat_J:  # too small a charge to burn up: the same rise, cut short
            lighting = math.sqrt(2.0 * self.share * self.heat_J * self.lighting_s / self.power_W)
            peak = self.power_W * lighting / self.lighting_s
            kindled = self.share * self.heat_J
        if t <= lighting:
            return 0.5 * peak * t * t / lighting if lighting > 0.0 else 0.0
        held = (self.share * self.heat_J - kindled) / peak
        if t <= lighting + held:
            return kindled + peak * (t - lighting)
        left = (1.0 - self.share) * self.heat_J
        return self.heat_J - left * math.exp(-(t - lighting - held) * peak / left)

    def mean_W(self, start_s: float, stop_s: float) -> float:
        """Mean power between two instants after lighting, W."""
        return (self.given_J(stop_s) - self.given_J(start_s)) / (stop_s - start_s)


def charge_of(asked: Asked, part: str, *, share: float = 1.0, burning: bool = False) -> Charge:
    """The charge of a fire: its own heat, else its power for its burning time, else for a usual one (noted).

    `burning`: it burns well already. Raises FigureError where its power is missing.
    """
    ways = asked.ways
    power = 1000.0 * asked.number(part, "power_kw", "power to water")
    kwh = ways.number(part, "charge_kwh")
    if kwh is not None:
        heat = 3.6e6 * kwh
    else:
        hours = ways.number(part, "burn_time_h")
        if hours is None:
            hours = assumed("fire", "burn_h")
            asked.suppose(f"{ways.name(part)} burns {hours:g} h on one charge")
        heat = 3600.0 * hours * power
    lighting = 0.0 if burning else 60.0 * assumed("fire", "lighting_min")
    return Charge(power, share * heat, lighting, assumed("fire", "steady_share"))


@dataclass
class Fire:
    """A fire and the charges laid on it."""

    part: str
    charges: list[tuple[float, Charge]] = field(default_factory=list)

    def mean_W(self, t: float, dt: float) -> float:
        """Heat to water over the step from t to t + dt."""
        return sum(c.mean_W(t - start, t + dt - start) for start, c in self.charges if t + dt > start)

    def burns(self, t: float) -> bool:
        """Whether it gives more than a twentieth of its power."""
        return any(c.mean_W(t - start, t - start + 1.0) > 0.05 * c.power_W for start, c in self.charges if t >= start)

    def going(self, t: float) -> bool:
        """Whether it burns, or has been lit and is catching."""
        return self.burns(t) or any(0.0 <= t - start < c.lighting_s for start, c in self.charges)


@dataclass
class Burner:
    """A source that can be switched: it modulates down to its least power, cycles below it, and rests between burns.

    `cell_J_K` is the heat of its own water and metal: what a second of its power does to its temperature.
    """

    part: str
    most_W: float
    least_W: float
    flow_C: float
    cell_J_K: float
    least_run_s: float
    least_rest_s: float
    overshoot_K: float
    electric: bool = False
    pump: bool = False  # a heat pump
    power_W: float = 0.0
    burning: bool = False
    since_s: float = -1e9
    starts: int = 0
    last_C: float = 20.0
    last_s: float = LEAST_HORIZON_S
    """Temperature of its water at the beginning of the last step, and how long that was."""

    def step(self, t: float, dt: float, water_C: float, called: bool, factor: float = 1.0) -> float:
        """Power over the step that begins at t, W, from the temperature of its water at the end of the last."""
        was_C, self.last_C = self.last_C, water_C
        passed_s, self.last_s = self.last_s, dt
        most, least = self.most_W * factor, min(self.least_W, self.most_W * factor)
        if not called:
            self._switch(t, False)
            return 0.0
        long_enough = t - self.since_s >= (self.least_run_s if self.burning else self.least_rest_s) - 1e-6
        if self.burning and water_C > self.flow_C + self.overshoot_K and long_enough:
            self._switch(t, False)
        elif not self.burning and water_C < self.flow_C - self.overshoot_K and long_enough:
            self._switch(t, True)
            self.power_W = most
        if not self.burning:
            return 0.0
        if self.least_W < self.most_W:
            # what the water carried off in the last step, and what brings it half-way to its setting in this one
            taken = self.power_W - (water_C - was_C) * self.cell_J_K / passed_s
            want = taken + 0.5 * (self.flow_C - water_C) * self.cell_J_K / max(dt, LEAST_HORIZON_S)
            self.power_W = min(most, max(least, want))
        else:
            self.power_W = most
        if water_C > self.flow_C + 3.0 * self.overshoot_K:  # its own limit stops it whatever the least burn
            self._switch(t, False)
            return 0.0
        return self.power_W

    @property
    def turns_at_C(self) -> float:
        """Where it would stop, or start, by its own thermostat."""
        return self.flow_C + (self.overshoot_K if self.burning else -self.overshoot_K)

    def free_at_s(self) -> float:
        """When it has burnt, or rested, long enough to be switched."""
        return self.since_s + (self.least_run_s if self.burning else self.least_rest_s)

    def _switch(self, t: float, on: bool) -> None:
        if on != self.burning:
            self.burning, self.since_s = on, t
            self.starts += on
            if not on:
                self.power_W = 0.0


def burner_of(asked: Asked, source: Source, cell_J_K: float) -> Burner:
    """The burner of a switched source. Raises FigureError where power or flow temperature is missing."""
    ways: Waterways = asked.ways
    most = 1000.0 * asked.number(source.part, "power_kw", "power to water")
    least = ways.number(source.part, "min_output_kw")
    heat_pump = ways.has_tag(source.part, "heat_pump")
    electric = ways.sheet.parts[source.part].kind == "boiler_electric"
    modulates = heat_pump or electric
    return Burner(
        source.part,
        most,
        1000.0 * least if least is not None else (0.3 * most if modulates else most),
        asked.number(source.part, "t_flow_c", "flow temperature"),
        cell_J_K,
        60.0 * assumed("boiler", "least_run_min"),
        60.0 * assumed("boiler", "least_rest_min"),
        assumed("boiler", "overshoot_k"),
        electric=electric or heat_pump,
        pump=heat_pump,
    )


def heat_pump_share(outdoor_C: float) -> float:
    """Output of a heat pump against its rated one, by outdoor air."""
    return min(1.3, max(0.5, 1.0 + assumed("heat_pump", "per_k") * (outdoor_C - assumed("heat_pump", "rated_at_c"))))


def heat_pump_electric_W(heat_W: float, flow_C: float, outdoor_C: float) -> float:
    """Electric power of a heat pump: a share of the ideal figure between outdoor air and its flow."""
    lift = max(10.0, flow_C - outdoor_C)
    return heat_W / max(1.0, assumed("heat_pump", "carnot_share") * (flow_C + 273.15) / lift)
