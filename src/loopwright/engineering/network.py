"""The equations of the flow network: one implicit step of flow and temperature together, and its derivatives.

Owns the equations of a step in time. Knows nothing of how they are solved (`newton`), nor of starts and outcomes.

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
from typing import Any, NamedTuple

import numpy as np

from loopwright.engineering import friction
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.fluid import Fluid, Several
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
    emitter_W_K: np.ndarray  # by emitter cell


def tame(t: np.ndarray) -> np.ndarray:
    """Trial temperatures held to where the property formulas are monotone; settled states lie well inside."""
    return np.minimum(np.maximum(t, 0.0), 150.0)


def lag(A: Arrays, s: State) -> Lagged:
    """Quantities held through one step, from the state before it."""
    ext = _extended(A, s)
    hot_below = np.maximum(0.0, A.up * (ext[:, :-1] - ext[:, 1:]))  # up = +1 where the b side is higher
    e = EXCHANGE_KG_S + INVERSION_KG_M2_S_K * A.area[:, None] * np.minimum(hot_below, INVERSION_CUT_K)
    total = (s.T * A.real).sum(axis=1) if A.any_pad else s.T.sum(axis=1)
    mean = tame(total / A.count)[:, None]  # a row a branch, as fluids are told by branch
    rho, mu = A.fluid.density_kg_m3(mean)[:, 0], A.fluid.viscosity_Pa_s(mean)[:, 0]
    at, lay = A.emitter_flat, A.layout
    d = s.T.take(at) - A.room.take(at)
    slope = A.Qn.take(at) * lay.exponent * (d * d + EMITTER_SMOOTH_K2) ** lay.half_power / lay.nominal
    return Lagged(e, rho, mu, slope)


def blended(a: Lagged, b: Lagged, share: float) -> Lagged:
    """The first led towards the second by a share of the way."""
    pairs = ((getattr(a, k), getattr(b, k)) for k in ("e", "rho", "mu", "emitter_W_K"))
    return Lagged(*(x + share * (y - x) for x, y in pairs))


def _extended(A: Arrays, s: State) -> np.ndarray:
    """Cell temperatures with the end nodes' before and after, (B, K+2). Pad cells hold the b node's."""
    ext = np.empty((A.B, A.K + 2))
    after = s.N[A.tb]
    ext[:, 0], ext[:, -1] = s.N[A.ta], after
    ext[:, 1:-1] = np.where(A.real, s.T, after[:, None]) if A.any_pad else s.T
    return ext


def branch_law(
    A: Arrays, m: np.ndarray, lagged: Lagged, virtual: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """y(m), Pa, and its slope: friction and local losses, less the pump, plus the check valve."""
    at = A.seg_branch
    loss, slope = friction.loss_in(A.bores, m.take(at), A.seg_k, lagged.rho.take(at), lagged.mu.take(at))
    y, dy = np.bincount(at, loss, A.B), np.bincount(at, slope, A.B)
    if A.any_pump:
        square = A.pump2 * np.abs(m)
        y = y - A.pump0 - (A.pump1 + square) * m
        dy = dy - A.pump1 - 2.0 * square
    if A.any_check:
        back = A.check & (m < 0.0)
        y = y + np.where(back, CHECK_PA_S_KG * m, 0.0)
        ramp = np.minimum(np.maximum(m / OPENING_RAMP_KG_S, 0.0), 1.0)
        y = y + np.where(A.check, A.opening * ramp, 0.0)
        ramping = A.check & (m >= 0.0) & (m < OPENING_RAMP_KG_S)
        dy = dy + np.where(back, CHECK_PA_S_KG, 0.0) + np.where(ramping, A.opening / OPENING_RAMP_KG_S, 0.0)
    return (y if virtual is None else y - virtual), dy


class Pace(NamedTuple):
    """Length of a step, s, where several networks are stepped side by side, each at its own."""

    by_branch: np.ndarray  # (B,)
    by_cell: np.ndarray  # (B, 1)
    by_node: np.ndarray  # (Nt,)


def _pace(dt: float | Pace) -> tuple[Any, Any, Any]:
    return dt if isinstance(dt, Pace) else (dt, dt, dt)


@dataclass
class Linear:
    """Residuals of a state and their derivatives, before elimination. Shapes as in `State`."""

    M: np.ndarray
    dM: np.ndarray
    beta: np.ndarray
    E: np.ndarray
    lower: np.ndarray
    diag: np.ndarray
    upper: np.ndarray
    c: np.ndarray
    mass: np.ndarray
    R: np.ndarray
    matrix: np.ndarray  # what the layout's blank leaves out and no cell takes part in
    end_a: np.ndarray
    end_b: np.ndarray
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


def linearise(
    A: Arrays, s: State, old: State, dt: float | Pace, lagged: Lagged, virtual: np.ndarray | None = None
) -> Linear:
    """Residuals and derivatives of one backward-Euler step of `dt` seconds from `old`, at the trial state `s`."""
    g, lay, at_ends = GRAVITY, A.layout, A.joined
    T, m, N = s.T, s.m, s.N
    matrix = lay.blank.copy()
    flat = matrix.reshape(-1)
    by_branch, by_cell, by_node = _pace(dt)
    y, dy = branch_law(A, m, lagged, virtual)
    ext = _extended(A, s)
    (rho, drho, cp, h), (rho_N, drho_N, cp_N, h_N) = _properties(A.fluid, ext, N)
    beta = g * A.dz * drho[:, 1:-1]
    column = g * ((rho[:, 1:-1] - RHO0) * A.dz).sum(axis=1)
    ob, on, metres, place = lay.column_of
    if ob.size:
        weighed = g * metres
        column += np.bincount(ob, weighed * (rho_N[on] - RHO0), A.B)
        flat[place] = weighed * drho_N[on]
    M = A.I * (m - old.m) / by_branch + y + column - (s.p[A.pa] - s.p[A.pb])
    dM = A.I / by_branch + dy

    mm = m[:, None]
    sq = np.sqrt(mm * mm + lagged.e**2)
    fp, fn = 0.5 * (sq + mm), 0.5 * (sq - mm)
    dfp = 0.5 * (mm / sq + 1.0)
    rise = h[:, 1:] - h[:, :-1]  # over each face, from the a side
    fpk, fnk = fp[:, :-1], fn[:, 1:]
    slow = A.C / by_cell
    E = slow * (T - old.T) + fpk * rise[:, :-1] - fnk * rise[:, 1:]
    diag = slow + (fpk + fnk) * cp[:, 1:-1] + A.UA
    lower, upper = -fpk * cp[:, :-2], -fnk * cp[:, 2:]
    c = dfp[:, :-1] * rise[:, :-1] - (dfp[:, 1:] - 1.0) * rise[:, 1:]

    boil, boil_slope = _boiling(T, A.boil)
    lost = A.UA * (T - A.room)
    E += boil + lost - A.Q
    diag += boil_slope

    emitted = np.zeros_like(T)
    if A.any_emitter:
        at = A.emitter_flat
        given, gain, weights = _emission(A, ext, m, lagged)
        emitted.reshape(-1)[at] = given
        E.reshape(-1)[at] += given
        for part, weight in zip((lower, diag, upper, c), weights, strict=True):
            part.reshape(-1)[at] += gain * weight

    mean_weights = None
    slow_N = A.Cn / by_node
    R = slow_N * (N - old.N) - A.Sn
    on_diag = slow_N + A.layer_loss
    if A.any_coil:
        at = A.coil_flat
        UX, node = A.UX.take(at), A.coil_node.take(at)
        Tm, mean_weights = _mean_temperature(UX, _share_of_coil, ext, m, A.coil_cells)
        given = UX * (Tm - N[node])
        E.reshape(-1)[at] += given
        for part, weight in zip((lower, diag, upper, c), mean_weights, strict=True):
            part.reshape(-1)[at] += UX * weight
        R -= np.bincount(node, given, A.Nt)
        on_diag += np.bincount(node, UX, A.Nt)

    if A.any_pad:  # pad cells simply hold the b node's temperature
        pads = lay.pads
        E.reshape(-1)[pads] = T.take(pads) - N.take(A.tb.take(lay.pad_branch))
        diag.reshape(-1)[pads] = 1.0
        for part in (lower, upper, c):
            part.reshape(-1)[pads] = 0.0

    rows, last = A.rows, A.last
    fn0, fpK = fn[:, 0], fp[rows, last + 1]
    drop_a = rise[:, 0]
    drop_b = h[rows, last + 1] - h[:, -1]
    ends = at_ends.ends
    R -= np.bincount(ends, np.concatenate((fn0 * drop_a, fpK * drop_b)), A.Nt)
    on_diag += np.bincount(ends, np.concatenate((fn0 * cp[:, 0], fpK * cp[:, -1])), A.Nt)
    flat[at_ends.flow_at_a] -= (dfp[:, 0] - 1.0) * drop_a
    flat[at_ends.flow_at_b] -= dfp[rows, last + 1] * drop_b
    boil_node, node_slope = _boiling(N, lay.free_boil_C)
    R += A.layer_loss * (N - A.layer_room) + boil_node
    flat[lay.on_node] = on_diag + node_slope
    if lay.moves_layers:
        _layers(A, N, h_N, cp_N, m, R, flat)
    mass = np.bincount(A.pb, m, A.Np) - np.bincount(A.pa, m, A.Np)
    return Linear(
        M, dM, beta, E, lower, diag, upper, c, mass, R, matrix, fn0 * cp[:, 1], fpK * cp[rows, last + 1],
        mean_weights, boil, boil_node, emitted, lost * A.real,
    )  # fmt: skip


def _properties(fluid: Fluid, ext: np.ndarray, N: np.ndarray) -> tuple[tuple[np.ndarray, ...], tuple[np.ndarray, ...]]:
    """Density, slope, specific heat, enthalpy of cells (filled branch by branch) and of joints.

    Enthalpy goes on straight outside 0 to 150 degC for trial states.
    """
    if isinstance(fluid, Several):
        return _of(fluid, ext), _of(fluid, N)
    rows, cut = ext.shape, ext.size
    found = _of(fluid, np.concatenate((ext.reshape(-1), N)))
    return tuple(x[:cut].reshape(rows) for x in found), tuple(x[cut:] for x in found)


def _of(fluid: Fluid, t: np.ndarray) -> tuple[np.ndarray, ...]:
    inside = tame(t)
    rho, slope, cp, h = fluid.all_of(inside)
    return rho, slope, cp, h + cp * (t - inside)


def _boiling(t: np.ndarray, boil_C: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
    """Heat that boils away and its slope."""
    over = t - boil_C
    if over.max() <= 0.0:
        return np.zeros_like(t), 0.0
    hot = over > 0.0
    return np.where(hot, BOIL_W_K * over, 0.0), np.where(hot, BOIL_W_K, 0.0)


def _emission(A: Arrays, ext, m, lagged: Lagged):
    """What each emitter gives, its slope by its mean temperature, and that one's derivatives. By emitter cell."""
    flat, lay = A.emitter_flat, A.layout
    Tm, weights = _mean_temperature(lagged.emitter_W_K, _share_of_upstream, ext, m, A.emitter_cells)
    d = Tm - A.room.take(flat)
    square = d * d
    smooth = square + EMITTER_SMOOTH_K2
    power = A.Qn.take(flat) / lay.nominal * smooth**lay.half_power
    return power * d, power * (1.0 + (lay.exponent - 1.0) * square / smooth), weights


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
    h = A.fluid.enthalpy_J_kg(ends)
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


def _layers(A: Arrays, N, h, cp, m, R, flat: np.ndarray | None) -> None:
    """Flow, conduction and stirring between the layers of stores, added to the node residuals in place.

    A layer is the lower of one pair at most and the upper of one at most, so indices never repeat.
    """
    lo, hi = A.lo, A.hi
    face, branch, sign, in_hi, in_lo = A.joined.crossing
    flow = np.bincount(face, sign * m[branch], A.F)
    up, down = np.maximum(flow, 0.0), np.maximum(-flow, 0.0)
    gap = h[lo] - h[hi]
    dt = N[lo] - N[hi]
    inversion = np.maximum(dt, 0.0)
    between = A.conduct * dt + STIR_W_K2 * inversion**2
    R[hi] -= up * gap + between
    R[lo] += down * gap + between
    if flat is None:
        return
    slope = A.conduct + 2.0 * STIR_W_K2 * inversion
    cp_lo, cp_hi = cp[lo], cp[hi]
    hi_lo, hi_hi, lo_lo, lo_hi = A.layout.over_face
    flat[hi_lo] -= up * cp_lo + slope
    flat[hi_hi] += up * cp_hi + slope
    flat[lo_lo] += down * cp_lo + slope
    flat[lo_hi] -= down * cp_hi + slope
    by_flow = (sign * gap[face], flow[face])
    flat[in_hi] -= by_flow[0] * (by_flow[1] > 0.0)
    flat[in_lo] -= by_flow[0] * (by_flow[1] < 0.0)


def between_held_layers_W(A: Arrays, s: State) -> np.ndarray:
    """What a step leaves out where every layer is held: what flow and conduction bring to each node, W. (Nt,)"""
    R = np.zeros(A.Nt)
    if A.F and not A.layout.moves_layers:
        h = A.fluid.enthalpy_J_kg(s.N)
        _layers(A, s.N, h, h, s.m, R, None)
    return -R


def moved(s: State, d: State, scale: float = 1.0) -> State:
    """The state after an update."""
    if scale == 1.0:
        return State(s.T + d.T, s.m + d.m, s.p + d.p, s.N + d.N)
    return State(s.T + scale * d.T, s.m + scale * d.m, s.p + scale * d.p, s.N + scale * d.N)


def onward(before: State, now: State, share: float = 1.0) -> State:
    """A guess at the next state: as far again as the step from `before` to `now` went, or a share of it."""
    pairs = ((getattr(before, k), getattr(now, k)) for k in ("T", "m", "p", "N"))
    return State(*(x + share * (x - was) for was, x in pairs))


def largest_K(d: State, A: Arrays) -> float:
    """Largest temperature change of an update, K (pad cells left out)."""
    cells = np.abs(d.T) * A.real if A.any_pad else np.abs(d.T)
    return float(max(cells.max(), np.abs(d.N).max()))


def start_at(A: Arrays, temperature_C: float) -> State:
    """Everything at one temperature, stores at their layers, no flow."""
    N = np.where(A.is_fixed | A.is_layer, A.T_fix, temperature_C)
    T = np.full((A.B, A.K), temperature_C)
    return State(T, np.zeros(A.B), np.zeros(A.Np), N)
