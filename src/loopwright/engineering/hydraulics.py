"""Flows and pressures of a network at temperatures that are held: the hydraulics alone.

Owns the Newton iteration over branches and joints (momentum and continuity together, after Todini and Pilati). Knows
nothing of heat: whoever asks brings the temperatures.
"""

from __future__ import annotations

import numpy as np

from loopwright.engineering import network
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import RHO0, State, tame
from loopwright.engineering.water import GRAVITY
from loopwright.errors import FigureError

MOST = 60


def flows(A: Arrays, s: State) -> State:
    """The state with the flows and pressures that belong to its temperatures, to 1e-9 kg/s. Raises FigureError."""
    fluid = A.fluid
    lagged = network.lag(A, s)
    column = GRAVITY * ((fluid.density_kg_m3(tame(s.T)) - RHO0) * A.dz).sum(axis=1)
    column += GRAVITY * (A.O @ (fluid.density_kg_m3(tame(s.N)) - RHO0))
    B, P, rows = A.B, A.Np, A.rows
    G = np.zeros((B + P, B + P))
    np.add.at(G, (rows, B + A.pa), -1.0)
    np.add.at(G, (rows, B + A.pb), 1.0)
    G[B:, :B] = A.inc
    G[B + A.ref] = 0.0
    G[B + A.ref, B + A.ref] = 1.0
    m, p = s.m.copy(), s.p.copy()
    if not np.any(m):
        m += 0.02  # at rest the laminar slope is far too flat a guess
    for _ in range(MOST):
        y, slope = network.branch_law(A, m, lagged)
        G[rows, rows] = slope
        rhs = np.concatenate([-(y + column - (p[A.pa] - p[A.pb])), -(A.inc @ m)])
        rhs[B + A.ref] = -p[A.ref]
        try:
            d = np.linalg.solve(G, rhs)
        except np.linalg.LinAlgError:
            break
        dm = d[:B]
        step = min(1.0, 0.5 / max(float(np.max(np.abs(dm))), 1e-12))
        m, p = m + step * dm, p + step * d[B:]
        if float(np.max(np.abs(dm))) < 1e-9:
            return State(s.T, m, p, s.N)
    raise FigureError("The flow of this network is not found at these temperatures", do="Look at its pumps and checks")
