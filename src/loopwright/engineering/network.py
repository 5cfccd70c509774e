"""The flow network as arrays, and one implicit Newton step of flow and temperature together.

Owns the equations of a step in time. Knows nothing of starts, outcomes or reports (see `steady`).

Per branch from a to b, cells k in order, reduced pressure p (p + rho0 g z), flow m signed:

    momentum  I dm/dt + y(m) + g sum (rho(T_k) - rho0) dz_k + g sum O (rho(N) - rho0) - (p_a - p_b) = 0
    cell      C dT/dt = fp_k (h(T_k-1) - h(T_k)) + fn_k+1 (h(T_k+1) - h(T_k)) + S,  fp, fn = (s +- m)/2
    node      C dN/dt = what the adjoining cells bring + own source;  mass: the flows at a node sum to nil

s = sqrt(m^2 + e^2): a small two-way exchange e through every face, larger where hot lies under cold, which real
pipes have and which keeps the equations smooth at rest. fp - fn = m, so heat is conserved whatever e is.
"""

# ruff: noqa: N815  (units and index letters keep their case in names)
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopwright.engineering import friction, patience
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.fluid import Fluid
from loopwright.engineering.water import GRAVITY

RHO0 = 988.0  # kg/m3, reference density: only differences from it count
EXCHANGE_KG_S = 2e-4  # two-way exchange through every face; chosen for size, not fitted
INVERSION_KG_M2_S_K = 0.1  # more of it where hot lies under cold, per area and kelvin
INVERSION_CUT_K = 40.0
BOIL_W_K = 3000.0  # steepness of the heat sink above the boiling point; numerical
CHECK_PA_S_KG = 1e8  # slope of a check valve against reverse flow
OPENING_RAMP_KG_S = 1e-3
STIR_W_K2 = 2000.0  # mixing of a store's layer into a colder one above
EMITTER_SMOOTH_K2 = 0.25


@dataclass(frozen=True)
class State:
    """Temperatures of cells `T` (B, K) and temperature nodes `N` (Nt,), flows `m` (B,), pressures `p` (Np,)."""

    T: np.ndarray
    m: np.ndarray
    p: np.ndarray
    N: np.ndarray


@dataclass(frozen=True)
class Lagged:
    """What a step takes from the state before it: exchange per face, water of each branch, emitters' transfer."""

    e: np.ndarray  # (B, K+1)
    rho: np.ndarray  # (B,)
    mu: np.ndarray  # (B,)
    emitter_W_K: np.ndarray  # (B, K)


def tame(t: np.ndarray) -> np.ndarray:
    """Trial temperatures held to where the property formulas are monotone; settled states lie well inside."""
    return np.minimum(np.maximum(t, 0.0), 150.0)


def lag(A: Arrays, s: State) -> Lagged:
    """Quantities held through one step, from the state before it."""
    ext = _extended(A, s)
    hot_below = np.maximum(0.0, -A.up * np.diff(ext, axis=1))  # up = +1 where the b side is higher
    e = EXCHANGE_KG_S + INVERSION_KG_M2_S_K * A.area[:, None] * np.minimum(hot_below, INVERSION_CUT_K)
    mean = tame((s.T * A.real).sum(axis=1) / A.count)[:, None]  # a row a branch, as fluids are told by branch
    rho, mu = A.net.fluid.density_kg_m3(mean)[:, 0], A.net.fluid.viscosity_Pa_s(mean)[:, 0]
    d = s.T - A.room
    slope = A.Qn * A.n * (d * d + EMITTER_SMOOTH_K2) ** (0.5 * (A.n - 1.0)) / A.dTn**A.n
    return Lagged(e, rho, mu, slope)


def averaged(a: Lagged, b: Lagged) -> Lagged:
    """Half of each."""
    half = [0.5 * (getattr(a, k) + getattr(b, k)) for k in ("e", "rho", "mu", "emitter_W_K")]
    return Lagged(*half)


def _extended(A: Arrays, s: State) -> np.ndarray:
    """Cell temperatures with the end nodes' before and after, (B, K+2). Pad cells hold the b node's."""
    ext = np.empty((A.B, A.K + 2))
    after = s.N[A.tb]
    ext[:, 0], ext[:, -1] = s.N[A.ta], after
    ext[:, 1:-1] = np.where(A.real, s.T, after[:, None]) if A.any_pad else s.T
    return ext


def branch_law(A: Arrays, m: np.ndarray, lagged: Lagged, virtual: np.ndarray | None = None):
    """y(m), Pa, and its slope: friction and local losses, less the pump, plus the check valve."""
    loss, slope = friction.loss_and_slope(
        m[A.seg_branch], A.seg_bore, A.seg_length, A.seg_k, A.seg_rough, lagged.rho[A.seg_branch],
        lagged.mu[A.seg_branch],
    )  # fmt: skip
    y = np.bincount(A.seg_branch, loss, A.B)
    dy = np.bincount(A.seg_branch, slope, A.B)
    if A.any_pump:
        y = y - A.pump0 - A.pump1 * m - A.pump2 * m * np.abs(m)
        dy = dy - A.pump1 - 2.0 * A.pump2 * np.abs(m)
    if A.any_check:
        back = A.check & (m < 0.0)
        y = y + np.where(back, CHECK_PA_S_KG * m, 0.0)
        ramp = np.minimum(np.maximum(m / OPENING_RAMP_KG_S, 0.0), 1.0)
        y = y + np.where(A.check, A.opening * ramp, 0.0)
        ramping = A.check & (m >= 0.0) & (m < OPENING_RAMP_KG_S)
        dy = dy + np.where(back, CHECK_PA_S_KG, 0.0) + np.where(ramping, A.opening / OPENING_RAMP_KG_S, 0.0)
    return (y if virtual is None else y - virtual), dy


@dataclass
class Linear:
    """Residuals of a state and their derivatives, before elimination. Shapes as in `State`."""

    M: np.ndarray
    dM: np.ndarray
    beta: np.ndarray
    column_N: np.ndarray
    E: np.ndarray
    lower: np.ndarray
    diag: np.ndarray
    upper: np.ndarray
    c: np.ndarray
    mass: np.ndarray
    R: np.ndarray
    dR_N: np.ndarray
    end_a: tuple[np.ndarray, np.ndarray]
    end_b: tuple[np.ndarray, np.ndarray]
    dR_m: np.ndarray
    mean_weights: tuple[np.ndarray, ...] | None
    boil_W: np.ndarray
    boil_node_W: np.ndarray
    emitted_W: np.ndarray
    lost_W: np.ndarray


def _share_of_upstream(ntu: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weight of the inlet in an emitter's mean temperature, and d/dNTU: 1/2 in use, 1/NTU at a trickle."""
    x = 0.5 * ntu
    cube = x * x * x
    base = 1.0 + cube * x
    weight = 0.5 * base**-0.25
    return weight, -0.5 * cube * weight / base


def _share_of_coil(ntu: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The same weight for a coil, such that its outlet follows 1 - exp(-NTU) exactly: 1/N - 1/(exp N - 1)."""
    n = np.maximum(ntu, 1e-3)
    g = np.expm1(np.minimum(n, 300.0))
    th, dth = 1.0 / n - 1.0 / g, -1.0 / n**2 + (1.0 + g) / g / g
    small = ntu < 1e-3
    return np.where(small, 0.5 - ntu / 12.0, th), np.where(small, -1.0 / 12.0, dth)


def linearise(A: Arrays, s: State, old: State, dt: float, lagged: Lagged, virtual=None) -> Linear:
    """Residuals and derivatives of one backward-Euler step of `dt` seconds from `old`, at the trial state `s`."""
    g, fluid = GRAVITY, A.net.fluid
    T, m, N = s.T, s.m, s.N
    y, dy = branch_law(A, m, lagged, virtual)
    ext = _extended(A, s)
    rho, drho, cp, h = _properties(fluid, ext)
    rho_N, drho_N, cp_N, h_N = _properties(fluid, N)
    beta = g * A.dz * drho[:, 1:-1]
    column = g * ((rho[:, 1:-1] - RHO0) * A.dz).sum(axis=1)
    column_N = np.zeros_like(A.O)
    if A.net.stores:
        column = column + g * (A.O @ (rho_N - RHO0))
        column_N = g * A.O * drho_N
    M = A.I * (m - old.m) / dt + y + column - (s.p[A.pa] - s.p[A.pb])
    dM = A.I / dt + dy

    mm = m[:, None]
    sq = np.sqrt(mm * mm + lagged.e**2)
    fp, fn = 0.5 * (sq + mm), 0.5 * (sq - mm)
    dfp = 0.5 * (mm / sq + 1.0)
    dfn = dfp - 1.0
    left, right = h[:, :-2] - h[:, 1:-1], h[:, 2:] - h[:, 1:-1]
    fpk, fnk = fp[:, :-1], fn[:, 1:]
    E = A.C * (T - old.T) / dt - fpk * left - fnk * right
    diag = A.C / dt + (fpk + fnk) * cp[:, 1:-1] + A.UA
    lower, upper = -fpk * cp[:, :-2], -fnk * cp[:, 2:]
    c = -dfp[:, :-1] * left - dfn[:, 1:] * right

    boil, boil_slope = _boiling(T, A.boil, A.real)
    lost = A.UA * (T - A.room)
    E += boil + lost - A.Q
    diag += boil_slope

    emitted = np.zeros_like(T)
    if A.any_emitter:
        flat = A.emitter_flat
        given, gain, weights = _emission(A, ext, m, lagged)
        emitted.ravel()[flat] = given
        E.ravel()[flat] += given
        for part, weight in zip((lower, diag, upper, c), weights, strict=True):
            part.ravel()[flat] += gain * weight

    mean_weights = None
    R = A.Cn * (N - old.N) / dt - A.Sn
    dR_N = np.zeros((A.Nt, A.Nt))
    dR_m = np.zeros((A.Nt, A.B))
    on_diag = A.Cn / dt
    if A.any_coil:
        at, flat = A.coil_cells, A.coil_flat
        UX, node = A.UX.take(flat), A.coil_node.take(flat)
        Tm, mean_weights = _mean_temperature(UX, _share_of_coil, ext, m, at)
        given = UX * (Tm - N[node])
        E.ravel()[flat] += given
        for part, weight in zip((lower, diag, upper, c), mean_weights, strict=True):
            part.ravel()[flat] += UX * weight
        R -= np.bincount(node, given, A.Nt)
        on_diag += np.bincount(node, UX, A.Nt)

    if A.any_pad:  # pad cells simply hold the b node's temperature
        E, c = np.where(A.real, E, T - N[A.tb][:, None]), np.where(A.real, c, 0.0)
        diag, lower, upper = np.where(A.real, diag, 1.0), np.where(A.real, lower, 0.0), np.where(A.real, upper, 0.0)

    rows, last = A.rows, A.last
    fn0, fpK = fn[:, 0], fp[rows, last + 1]
    drop_a = h[:, 1] - h[:, 0]
    drop_b = h[rows, last + 1] - h[:, -1]
    R -= np.bincount(A.ta, fn0 * drop_a, A.Nt) + np.bincount(A.tb, fpK * drop_b, A.Nt)
    on_diag += np.bincount(A.ta, fn0 * cp[:, 0], A.Nt) + np.bincount(A.tb, fpK * cp[:, -1], A.Nt)
    dR_m[A.ta, rows] -= dfn[:, 0] * drop_a
    dR_m[A.tb, rows] -= dfp[rows, last + 1] * drop_b
    boil_node, node_slope = _boiling(N, A.boil_N, ~A.is_fixed)
    R += A.layer_loss * (N - A.layer_room) + boil_node
    dR_N.ravel()[:: A.Nt + 1] = on_diag + A.layer_loss + node_slope
    if A.F:
        _layers(A, N, h_N, cp_N, m, R, dR_N, dR_m)
    mass = A.inc @ m
    return Linear(
        M, dM, beta, column_N, E, lower, diag, upper, c, mass, R, dR_N,
        (fn0 * cp[:, 1], fn0), (fpK * cp[rows, last + 1], fpK), dR_m, mean_weights,
        boil, boil_node, emitted, lost * A.real,
    )  # fmt: skip


def _properties(fluid: Fluid, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Density, slope, specific heat, enthalpy; the last continued straight outside 0 to 150 degC for trial states."""
    inside = tame(t)
    rho, slope, cp, h = fluid.all_of(inside)
    return rho, slope, cp, h + cp * (t - inside)


def _boiling(t: np.ndarray, boil_C: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
    """Heat that boils away and its slope."""
    over = t - boil_C
    hot = (over > 0.0) & counts
    if not hot.any():
        return np.zeros_like(t), 0.0
    return np.where(hot, BOIL_W_K * over, 0.0), np.where(hot, BOIL_W_K, 0.0)


def _emission(A: Arrays, ext, m, lagged: Lagged):
    """What each emitter gives, its slope by its mean temperature, and that one's derivatives. By emitter cell."""
    flat = A.emitter_flat
    Tm, weights = _mean_temperature(lagged.emitter_W_K.take(flat), _share_of_upstream, ext, m, A.emitter_cells)
    n, d = A.n.take(flat), Tm - A.room.take(flat)
    smooth = d * d + EMITTER_SMOOTH_K2
    power = A.Qn.take(flat) / A.dTn.take(flat) ** n * smooth ** (0.5 * (n - 1.0))
    return power * d, power * (1.0 + (n - 1.0) * d * d / smooth), weights


def emitted_W(A: Arrays, s: State, lagged: Lagged) -> np.ndarray:
    """What emitters give in a state, W, by cell. (B, K)"""
    out = np.zeros((A.B, A.K))
    if A.any_emitter:
        out.ravel()[A.emitter_flat] = _emission(A, _extended(A, s), s.m, lagged)[0]
    return out


def into_held_W(A: Arrays, s: State, lagged: Lagged) -> float:
    """Heat that water brings to joints of fixed temperature in a state, W. Coils to fixed layers are left out."""
    ends_a, ends_b = A.is_fixed[A.ta], A.is_fixed[A.tb]
    if not (ends_a.any() or ends_b.any()):
        return 0.0
    last = A.last
    ends = np.stack([s.T[:, 0], s.N[A.ta], s.T[A.rows, last], s.N[A.tb]], axis=1)
    h = A.net.fluid.enthalpy_J_kg(ends)
    back = np.sqrt(s.m**2 + lagged.e[:, 0] ** 2) - s.m
    ahead = np.sqrt(s.m**2 + lagged.e[A.rows, last + 1] ** 2) + s.m
    return float(0.5 * (back * (h[:, 0] - h[:, 1]) * ends_a + ahead * (h[:, 2] - h[:, 3]) * ends_b).sum())


def _mean_temperature(transfer_W_K, share, ext, m, at):
    """Mean temperature of exchanging cells and its derivatives to the cell before, itself, after, and m."""
    b, k = at
    flow = m[b]
    sc = np.sqrt(flow * flow + EXCHANGE_KG_S**2)
    w = 0.5 + 0.5 * flow / sc
    dw = 0.5 * EXCHANGE_KG_S**2 / (sc * sc * sc)
    ntu = transfer_W_K / (sc * 4190.0)
    th, dth = share(ntu)
    place = b * ext.shape[1] + k
    before, own, after = ext.take(place), ext.take(place + 1), ext.take(place + 2)
    upstream = w * before + (1.0 - w) * after
    mean = th * upstream + (1.0 - th) * own
    by_m = th * dw * (before - after) + dth * (-ntu * flow / sc**2) * (upstream - own)
    return mean, (th * w, 1.0 - th, th * (1.0 - w), by_m)


def _layers(A: Arrays, N, h, cp, m, R, dR_N, dR_m) -> None:
    """Flow, conduction and stirring between the layers of stores, added to the node residuals in place.

    A layer is the lower of one pair at most and the upper of one at most, so indices never repeat.
    """
    lo, hi = A.lo, A.hi
    flow = A.V @ m
    up, down = np.maximum(flow, 0.0), np.maximum(-flow, 0.0)
    gap = h[lo] - h[hi]
    dt = N[lo] - N[hi]
    inversion = np.maximum(dt, 0.0)
    between = A.conduct * dt + STIR_W_K2 * inversion**2
    slope = A.conduct + 2.0 * STIR_W_K2 * inversion
    R[hi] -= up * gap + between
    R[lo] += down * gap + between
    flat, cp_lo, cp_hi, wide = dR_N.ravel(), cp[lo], cp[hi], A.Nt
    flat[hi * wide + lo] -= up * cp_lo + slope
    flat[hi * wide + hi] += up * cp_hi + slope
    flat[lo * wide + lo] += down * cp_lo + slope
    flat[lo * wide + hi] -= down * cp_hi + slope
    dR_m[hi] -= np.where(flow > 0.0, gap, 0.0)[:, None] * A.V
    dR_m[lo] -= np.where(flow < 0.0, gap, 0.0)[:, None] * A.V


def newton(A: Arrays, s: State, old: State, dt: float, lagged: Lagged, virtual=None) -> State:
    """One Newton update, as differences (dT, dm, dp, dN): cells eliminated, the rest solved dense."""
    return solved(A, s, linearise(A, s, old, dt, lagged, virtual))


def solved(A: Arrays, s: State, L: Linear) -> State:
    """The update of a linearised step."""
    patience.ask()
    X = _eliminate(A, L)
    B, P, n = A.B, A.Np, A.B + A.Np + A.Nt
    G, rhs = np.zeros((n, n)), np.zeros(n)
    rows, oN = A.rows, B + P
    bX = np.einsum("kb,kbr->br", np.ascontiguousarray(L.beta.T), X)
    G[rows, rows] = L.dM - bX[:, 1]
    G[rows, B + A.pa] -= 1.0
    G[rows, B + A.pb] += 1.0
    G[:B, oN:] = L.column_N
    G[rows, oN + A.ta] -= bX[:, 2]
    G[rows, oN + A.tb] -= bX[:, 3]
    for r in range(A.links.shape[1]):
        G[rows, oN + A.links[:, r]] -= bX[:, 4 + r]
    rhs[:B] = bX[:, 0] - L.M

    G[B:oN, :B] = A.inc
    rhs[B:oN] = -L.mass
    G[B + A.ref, :] = 0.0
    G[B + A.ref, B + A.ref] = 1.0
    rhs[B + A.ref] = -s.p[A.ref]

    G[oN:, oN:] = L.dR_N
    G[oN:, :B] = L.dR_m
    rhs[oN:] = -L.R
    # rows of nodes: weight times (XE + Xc dm + Xa dNa + Xb dNb + ...) of the cells that adjoin them
    columns = np.concatenate([rows[:, None], oN + A.ta[:, None], oN + A.tb[:, None], oN + A.links], axis=1)
    node = [A.ta, A.tb]
    weighted = [L.end_a[0][:, None] * X[0], L.end_b[0][:, None] * X[A.last, rows]]
    across = [columns, columns]
    if A.any_coil:
        assert L.mean_weights is not None
        b, k = A.coil_cells
        edge = np.zeros((2, 1, X.shape[2]))
        edge[0, 0, 2] = edge[1, 0, 3] = -1.0
        first, final = (k == 0)[:, None], (k == A.last[b])[:, None]
        before = np.where(first, edge[0], X[k - 1, b])
        after = np.where(final, edge[1], X[np.minimum(k + 1, A.K - 1), b])
        w0, w1, w2, wm = L.mean_weights
        XM = w0[:, None] * before + w1[:, None] * X[k, b] + w2[:, None] * after
        XM[:, 1] -= wm
        node.append(A.coil_node[b, k])
        weighted.append(A.UX[b, k][:, None] * XM)
        across.append(columns[b])
    row, share = oN + np.concatenate(node), np.concatenate(weighted)
    place = (row[:, None] * n + np.concatenate(across)).ravel()
    G += np.bincount(place, share[:, 1:].ravel(), n * n).reshape(n, n)
    rhs -= np.bincount(row, share[:, 0], n)
    fixed = A.fixed
    G[oN + fixed, :] = 0.0
    G[oN + fixed, oN + fixed] = 1.0
    rhs[oN + fixed] = A.T_fix[fixed] - s.N[fixed]

    u = np.linalg.solve(G, rhs)
    dm, dp, dN = u[:B], u[B:oN], u[oN:]
    moves = np.empty((B, X.shape[2]))
    moves[:, 0], moves[:, 1], moves[:, 2], moves[:, 3] = 1.0, dm, dN[A.ta], dN[A.tb]
    moves[:, 4:] = dN[A.links]
    return State(-np.einsum("kbr,br->bk", X, moves), dm, dp, dN)


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


def moved(s: State, d: State, scale: float = 1.0) -> State:
    """The state after an update."""
    return State(s.T + scale * d.T, s.m + scale * d.m, s.p + scale * d.p, s.N + scale * d.N)


def largest_K(d: State, A: Arrays) -> float:
    """Largest temperature change of an update, K (pad cells left out)."""
    return float(max(np.max(np.abs(d.T) * A.real), np.max(np.abs(d.N))))


def start_at(A: Arrays, temperature_C: float) -> State:
    """Everything at one temperature, stores at their layers, no flow."""
    N = np.where(A.is_fixed | A.is_layer, A.T_fix, temperature_C)
    T = np.full((A.B, A.K), temperature_C)
    return State(T, np.zeros(A.B), np.zeros(A.Np), N)
