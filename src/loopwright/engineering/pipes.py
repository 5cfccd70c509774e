"""Pipes: sizes by material, velocity, pressure gradient, fitting losses, heat lost to a room.

Owns what a pipe of a named size does with a given flow. Knows nothing of where the pipe lies on a sheet.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

from loopwright.engineering import friction, water
from loopwright.engineering.fluid import WATER, Fluid
from loopwright.engineering.tables import table
from loopwright.errors import FigureError

_STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)
LAGGING_W_MK = 0.040  # mineral wool or foam at 50 to 60 degC: common practice, no source
LAGGED_EMISSIVITY = 0.9


@dataclass(frozen=True)
class Tube:
    """One size of one material. Lengths in metres; heat capacity of the wall in J/(m K)."""

    material: str
    size: str
    outside_m: float
    wall_m: float
    roughness_m: float
    conductivity_W_mK: float
    emissivity: float
    wall_heat_J_mK: float
    source: str

    @property
    def bore_m(self) -> float:
        """Inner diameter, m."""
        return self.outside_m - 2.0 * self.wall_m

    @property
    def area_m2(self) -> float:
        """Area of the bore, m2."""
        return 0.25 * math.pi * self.bore_m**2

    @property
    def litres_per_m(self) -> float:
        """Content of a metre, l."""
        return 1000.0 * self.area_m2


def materials() -> tuple[str, ...]:
    """Keys of the known materials."""
    return tuple(table("pipes"))


def sizes(material: str) -> tuple[str, ...]:
    """Names of the sizes of a material, as listed."""
    return tuple(_material(material)["sizes"])


def _material(material: str) -> dict:
    known = table("pipes")
    if material not in known:
        raise FigureError(f"There is no pipe material “{material}”", do=f"Choose one of: {', '.join(known)}")
    return known[material]


def _tidy(size: str | float) -> str:
    text = f"{size:g}" if isinstance(size, int | float) else size
    text = text.lower().replace("×", "x").replace("mm", "").replace("dn", "").replace(" ", "")
    return re.sub(r"\.0+$", "", text) if "x" not in text else text


@cache
def tube(size: str | float, material: str = "copper") -> Tube:
    """The tube of that size. `size` as people say it: 22, "22 mm", "28 x 1.5", "DN 25"."""
    entry = _material(material)
    key = _tidy(size)
    listed = entry["sizes"]
    if key not in listed and "x" in key:  # a wall may be written out for the default wall too: 22x0.9
        outside, _, wall = key.partition("x")
        try:
            pair = [float(outside), float(wall)]
        except ValueError:
            pair = []
        key = next((name for name, dims in listed.items() if dims == pair), key)
    if key not in listed:
        raise FigureError(f"{entry['title']} is not listed in size {size}", do=f"Choose one of: {', '.join(listed)}")
    outside_mm, wall_mm = listed[key]
    metal_m2 = math.pi * (outside_mm - wall_mm) * wall_mm * 1e-6
    return Tube(
        material, key, outside_mm * 1e-3, wall_mm * 1e-3, entry["roughness_mm"] * 1e-3,
        entry["conductivity_W_mK"], entry["emissivity"],
        metal_m2 * entry["density_kg_m3"] * entry["specific_heat_J_kgK"], entry["source"],
    )  # fmt: skip


def bore_m(size: str | float, material: str = "copper") -> float:
    """Bore in metres: outside diameter less two walls. Sources in `resources/tables/pipes.toml`."""
    return tube(size, material).bore_m


def next_size_up(size: str | float, material: str = "copper") -> str | None:
    """The next larger default size (never another wall of the same size), or None if there is none."""
    now = tube(size, material)
    larger = [
        tube(name, material) for name in sizes(material)
        if "x" not in name and tube(name, material).outside_m > now.outside_m + 1e-9
    ]  # fmt: skip
    return min(larger, key=lambda t: t.outside_m).size if larger else None


def loss_k(fitting: str) -> float:
    """Loss coefficient of a fitting, referred to its own pipe. Sources: `resources/tables/fittings.toml`."""
    known = table("fittings")
    if fitting not in known:
        raise FigureError(f"There is no fitting “{fitting}”", do=f"Choose one of: {', '.join(known)}")
    return float(known[fitting]["k"])


def velocity_m_s(flow_kg_s: float, bore_m: float, temperature_C: float = 60.0, fluid: Fluid = WATER) -> float:
    """Mean velocity, m/s, signed like the flow. 0 to 110 degC."""
    water.require_liquid(temperature_C)
    return flow_kg_s / (float(fluid.density_kg_m3(temperature_C)) * 0.25 * math.pi * bore_m**2)


def reynolds(flow_kg_s: float, bore_m: float, temperature_C: float = 60.0) -> float:
    """Reynolds number 4 |m| / (pi D mu)."""
    return 4.0 * abs(flow_kg_s) / (math.pi * bore_m * water.viscosity_Pa_s(temperature_C))


def pressure_gradient_Pa_m(
    flow_kg_s: float,
    bore_m: float,
    temperature_C: float = 60.0,
    roughness_m: float = 1.5e-6,
    fluid: Fluid = WATER,
) -> float:
    """Friction per metre of pipe, Pa/m, signed like the flow. Darcy-Weisbach, water 0 to 110 degC."""
    return pressure_loss_Pa(flow_kg_s, bore_m, 1.0, 0.0, temperature_C, roughness_m, fluid)


def pressure_loss_Pa(
    flow_kg_s: float,
    bore_m: float,
    length_m: float,
    k: float = 0.0,
    temperature_C: float = 60.0,
    roughness_m: float = 1.5e-6,
    fluid: Fluid = WATER,
) -> float:
    """Pressure lost in `length_m` of pipe and fittings of total coefficient `k`, Pa, signed like the flow."""
    if bore_m <= 0.0 or length_m < 0.0 or k < 0.0 or not 0.0 <= roughness_m / bore_m <= 0.05:
        raise FigureError("A pipe needs a bore, and neither length, loss nor roughness below nil")
    water.require_liquid(temperature_C)
    rho, mu = fluid.density_kg_m3(temperature_C), fluid.viscosity_Pa_s(temperature_C)
    loss, _ = friction.loss_and_slope(flow_kg_s, bore_m, length_m, k, roughness_m, rho, mu)
    return float(loss)


def heat_loss_W_m(
    tube: Tube,
    water_C: float,
    room_C: float,
    lagging_mm: float = 0.0,
    lagging_W_mK: float = LAGGING_W_MK,
) -> float:
    """Heat lost by a metre of horizontal pipe in still room air, W/m (negative where the room is warmer).

    Wall and lagging conduct; the surface convects by 1.25 (dT/D)^0.25 W/(m2 K) (D^3 dT up to 10 m3 K;
    1.21 dT^(1/3) beyond) and radiates as a grey body to walls at air temperature. Source: EN ISO 12241.
    The water film is neglected: it counts only where the water hardly moves. Within about 15 %.
    """
    if lagging_mm < 0.0 or lagging_W_mK <= 0.0:
        raise FigureError("Lagging has a thickness of nil or more, and a conductivity above nil")
    if not (-30.0 <= room_C <= 60.0 and 0.0 <= water_C <= 200.0):
        raise FigureError("Pipe heat loss is known here for water of 0 to 200 °C and rooms of -30 to 60 °C")
    if water_C == room_C:
        return 0.0
    outside = tube.outside_m + 2e-3 * lagging_mm
    emissivity = LAGGED_EMISSIVITY if lagging_mm > 0.0 else tube.emissivity
    resistance = math.log(tube.outside_m / tube.bore_m) / (2.0 * math.pi * tube.conductivity_W_mK)
    if lagging_mm > 0.0:
        resistance += math.log(outside / tube.outside_m) / (2.0 * math.pi * lagging_W_mK)

    def leaves(surface_C: float) -> float:
        d = abs(surface_C - room_C)
        h = 1.25 * (d / outside) ** 0.25 if outside**3 * d <= 10.0 else 1.21 * d ** (1.0 / 3.0)
        kelvin, room = surface_C + 273.15, room_C + 273.15
        radiated = emissivity * _STEFAN_BOLTZMANN * (kelvin**4 - room**4)
        return math.pi * outside * (h * (surface_C - room_C) + radiated)

    low, high = min(water_C, room_C), max(water_C, room_C)
    for _ in range(80):  # what leaves rises with the surface temperature, what arrives falls: halving
        surface = 0.5 * (low + high)
        if leaves(surface) > (water_C - surface) / resistance:
            high = surface
        else:
            low = surface
    return leaves(0.5 * (low + high))
