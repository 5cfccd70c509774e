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

from loopwright.engineering import friction
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
    return np.clip(t, 0.0, 150.0)


def lag(A: Arrays, s: State) -> Lagged:
    """Quantities held through one step, from the state before it."""
    ext = _extended(A, s)
    hot_below = np.maximum(0.0, -A.up * np.diff(ext, axis=1))  # up = +1 where the b side is higher
    e = EXCHANGE_KG_S + INVERSION_KG_M2_S_K * A.area[:, None] * np.minimum(hot_below, INVERSION_CUT_K)
    mean = tame((s.T * A.real).sum(axis=1) / A.count)
    rho, mu = A.net.fluid.density_kg_m3(mean), A.net.fluid.viscosity_Pa_s(mean)
    d = s.T - A.room
    slope = A.Qn * A.n * (d * d + EMITTER_SMOOTH_K2) ** (0.5 * (A.n - 1.0)) / A.dTn**A.n
    return Lagged(e, rho, mu, slope)


def averaged(a: Lagged, b: Lagged) -> Lagged:
    """Half of each."""
    half = [0.5 * (getattr(a, k) + getattr(b, k)) for k in ("e", "rho", "mu", "emitter_W_K")]
    return Lagged(*half)


def _extended(A: Arrays, s: State) -> np.ndarray:
    """Cell temperatures with the end nodes' before and after, (B, K+2). Pad cells hold the b node's."""
    T = np.where(A.real, s.T, s.N[A.tb][:, None])
    return np.concatenate([s.N[A.ta][:, None], T, s.N[A.tb][:, None]], axis=1)


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
        ramp = np.clip(m / OPENING_RAMP_KG_S, 0.0, 1.0)
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
    base = 1.0 + x**4
    return 0.5 * base**-0.25, -0.25 * x**3 * base**-1.25


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
    Tt, Nt = tame(T), tame(N)
    beta = g * A.dz * fluid.density_slope(Tt)
    rho_N = fluid.density_kg_m3(Nt)
    column = g * ((fluid.density_kg_m3(Tt) - RHO0) * A.dz).sum(axis=1) + g * (A.O @ (rho_N - RHO0))
    M = A.I * (m - old.m) / dt + y + column - (s.p[A.pa] - s.p[A.pb])
    dM = A.I / dt + dy
    column_N = g * A.O * fluid.density_slope(Nt)

    ext = _extended(A, s)
    mm = m[:, None]
    sq = np.sqrt(mm * mm + lagged.e**2)
    fp, fn = 0.5 * (sq + mm), 0.5 * (sq - mm)
    dfp = 0.5 * (mm / sq + 1.0)
    dfn = dfp - 1.0
    h, cp = _heat(fluid, ext)
    left, right = h[:, :-2] - h[:, 1:-1], h[:, 2:] - h[:, 1:-1]
    fpk, fnk = fp[:, :-1], fn[:, 1:]
    E = A.C * (T - old.T) / dt - fpk * left - fnk * right
    diag = A.C / dt + (fpk + fnk) * cp[:, 1:-1]
    lower, upper = -fpk * cp[:, :-2], -fnk * cp[:, 2:]
    c = -dfp[:, :-1] * left - dfn[:, 1:] * right

    over = T - A.boil
    boil = np.where(over > 0.0, BOIL_W_K * over, 0.0) * A.real
    lost = A.UA * (T - A.room)
    E = E - A.Q + boil + lost
    diag = diag + np.where(over > 0.0, BOIL_W_K, 0.0) * A.real + A.UA

    emitted = np.zeros_like(T)
    if A.any_emitter:
        Tm, weights = _mean_temperature(lagged.emitter_W_K, _share_of_upstream, ext, mm)
        d = Tm - A.room
        smooth = d * d + EMITTER_SMOOTH_K2
        scale = A.Qn / A.dTn**A.n
        emitted = scale * d * smooth ** (0.5 * (A.n - 1.0))
        gain = scale * (smooth ** (0.5 * (A.n - 1.0)) + (A.n - 1.0) * d * d * smooth ** (0.5 * (A.n - 3.0)))
        E = E + emitted
        lower, diag = lower + gain * weights[0], diag + gain * weights[1]
        upper, c = upper + gain * weights[2], c + gain * weights[3]

    mean_weights = None
    R = A.Cn * (N - old.N) / dt - A.Sn
    dR_N = np.zeros((A.Nt, A.Nt))
    dR_m = np.zeros((A.Nt, A.B))
    dR_N[A.diag_N] = A.Cn / dt
    if A.any_coil:
        Tm, mean_weights = _mean_temperature(A.UX, _share_of_coil, ext, mm)
        given = A.UX * (Tm - N[A.coil_node])
        E = E + given
        lower, diag = lower + A.UX * mean_weights[0], diag + A.UX * mean_weights[1]
        upper, c = upper + A.UX * mean_weights[2], c + A.UX * mean_weights[3]
        np.add.at(R, A.coil_node, -given)
        np.add.at(dR_N, (A.coil_node, A.coil_node), A.UX)

    # pad cells simply hold the b node's temperature
    E, c = np.where(A.real, E, T - N[A.tb][:, None]), np.where(A.real, c, 0.0)
    diag, lower, upper = np.where(A.real, diag, 1.0), np.where(A.real, lower, 0.0), np.where(A.real, upper, 0.0)

    rows, last = A.rows, A.last
    fn0, fpK = fn[:, 0], fp[rows, last + 1]
    drop_a = h[:, 1] - h[:, 0]
    drop_b = h[rows, last + 1] - h[:, -1]
    R = R - np.bincount(A.ta, fn0 * drop_a, A.Nt) - np.bincount(A.tb, fpK * drop_b, A.Nt)
    diag_N = np.bincount(A.ta, fn0 * cp[:, 0], A.Nt) + np.bincount(A.tb, fpK * cp[:, -1], A.Nt)
    dR_N[A.diag_N] += diag_N
    np.add.at(dR_m, (A.ta, rows), -dfn[:, 0] * drop_a)
    np.add.at(dR_m, (A.tb, rows), -dfp[rows, last + 1] * drop_b)
    over = N - A.boil_N
    boil_node = np.where((over > 0.0) & ~A.is_fixed, BOIL_W_K * over, 0.0)
    R += A.layer_loss * (N - A.layer_room) + boil_node
    dR_N[A.diag_N] += A.layer_loss + np.where(over > 0.0, BOIL_W_K, 0.0)
    if A.F:
        _layers(A, N, m, R, dR_N, dR_m)
    mass = A.inc @ m
    return Linear(
        M, dM, beta, column_N, E, lower, diag, upper, c, mass, R, dR_N,
        (fn0 * cp[:, 1], fn0), (fpK * cp[rows, last + 1], fpK), dR_m, mean_weights,
        boil, boil_node, emitted, lost * A.real,
    )  # fmt: skip


def _heat(fluid: Fluid, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Enthalpy and specific heat, continued straight outside 0 to 150 degC so that trial states stay sane."""
    inside = tame(t)
    cp = fluid.specific_heat_J_kgK(inside)
    return fluid.enthalpy_J_kg(inside) + cp * (t - inside), cp


def _mean_temperature(transfer_W_K, share, ext, mm):
    """Mean temperature of an exchanging cell and its derivatives to the cell before, itself, after, and m."""
    sc = np.sqrt(mm * mm + EXCHANGE_KG_S**2)
    w = 0.5 * (1.0 + mm / sc)
    dw = 0.5 * EXCHANGE_KG_S**2 / sc**3
    ntu = transfer_W_K / (sc * 4190.0)
    th, dth = share(ntu)
    before, own, after = ext[:, :-2], ext[:, 1:-1], ext[:, 2:]
    upstream = w * before + (1.0 - w) * after
    mean = th * upstream + (1.0 - th) * own
    by_m = th * dw * (before - after) + dth * (-ntu * mm / sc**2) * (upstream - own)
    return mean, (th * w, 1.0 - th, th * (1.0 - w), by_m)


def _layers(A: Arrays, N, m, R, dR_N, dR_m) -> None:
    """Flow, conduction and stirring between the layers of stores, added to the node residuals in place."""
    lo, hi = A.lo, A.hi
    flow = A.V @ m
    h, cp = _heat(A.net.fluid, N)
    up, down = np.maximum(flow, 0.0), np.maximum(-flow, 0.0)
    gap = h[lo] - h[hi]
    dt = N[lo] - N[hi]
    inversion = np.maximum(dt, 0.0)
    between = A.conduct * dt + STIR_W_K2 * inversion**2
    slope = A.conduct + 2.0 * STIR_W_K2 * inversion
    np.add.at(R, hi, -up * gap - between)
    np.add.at(R, lo, down * gap + between)
    np.add.at(dR_N, (hi, lo), -up * cp[lo] - slope)
    np.add.at(dR_N, (hi, hi), up * cp[hi] + slope)
    np.add.at(dR_N, (lo, lo), down * cp[lo] + slope)
    np.add.at(dR_N, (lo, hi), -down * cp[hi] - slope)
    dR_m[hi] += (-np.where(flow > 0.0, gap, 0.0))[:, None] * A.V
    dR_m[lo] += (-np.where(flow < 0.0, gap, 0.0))[:, None] * A.V


def newton(A: Arrays, s: State, old: State, dt: float, lagged: Lagged, virtual=None) -> State:
    """One Newton update, as differences (dT, dm, dp, dN): cells eliminated, the rest solved dense."""
    return solved(A, s, linearise(A, s, old, dt, lagged, virtual))


def solved(A: Arrays, s: State, L: Linear) -> State:
    """The update of a linearised step."""
    X = _eliminate(A, L)
    B, P, n = A.B, A.Np, A.B + A.Np + A.Nt
    G, rhs = np.zeros((n, n)), np.zeros(n)
    rows, oN = A.rows, B + P
    bX = np.einsum("bk,bkr->br", L.beta, X)
    G[rows, rows] = L.dM - bX[:, 1]
    np.add.at(G, (rows, B + A.pa), -1.0)
    np.add.at(G, (rows, B + A.pb), 1.0)
    G[:B, oN:] = L.column_N
    np.add.at(G, (rows, oN + A.ta), -bX[:, 2])
    np.add.at(G, (rows, oN + A.tb), -bX[:, 3])
    rhs[:B] = -(L.M - bX[:, 0])

    G[B:oN, :B] = A.inc
    rhs[B:oN] = -L.mass
    G[B + A.ref, :] = 0.0
    G[B + A.ref, B + A.ref] = 1.0
    rhs[B + A.ref] = -s.p[A.ref]

    G[oN:, oN:] = L.dR_N
    G[oN:, :B] = L.dR_m
    rhs[oN:] = -L.R
    Xa, Xb = X[:, 0], X[rows, A.last]
    for node, weight, edge in ((A.ta, L.end_a[0], Xa), (A.tb, L.end_b[0], Xb)):
        _spread(A, G, rhs, oN + node, rows, weight[:, None] * edge, oN)
    if A.any_coil:
        ends = np.zeros((B, 1, X.shape[2]))
        first, final = ends.copy(), ends.copy()
        first[:, 0, 2] = -1.0
        final[:, 0, 3] = -1.0
        ext = np.concatenate([first, X, final], axis=1)
        assert L.mean_weights is not None
        w0, w1, w2, wm = L.mean_weights
        XM = w0[..., None] * ext[:, :-2] + w1[..., None] * ext[:, 1:-1] + w2[..., None] * ext[:, 2:]
        XM[..., 1] -= wm
        b, k = A.coil_cells
        _spread(A, G, rhs, oN + A.coil_node[b, k], b, A.UX[b, k][:, None] * XM[b, k], oN)
        for r in range(A.links.shape[1]):
            np.add.at(G, (rows, oN + A.links[:, r]), -bX[:, 4 + r])
    fixed = A.fixed
    G[oN + fixed, :] = 0.0
    G[oN + fixed, oN + fixed] = 1.0
    rhs[oN + fixed] = A.T_fix[fixed] - s.N[fixed]

    u = np.linalg.solve(G, rhs)
    dm, dp, dN = u[:B], u[B:oN], u[oN:]
    dT = X[..., 0] + X[..., 1] * dm[:, None] + X[..., 2] * dN[A.ta][:, None] + X[..., 3] * dN[A.tb][:, None]
    if A.any_coil:
        dT = dT + np.einsum("bkr,br->bk", X[..., 4:], dN[A.links])
    return State(-dT, dm, dp, dN)


def _spread(A: Arrays, G, rhs, row, branch, weighted, oN: int) -> None:
    """Add `weight * (XE + Xc dm + Xa dNa + Xb dNb + ...)` of cells to rows of the reduced system."""
    np.add.at(rhs, row, -weighted[:, 0])
    np.add.at(G, (row, branch), weighted[:, 1])
    np.add.at(G, (row, oN + A.ta[branch]), weighted[:, 2])
    np.add.at(G, (row, oN + A.tb[branch]), weighted[:, 3])
    for r in range(weighted.shape[1] - 4):
        np.add.at(G, (row, oN + A.links[branch, r]), weighted[:, 4 + r])


def _eliminate(A: Arrays, L: Linear) -> np.ndarray:
    """Thomas over the cells of all branches at once: D^-1 applied to (E, c, ea, eb, links), (B, K, 4 + R)."""
    width = 4 + A.links.shape[1]
    X = np.zeros((A.B, A.K, width))
    X[..., 0], X[..., 1] = L.E, L.c
    X[:, 0, 2] = L.lower[:, 0]
    X[A.rows, A.last, 3] = L.upper[A.rows, A.last]
    X[..., 3] -= np.where(A.real, 0.0, 1.0)
    if A.any_coil:
        bs, ks = A.coil_cells
        X[bs, ks, 4 + A.coil_link[bs, ks]] -= A.UX[bs, ks]
    upper = np.where(A.is_last, 0.0, L.upper)
    gamma = np.empty_like(upper)
    gamma[:, 0] = upper[:, 0] / L.diag[:, 0]
    X[:, 0] /= L.diag[:, 0, None]
    for k in range(1, A.K):
        low = L.lower[:, k]
        pivot = L.diag[:, k] - low * gamma[:, k - 1]
        gamma[:, k] = upper[:, k] / pivot
        X[:, k] = (X[:, k] - low[:, None] * X[:, k - 1]) / pivot[:, None]
    for k in range(A.K - 2, -1, -1):
        X[:, k] -= gamma[:, k, None] * X[:, k + 1]
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
