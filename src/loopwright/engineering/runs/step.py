"""One step in time, with sub-steps where it does not converge, and a plain error where it cannot be made.

Owns the choice of sub-steps. Knows nothing of parts or schedules.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import Lagged, State
from loopwright.engineering.newton import solved
from loopwright.engineering.plumes import entering
from loopwright.errors import FigureError

SHORTEST_S = 0.25
MOST_K = 25.0  # an update of one iteration is scaled to this
CLOSE_SHARE = 1e-4
NEAR_K = 1.0
"""Nearness to a guess from which Newton surely closes in by squares: an update much smaller is the last at once."""
CLOSE_KG_S = 1e-6
HOTTEST_C, COLDEST_C = 400.0, -60.0

Booked = Callable[[Arrays, State, Lagged, float], None]
"""Handed the arrays used, the state after a sub-step, what it took from the state before, and its seconds."""


def advance(
    A: Arrays, s: State, dt: float, guess: State | None = None, close_K: float = 1e-3, most: int = 12
) -> tuple[State, Lagged | None, Arrays]:
    """One implicit step with full Newton, from a guess of its end. None for what it lagged: not converged."""
    A = entering(A, s)
    old, lagged = s, nw.lag(A, s)
    s = s if guess is None else guess
    size, flow = (np.inf, np.inf) if guess is None else (NEAR_K, float(np.abs(s.m).max()))
    try:
        for _ in range(most):
            L = nw.linearise(A, s, old, dt, lagged)
            d = solved(A, s, L)
            size_before, flow_before = size, flow
            size, flow = nw.largest_K(d, A), float(np.abs(d.m).max())
            if not np.isfinite(size):
                return old, None, A
            s = nw.moved(s, d, min(1.0, MOST_K / max(size, 1e-12)))
            most_flow = CLOSE_KG_S + CLOSE_SHARE * float(np.abs(s.m).max())
            if _close(size, size_before, close_K) and _close(flow, flow_before, most_flow):
                return s, lagged, A
    except np.linalg.LinAlgError:
        pass
    return old, None, A


def _close(now: float, before: float, enough: float) -> bool:
    """Whether an update is small, or shrinks so fast that the next would be: it shrinks at least as fast again."""
    return now < enough or (before < np.inf and now < 100.0 * enough and now * now < 0.3 * enough * before)


def through(
    A: Arrays,
    s: State,
    seconds: float,
    booked: Booked,
    at_s: float = 0.0,
    guess: State | None = None,
    close_K: float = 1e-3,
) -> State:
    """The state `seconds` later, in as few sub-steps as converge; each is handed to `booked`.

    `guess`: where the first is expected to end. `close_K`: the last update that counts as none; it is still made, so
    that what is left after it is far smaller.

    FigureError, naming when and where, if even the shortest does not converge or leaves what water can be.
    """
    left, h = seconds, seconds
    while left > 1e-9:
        h = min(h, left)
        new, lagged, used = advance(A, s, h, guess, close_K)
        if lagged is None and guess is not None:
            guess = None
            continue
        guess = None
        if lagged is None:
            if h <= SHORTEST_S:
                raise FigureError(
                    f"The run cannot be continued after {_clock(at_s + seconds - left)}: the flow finds no next state",
                    where=_culprit(A, s),
                    do="Look at that pipe's bore and length and at the pumps and valves beside it",
                )
            h = max(SHORTEST_S, 0.4 * h)
            continue
        booked(used, new, lagged, h)
        s, left, h = new, left - h, 2.0 * h
    hot = np.where(A.real, s.T, 20.0)
    if not (np.isfinite(s.m).all() and hot.max() < HOTTEST_C and hot.min() > COLDEST_C):
        raise FigureError(
            f"The run leaves what water can be after {_clock(at_s + seconds)}",
            where=_culprit(A, s),
            do="Look for a source without water about it",
        )
    return s


def _culprit(A: Arrays, s: State) -> str:
    """The branch whose temperature is furthest from anything usual, by name."""
    T = np.nan_to_num(np.where(A.real, s.T, 50.0), nan=1e9)
    b = int(np.argmax(np.max(np.abs(T - 50.0), axis=1)))
    name = A.net.branches[b].name
    return name.partition(" ")[2] or name


def _clock(seconds: float) -> str:
    hours, rest = divmod(round(seconds), 3600)
    return f"{hours} h {rest // 60} min" if hours else f"{rest // 60} min {rest % 60} s"
