"""Friction of water in round pipes: the Darcy factor and the pressure lost, with its slope.

Owns the rule laminar / transition / turbulent. Knows numbers only: no tables, no materials, no networks.
All functions take floats or numpy arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

Numbers = Any

LAMINAR_RE = 2300.0
TURBULENT_RE = 4000.0
_LN10 = float(np.log(10.0))


def _colebrook(re: np.ndarray, rel: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Darcy factor by Colebrook-White and its derivative df/dRe, for Re >= 4000."""
    # Serghides' explicit form lands within 0.003 %; one Newton step takes it to rounding.
    a = -2.0 * np.log10(rel / 3.7 + 12.0 / re)
    b = -2.0 * np.log10(rel / 3.7 + 2.51 * a / re)
    c = -2.0 * np.log10(rel / 3.7 + 2.51 * b / re)
    x = a - (b - a) ** 2 / (c - 2.0 * b + a)
    arg = rel / 3.7 + 2.51 * x / re
    slope = 1.0 + 2.0 / _LN10 * 2.51 / (re * arg)
    x = x - (x + 2.0 * np.log10(arg)) / slope
    arg = rel / 3.7 + 2.51 * x / re
    slope = 1.0 + 2.0 / _LN10 * 2.51 / (re * arg)
    dx_dre = (2.0 / _LN10) * 2.51 * x / (re * re * arg) / slope
    return 1.0 / (x * x), -2.0 * dx_dre / (x * x * x)


def darcy_factor(reynolds: Numbers, relative_roughness: Numbers = 0.0) -> Numbers:
    """Darcy friction factor. Re > 0; roughness over bore 0 to 0.05.

    64/Re up to Re 2300, Colebrook-White from Re 4000, linear in Re between: gravity flow often lives there.
    Source: Colebrook 1939; the bridge between is a convention.
    """
    re = np.asarray(reynolds, dtype=float)
    f, _ = _factor_and_slope(re, np.asarray(relative_roughness, dtype=float))
    return float(f) if f.ndim == 0 else f


def _factor_and_slope(re: np.ndarray, rel: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    re_l = np.minimum(re, LAMINAR_RE)
    laminar = 64.0 / re_l
    falling = -laminar / re_l
    if rel.shape in ((), re.shape) and re.max(initial=0.0) <= LAMINAR_RE:  # by gravity nothing else is wanted
        return laminar, falling
    re_t = np.maximum(re, TURBULENT_RE)
    turbulent, slope_t = _colebrook(re_t, rel)
    edge = 64.0 / LAMINAR_RE
    bridge_slope = (turbulent - edge) / (TURBULENT_RE - LAMINAR_RE)
    bridge = edge + bridge_slope * (re - LAMINAR_RE)
    slow, fast = re <= LAMINAR_RE, re >= TURBULENT_RE
    f = np.where(slow, laminar, np.where(fast, turbulent, bridge))
    return f, np.where(slow, falling, np.where(fast, slope_t, bridge_slope))


@dataclass(frozen=True)
class Bores:
    """What of pipes never changes with the flow: area, bore over area, roughness and length over bore."""

    area_m2: np.ndarray
    bore_area_1_m: np.ndarray
    roughness: np.ndarray
    per_length: np.ndarray


def bores(bore_m: Numbers, length_m: Numbers, roughness_m: Numbers) -> Bores:
    """Pipes by bore, length and roughness, m."""
    area = 0.25 * np.pi * bore_m * bore_m
    return Bores(area, bore_m / area, np.asarray(roughness_m / bore_m, dtype=float), length_m / bore_m)


def loss_and_slope(
    flow_kg_s: Numbers,
    bore_m: Numbers,
    length_m: Numbers,
    loss_k: Numbers,
    roughness_m: Numbers,
    density_kg_m3: Numbers,
    viscosity_Pa_s: Numbers,
) -> tuple[np.ndarray, np.ndarray]:
    """Pressure lost along a pipe and its fittings, Pa, signed like the flow, and d(loss)/d(flow), Pa s/kg.

    Smooth and increasing through nil flow: the laminar part is linear, `|m|` is rounded off at 1e-7 kg/s.
    """
    of = bores(bore_m, length_m, roughness_m)
    return loss_in(of, np.asarray(flow_kg_s, dtype=float), loss_k, density_kg_m3, viscosity_Pa_s)


def loss_in(
    of: Bores, m: np.ndarray, loss_k: Numbers, density_kg_m3: Numbers, viscosity_Pa_s: Numbers
) -> tuple[np.ndarray, np.ndarray]:
    """`loss_and_slope` of pipes that are made ready."""
    size = np.sqrt(m * m + 1e-14)
    re = size * of.bore_area_1_m / viscosity_Pa_s
    f, f_slope = _factor_and_slope(re, of.roughness)
    head = 0.5 / (density_kg_m3 * (of.area_m2 * of.area_m2))
    k = f * of.per_length + loss_k
    dsize = m / size
    turned = m * size
    loss = head * k * turned
    slope = head * (k * (size + m * dsize) + f_slope * (re / size) * dsize * of.per_length * turned)
    return loss, slope
