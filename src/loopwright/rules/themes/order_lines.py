"""Rules of order along a line: vent, feed and pump of a boiler, and the fittings of a mains inlet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.families import CAN_CLOSE
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.heaters import Heater, beside, mains_heaters
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.warmth import cold_supplies
from loopwright.waterways.graph import Key, Place, Source
from loopwright.waterways.paths import cheapest, places_along, reach, shortest
from loopwright.waterways.profile import length_m
from loopwright.waterways.services import feed_runs, vent_runs
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of


def _joint(case: Case, run: tuple[Key, ...], cistern: str, *, first: bool) -> Place | None:
    """Where a vent or feed run meets the pipework: None if that is the cistern, or a vessel's own body."""
    ways = case.ways
    end = ways.elements[run[0] if first else run[-1]]
    beyond = [p for p in (end.a, end.b) if p[1] != cistern]
    inner = {p for k in run for p in (ways.elements[k].a, ways.elements[k].b)}
    for place in beyond:
        others = [e for e in ways.links[place] if e.key != end.key]
        if others and not all(e.key in run for e in others) and place in inner:
            if ways.kind(place[1]).body:
                return None
            middle = (e.other(place) for e in others if e.part and e.does is Behaviour.FREE)
            return next((m for m in middle if m[0] == "inner"), place)  # a tee's middle: centres are measured
    return None


@rule("order/vent-feed-pump", about="one pumped boiler in vented water", yields_to=CAN_CLOSE)
def vent_feed_pump(case: Case) -> Iterator[Said]:
    """Vent, feed and pump out of order."""
    ways = case.ways
    vents = [(_joint(case, run, end[1], first=True), run) for end, run in vent_runs(ways).items()]
    feeds = [(_joint(case, run, end[1], first=False), run) for end, run in feed_runs(ways).items()]
    for source in ways.sources:
        water = water_of(ways, source.hot)
        pumped = water is not None and any(ways.elements[k].does is Behaviour.PUMP for k in water.elements)
        if source.stops not in ("switched", "residual") or water is None or water.regime != "vented" or not pumped:
            continue
        mine = [v for v, _ in vents if v is not None and v in water.places and _nearest(case, v) == source.part]
        fed = [c for c, _ in feeds if c is not None and c in water.places and _nearest(case, c) == source.part]
        if mine and fed:
            yield _vent_feed_pump(case, source, mine[0], fed[0])


def _nearest(case: Case, joint: Place) -> str:
    """The source whose waterway lies nearest to a joint along the pipes, vessels and loads not crossed; else ''."""
    ways = case.ways
    ends = {p: s.part for s in ways.sources for p in (s.hot, s.cold)}
    found = cheapest(
        ways,
        passing(ways, Ask.OPEN),
        [joint],
        set(ends),
        lambda e, _f: length_m(ways, e) + 1e-6,
        drop=set(ways.keys_doing(Behaviour.EMITTER, Behaviour.COIL)),
        walls=set(ways.bodies()),
    )
    return ends.get(places_along(ways, joint, found[1])[-1], "") if found else ""


def _vent_feed_pump(case: Case, source: Source, vent: Place, feed: Place) -> Said:
    ways = case.ways
    loads = set(ways.keys_doing(Behaviour.EMITTER, Behaviour.COIL))
    walls = set(ways.bodies())
    found = cheapest(
        ways, passing(ways, Ask.OPEN), [vent], {feed}, lambda e, _f: length_m(ways, e) + 1e-6, drop=loads, walls=walls
    )
    if found is None:
        return Sound(source.part, "Vent and feed do not meet but through a store or load")
    apart, way = found
    path = tuple(dict.fromkeys(k[1] for k, _ in way))
    pump = next((k for k, _ in way if ways.elements[k].does is Behaviour.PUMP), None)
    said: dict[str, Any] = {"subject": source.part, "path": (source.part, *path)}
    if pump is not None:
        return Finding(
            **said,
            severity=Severity.FAULT,
            culprits=(pump[1],),
            sources=("vent.pump_between",),
            message=f"{case.name(pump[1])} stands between the vent and the feed of {case.name(source.part)}.",
            todo="Move the pump beyond both, along the flow.",
        )
    flow = _from_flow(case, source, loads, walls)
    if vent not in flow or feed not in flow:
        return Sound(source.part, "No pump between vent and feed")
    limit = case.limit("vent.feed.gap.max") / 1000
    if apart > limit + 0.005:
        return Finding(
            **said,
            severity=Severity.FAULT,
            culprits=(vent[1], feed[1]),
            measured=apart * 1000,
            limit=limit * 1000,
            unit="mm",
            sources=("vent.feed.gap.max",),
            message=f"Vent and feed of {case.name(source.part)} join its flow {apart * 1000:.0f} mm apart; "
            f"at most {limit * 1000:.0f} mm is right.",
            todo="Move the two joints close together.",
        )
    at = {name: _along(case, source, goal, loads, walls) for name, goal in (("vent", vent), ("feed", feed))}
    pumps = [e for e in ways.elements.values() if e.does is Behaviour.PUMP and e.a in flow]
    first = min((_along(case, source, e.a, loads, walls) for e in pumps), default=float("inf"))
    if at["vent"] <= at["feed"] <= first:
        return Sound(source.part, "Vent, feed and pump follow in that order")
    return Finding(
        **said,
        severity=Severity.ADVICE,
        culprits=(vent[1], feed[1]),
        sources=("vent.order",),
        message=f"Along the flow of {case.name(source.part)} vent, feed and pump do not follow in that order.",
        todo="Put the vent first, then the feed, then the pump.",
    )


def _from_flow(case: Case, source: Source, loads: set[Key], walls: set[Place]) -> set[Place]:
    """Places on the source's flow: reached from it before a load, a vessel or the source again."""
    return reach(case.ways, passing(case.ways, Ask.OPEN), [source.hot], drop=loads | {source.key}, walls=walls)


def _along(case: Case, source: Source, goal: Place, loads: set[Key], walls: set[Place]) -> float:
    found = cheapest(
        case.ways,
        passing(case.ways, Ask.OPEN),
        [source.hot],
        {goal},
        lambda e, _f: length_m(case.ways, e),
        drop=loads | {source.key},
        walls=walls,
    )
    return found[0] if found else float("inf")


# the mains inlet

ORDER = ("stop valve", "strainer", "reducing valve", "check valve", "vessel or relief valve")


@rule("order/mains-inlet", about="one coil or vessel of heated mains water", yields_to=("domestic/unvented-no-relief",))
def mains_inlet(case: Case) -> Iterator[Said]:
    """Fittings of a mains inlet out of order."""
    ways = case.ways
    for heater in mains_heaters(case):
        drop = beside(case, heater)
        water = water_of(ways, heater.cold)
        supplies = sorted(cold_supplies(case) & water.places) if water else []
        way = shortest(ways, passing(ways, Ask.OPEN), supplies, {heater.cold}, drop=drop, walls=set(ways.bodies()))
        if way is None:
            continue
        placed = _placed(case, heater, way)
        against = next((e.part for k, f in way if (e := ways.elements[k]).does is Behaviour.ONE_WAY and not f), "")
        if not placed and not against:
            continue
        pair = _out_of_order(placed)
        shut = _shut_off(case, heater, placed, way)
        name = heater.words[0].lower() + heater.words[1:]
        said: dict[str, Any] = {
            "severity": Severity.FAULT,
            "subject": heater.part,
            "path": (heater.part, *dict.fromkeys(k[1] for k, _ in way)),
        }
        if against:
            yield Finding(
                **said,
                culprits=(against,),
                sources=("wr.feed.check",),
                message=f"{case.name(against)} faces against the water on its way into {name}: none comes in.",
                todo="Turn it round.",
            )
        elif pair is not None:
            before, after = pair
            yield Finding(
                **said,
                culprits=(before[2], after[2]),
                sources=("wr.feed.check", "g3.prv"),
                message=f"{case.name(before[2])} comes before {case.name(after[2])} on the way into "
                f"{name}; the {ORDER[after[0]]} comes first.",
                todo="Exchange the two.",
            )
        elif shut is not None:
            valve, guarded = shut
            yield Finding(
                **said,
                culprits=(valve,),
                sources=("sv.isolation",),
                message=f"{case.name(valve)} can shut {name} off from {case.name(guarded)}.",
                todo="Take the valve out, or move it before the check valve.",
            )
        else:
            yield Sound(heater.part, "The fittings of its inlet stand in order")


Fitting = tuple[int, int, str]
"""Rank in ORDER, index along the way, part."""


def _placed(case: Case, heater: Heater, way: tuple[Step, ...]) -> list[Fitting]:
    """Fittings of the inlet in order along the way; those on a branch stand where the branch leaves."""
    ways = case.ways
    out: list[Fitting] = []
    start = ways.elements[way[0][0]].a if way[0][1] else ways.elements[way[0][0]].b
    places = places_along(ways, start, way)
    for index, (key, _) in enumerate(way):
        part = ways.elements[key].part
        for rank, tags in enumerate((("stop_valve",), ("strainer",), ("reducing",), ("check",))):
            if part and any(ways.has_tag(part, t) for t in tags):
                out.append((rank, index, part))
    on_way = {k for k, _ in way}
    water = water_of(ways, start)
    for element in ways.doing(Behaviour.SEAL, Behaviour.RELIEF):
        if water is None or element.a not in water.places:
            continue
        vessel = element.does is Behaviour.SEAL and ways.has_tag(element.part, "potable")
        relief = element.does is Behaviour.RELIEF and not ways.has_tag(element.part, "tp_relief")
        if not vessel and not relief:
            continue
        drop = on_way | beside(case, heater)
        got = reach(ways, passing(ways, Ask.OPEN), [element.a], drop=drop, walls=set(ways.bodies()))
        hits = [i for i, p in enumerate(places) if p in got]
        if hits:
            out.append((4, hits[0], element.part))
    return out


def _out_of_order(placed: list[Fitting]) -> tuple[Fitting, Fitting] | None:
    """The first two that stand the wrong way round: (the one met first, the one that belongs before it)."""
    firsts: dict[int, Fitting] = {}
    for fitting in sorted(placed, key=lambda f: f[1]):
        firsts.setdefault(fitting[0], fitting)
    for low in sorted(firsts):
        for high in sorted(firsts):
            if low < high and firsts[low][1] > firsts[high][1]:
                return firsts[high], firsts[low]
    return None


def _shut_off(case: Case, heater: Heater, placed: list[Fitting], way: tuple[Step, ...]) -> tuple[str, str] | None:
    """A hand or powered valve between a vessel or relief valve and the heater, and what it shuts off."""
    ways = case.ways
    start = ways.elements[way[0][0]].a if way[0][1] else ways.elements[way[0][0]].b
    places = places_along(ways, start, way)
    drop = {k for k, _ in way} | beside(case, heater)
    for rank, index, part in placed:
        if rank != 4:
            continue
        seats = [e.a for e in ways.by_part[part] if e.does in (Behaviour.SEAL, Behaviour.RELIEF)]
        branch = shortest(ways, passing(ways, Ask.OPEN), seats, {places[index]}, drop=drop, walls=set(ways.bodies()))
        for key, _ in (*(branch or ()), *way[index:]):
            element = ways.elements[key]
            if element.does in (Behaviour.HAND, Behaviour.POWERED) and not ways.value(element.part, "locked_open"):
                return element.part, part
    return None
