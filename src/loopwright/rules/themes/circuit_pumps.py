"""Rules of circuits that depend on what runs: pumps in one line, pumps with no way left, and circulation at rest."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import SWITCHED, Circuit, load_circuits, source_circuits
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways.graph import Element, Key, Place
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BACK, BOTH, FORWARD, SHUT, Ask, Passing, passing
from loopwright.waterways.waters import water_of


def running(case: Case) -> Passing:
    """The running view with every hand valve open."""
    ways = case.ways
    out = dict(passing(ways, Ask.RUNNING))
    out.update(dict.fromkeys(ways.keys_doing(Behaviour.HAND), BOTH))
    return out


def comes_round(case: Case, view: Passing, start: Place, goal: Place, drop: set[Key]) -> bool:
    """Whether water leaving `start` can come to `goal`, cisterns not crossed."""
    return goal in reach(case.ways, view, [start], drop=drop, walls=set(case.ways.bodies("cistern")))


@rule("circuit/pumps-in-series", about="two pumps", yields_to=("circuit/pump-backwards",))
def pumps_in_series(case: Case) -> Iterator[Said]:
    """Two pumps in one line."""
    ways = case.ways
    view = running(case)
    all_pumps = [p for p in ways.doing(Behaviour.PUMP) if comes_round(case, view, p.b, p.a, {p.key})]
    found: set[str] = set()
    for p, q in combinations(all_pumps, 2):
        water = water_of(ways, p.a)
        if water is None or q.a not in water.places or water.regime == "drain-down" or _standby(case, p, q):
            continue
        if comes_round(case, view, p.b, p.a, {p.key, q.key}) or comes_round(case, view, q.b, q.a, {p.key, q.key}):
            continue
        found |= {p.part, q.part}
        yield Finding(
            severity=Severity.FAULT,
            subject=p.part,
            culprits=(p.part, q.part),
            path=(p.part, q.part),
            message=f"{case.name(p.part)} and {case.name(q.part)} push along one line, each only through the other.",
            todo="Take one out, or put a header between them.",
        )
    for p in all_pumps:
        if p.part not in found and len(all_pumps) > 1:
            yield Sound(p.part, "No other pump is always in line with it")


def _standby(case: Case, p: Element, q: Element) -> bool:
    return any(str(case.ways.value(x.part, "standby_of") or "") for x in (p, q))


@rule("circuit/dead-headed-pump", about="one pump, or one source that runs on", yields_to=("circuit/pump-backwards",))
def dead_headed_pump(case: Case) -> Iterator[Said]:
    """Pump left with no way to push."""
    ways = case.ways
    before = running(case)
    for pump in ways.doing(Behaviour.PUMP):
        if not comes_round(case, before, pump.b, pump.a, {pump.key}):
            continue
        shut = valves_shut(case, {pump.part})
        if comes_round(case, shut, pump.b, pump.a, {pump.key}):
            yield Sound(pump.part, "A way stays open for it")
            continue
        light = bool(ways.value(pump.part, "pressure_controlled")) and not _moves_a_source(case, before, pump)
        stops = tuple(
            dict.fromkeys(
                e.part
                for e in ways.elements.values()
                if before[e.key] and not shut[e.key] and _in_line(case, before, pump, e)
            )
        )
        yield Finding(
            severity=Severity.ADVICE if light else Severity.FAULT,
            subject=pump.part,
            culprits=(pump.part, *stops),
            path=(pump.part, *stops),
            sources=("ctl.bypass",),
            message=f"With every thermostatic and motorised valve shut, {case.name(pump.part)} has no way to push.",
            todo="Fit an automatic bypass, or leave one radiator without such a valve.",
        )
    for source in ways.sources:
        overrun = ways.number(source.part, "overrun_min")
        if source.stops not in SWITCHED or not (source.stops == "residual" or (overrun or 0.0) > 0):
            continue
        if not comes_round(case, before, source.hot, source.cold, {source.key}):
            continue
        shut = valves_shut(case, {source.part})
        if comes_round(case, shut, source.hot, source.cold, {source.key}):
            yield Sound(source.part, "A way stays open after it stops")
        else:
            ran = f"for {overrun:g} min " if overrun else ""
            yield Finding(
                severity=Severity.FAULT,
                subject=source.part,
                culprits=(source.part,),
                path=(source.part,),
                sources=("ctl.overrun",),
                measured=overrun,
                unit="min" if overrun else "",
                message=f"{case.name(source.part)} runs on {ran}after it stops, and no way stays open for it.",
                todo="Fit an automatic bypass, or leave one way open.",
            )


def valves_shut(case: Case, driven: set[str]) -> Passing:
    """Running, with every thermal and powered way shut that is not tied to leave another open.

    A powered way whose link also stops one of `driven` is left open: it never shuts while that runs.
    """
    ways = case.ways
    out = running(case)
    sensors: dict[str, set[str]] = {}
    for link in ways.sheet.links.values():
        sensors.setdefault(link.target, set()).add(link.sensor)
    theirs = set().union(*(sensors.get(d, set()) for d in driven))
    for e in ways.doing(Behaviour.THERMAL, Behaviour.POWERED):
        if e.way is not None and e.way.bypass:
            continue
        if ways.kind(e.part).positions:  # one of its ways is always open
            continue
        if e.does is Behaviour.POWERED and theirs & sensors.get(e.part, set()):
            continue
        out[e.key] = SHUT
    for part in ways.tagged("underfloor"):  # its loop actuators shut, and it says that it has no bypass
        if ways.typed(part.id, "bypass_built_in") and not ways.value(part.id, "bypass_built_in"):
            out.update({e.key: SHUT for e in ways.by_part.get(part.id, ())})
    return out


def _moves_a_source(case: Case, view: Passing, pump: Element) -> bool:
    return any(_in_line(case, view, pump, case.ways.elements[s.key]) for s in case.ways.sources)


def _in_line(case: Case, view: Passing, pump: Element, element: Element) -> bool:
    """Whether water of this pump can pass an element and come back, vessels not crossed on the way."""
    ways = case.ways
    walls = set(ways.bodies("store", "cylinder", "cistern"))
    out = reach(ways, view, [pump.b], drop={pump.key}, walls=walls)
    back = reach(ways, view, [pump.a], drop={pump.key}, walls=walls, backwards=True)
    return (element.a in out and element.b in back) or (element.b in out and element.a in back)


@rule(
    "circuit/night-thermosyphon",
    about="one pumped circuit of a store at rest",
    yields_to=("circuit/backflow-through-idle-circuit", "circuit/pump-backwards"),
)
def night_thermosyphon(case: Case) -> Iterator[Said]:
    """A cold collector above a hot store: by the order of heights. Loads above a store are not assessed: force and loss
    need the flow network, and so does a check whose opening pressure decides."""
    ways = case.ways
    idle = passing(ways, Ask.IDLE)
    for circuit in (*source_circuits(case), *load_circuits(case)):
        fire = circuit.source is not None and circuit.source.stops == "fire"
        water = water_of(ways, circuit.source.hot) if circuit.source else None
        drains = water is not None and water.regime == "drain-down"
        if fire or drains or not any(ways.elements[k].does is Behaviour.PUMP for k in circuit.keys):
            continue
        if circuit.source is not None and circuit.source.stops == "sun":
            yield _collector(case, idle, circuit)
        elif not all(idle[k] for k in circuit.keys):
            yield Sound(circuit.subject, "Nothing can move in it at rest")
        else:
            yield _load_at_rest(case, circuit)


def _collector(case: Case, idle: Passing, circuit: Circuit) -> Said:
    """At night a collector above its coil drives water backwards: up by the flow, down by the return."""
    ways = case.ways
    assert circuit.loop is not None and circuit.source is not None
    above = circuit.source.height_m - circuit.loop.sink.height_m
    if above <= 0:
        return Sound(circuit.subject, "It lies below the store, so that nothing rises into it")
    if not all(idle[k] & (BACK if forward else FORWARD) for k, forward in circuit.loop.steps):
        return Sound(circuit.subject, "A check valve holds it at night")
    pump = next(ways.elements[k].part for k in circuit.keys if ways.elements[k].does is Behaviour.PUMP)
    return Finding(
        severity=Severity.FAULT,
        subject=circuit.subject,
        culprits=(pump,),
        path=circuit.ids,
        sources=("sol.nrv",),
        measured=above,
        limit=0.0,
        unit="m",
        message=f"{case.name(circuit.subject)} lies {above:.1f} m above the hot water in "
        f"{case.name(circuit.store)}, and no check valve keeps it from rising there at night.",
        todo="Put a check valve beside the pump, facing the way it pushes.",
    )


def _load_at_rest(case: Case, circuit: Circuit) -> Said:
    ways = case.ways
    loop = circuit.loop
    if circuit.source is not None and loop is not None and circuit.source.height_m < loop.sink.height_m:
        return Sound(circuit.subject, "It lies below the warm water, and cold water below lies still")
    supply = ways.at["port", circuit.store, circuit.leave][1]
    if circuit.sink is not None and circuit.sink.height_m < supply:
        return Sound(circuit.subject, "It lies below its supply")
    checks = [ways.elements[k].part for k in circuit.keys if ways.elements[k].does is Behaviour.ONE_WAY]
    if any(ways.has_tag(c, "anti_gravity") for c in checks):
        return Sound(circuit.subject, "An anti-gravity check holds it at rest")
    unknown = next((c for c in checks if ways.number(c, "opening_pa") is None), None)
    if unknown is not None:
        return case.lacks(circuit.subject, unknown, "opening_pa", "opening pressure")
    return Missing(circuit.subject, "Whether warm water rises in it at rest needs the flow network")
