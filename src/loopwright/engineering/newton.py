"""One Newton update of a step: cells swept out branch by branch, flows sought round loops, the rest solved dense.

Owns the linear algebra of a step. Knows nothing of the equations behind it (`network`). Loop equations after Cross 1936
and Epp and Fowler 1970, here together with the temperatures; signs as the branches run.
"""

from __future__ import annotations

import numpy as np

from loopwright.engineering import patience
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import Lagged, Linear, Pace, State, linearise


def newton(
    A: Arrays, s: State, old: State, dt: float | Pace, lagged: Lagged, virtual: np.ndarray | None = None
) -> State:
    """One Newton update, as differences (dT, dm, dp, dN): cells eliminated, the rest solved dense."""
    return solved(A, s, linearise(A, s, old, dt, lagged, virtual))


def solved(A: Arrays, s: State, L: Linear) -> State:
    """The update of a linearised step."""
    patience.ask()
    X, lay, at_ends, G = _eliminate(A, L), A.layout, A.joined, L.matrix
    B, rows = A.B, A.rows
    flat = G.reshape(-1)
    flat[lay.on_flow] += L.dM
    # momentum by what the cells of the branch do; rows of nodes: weight times (XE + Xc dm + Xa dNa + Xb dNb + ...) of
    # the cells that adjoin them
    swept = [
        -np.einsum("kb,kbr->br", np.ascontiguousarray(L.beta.T), X),
        L.end_a[:, None] * X[0],
        L.end_b[:, None] * X[A.last, rows],
    ]
    if A.any_coil:
        assert L.mean_weights is not None
        b, k = A.coil_cells
        before, own, after = X[lay.coil_before, b], X[k, b], X[lay.coil_after, b]
        if lay.coil_first.size:
            before[lay.coil_first] = 0.0
            before[lay.coil_first, 2] = -1.0
        if lay.coil_final.size:
            after[lay.coil_final] = 0.0
            after[lay.coil_final, 3] = -1.0
        w0, w1, w2, wm = L.mean_weights
        XM = w0[:, None] * before + w1[:, None] * own + w2[:, None] * after
        XM[:, 1] -= wm
        swept.append(A.UX[b, k][:, None] * XM)
    share = np.concatenate(swept)
    np.add.at(flat, at_ends.place, share[:, 1:].ravel())
    rhs = np.concatenate((-L.M, -L.R))
    rhs -= np.bincount(at_ends.row, share[:, 0], lay.n)
    dm, dp, dN = _round_loops(A, s, L, G, rhs)
    moves = np.empty((B, X.shape[2]))
    moves[:, 0], moves[:, 1], moves[:, 2], moves[:, 3] = 1.0, dm, dN[A.ta], dN[A.tb]
    if X.shape[2] > 4:
        moves[:, 4:] = dN[A.links]
    return State(-np.einsum("kbr,br->bk", X, moves), dm, dp, dN)


def _round_loops(A: Arrays, s: State, L: Linear, G: np.ndarray, rhs: np.ndarray) -> tuple[np.ndarray, ...]:
    """Changes of flows, pressures and joint temperatures, from momentum and node rows with the cells swept out of them.

    A flow that keeps every joint balanced is made of flows round loops (`Layout.loops`), and round a loop pressures
    cancel: only as many flows are sought as there are loops. Pressures follow along the trees that leave the loops out.
    """
    lay, ring = A.layout, A.layout.loops
    F, S = lay.flows, lay.sought
    u = np.zeros((*G.shape[:2], 1))
    spread = u.reshape(-1)
    spread[lay.spot] = rhs
    spread[lay.held_spot] = led = A.T_fix[A.fixed] - s.N[A.fixed]
    right = u[:, :S].copy()
    if led.any():
        right -= G[:, :S, S:] @ u[:, S:]
    mass = np.zeros((*ring.tree.shape[::2], 1))
    mass.reshape(-1)[ring.joint_spot] = L.mass
    balance = -ring.tree @ mass  # what joints lack, brought along the trees
    own = G.reshape(-1)[lay.on_flow_filled].reshape(G.shape[0], F, 1)
    right[:, :F] -= own * balance
    right[:, F:] -= G[:, F:S, :F] @ balance
    C, CT = ring.flow, ring.flow.transpose(0, 2, 1)
    by_warmth = G[:, :F, F:S]
    count = C.shape[2]
    K = np.empty((len(G), count + S - F, count + S - F))
    K[:, :count, :count] = CT @ (own * C) + ring.unfilled
    K[:, :count, count:] = CT @ by_warmth
    K[:, count:, :count] = G[:, F:S, :F] @ C
    K[:, count:, count:] = G[:, F:S, F:S]
    x = np.linalg.solve(K, np.concatenate((CT @ right[:, :F], right[:, F:]), axis=1))
    round_C, warmth = C @ x[:, :count], x[:, count:]
    head = right[:, :F] - own * round_C - by_warmth @ warmth
    u[:, :F], u[:, F:S] = round_C + balance, warmth
    moved = spread[lay.spot]
    dp = (ring.tree.transpose(0, 2, 1) @ head).reshape(-1)[ring.joint_spot] - s.p[ring.held_at]
    return moved[: A.B], dp, moved[A.B :]


def _eliminate(A: Arrays, L: Linear) -> np.ndarray:
    """Thomas over the cells of all branches at once: D^-1 applied to (E, c, ea, eb, links), (K, B, 4 + R)."""
    width = 4 + A.links.shape[1]
    X = np.zeros((A.K, A.B, width))
    X[:, :, 0], X[:, :, 1] = L.E.T, L.c.T
    X[0, :, 2] = L.lower[:, 0]
    X[A.last, A.rows, 3] = L.upper[A.rows, A.last]
    if A.any_pad:
        X[:, :, 3] -= np.where(A.real, 0.0, 1.0).T
    if A.any_coil:
        bs, ks = A.coil_cells
        X[ks, bs, 4 + A.coil_link[bs, ks]] -= A.UX[bs, ks]
    low = np.ascontiguousarray(L.lower.T)[:, :, None]
    diag = np.ascontiguousarray(L.diag.T)[:, :, None]
    upper = np.where(A.is_last, 0.0, L.upper).T.copy()[:, :, None]
    gamma = np.empty_like(upper)
    gamma[0] = upper[0] / diag[0]
    X[0] /= diag[0]
    for k in range(1, A.K):
        pivot = 1.0 / (diag[k] - low[k] * gamma[k - 1])
        gamma[k] = upper[k] * pivot
        X[k] = (X[k] - low[k] * X[k - 1]) * pivot
    for k in range(A.K - 2, -1, -1):
        X[k] -= gamma[k] * X[k + 1]
    return X
