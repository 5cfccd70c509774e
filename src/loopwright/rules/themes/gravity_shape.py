"""Rules of the shape of a fire's gravity loops: dips, humps without a vent, and the height of their sinks."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.examined import counts, examined
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import emitter_kw, fixed_loops
from loopwright.waterways.graph import Element, Key, Place, Source
from loopwright.waterways.loops import Loop
from loopwright.waterways.profile import LEVEL_M, Bend, Stop, dips, humps, stops
from loopwright.waterways.views import Ask, closable, passing
from loopwright.waterways.waters import is_vent_end

DIPS, UNVENTED, SHUT_IN = "flow dips", "hump without a vent", "hump whose vent can be shut"


class _Relief(msgspec.Struct, frozen=True):
    """How air leaves a hump: over an open vent, by an air vent, or not at all; and what can shut its way."""

    open: bool = False
    air_vent: str = ""
    shut: tuple[str, ...] = ()


def _relieved(case: Case, bend: Bend, keys: tuple[Key, ...]) -> _Relief:
    """How air leaves a hump past nothing that can shut; else past what can."""
    found = _rises(case, bend, keys, Ask.FIXED)
    return found if found.open or found.air_vent else _rises(case, bend, keys, Ask.OPEN)


def _rises(case: Case, bend: Bend, keys: tuple[Key, ...], ask: Ask) -> _Relief:
    ways, passes = case.ways, passing(case.ways, ask)
    sources = {s.key for s in ways.sources}
    ends = {e.port for e in ways.elements.values() if is_vent_end(ways, e)}
    ends |= set(ways.bodies("cistern"))  # air leaves by a feed that rises to its cistern as well
    stood: dict[Place, float] = {
        p: ways.at[p][1]
        for key in keys
        for p in (ways.elements[key].a, ways.elements[key].b)
        if abs(ways.at[p][1] - bend.at[1]) <= LEVEL_M + 1e-6
    }
    back: dict[Place, Element] = {}
    todo, vent = list(stood), ""
    while todo:  # only ways that never fall; a body stands at the height at which it was entered
        place = todo.pop()
        if place in ends:
            return _Relief(open=True, shut=_shut_on(case, back, place))
        for element in ways.links[place]:
            if element.part and ways.has_tag(element.part, "air_vent"):
                vent = vent or element.part
            if not passes[element.key] or element.key in sources or element.does is Behaviour.AIR_GAP:
                continue
            there = element.other(place)
            z = stood[place] if there[0] == "body" else ways.at[there][1]
            corners = [c[1] for c in ways.sheet.pipes[element.pipe].points] if element.pipe else []
            if there not in ends and min(z, *corners, z) < stood[place] - LEVEL_M:
                continue
            if there not in stood or z < stood[there] - 1e-9:
                stood[there], back[there] = z, element
                todo.append(there)
        if place[0] == "port" and ways.has_tag(place[1], "air_vent"):
            vent = vent or place[1]
    return _Relief(air_vent=vent)


def _shut_on(case: Case, back: dict[Place, Element], place: Place) -> tuple[str, ...]:
    """Parts on the way up to a vent that can shut it."""
    out: dict[str, None] = {}
    seen: set[Place] = set()
    while place in back and place not in seen:
        seen.add(place)
        element = back[place]
        if closable(case.ways, element):
            out[element.part] = None
        place = element.other(place)
    return tuple(out)


@rule(
    "gravity-loop/dips",
    about="one gravity loop",
    yields_to=("vent-and-feed/vent-dips", "solid-fuel/vent-can-close", "vent-and-feed/vent-can-close"),
)
def loop_dips(case: Case) -> Iterator[Said]:
    """A flow that dips, or a hump without a vent."""
    for source in case.ways.fires:
        done: set[Key] = set()
        for loop in examined(case, source):
            lie = _lie_of(case, loop)
            fresh = [(bend, words) for bend, words in lie.bad if bend.key not in done]
            done |= {bend.key for bend, _ in lie.bad}
            severe = counts(case, source, loop)
            if fresh:
                yield _dips(loop, lie, fresh, severe)
            elif lie.aired and severe:
                yield _aired(case, loop, *lie.aired[0])
            else:
                yield _low_return(case, loop, lie) or Sound(source.part, f"Loop through {case.name(loop.sink.part)}")


class _Lie(msgspec.Struct, frozen=True):
    """How a loop lies: bends that hold air, with what each is; those an air vent clears; what can shut a vent."""

    bad: list[tuple[Bend, str]]
    aired: list[tuple[Bend, str]]
    shut: tuple[str, ...]
    back: list[Stop]


def _lie_of(case: Case, loop: Loop) -> _Lie:
    flow, back = stops(case.ways, loop.flow_leg), stops(case.ways, loop.return_leg)
    bad: list[tuple[Bend, str]] = [(bend, DIPS) for bend in dips(flow) if bend.depth_m > LEVEL_M]
    aired: list[tuple[Bend, str]] = []
    shut: dict[str, None] = {}
    for bend in (*humps(flow), *humps(back)):
        if bend.depth_m <= LEVEL_M or _at_sink(case, loop, bend):
            continue
        relief = _relieved(case, bend, bend.keys)
        if relief.air_vent:
            aired.append((bend, relief.air_vent))
        elif not relief.open:
            bad.append((bend, UNVENTED))
        elif relief.shut:
            shut |= dict.fromkeys(relief.shut)
            bad.append((bend, SHUT_IN))
    return _Lie(bad, aired, tuple(shut), back)


def _dips(loop: Loop, lie: _Lie, fresh: list[tuple[Bend, str]], severe: bool) -> Finding:
    worst, words = max(fresh, key=lambda pair: pair[0].depth_m)
    own = [bend.key[1] for bend, what in fresh if what != SHUT_IN]
    mm = f"{worst.depth_m * 1000:.0f} mm"
    what = f"Gravity flow falls {mm}" if words == DIPS else f"Gravity loop has a {words}, {mm} high,"
    return Finding(
        severity=Severity.DANGER if severe else Severity.FAULT,
        subject=loop.source.part,
        culprits=tuple(dict.fromkeys((*own, *lie.shut))),
        path=loop.ids,
        spot=worst.at,
        message=f"{what} at x {worst.at[0]:.2f} m, height {worst.at[1]:.2f} m.",
        todo="Re-route it so that it climbs all the way, or vent the high point.",
        measured=round(worst.depth_m * 1000),
        limit=0,
        unit="mm",
        sources=("sf.primary.rise",),
    )


def _aired(case: Case, loop: Loop, bend: Bend, vent: str) -> Finding:
    return Finding(
        severity=Severity.ADVICE,
        subject=loop.source.part,
        culprits=(vent,),
        path=loop.ids,
        spot=bend.at,
        message=f"Only the air vent {case.name(vent)} keeps a hump of the gravity loop clear of air.",
        todo="Let the open vent rise from it instead.",
        sources=("air.auto.solid",),
    )


def _low_return(case: Case, loop: Loop, lie: _Lie) -> Finding | None:
    """A return that falls below the fire and rises into it."""
    source = loop.source
    low = min(lie.back, key=lambda stop: stop.z, default=None)
    port_z = min((case.ways.at[p][1] for p in source.return_ports), default=source.height_m)
    if low is None or low.z >= port_z - LEVEL_M or not any(dip.depth_m > LEVEL_M for dip in dips(lie.back)):
        return None
    return Finding(
        severity=Severity.ADVICE,
        subject=source.part,
        culprits=(low.key[1],),
        path=loop.ids,
        spot=low.at,
        message=f"Gravity return falls {(port_z - low.z) * 1000:.0f} mm below the stove's return and rises into it.",
        todo="A return that falls all the way to the stove circulates better.",
        measured=round((port_z - low.z) * 1000),
        unit="mm",
        sources=("sf.primary.rise",),
    )


def _at_sink(case: Case, loop: Loop, bend: Bend) -> bool:
    """Whether a hump ends at the sink itself: its air leaves by the emitter's own vent or to the vessel's top."""
    ways = case.ways
    ends = {
        p
        for key in bend.keys
        for p in (ways.elements[key].a, ways.elements[key].b)
        if p[0] == "port" and p[1] == loop.sink.part
    }
    return any(abs(ways.at[p][1] - bend.at[1]) <= LEVEL_M + 1e-6 for p in ends)


@rule(
    "gravity-loop/sink-too-low",
    about="one gravity loop",
    yields_to=("gravity-loop/dips", "tapping/flow-below-return", "tapping/coil-upside-down"),
)
def sink_too_low(case: Case) -> Iterator[Said]:
    """A sink that does not lie above the fire."""
    ways = case.ways
    for source in ways.fires:
        found = examined(case, source)
        heights = {loop.sink.key: _rise(case, source, loop) for loop in found}
        relied = [loop for loop in found if counts(case, source, loop)]
        alive = [loop for loop in fixed_loops(case, source) if _rise(case, source, loop)[0] > 0]
        for loop in found:
            cold, half = heights[loop.sink.key]
            if cold > 0 and half > 0:
                if cold < 1.0:  # the height that starts it: what the handbooks' figure measures
                    yield Finding(
                        severity=Severity.ADVICE,
                        subject=source.part,
                        culprits=(loop.sink.part,),
                        path=loop.ids,
                        message=f"{case.name(loop.sink.part)} lies only {cold:.2f} m above {case.name(source.part)};"
                        " 1.0 m is usual for gravity circulation.",
                        todo="Check the circulating pressure against the resistance of the pipes.",
                        measured=round(cold, 2),
                        limit=1.0,
                        unit="m",
                        sources=("sf.primary.head.min",),
                    )
                else:
                    yield Sound(source.part, f"Loop through {case.name(loop.sink.part)}")
                continue
            if not ways.typed(source.part, "thermal_centre_m") and abs(cold) < 0.1 and cold <= 0:
                yield case.lacks(source.part, source.part, "thermal_centre_m", "height of its thermal centre")
                continue
            danger = cold <= 0 and not alive and (loop in relied or not relied)
            measured = cold if cold <= 0 else half
            yield Finding(
                severity=Severity.DANGER if danger else Severity.FAULT,
                subject=source.part,
                culprits=(loop.sink.part,),
                path=loop.ids,
                message=f"{case.name(loop.sink.part)} lies {abs(measured):.2f} m "
                + ("below" if measured < 0 else "above")
                + f" {case.name(source.part)}: gravity moves no water"
                + (" once the store is half charged." if cold > 0 else "."),
                todo="Raise it, use upper tappings, or pump it and leave the heat leak to gravity.",
                measured=round(measured, 2),
                limit=0,
                unit="m",
                sources=("sf.primary.head.min",),
            )


def _rise(case: Case, source: Source, loop: Loop) -> tuple[float, float]:
    """Circulating height of a loop with its body cold and half charged, weighted by heat over sinks in series."""
    ways = case.ways
    series = {
        ways.elements[k].part: emitter_kw(case, ways.elements[k].part) or 0.1
        for k in loop.keys
        if ways.elements[k].does is Behaviour.EMITTER
    }
    sink = loop.sink
    if sink.sort == "body":
        flow_z = ways.at[_end_port(case, loop.flow_leg, -1)][1]
        back_z = ways.at[_end_port(case, loop.return_leg, 0)][1]
        own = (flow_z, (flow_z + back_z) / 2)
    else:
        own = (sink.height_m, sink.height_m)
    power = ways.number(source.part, "power_kw") or 1.0
    own_kw = emitter_kw(case, sink.part) or 0.1 if sink.sort == "emitter" else max(power - sum(series.values()), 0.1)
    total = own_kw + sum(series.values())
    middles = {s.part: s.height_m for s in ways.sinks if s.sort == "emitter"}
    rest = sum(kw * middles.get(part, own[0]) for part, kw in series.items())
    cold, half = ((own_kw * z + rest) / total - source.height_m for z in own)
    return cold, half


def _end_port(case: Case, leg: tuple[tuple[Key, bool], ...], at: int) -> tuple[str, ...]:
    """The tapping by which a leg enters (at -1) or leaves (at 0) a body."""
    key, forward = leg[at]
    element = case.ways.elements[key]
    return (element.a if forward else element.b) if at == -1 else (element.b if forward else element.a)
