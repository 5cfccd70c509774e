"""Hot water at the tap from a coil in a store: yield, mixing, litres before it runs cool, dead legs.

Owns the chain coil, mixing valve, outlet. Knows numbers only. Domestic flow is measured cold, in L/min.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loopwright.engineering import coils, water
from loopwright.errors import FigureError


def mixing_share(hot_C: float, cold_C: float, mixed_C: float) -> float:
    """Share by mass of the mixed water that comes from the hot side, by enthalpies. Water 0 to 110 degC."""
    if not cold_C < mixed_C <= hot_C:
        raise FigureError(
            f"Water of {hot_C:g} and {cold_C:g} °C cannot be mixed to {mixed_C:g} °C",
            do="The mixed water must lie between the hot and the cold supply",
        )
    cold = water.enthalpy_J_kg(cold_C)
    return (water.enthalpy_J_kg(mixed_C) - cold) / (water.enthalpy_J_kg(hot_C) - cold)


@dataclass(frozen=True)
class CoilYield:
    """What a mains coil gives: outlet temperature, heat taken, its share of the tap's flow, its flow."""

    outlet_C: float
    heat_W: float
    hot_share: float
    coil_kg_s: float
    reaches: bool


def coil_yield(
    tap_L_min: float,
    cold_C: float,
    ua_by_layer_W_K: Sequence[float],
    layers_C: Sequence[float],
    tap_C: float = 40.0,
) -> CoilYield:
    """Outlet of a coil that feeds a mixing valve set to `tap_C`, layers in order of flow (usually upwards).

    The valve sends only a share of the tap's flow through the coil, which warms it further: both are solved
    together. If even the whole flow comes out cooler than `tap_C`, all goes through and `reaches` is false.
    """
    if tap_L_min <= 0.0:
        raise FigureError("A coil yield needs a flow at the tap above nil")
    flow = tap_L_min / 60.0 * water.density_kg_m3(cold_C) / 1000.0

    def outlet(share: float) -> coils.CoilResult:
        return coils.through_layers(share * flow, cold_C, ua_by_layer_W_K, layers_C)

    full = outlet(1.0)
    if full.outlet_C <= tap_C:
        return CoilYield(full.outlet_C, -full.heat_to_store_W, 1.0, flow, full.outlet_C >= tap_C - 1e-9)
    low, high = 1e-6, 1.0
    for _ in range(60):  # the share taken raises the mixed temperature, so halving finds it
        share = 0.5 * (low + high)
        if share > mixing_share(outlet(share).outlet_C, cold_C, tap_C):
            high = share
        else:
            low = share
    share = 0.5 * (low + high)
    end = outlet(share)
    return CoilYield(end.outlet_C, -end.heat_to_store_W, share, share * flow, True)


def litres_before_cool(
    volume_m3: float, store_C: float, ua_W_K: float, tap_L_min: float, tap_C: float = 40.0,
    cold_C: float = 10.0,
) -> float:  # fmt: skip
    """Litres at `tap_C` from a coil in a well-mixed store before the tap runs cooler than that.

    The store may fall to the temperature at which the full flow through the coil just reaches `tap_C`:
    cold + (tap - cold)/effectiveness; until then each litre takes just its own heat. No reheating.
    """
    if volume_m3 <= 0.0 or tap_L_min <= 0.0 or ua_W_K <= 0.0 or not cold_C < tap_C:
        raise FigureError("Litres at the tap need a store, a coil, a flow and a tap warmer than the supply")
    flow = tap_L_min / 60.0 * water.density_kg_m3(cold_C) / 1000.0
    cp = water.specific_heat_J_kgK(0.5 * (tap_C + cold_C))
    end_C = cold_C + (tap_C - cold_C) / coils.effectiveness_still(ua_W_K / (flow * cp))
    if end_C >= store_C:
        return 0.0
    # primary water is not exchanged, so its mass stays: enthalpy difference of what the store held when hot
    fall = water.enthalpy_J_kg(store_C) - water.enthalpy_J_kg(end_C)
    heat = volume_m3 * water.density_kg_m3(store_C) * fall
    per_kg = water.enthalpy_J_kg(tap_C) - water.enthalpy_J_kg(cold_C)
    return heat / per_kg / (water.density_kg_m3(tap_C) / 1000.0)


def dead_leg_seconds(length_m: float, bore_m: float, tap_L_min: float) -> float:
    """Seconds until hot water arrives through a dead leg: plug flow, the pipe's own heat neglected."""
    if length_m < 0.0 or bore_m <= 0.0 or tap_L_min <= 0.0:
        raise FigureError("A dead leg needs a length, a bore and a flow")
    return 0.25 * math.pi * bore_m**2 * length_m * 1000.0 / (tap_L_min / 60.0)
