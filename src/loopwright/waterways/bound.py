"""Which way water goes where nothing moves by itself: tap water, vents and feeds, once they are called on.

Owns that direction, for arrows alone. What moves in a condition is the trace's to say.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Key, Place, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.services import feed_runs, services, vent_runs
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, waters


@kept
def bound(ways: Waterways) -> dict[str, int]:
    """Pipe id to +1 (towards its end b) or -1, for pipes whose water has one way to go; others are left out."""
    away: dict[Place, int] = {}
    for water in waters(ways):
        if water.fluid == "domestic" and not water.sources:
            away |= _tap_water(ways, water)
    out: dict[str, int] = {}
    for pipe_id, service in services(ways).items():
        element = ways.elements["pipe", pipe_id]
        if service in ("cold", "hot") and away.get(element.a) != away.get(element.b):
            near, far = away.get(element.a), away.get(element.b)
            if near is not None and far is not None:
                out[pipe_id] = 1 if near < far else -1
    for key, run in vent_runs(ways).items():
        end = ways.elements[key]
        mouth = end.a if end.a[0] == "port" else end.b
        out |= {pipe: -way for pipe, way in _along(ways, mouth, reversed(run)).items()}
    for key, run in feed_runs(ways).items():
        outlet = ways.elements[key]
        out |= _along(ways, outlet.a if outlet.a[0] == "port" else outlet.b, run)
    return out


def _along(ways: Waterways, start: Place, run: Iterable[Key]) -> dict[str, int]:
    """The pipes of a run that begins at a place, each in the direction in which it is walked."""
    out: dict[str, int] = {}
    here = start
    for key in run:
        element = ways.elements[key]
        if element.pipe:
            out[element.pipe] = 1 if element.a == here else -1
        here = element.other(here)
    return out


def _tap_water(ways: Waterways, water: Water) -> dict[Place, int]:
    """How many elements lie between a place and the supply, or the heat that its water comes from."""
    bodies = {place for place in water.places if place[0] == "body"}
    coils = {key for key in water.elements if ways.elements[key].does is Behaviour.COIL}
    mixers = {
        key
        for key in water.elements
        if ways.elements[key].does is Behaviour.THERMAL and ways.has_tag(ways.elements[key].part, "mixing_valve")
    }
    supplies = [place for place in water.places if place[0] == "port" and ways.has_tag(place[1], "mains")]
    supplies += [e.other(body) for body in water.feeds for e in ways.links[body] if e.does is Behaviour.FREE]
    cold = _outwards(ways, supplies, coils | mixers, bodies)
    heated = [end for key in coils for end in (ways.elements[key].a, ways.elements[key].b) if end not in cold] + [
        body for body in bodies if ways.kind(body[1]).body in ("cylinder", "store")
    ]
    hot = _outwards(ways, heated, coils, set(cold))
    return hot | cold


def _outwards(
    ways: Waterways, starts: Iterable[Place], drop: Collection[Key], walls: Collection[Place]
) -> dict[Place, int]:
    """Elements between each place reached and the nearest start; `walls` are not entered."""
    view = passing(ways, Ask.OPEN)
    out = dict.fromkeys(starts, 0)
    todo = list(out)
    for here in todo:  # grows as it goes: the nearest first
        for key, there, bit in ways.moves[here]:
            if there not in out and there not in walls and key not in drop and view[key] & bit:
                out[there] = out[here] + 1
                todo.append(there)
    return out
