"""Whether a fire's cooling coil is sure to carry its heat: a thermal discharge valve on a supply that cannot fail.

Owns what may stand in that supply. Knows no rule.
"""

from __future__ import annotations

from loopwright.catalogue import Behaviour
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Place, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.views import FORWARD, SHUT, Ask, Passing, passing


def sound_cooling(case: Case, source: Source) -> bool:
    """A cooling coil with a thermal discharge valve whose supply cannot fail (rules of the sealed fire, b and c)."""
    return cooling_lacks(case, source) is None


def cooling_lacks(case: Case, source: Source) -> str | None:
    """What a cooling arrangement lacks, in words, or None when it is sound."""
    ways = case.ways
    coil = next((e for e in ways.by_part[source.part] if e.does is Behaviour.COIL), None)
    if coil is None:
        return "no cooling coil"
    near = reach(ways, passing(ways, Ask.OPEN), [coil.a, coil.b], drop={coil.key})
    valves = [e for e in ways.elements.values() if ways.has_tag(e.part, "thermal_discharge") and {e.a, e.b} & near]
    if not valves:
        return "no thermal discharge valve on the cooling coil"
    if any(_quenches(case, coil, valve) for valve in valves):
        return None
    return "its water can be shut off, or needs a pump"


def _quenches(case: Case, coil: Element, valve: Element) -> bool:
    """Whether cold water is sure to run through the coil once the valve opens: coil before the valve, or after it."""
    ways = case.ways
    passes = _cooling_view(case)
    walls = set(ways.bodies("cistern"))
    supplies: set[Place] = {("port", p.id, name) for p in ways.tagged("mains") for name in ways.ports[p.id]} | walls
    fed = reach(ways, passes, supplies, drop={valve.key})
    if valve.a not in fed:
        return False
    if {coil.a, coil.b} & reach(ways, passes, [valve.b], drop={valve.key}, walls=walls):
        return True
    return valve.a not in reach(ways, passes, supplies, drop={valve.key, coil.key})


@kept
def _cooling_view(case: Case) -> Passing:
    """How water may run in a cooling supply: whatever may stand there, checks with their arrow alone."""
    every = passing(case.ways, Ask.OPEN)
    out: Passing = {}
    for key, element in case.ways.elements.items():
        stands = _may_stand(case, element) or element.does is Behaviour.COIL
        out[key] = SHUT if not stands else FORWARD if element.does is Behaviour.ONE_WAY else every[key]
    return out


def _may_stand(case: Case, element: Element) -> bool:
    """What may stand in a cooling supply: pipes, fittings, forward checks, and hand valves locked open."""
    if element.does in (Behaviour.PIPE, Behaviour.FREE, Behaviour.ONE_WAY):
        return True
    if element.does is Behaviour.THERMAL:
        return case.ways.has_tag(element.part, "thermal_discharge")
    return element.does is Behaviour.HAND and bool(case.ways.value(element.part, "locked_open"))
