"""Where the terms of one Newton step stand in its matrix: index maps that stay the same from step to step.

Owns places in the matrix of flows, pressures and joint temperatures, made once for a net. Knows no equations: what
stands there is `network`'s. Unknowns in order: flows of branches (B), pressures (Np), temperatures of joints and
layers (Nt).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from loopwright.engineering.arrays import Arrays


@dataclass(frozen=True)
class Layout:
    """Index maps. `n` unknowns, of which temperatures begin at `oN`; places count in the raveled matrix (n, n).

    `blank` (n, n) holds what no state changes: pressures in the momentum of branches, flows in the balance of joints,
    the pressure held in each connected part.
    """

    n: int
    oN: int  # noqa: N815
    blank: np.ndarray
    layer_first: slice  # diagonal of the temperature block
    pads: np.ndarray  # raveled (B, K)
    pad_branch: np.ndarray
    over_face: np.ndarray  # by face and neighbour: lower by upper, upper by upper, lower by lower, upper by lower
    free_boil_C: np.ndarray  # noqa: N815  (Nt,) boiling points, out of reach where a temperature is held
    fixed_rows: np.ndarray
    fixed_diagonal: np.ndarray
    coil_before: np.ndarray
    coil_after: np.ndarray
    coil_first: np.ndarray  # positions among the coils
    coil_final: np.ndarray
    exponent: np.ndarray  # by emitter cell
    half_power: np.ndarray
    nominal: np.ndarray


def layout(A: Arrays) -> Layout:
    """The index maps of arrays."""
    B, P, rows = A.B, A.Np, A.rows
    oN = B + P
    n = oN + A.Nt
    blank = np.zeros((n, n))
    np.add.at(blank, (rows, B + A.pa), -1.0)
    np.add.at(blank, (rows, B + A.pb), 1.0)
    blank[B:oN, :B] = A.inc
    blank[B + A.ref] = 0.0
    blank[B + A.ref, B + A.ref] = 1.0
    b, k = A.coil_cells
    lo, hi = oN + A.lo, oN + A.hi
    pads = np.flatnonzero(~A.real)
    at = A.emitter_flat
    return Layout(
        n=n, oN=oN, blank=blank, layer_first=slice(oN * n + oN, None, n + 1), pads=pads, pad_branch=pads // A.K,
        over_face=np.stack([hi * n + lo, hi * n + hi, lo * n + lo, lo * n + hi]),
        free_boil_C=np.where(A.is_fixed, 1e9, A.boil_N), fixed_rows=oN + A.fixed,
        fixed_diagonal=(oN + A.fixed) * (n + 1), coil_before=np.maximum(k - 1, 0),
        coil_after=np.minimum(k + 1, A.K - 1), coil_first=np.flatnonzero(k == 0),
        coil_final=np.flatnonzero(k == A.last[b]), exponent=A.n.take(at), half_power=0.5 * (A.n.take(at) - 1.0),
        nominal=A.dTn.take(at) ** A.n.take(at),
    )  # fmt: skip


@dataclass(frozen=True)
class Joined:
    """Index maps that go with the temperature nodes at which branches end: new where an end is led to another layer.

    `row` (M,) and `place` (M x width,) say where the rows of swept branches go: momentum, what joints meet at ends a,
    at ends b, and in coils.
    """

    row: np.ndarray
    place: np.ndarray
    ends: np.ndarray  # (2B,) temperature node of each end a, then of each end b
    flow_at_a: np.ndarray  # apart, since both ends of a branch may lie in one layer
    flow_at_b: np.ndarray


def joined(A: Arrays) -> Joined:
    """The index maps of the ends of branches."""
    lay, rows = A.layout, A.rows
    n, oN = lay.n, lay.oN
    b, k = A.coil_cells
    at_a, at_b = oN + A.ta, oN + A.tb
    columns = np.empty((A.B, 3 + A.links.shape[1]), dtype=int)
    columns[:, 0], columns[:, 1], columns[:, 2], columns[:, 3:] = rows, at_a, at_b, oN + A.links
    row = np.concatenate((rows, at_a, at_b, oN + A.coil_node[b, k]))
    column = np.concatenate((columns, columns, columns, columns[b]))
    place = (row[:, None] * n + column).ravel()
    return Joined(row, place, row[A.B : 3 * A.B] - oN, at_a * n + rows, at_b * n + rows)
