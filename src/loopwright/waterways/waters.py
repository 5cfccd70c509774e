"""Waters: sets of places the same water can reach, with regime and fluid.

Parted at relief seats, air gaps, guards, diaphragms and cistern bodies; two waters fed from one cistern stay two.
"""

from __future__ import annotations

from functools import cached_property

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import PARTING, Element, Key, Place, Source, Waterways
from loopwright.waterways.keeping import kept


class Water(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """One water. `cisterns` are those it touches by feed or by a vent end."""

    number: int
    places: frozenset[Place]
    elements: frozenset[Key]
    parts: frozenset[str]
    regime: str
    mixed: bool
    fluid: str
    feeds: tuple[Place, ...]
    """Cistern bodies whose feed outlet is in this water."""
    vent_ends: tuple[Element, ...]
    """Air gaps at cistern vent mouths that a pipe of this water reaches."""
    vessels: tuple[str, ...]
    reliefs: tuple[Element, ...]
    fillings: tuple[Element, ...]
    sources: tuple[Source, ...]

    @cached_property
    def cisterns(self) -> frozenset[str]:
        """Parts of the cisterns it touches."""
        return frozenset(b[1] for b in self.feeds) | {e.part for e in self.vent_ends}


def water_of(ways: Waterways, place: Place) -> Water | None:
    """The water a place belongs to; None for a cistern body."""
    return _water_at(ways).get(place)


@kept
def _water_at(ways: Waterways) -> dict[Place, Water]:
    return {place: water for water in waters(ways) for place in water.places}


def is_vent_end(ways: Waterways, element: Element) -> bool:
    """An air gap at a cistern's vent mouth."""
    if element.does is not Behaviour.AIR_GAP or ways.kind(element.part).body != "cistern":
        return False
    return ways.ports[element.part][element.port[2]].role == "vent"


@kept
def waters(ways: Waterways) -> tuple[Water, ...]:
    """All waters of a sheet."""
    cistern_bodies = set(ways.bodies("cistern"))
    parting = [e for e in ways.elements.values() if e.does in PARTING]
    feeds = [
        e for e in ways.elements.values() if e.does not in PARTING and (e.a in cistern_bodies or e.b in cistern_bodies)
    ]
    piped: set[Place] = {("port", *end_key) for p in ways.sheet.pipes.values() for end_key in (p.a_key, p.b_key)}
    components = _components(ways, cistern_bodies)
    number_of = {place: number for number, places in enumerate(components) for place in places}
    touching: list[list[Element]] = [[] for _ in components]
    for element in parting:
        for number in sorted({number_of[p] for p in (element.a, element.b) if p in number_of}):
            touching[number].append(element)
    fed: list[set[Place]] = [set() for _ in components]
    for element in feeds:
        body, port = (element.a, element.b) if element.a in cistern_bodies else (element.b, element.a)
        if port in piped:
            fed[number_of[port]].add(body)
    heated: list[list[Source]] = [[] for _ in components]
    for source in ways.sources:
        heated[number_of[source.hot]].append(source)
    return tuple(
        _water(ways, n, places, touching[n], tuple(sorted(fed[n])), tuple(heated[n]), piped)
        for n, places in enumerate(components)
        if len(places) > 1 or places & piped
    )


def _components(ways: Waterways, walls: set[Place]) -> list[frozenset[Place]]:
    """Places that water joins, parted at `walls` and at whatever parts two waters; in the order of the sheet."""
    done: set[Place] = set(walls)
    out = []
    for start in ways.at:
        if start in done:
            continue
        done.add(start)
        todo = [start]
        for here in todo:  # grows as it goes
            for element in ways.links[here]:
                if element.does not in PARTING:
                    there = element.b if element.a == here else element.a
                    if there not in done:
                        done.add(there)
                        todo.append(there)
        out.append(frozenset(todo))
    return out


def _water(
    ways: Waterways,
    number: int,
    places: frozenset[Place],
    touching: list[Element],
    fed: tuple[Place, ...],
    sources: tuple[Source, ...],
    piped: set[Place],
) -> Water:
    elements = frozenset(e.key for p in places for e in ways.links[p])
    parts = frozenset(p[1] for p in places)
    capped = all(ways.has_tag(p[1], "cap") or (p[0] == "port" and ways.kind(p[1]).body == "cistern") for p in places)
    vents = tuple(e for e in touching if is_vent_end(ways, e) and (e.a if e.a in places else e.b) in piped)
    vents = () if capped else vents  # a mouth with a cap on it is nobody's vent
    vessels = tuple(sorted(e.part for e in touching if e.does is Behaviour.SEAL))
    reliefs = tuple(e for e in touching if e.does is Behaviour.RELIEF and e.a in places)
    fillings = tuple(e for e in touching if e.does is Behaviour.GUARD)
    built_in = [s.part for s in sources if ways.value(s.part, "vessel_built_in")]
    has_mains = any(ways.has_tag(p, "mains") for p in parts)
    drain_down = any(ways.kind(p).body == "drain_vessel" for p in parts)
    domestic = (
        has_mains
        or any(ways.has_tag(p, "outlet") for p in parts)
        or any(ways.kind(b[1]).fluid == "domestic" for b in fed)
    )
    topped = any(ways.value(p[1], "integral_cistern") is True for p in places if p[0] == "body")
    vented = bool(fed or vents or topped)
    if has_mains:
        regime = "mains"
    elif drain_down:
        regime = "drain-down"
    elif vented:
        regime = "vented"
    elif vessels or reliefs or built_in or any(ways.value(s.part, "relief_built_in") for s in sources):
        regime = "sealed"
    else:
        regime = "undefined"
    filled = [e for e in fillings if e.b in places and _mains_side(ways, e)]
    mixed = regime in ("vented", "drain-down") and bool(vessels or built_in or filled) and not domestic
    fluid = "solar" if any(s.stops == "sun" for s in sources) else "domestic" if domestic else "heating"
    return Water(
        number=number,
        places=places,
        elements=elements,
        parts=parts,
        regime=regime,
        mixed=mixed,
        fluid=fluid,
        feeds=fed,
        vent_ends=vents,
        vessels=vessels,
        reliefs=reliefs,
        fillings=fillings,
        sources=sources,
    )


def _mains_side(ways: Waterways, element: Element) -> bool:
    """Whether a filling device still stands between two waters (its hose is fitted)."""
    return ways.value(element.part, "hose_fitted") is not False
