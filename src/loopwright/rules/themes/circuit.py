"""Rules of circuits by topology: ends left open, ways back, short ways, and how pumps face.

What two pumps do to one circuit and what shut valves leave of it is judged in `circuit_pumps`.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import (
    culprit,
    header_circuit,
    inlet_outlet,
    legs_between,
    load_circuits,
    open_chains,
    same_water,
)
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.sheet.values import End
from loopwright.waterways.graph import Element, Key, Place, Sink, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import looped, loops, on_loops
from loopwright.waterways.paths import pair_of_legs, places_along, reach, shortest
from loopwright.waterways.skeleton import Chain
from loopwright.waterways.views import BOTH, SHUT, Ask, Passing, passing
from loopwright.waterways.waters import water_of

LOOSE_IS_HARMLESS = ("cap", "air_vent", "drain", "gauge")
"""A fitting of these that is joined to nothing at all lets no water out."""


def _within(label: str) -> str:
    """A port's label within a sentence: a letter or an abbreviation stays as it is."""
    return label if label[:2].isupper() else label[:1].lower() + label[1:]


@rule(
    "circuit/open-end", about="one part", yields_to=("vent-and-feed/no-discharge-over-cistern", "discharge/no-tundish")
)
def open_end(case: Case) -> Iterator[Said]:
    """Pipe or tapping left open."""
    ways = case.ways
    taken = ways.sheet.taken
    for part in ways.sheet.parts.values():
        kind = ways.catalogue[part.kind]
        ports = ways.ports[part.id]
        if not ports:
            continue
        if "open_end" in kind.tags:
            yield Finding(
                severity=Severity.FAULT,
                subject=part.id,
                culprits=tuple(dict.fromkeys((part.id, culprit(case, part.id, "a")))),
                path=(part.id,),
                message="A pipe ends open and is joined to nothing.",
                todo="Cap it, or finish the pipe.",
            )
            continue
        free = [
            p for p in ports.values() if End(part.id, p.name) not in taken and not p.optional and p.role != "capped"
        ]
        if not free or (len(free) == len(ports) and any(t in kind.tags for t in LOOSE_IS_HARMLESS)):
            yield Sound(part.id, "Every port is joined or closed")
            continue
        fire = part.id in ways.source_of and ways.source_of[part.id].stops == "fire"
        words = ", ".join(_within(p.label) for p in free[:4]) + (" and more" if len(free) > 4 else "")
        if len(free) == len(ports):
            message = f"{case.name(part.id)} is joined to nothing."
        else:
            message = (
                f"{case.name(part.id)} has {'an open port' if len(free) == 1 else f'{len(free)} open ports'}: {words}."
            )
        yield Finding(
            severity=Severity.DANGER if fire else Severity.FAULT,
            subject=part.id,
            culprits=(part.id,),
            path=(part.id,),
            spot=free[0].at,
            measured=float(len(free)),
            limit=0.0,
            sources=("warn.backboiler",) if fire else (),
            message=message,
            todo="Cap it, or finish the pipe." if len(free) < len(ports) else "Pipe it in, or take it off the sheet.",
        )


# a way back


@rule("circuit/no-return", about="one source, emitter or coil", yields_to=("circuit/open-end", "circuit/crossed"))
def no_return(case: Case) -> Iterator[Said]:
    """Circuit without a way back."""
    ways = case.ways
    taken = ways.sheet.taken
    for source in ways.sources:
        ports = [p for p in (*source.flow_ports, *source.return_ports) if End(p[1], p[2]) in taken]
        if not ports:
            continue
        if has_circuit(case, source):
            yield Sound(source.part, "Its flow comes back to its return")
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            path=(source.part,),
            culprits=tuple(dict.fromkeys(culprit(case, p[1], p[2]) for p in ports)),
            message=f"Flow of {case.name(source.part)} does not come back to its return through a load or store.",
            todo="Complete the circuit back to its return.",
        )
    for sink in ways.sinks:
        if sink.sort == "body" or not any(End(p[1], p[2]) in taken for p in sink.ends) or _is_tap_water(case, sink):
            continue
        if _on_a_circuit(case, sink):
            yield Sound(sink.part, "It lies on a circuit")
            continue
        what = f"Coil “{sink.coil.name}” of {case.name(sink.part)}" if sink.coil else case.name(sink.part)
        yield Finding(
            severity=Severity.FAULT,
            subject=sink.part,
            path=(sink.part,),
            culprits=tuple(dict.fromkeys(culprit(case, p[1], p[2]) for p in sink.ends)),
            message=f"{what} has pipes on it but lies on no circuit.",
            todo="Join one end to a flow and the other to its return.",
        )


def has_circuit(case: Case, source: Source) -> bool:
    """Whether a source's flow comes back to its own return through a sink or a header, every way open."""
    if loops(case.ways, source, Ask.OPEN):
        return True
    return header_circuit(case, source.hot, source.cold, case.ways.skeleton.chain_of[source.key])


def _on_a_circuit(case: Case, sink: Sink) -> bool:
    ways = case.ways
    if sink.key in looped(ways, Ask.OPEN) or sink.key in on_loops(ways, Ask.OPEN):
        return True  # on its own, or in series with another sink
    water = water_of(ways, sink.ends[0])
    if water is None:
        return False
    bodies = [b for b in ways.bodies("store", "cylinder", "header", "drain_vessel") if b[1] != sink.part]
    if any(legs_between(case, sink, (body,)) for body in bodies if body in water.places):
        return True
    others = (o for o in ways.sinks if o.key != sink.key and o.sort != "body" and o.ends[0] in water.places)
    return any(legs_between(case, sink, other.ends) for other in others)


def _is_tap_water(case: Case, sink: Sink) -> bool:
    water = water_of(case.ways, sink.ends[0])
    return water is not None and water.fluid == "domestic" and not water.sources


# a short way


@rule("circuit/crossed", about="one source or load")
def crossed(case: Case) -> Iterator[Said]:
    """Flow joined straight to return."""
    ways = case.ways
    plain = plain_view(case)
    bodies = set(ways.bodies())
    seen: set[frozenset[Key]] = set()
    ends: list[tuple[str, Place, Place, str]] = [(s.part, s.hot, s.cold, "flow") for s in ways.sources]
    ends += [(c.subject, ("port", c.store, c.leave), ("port", c.store, c.enter), "supply") for c in load_circuits(case)]
    for subject, one, two, word in ends:
        way = shortest(ways, plain, [one], {two}, walls=bodies)
        if way is None or one == two:
            yield Sound(subject, f"No plain pipe joins its {word} to its return")
            continue
        keys = frozenset(k for k, _ in way)
        if keys in seen or _is_ring(case, places_along(ways, one, way), plain):
            yield Sound(subject, "A ring with emitters teed into it")
            continue
        seen.add(keys)
        pipes = [k[1] for k, _ in way if k[0] == "pipe"]
        yield Finding(
            severity=Severity.FAULT,
            subject=subject,
            culprits=tuple(_middle(case, one, way) or pipes[:1]),
            path=(subject, *pipes),
            message=f"A plain pipe joins the {word} of {case.name(subject)} straight to its return.",
            todo="Part the two pipes, or put the load between them.",
        )


def plain_view(case: Case) -> Passing:
    """Pipes and free ways alone, less what is declared to short-circuit: bypasses, close tees, injector tees."""
    ways = case.ways
    out: Passing = {}
    for key, e in ways.elements.items():
        passes = e.does in (Behaviour.PIPE, Behaviour.FREE)
        if e.pipe:
            pipe = ways.sheet.pipes[e.pipe]
            passes = passes and not (pipe.bypass or pipe.primary_loop)
        elif e.way is not None and (e.way.bypass or ways.has_tag(e.part, "injector")):
            passes = False
        out[key] = BOTH if passes else SHUT
    return out


def _is_ring(case: Case, places: list[Place], plain: Passing) -> bool:
    """A one-pipe ring: some emitter has both ends teed, by runs without another tee, into two places of the path."""
    ways = case.ways
    on_path = set(places)
    for sink in ways.sinks:
        if sink.sort != "emitter":
            continue
        met = [_first_on(case, end, sink.key, on_path) for end in sink.ends]
        if met[0] is not None and met[1] is not None and met[0] != met[1]:
            return True
    return False


def _first_on(case: Case, start: Place, came_by: Key, on_path: set[Place]) -> Place | None:
    """The place of the path that a run from an emitter's end comes to first, valves passed, or None at another tee."""
    ways = case.ways
    here, last = start, came_by
    for _ in range(len(ways.elements)):
        if here in on_path:
            return here
        onward = [e for e in ways.links[here] if e.key != last and not _dead(case, e, here)]
        if len(onward) != 1:
            return None
        last, here = onward[0].key, onward[0].other(here)
    return None


def _dead(case: Case, element: Element, here: Place) -> bool:
    """A stub that leads nowhere: a radiator's unused top port."""
    return element.way is not None and len(case.ways.links[element.other(here)]) == 1


def _middle(case: Case, start: Place, way: Iterable[tuple[Key, bool]]) -> list[str]:
    """Pipes of the path between its first and its last tee: what one would take out."""
    ways = case.ways
    places = places_along(ways, start, way)
    tees = [i for i, p in enumerate(places) if len(ways.links[p]) > 2]
    if len(tees) < 2:
        return []
    steps = list(way)[tees[0] : tees[-1]]
    pipes = [k[1] for k, _ in steps if k[0] == "pipe"]
    return pipes


# how pumps face


@rule(
    "circuit/pump-backwards",
    about="one pump",
    yields_to=("order/loading-unit-sides", "tapping/swapped", "tapping/flow-below-return"),
)
def pump_backwards(case: Case) -> Iterator[Said]:
    """Pump or check valve facing the wrong way."""
    for pump in case.ways.doing(Behaviour.PUMP):
        name = case.name(pump.part)
        faced = _faces(case, pump)
        if faced is None:
            continue
        if not faced:
            yield Finding(
                severity=Severity.FAULT,
                subject=pump.part,
                culprits=(pump.part,),
                path=(pump.part,),
                message=f"{name} pushes against its circuit.",
                todo="Turn the pump round.",
            )
            continue
        wrong = _check_against(case, pump)
        if wrong:
            yield Finding(
                severity=Severity.FAULT,
                subject=pump.part,
                culprits=wrong,
                path=(pump.part, *wrong),
                message=f"{name} pushes against {' and '.join(case.name(w) for w in wrong)}, which faces back.",
                todo=f"Turn {case.name(wrong[0])} round.",
            )
        else:
            yield Sound(pump.part, "It pushes the way its circuit runs")


def _faces(case: Case, pump: Element) -> bool | None:
    """True the way the circuit runs, False against it, None on no circuit.

    The nearest source on whose circuit it lies decides, else the nearest load: through a header that others share,
    their water may run round by this pump either way.
    """
    ways = case.ways
    steps, skeleton = _steps_from(case, pump), case.ways.skeleton

    def far(inside: Key) -> int:
        chain = skeleton.chains[skeleton.chain_of[inside]]
        at, never = _index(chain, inside), len(ways.elements)
        return min(steps.get(chain.u, never) + at, steps.get(chain.v, never) + len(chain.steps) - at)

    ends = [
        (far(s.key), s.hot, s.cold, s.key)
        for s in ways.sources
        if same_water(ways, pump.a, s.hot) and has_circuit(case, s)
    ]
    decided = _nearest_vote(case, pump, ends)
    if decided:
        return decided > 0
    loads = [c.sink for c in load_circuits(case) if c.sink is not None]
    loads += [s for s in ways.sinks if s.sort in ("emitter", "plate") and s not in loads and not _is_tap_water(case, s)]
    ends = []
    for sink in loads:
        if same_water(ways, pump.a, sink.ends[0]):
            inlet, outlet = inlet_outlet(sink)
            ends.append((far(sink.key), outlet, inlet, sink.key))
    decided = _nearest_vote(case, pump, ends)
    return decided > 0 if decided else None


def _nearest_vote(case: Case, pump: Element, ends: list[tuple[int, Place, Place, Key]]) -> int:
    """What the nearest that has an opinion says; those as near are added up."""
    total, at = 0, -1
    for far, leaving, arriving, inside in sorted(ends):
        if total and far > at:
            break
        total, at = total + sense(case, pump, leaving, arriving, inside), far
    return total


def _steps_from(case: Case, pump: Element) -> dict[Place, int]:
    """Elements passed from a pump to every junction of its water, by the nearest way, its own run only outwards."""
    skeleton, walls = case.ways.skeleton, set(case.ways.bodies("cistern"))
    own = skeleton.chains[skeleton.chain_of[pump.key]]
    at = _index(own, pump.key)
    heap = [(at, own.u), (len(own.steps) - at, own.v)]
    steps: dict[Place, int] = {}
    while heap:
        so_far, here = heapq.heappop(heap)
        if here in steps:
            continue
        steps[here] = so_far
        if here not in walls:
            for chain in skeleton.links.get(here, ()):
                if chain.index != own.index:
                    there = chain.v if chain.u == here else chain.u
                    heapq.heappush(heap, (so_far + len(chain.steps), there))
    return steps


def _index(chain: Chain, key: Key) -> int:
    """How many elements into a run one of them lies."""
    return next(n for n, (k, _) in enumerate(chain.steps) if k == key)


def sense(case: Case, pump: Element, leaving: Place, arriving: Place, inside: Key) -> int:
    """+1 if what leaves at `leaving` and comes home at `arriving` passes the pump forwards, -1 backwards, or 0.

    `inside` is the element between the two places (a source's or an emitter's own way).
    """
    ways = case.ways
    skeleton = ways.skeleton
    chain = skeleton.chains[skeleton.chain_of[pump.key]]
    own = skeleton.chain_of[inside]
    if chain.u == chain.v or chain.index == own:
        return 0
    forward = next(f for k, f in chain.steps if k == pump.key)
    first, last = (chain.u, chain.v) if forward else (chain.v, chain.u)  # the pump's own direction
    drop = {own, chain.index} | {skeleton.chain_of[s.key] for s in ways.sources}
    walls = set(ways.bodies("cistern"))
    for one, two, sign in ((first, last, 1), (last, first, -1)):
        if one == leaving and two == arriving:
            return sign
        if one == leaving or two == arriving:
            start, goal = (two, arriving) if one == leaving else (leaving, one)
            keys = {k for i in drop for k, _ in skeleton.chains[i].steps}
            hit = goal in reach(ways, passing(ways, Ask.OPEN), [start], drop=keys, walls=walls | {leaving, arriving})
            return sign if hit else 0
    flags, costs = open_chains(case)
    found = pair_of_legs(skeleton, flags, costs, leaving, arriving, (first, last), drop=drop, walls=walls)
    if found is None:
        return 0
    at = places_along(ways, leaving, found[1])[-1]
    return 1 if at == first else -1


def _check_against(case: Case, pump: Element) -> tuple[str, ...]:
    """One-way parts that shut every way round for this pump, other pumps standing open; empty if a way is left."""
    ways = case.ways
    free, directed = passing(ways, Ask.OPEN), _checks_alone(case)
    walls = set(ways.bodies("cistern"))
    if pump.a in reach(ways, directed, [pump.b], drop={pump.key}, walls=walls):
        return ()
    way = shortest(ways, free, [pump.b], {pump.a}, drop={pump.key}, walls=walls)
    if way is None:
        return ()
    return tuple(
        dict.fromkeys(ways.elements[k].part for k, f in way if ways.elements[k].does is Behaviour.ONE_WAY and not f)
    )


@kept
def _checks_alone(case: Case) -> Passing:
    """Every way open, but one-way ways one way."""
    running = passing(case.ways, Ask.RUNNING)
    checks = {e.key: running[e.key] for e in case.ways.doing(Behaviour.ONE_WAY)}
    return {**passing(case.ways, Ask.OPEN), **checks}
