"""An independent steady residual, separately written: sharp upwinding, marched branch by branch, scipy's root.

Friction factors come from the `fluids` library, water from `iapws` (liquid at 0.5 MPa, by splines); heat is carried by
enthalpy. Shared is only the law by which an emitter's mean temperature leaves the arithmetic mean of EN 442 at a
trickle: inlet weight 1/2 (1 + (NTU/2)^4)^(-1/4).
"""

from __future__ import annotations

import fluids
import numpy as np
from iapws import IAPWS97
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, root

G = 9.80665


class Water:
    """Density, viscosity and enthalpy by IAPWS-IF97, 1 to 150 degC; straight beyond, where only trial states go."""

    def __init__(self) -> None:
        t = np.concatenate([[0.5], np.arange(2.0, 151.0, 2.0)])
        states = [IAPWS97(T=x + 273.15, P=0.5) for x in t]
        self._ends = (t[0], t[-1])
        self._rho = CubicSpline(t, [s.rho for s in states])
        self._mu = CubicSpline(t, [s.mu for s in states])
        self._h = CubicSpline(t, [1000.0 * s.h for s in states])

    def raw_density_kg_m3(self, t):
        return self._rho(np.clip(t, *self._ends))

    def raw_viscosity_Pa_s(self, t):
        return self._mu(np.clip(t, *self._ends))

    def raw_enthalpy_J_kg(self, t):
        inside = np.clip(t, *self._ends)
        return self._h(inside) + 4200.0 * (t - inside)


water = Water()


def darcy(re: float, rel: float) -> float:
    if re < 2300:
        return 64 / re
    if re < 4000:
        end = fluids.friction.Colebrook(4000, rel)
        return 64 / 2300 + (end - 64 / 2300) * (re - 2300) / 1700
    return fluids.friction.Colebrook(re, rel)


def outlet(cell, m: float, t_in: float) -> float:
    """Temperature leaving a cell passed by the flow m > 0."""
    h = water.raw_enthalpy_J_kg

    def gap(t):
        heat = cell.source_W - cell.loss_W_K * (t - cell.room_C)
        over = np.sqrt((t - cell.room_C) ** 2 + 0.25)
        transfer = cell.emitter_n * cell.emitter_W * over ** (cell.emitter_n - 1) / cell.emitter_dT_K**cell.emitter_n
        weight = 0.5 * (1 + (transfer / (m * 4190.0) / 2) ** 4) ** -0.25
        d = weight * t_in + (1 - weight) * t - cell.room_C
        heat -= np.sign(d) * cell.emitter_W * (abs(d) / cell.emitter_dT_K) ** cell.emitter_n
        return m * (h(t) - h(t_in)) - heat

    return brentq(gap, -50.0, 200.0, xtol=1e-12)


def solve(net, m0, N0, p0):
    """Flows and free joint temperatures near a first guess. `N0`, `p0`: by node name, stores' base pressure too."""
    branches = net.branches
    stores = {s.name: s for s in net.stores}
    joints = [n.name for n in net.nodes]
    places = joints + list(stores)
    B, J = len(branches), len(joints)
    rho = water.raw_density_kg_m3

    def end_temperature(end, N):
        if end.place in stores:
            s = stores[end.place]
            return s.layers_C[s.layer_at(net.height_of(end))]
        return N[joints.index(end.place)]

    def in_store(end):
        """Weight of the store's column from its base to the tapping, over that of water at 988 kg/m3."""
        if end.place not in stores:
            return 0.0
        s = stores[end.place]
        feet = np.linspace(s.base_m, s.top_m, len(s.layers_C) + 1)
        total = 0.0
        for low, high, t in zip(feet[:-1], feet[1:], s.layers_C, strict=True):
            part = min(high, net.height_of(end)) - low
            if part > 0:
                total += G * part * (rho(t) - 988.0)
        return total

    def residual(x):
        m, N, p = x[:B] * 1e-2, x[B : B + J] * 10.0, x[B + J :]
        out, mass, heat = [], np.zeros(len(places)), np.zeros(J)
        for i, b in enumerate(branches):
            cells, up, down = (b.cells, b.a, b.b) if m[i] >= 0 else (b.cells[::-1], b.b, b.a)
            t, column, size, temperatures = end_temperature(up, N), 0.0, max(abs(m[i]), 1e-9), []
            for c in cells:
                t = outlet(c, size, t)
                temperatures.append(t)
                column += G * (rho(t) - 988.0) * c.rise_m
            mean = np.mean(temperatures)
            loss = 0.0
            for s in b.segments:
                area = np.pi / 4 * s.bore_m**2
                re = size * s.bore_m / area / water.raw_viscosity_Pa_s(mean)
                f = darcy(re, s.roughness_m / s.bore_m)
                loss += (f * s.length_m / s.bore_m + s.k) * size * m[i] / (2 * rho(mean) * area**2)
            pa = p[places.index(b.a.place)] - in_store(b.a)
            pb = p[places.index(b.b.place)] - in_store(b.b)
            push = 0.0
            if b.pump:
                push = b.pump.shutoff_Pa + b.pump.linear * m[i] + b.pump.square * m[i] * abs(m[i])
            out.append((pa - pb - loss - column + push) * 0.1)
            mass[places.index(b.a.place)] -= m[i]
            mass[places.index(b.b.place)] += m[i]
            for end, arrives in ((up, None), (down, t)):
                if end.place in joints and arrives is not None:
                    j = joints.index(end.place)
                    heat[j] += size * (water.raw_enthalpy_J_kg(arrives) - water.raw_enthalpy_J_kg(N[j]))
        mass[0] = p[0] * 1e-2
        return np.concatenate([out, mass * 1e2, heat * 1e-3])

    start = np.concatenate([np.asarray(m0) * 1e2, np.asarray(N0)[:J] / 10.0, p0])
    got = root(residual, start, method="hybr", options={"xtol": 1e-11})
    return got.x[:B] * 1e-2, got.x[B : B + J] * 10.0, float(np.max(np.abs(got.fun)))
