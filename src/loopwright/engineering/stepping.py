"""Control of the steps of a flow network: honest time, growing steps, the test of stability, the march.

Owns how long a step is, when it counts as made and when a state counts as settled. Knows nothing of starts or outcomes
(`steady`), nor of equations (`network`). Every control asks for its Newton updates as `abreast` says, so that many
networks can be led at once; called by itself it leads one.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.abreast import Ask, Steps, Update, stepwise
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.books import balance
from loopwright.engineering.network import Lagged, State
from loopwright.engineering.outcomes import Swing
from loopwright.engineering.plumes import entering
from loopwright.errors import FigureError

STAGES = ((10.0, 1), (4.0, 1))  # target change a step in K, iterations a step
STAGE_STEPS = 60  # what settles does so in about twenty
LONG_S = 1e3
POLISHINGS = 60
HASTENED_BY = 6  # states that a hastened iteration looks back on
EARLY_S, NEAR_K, EARLY = 4e3, 2.0, 4  # a state that swaps is polished from such steps on, so near rest, so often
SETTLED_S = 1e5
LEAST_SHARE = 0.06
MARCH_S, LONGEST_S = 20.0, 120.0
BENT_K = 0.02  # how far a step of a march may miss what the steps before foretold, K or g/s
FROZEN_C = -60.0  # colder than any room: such water is drawn from without end
LEAST_S = 0.5  # shortest step of a march
MOST_TRIES, UNMADE = 1500, 150  # steps of a march at most, and how many of them one counts for that cannot be made
QUIET_K = 0.02  # least movement of an hour that a march goes on for
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


def _far(A: Arrays, a: State, b: State) -> float:
    """How far two states are apart, K or g/s, whichever is more."""
    return max(_warmer(A, a, b), _faster(a, b))


def _warmer(A: Arrays, a: State, b: State) -> float:
    return nw.largest_K(State(a.T - b.T, a.m, a.p, a.N - b.N), A)


def _faster(a: State, b: State) -> float:
    return 1e3 * float(np.abs(a.m - b.m).max())


def _slight(s: State, got: Update) -> bool:
    """Whether an update to a state is so small that no other need follow."""
    return bool(got.size_K < 1e-4 and got.size_kg_s < 1e-7 + 1e-5 * np.abs(s.m).max())


def _expected(last: Update, got: Update) -> Update:
    """The update after this one, by its sizes: it shrinks at least as fast again; this one if that did not shrink."""
    sizes = [
        now * min(1.0, 3.0 * now / before) if before > 0.0 else now
        for before, now in ((last.size_K, got.size_K), (last.size_kg_s, got.size_kg_s))
    ]
    return Update(got.d, *sizes)


@stepwise
def advance(A: Arrays, s: State, dt: float, most: int = 9, guess: State | None = None) -> Steps[tuple[State, bool]]:
    """One implicit step in time with full Newton. Returns the state and whether it converged."""
    A = entering(A, s)
    old = s
    s = s if guess is None else guess
    last: Update | None = None
    for _ in range(most):
        got = (yield [Ask(A, s, old, dt)])[0]
        if not np.isfinite(got.size_K):
            return old, False
        s = nw.moved(s, got.d, min(1.0, 25.0 / max(got.size_K, 1e-12)))
        if _slight(s, got if last is None else _expected(last, got)):
            return s, True
        last = got
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
def grow(A: Arrays, s: State, stages: Sequence[tuple[float, int]] = STAGES) -> Steps[tuple[State, bool, int]]:
    """Pseudo-transient continuation. Returns state, settled, steps. One Newton iteration a step at first.

    In steps longer than `LONG_S` all that is left of the state before is what a step takes from it, and that can swap
    between two values for ever (a trickle through an emitter): there it follows by a share, halved whenever a step
    takes back what the last one gave.
    """
    steps = 0
    for target, iterations in stages:
        dt, follows, tries = 10.0, _Following(A), 0
        for _ in range(STAGE_STEPS):
            steps += 1
            old, new = s, s
            lagged = None if dt < LONG_S else follows.lagged(old)
            ch = dm = 0.0
            for i in range(iterations):
                got = (yield [Ask(A, new, old, dt, lagged)])[0]
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
            still = ch < 0.01 and dm < 1e-5
            swaps = dt >= EARLY_S and ch < NEAR_K and follows.share < 1.0 and tries < EARLY
            if swaps or (still and dt >= SETTLED_S):
                tries += 1
                done = yield from polish.steps(A, s, swaps)
                if fulfils(A, done) and (still or _warmer(A, done, s) < 2.0 * NEAR_K):
                    return done, True, steps
                if still and dt >= SETTLED_S:
                    break
            follows.heed(new.T - old.T)
            dt = min(1e7, dt * min(2.0, max(0.3, target / max(ch, 1e-12))))
    return s, False, steps


@stepwise
def polish(A: Arrays, s: State, slow: bool = False) -> Steps[State]:
    """Newton at a very long step, until flows stand still to rounding; at most `POLISHINGS` iterations.

    What a step takes from the state before it is led after the state by a fixed-point iteration, which closes in slowly
    or runs away where a trickle decides. Once it does not shrink fast, or is `slow` as known, it is hastened.
    """
    sought, size = _Hastened(A), np.inf
    for _ in range(POLISHINGS):
        got = (yield [Ask(A, s, s, 1e7)])[0]
        if not got.size_K <= 5.0:
            return s
        if got.size_K < 1e-9 and got.size_kg_s < 1e-13:
            return nw.moved(s, got.d)
        slow = slow or got.size_K > 0.25 * size
        size = got.size_K
        s = sought.after(s, got.d) if slow else nw.moved(s, got.d)
    return s


class _Hastened:
    """The next state of a fixed-point iteration, by the last few: the mix of them whose updates cancel best.

    After Anderson 1965, as Walker and Ni 2011 give it. Mixes have weights that sum to one, so joints stay balanced and
    what is held stays held.
    """

    def __init__(self, A: Arrays) -> None:
        self.A = A
        self.past: list[tuple[State, State]] = []

    def _row(self, d: State) -> np.ndarray:
        return np.concatenate(((d.T * self.A.real).ravel(), d.N, 1e3 * d.m))

    def after(self, s: State, d: State) -> State:
        """The state to go on from, after `s` and its update `d`."""
        self.past = [*self.past[-HASTENED_BY:], (s, d)]
        own = self._row(d)
        steps = np.array([own - self._row(was) for _, was in self.past[:-1]])
        new = nw.moved(s, d)
        if not len(steps):
            return new
        weights = np.linalg.lstsq(steps.T, own, rcond=1e-10)[0]
        ends = [nw.moved(at, was) for at, was in self.past[:-1]]
        mixed = [
            x - sum(w * (x - y) for w, y in zip(weights, (getattr(end, k) for end in ends), strict=True))
            for k, x in (("T", new.T), ("m", new.m), ("p", new.p), ("N", new.N))
        ]
        return State(*mixed)


class _Following:
    """What steps take from the state before them, led after the states by a share that shrinks while they swap."""

    def __init__(self, A: Arrays) -> None:
        self.A, self.share = A, 1.0
        self.kept: Lagged | None = None
        self.last = np.zeros((A.B, A.K))

    def lagged(self, s: State) -> Lagged:
        fresh = nw.lag(self.A, s)
        self.kept = fresh if self.kept is None else nw.blended(self.kept, fresh, self.share)
        return self.kept

    def heed(self, change: np.ndarray) -> None:
        """Look at the change that a step made to the temperatures of cells."""
        back = float((change * self.last * self.A.real).sum())
        if back < 0.0 and float((change * change).sum()) > 0.25 * float((self.last * self.last).sum()):
            self.share = max(LEAST_SHARE, 0.5 * self.share)
        self.last = change


def fulfils(A: Arrays, s: State, times: float = 1.0) -> bool:
    """Whether a settled state keeps its equations: pascals, and the heat to 1e-5 of the power (1 mW at least).

    `times`: how many times as much it may miss them by.
    """
    book = balance(A, s)
    turned_over = max(book.source_W, book.emitted_W, abs(book.fixed_W), 100.0)
    return book.momentum_Pa < times * MOMENTUM_PA and abs(book.gap_W) < times * 1e-5 * turned_over


@stepwise
def nudge(A: Arrays, s: State) -> Steps[tuple[State, bool]]:
    """Disturb a settled state and let 10 minutes pass. Returns the state after, and whether it ran away.

    Short steps come first: an implicit step much longer than a mode's growth time turns its growth into a
    standing zigzag, which looks like rest. Ran away: still growing in the second half, ten times as warm as the
    disturbance, or as much flow that is not dying away. (Warmth of the disturbance that stays in water without loss
    drives a flow that is no instability, and goes with it.)
    """
    rng = np.random.default_rng(7)
    N = np.where(A.is_fixed, s.N, s.N + rng.uniform(-0.3, 0.3, A.Nt))
    new = State(s.T + rng.uniform(-0.3, 0.3, s.T.shape), s.m * (1 + rng.uniform(-0.01, 0.01, A.B)), s.p, N)

    for _ in range(10):
        new, _ = yield from advance.steps(A, new, 3.0, 4)
    half, before = new, None
    for i in range(28):
        guess = None if before is None else nw.onward(before, new)
        before = new
        new, _ = yield from advance.steps(A, new, 20.0, 4, guess)
        if i == 13:
            half = new
            if _far(A, half, s) < DIED_AWAY:
                return new, False
    end, was = _far(A, new, s), _far(A, half, s)
    grows = end > 1.0 and end > 1.3 * was
    flows = 3.0 < _faster(new, s) >= _faster(half, s)
    return new, bool(grows or flows or _warmer(A, new, s) > 3.0)


@stepwise
def march(A: Arrays, s: State, hours: float = 4.0) -> Steps[tuple[State, str, Swing]]:
    """Honest time. Returns the state, steady / swings / drifting, and the largest movement of the last hour or hours.

    Steps of 20 s, longer while the state goes on as the steps before foretold: what bends, as every swing does, is
    followed in short ones. It ends early once an hour has passed in which nothing moved.

    Swings: still moving in the last hour, and in it, or in three quarters of the whole for what swings slowly, to and
    fro more than away. Where Newton fails steps are cut to 0.4. What has to be followed in steps that are too short for
    the hours to pass is given up: as it stands if water boils, else by a FigureError, as is water colder than any room.
    """
    track: list[tuple[float, np.ndarray]] = []
    now, h, h_before, tries = 0.0, MARCH_S, MARCH_S, 0
    before: State | None = None
    while now < 3600.0 * hours - 1e-6:
        tries += 1
        coldest = np.where(A.real, s.T, 0.0).min(axis=1)
        if coldest.min() < FROZEN_C:
            where = A.net.branches[int(np.argmin(coldest))].name
            raise FigureError("More heat is drawn from the water than anything gives it", where=where)
        h = min(h, 3600.0 * hours - now)
        guess = None if before is None or h < MARCH_S else nw.onward(before, s, h / h_before)
        new, ok = yield from advance.steps(A, s, h, 9, guess)
        if tries > MOST_TRIES:
            if track and now > 60.0 and _boils(A, s):
                break
            worst = A.net.branches[int(np.argmax(np.abs(new.T - s.T).max(axis=1)))].name
            raise FigureError("Water cannot be followed in time", where=worst, do="Look at its heat, pumps and bores")
        if not ok:
            tries += UNMADE if h <= LEAST_S else 0
            h, before = max(LEAST_S, 0.4 * h), None
            continue
        bent = None if guess is None else _far(A, new, guess)
        before, h_before, s = s, h, new
        now += h
        if h < MARCH_S:
            h = min(MARCH_S, 1.5 * h)
        elif bent is not None:
            h = min(max(h * (1.5 if bent < 0.5 * BENT_K else 0.5 if bent > BENT_K else 1.0), MARCH_S), LONGEST_S)
        track.append((now, np.where(A.real, s.T, s.N[A.tb][:, None])))
        if now > 3600.0 and _last(track, 3600.0).span_K.max() < QUIET_K:
            break
    hour = _last(track, 3600.0)
    shown = hour
    for part in (hour, _last(track, 0.75 * now)):
        to_and_fro = (part.span_K > 2.0 * part.net_K) & (np.minimum(part.span_K, hour.span_K) > 1.0)
        if to_and_fro.any():
            shown, kind, most = part, "swings", np.where(to_and_fro, part.span_K, 0.0)
            break
    else:
        most = hour.span_K
        kind = "steady" if hour.net_K.max() < 0.2 and most.max() <= 1.0 else "drifting"
    b, k = np.unravel_index(np.argmax(most), most.shape)
    period = _period(shown.times_s, shown.T[:, b, k])
    return s, kind, Swing(A.net.branches[b].name, float(shown.span_K[b, k]), float(shown.net_K[b, k]), period)


def _boils(A: Arrays, s: State) -> bool:
    return bool((A.boil < s.T).any() or (A.layout.free_boil_C < s.N).any())


class _Past(NamedTuple):
    """The last part of a march: times, temperatures of cells, the range of each and how far it is from where it was."""

    times_s: np.ndarray
    T: np.ndarray
    span_K: np.ndarray
    net_K: np.ndarray


def _last(track: list[tuple[float, np.ndarray]], seconds: float) -> _Past:
    since = track[-1][0] - seconds
    last = [(t, T) for t, T in track if t > since]
    T = np.array([T for _, T in last])
    return _Past(np.array([t for t, _ in last]), T, T.max(axis=0) - T.min(axis=0), np.abs(T[-1] - T[0]))


def _period(times: np.ndarray, t: np.ndarray) -> float | None:
    """Mean time between upward crossings of the mean, s; None with fewer than two."""
    x = t - t.mean()
    crossings = times[:-1][(x[:-1] < 0.0) & (x[1:] >= 0.0)]
    return float(np.mean(np.diff(crossings))) if len(crossings) > 1 else None
