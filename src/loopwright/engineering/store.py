"""What a store holds and loses: energy, usable hot water, buffer size, standing loss, time to heat.

Owns sums over a store's layers. Knows numbers only; a store changing in time belongs to the network's step.
Layers are listed bottom to top and are equally tall unless volumes are given one by one.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from loopwright.engineering import water
from loopwright.errors import FigureError

INSULATION_W_MK = 0.035  # soft foam or fleece round a store: common practice, no source
SURFACE_W_M2_K = 8.0  # still room air and radiation on insulation, EN ISO 12241

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


def heat_between_J(volume_m3: float, from_C: float, to_C: float) -> float:
    """Heat that takes a fixed volume from one temperature to another, J: integral of rho cp over temperature.

    The water that swells out takes its share along, so this is less than mass times cp at the start.
    Water 0 to 110 degC; the integral is exact to rounding for the formulas of `water`.
    """
    if volume_m3 < 0.0:
        raise FigureError("A store cannot hold less than nil")
    water.require_liquid([from_C, to_C])
    t = 0.5 * (to_C - from_C) * _NODES + 0.5 * (to_C + from_C)
    values = water.raw_density_kg_m3(t) * water.raw_specific_heat_J_kgK(t)
    return float(volume_m3 * 0.5 * (to_C - from_C) * np.dot(_WEIGHTS, values))


def litres_per_kilowatt(volume_m3: float, power_W: float) -> float:
    """Litres of store for each kilowatt of source."""
    if power_W <= 0.0:
        raise FigureError("Litres a kilowatt needs a source with a power above nil")
    return 1e6 * volume_m3 / power_W


@dataclass(frozen=True)
class UsableWater:
    """Litres at the tap's temperature: `mixed_L` if the store stirs itself, `plug_L` if it never does."""

    mixed_L: float
    plug_L: float
    tap_C: float
    cold_C: float


def usable_litres(
    layers_C: Sequence[float], volume_m3: float, tap_C: float = 40.0, cold_C: float = 10.0
) -> UsableWater:
    """Hot water at `tap_C` that a store full of drinking water yields, both bounds, counted at the tap.

    Plug flow: cold water pushes the layers out in order, hottest first; what is above `tap_C` is mixed
    down. Mixed: the whole store keeps one temperature until it falls to `tap_C`. Water 0 to 110 degC.
    """
    water.require_liquid([*layers_C, tap_C, cold_C])
    if not cold_C < tap_C:
        raise FigureError("The tap must be warmer than the cold supply")
    share = volume_m3 / len(layers_C)
    h_cold, h_tap = water.enthalpy_J_kg(cold_C), water.enthalpy_J_kg(tap_C)
    per_tap_kg = h_tap - h_cold
    masses = [share * water.density_kg_m3(t) for t in layers_C]
    heats = [water.enthalpy_J_kg(t) for t in layers_C]
    tap_litre = water.density_kg_m3(tap_C) / 1000.0
    plug = sum(m * (h - h_cold) for m, h, t in zip(masses, heats, layers_C, strict=True) if t >= tap_C)
    even = sum(m * h for m, h in zip(masses, heats, strict=True)) / sum(masses)
    mixed = max(0.0, sum(masses) * (even - h_tap))
    return UsableWater(mixed / per_tap_kg / tap_litre, plug / per_tap_kg / tap_litre, tap_C, cold_C)


def buffer_volume_L(burn_h: float, rated_W: float, load_W: float, least_W: float) -> float:
    """Buffer for a batch-fired boiler, litres: 15 T Qn (1 - 0.3 Qh/Qmin), not less than 300.

    T burn time of one charge h, Qn rated kW, Qh heat load kW, Qmin least output kW. Source: EN 303-5:2012.
    """
    if min(burn_h, rated_W, least_W) <= 0.0 or load_W < 0.0 or least_W > rated_W:
        raise FigureError("A buffer volume needs a burn time, a rated output, a least output not above it, and a load")
    litres = 15.0 * burn_h * rated_W / 1000.0 * (1.0 - 0.3 * load_W / least_W)
    return max(300.0, litres)


def standing_loss_limit_kWh_day(volume_L: float) -> float:
    """Greatest standing loss of a hot-water vessel, kWh a day at 45 K: 1.15 (0.2 + 0.051 V^(2/3)).

    Source: British building services compliance guide after BS 1566 (from memory). 50 to 2000 L.
    """
    _vessel(volume_L)
    return 1.15 * (0.2 + 0.051 * volume_L ** (2.0 / 3.0))


def cooled_C(ua_W_K: float, volume_m3: float, start_C: float, room_C: float, hours: float) -> float:
    """Temperature of an even store left alone for `hours`, degC: exponential with rho cp at the mean."""
    middle = 0.5 * (start_C + room_C)
    capacity = volume_m3 * water.density_kg_m3(middle) * water.specific_heat_J_kgK(middle)
    if capacity <= 0.0:
        raise FigureError("A store needs a volume above nil")
    return room_C + (start_C - room_C) * math.exp(-ua_W_K * hours * 3600.0 / capacity)


def heat_up_hours(
    volume_m3: float, from_C: float, to_C: float, power_W: float, load_W: float = 0.0, ua_W_K: float = 0.0,
    room_C: float = 20.0,
) -> float:  # fmt: skip
    """Hours to heat a store with a steady source, less a steady load and the casing's loss.

    Refused if the loss overtakes the source before `to_C`: it would never get there.
    """
    if to_C <= from_C:
        return 0.0
    net_at_end = power_W - load_W - ua_W_K * (to_C - room_C)
    if net_at_end <= 0.0:
        raise FigureError(
            f"The store never reaches {to_C:g} °C: load and loss take all the heat",
            do="Give it more power, less load or better insulation",
        )
    edges = np.linspace(from_C, to_C, 201)
    seconds = 0.0
    for a, b in pairwise(edges):
        seconds += heat_between_J(volume_m3, a, b) / (power_W - load_W - ua_W_K * (0.5 * (a + b) - room_C))
    return seconds / 3600.0


def _vessel(volume_L: float) -> None:
    if not 50.0 <= volume_L <= 2000.0:
        raise FigureError(f"The rule for standing loss runs from 50 to 2000 litres, not to {volume_L:g}")


def casing_W_K(
    diameter_m: float, height_m: float, insulation_mm: float, conductivity_W_mK: float = INSULATION_W_MK
) -> float:
    """Conductance of an insulated upright cylinder, W/K: its wall as a tube, its two ends as flat plates.

    1/U of an end is t/lambda + 1/h; the wall's is ln(r2/r1)/(2 pi lambda L) + 1/(h A2). h = 8 W/(m2 K) for still room
    air with radiation. Source: conduction, any textbook; h: EN ISO 12241. Bridges (pipes, pockets, feet) come on top.
    """
    if min(diameter_m, height_m, conductivity_W_mK) <= 0.0 or insulation_mm < 0.0:
        raise FigureError("A casing needs a diameter, a height, and insulation of nil or more")
    inner = 0.5 * diameter_m
    outer = inner + insulation_mm / 1000.0
    wall = math.log(outer / inner) / (2.0 * math.pi * conductivity_W_mK * height_m)
    wall += 1.0 / (SURFACE_W_M2_K * 2.0 * math.pi * outer * height_m)
    end = (insulation_mm / 1000.0 / conductivity_W_mK + 1.0 / SURFACE_W_M2_K) / (math.pi * inner**2)
    return 1.0 / wall + 2.0 / end
