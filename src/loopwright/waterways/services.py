"""What each pipe carries: flow, return, vent, feed, cold, hot, discharge, solar. Inferred, but a person may fix it.

Purposes and names are not believed. Where a pipe is return of one source and flow of another the hotter one is shown.
"""

from __future__ import annotations

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Key, Place, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, is_vent_end, waters

FLOW_ROLES = ("emitter_flow", "load_flow", "source_flow", "flow_in")
RETURN_ROLES = ("emitter_return", "load_return", "source_return", "return_out")
SERVICES = ("flow", "return", "vent", "feed", "cold", "hot", "discharge", "solar_flow", "solar_return", "unknown")


@kept
def vent_runs(ways: Waterways) -> dict[Key, tuple[Key, ...]]:
    """Per vent end (air-gap element): the elements of its run, from the vent joint to the end."""
    out: dict[Key, tuple[Key, ...]] = {}
    for element in ways.doing(Behaviour.AIR_GAP):
        if is_vent_end(ways, element):
            run = run_from(ways, element.port, element.key)
            if run:
                out[element.key] = tuple(reversed(run))
    return out


@kept
def feed_runs(ways: Waterways) -> dict[Key, tuple[Key, ...]]:
    """Per cistern feed outlet (its free way): the elements of its run, from the cistern to the feed joint."""
    out: dict[Key, tuple[Key, ...]] = {}
    for body in ways.bodies("cistern"):
        for element in ways.links[body]:
            if element.does is Behaviour.FREE:
                run = run_from(ways, element.other(body), element.key)
                if run:
                    out[element.key] = run
    return out


def run_from(ways: Waterways, place: Place, came_by: Key) -> tuple[Key, ...]:
    """Elements from a place onwards to the next junction (tee, body, or part with three or more ports)."""
    run: dict[Key, None] = {}
    here = place
    while True:
        onward = [e for e in ways.links[here] if e.key != came_by]
        if len(onward) != 1 or here[0] == "body" or onward[0].key in run:
            return tuple(run)
        element = onward[0]
        if element.part and len(ways.kind(element.part).ports) > 2:
            return tuple(run)
        if element.part and (ways.kind(element.part).body or ways.kind(element.part).large):
            return tuple(run)
        run[element.key] = None
        came_by, here = element.key, element.other(here)


@kept
def services(ways: Waterways) -> dict[str, str]:
    """Service by pipe id: what a person fixed, else what is inferred."""
    by_key: dict[Key, str] = {}
    for water in waters(ways):
        if _is_discharge(ways, water):
            by_key.update(dict.fromkeys(water.elements, "discharge"))
        elif water.fluid == "domestic" and not water.sources:
            by_key.update(_domestic(ways, water))
        else:
            by_key.update(_heating(ways, water))
    for run in vent_runs(ways).values():
        by_key.update(dict.fromkeys(run, "vent"))
    for run in feed_runs(ways).values():
        if by_key.get(run[0]) not in ("cold", "hot"):
            by_key.update(dict.fromkeys(run, "feed"))
    return {p.id: p.service or by_key.get(("pipe", p.id), "unknown") for p in ways.sheet.pipes.values()}


def _is_discharge(ways: Waterways, water: Water) -> bool:
    """Beyond a relief seat, an overflow or a tundish, with nothing heated in it."""
    if water.sources or water.feeds:
        return False
    if any(ways.has_tag(p, "discharge_point") for p in water.parts):
        return True
    for element in (ways.elements[key] for key in water.elements):
        if element.does is Behaviour.RELIEF and element.b in water.places:
            return True
        if element.does is Behaviour.AIR_GAP and element.port in water.places:
            role = ways.ports[element.part][element.port[2]].role
            if role == "overflow" and not is_vent_end(ways, element):
                return True
    return False


def _domestic(ways: Waterways, water: Water) -> dict[Key, str]:
    open_view = passing(ways, Ask.OPEN)
    heated: set[Key] = set()
    walls: set[Place] = set()
    for key in water.elements:
        element = ways.elements[key]
        mixes = element.does is Behaviour.THERMAL and ways.has_tag(element.part, "mixing_valve")
        if element.does is Behaviour.COIL or mixes:
            heated.add(key)
    walls |= {p for p in water.places if p[0] == "body" and ways.kind(p[1]).body in ("cylinder", "store")}
    starts: set[Place] = {
        ("port", p, spec.name) for p in water.parts if ways.has_tag(p, "mains") for spec in ways.kind(p).ports
    }
    for body in water.feeds:
        starts |= {e.other(body) for e in ways.links[body] if e.does is Behaviour.FREE} & water.places
    for place in water.places:  # a float valve or a filling branch fed from the mains is cold already
        if place[0] == "port" and ways.ports[place[1]][place[2]].role == "mains":
            starts.add(place)
    cold = reach(ways, open_view, starts, drop=heated, walls=walls) if starts else set()
    out = {}
    for key in water.elements:
        element = ways.elements[key]
        both_cold = element.a in cold and element.b in cold
        by_wall = bool({element.a, element.b} & walls) and element.does is not Behaviour.FREE
        out[key] = "cold" if both_cold and not by_wall and key not in heated else "hot"
    return out


def _heating(ways: Waterways, water: Water) -> dict[Key, str]:
    """Connected pieces after sinks, bodies, source elements and bypass ways are taken out, named by what they touch."""
    cut: set[Key] = set()
    for key in water.elements:
        element = ways.elements[key]
        bypass = ways.pipe(key).bypass if element.pipe else element.way is not None and element.way.bypass
        if bypass or element.does in (Behaviour.EMITTER, Behaviour.COIL, Behaviour.SOURCE):
            cut.add(key)
    bodies = {p for p in water.places if p[0] == "body"}
    for body in bodies:
        cut |= {e.key for e in ways.links[body]}
    open_view = passing(ways, Ask.OPEN)
    hot = {s.hot for s in water.sources}
    cold = {s.cold for s in water.sources}
    solar = water.fluid == "solar"
    out: dict[Key, str] = {}
    left = set(water.places) - bodies
    while left:
        piece = reach(ways, open_view, [left.pop()], drop=cut)
        left -= piece
        keys = {e.key for p in piece for e in ways.links[p] if e.key not in cut}
        if not any(k[0] == "pipe" for k in keys):
            continue
        name = _name_piece(ways, piece, hot, cold, solar)
        out.update(dict.fromkeys(keys, name))
    return out


def _name_piece(ways: Waterways, piece: set[Place], hot: set[Place], cold: set[Place], solar: bool) -> str:
    score = 0
    if piece & hot:
        score += 4
    if piece & cold:
        score -= 3
    if not score:
        for place in piece:
            if place[0] != "port":
                continue
            port = ways.ports[place[1]].get(place[2])
            if port is None:
                continue
            if ways.kind(place[1]).source is None and port.role in FLOW_ROLES:
                score += 1
            elif port.role in RETURN_ROLES:
                score -= 1
            elif any(e.does is Behaviour.EMITTER for e in ways.links[place]):
                element = next(e for e in ways.links[place] if e.does is Behaviour.EMITTER)
                score += 1 if element.a == place else -1
    if not score:
        return "unknown"
    if solar:
        return "solar_flow" if score > 0 else "solar_return"
    return "flow" if score > 0 else "return"
