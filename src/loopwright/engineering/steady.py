"""The steady answer of a flow network: two starts, growing steps, a disturbance test, a march, an outcome.

Owns the control of the steps of `network` and what their end is called. Knows nothing of equations or drawings.

A start goes through a *prelude* of honest time (large steps forget in which basin they were), then steps that
grow as the state comes to rest, then a *nudge*: short steps from a small disturbance, since large steps happily
land on unstable states. What does not settle is marched in time and then drifts, swings or settles after all.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.arrays import Arrays, arrays
from loopwright.engineering.books import balance
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Answer, Ending, Stall, Swing
from loopwright.engineering.plumes import entering
from loopwright.errors import FigureError

STILL_KG_S = 5e-4  # flows below this are shown as still
AGREE_KG_S, AGREE_K = 2e-3, 1.0
REMEMBERED = 48
"""Nets whose answers are kept: those of a few sheets and of their last edits."""
STAGES = ((10.0, 1), (4.0, 1), (3.0, 2))  # target change a step in K, iterations a step
MOMENTUM_PA = 2e-3
KICK_PA, KICK_PA_M = 200.0, 400.0
DIED_AWAY = 0.01
"""K, or g/s, left of a disturbance after five minutes. To run away in five more it would have to grow a hundredfold: so
fast a mode would have grown as much before, and out of a disturbance of every cell be far larger by then."""


def fixed_steps(A: Arrays, s: State, dt: float, count: int, iterations: int, virtual=None) -> State:
    """Steps accepted as they are, each update scaled to 20 K. `virtual(i)` gives a head per branch.

    An update that `advance` would take for the last one is the last here.
    """
    for i in range(count):
        old = s
        lagged = nw.lag(A, old)
        for _ in range(iterations):
            d = nw.newton(A, s, old, dt, lagged, None if virtual is None else virtual(i))
            size = nw.largest_K(d, A)
            s = nw.moved(s, d, min(1.0, 20.0 / max(size, 1e-12)))
            if _slight(s, d, size):
                break
    return s


def _slight(s: State, d: State, size_K: float) -> bool:
    """Whether an update to a state is so small that no other need follow."""
    return bool(size_K < 1e-4 and np.abs(d.m).max() < 1e-7 + 1e-5 * np.abs(s.m).max())


def advance(A: Arrays, s: State, dt: float, most: int = 9) -> tuple[State, bool]:
    """One implicit step in time with full Newton. Returns the state and whether it converged."""
    A = entering(A, s)
    old, lagged = s, nw.lag(A, s)
    for _ in range(most):
        d = nw.newton(A, s, old, dt, lagged)
        size = nw.largest_K(d, A)
        if not np.isfinite(size):
            return old, False
        s = nw.moved(s, d, min(1.0, 25.0 / max(size, 1e-12)))
        if _slight(s, d, size):
            return s, True
    return s, False


def run_for(A: Arrays, s: State, seconds: float, dt: float) -> State:
    """March `seconds` in steps of `dt`, cut to 0.4 where Newton fails (down to 0.5 s), doubled back after."""
    left, h = seconds, dt
    while left > 1e-9:
        h = min(h, left)
        new, ok = advance(A, s, h)
        if not ok and h > 0.5:
            h = max(0.5, 0.4 * h)
            continue
        s, left, h = new, left - h, min(dt, 2.0 * h)
    return s


def grow(A: Arrays, s: State) -> tuple[State, bool, int]:
    """Pseudo-transient continuation. Returns state, settled, steps. One Newton iteration a step at first."""
    steps = 0
    for target, iterations in STAGES:
        dt = 10.0
        for _ in range(160):
            steps += 1
            old, new = s, s
            lagged = nw.lag(A, old)
            for _ in range(iterations):
                new = nw.moved(new, nw.newton(A, new, old, dt, lagged))
            ch = nw.largest_K(State(new.T - old.T, new.m, new.p, new.N - old.N), A)
            if not np.isfinite(ch) or ch > 3.0 * target:
                dt *= max(0.1, 0.7 * target / ch) if np.isfinite(ch) else 0.1
                if dt < 1e-3:
                    break
                continue
            s = new
            if dt >= 1e5 and ch < 0.01 and np.max(np.abs(new.m - old.m)) < 1e-5:
                done = polish(A, s)
                if fulfils(A, done):
                    return done, True, steps
                break
            dt = min(1e7, dt * min(2.0, max(0.3, target / max(ch, 1e-12))))
    return s, False, steps


def polish(A: Arrays, s: State) -> State:
    """Newton at a very long step, until flows stand still to rounding; at most 40 iterations.

    What a step takes from the state before it can make long steps swap between two states: after a few
    iterations it is averaged over them.
    """
    lagged = nw.lag(A, s)
    for i in range(40):
        d = nw.newton(A, s, s, 1e7, lagged)
        size = nw.largest_K(d, A)
        if not np.isfinite(size) or size > 5.0:
            return s
        s = nw.moved(s, d)
        if size < 1e-9 and np.max(np.abs(d.m)) < 1e-13:
            break
        fresh = nw.lag(A, s)
        lagged = fresh if i < 4 else nw.averaged(lagged, fresh)
    return s


def fulfils(A: Arrays, s: State) -> bool:
    """Whether a settled state keeps its equations: pascals, and the heat to 1e-5 of the power (1 mW at least)."""
    book = balance(A, s)
    turned_over = max(book.source_W, book.emitted_W, abs(book.fixed_W), 100.0)
    return book.momentum_Pa < MOMENTUM_PA and abs(book.gap_W) < 1e-5 * turned_over


def nudge(A: Arrays, s: State) -> tuple[State, bool]:
    """Disturb a settled state and let 10 minutes pass. Returns the state after, and whether it ran away.

    Short steps come first: an implicit step much longer than a mode's growth time turns its growth into a
    standing zigzag, which looks like rest. Ran away: still growing in the second half, or ten times the disturbance.
    """
    rng = np.random.default_rng(7)
    N = np.where(A.is_fixed, s.N, s.N + rng.uniform(-0.3, 0.3, A.Nt))
    new = State(s.T + rng.uniform(-0.3, 0.3, s.T.shape), s.m * (1 + rng.uniform(-0.01, 0.01, A.B)), s.p, N)

    def far(x: State) -> float:
        d = State(x.T - s.T, x.m - s.m, x.p, x.N - s.N)
        return max(nw.largest_K(d, A), 1e3 * float(np.max(np.abs(d.m))))

    for _ in range(10):
        new, _ = advance(A, new, 3.0, most=4)
    half = 0.0
    for i in range(28):
        new, _ = advance(A, new, 20.0, most=4)
        if i == 13:
            half = far(new)
            if half < DIED_AWAY:
                return new, False
    end = far(new)
    return new, bool(end > 1.0 and (end > 1.3 * half or end > 3.0))


def march(A: Arrays, s: State, hours: float = 4.0) -> tuple[State, str, Swing]:
    """Steps of 20 s. Returns the state, steady / swings / drifting, and the largest movement of the last hour."""
    track = []
    count = int(hours * 180)
    for i in range(count):
        s = run_for(A, s, 20.0, 20.0)
        if i >= count - 180:
            track.append(np.where(A.real, s.T, s.N[A.tb][:, None]))
    T = np.array(track)
    span = T.max(axis=0) - T.min(axis=0)
    net = np.abs(T[-1] - T[0])
    b, k = np.unravel_index(np.argmax(span), span.shape)
    swing = Swing(A.net.branches[b].name, float(span[b, k]), float(net[b, k]), _period(T[:, b, k]))
    if np.any((span > 1.0) & (span > 2.0 * net)):
        return s, "swings", swing
    return s, ("steady" if net.max() < 0.2 and span.max() <= 1.0 else "drifting"), swing


def _period(t: np.ndarray) -> float | None:
    """Mean time between upward crossings of the mean, s; None with fewer than two."""
    x = t - t.mean()
    crossings = np.nonzero((x[:-1] < 0.0) & (x[1:] >= 0.0))[0]
    return float(20.0 * np.mean(np.diff(crossings))) if len(crossings) > 1 else None


def _fired(A: Arrays) -> np.ndarray:
    return (A.Q * A.real).sum(axis=1) > 0.0


def from_rest(A: Arrays) -> State:
    """Everything cold and still, then 30 minutes: does it start by itself?"""
    return fixed_steps(A, nw.start_at(A, A.net.room_C), 30.0, 60, 2)


def from_kick(A: Arrays) -> State:
    """Driven through its fired branches by a falling head, then let go: does it keep going once it runs?"""
    height = float(np.max(np.abs(A.dz).sum(axis=1)))
    heads = [x.height_m for x in A.net.nodes] + [h for s in A.net.stores for h in (s.base_m, s.top_m)]
    if heads:
        height = max(height, max(heads) - min(heads))
    push = np.where(_fired(A), KICK_PA + KICK_PA_M * height, 0.0)
    sense = _kick_sense(A)
    s = nw.start_at(A, A.net.room_C)
    s = fixed_steps(A, s, 30.0, 20, 2, lambda i: push * sense * (1.0 - i / 20.0))
    return fixed_steps(A, s, 30.0, 20, 2)


def _kick_sense(A: Arrays) -> np.ndarray:
    """Way in which a fired branch is driven: its check or pump decides, then upwards, then from a to b."""
    rise = np.array([b.rise_m for b in A.net.branches])
    free = np.where(rise < -1e-9, -1.0, 1.0)
    return np.where(A.check | (A.pump0 > 0.0), 1.0, free)


def settle(A: Arrays, start: State, name: str, look: bool = True, seen: Ending | None = None) -> Ending:
    """Settle from a state: grow, nudge up to four times, march if need be.

    `seen`: where another start ended; a state that is the same needs no second nudge.
    """
    s, settled, steps = grow(A, start)
    for _ in range(4):
        if not settled or not look or (seen is not None and seen.kind == "steady" and _same(A, s, seen.state)):
            break
        after, ran_away = nudge(A, s)
        if not ran_away:
            break
        s, settled, more = grow(A, after)
        steps += more
    else:
        settled = False
    if settled:
        return _ending(A, name, "steady", s, None, False, steps)
    s, kind, swing = march(A, s)
    if kind != "swings":  # a creep in a still branch may end in a state that the growing step now finds
        grown, settled, more = grow(A, s)
        steps += more
        if settled and _differ(A, grown, s) is None:
            s, kind = grown, "steady"
    return _ending(A, name, kind, s, None if kind == "steady" else swing, True, steps)


def _ending(A: Arrays, name: str, kind: str, s: State, swing: Swing | None, marched: bool, steps: int) -> Ending:
    book = balance(A, s)
    limit = max(20.0, 0.01 * book.source_W)
    boiling: dict[str, float] = {}
    if book.boiled_W > limit:
        places = [*(b.name for b in A.net.branches), *A.node_names]
        for place, w in zip(places, [*book.boil_W, *book.boil_node_W], strict=True):
            if w > 0.5:
                boiling[place] = boiling.get(place, 0.0) + float(w)
    return Ending(name, kind, s, book, boiling, _stalls(A, s), swing, marched, steps)


def _stalls(A: Arrays, s: State) -> tuple[Stall, ...]:
    found = []
    fired = _fired(A)
    L = nw.linearise(A, s, s, 1e30, nw.lag(A, s))
    y, _ = nw.branch_law(A, s.m, nw.lag(A, s))
    for i, b in enumerate(A.net.branches):
        if (fired[i] or b.should_carry) and abs(s.m[i]) < STILL_KG_S:
            across = float(s.p[A.pa[i]] - s.p[A.pb[i]])
            column = float(L.M[i] - y[i] + across)
            drive = across - column
            found.append(Stall(b.name, bool(b.check and drive < 0.0), float(s.m[i]), drive, column))
    return tuple(found)


def _differ(A: Arrays, a: State, b: State) -> str | None:
    """Name of the branch in which two states differ most, if they do."""
    dm = np.abs(a.m - b.m)
    dT = np.max(np.abs(a.T - b.T) * A.real, axis=1)
    # a still branch may hold any temperature for days: it does not make another state
    dT = np.where((np.abs(a.m) < STILL_KG_S) & (np.abs(b.m) < STILL_KG_S), 0.0, dT)
    size = np.maximum(dm / AGREE_KG_S, dT / AGREE_K)
    return A.net.branches[int(np.argmax(size))].name if size.max() > 1.0 else None


def _same(A: Arrays, a: State, b: State) -> bool:
    """Whether two settled states are one to rounding."""
    apart = nw.largest_K(State(a.T - b.T, a.m, a.p, a.N - b.N), A)
    return bool(apart < 1e-4 and np.max(np.abs(a.m - b.m)) < 1e-7)


def _worse(a: Ending, b: Ending) -> Ending:
    """The ending to judge safety by: more boiling, then not settled, then hotter."""

    def rank(e: Ending) -> tuple[float, bool, float]:
        return (sum(e.boil_W.values()), e.kind != "steady", float(np.max(e.state.T)))

    return a if rank(a) >= rank(b) else b


@lru_cache(maxsize=REMEMBERED)
def steady(net: Net) -> Answer:
    """The steady answer of a net, from rest and from a kick. Temperatures and flows of `ending` where it exists.

    Kept by the value of the net: an edit elsewhere on the sheet leaves a water its answer. Its arrays are not to be
    written into.

    Where the starts disagree it is asked once more with finer cells: a state near its border may then go either way,
    and the answer says so.
    """
    answer = _answer(net)
    if answer.outcome == "two states":
        return replace(answer, finer=_answer(net.finer()).outcome)
    return answer


def _answer(net: Net) -> Answer:
    A = arrays(net)
    rest = settle(A, from_rest(A), "rest")
    kick = settle(A, from_kick(A), "kick", seen=rest)
    worse = _worse(rest, kick)
    if rest.boils != kick.boils:
        return Answer("two states", _hottest(A, worse, _differ(A, rest.state, kick.state)), worse, rest, kick, A)
    if worse.boils:
        return Answer("boils", max(worse.boil_W, key=lambda b: worse.boil_W[b]), worse, rest, kick, A)
    moving = [e for e in (rest, kick) if e.kind != "steady"]
    apart = _differ(A, rest.state, kick.state)
    if len(moving) == 2 or any(e.kind == "swings" for e in moving) or (moving and apart):
        first = max(moving, key=lambda e: e.kind == "swings")
        return Answer(first.kind, first.swing.branch if first.swing else None, first, rest, kick, A)
    if moving:  # one start creeps towards the state that the other has reached
        rest = kick = next(e for e in (rest, kick) if e.kind == "steady")
    if apart:
        return Answer("two states", apart, worse, rest, kick, A)
    if rest.stalls:
        return Answer("stalled", rest.stalls[0].branch, rest, rest, kick, A)
    return Answer("steady", _strongest(A, rest.state), rest, rest, kick, A)


def _hottest(A: Arrays, e: Ending, otherwise: str | None) -> str | None:
    return max(e.boil_W, key=lambda b: e.boil_W[b]) if e.boil_W else otherwise


def _strongest(A: Arrays, s: State) -> str:
    """The branch that decides a steady answer: the fired one with the largest flow, or the largest flow of all."""
    fired = _fired(A)
    size = np.abs(s.m) * np.where(fired, 1.0, 0.0) if fired.any() else np.abs(s.m)
    return A.net.branches[int(np.argmax(size))].name


def most_power_W(net: Net, branch: str, ceiling_W: float = 60e3, within_W: float = 100.0) -> float:
    """The most heat that a source's branch can carry away without boiling, W, by halving; from the kick start.

    `ceiling_W` itself if even that does not boil.
    """
    source = next((b for b in net.branches if b.name == branch), None)
    if source is None:
        raise FigureError(f"There is no branch “{branch}” in the network")

    def boils(power_W: float) -> bool:
        A = arrays(net.with_branch(source.with_source(power_W)))
        return settle(A, from_kick(A), "kick", look=False).boils

    low, high = 0.0, ceiling_W
    if not boils(high):
        return high
    while high - low > within_W:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if boils(middle) else (middle, high)
    return low
