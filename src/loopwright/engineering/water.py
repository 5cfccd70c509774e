"""Liquid water near atmospheric pressure: density, heat, viscosity, expansion and where it boils.

Owns the closed formulas and their range of validity (0 to 110 degC). Knows nothing of pipes, stores, sheets.
Functions take and give floats or numpy arrays alike. Temperatures are in degrees Celsius.

`raw_*` twins are the same formulas without the guard, for iterative solvers whose trial states may stray for
a step; whoever uses them must check the final state with `require_liquid`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from loopwright.errors import FigureError

Numbers = Any  # float or numpy array of floats: what goes in comes out

GRAVITY = 9.80665  # m/s2, standard acceleration of free fall
ATMOSPHERE_PA = 101_325.0  # standard atmosphere
LOWEST_C = 0.0
HIGHEST_C = 110.0

# Kell, J. Chem. Eng. Data 20 (1975) 97, as reprinted in Jones and Harris, J. Res. NIST 97 (1992) 335.
_KELL_TOP = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_BELOW = 16.879850e-3
# Specific heat along 1 atm (saturation line above 99.97 degC): least squares through IAPWS-IF97, 0.01 %
# over 1 to 110 degC.
_CP = (4218.794, -325.1754, 1131.932, -2285.551, 2777.778, -1739.433, 438.2084)
_H = tuple(c * 100.0 / (i + 1) for i, c in enumerate(_CP))
# Viscosity at 0.1 MPa: IAPWS SR6-08, four terms, valid 253 to 383 K.
_MU = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
# IAPWS-IF97 region 4, the saturation line.
_SAT = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip


def require_liquid(temperature_C: Numbers, *, where: str = "") -> None:
    """Raise FigureError unless every temperature lies within 0 to 110 degC."""
    t = np.asarray(temperature_C, dtype=float)
    if t.size and not (np.all(t >= LOWEST_C) and np.all(t <= HIGHEST_C)):
        bad = t[~((t >= LOWEST_C) & (t <= HIGHEST_C))].flat[0]
        raise FigureError(
            f"Water properties are known here from 0 to 110 °C, and {bad:.1f} °C was asked for",
            where=where,
            do="Look for a temperature outside that range",
        )


def _poly(coefficients: tuple[float, ...], x: Numbers) -> Numbers:
    total = coefficients[-1]
    for c in coefficients[-2::-1]:
        total = total * x + c
    return total


def raw_density_kg_m3(t: Numbers) -> Numbers:
    """Kell's formula without the guard; Kell gives it to 150 degC."""
    return _poly(_KELL_TOP, t) / (1.0 + _KELL_BELOW * t)


def raw_density_slope(t: Numbers) -> Numbers:
    """d rho / dT in kg/(m3 K), the derivative of Kell's formula."""
    top = _poly(_KELL_TOP, t)
    slope = _poly(tuple(i * c for i, c in enumerate(_KELL_TOP))[1:], t)
    below = 1.0 + _KELL_BELOW * t
    return (slope * below - top * _KELL_BELOW) / (below * below)


def raw_specific_heat_J_kgK(t: Numbers) -> Numbers:
    """Specific heat, J/(kg K), without a look at the range."""
    return _poly(_CP, 0.01 * t)


def raw_enthalpy_J_kg(t: Numbers) -> Numbers:
    """Enthalpy above 0 degC, J/kg, without a look at the range."""
    return t * 0.01 * _poly(_H, 0.01 * t)


def raw_viscosity_Pa_s(t: Numbers) -> Numbers:
    """Dynamic viscosity, Pa s, without a look at the range."""
    x = (t + 273.15) / 300.0
    return 1e-6 * sum(a * x**b for a, b in _MU)


_IN_HUNDREDS = np.array(
    [
        [c * 100.0**i for i, c in enumerate(_KELL_TOP)] + [0.0, 0.0],
        [(i + 1) * c * 100.0**i for i, c in enumerate(_KELL_TOP[1:])] + [0.0] * 3,
        [*_CP, 0.0],
        [0.0, *_H],
    ]
)


def raw_all(t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Density, its slope, specific heat and enthalpy at once: the `raw_*` formulas by powers of t / 100."""
    x = 0.01 * t.ravel()
    powers = np.empty((8, x.size))
    powers[0], powers[1] = 1.0, x
    for i in range(2, 8):
        np.multiply(powers[i - 1], x, out=powers[i])
    top, slope, heat, enthalpy = _IN_HUNDREDS @ powers
    share = 1.0 / (1.0 + 100.0 * _KELL_BELOW * x)
    density = top * share
    shape = t.shape
    slope = (slope - density * _KELL_BELOW) * share
    return density.reshape(shape), slope.reshape(shape), heat.reshape(shape), enthalpy.reshape(shape)


def density_kg_m3(temperature_C: Numbers) -> Numbers:
    """Density, kg/m3. 0 to 110 degC, within 0.02 %. Source: Kell 1975 (at 1 atm)."""
    require_liquid(temperature_C)
    return raw_density_kg_m3(temperature_C)


def specific_heat_J_kgK(temperature_C: Numbers) -> Numbers:
    """Specific heat at constant pressure, J/(kg K). 0 to 110 degC, within 0.1 %. Fitted to IAPWS-IF97."""
    require_liquid(temperature_C)
    return raw_specific_heat_J_kgK(temperature_C)


def enthalpy_J_kg(temperature_C: Numbers) -> Numbers:
    """Enthalpy above 0 degC near atmospheric pressure, J/kg: the integral of the specific heat."""
    require_liquid(temperature_C)
    return raw_enthalpy_J_kg(temperature_C)


def temperature_at_enthalpy_C(enthalpy_J_kg: float) -> float:
    """Temperature of liquid water with that enthalpy above 0 degC. Newton's method on `enthalpy_J_kg`."""
    t = enthalpy_J_kg / 4190.0
    for _ in range(20):
        step = (raw_enthalpy_J_kg(t) - enthalpy_J_kg) / raw_specific_heat_J_kgK(min(max(t, 0.0), HIGHEST_C))
        t -= step
        if abs(step) < 1e-10:
            break
    require_liquid(t)
    return float(t)


def viscosity_Pa_s(temperature_C: Numbers) -> Numbers:
    """Dynamic viscosity, Pa s. 0 to 110 degC, within 1 %. Source: IAPWS SR6-08, liquid at 0.1 MPa."""
    require_liquid(temperature_C)
    return raw_viscosity_Pa_s(temperature_C)


def expansion_fraction(temperature_C: Numbers, fill_temperature_C: float = 10.0) -> Numbers:
    """Growth of a volume filled at `fill_temperature_C`: rho(fill)/rho(T) - 1, a fraction. 0 to 110 degC."""
    return density_kg_m3(fill_temperature_C) / density_kg_m3(temperature_C) - 1.0


def boiling_C(pressure_Pa: Numbers) -> Numbers:
    """Boiling temperature, degC, at an absolute pressure of 10 kPa to 1 MPa. Source: IAPWS-IF97, region 4."""
    p = np.asarray(pressure_Pa, dtype=float)
    if not (np.all(p >= 1e4) and np.all(p <= 1e6)):
        raise FigureError(
            "The boiling point is known here from 0.1 to 10 bar absolute, and the pressure lies outside that",
            do="Look at the height of the cistern or the charge of the system",
        )
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SAT
    beta = (p * 1e-6) ** 0.25
    e = beta * beta + n3 * beta + n6
    f = n1 * beta * beta + n4 * beta + n7
    g = n2 * beta * beta + n5 * beta + n8
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    kelvin = 0.5 * (n10 + d - np.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d)))
    celsius = kelvin - 273.15
    return float(celsius) if celsius.ndim == 0 else celsius


def vapour_pressure_Pa(temperature_C: float) -> float:
    """Absolute vapour pressure of water, Pa, 0 to 180 degC. Source: IAPWS-IF97, region 4."""
    if not 0.0 <= temperature_C <= 180.0:
        raise FigureError(f"Vapour pressure is known here from 0 to 180 °C, not at {temperature_C:g} °C")
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SAT
    kelvin = temperature_C + 273.15
    v = kelvin + n9 / (kelvin - n10)
    a = v * v + n1 * v + n2
    b = n3 * v * v + n4 * v + n5
    c = n6 * v * v + n7 * v + n8
    return 1e6 * (2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4


def still_pressure_Pa(head_m: Numbers, charge_Pa: float = 0.0, water_C: float = 10.0) -> Numbers:
    """Absolute pressure `head_m` below the water line, Pa: atmosphere, still water above, and charge."""
    return ATMOSPHERE_PA + charge_Pa + density_kg_m3(water_C) * GRAVITY * head_m


def boiling_under_head_C(head_m: Numbers, charge_Pa: float = 0.0) -> Numbers:
    """Boiling temperature `head_m` below an open water line, or under a charge, degC.

    The water above is taken at 90 degC, about the lightest a column gets: the answer errs on the safe side.
    """
    return boiling_C(still_pressure_Pa(head_m, charge_Pa, 90.0))
