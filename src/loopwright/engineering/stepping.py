"""Control of the steps of a flow network: honest time, growing steps, the test of stability, the march.

Owns how long a step is, when it counts as made and when a state counts as settled. Knows nothing of starts or outcomes
(`steady`), nor of equations (`network`). Every control asks for its Newton updates as `abreast` says, so that many
networks can be led at once; called by itself it leads one.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.abreast import Ask, Steps, Update, stepwise
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.books import balance
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Swing
from loopwright.engineering.plumes import entering

STAGES = ((10.0, 1), (4.0, 1), (3.0, 2))  # target change a step in K, iterations a step
MOMENTUM_PA = 2e-3
DIED_AWAY = 0.01
"""K, or g/s, left of a disturbance after five minutes. To run away in five more it would have to grow a hundredfold: so
fast a mode would have grown as much before, and out of a disturbance of every cell be far larger by then."""


@stepwise
def fixed_steps(
    A: Arrays,
    s: State,
    dt: float,
    count: int,
    iterations: int,
    virtual: Callable[[int], np.ndarray] | None = None,
) -> Steps[State]:
    """Steps accepted as they are, each update scaled to 20 K. `virtual(i)` gives a head per branch.

    An update that `advance` would take for the last one is the last here. Each begins where the one before it ended and
    at no better guess: near the border of two basins a crude step may fall to either side, and so both are seen.
    """
    for i in range(count):
        old = s
        for _ in range(iterations):
            got = (yield [Ask(A, s, old, dt, None, None if virtual is None else virtual(i))])[0]
            if not np.isfinite(got.size_K):
                return old
            s = nw.moved(s, got.d, min(1.0, 20.0 / max(got.size_K, 1e-12)))
            if _slight(s, got):
                break
    return s


def _onward(before: State, now: State) -> State:
    """A guess at the next state: as far again as the last step of the same length went."""
    return State(2.0 * now.T - before.T, 2.0 * now.m - before.m, 2.0 * now.p - before.p, 2.0 * now.N - before.N)


def _slight(s: State, got: Update) -> bool:
    """Whether an update to a state is so small that no other need follow."""
    return bool(got.size_K < 1e-4 and got.size_kg_s < 1e-7 + 1e-5 * np.abs(s.m).max())


@stepwise
def advance(A: Arrays, s: State, dt: float, most: int = 9, guess: State | None = None) -> Steps[tuple[State, bool]]:
    """One implicit step in time with full Newton. Returns the state and whether it converged."""
    A = entering(A, s)
    old = s
    s = s if guess is None else guess
    for _ in range(most):
        got = (yield [Ask(A, s, old, dt)])[0]
        if not np.isfinite(got.size_K):
            return old, False
        s = nw.moved(s, got.d, min(1.0, 25.0 / max(got.size_K, 1e-12)))
        if _slight(s, got):
            return s, True
    return s, False


@stepwise
def run_for(A: Arrays, s: State, seconds: float, dt: float) -> Steps[State]:
    """March `seconds` in steps of `dt`, cut to 0.4 where Newton fails (down to 0.5 s), doubled back after."""
    left, h = seconds, dt
    while left > 1e-9:
        h = min(h, left)
        new, ok = yield from advance.steps(A, s, h)
        if not ok and h > 0.5:
            h = max(0.5, 0.4 * h)
            continue
        s, left, h = new, left - h, min(dt, 2.0 * h)
    return s


@stepwise
def grow(A: Arrays, s: State) -> Steps[tuple[State, bool, int]]:
    """Pseudo-transient continuation. Returns state, settled, steps. One Newton iteration a step at first."""
    steps = 0
    for target, iterations in STAGES:
        dt = 10.0
        for _ in range(160):
            steps += 1
            old, new = s, s
            ch = dm = 0.0
            for i in range(iterations):
                got = (yield [Ask(A, new, old, dt)])[0]
                new = nw.moved(new, got.d)
                if i == 0:
                    ch, dm = got.size_K, got.size_kg_s
            if iterations > 1:
                ch = nw.largest_K(State(new.T - old.T, new.m, new.p, new.N - old.N), A)
                dm = float(np.abs(new.m - old.m).max())
            if not np.isfinite(ch) or ch > 3.0 * target:
                dt *= max(0.1, 0.7 * target / ch) if np.isfinite(ch) else 0.1
                if dt < 1e-3:
                    break
                continue
            s = new
            if dt >= 1e5 and ch < 0.01 and dm < 1e-5:
                done = yield from polish.steps(A, s)
                if fulfils(A, done):
                    return done, True, steps
                break
            dt = min(1e7, dt * min(2.0, max(0.3, target / max(ch, 1e-12))))
    return s, False, steps


@stepwise
def polish(A: Arrays, s: State) -> Steps[State]:
    """Newton at a very long step, until flows stand still to rounding; at most 40 iterations.

    What a step takes from the state before it can make long steps swap between two states: after a few
    iterations it is averaged over them.
    """
    lagged = nw.lag(A, s)
    for i in range(40):
        got = (yield [Ask(A, s, s, 1e7, lagged)])[0]
        if not got.size_K <= 5.0:
            return s
        s = nw.moved(s, got.d)
        if got.size_K < 1e-9 and got.size_kg_s < 1e-13:
            break
        fresh = nw.lag(A, s)
        lagged = fresh if i < 4 else nw.averaged(lagged, fresh)
    return s


def fulfils(A: Arrays, s: State) -> bool:
    """Whether a settled state keeps its equations: pascals, and the heat to 1e-5 of the power (1 mW at least)."""
    book = balance(A, s)
    turned_over = max(book.source_W, book.emitted_W, abs(book.fixed_W), 100.0)
    return book.momentum_Pa < MOMENTUM_PA and abs(book.gap_W) < 1e-5 * turned_over


@stepwise
def nudge(A: Arrays, s: State) -> Steps[tuple[State, bool]]:
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
        new, _ = yield from advance.steps(A, new, 3.0, 4)
    half = 0.0
    before = None
    for i in range(28):
        guess = None if before is None else _onward(before, new)
        before = new
        new, _ = yield from advance.steps(A, new, 20.0, 4, guess)
        if i == 13:
            half = far(new)
            if half < DIED_AWAY:
                return new, False
    end = far(new)
    return new, bool(end > 1.0 and (end > 1.3 * half or end > 3.0))


@stepwise
def march(A: Arrays, s: State, hours: float = 4.0) -> Steps[tuple[State, str, Swing]]:
    """Steps of 20 s. Returns the state, steady / swings / drifting, and the largest movement of the last hour."""
    track = []
    count = int(hours * 180)
    for i in range(count):
        s = yield from run_for.steps(A, s, 20.0, 20.0)
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
