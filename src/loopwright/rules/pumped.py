"""Pumped circuits of a source in its own water: loops with a pump on them, and pumps beside a loop that needs none.

A gravity loop hides the pump that stands beside its flap, or in a second pair to the same store; here both are found.
Owns the derivation only. Knows nothing of right and wrong.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import legs_round
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Sink, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import Loop, loops
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Ask, passing


def pumped_loops(case: Case, source: Source) -> list[Loop]:
    """Loops of a source with a pump on them, one at least for every pump on any of its circuits."""
    return _pumped_loops(case, source.part)


def pumps_on(case: Case, loop: Loop) -> list[str]:
    """Parts whose pump lies on a loop, in flow order."""
    elements = case.ways.elements
    return [elements[k].part for k, _ in loop.steps if elements[k].does is Behaviour.PUMP]


@kept
def _pumped_loops(case: Case, part: str) -> list[Loop]:
    ways, source = case.ways, case.ways.source_of[part]
    every = loops(ways, source, Ask.OPEN)
    out = [loop for loop in every if pumps_on(case, loop)]
    headed = [loop for loop in _to_headers(case, source) if pumps_on(case, loop)]
    if len(out) == len(every):
        return out + headed
    walls = ways.bodies("store", "cylinder", "cistern")
    near = reach(ways, passing(ways, Ask.OPEN), [source.hot, source.cold], walls=walls)
    pumps = [ways.elements[k] for k in ways.keys_doing(Behaviour.PUMP)]
    mine = {pump.part for pump in pumps if near.issuperset((pump.a, pump.b))}
    for loop in every:
        left = mine - {p for seen in out for p in pumps_on(case, seen)}
        if not left:
            break
        if not pumps_on(case, loop):
            out += _beside(case, loop, left)
    return out + headed


def _to_headers(case: Case, source: Source) -> Iterator[Loop]:
    """A source's circuits through headers, which take no heat themselves."""
    for body in case.ways.bodies("header"):
        legs = legs_round(case, source.hot, source.cold, (body,), set())
        if legs is not None:
            header = Sink(body[1], "header", body, (body,), case.ways.at[body][1])
            yield Loop(source, header, legs[0], legs[1], 0.0)


def _beside(case: Case, loop: Loop, left: set[str]) -> list[Loop]:
    """Other ways round to the same sink, past one of the pumps that are left, once a run of the loop is taken away."""
    skeleton, found = case.ways.skeleton, []
    own = set() if loop.sink.sort == "body" else {skeleton.chain_of[loop.sink.key]}
    runs = dict.fromkeys(skeleton.chain_of[k] for k, _ in loop.steps if k in skeleton.chain_of)
    for run in runs:
        legs = legs_round(case, loop.source.hot, loop.source.cold, loop.sink.ends, own | {run})
        if legs is None:
            continue
        other = Loop(loop.source, loop.sink, legs[0], legs[1], 0.0)
        met = left & set(pumps_on(case, other))
        if met:
            found.append(other)
            left = left - met
    return found
