"""Loops of a source and a sink: fixed, self-acting and would-be, with their legs and blockers.

A loop is two legs that share no place: flow port -> one end of the sink, the other end -> return port. A leg may pass
other emitters, never a store or cylinder body, a cistern, or another source's waterway.
"""

from __future__ import annotations

from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Element, Key, Place, Sink, Source, Waterways
from loopwright.waterways.paths import against, pair_of_legs
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import BOTH, Ask, closable, passing, rest_position

PUMP_COST, RESTS_SHUT_COST, BLOCKER_COST = 100.0, 100.0, 1.0


class Loop(msgspec.Struct, frozen=True):
    """A loop of one source and one sink, legs in flow direction."""

    source: Source
    sink: Sink
    flow_leg: tuple[Step, ...]
    return_leg: tuple[Step, ...]
    cost: float

    @property
    def steps(self) -> tuple[Step, ...]:
        """Both legs, in flow direction, the sink between them."""
        return self.flow_leg + self.return_leg

    @property
    def keys(self) -> frozenset[Key]:
        """All elements of both legs."""
        return frozenset(key for key, _ in self.steps)


def loop_to(ways: Waterways, source: Source, sink: Sink, ask: Ask) -> Loop | None:
    """The cheapest loop of a source through a sink in a view, or None.

    In `open` the cost counts what blocks it (pump 100, powered way resting shut or as left 100, other closable way 1).
    """
    memo = cast(dict[tuple[str, Key, Ask], Loop | None], ways.cache.setdefault("loops", {}))
    key = (source.part, sink.key, ask)
    if key not in memo:
        memo[key] = _loop_to(ways, source, sink, ask)
    return memo[key]


def loops(ways: Waterways, source: Source, ask: Ask, *, durable: bool = False) -> list[Loop]:
    """One loop a sink of the source in a view. `durable` leaves out stores and cylinders, which can be full."""
    out = []
    for sink in ways.sinks:
        if durable and sink.sort != "emitter":
            continue
        found = loop_to(ways, source, sink, ask)
        if found is not None:
            out.append(found)
    return out


def blockers(ways: Waterways, loop: Loop) -> list[Element]:
    """Closable ways on a loop's legs, in flow order."""
    return [ways.elements[k] for k, _ in loop.steps if closable(ways, ways.elements[k])]


def blocker_cost(ways: Waterways, element: Element) -> float:
    """What a closable way costs a would-be loop."""
    if not closable(ways, element):
        return 0.0
    if element.does is Behaviour.PUMP:
        return PUMP_COST
    if element.does is Behaviour.POWERED and not _rests_open(ways, element):
        return RESTS_SHUT_COST
    return BLOCKER_COST


def _rests_open(ways: Waterways, element: Element) -> bool:
    rest = rest_position(ways, element.part)
    positions = ways.kind(element.part).positions
    if positions and element.way is not None:
        return element.way.name in positions.get(rest, ())
    return rest == "open"


def _walls(ways: Waterways) -> set[Place]:
    if "loop walls" not in ways.cache:
        ways.cache["loop walls"] = set(ways.bodies("store", "cylinder", "cistern"))
    return cast(set[Place], ways.cache["loop walls"])


def _costs(ways: Waterways) -> list[float]:
    if "chain costs" not in ways.cache:
        elements = ways.elements
        ways.cache["chain costs"] = [
            sum(blocker_cost(ways, elements[k]) for k, _ in chain.steps) + 1e-4 * len(chain.steps)
            for chain in ways.skeleton.chains]
    return cast(list[float], ways.cache["chain costs"])


def _chain_flags(ways: Waterways, ask: Ask) -> list[int]:
    memo = ("chain flags", ask)
    if memo not in ways.cache:
        ways.cache[memo] = ways.skeleton.passes(passing(ways, ask))
    return cast(list[int], ways.cache[memo])


def _component(ways: Waterways, source: Source, ask: Ask) -> set[Place]:
    """Junctions that the source's plenums reach in a view, whichever way: a quick no for most sinks."""
    memo = ("loop reach", source.part, ask)
    if memo not in ways.cache:
        flags, skeleton = _chain_flags(ways, ask), ways.skeleton
        walls = _walls(ways)
        seen = {source.hot, source.cold}
        todo = list(seen)
        while todo:
            here = todo.pop()
            if here in walls:
                continue
            for chain in skeleton.links.get(here, ()):
                if flags[chain.index]:
                    there = chain.v if chain.u == here else chain.u
                    if there not in seen:
                        seen.add(there)
                        todo.append(there)
        ways.cache[memo] = seen
    return cast(set[Place], ways.cache[memo])


def _loop_to(ways: Waterways, source: Source, sink: Sink, ask: Ask) -> Loop | None:
    skeleton = ways.skeleton
    if not set(sink.ends) & _component(ways, source, ask):
        return None
    flags = list(_chain_flags(ways, ask))
    passes = passing(ways, ask)
    drop = {skeleton.chain_of[s.key] for s in ways.sources}
    if sink.sort != "body":
        drop.add(skeleton.chain_of[sink.key])
    walls = _walls(ways)
    for _ in range(8):  # a one-way met the wrong way is left out and the question asked again
        found = pair_of_legs(skeleton, flags, _costs(ways), source.hot, source.cold, sink.ends, drop=drop, walls=walls)
        if found is None:
            return None
        cost, out, back = found
        wrong = against(ways, passes, out + back) if ask is not Ask.OPEN else []
        if not wrong:
            return Loop(source, sink, out, back, cost)
        for key in wrong:
            flags[skeleton.chain_of[key]] = 0
    return None


def passes_all(ways: Waterways, loop: Loop, ask: Ask) -> bool:
    """Whether every step of a loop passes in its direction in a view."""
    return not against(ways, passing(ways, ask), loop.steps)


def has_other_way(flags: int) -> bool:
    """Whether a flag passes both ways."""
    return flags == BOTH
