"""The skeleton: runs of elements through places of degree two, merged into chains.

Per-condition questions are asked of a few dozen junctions and chains instead of hundreds of elements; answers are
mapped back element by element, in order and with direction.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.views import BACK, BOTH, FORWARD, Passing, is_kept

Step = tuple[Key, bool]
"""An element and whether it is walked in its own direction a -> b."""


def ids_of(steps: Iterable[Step]) -> tuple[str, ...]:
    """The parts and pipes of a walk, each once, in order."""
    return tuple(dict.fromkeys(key[1] for key, _ in steps))


class Chain(msgspec.Struct, frozen=True):
    """A run between two junctions: its steps from `u` to `v`, and the places it passes, ends included."""

    index: int
    u: Place
    v: Place
    steps: tuple[Step, ...]
    places: tuple[Place, ...]


class Skeleton:
    """Junctions and chains of one sheet."""

    def __init__(self, ways: Waterways) -> None:
        self.ways = ways
        keep = {s.hot for s in ways.sources} | {s.cold for s in ways.sources} | set(ways.bodies())
        for sink in ways.sinks:
            keep |= set(sink.ends)
        self.junctions: set[Place] = {p for p, links in ways.links.items() if len(links) != 2 or p in keep}
        self.chains: list[Chain] = []
        self.chain_of: dict[Key, int] = {}
        for junction in [p for p in ways.links if p in self.junctions]:  # the same order on every run
            for element in ways.links[junction]:
                if element.key not in self.chain_of:
                    self._walk(junction, element)
        self._memo: dict[int, tuple[int, ...]] = {}
        for element in ways.elements.values():  # rings without a junction
            if element.key not in self.chain_of:
                self.junctions.add(element.a)
                self._walk(element.a, element)
        self.links: dict[Place, list[Chain]] = {j: [] for j in self.junctions}
        for chain in self.chains:
            self.links[chain.u].append(chain)
            if chain.v != chain.u:
                self.links[chain.v].append(chain)

    def _walk(self, start: Place, first: Element) -> None:
        steps: list[Step] = []
        places = [start]
        index, here, element = len(self.chains), start, first
        while True:
            steps.append((element.key, element.a == here))
            self.chain_of[element.key] = index
            here = element.other(here)
            places.append(here)
            if here in self.junctions:
                break
            onward = [e for e in self.ways.links[here] if e.key != element.key]
            if not onward:
                self.junctions.add(here)
                break
            element = onward[0]
        self.chains.append(Chain(index, start, here, tuple(steps), tuple(places)))

    def passes(self, passing: Passing) -> tuple[int, ...]:
        """Per chain: bit 1 passes u -> v, bit 2 passes v -> u. Kept for the views the waterways keep."""
        if not is_kept(self.ways, passing):
            return self._passes(passing)
        flags = self._memo.get(id(passing))
        if flags is None:
            flags = self._memo[id(passing)] = self._passes(passing)
        return flags

    def _passes(self, passing: Passing) -> tuple[int, ...]:
        out = []
        for chain in self.chains:
            flags = BOTH
            for key, forward in chain.steps:
                f = passing[key]
                flags &= f if forward or f in (0, BOTH) else (BACK if f == FORWARD else FORWARD)
                if not flags:
                    break
            out.append(flags)
        return tuple(out)
