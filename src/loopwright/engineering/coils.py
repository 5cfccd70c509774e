"""Coils and exchangers by effectiveness and number of transfer units.

Owns the effectiveness laws and a coil lying through the layers of a store. Knows numbers only.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loopwright.engineering import water
from loopwright.errors import FigureError


def effectiveness_still(ntu: float) -> float:
    """One side at one temperature: 1 - exp(-NTU). Source: Kays and London; any textbook."""
    if ntu < 0.0:
        raise FigureError("The number of transfer units cannot be below nil")
    return -math.expm1(-ntu)


def effectiveness_counterflow(ntu: float, capacity_ratio: float) -> float:
    """Counterflow exchanger; `capacity_ratio` = smaller over larger m cp, 0 to 1. Source: Kays and London."""
    if ntu < 0.0 or not 0.0 <= capacity_ratio <= 1.0:
        raise FigureError("Counterflow needs NTU of nil or more and a capacity ratio from 0 to 1")
    if capacity_ratio > 1.0 - 1e-9:
        return ntu / (1.0 + ntu)
    e = math.exp(-ntu * (1.0 - capacity_ratio))
    return (1.0 - e) / (1.0 - capacity_ratio * e)


@dataclass(frozen=True)
class CoilResult:
    """What a coil does: outlet temperature, heat to the store (negative: from it), and that heat by layer."""

    outlet_C: float
    heat_to_store_W: float
    heat_by_layer_W: tuple[float, ...]


def through_layers(
    flow_kg_s: float, inlet_C: float, ua_by_layer_W_K: Sequence[float], layers_C: Sequence[float]
) -> CoilResult:
    """A coil met layer after layer in the order of flow, each layer at its own even temperature.

    Every layer has effectiveness 1 - exp(-UA/(m cp)), cp at the mean of water and layer. The layers do
    not change meanwhile: a store in time is stepped elsewhere. Flow above nil, water 0 to 110 degC.
    """
    if flow_kg_s <= 0.0 or len(ua_by_layer_W_K) != len(layers_C) or min(ua_by_layer_W_K, default=0.0) < 0.0:
        raise FigureError("A coil needs a flow above nil and a transfer figure for every layer")
    t = inlet_C
    heats = []
    for ua, layer in zip(ua_by_layer_W_K, layers_C, strict=True):
        cp = water.specific_heat_J_kgK(0.5 * (t + layer))
        out = t + (layer - t) * effectiveness_still(ua / (flow_kg_s * cp))
        heats.append(flow_kg_s * (water.enthalpy_J_kg(t) - water.enthalpy_J_kg(out)))
        t = out
    return CoilResult(float(t), float(sum(heats)), tuple(float(q) for q in heats))


def exchanger_heat_W(ua_W_K: float, hot_kg_s: float, hot_C: float, cold_kg_s: float, cold_C: float) -> float:
    """Heat through a counterflow plate exchanger, W, from its two inlet temperatures."""
    if hot_kg_s < 0.0 or cold_kg_s < 0.0 or ua_W_K < 0.0:
        raise FigureError("An exchanger needs flows and a transfer figure of nil or more")
    a = hot_kg_s * water.specific_heat_J_kgK(hot_C)
    b = cold_kg_s * water.specific_heat_J_kgK(cold_C)
    small, large = min(a, b), max(a, b)
    if small == 0.0:
        return 0.0
    return small * effectiveness_counterflow(ua_W_K / small, small / large) * (hot_C - cold_C)
