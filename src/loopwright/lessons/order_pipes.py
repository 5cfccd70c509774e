"""Which pipes and fittings are fitted together: every pipe of a sheet in one piece of pipework, by what it is for.

Owns the division of the pipes among the steps of the order of work. Knows nothing of order or of words.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import load_circuits
from loopwright.rules.registry import Case
from loopwright.rules.shedding import fixed_emitters
from loopwright.rules.vents import runs
from loopwright.waterways import Ask, Waterways
from loopwright.waterways.graph import Key, Place, Source
from loopwright.waterways.loops import Loop, loops
from loopwright.waterways.services import feed_runs, run_from, services
from loopwright.waterways.waters import Water, water_of, waters

CARRIERS = ("floor-pipes", "rad-pipes", "boiler-pipes", "fire-pump", "solar-pipes", "primaries", "leak")
"""Steps whose pipework takes in a pipe that hangs on it and that nothing else asks for, in this order."""


class Pipework(msgspec.Struct):
    """Pipes that one step fits. `near` are parts it bears on besides: what it joins."""

    step: str
    subject: str
    pipes: list[str] = msgspec.field(default_factory=list)
    parts: list[str] = msgspec.field(default_factory=list)
    near: list[str] = msgspec.field(default_factory=list)


class _Claims:
    """Pipework in the making: a pipe goes to the first that asks for it."""

    def __init__(self, case: Case) -> None:
        self.case, self.ways = case, case.ways
        self.order = {name: n for n, name in enumerate((*case.sheet.parts, *case.sheet.pipes))}
        self.works: dict[tuple[str, str], Pipework] = {}
        self.taken: dict[str, Pipework] = {}
        sheet = case.sheet
        self.standing = {
            p.id for p in sheet.pipes.values() if sheet.parts[p.a.part].existing and sheet.parts[p.b.part].existing
        }

    def claim(self, step: str, subject: str, ids: Iterable[str], near: Iterable[str] = ()) -> None:
        """Ask for the pipes among some ids; parts among them that are fitted here come too."""
        work = self.works.get((step, subject)) or Pipework(step, subject)
        for name in sorted(set(ids), key=self.order.__getitem__):
            if name in self.case.sheet.pipes and name not in self.taken and name not in self.standing:
                self.taken[name] = work
                work.pipes.append(name)
        work.near += [n for n in dict.fromkeys(near) if n and n not in work.near]
        self.works[step, subject] = work

    def run(self, part: str, port: str) -> list[str]:
        """Ids of the run from a port of a part to the next junction, the part's own ways left out."""
        place: Place = ("port", part, port)
        own = [e.key for e in self.ways.links.get(place, ()) if e.part == part]
        pipes = [e for e in self.ways.links.get(place, ()) if e.pipe]
        if not pipes:
            return []
        keys = run_from(self.ways, place, own[0]) if len(own) == 1 else (pipes[0].key,)
        return [k[1] for k in keys]


def pipework(case: Case) -> list[Pipework]:
    """Every piece of pipework of a sheet, in the order in which it is laid; `parts` are the fittings of each."""
    claims = _Claims(case)
    _ways_out(claims)
    _fires(claims)
    _cooling(claims)
    for source in case.ways.sources:
        if source.stops not in ("fire", "sun"):
            _boiler(claims, source)
    _branches(claims)
    _solar(claims)
    _loads(claims)
    _tap_water(claims)
    _left_over(claims)
    _fittings(claims)
    return [work for work in claims.works.values() if work.pipes or work.parts]


def keys_to_ids(keys: Iterable[Key]) -> list[str]:
    """Ids of the parts and pipes of elements."""
    return list(dict.fromkeys(k[1] for k in keys))


# -- vents, feeds, discharge ------------------------------------------------------------------------------------------


def _ways_out(claims: _Claims) -> None:
    case, ways = claims.case, claims.ways
    for water in waters(ways):
        for run in runs(case, water):
            claims.claim("vent", run.owner, run.ids, (run.owner, run.cistern))
    for key, run_keys in feed_runs(ways).items():
        cistern = ways.elements[key].part
        claims.claim("feed", cistern, keys_to_ids(run_keys), (cistern,))
    carried = services(ways)
    for water in waters(ways):
        pipes = [i for i in keys_to_ids(k for k in water.elements if k[0] == "pipe") if carried[i] == "discharge"]
        if not pipes:
            continue
        valves, cisterns = _upstream(ways, water, set())
        if valves:
            claims.claim("discharge", valves[0], pipes, valves)
        elif cisterns and not case.sheet.parts[cisterns[0]].existing:
            claims.claim("stand-cistern", cisterns[0], pipes, cisterns)


def _upstream(ways: Waterways, water: Water, seen: set[int]) -> tuple[list[str], list[str]]:
    """What lets water into a discharge pipe: relief and cooling valves, or cisterns that overflow; over air gaps."""
    seen.add(water.number)
    valves: list[str] = []
    cisterns: list[str] = []
    for element in ways.doing(Behaviour.RELIEF, Behaviour.AIR_GAP):
        if element.b not in water.places:
            continue
        if element.does is Behaviour.RELIEF:
            valves.append(element.part)
        elif ways.kind(element.part).body == "cistern":
            cisterns.append(element.part)
        else:
            above = water_of(ways, element.a)
            if above is not None and above.number not in seen:
                more, _ = _upstream(ways, above, seen)
                valves += more or [p.id for p in ways.tagged("thermal_discharge") if p.id in above.parts]
    order = list(ways.sheet.parts)
    return sorted(set(valves), key=order.index), sorted(set(cisterns), key=order.index)


# -- sources ----------------------------------------------------------------------------------------------------------


def _parts_of(loop: Loop) -> Iterator[str]:
    yield loop.source.part
    yield loop.sink.part


def _pumped(ways: Waterways, loop: Loop) -> bool:
    return any(k[0] == "way" and (ways.has_tag(k[1], "loading_unit") or ways.has_tag(k[1], "pump")) for k in loop.keys)


def _fires(claims: _Claims) -> None:
    case, ways = claims.case, claims.ways
    for fire in ways.fires:
        for loop in loops(ways, fire, Ask.SELF_ACTING):
            if loop.sink.sort != "emitter" and not _pumped(ways, loop):
                claims.claim("primaries", fire.part, keys_to_ids(k for k, _ in loop.steps), _parts_of(loop))
        for part, loop in fixed_emitters(case, fire).items():
            claims.claim("leak", fire.part, keys_to_ids(k for k, _ in loop.steps), (fire.part, part))
        for loop in loops(ways, fire, Ask.OPEN):
            if loop.sink.sort != "emitter":
                claims.claim("fire-pump", fire.part, keys_to_ids(k for k, _ in loop.steps), _parts_of(loop))
        _stubs(claims, "fire-pump", fire)


def _stubs(claims: _Claims, step: str, source: Source) -> None:
    """The pipes from a source's own ports to the first junction."""
    for place in (*source.flow_ports, *source.return_ports):
        claims.claim(step, source.part, claims.run(place[1], place[2]), (source.part,))


def _boiler(claims: _Claims, source: Source) -> None:
    for loop in loops(claims.ways, source, Ask.OPEN):
        if loop.sink.sort != "emitter":
            ids = keys_to_ids(k for k, _ in loop.steps)
            headers = [i for i in ids if i in claims.case.sheet.parts and claims.ways.kind(i).body]
            claims.claim("boiler-pipes", source.part, ids, (*_parts_of(loop), *headers))
    _stubs(claims, "boiler-pipes", source)


def _cooling(claims: _Claims) -> None:
    ways = claims.ways
    for valve in ways.tagged("thermal_discharge"):
        water = water_of(ways, ("port", valve.id, ways.kind(valve.id).ports[0].name))
        boilers = [s.part for s in ways.sources if water is not None and s.part in water.parts]
        ids = [i for port in ways.ports[valve.id] for i in claims.run(valve.id, port)]
        for boiler in boilers:
            for spec in ways.kind(boiler).ports:
                if spec.role == "cooling":
                    ids += claims.run(boiler, spec.name)
        if water is not None and not any(ways.has_tag(p, "outlet") for p in water.parts) and not water.feeds:
            ids += keys_to_ids(k for k in water.elements if k[0] == "pipe")  # nothing else drinks from this main
        claims.claim("cooling", valve.id, ids, (valve.id, *boilers))


# -- branches, sun, loads ---------------------------------------------------------------------------------------------


def solar(water: Water) -> bool:
    """Whether a water goes through a collector."""
    return water.fluid == "solar"


def _branches(claims: _Claims) -> None:
    """Short runs to relief valves, vessels, drains, air vents and filling points."""
    ways = claims.ways
    for part in claims.case.sheet.parts.values():
        tags = ways.kind(part.id).tags
        port = ways.kind(part.id).ports[0].name if ways.kind(part.id).ports else ""
        water = water_of(ways, ("port", part.id, port)) if port else None
        if water is None:
            if "gauge" in tags:  # it stands where the drawing shows it, on no pipe
                claims.claim("low-high", "", (), (part.id,))
                claims.works["low-high", ""].parts.append(part.id)
            continue
        ids = claims.run(part.id, port)
        if "drain" in tags or ("air_vent" in tags and len(ways.kind(part.id).ports) == 1) or "gauge" in tags:
            claims.claim("low-high", "", ids, (part.id,))
        elif "filling" in tags:
            both = [i for name in ways.ports[part.id] for i in claims.run(part.id, name)]
            claims.claim("fill-point", part.id, both, (part.id,))
        elif "relief" in tags or "vessel" in tags:
            guarded = [s.part for s in water.sources]
            if water.fluid == "heating":
                claims.claim("relief" if "relief" in tags else "vessel", part.id, ids, (part.id, *guarded))
            elif "relief" in tags and water.fluid == "domestic":
                for body in ways.bodies("cylinder"):
                    if body in water.places and ways.value(body[1], "vented") is False:
                        claims.claim("uv-safety", body[1], ids, (part.id, body[1]))


def _solar(claims: _Claims) -> None:
    for water in waters(claims.ways):
        if not solar(water) or not water.sources:
            continue
        bodies = [p for p in claims.case.sheet.parts if p in water.parts and claims.case.sheet.parts[p].coils]
        valves = [e.part for e in water.reliefs]
        near = (*(s.part for s in water.sources), *bodies, *valves, *water.vessels)
        claims.claim("solar-pipes", water.sources[0].part, keys_to_ids(water.elements), near)


def _loads(claims: _Claims) -> None:
    """Radiators and floors, from a store or straight from a source."""
    case, ways = claims.case, claims.ways
    legs: list[tuple[str, list[str], str]] = []
    for circuit in load_circuits(case):
        legs.append((circuit.subject, keys_to_ids(circuit.keys), circuit.store))
    for source in ways.sources:
        for loop in loops(ways, source, Ask.OPEN):
            if loop.sink.sort == "emitter" and source.stops != "sun":
                legs.append((loop.sink.part, keys_to_ids(k for k, _ in loop.steps), source.part))
    floors = [leg for leg in legs if ways.has_tag(leg[0], "underfloor")]
    for load, ids, start in floors:
        claims.claim("floor-pipes", load, ids, (load, start))
    for load, ids, start in legs:
        if not ways.has_tag(load, "underfloor"):
            claims.claim("rad-pipes", start, ids, (load, start))


# -- tap water --------------------------------------------------------------------------------------------------------


def warmed(ways: Waterways, water: Water) -> bool:
    """Whether a tap water is heated on this sheet: it has a coil, a plate, a cylinder, or a hot outlet."""
    coil = any(ways.elements[k].does is Behaviour.COIL and not _cools(ways, k) for k in water.elements)
    return coil or any(p[0] == "body" for p in water.places) or any(ways.has_tag(p, "outlet") for p in water.parts)


def _cools(ways: Waterways, key: Key) -> bool:
    return ways.kind(ways.elements[key].part).source is not None


def _tap_water(claims: _Claims) -> None:
    case, ways = claims.case, claims.ways
    for cistern in ways.bodies("cistern"):
        for port in ways.ports[cistern[1]].values():
            if port.role == "domestic_cold":
                claims.claim("cistern-water", cistern[1], claims.run(cistern[1], port.name), (cistern[1],))
    for water in waters(ways):
        if water.fluid != "domestic" or water.sources:
            continue
        mains = [p for p in case.sheet.parts if p in water.parts and ways.has_tag(p, "mains")]
        heaters = _heaters(claims, water)
        if mains and heaters:
            inlet = _inlet(claims, water, mains[0], heaters)
            own = [v for v in (*water.vessels, *(e.part for e in water.reliefs)) if v in case.sheet.parts]
            branches = [i for v in own for i in claims.run(v, ways.kind(v).ports[0].name)]
            claims.claim("mains-train", mains[0], [*inlet, *branches], (mains[0], *heaters, *own))
        if not warmed(ways, water):
            continue
        rest = [k for k in water.elements if k[0] == "pipe"]
        start = (heaters or mains or [b[1] for b in water.feeds] or [case.sheet.pipes[rest[0][1]].a.part])[0]
        outlets = [p for p in case.sheet.parts if p in water.parts and ways.has_tag(p, "outlet")]
        mixers = [p for p in case.sheet.parts if p in water.parts and ways.has_tag(p, "mixing_valve")]
        claims.claim("taps", start, keys_to_ids(rest), (start, *mixers, *outlets))


def _heaters(claims: _Claims, water: Water) -> list[str]:
    """Vessels and plates that heat a tap water, in the order of the sheet."""
    ways = claims.ways
    found = {
        ways.elements[k].part for k in water.elements if ways.elements[k].does is Behaviour.COIL and not _cools(ways, k)
    }
    found |= {p[1] for p in water.places if p[0] == "body"}
    return sorted(found, key=claims.order.__getitem__)


def _inlet(claims: _Claims, water: Water, main: str, heaters: Sequence[str]) -> list[str]:
    """Ids on the shortest way from the main to the first place that heats its water."""
    import networkx as nx  # heavy, and no window needs it before it is asked

    ways = claims.ways
    hot = {k for k in water.elements if ways.elements[k].does is Behaviour.COIL}
    graph = ways.graph.subgraph([*water.places, *(k for k in water.elements if k not in hot)])
    start: Place = ("port", main, ways.kind(main).ports[0].name)
    far = nx.single_source_shortest_path(graph, start)
    ends = [p for p in far if p[0] in ("port", "body") and p[1] in heaters]
    if not ends:
        return []
    best = min(ends, key=lambda p: (len(far[p]), claims.order[p[1]]))
    return [k[1] for k in far[best] if k in ways.elements]


# -- what is left -----------------------------------------------------------------------------------------------------


def _left_over(claims: _Claims) -> None:
    """Pipes that nothing asked for: with the pipework they hang on, else in a step of their own."""
    sheet = claims.case.sheet
    left = [p for p in sheet.pipes.values() if p.id not in claims.taken and p.id not in claims.standing]
    found = True
    while found:
        found = False
        for pipe in left:
            if pipe.id in claims.taken:
                continue
            beside = {q.id for part in (pipe.a.part, pipe.b.part) for q in sheet.pipes_of(part)}
            works = [claims.taken[q] for q in sorted(beside, key=claims.order.__getitem__) if q in claims.taken]
            works = [w for w in works if w.step in CARRIERS]
            if works:
                best = min(works, key=lambda w: CARRIERS.index(w.step))
                claims.claim(best.step, best.subject, [pipe.id])
                found = True
    ids = [p.id for p in left if p.id not in claims.taken]
    if ids:
        claims.claim("rest-pipes", "", ids)


def _fittings(claims: _Claims) -> None:
    """Each fitting goes with the pipework that has most of its pipes, else the first laid."""
    sheet, ways = claims.case.sheet, claims.ways
    rank = {id(work): n for n, work in enumerate(claims.works.values())}
    for part in sheet.parts.values():
        kind = ways.kind(part.id)
        if part.existing or (kind.large and "plate" not in kind.tags) or ("control" in kind.tags and not kind.ports):
            continue
        own = next((w for w in claims.works.values() if _fits(w, part.id, kind.tags)), None)
        works = [claims.taken[p.id] for p in sheet.pipes_of(part.id) if p.id in claims.taken]
        if own is not None and not kind.large:
            own.parts.append(part.id)
        elif works:
            max(works, key=lambda w: (works.count(w), -rank[id(w)])).parts.append(part.id)


def _fits(work: Pipework, part: str, tags: Sequence[str]) -> bool:
    """Whether a piece of pipework is the one that fits a part it bears on."""
    if work.step in ("discharge", "stand-cistern"):
        return False
    return work.subject == part or (part in work.near and (work.step == "low-high" or "relief" in tags))
