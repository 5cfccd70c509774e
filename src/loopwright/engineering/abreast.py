"""Networks solved abreast: whoever controls steps asks for a Newton update, and all who ask at once get it in one.

Owns the asking, and the arrays of several networks side by side. Knows no equations (`network`) and no control of
steps (`stepping`). One update of a small network is hardly more than the calls that make it up: twenty networks side
by side take little longer than one. They share no block of the matrix, so none can tell that it has neighbours.

A control is a generator: it yields a list of `Ask`, is sent the `Update` to each, and returns what it found. Controls
are joined by `yield from`, and run side by side by `abreast`.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from functools import update_wrapper
from threading import Lock
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.beside import side_by_side
from loopwright.engineering.network import Lagged, Pace, State
from loopwright.engineering.newton import newton


@dataclass(frozen=True)
class Ask:
    """One Newton iteration of a step of `dt` seconds from `old`, at the trial state `s`.

    `lagged`: what the step takes from the state before it, if not simply from `old`. `virtual`: a head by branch, Pa.
    """

    A: Arrays
    s: State
    old: State
    dt: float
    lagged: Lagged | None = None
    virtual: np.ndarray | None = None


class Update(NamedTuple):
    """What a trial state is to be changed by, and the largest change of a temperature and of a flow in it.

    All not a number where the equations have no solution.
    """

    d: State
    size_K: float
    size_kg_s: float


P = ParamSpec("P")
R = TypeVar("R")
Steps = Generator[list[Ask], list[Update], R]


class stepwise(Generic[P, R]):  # noqa: N801  (a decorator)
    """Makes a control of steps a function like any other; as a part of another control it is `yield from f.steps()`."""

    def __init__(self, steps: Callable[P, Steps[R]]) -> None:
        self.steps = steps
        update_wrapper(self, steps)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        return carried_out(self.steps(*args, **kwargs))


class remembering(stepwise[P, R]):  # noqa: N801  (a decorator)
    """The same, and its last `most` answers are kept by the value of what it was asked."""

    def __init__(self, steps: Callable[P, Steps[R]], most: int) -> None:
        self._asked, self._most = steps, most
        self._kept: OrderedDict[Any, R] = OrderedDict()
        self._lock = Lock()  # a check beside the window and one in it may both ask
        super().__init__(self._looked_up)
        update_wrapper(self, steps)

    def _looked_up(self, *args: P.args, **kwargs: P.kwargs) -> Steps[R]:
        key = (args, tuple(sorted(kwargs.items())))
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        found = yield from self._asked(*args, **kwargs)
        with self._lock:
            self._kept[key] = found
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return found

    def cache_clear(self) -> None:
        """Forget every answer."""
        with self._lock:
            self._kept.clear()


def abreast(controls: Sequence[Steps[R]]) -> Steps[list[R]]:
    """Several controls as one: what they ask for is asked for together, until the last has found its answer."""
    found: dict[int, R] = {}
    asking: dict[int, list[Ask]] = {}

    def move(i: int, got: list[Update] | None) -> None:
        try:
            asking[i] = next(controls[i]) if got is None else controls[i].send(got)
        except StopIteration as done:
            found[i] = done.value
            asking.pop(i, None)

    for i in range(len(controls)):
        move(i, None)
    while asking:
        got = yield [ask for asks in asking.values() for ask in asks]
        begin = 0
        for i, asks in list(asking.items()):
            end = begin + len(asks)
            move(i, got[begin:end])
            begin = end
    return [found[i] for i in range(len(controls))]


def carried_out(control: Steps[R]) -> R:
    """Answer all that a control asks for; what it finds."""
    bench = _Bench()
    try:
        asks = next(control)
        while True:
            asks = control.send(bench.updates(asks))
    except StopIteration as done:
        value: R = done.value
        return value


def _alone(ask: Ask) -> Update:
    lagged = nw.lag(ask.A, ask.old) if ask.lagged is None else ask.lagged
    try:
        d = newton(ask.A, ask.s, ask.old, ask.dt, lagged, ask.virtual)
    except np.linalg.LinAlgError:
        nothing = [np.full_like(x, np.nan) for x in (ask.s.T, ask.s.m, ask.s.p, ask.s.N)]
        d = State(*nothing)
    return Update(d, nw.largest_K(d, ask.A), float(np.abs(d.m).max()))


class _Bench:
    """Places for networks side by side, kept from one round of asking to the next while the same ones ask."""

    def __init__(self) -> None:
        self.members: list[Arrays] = []

    def updates(self, asks: list[Ask]) -> list[Update]:
        """The updates asked for. A store whose layers change leads water elsewhere at every step: it goes alone."""
        if len(asks) == 1:
            return [_alone(asks[0])]
        together = [i for i, ask in enumerate(asks) if not ask.A.inlets]
        out: list[Any] = [None if not ask.A.inlets else _alone(ask) for ask in asks]
        some = [asks[i] for i in together]
        try:
            got = self._together(some) if len(some) > 1 else [_alone(ask) for ask in some]
        except np.linalg.LinAlgError:
            got = [_alone(ask) for ask in some]
        for i, update in zip(together, got, strict=True):
            out[i] = update
        return out

    def _together(self, asks: list[Ask]) -> list[Update]:
        places = self._places(asks)
        A, s, old = self.A, self.s, self.old
        dt = np.ones(len(self.members))
        virtual = np.zeros(A.B) if any(ask.virtual is not None for ask in asks) else None
        for at, ask in zip(places, asks, strict=True):
            slot = self.slots[at]
            for whole, part in ((s, ask.s), (old, ask.old)):
                whole.T[slot.b, : ask.A.K] = part.T
                whole.m[slot.b], whole.p[slot.p], whole.N[slot.n] = part.m, part.p, part.N
            dt[at] = ask.dt
            if virtual is not None and ask.virtual is not None:
                virtual[slot.b] = ask.virtual
        by_branch = dt[A.part_b]
        lagged = nw.lag(A, old)
        for at, ask in zip(places, asks, strict=True):
            if ask.lagged is not None:
                slot = self.slots[at]
                lagged.e[slot.b, : ask.A.K + 1] = ask.lagged.e
                lagged.rho[slot.b], lagged.mu[slot.b] = ask.lagged.rho, ask.lagged.mu
                lagged.emitter_W_K[slot.emitters] = ask.lagged.emitter_W_K
        d = newton(A, s, old, Pace(by_branch, by_branch[:, None], dt[A.part_n]), lagged, virtual)
        cells = np.abs(d.T).max(axis=1, where=A.real, initial=0.0)
        first_b, first_n = ([getattr(slot, k).start for slot in self.slots] for k in "bn")
        warmest = np.maximum(np.maximum.reduceat(cells, first_b), np.maximum.reduceat(np.abs(d.N), first_n)).tolist()
        fastest = np.maximum.reduceat(np.abs(d.m), first_b).tolist()
        out = []
        for at, ask in zip(places, asks, strict=True):
            slot = self.slots[at]
            part = State(d.T[slot.b, : ask.A.K], d.m[slot.b], d.p[slot.p], d.N[slot.n])
            out.append(Update(part, warmest[at], fastest[at]))
        return out

    def _places(self, asks: list[Ask]) -> list[int]:
        """The place of each that asks. One that no longer asks keeps its own until a third of them is idle."""
        if 3 * len(asks) >= 2 * len(self.members):
            free: dict[int, list[int]] = {}
            for at in range(len(self.members) - 1, -1, -1):
                free.setdefault(id(self.members[at]), []).append(at)
            try:
                return [free[id(ask.A)].pop() for ask in asks]
            except (KeyError, IndexError):
                pass
        self.members = [ask.A for ask in asks]
        self.A, self.slots = side_by_side(self.members)
        A = self.A
        self.s, self.old = (
            State(np.zeros((A.B, A.K)), np.zeros(A.B), np.zeros(A.Np), np.zeros(A.Nt)) for _ in range(2)
        )
        return list(range(len(asks)))
