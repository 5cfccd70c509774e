"""Loops of a source and a sink: fixed, self-acting and would-be, with their legs and blockers.

A loop is two legs that share no place: flow port -> one end of the sink, the other end -> return port. A leg may pass
other emitters, never a store or cylinder body, a cistern, or another source's waterway.
"""

from __future__ import annotations

from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Element, Key, Place, Sink, Source, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import against, pair_of_legs
from loopwright.waterways.skeleton import Step, ids_of
from loopwright.waterways.views import Ask, closable, passing, rests_open

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

    @property
    def ids(self) -> tuple[str, ...]:
        """Its source and its sink, and the parts and pipes of both legs in flow direction."""
        return tuple(dict.fromkeys((self.source.part, self.sink.part, *ids_of(self.steps))))


def loop_to(ways: Waterways, source: Source, sink: Sink, ask: Ask) -> Loop | None:
    """The cheapest loop of a source through a sink in a view, or None.

    In `open` the cost counts what blocks it (pump 100, powered way resting shut or as left 100, other closable way 1).
    """
    memo = cast(dict[tuple[str, Key, Ask], Loop | None], ways.cache.setdefault("loops", {}))
    key = (source.part, sink.key, ask)
    if key not in memo:
        memo[key] = _loop_to(ways, source, sink, ask)
    return memo[key]


def loops(ways: Waterways, source: Source, ask: Ask) -> list[Loop]:
    """One loop a sink of the source in a view."""
    return list(_loops(ways, source.part, ask))


@kept
def _loops(ways: Waterways, part: str, ask: Ask) -> tuple[Loop, ...]:
    """By the part alone: a source is asked often, and takes long to tell from another."""
    source = ways.source_of[part]
    found = (loop_to(ways, source, sink, ask) for sink in sinks_reached(ways, source, ask))
    return tuple(loop for loop in found if loop is not None)


@kept
def looped(ways: Waterways, ask: Ask) -> frozenset[Key]:
    """Keys of the sinks that have a loop with any source in a view."""
    return frozenset(loop.sink.key for source in ways.sources for loop in loops(ways, source, ask))


@kept
def on_loops(ways: Waterways, ask: Ask) -> frozenset[Key]:
    """Keys of all elements on the legs of any loop in a view."""
    every = (loop for source in ways.sources for loop in loops(ways, source, ask))
    return frozenset(key for loop in every for key, _ in loop.steps)


def blockers(ways: Waterways, loop: Loop) -> list[Element]:
    """Closable ways on a loop's legs, in flow order."""
    return [ways.elements[k] for k, _ in loop.steps if closable(ways, ways.elements[k])]


def blocker_cost(ways: Waterways, element: Element) -> float:
    """What a closable way costs a would-be loop."""
    if not closable(ways, element):
        return 0.0
    if element.does is Behaviour.PUMP:
        return PUMP_COST
    if element.does is Behaviour.POWERED and not rests_open(ways, element):
        return RESTS_SHUT_COST
    return BLOCKER_COST


@kept
def _walls(ways: Waterways) -> frozenset[Place]:
    """Bodies that no leg crosses."""
    return frozenset(ways.bodies("store", "cylinder", "cistern"))


@kept
def _source_chains(ways: Waterways) -> frozenset[int]:
    """Chains through a source, which no leg of another passes."""
    return frozenset(ways.skeleton.chain_of[s.key] for s in ways.sources)


@kept
def _costs(ways: Waterways) -> list[float]:
    """Of each chain what blocks it, and a little for its length, so that of two ways the shorter is taken."""
    elements = ways.elements
    return [
        sum(blocker_cost(ways, elements[k]) for k, _ in chain.steps) + 1e-4 * len(chain.steps)
        for chain in ways.skeleton.chains
    ]


@kept
def _sinks_at(ways: Waterways) -> dict[Place, list[int]]:
    """Numbers of the sinks that have an end at a place."""
    out: dict[Place, list[int]] = {}
    for number, sink in enumerate(ways.sinks):
        for place in sink.ends:
            out.setdefault(place, []).append(number)
    return out


def sinks_reached(ways: Waterways, source: Source, ask: Ask) -> tuple[Sink, ...]:
    """Sinks with both ends among the places that the source reaches in a view, whichever way: no others have loops."""
    return _sinks_reached(ways, source.part, ask)


@kept
def _sinks_reached(ways: Waterways, part: str, ask: Ask) -> tuple[Sink, ...]:
    reached, at = _reached(ways, ways.source_of[part], ask), _sinks_at(ways)
    numbers = sorted({n for place in reached for n in at.get(place, ())})
    return tuple(s for s in (ways.sinks[n] for n in numbers) if reached.issuperset(s.ends))


def _reached(ways: Waterways, source: Source, ask: Ask) -> set[Place]:
    skeleton = ways.skeleton
    flags = skeleton.passes(passing(ways, ask))
    walls, drop = _walls(ways), _source_chains(ways)
    seen = {source.hot, source.cold}
    todo = list(seen)
    while todo:
        here = todo.pop()
        if here in walls:
            continue
        for chain in skeleton.links.get(here, ()):
            if flags[chain.index] and chain.index not in drop:
                there = chain.v if chain.u == here else chain.u
                if there not in seen:
                    seen.add(there)
                    todo.append(there)
    return seen


def _loop_to(ways: Waterways, source: Source, sink: Sink, ask: Ask) -> Loop | None:
    if sink not in sinks_reached(ways, source, ask):
        return None
    skeleton, passes = ways.skeleton, passing(ways, ask)
    drop = set(_source_chains(ways))
    if sink.sort != "body":
        drop.add(skeleton.chain_of[sink.key])
    barred: set[tuple[int, Place]] = set()
    while True:  # a one-way met the wrong way is not entered from that side again, and the question asked once more
        found = pair_of_legs(
            skeleton,
            skeleton.passes(passes),
            _costs(ways),
            source.hot,
            source.cold,
            sink.ends,
            drop=drop,
            walls=_walls(ways),
            barred=barred,
        )
        if found is None:
            return None
        cost, out, back = found
        wrong = [] if ask is Ask.OPEN else [_entered(ways, step, True) for step in out if against(ways, passes, [step])]
        if ask is not Ask.OPEN:
            wrong += [_entered(ways, step, False) for step in back if against(ways, passes, [step])]
        if not wrong:
            return Loop(source, sink, out, back, cost)
        barred.update(wrong)


def _entered(ways: Waterways, step: Step, outwards: bool) -> tuple[int, Place]:
    """The chain of a step, and the end at which the search entered it: with the flow, or against it (return leg)."""
    chain = ways.skeleton.chains[ways.skeleton.chain_of[step[0]]]
    along = next(forward for key, forward in chain.steps if key == step[0]) == step[1]
    return chain.index, chain.u if along == outwards else chain.v
