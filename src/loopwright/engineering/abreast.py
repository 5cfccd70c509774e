"""Networks solved abreast: whoever controls steps asks for a Newton update, and all who ask at once get it in one.

Owns the asking, and the arrays of several networks side by side. Knows no equations (`network`) and no control of
steps (`stepping`). One update of a small network is hardly more than the calls that make it up: twenty networks side
by side take little longer than one. They share no block of the matrix, so none can tell that it has neighbours.

A control is a generator: it yields a list of `Ask`, is sent the `Update` to each, and returns what it found. Controls
are joined by `yield from`, and run side by side by `abreast`.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, replace
from functools import update_wrapper
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.fluid import Several
from loopwright.engineering.network import Lagged, Pace, State


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
        d = nw.newton(ask.A, ask.s, ask.old, ask.dt, lagged, ask.virtual)
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
        d = nw.newton(A, s, old, Pace(by_branch, by_branch[:, None], dt[A.part_n]), lagged, virtual)
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


class Slot(NamedTuple):
    """Where one of several networks stands: its branches, pressure nodes, temperature nodes, emitter cells."""

    b: slice
    p: slice
    n: slice
    emitters: slice


def _slices(counts: Sequence[int]) -> list[slice]:
    ends = np.cumsum([0, *counts]).tolist()
    return [slice(a, b) for a, b in zip(ends[:-1], ends[1:], strict=True)]


def side_by_side(members: Sequence[Arrays]) -> tuple[Arrays, list[Slot]]:
    """Networks as one whose parts share nothing, and where each stands in it. Its `net` is that of the first."""
    b, p, n = (_slices([getattr(a, k) for a in members]) for k in ("B", "Np", "Nt"))
    emitters = _slices([len(a.emitter_flat) for a in members])
    B, K = b[-1].stop, max(a.K for a in members)

    def rows(name: str, fill: Any, wider: int = 0) -> np.ndarray:
        first = getattr(members[0], name)
        out = np.full((B, K + wider), fill, dtype=first.dtype)
        for a, at in zip(members, b, strict=True):
            out[at, : a.K + wider] = getattr(a, name)
        return out

    def ended(name: str, by: Sequence[slice] | None = None) -> np.ndarray:
        shift = [0] * len(members) if by is None else [s.start for s in by]
        return np.concatenate(
            [getattr(a, name) + at if at else getattr(a, name) for a, at in zip(members, shift, strict=True)]
        )

    def blocks(name: str, down: Sequence[slice], along: Sequence[slice]) -> np.ndarray:
        out = np.zeros((down[-1].stop, along[-1].stop))
        for a, i, j in zip(members, down, along, strict=True):
            out[i, j] = getattr(a, name)
        return out

    f = _slices([a.F for a in members])
    links = np.zeros((B, max(a.links.shape[1] for a in members)), dtype=int)
    for a, at, nodes in zip(members, b, n, strict=True):
        links[at] = nodes.start
        links[at, : a.links.shape[1]] += a.links
    real, last, Qn, UX = rows("real", False), ended("last"), rows("Qn", 0.0), rows("UX", 0.0)
    coil_node = rows("coil_node", 0)
    for at, nodes in zip(b, n, strict=True):
        coil_node[at] += nodes.start
    plain = {
        k: ended(k)
        for k in (
            "count", "I", "area", "seg_bore", "seg_length", "seg_k", "seg_rough", "check", "opening", "pump0", "pump1",
            "pump2", "Cn", "Sn", "T_fix", "boil_N", "is_fixed", "is_layer", "conduct", "layer_loss", "layer_room",
        )
    }  # fmt: skip
    padded = {
        k: rows(k, fill)
        for k, fill in (
            ("C", 1.0), ("UA", 0.0), ("Q", 0.0), ("n", 1.3), ("dTn", 50.0), ("room", 20.0), ("boil", 1e9), ("dz", 0.0),
            ("coil_link", 0),
        )
    }  # fmt: skip
    whole = replace(
        members[0], B=B, K=K, Np=p[-1].stop, Nt=n[-1].stop, F=f[-1].stop, rows=np.arange(B), real=real, last=last,
        is_last=np.arange(K)[None, :] >= last[:, None], up=rows("up", 0.0, 1), Qn=Qn, UX=UX, coil_node=coil_node,
        pa=ended("pa", p), pb=ended("pb", p), ref=ended("ref", p), ta=ended("ta", n), tb=ended("tb", n),
        fixed=ended("fixed", n), lo=ended("lo", n), hi=ended("hi", n), seg_branch=ended("seg_branch", b), links=links,
        inc=blocks("inc", p, b), O=blocks("O", b, n), V=blocks("V", f, b), node_names=(), inlets=(),
        any_pump=any(a.any_pump for a in members), any_check=any(a.any_check for a in members),
        any_emitter=any(a.any_emitter for a in members), any_coil=any(a.any_coil for a in members),
        any_pad=not bool(real.all()), coil_cells=np.nonzero(UX > 0.0), coil_flat=np.flatnonzero(UX > 0.0),
        emitter_cells=np.nonzero(Qn > 0.0), emitter_flat=np.flatnonzero(Qn > 0.0), fluid=_fluid_of(members),
        part_b=np.repeat(np.arange(len(members)), [a.B for a in members]),
        part_p=np.repeat(np.arange(len(members)), [a.Np for a in members]),
        part_n=np.repeat(np.arange(len(members)), [a.Nt for a in members]), **plain, **padded,
    )  # fmt: skip
    return whole, [Slot(*x) for x in zip(b, p, n, emitters, strict=True)]


def _fluid_of(members: Sequence[Arrays]):
    first = members[0].fluid
    if all(a.fluid is first for a in members) and not isinstance(first, Several):
        return first
    branches = [f for a in members for f in a.fluid.by_branch(a.B)]
    nodes = [f for a in members for f in a.fluid.by_node(a.Nt)]
    return Several(branches, nodes)
