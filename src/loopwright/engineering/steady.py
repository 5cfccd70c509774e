"""The steady answer of a flow network: two starts, growing steps, a disturbance test, a march, an outcome.

Owns the starts and what their end is called. Knows nothing of equations, of how long a step is (`stepping`), nor of
drawings.

A start goes through a *prelude* of honest time (large steps forget in which basin they were), then steps that
grow as the state comes to rest, then a *nudge*: short steps from a small disturbance, since large steps happily
land on unstable states. What does not settle is marched in time and then drifts, swings or settles after all.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.abreast import Steps, abreast, remembering, stepwise
from loopwright.engineering.arrays import Arrays, arrays
from loopwright.engineering.books import balance
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Answer, Ending, Stall, Swing
from loopwright.engineering.stepping import STAGES, fixed_steps, fulfils, grow, march, nudge
from loopwright.errors import FigureError

STILL_KG_S = 5e-4  # flows below this are shown as still
AGREE_KG_S, AGREE_K = 2e-3, 1.0
REMEMBERED = 48
"""Nets whose answers are kept: those of a few sheets and of their last edits."""
KICK_PA, KICK_PA_M = 200.0, 400.0
ALMOST = 1e3  # how far what has only been marched may miss the equations, times what a settled state may


def _fired(A: Arrays) -> np.ndarray:
    return (A.Q * A.real).sum(axis=1) > 0.0


@stepwise
def from_rest(A: Arrays) -> Steps[State]:
    """Everything cold and still, then 30 minutes: does it start by itself?"""
    return fixed_steps.steps(A, nw.start_at(A, A.net.room_C), 30.0, 60, 2)


@stepwise
def from_kick(A: Arrays) -> Steps[State]:
    """Driven through its fired branches by a falling head, then let go: does it keep going once it runs?"""
    height = float(np.max(np.abs(A.dz).sum(axis=1)))
    heads = [x.height_m for x in A.net.nodes] + [h for s in A.net.stores for h in (s.base_m, s.top_m)]
    if heads:
        height = max(height, max(heads) - min(heads))
    push = np.where(_fired(A), KICK_PA + KICK_PA_M * height, 0.0)
    sense = _kick_sense(A)
    s = nw.start_at(A, A.net.room_C)
    s = yield from fixed_steps.steps(A, s, 30.0, 20, 2, lambda i: push * sense * (1.0 - i / 20.0))
    return (yield from fixed_steps.steps(A, s, 30.0, 20, 2))


def _kick_sense(A: Arrays) -> np.ndarray:
    """Way in which a fired branch is driven: its check or pump decides, then upwards, then from a to b."""
    rise = np.array([b.rise_m for b in A.net.branches])
    free = np.where(rise < -1e-9, -1.0, 1.0)
    return np.where(A.check | (A.pump0 > 0.0), 1.0, free)


@stepwise
def settle(A: Arrays, start: State, name: str, look: bool = True) -> Steps[Ending]:
    """Settle from a state: grow, nudge up to four times if one is to `look` for stability, march if need be."""
    grown = yield from grow.steps(A, start)
    return (yield from _judged(A, name, grown, look))


def _judged(A: Arrays, name: str, grown: tuple[State, bool, int], look: bool) -> Steps[Ending]:
    """Where a grown state ends once it has been disturbed and, if need be, marched."""
    s, settled, steps = grown
    for _ in range(4):
        if not settled or not look:
            break
        after, ran_away = yield from nudge.steps(A, s)
        if not ran_away:
            break
        left = s
        s, settled, more = yield from grow.steps(A, after)
        steps += more
        if settled and _same(A, s, left):  # long steps lead back to what any disturbance leaves: only time can tell
            s, settled = after, False
    else:
        settled = False
    if settled:
        return _ending(A, name, "steady", s, None, False, steps)
    s, kind, swing = yield from march.steps(A, s)
    if kind != "swings":  # a creep in a still branch may end in a state that the growing step now finds
        found, settled, more = yield from grow.steps(A, s, STAGES[:1])
        steps += more
        if settled and _differ(A, found, s) is None:
            s, kind = found, "steady"
        elif kind == "steady" and not fulfils(A, s, ALMOST):  # so slow that hours show nothing of it
            kind = "drifting"
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


@partial(remembering, most=REMEMBERED)
def steady(net: Net) -> Steps[Answer]:
    """The steady answer of a net, from rest and from a kick. Temperatures and flows of `ending` where it exists.

    Kept by the value of the net: an edit elsewhere on the sheet leaves a water its answer. Its arrays are not to be
    written into.

    Where the starts disagree it is asked once more with finer cells: a state near its border may then go either way,
    and the answer says so.
    """
    answer = yield from _answer(net)
    if answer.outcome == "two states":
        return replace(answer, finer=(yield from _answer(net.finer())).outcome)
    return answer


def _grown(A: Arrays, start: Steps[State]) -> Steps[tuple[State, bool, int]]:
    s = yield from start
    return (yield from grow.steps(A, s))


def _answer(net: Net) -> Steps[Answer]:
    A = arrays(net)
    starts = [("rest", from_rest.steps(A))]
    if _fired(A).any():  # else there is nothing to kick: both starts are one
        starts.append(("kick", from_kick.steps(A)))
    grown = yield from abreast([_grown(A, start) for _, start in starts])
    first, last = grown[0], grown[-1]
    if first[1] and last[1] and _same(A, first[0], last[0]):  # at one and the same state: looked at once
        del starts[1:]
    endings = yield from abreast([_judged(A, name, got, True) for (name, _), got in zip(starts, grown, strict=False)])
    rest = endings[0]
    kick = endings[1] if len(endings) > 1 else replace(rest, start="kick", steps=last[2])
    worse = _worse(rest, kick)
    if rest.boils != kick.boils:
        return Answer("two states", _hottest(A, worse, _differ(A, rest.state, kick.state)), worse, rest, kick, A)
    if worse.boils:
        return Answer("boils", max(worse.boil_W, key=lambda b: worse.boil_W[b]), worse, rest, kick, A)
    moving = [e for e in (rest, kick) if e.kind != "steady"]
    apart = _differ(A, rest.state, kick.state)
    if len(moving) == 2 or any(e.kind == "swings" for e in moving) or (moving and apart):
        shown = max(moving, key=lambda e: e.kind == "swings")
        return Answer(shown.kind, shown.swing.branch if shown.swing else None, shown, rest, kick, A)
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
