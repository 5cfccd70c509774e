"""The books of a flow network's state: where the heat goes, and how well the equations are fulfilled.

Owns sums only. Knows nothing of how the state was found.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopwright.engineering import network
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import State
from loopwright.engineering.plumes import entering


@dataclass(frozen=True)
class Balance:
    """Where the heat goes, W, and how well the state fulfils its equations."""

    source_W: float
    emitted_W: float
    lost_W: float
    boil_W: np.ndarray  # by branch
    boil_node_W: np.ndarray  # by temperature node
    fixed_W: float
    stored_W: float
    momentum_Pa: float
    continuity_kg_s: float

    @property
    def boiled_W(self) -> float:
        """Heat that the water cannot carry and boils away, W."""
        return float(self.boil_W.sum() + self.boil_node_W.sum())

    @property
    def gap_W(self) -> float:
        """Heat unaccounted for, W."""
        out = self.emitted_W + self.lost_W + self.boiled_W + self.fixed_W + self.stored_W
        return self.source_W - out


def balance(
    A: Arrays, s: State, old: State | None = None, dt: float = 1e30, virtual: np.ndarray | None = None
) -> Balance:
    """Heat balance and residuals of a state; of a step if the state before it and its length are given."""
    before = s if old is None else old
    A = A if old is None else entering(A, old)
    L = network.linearise(A, s, before, dt, network.lag(A, before), virtual)
    free = np.ones(A.Nt, dtype=bool)
    free[A.fixed] = False
    stored = float((A.C * A.real * (s.T - before.T)).sum() + (A.Cn * (s.N - before.N))[free].sum()) / dt
    layer_loss = A.layer_loss * (s.N - A.layer_room)
    # what the water brings to a held node is what its balance lacks, its own source, loss and storage left out
    own = A.Cn * (s.N - before.N) / dt - A.Sn + layer_loss
    into_fixed = float((network.between_held_layers_W(A, s) - (L.R - own))[A.fixed].sum())
    return Balance(
        float((A.Q * A.real).sum() + A.Sn[free].sum()), float(L.emitted_W.sum()),
        float(L.lost_W.sum() + layer_loss[free].sum()), L.boil_W.sum(axis=1), L.boil_node_W, into_fixed,
        stored, float(np.max(np.abs(L.M))), float(np.max(np.abs(L.mass))),
    )  # fmt: skip


@dataclass(frozen=True)
class Heads:
    """Heads along a branch or round a loop, Pa, counted in the direction of travel.

    `drive_Pa` is what buoyancy gives, `pump_Pa` what pumps give, `loss_Pa` what friction and fittings (and a check
    valve held shut) take. Round a closed loop at rest or in steady flow drive + pump = loss.
    """

    drive_Pa: float
    pump_Pa: float
    loss_Pa: float


def heads(A: Arrays, s: State, way: list[tuple[str, int]]) -> Heads:
    """Heads along a way: branches by name with +1 where it goes from a to b, -1 against.

    The column of a store between two tappings of the way counts with the branches that end there.
    """
    names = {b.name: i for i, b in enumerate(A.net.branches)}
    lagged = network.lag(A, s)
    y, _ = network.branch_law(A, s.m, lagged)
    across = s.p[A.pa] - s.p[A.pb]
    L = network.linearise(A, s, s, 1e30, lagged)
    column = L.M - y + across
    pump = A.pump0 + A.pump1 * s.m + A.pump2 * s.m * np.abs(s.m)
    picked = [(names[name], sign) for name, sign in way]
    return Heads(
        float(-sum(sign * column[i] for i, sign in picked)),
        float(sum(sign * pump[i] for i, sign in picked)),
        float(sum(sign * (y[i] + pump[i]) for i, sign in picked)),
    )
