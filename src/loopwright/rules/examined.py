"""Which gravity loops of a fire are looked at for their shape and size, and how much hangs on each. Knows no rule."""

from __future__ import annotations

from loopwright.catalogue import Behaviour
from loopwright.rules.pumped import pumped_loops
from loopwright.rules.registry import Case
from loopwright.rules.shedding import fixed_loops, relied_on, shedding
from loopwright.waterways.graph import Element, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import Loop, blockers, loops
from loopwright.waterways.views import Ask, gravity_ok


def examined(case: Case, source: Source) -> list[Loop]:
    """Loops examined for shape and size: the fixed ones, and those blocked only by hand valves or named culprits.

    A flap counts as open, but for one that a pump has a way round: unless that flap is itself what the heat leak
    wants for, the pump drives that circuit and it needs neither rise nor bore.
    """
    return _examined(case, source.part)


@kept
def _examined(case: Case, part: str) -> list[Loop]:
    ways, source = case.ways, case.ways.source_of[part]
    answer = shedding(case, source)
    out = [loop for loop in fixed_loops(case, source) if loop.sink.sort != "plate"]
    have = {loop.sink.key for loop in out}
    pumped = {loop.sink.key for loop in pumped_loops(case, source)}
    for loop in loops(ways, source, Ask.OPEN):
        if loop.sink.key in have or loop.sink.sort == "plate":
            continue
        every = blockers(ways, loop)
        flaps = {e.part for e in every if gravity_ok(ways, e)} - set(answer.culprits)
        if flaps and loop.sink.key in pumped:
            continue
        stop = (e for e in every if not gravity_ok(ways, e))
        if all(e.part in answer.culprits or _by_hand(case, e) for e in stop):
            out.append(loop)
    return out


def _by_hand(case: Case, element: Element) -> bool:
    """Whether it is a hand valve other than a radiator's own."""
    return element.does is Behaviour.HAND and not case.ways.has_tag(element.part, "emitter_valve")


def counts(case: Case, source: Source, loop: Loop) -> bool:
    """Whether the loop is relied on, or is the one the shedding question names."""
    answer = shedding(case, source)
    named = answer.loop is not None and answer.loop.sink.key == loop.sink.key and bool(answer.slug)
    return named or relied_on(case, source, loop)
