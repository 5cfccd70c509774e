"""The books of a run, step by step: what each source gave, what each load took, what was lost, boiled or kept.

Owns sums. Knows nothing of how a step is found: it is handed the state after it, and what it took from before. Heat
is counted with the step's own terms, so that what does not close is what the step did not solve.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import BOIL_W_K, Lagged, State, emitted_W, into_held_W
from loopwright.engineering.runs.result import Books
from loopwright.engineering.runs.whole import Whole
from loopwright.engineering.water import raw_enthalpy_J_kg

KWH = 3.6e6


@dataclass
class Meters:
    """Where heat is read: sources, emitters and taps by part, with their cells; elements in stores by node."""

    sources: tuple[str, ...]
    emitters: tuple[str, ...]
    taps: tuple[str, ...]
    elements: tuple[str, ...]
    source_at: tuple[np.ndarray, np.ndarray]
    emitter_at: tuple[np.ndarray, np.ndarray]
    tap_branch: np.ndarray
    element_node: np.ndarray
    sunny: np.ndarray  # (B, K) bool: collectors, whose loss lowers what they give
    cooled: dict[str, tuple[int, int]]  # by discharge valve: the cell that its coil cools

    @property
    def names(self) -> tuple[str, ...]:
        """All of them in the order of a reading."""
        return self.sources + self.emitters + self.taps + self.elements


def meters_of(whole: Whole, elements: dict[str, int], cooled: dict[str, str]) -> Meters:
    """The meters of a house. `elements`: node of each immersion heater; `cooled`: discharge valve of each source."""
    ways = whole.ways
    sources = tuple(s.part for s in ways.sources if s.part in whole.at)
    emitters = tuple(p for p in whole.at if p not in sources)

    def cells(parts: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
        return (
            np.array([whole.at[p][0] for p in parts], dtype=int),
            np.array([whole.at[p][1] for p in parts], dtype=int),
        )

    sunny = np.zeros((whole.A.B, whole.A.K), dtype=bool)
    for s in ways.sources:
        if s.stops == "sun" and s.part in whole.at:
            sunny[whole.at[s.part]] = True
    return Meters(
        sources, emitters, tuple(d.part for d in whole.draws), tuple(elements), cells(sources), cells(emitters),
        np.array([d.branch for d in whole.draws], dtype=int), np.array(list(elements.values()), dtype=int), sunny,
        {valve: whole.at[part] for part, valve in cooled.items()},
    )  # fmt: skip


@dataclass
class Ledger:
    """Running sums in joules, and the mean powers of the last whole step in watts."""

    whole: Whole
    meters: Meters
    start: State
    given_J: np.ndarray = field(init=False)
    pipes_J: float = 0.0
    stores_J: float = 0.0
    boiled_J: float = 0.0
    held_J: float = 0.0
    cooled_J: dict[str, float] = field(default_factory=dict)
    boil_W: np.ndarray = field(init=False)  # (B, K) in the last sub-step
    boil_node_W: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        A = self.whole.A
        self.given_J = np.zeros(len(self.meters.names))
        self.boil_W, self.boil_node_W = np.zeros((A.B, A.K)), np.zeros(A.Nt)
        self.free = ~A.is_fixed
        slabs = self.whole.slabs
        self.slabs = [(i, slabs[p][1]) for i, p in enumerate(self.meters.emitters) if p in slabs]
        self.casing = self.free.copy()
        self.casing[[node for _, node in self.slabs]] = False

    def add(self, A: Arrays, new: State, lagged: Lagged, dt: float) -> np.ndarray:
        """Book a sub-step. Returns the power of each meter, W: what sources give, what loads take."""
        m = self.meters
        lost = A.UA * (new.T - A.room) * A.real
        over = new.T - A.boil
        boil = np.where((over > 0.0) & A.real, BOIL_W_K * over, 0.0)
        over_N = new.N - A.boil_N
        boil_N = np.where((over_N > 0.0) & self.free, BOIL_W_K * over_N, 0.0)
        layer_loss = A.layer_loss * (new.N - A.layer_room)
        sun_lost = lost[m.source_at] * m.sunny[m.source_at]
        flows = new.m[m.tap_branch]
        taken = np.zeros(len(flows))
        if flows.any():
            warm, cold = new.T[m.tap_branch, A.last[m.tap_branch]], new.N[A.tb[m.tap_branch]]
            taken = flows * (raw_enthalpy_J_kg(warm) - raw_enthalpy_J_kg(cold))
        emitted = emitted_W(A, new, lagged)[m.emitter_at]
        for i, node in self.slabs:
            emitted[i] += layer_loss[node]
        power = np.concatenate([A.Q[m.source_at] - sun_lost, emitted, taken, A.Sn[m.element_node]])
        self.given_J += power * dt
        carried_off = 0.0
        for valve, cell in m.cooled.items():
            carried_off += float(lost[cell])
            self.cooled_J[valve] = self.cooled_J.get(valve, 0.0) + float(lost[cell]) * dt
        self.pipes_J += float(lost.sum() - (lost * m.sunny).sum() - carried_off) * dt
        self.stores_J += float(layer_loss[self.casing].sum()) * dt
        self.boiled_J += float(boil.sum() + boil_N.sum()) * dt
        if len(A.fixed):
            self.held_J += (into_held_W(A, new, lagged) - float(taken.sum())) * dt
        self.boil_W, self.boil_node_W = boil, boil_N
        return power

    def stored_J(self, now: State) -> float:
        """What water and metal hold more than at the start, J."""
        A = self.whole.A
        cells = float((A.C * A.real * (now.T - self.start.T)).sum())
        return cells + float((A.Cn * (now.N - self.start.N))[self.free].sum())

    def store_J(self, store: str, now: State) -> float:
        """What a store holds more than at the start, J."""
        span = self.whole.layers[store]
        return float((self.whole.A.Cn[span] * (now.N - self.start.N)[span]).sum())

    def close(self, now: State) -> Books:
        """The books up to now."""
        m, given = self.meters, self.given_J / KWH
        first = len(m.sources)
        second = first + len(m.emitters) + len(m.taps)
        sources = dict(zip(m.sources, map(float, given[:first]), strict=True))
        sources.update(zip(m.elements, map(float, given[second:]), strict=True))
        loads = dict(zip(m.emitters + m.taps, map(float, given[first:second]), strict=True))
        loads.update({valve: joules / KWH for valve, joules in self.cooled_J.items() if joules > 0.0})
        stored = self.stored_J(now) / KWH
        lost = self.pipes_J / KWH, self.stores_J / KWH, self.boiled_J / KWH, self.held_J / KWH
        residual = sum(sources.values()) - sum(loads.values()) - stored - sum(lost)
        return Books(sources, loads, lost[0], lost[1], lost[2], stored, residual, lost[3])
