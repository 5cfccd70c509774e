"""Rules of the gravity loops of a fire: what stands in them, their shape, and the height of their sinks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.pumped import pumped_loops
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import Shedding, emitter_kw, fixed_loops, light, relied_on, shedders, shedding
from loopwright.waterways.graph import Element, Key, Place, Source
from loopwright.waterways.loops import Loop, blockers, loops
from loopwright.waterways.profile import LEVEL_M, Bend, dips, humps, stops
from loopwright.waterways.views import Ask, closable, gravity_ok, passing
from loopwright.waterways.waters import is_vent_end

SAME_QUESTION = ("solid-fuel/no-heat-leak", "solid-fuel/heat-leak-needs-power", "solid-fuel/heat-leak-can-be-shut")


def examined(case: Case, source: Source) -> list[Loop]:
    """Loops examined for shape and size: the fixed ones, and those blocked only by hand valves or named culprits.

    A flap counts as open, but for one that a pump has a way round: unless that flap is itself what the heat leak
    wants for, the pump drives that circuit and it needs neither rise nor bore.
    """
    memo = cast(dict[str, list[Loop]], case.ways.cache.setdefault("examined loops", {}))
    if source.part not in memo:
        ways, answer = case.ways, shedding(case, source)
        out = [loop for loop in fixed_loops(case, source) if loop.sink.sort != "plate"]
        have = {loop.sink.key for loop in out}
        pumped = {loop.sink.key for loop in pumped_loops(case, source)}
        for loop in loops(ways, source, Ask.OPEN):
            if loop.sink.key in have or loop.sink.sort == "plate":
                continue
            every = blockers(ways, loop)
            stop = [e for e in every if not gravity_ok(ways, e)]
            flaps = {e.part for e in every if gravity_ok(ways, e)} - set(answer.culprits)
            if flaps and loop.sink.key in pumped:
                continue
            if all(
                (e.does is Behaviour.HAND and not ways.has_tag(e.part, "emitter_valve")) or e.part in answer.culprits
                for e in stop
            ):
                out.append(loop)
        memo[source.part] = out
    return memo[source.part]


def counts(case: Case, source: Source, loop: Loop) -> bool:
    """Whether the loop is relied on, or is the one the shedding question names."""
    answer = shedding(case, source)
    named = answer.loop is not None and answer.loop.sink.key == loop.sink.key and bool(answer.slug)
    return named or relied_on(case, source, loop)


def _answered(case: Case, slug: str) -> Iterator[tuple[Source, Shedding, bool]]:
    for source in shedders(case):
        answer = shedding(case, source)
        yield source, answer, answer.slug == slug


def _step(case: Case, source: Source, answer: Shedding) -> Said:
    if answer.missing:
        part, prop, words = answer.missing
        return Missing(source.part, f"{case.name(part)}: {words} is missing", part, prop)
    return Sound(source.part, f"Step {answer.step}: {answer.because or 'another rule answers for this fire'}")


def _leak_finding(
    case: Case,
    source: Source,
    answer: Shedding,
    message: str,
    todo: str,
    sources: tuple[str, ...],
) -> Finding:
    return Finding(
        severity=Severity.FAULT if answer.softened else Severity.DANGER,
        subject=source.part,
        culprits=answer.culprits,
        path=light(case, answer.loop),
        message=message,
        todo=todo,
        measured=answer.fixed_kw,
        limit=answer.least_kw,
        unit="kW",
        sources=sources,
        step="5",
    )


@rule(
    "gravity-loop/isolating-valve",
    about="one fire and the valves on its loops",
    yields_to=("solid-fuel/vent-can-close", "solid-fuel/feed-can-close", *SAME_QUESTION[:2]),
)
def isolating_valve(case: Case) -> Iterator[Said]:
    """A hand valve that can shut a fire off from what takes its heat."""
    ways = case.ways
    for source, answer, mine in _answered(case, "gravity-loop/isolating-valve"):
        said = False
        named: set[str] = set()
        if mine and answer.worst is not None:
            named = set(answer.culprits)
            valve = case.name(answer.worst.part)
            yield _leak_finding(
                case,
                source,
                answer,
                f"{valve} can cut {case.name(source.part)} off from its heat leak"
                f" ({answer.fixed_kw:.2g} kW is left, {answer.least_kw:.3g} kW is needed).",
                "Take it out of the gravity loop.",
                ("sf.leak.valves",),
            )
            said = True
        unasked = source.stops == "residual" and answer.missing is not None
        for loop in loops(ways, source, Ask.OPEN) if not unasked else ():
            if loop.sink.sort not in ("body", "coil"):
                continue
            stop = blockers(ways, loop)
            hands = [e for e in stop if e.does is Behaviour.HAND and not ways.has_tag(e.part, "emitter_valve")]
            if not hands or len(hands) != len(stop):
                continue
            for hand in hands:
                if hand.part in named:
                    continue
                named.add(hand.part)
                locked = bool(ways.value(hand.part, "locked_open"))
                yield Finding(
                    severity=Severity.ADVICE if locked else Severity.FAULT,
                    subject=source.part,
                    culprits=(hand.part,),
                    path=light(case, loop),
                    message=f"{case.name(hand.part)} can shut the gravity loop between {case.name(source.part)}"
                    f" and {case.name(loop.sink.part)}.",
                    todo="Take it out, or put it outside the loop.",
                    sources=("sf.leak.valves", "sf.isolate.stove"),
                )
                said = True
        if not said:
            yield _step(case, source, answer)


@rule("gravity-loop/pump-in-line", about="one fire", yields_to=("solid-fuel/heat-leak-needs-power",))
def pump_in_line(case: Case) -> Iterator[Said]:
    """A pump with no free way round it, in the loop that would shed enough."""
    for source, answer, mine in _answered(case, "gravity-loop/pump-in-line"):
        if not mine or answer.worst is None:
            yield _step(case, source, answer)
            continue
        yield _leak_finding(
            case,
            source,
            answer,
            f"{case.name(answer.worst.part)} stands in the heat leak of {case.name(source.part)};"
            " in a power cut it blocks the only loop that sheds enough.",
            "Move the pump to a pumped branch.",
            ("sf.leak.power",),
        )


@rule(
    "gravity-loop/spring-check",
    about="one fire and the check valves on its loops",
    yields_to=(
        *SAME_QUESTION,
        "gravity-loop/pump-in-line",
        "gravity-loop/isolating-valve",
        "solid-fuel/vent-can-close",
        "solid-fuel/feed-can-close",
        "circuit/pump-backwards",
        "order/loading-unit-sides",
    ),
)
def spring_check(case: Case) -> Iterator[Said]:
    """A check valve that buoyancy cannot open, or that faces the wrong way."""
    ways = case.ways
    for source, answer, mine in _answered(case, "gravity-loop/spring-check"):
        named: set[str] = set()
        if mine and answer.worst is not None:
            named = set(answer.culprits)
            yield _leak_finding(
                case,
                source,
                answer,
                f"{case.name(answer.worst.part)} holds the heat leak of {case.name(source.part)} shut;"
                " buoyancy cannot open it.",
                "Take it out, or fit a light flap that opens towards the stove.",
                ("sf.primary.drive", "sf.link.nrv"),
            )
        unasked = source.stops == "residual" and answer.missing is not None
        for loop in loops(ways, source, Ask.OPEN) if not unasked else ():
            stop = blockers(ways, loop)
            alone = all(e.does is Behaviour.ONE_WAY for e in stop)
            if any(e.does is Behaviour.PUMP for e in stop):
                continue
            directions = dict(loop.steps)
            for check in (e for e in stop if e.does is Behaviour.ONE_WAY):
                wrong_way = not directions[check.key]
                # where something else can shut the loop, only what faces back is wrong once that is open
                if check.part in named or (not wrong_way and (gravity_ok(ways, check) or not alone)):
                    continue
                named.add(check.part)
                yield Finding(
                    severity=Severity.FAULT,
                    subject=source.part,
                    culprits=(check.part,),
                    path=light(case, loop),
                    message=f"{case.name(check.part)} "
                    + ("faces against" if wrong_way else "holds shut")
                    + f" the gravity loop of {case.name(source.part)}.",
                    todo="Turn it round." if wrong_way else "Take it out, or fit a light flap.",
                    sources=("sf.primary.drive", "sf.link.nrv"),
                )
        if not named:
            yield _step(case, source, answer)


@rule(
    "gravity-loop/flap-only-way",
    about="one fire",
    yields_to=(
        *SAME_QUESTION,
        "gravity-loop/pump-in-line",
        "gravity-loop/isolating-valve",
        "gravity-loop/spring-check",
        "solid-fuel/sealed-water",
    ),
)
def flap_only_way(case: Case) -> Iterator[Said]:
    """A moving part in the last way out."""
    for source, answer, mine in _answered(case, "gravity-loop/flap-only-way"):
        if not mine or answer.worst is None:
            yield _step(case, source, answer)
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=answer.culprits,
            path=light(case, answer.loop),
            message=f"{case.name(answer.worst.part)} stands with its flap in the last way out of"
            f" {case.name(source.part)}.",
            todo="Add a heat leak without valves, or a cooling coil with its discharge valve.",
            step="5",
        )


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
    ends = {(e.a if e.a[0] == "port" else e.b) for e in ways.elements.values() if is_vent_end(ways, e)}
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
def dips_rule(case: Case) -> Iterator[Said]:
    """A flow that dips, or a hump without a vent."""
    ways = case.ways
    for source in ways.fires:
        done: set[Key] = set()
        for loop in examined(case, source):
            severe = counts(case, source, loop)
            flow = stops(ways, loop.flow_leg)
            back = stops(ways, loop.return_leg)
            bad: list[tuple[Bend, str]] = [(b, "flow dips") for b in dips(flow) if b.depth_m > LEVEL_M]
            auto: list[tuple[Bend, str]] = []
            shut: dict[str, None] = {}
            for bend in (*humps(flow), *humps(back)):
                if bend.depth_m <= LEVEL_M:
                    continue
                if _at_sink(case, loop, bend):
                    continue
                relief = _relieved(case, bend, bend.keys)
                if relief.air_vent:
                    auto.append((bend, relief.air_vent))
                elif not relief.open:
                    bad.append((bend, "hump without a vent"))
                elif relief.shut:
                    shut |= dict.fromkeys(relief.shut)
                    bad.append((bend, "hump whose vent can be shut"))
            fresh = [(b, w) for b, w in bad if b.key not in done]
            done |= {b.key for b, _ in bad}
            low = min((s for s in back), key=lambda s: s.z, default=None)
            port_z = min(ways.at[p][1] for p in source.return_ports) if source.return_ports else source.height_m
            if fresh:
                worst, words = max(fresh, key=lambda pair: pair[0].depth_m)
                own = [b.key[1] for b, w in fresh if w != "hump whose vent can be shut"]
                culprits = tuple(dict.fromkeys((*own, *shut)))
                what = (
                    f"Gravity flow falls {worst.depth_m * 1000:.0f} mm"
                    if words == "flow dips"
                    else f"Gravity loop has a {words}, {worst.depth_m * 1000:.0f} mm high,"
                )
                yield Finding(
                    severity=Severity.DANGER if severe else Severity.FAULT,
                    subject=source.part,
                    culprits=culprits,
                    path=light(case, loop),
                    spot=worst.at,
                    message=f"{what} at x {worst.at[0]:.2f} m, height {worst.at[1]:.2f} m.",
                    todo="Re-route it so that it climbs all the way, or vent the high point.",
                    measured=round(worst.depth_m * 1000),
                    limit=0,
                    unit="mm",
                    sources=("sf.primary.rise",),
                )
            elif auto and severe:
                bend, vent = auto[0]
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=source.part,
                    culprits=(vent,),
                    path=light(case, loop),
                    spot=bend.at,
                    message=f"Only the air vent {case.name(vent)} keeps a hump of the gravity loop clear of air.",
                    todo="Let the open vent rise from it instead.",
                    sources=("air.auto.solid",),
                )
            elif low is not None and low.z < port_z - LEVEL_M and any(d.depth_m > LEVEL_M for d in dips(back)):
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=source.part,
                    culprits=(low.key[1],),
                    path=light(case, loop),
                    spot=low.at,
                    message=f"Gravity return falls {(port_z - low.z) * 1000:.0f} mm below the stove's return"
                    " and rises into it.",
                    todo="A return that falls all the way to the stove circulates better.",
                    measured=round((port_z - low.z) * 1000),
                    unit="mm",
                    sources=("sf.primary.rise",),
                )
            else:
                yield Sound(source.part, f"Loop through {case.name(loop.sink.part)}")


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
                        path=light(case, loop),
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
                yield Missing(
                    source.part,
                    f"{case.name(source.part)}: height of its thermal centre is missing",
                    source.part,
                    "thermal_centre_m",
                )
                continue
            danger = cold <= 0 and not alive and (loop in relied or not relied)
            measured = cold if cold <= 0 else half
            yield Finding(
                severity=Severity.DANGER if danger else Severity.FAULT,
                subject=source.part,
                culprits=(loop.sink.part,),
                path=light(case, loop),
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
