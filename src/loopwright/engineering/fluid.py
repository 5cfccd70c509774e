"""What fills a circuit: plain water, or water with antifreeze by factors on it. One set of properties for the solver.

Owns the mixtures and reading them from people's words. Knows nothing of networks. The functions take floats or numpy
arrays and carry no guard, for iterative solvers; whoever uses them checks the final state.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial

from loopwright.engineering import water
from loopwright.engineering.tables import table
from loopwright.errors import FigureError

Numbers = Any


class Fluid:
    """Plain water. Temperatures in degrees Celsius."""

    name = "water"

    def density_kg_m3(self, t: Numbers) -> Numbers:
        """Density, kg/m3."""
        return water.raw_density_kg_m3(t)

    def density_slope(self, t: Numbers) -> Numbers:
        """d rho / dT in kg/(m3 K)."""
        return water.raw_density_slope(t)

    def specific_heat_J_kgK(self, t: Numbers) -> Numbers:
        """Specific heat at steady pressure, J/(kg K)."""
        return water.raw_specific_heat_J_kgK(t)

    def enthalpy_J_kg(self, t: Numbers) -> Numbers:
        """Above 0 degC, J/kg."""
        return water.raw_enthalpy_J_kg(t)

    def viscosity_Pa_s(self, t: Numbers) -> Numbers:
        """Dynamic viscosity, Pa s."""
        return water.raw_viscosity_Pa_s(t)

    def all_of(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Density, its slope, specific heat and enthalpy at once, for solvers."""
        return water.raw_all(t)

    def by_branch(self, count: int) -> list[Fluid]:
        """What fills each of so many branches of a network."""
        return [self] * count

    def by_node(self, count: int) -> list[Fluid]:
        """What fills each of so many joints and layers of a network."""
        return [self] * count

    def expansion_fraction(self, temperature_C: float, fill_C: float = 10.0) -> float:
        """Growth of a volume filled cold, a fraction. 0 to 110 degC."""
        water.require_liquid([temperature_C, fill_C])
        return float(self.density_kg_m3(fill_C) / self.density_kg_m3(temperature_C) - 1.0)


WATER = Fluid()


class Mixture(Fluid):
    """Water with propylene glycol, by share of volume: factors on plain water, smooth through the table's points.

    20 to 50 %, 0 to 110 degC. Source: `resources/tables/antifreeze.toml`; beyond 100 degC the last curve goes on.
    """

    def __init__(self, percent: float) -> None:
        self.percent = percent
        self.name = f"water with {percent:g} % propylene glycol"
        points = np.array(table("antifreeze")["celsius"])
        self._a = Polynomial.fit(points, _factors("density", percent), 3).convert()
        self._da = self._a.deriv()
        b = Polynomial.fit(points, _factors("specific_heat", percent), 2).convert()
        cp = Polynomial([c * 0.01**i for i, c in enumerate(water._CP)]) * b
        self._cp, self._h = cp, cp.integ()
        self._c = Polynomial.fit(points, np.log(_factors("viscosity", percent)), 4).convert()
        wide = len(self._h.coef)
        self._powers = np.array(
            [
                [*(float(c) * 100.0**i for i, c in enumerate(p.coef)), *[0.0] * (wide - len(p.coef))]
                for p in (self._a, self._da, self._cp, self._h)
            ]
        )

    def density_kg_m3(self, t: Numbers) -> Numbers:
        return self._a(_within(t)) * water.raw_density_kg_m3(t)

    def density_slope(self, t: Numbers) -> Numbers:
        inside = (np.asarray(t) > 0.0) & (np.asarray(t) < 120.0)
        own = np.where(inside, self._da(_within(t)), 0.0)
        return own * water.raw_density_kg_m3(t) + self._a(_within(t)) * water.raw_density_slope(t)

    def specific_heat_J_kgK(self, t: Numbers) -> Numbers:
        return self._cp(t)

    def enthalpy_J_kg(self, t: Numbers) -> Numbers:
        return self._h(t)

    def all_of(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        if t.size and (t.min() < 0.0 or t.max() > 120.0):
            return self.density_kg_m3(t), self.density_slope(t), self._cp(t), self._h(t)
        x = 0.01 * t.ravel()
        powers = np.empty((self._powers.shape[1], x.size))
        powers[0] = 1.0
        for i in range(1, len(powers)):
            np.multiply(powers[i - 1], x, out=powers[i])
        factor, change, cp, h = (row.reshape(t.shape) for row in self._powers @ powers)
        rho, slope, _, _ = water.raw_all(t)
        return factor * rho, change * rho + factor * slope, cp, h

    def viscosity_Pa_s(self, t: Numbers) -> Numbers:
        return np.exp(self._c(_within(t))) * water.raw_viscosity_Pa_s(t)


class Several(Fluid):
    """What fills each branch of a network, branch by branch; joints and stores hold plain water unless told otherwise.

    Arrays of two dimensions have a row a branch; those of one are by joint.
    """

    name = "several"

    def __init__(self, branches: Sequence[Fluid], nodes: Sequence[Fluid] = ()) -> None:
        self._branches, self._nodes = tuple(branches), tuple(nodes)
        self._rows = {2: _others(branches), 1: _others(nodes)}

    def by_branch(self, count: int) -> list[Fluid]:
        return list(self._branches)

    def by_node(self, count: int) -> list[Fluid]:
        return list(self._nodes) or [WATER] * count

    def _each(self, name: str, t: Numbers) -> Numbers:
        out = getattr(WATER, name)(t)
        for fluid, rows in self._rows.get(np.ndim(t), ()):
            out[rows] = getattr(fluid, name)(t[rows])
        return out

    def density_kg_m3(self, t: Numbers) -> Numbers:
        return self._each("density_kg_m3", t)

    def density_slope(self, t: Numbers) -> Numbers:
        return self._each("density_slope", t)

    def specific_heat_J_kgK(self, t: Numbers) -> Numbers:
        return self._each("specific_heat_J_kgK", t)

    def enthalpy_J_kg(self, t: Numbers) -> Numbers:
        return self._each("enthalpy_J_kg", t)

    def viscosity_Pa_s(self, t: Numbers) -> Numbers:
        return self._each("viscosity_Pa_s", t)

    def all_of(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        out = WATER.all_of(t)
        for fluid, rows in self._rows[t.ndim]:
            for whole, part in zip(out, fluid.all_of(t[rows]), strict=True):
                whole[rows] = part
        return out


def _others(fluids: Sequence[Fluid]) -> list[tuple[Fluid, np.ndarray]]:
    """Every fluid but plain water with the rows that it fills."""
    found = dict.fromkeys(f for f in fluids if f is not WATER)
    return [(f, np.array([i for i, g in enumerate(fluids) if g is f])) for f in found]


def _within(t: Numbers) -> Numbers:
    return np.clip(t, 0.0, 120.0)


def _factors(name: str, percent: float) -> np.ndarray:
    rows = table("antifreeze")["share"]
    shares = [row["percent"] for row in rows]
    values = np.array([row[name] for row in rows])
    return np.array([np.interp(percent, shares, column) for column in values.T])


@cache
def mixture(percent: float) -> Fluid:
    """Water with that share of antifreeze by volume; nil is plain water. 20 to 50 %."""
    if percent == 0.0:
        return WATER
    shares = [row["percent"] for row in table("antifreeze")["share"]]
    if not shares[0] <= percent <= shares[-1]:
        raise FigureError(
            f"Antifreeze of {percent:g} % lies outside the table, which runs from {shares[0]:g} to {shares[-1]:g} %",
            do="State a share within it, or water",
        )
    return Mixture(percent)


def fluid_of(words: str | None) -> tuple[Fluid, str]:
    """The fluid that people name, and what had to be supposed, empty if nothing.

    “water with 40 % propylene glycol”, “glycol 40%”, “antifreeze”, “water”. A share is by volume.
    """
    said = (words or "").lower()
    if not any(word in said for word in ("glycol", "antifreeze", "frost")):
        return WATER, ""
    found = re.search(r"(\d+(?:\.\d+)?)\s*%", said)
    usual = float(table("antifreeze")["assumed_percent"])
    percent = float(found[1]) if found else usual
    supposed = "" if found else f"Antifreeze is {usual:g} % of the volume"
    if "ethylene" in said:
        supposed = "; ".join(filter(None, (supposed, "Ethylene glycol is reckoned as propylene glycol")))
    return mixture(percent), supposed
