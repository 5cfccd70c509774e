"""What is worth telling of a step: a valve that opens, water that boils, a limit that is passed.

Owns these looks and what they remember from step to step. Knows nothing of how a step is made or what is done about it.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from loopwright.engineering.network import State
from loopwright.engineering.runs.cooling import Cooler
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.ledger import Ledger
from loopwright.engineering.runs.whole import Whole
from loopwright.waterways.graph import Source, Waterways

BOILS_W = 20.0  # less than that is no boiling
LIMIT_BAND_K = 5.0

Say = Callable[[float, str, str, str], None]
"""Notes an event: when, a short key, the part, words."""


@dataclass(frozen=True)
class Watched:
    """A source with a limit: its cell, and the limit."""

    part: str
    cell: tuple[int, int]
    limit_C: float


@dataclass
class Watch:
    """Looks at each step once it is made."""

    whole: Whole
    ledger: Ledger
    coolers: Mapping[str, Cooler]
    limits: list[Watched]
    say: Say
    boiling: set[str] = field(default_factory=set)
    passed: set[str] = field(default_factory=set)

    def look(self, t: float, dt: float, before: State, now: State) -> None:
        """Look at the step from `t` on, between two states."""
        name = self.whole.ways.name
        for part, cooler in self.coolers.items():
            cell = self.whole.at[part]
            felt = float(now.T[cell])
            cooler.litres += cooler.flow_kg_s(felt) * dt
            if felt > cooler.opens_C and not cooler.open_now:
                when = passes(t, dt, float(before.T[cell]), felt, cooler.opens_C)
                self.say(when, "on", cooler.valve, f"{name(cooler.valve)} opens")
            cooler.open_now = felt > cooler.opens_C - (1.0 if cooler.open_now else 0.0)
        boils = boiling_places(self.whole, self.ledger)
        for part, watts in boils.items():
            if part not in self.boiling and watts > BOILS_W:
                self.boiling.add(part)
                words = f"Water boils in {place_words(self.whole.ways, part)}"
                self.say(self._boils_at(t, dt, part, before, now), "boils", part, words)
        self.boiling &= set(boils)
        for x in self.limits:
            felt = float(now.T[x.cell])
            if felt > x.limit_C and x.part not in self.passed:
                self.passed.add(x.part)
                when = passes(t, dt, float(before.T[x.cell]), felt, x.limit_C)
                self.say(when, "limit", x.part, f"{name(x.part)} passes {x.limit_C:.0f} °C")
            elif felt < x.limit_C - LIMIT_BAND_K:
                self.passed.discard(x.part)

    def _boils_at(self, t: float, dt: float, part: str, before: State, now: State) -> float:
        """When in the step a part's water came to the boil."""
        cell = self.whole.at.get(part)
        if cell is None:
            return t + dt
        return passes(t, dt, float(before.T[cell]), float(now.T[cell]), float(self.whole.A.boil[cell]))


def passes(t: float, dt: float, was: float, now: float, at: float) -> float:
    """When a straight line over the step from `t` on passes a value, within the step."""
    return t + dt * min(1.0, max(0.0, (at - was) / max(now - was, 1e-9)))


def limits_of(whole: Whole, sources: Collection[Source]) -> list[Watched]:
    """The limits of sources: as stated, or the usual one of a fire. Collectors have none."""
    found = []
    for s in sources:
        limit = whole.ways.number(s.part, "limit_c")
        if limit is None and s.stops == "fire":
            limit = assumed("high_limit", "celsius")
        if limit is not None and s.stops != "sun":
            found.append(Watched(s.part, whole.at[s.part], limit))
    return found


def boiling_places(whole: Whole, ledger: Ledger) -> dict[str, float]:
    """Watts that boil away, by part (sources, emitters, stores) or pipe."""
    out: dict[str, float] = {}
    if not (ledger.boil_W.any() or ledger.boil_node_W.any()):
        return out
    named = {cell: part for part, cell in whole.at.items()}
    for pipe, (b, laid) in whole.pipes.items():
        named.setdefault((b, laid.cell), pipe)
    for b, k in zip(*np.nonzero(ledger.boil_W > 0.0), strict=True):
        part = named.get((int(b), int(k)), whole.net.branches[int(b)].name.partition(" ")[2])
        out[part] = out.get(part, 0.0) + float(ledger.boil_W[b, k])
    for node in np.nonzero(ledger.boil_node_W > 0.0)[0]:
        part = whole.A.node_names[int(node)].partition(" ")[0]
        out[part] = out.get(part, 0.0) + float(ledger.boil_node_W[node])
    return out


def place_words(ways: Waterways, place: str) -> str:
    """What people call a part or a pipe, in the middle of a sentence."""
    if place in ways.sheet.pipes:
        return f"the pipe “{place}”"
    return ways.name(place)
