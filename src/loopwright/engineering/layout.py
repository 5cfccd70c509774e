"""Where the terms of one Newton step stand in its matrix: index maps that stay the same from step to step.

Owns places in the matrix of flows and joint temperatures, made once for a net, and its loops. Knows no equations: what
stands there is `network`'s. Unknowns in order: flows of branches (B), temperatures of joints and layers (Nt). The
matrix has a block for each of the networks that are solved side by side, most often one; in a block flows come first,
then the temperatures sought, and what is held comes last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from loopwright.engineering.arrays import Arrays


@dataclass(frozen=True)
class Layout:
    """Index maps. `n` unknowns, of which temperatures begin at `oN`; places count in the raveled blocks.

    `blank` (parts, width, width) holds ones where a block is not filled.
    """

    n: int
    oN: int  # noqa: N815
    flows: int  # flows at the front of a block
    sought: int  # and temperatures sought behind them
    loops: Loops
    blank: np.ndarray
    row: np.ndarray  # (n,) where the row of an unknown begins
    column: np.ndarray  # (n,) its place in its row
    spot: np.ndarray  # (n,) its place in the raveled (parts, width)
    held_spot: np.ndarray  # that of temperatures held
    on_flow: np.ndarray  # diagonal of flows
    on_flow_filled: np.ndarray  # the same, with the places that no flow fills
    on_node: np.ndarray  # diagonal of joint temperatures
    column_of: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]  # stores' columns: branch, layer, metres, place
    pads: np.ndarray  # raveled (B, K)
    pad_branch: np.ndarray
    over_face: np.ndarray  # by face and neighbour: lower by upper, upper by upper, lower by lower, upper by lower
    moves_layers: bool  # whether any layer of a store is free to change
    free_boil_C: np.ndarray  # noqa: N815  (Nt,) boiling points, out of reach where a temperature is held
    coil_before: np.ndarray
    coil_after: np.ndarray
    coil_first: np.ndarray  # positions among the coils
    coil_final: np.ndarray
    exponent: np.ndarray  # by emitter cell
    half_power: np.ndarray
    nominal: np.ndarray


def layout(A: Arrays) -> Layout:
    """The index maps of arrays."""
    oN, n = A.B, A.B + A.Nt
    owner = np.concatenate((A.part_b, A.part_n))
    held = np.zeros(n, dtype=bool)
    held[oN + A.fixed] = True
    free = ~held
    free[:oN] = False
    parts = int(owner.max()) + 1
    filled = np.bincount(owner[free], minlength=parts)
    column = np.empty(n, dtype=int)
    column[:oN] = _rank(A.part_b)
    flows = int(column[:oN].max()) + 1
    sought = flows + int(filled.max())
    column[free] = flows + _rank(owner[free])
    column[held] = sought + _rank(owner[held])
    width = max(sought, int(column.max()) + 1)
    row = (owner * width + column) * width
    blank = np.zeros((parts, width, width))
    for part in range(parts):
        rest = np.arange(flows + filled[part], sought)
        blank[part, rest, rest] = 1.0
    b, k = A.coil_cells
    lo, hi = oN + A.lo, oN + A.hi
    ob, on = np.nonzero(A.O)
    pads = np.flatnonzero(~A.real)
    at = A.emitter_flat
    return Layout(
        n=n, oN=oN, flows=flows, sought=sought, loops=_loops(A, flows), blank=blank, row=row, column=column,
        spot=owner * width + column,
        held_spot=(owner * width + column)[oN + A.fixed], on_flow=row[:oN] + column[:oN],
        on_flow_filled=(np.arange(parts)[:, None] * width * width + np.arange(flows) * (width + 1)).ravel(),
        on_node=row[oN:] + column[oN:],
        column_of=(ob, on, A.O[ob, on], row[ob] + column[oN + on]), pads=pads, pad_branch=pads // A.K,
        over_face=np.stack([row[x] + column[y] for x, y in ((hi, lo), (hi, hi), (lo, lo), (lo, hi))]),
        moves_layers=bool((~A.is_fixed & A.is_layer).any()), free_boil_C=np.where(A.is_fixed, 1e9, A.boil_N),
        coil_before=np.maximum(k - 1, 0), coil_after=np.minimum(k + 1, A.K - 1), coil_first=np.flatnonzero(k == 0),
        coil_final=np.flatnonzero(k == A.last[b]), exponent=A.n.take(at), half_power=0.5 * (A.n.take(at) - 1.0),
        nominal=A.dTn.take(at) ** A.n.take(at),
    )  # fmt: skip


def _rank(owner: np.ndarray) -> np.ndarray:
    """For each, how many before it have the same owner."""
    order = np.argsort(owner, kind="stable")
    first = np.concatenate(([0], np.cumsum(np.bincount(owner))[:-1])) if owner.size else owner
    out = np.empty(owner.size, dtype=int)
    out[order] = np.arange(owner.size) - first[owner[order]]
    return out


@dataclass(frozen=True)
class Loops:
    """Flows that keep every joint balanced, and the trees that they leave out. Blocks by network.

    `flow` (parts, flows, loops): what each branch carries of a unit flow round each loop. `tree` (parts, flows,
    joints): what each carries so that a unit comes out at a joint and goes in where the pressure is held. `unfilled`
    (parts, loops, loops) has ones where a network has fewer loops than another. `joint_spot` (Np,): place of a joint in
    the raveled (parts, joints). `held_at` (Np,): the joint at which the pressure is held in its connected part.
    """

    flow: np.ndarray
    tree: np.ndarray
    unfilled: np.ndarray
    joint_spot: np.ndarray
    held_at: np.ndarray


def _loops(A: Arrays, flows: int) -> Loops:
    found = [member.rings for member in A.members or (A,)]
    parts, most = len(found), max(ring.flow.shape[1] for ring in found)
    joint = _rank(A.part_p)
    joints = int(joint.max()) + 1
    out = Loops(
        np.zeros((parts, flows, most)), np.zeros((parts, flows, joints)), np.zeros((parts, most, most)),
        A.part_p * joints + joint, np.empty(A.Np, dtype=int),
    )  # fmt: skip
    begin = 0
    for part, ring in enumerate(found):
        branches, count = ring.flow.shape
        end = begin + ring.tree.shape[1]
        out.flow[part, :branches, :count] = ring.flow
        out.tree[part, :branches, : end - begin] = ring.tree
        rest = np.arange(count, most)
        out.unfilled[part, rest, rest] = 1.0
        out.held_at[begin:end] = begin + ring.held_at
        begin = end
    return out


class Rings(NamedTuple):
    """Loops of one network: flows round each (B, loops), along its trees to each joint (B, Np), and `held_at` (Np,)."""

    flow: np.ndarray
    tree: np.ndarray
    held_at: np.ndarray


def rings(A: Arrays) -> Rings:
    """The loops of a network that stands alone: one for each branch that closes a way its trees have gone already.

    Trees go by the ways of least resistance and leave out checks where they can: what a branch of a tree resists, many
    loops share, and it must not drown what each has of its own.
    """
    resists = np.bincount(A.seg_branch, (A.seg_length + A.seg_k * A.seg_bore) / A.seg_bore**5, A.B)
    leads = list(range(A.Np))

    def root(i: int) -> int:
        while leads[i] != i:
            leads[i] = i = leads[leads[i]]
        return i

    closes = np.zeros(A.B, dtype=bool)
    for i in np.lexsort((resists, A.check)).tolist():
        first, second = root(int(A.pa[i])), root(int(A.pb[i]))
        closes[i] = first == second
        leads[first] = second
    along, closing = np.flatnonzero(~closes), np.flatnonzero(closes)
    inc = np.delete(A.inc, A.ref, axis=0)
    inverse = np.rint(np.linalg.inv(inc[:, along]))  # a tree's has only -1, 0 and 1
    flow = np.zeros((A.B, len(closing)))
    flow[closing, np.arange(len(closing))] = 1.0
    flow[along] = -inverse @ inc[:, closing]
    tree = np.zeros((A.B, A.Np))
    at = np.zeros((len(along), A.Np))
    at[:, np.delete(np.arange(A.Np), A.ref)] = inverse
    tree[along] = at
    by_root = {root(i): i for i in A.ref.tolist()}
    return Rings(flow, tree, np.array([by_root[root(i)] for i in range(A.Np)]))


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
    # branches that cross a face between layers: face, branch, sign, place in the row of the upper and the lower layer
    crossing: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def joined(A: Arrays) -> Joined:
    """The index maps of the ends of branches."""
    lay, rows = A.layout, A.rows
    oN, begins, column = lay.oN, lay.row, lay.column
    b, k = A.coil_cells
    at_a, at_b = oN + A.ta, oN + A.tb
    columns = np.empty((A.B, 3 + A.links.shape[1]), dtype=int)
    columns[:, 0], columns[:, 1], columns[:, 2], columns[:, 3:] = rows, at_a, at_b, oN + A.links
    row = np.concatenate((rows, at_a, at_b, oN + A.coil_node[b, k]))
    columns = column[np.concatenate((columns, columns, columns, columns[b]))]
    f, by = np.nonzero(A.V)
    return Joined(
        row, (begins[row][:, None] + columns).ravel(), row[A.B : 3 * A.B] - oN,
        begins[at_a] + column[rows], begins[at_b] + column[rows],
        (f, by, A.V[f, by], begins[oN + A.hi[f]] + column[by], begins[oN + A.lo[f]] + column[by]),
    )  # fmt: skip
