"""Circuits at vessels: which source or load enters and leaves which store by which tapping or coil.

Shared by the rules of tappings, circuits, order and tap water; `warmth` goes on from here. Owns derivations only, all
cached on the waterways; says nothing about right and wrong. Circuits that reach a store only through a header are not
followed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.registry import Case
from loopwright.sheet.values import Coil
from loopwright.waterways.graph import Key, Place, Sink, Source, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import Loop, looped, loops
from loopwright.waterways.paths import pair_of_legs
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of

APART_F = 0.05
"""Two heights in a store differ only if by more than this share of its height."""
SWITCHED = ("switched", "residual")


class Circuit(msgspec.Struct, frozen=True, kw_only=True):
    """One circuit at one store: water enters by `enter` and leaves by `leave` (tappings, or the ends of a coil).

    `subject` is the source or the load. Heights are shares of the body's height, 0 base to 1 top.
    """

    subject: str
    store: str
    enter: str
    leave: str
    enter_f: float
    leave_f: float
    keys: tuple[Key, ...]
    source: Source | None = None
    coil: Coil | None = None
    sink: Sink | None = None
    """The load's emitter, coil or plate."""
    loop: Loop | None = None

    @property
    def ids(self) -> tuple[str, ...]:
        """What it is about: source or load, vessel, and the parts and pipes between."""
        return tuple(dict.fromkeys((self.subject, self.store, *(k[1] for k in self.keys))))

    @property
    def coil_name(self) -> str:
        """Name of the coil that takes its heat, a load's own included; '' for anything else."""
        coil = self.coil or (self.sink.coil if self.sink else None)
        return coil.name if coil else ""


def share_of(case: Case, store: str, letter: str) -> float:
    """Height of a tapping as a share of the body's height."""
    part = case.ways.sheet.parts[store]
    tap = part.tapping(letter)
    if tap is None:
        port = case.ways.ports[store][letter]
        return min(1.0, max(0.0, case.ways.share(store, port.at[1])))
    if tap.side in ("top", "bottom"):
        return 1.0 if tap.side == "top" else 0.0
    return min(1.0, max(0.0, case.ways.share(store, part.height_m + tap.height_m)))


def height_of(case: Case, store: str, letter: str) -> float:
    """Height of a tapping above the store's base, in metres."""
    base, top = case.ways.body_range(store)
    return share_of(case, store, letter) * (top - base)


def coil_span(case: Case, store: str, coil: Coil) -> tuple[float, float]:
    """Bottom and top of a coil as shares of the body's height."""
    base, top = case.ways.body_range(store)
    return coil.bottom_m / (top - base), coil.top_m / (top - base)


def tapping_name(case: Case, store: str, letter: str) -> str:
    """What people call a tapping."""
    tap = case.ways.sheet.parts[store].tapping(letter)
    return f"“{tap.name}”" if tap is not None and tap.name else letter


def pipe_at(case: Case, part: str, port: str) -> str | None:
    """Id of the pipe at a port."""
    for element in case.ways.links.get(("port", part, port), ()):
        if element.pipe:
            return element.pipe
    return None


def culprit(case: Case, part: str, port: str) -> str:
    """The pipe at a port, else the part itself."""
    return pipe_at(case, part, port) or part


# sources at vessels


@kept
def source_circuits(case: Case) -> tuple[Circuit, ...]:
    """Every source at every store or cylinder it reaches, direct or through a coil."""
    return tuple(_source_circuits(case))


def _source_circuits(case: Case) -> Iterable[Circuit]:
    ways = case.ways
    for source in ways.sources:
        for loop in loops(ways, source, Ask.OPEN):
            sink = loop.sink
            if sink.sort not in ("body", "coil") or not loop.flow_leg or not loop.return_leg:
                continue
            keys = tuple(k for k, _ in loop.steps)
            if sink.sort == "body":
                enter, leave = _letter(ways, loop.flow_leg[-1]), _letter(ways, loop.return_leg[0])
                if enter and leave:
                    yield Circuit(
                        subject=source.part,
                        store=sink.part,
                        enter=enter,
                        leave=leave,
                        enter_f=share_of(case, sink.part, enter),
                        leave_f=share_of(case, sink.part, leave),
                        keys=keys,
                        source=source,
                        loop=loop,
                        sink=sink,
                    )
            elif sink.coil is not None:
                first = _end_of(ways, loop.flow_leg[-1])
                down, up = sink.coil.lower, sink.coil.upper
                enter, leave = (down, up) if first[2] == down else (up, down)
                bottom, top = coil_span(case, sink.part, sink.coil)
                yield Circuit(
                    subject=source.part,
                    store=sink.part,
                    enter=enter,
                    leave=leave,
                    enter_f=top,
                    leave_f=bottom,
                    keys=keys,
                    source=source,
                    coil=sink.coil,
                    loop=loop,
                    sink=sink,
                )


def _letter(ways: Waterways, step: Step) -> str:
    """The tapping whose way to the body a step is, or ''."""
    element = ways.elements[step[0]]
    port = element.a if element.b[0] == "body" else element.b
    return port[2] if port[0] == "port" and "body" in (element.a[0], element.b[0]) else ""


def _end_of(ways: Waterways, step: Step) -> Place:
    element = ways.elements[step[0]]
    return element.b if step[1] else element.a


# loads at vessels


def inlet_outlet(sink: Sink) -> tuple[Place, Place]:
    """Where hot water is meant to enter a sink, and where it leaves: a coil's is upper and lower."""
    a, b = sink.ends
    return (b, a) if sink.coil is not None else (a, b)


@kept
def load_circuits(case: Case) -> tuple[Circuit, ...]:
    """Every emitter, plate or foreign coil that a store feeds, and that no source feeds without the store."""
    return tuple(_load_circuits(case))


def _load_circuits(case: Case) -> Iterable[Circuit]:
    ways = case.ways
    bodies = ways.bodies("store", "cylinder")
    for sink in ways.sinks:
        if sink.sort == "body" or sink.key in looped(ways, Ask.OPEN) or _brings_heat(ways, sink):
            continue
        for body in bodies:
            if body[1] == sink.part or not same_water(ways, sink.ends[0], body):
                continue
            legs = legs_between(case, sink, (body,))
            if legs is None:
                continue
            to_inlet, from_outlet = legs  # water runs body -> inlet, outlet -> body
            leave, enter = _letter(ways, to_inlet[0]), _letter(ways, from_outlet[-1])
            if not enter or not leave:
                continue
            if share_of(case, body[1], leave) < share_of(case, body[1], enter) and _pumped_against(ways, legs):
                enter, leave = leave, enter
            yield Circuit(
                subject=sink.part,
                store=body[1],
                enter=enter,
                leave=leave,
                enter_f=share_of(case, body[1], enter),
                leave_f=share_of(case, body[1], leave),
                keys=tuple(k for k, _ in (*to_inlet, *from_outlet)),
                sink=sink,
            )


def _brings_heat(ways: Waterways, sink: Sink) -> bool:
    """Whether a source on the other side of a plate exchanger heats this side: it gives to a store, not takes."""
    return sink.sort == "plate" and any(
        s.part == sink.part and s.key != sink.key and s.key in looped(ways, Ask.OPEN) for s in ways.sinks
    )


def legs_between(case: Case, sink: Sink, ends: tuple[Place, ...]) -> tuple[tuple[Step, ...], tuple[Step, ...]] | None:
    """Two legs that share no place: a vessel to the sink's inlet, and its outlet back, both in flow direction."""
    ways = case.ways
    inlet, outlet = inlet_outlet(sink)
    found = legs_round(case, inlet, outlet, ends, {ways.skeleton.chain_of[sink.key]})
    if found is None:
        return None
    out, back = found
    return _turned(out), _turned(back)


def _turned(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    return tuple((key, not forward) for key, forward in reversed(steps))


def legs_round(
    case: Case,
    hot: Place,
    cold: Place,
    ends: tuple[Place, ...],
    drop: set[int],
) -> tuple[tuple[Step, ...], tuple[Step, ...]] | None:
    """hot -> one end, other end -> cold, in `open`, sources left out, vessels and cisterns not crossed."""
    ways = case.ways
    skeleton = ways.skeleton
    flags, costs = open_chains(case)
    found = pair_of_legs(
        skeleton,
        flags,
        costs,
        hot,
        cold,
        ends,
        drop=drop | {skeleton.chain_of[s.key] for s in ways.sources},
        walls=set(ways.bodies("store", "cylinder", "cistern")),
    )
    return (found[1], found[2]) if found else None


@kept
def open_chains(case: Case) -> tuple[Sequence[int], list[float]]:
    """What each chain of the skeleton passes in `open`, and its cost in a search for two legs."""
    skeleton = case.ways.skeleton
    return skeleton.passes(passing(case.ways, Ask.OPEN)), [1.0 + 1e-3 * len(c.steps) for c in skeleton.chains]


def same_water(ways: Waterways, one: Place, two: Place) -> bool:
    """Whether two places lie in one water."""
    water = water_of(ways, one)
    return water is not None and two in water.places


def _pumped_against(ways: Waterways, legs: tuple[tuple[Step, ...], ...]) -> bool:
    """Whether every pump on the legs (there is one) faces against them."""
    pumps = [forward for leg in legs for key, forward in leg if ways.elements[key].does is Behaviour.PUMP]
    return bool(pumps) and not any(pumps)


def header_circuit(case: Case, hot: Place, cold: Place, chain: int) -> bool:
    """Whether two legs that share no place join these two places to one header."""
    return any(legs_round(case, hot, cold, (body,), {chain}) for body in case.ways.bodies("header", "drain_vessel"))


def need_c(case: Case, load: str) -> float | None:
    """The flow temperature a load needs, when it is known."""
    return case.ways.number(load, "t_need_c")


def flow_c(case: Case, source: str) -> float | None:
    """A source's design flow temperature."""
    return case.ways.number(source, "t_flow_c")


# immersions


class Immersion(msgspec.Struct, frozen=True):
    """An immersion heater in a vessel: its part, the vessel, its height as a share of the body's."""

    part: str
    store: str
    letter: str
    at_f: float


@kept
def immersions(case: Case) -> tuple[Immersion, ...]:
    """Immersion heaters joined to a tapping of a vessel."""
    ways = case.ways
    out = []
    for part in ways.tagged("immersion"):
        for element in ways.links[("port", part.id, "boss")]:
            other = element.other(("port", part.id, "boss"))
            if element.pipe and other[0] == "port" and ways.kind(other[1]).body in ("store", "cylinder"):
                out.append(Immersion(part.id, other[1], other[2], share_of(case, other[1], other[2])))
    return tuple(out)
