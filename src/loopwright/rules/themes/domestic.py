"""Rules of tap water at the taps: heating water at an outlet, hot water that scalds, ways round a mixing valve."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import load_circuits
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.warmth import Reach, can_exceed, cold_end, mixing_ways, tap_coils
from loopwright.sheet.values import Part
from loopwright.waterways.graph import Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach, shortest
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, water_of, waters
from loopwright.words import listed


@rule("domestic/primary-at-outlet", about="one tap or drinking cistern")
def primary_at_outlet(case: Case) -> Iterator[Said]:
    """Heating water at a tap."""
    ways = case.ways
    for water in waters(ways):
        drinkers = [p for p in sorted(water.parts) if ways.has_tag(p, "outlet")]
        drinkers += [c[1] for c in water.feeds if ways.kind(c[1]).fluid == "domestic"]
        if not drinkers:
            continue
        foul = _foul(case, water)
        if foul is None:
            yield Sound(drinkers[0], "Its water meets nothing but tap water")
            continue
        part, place, words = foul
        starts = [("port", drinkers[0], n) for n in ways.ports[drinkers[0]] if ("port", drinkers[0], n) in water.places]
        way = shortest(ways, passing(ways, Ask.OPEN), starts, {place}) or ()
        path = tuple(dict.fromkeys((drinkers[0], *(k[1] for k, _ in way), part)))
        yield Finding(
            severity=Severity.DANGER,
            subject=drinkers[0],
            culprits=(*drinkers, part),
            path=path,
            sources=("wr.sep.primary", "wr.cross"),
            message=f"{case.name(drinkers[0])} draws from {case.name(part)}: {words} and tap water are one water.",
            todo="Put a coil or a plate exchanger between the two waters.",
        )


def _foul(case: Case, water: Water) -> tuple[str, Place, str] | None:
    """What in a water no one may drink from: its part, a place of it, and what it is."""
    ways = case.ways
    for source in water.sources:
        if source.stops == "sun":
            return source.part, source.hot, "solar fluid"
        if not ways.value(source.part, "wholesome_rated"):
            return source.part, source.hot, "heating water"
    for key in sorted(water.elements):
        element = ways.elements[key]
        if element.does is Behaviour.EMITTER:
            return element.part, element.a, "heating water"
    for place in sorted(p for p in water.places if p[0] == "body"):
        kind = ways.kind(place[1])
        if kind.body == "header" or (kind.body == "store" and not ways.value(place[1], "wholesome_rated")):
            return place[1], place, "heating water"
    return None


# hot water at the taps


class Hot(msgspec.Struct, frozen=True, kw_only=True):
    """Where hot tap water comes from, and how a tap is reached from it."""

    starts: dict[Place, str]
    """Hot ends and draw-off tappings, with the vessel whose heat they carry."""
    raw: dict[str, set[Place]]
    """Per vessel: places its hot water reaches past no mixing valve."""


OUTLET_SORTS = ("bath", "shower", "basin", "sink")


def sort_of(case: Case, part: str) -> str:
    """bath, shower, basin or sink."""
    return next((s for s in OUTLET_SORTS if case.ways.has_tag(part, s)), "sink")


@kept
def hot_water(case: Case) -> Hot:
    """Hot ends of tap coils and plates, and draw-offs of cylinders, with what they reach unmixed."""
    ways = case.ways
    starts: dict[Place, str] = {}
    for element, _cold, hot in tap_coils(case):
        vessel = element.part if ways.kind(element.part).body else _plate_store(case, element.part)
        starts[hot] = vessel or element.part
    for body in ways.bodies("cylinder", "store"):
        water = water_of(ways, body)
        if water is None or water.fluid != "domestic" or (water.sources and ways.kind(body[1]).body != "cylinder"):
            continue
        inlet = _cold_inlet(case, body)
        starts.update({e.other(body): body[1] for e in ways.links[body] if e.other(body) != inlet})
    cut = ways.keys_doing(Behaviour.COIL, Behaviour.SOURCE) | mixing_ways(case)
    every, bodies = passing(ways, Ask.OPEN), set(ways.bodies())
    raw: dict[str, set[Place]] = {}
    for place, vessel in starts.items():
        raw.setdefault(vessel, set()).update(reach(ways, every, [place], drop=cut, walls=bodies))
    return Hot(starts=starts, raw=raw)


def _cold_inlet(case: Case, body: Place) -> Place | None:
    """The tapping of a cylinder that cold supply reaches first, without the body and its hot side."""
    ports = [e.other(body) for e in case.ways.links[body]]
    return cold_end(case, ("none",), [p for p in ports if p[0] == "port"])


def _plate_store(case: Case, plate: str) -> str | None:
    """The vessel that warms a plate exchanger."""
    return next((c.store for c in load_circuits(case) if c.subject == plate), None)


def mixed_places(case: Case) -> set[Place]:
    """Places reached from the mixed side of any mixing valve whose hot inlet hot tap water reaches."""
    ways = case.ways
    hot = set().union(*hot_water(case).raw.values()) if hot_water(case).raw else set()
    cut = ways.keys_doing(Behaviour.COIL, Behaviour.SOURCE) | mixing_ways(case)
    starts: list[Place] = [
        ("port", v.id, "mixed")
        for v in ways.tagged("mixing_valve")
        if ("port", v.id, "hot") in hot or ("port", v.id, "cold") in hot
    ]
    return reach(ways, passing(ways, Ask.OPEN), starts, drop=cut, walls=set(ways.bodies())) if starts else set()


def hot_inlets(case: Case, part: str) -> set[Place]:
    """The ports of an outlet at which hot water comes."""
    return {("port", part, name) for name in ("hot", "cold") if ("port", part, name) in case.ways.at}


def unmixed_from(case: Case, outlet: str) -> list[str]:
    """Vessels whose hot water reaches a tap past no mixing valve."""
    return [v for v, places in hot_water(case).raw.items() if places & hot_inlets(case, outlet)]


def limits_of(case: Case) -> tuple[float, float]:
    """The temperature a cylinder is held to (65), and the greatest at a bath (48), in degrees C."""
    return case.limit("g3.thermostat", last=True), case.limit("g3.bath")


@rule("domestic/scald-risk", about="one tap", yields_to=("domestic/primary-at-outlet", "order/mixing-valve-inlets"))
def scald_risk(case: Case) -> Iterator[Said]:
    """Hot water that can scald."""
    held, most = limits_of(case)
    mixed = mixed_places(case)
    alike: dict[tuple[float | None, tuple[str, ...]], list[Finding]] = {}
    for outlet in case.ways.tagged("outlet"):
        vessels = unmixed_from(case, outlet.id)
        is_mixed = bool(mixed & hot_inlets(case, outlet.id))
        if vessels and is_mixed:
            continue  # mixing-bypassed
        if vessels:
            said = _unmixed(case, outlet, vessels, held, most)
            if isinstance(said, Finding):
                alike.setdefault((said.limit, tuple(vessels)), []).append(said)
            else:
                yield said
        elif is_mixed:
            yield from _settings(case, outlet, most)
    for found in alike.values():
        yield _together(case, found)


def _together(case: Case, found: list[Finding]) -> Finding:
    """Taps that one missing valve leaves unguarded, as one finding. Its subject is the worst of them."""
    first = min(found, key=lambda f: (-f.severity, f.subject))
    if len(found) == 1:
        return first
    rest = [f for f in found if f is not first]
    names = [case.name(f.subject) for f in (first, *rest)]
    return msgspec.structs.replace(
        first,
        culprits=tuple(sorted(f.subject for f in found)),
        path=tuple(dict.fromkeys(p for f in found for p in f.path)),
        message=f"{listed(names)} get" + first.message[len(case.name(first.subject)) + 5 :],
    )


def _unmixed(case: Case, outlet: Part, vessels: list[str], held: float, most: float) -> Said:
    sort, name = sort_of(case, outlet.id), case.name(outlet.id)
    reached = {v: can_exceed(case, v, held) for v in vessels}
    vessel = next((v for v, r in reached.items() if r.yes), vessels[0])
    answer: Reach = reached[vessel]
    said: dict[str, Any] = {
        "subject": outlet.id,
        "culprits": (outlet.id,),
        "path": _way(case, vessel, outlet.id),
        "unit": "°C",
        "todo": "Put a thermostatic mixing valve before the first tap.",
    }
    if answer.yes:
        severity = Severity.FAULT if sort == "sink" or not answer.sure else Severity.DANGER
        heat = f", heated by {case.name(answer.by)}," if answer.by else ""
        return Finding(
            **said,
            severity=severity,
            limit=held,
            sources=("warn.scald", "g3.thermostat"),
            message=f"{name} gets water from {case.name(vessel)}{heat} with no mixing valve between; it can be "
            f"hotter than {held:g} °C.",
        )
    if sort == "bath":
        hotter = can_exceed(case, vessel, most)
        if hotter.yes:
            return Finding(
                **said,
                severity=Severity.FAULT,
                limit=most,
                sources=("g3.bath",),
                message=f"{name} gets water from {case.name(vessel)} with no mixing valve between; a bath wants at "
                f"most {most:g} °C.",
            )
    return Sound(outlet.id, f"What heats its water stops at {held:g} °C or less")


def _settings(case: Case, outlet: Part, most: float) -> Iterator[Said]:
    """The settings of the mixing valves that serve an outlet."""
    ways = case.ways
    sort = sort_of(case, outlet.id)
    key = f"tmv.{sort}"
    own = most if sort == "sink" else case.limit(key)
    cut = ways.keys_doing(Behaviour.COIL) | mixing_ways(case)
    near = reach(ways, passing(ways, Ask.OPEN), hot_inlets(case, outlet.id), drop=cut, walls=set(ways.bodies()))
    for valve in ways.tagged("mixing_valve"):
        if ("port", valve.id, "mixed") not in near:
            continue
        setting = ways.number(valve.id, "setting_c") if ways.typed(valve.id, "setting_c") else None
        if setting is None:
            yield case.lacks(outlet.id, valve.id, "setting_c", "setting")
            continue
        if setting <= own:
            yield from _supply(case, outlet, valve)
            continue
        limit = most if setting > most else own
        yield Finding(
            severity=Severity.FAULT if setting > most else Severity.ADVICE,
            subject=outlet.id,
            culprits=(valve.id,),
            path=(valve.id, outlet.id),
            measured=setting,
            limit=limit,
            unit="°C",
            sources=("g3.bath",) if setting > most else (key,),
            message=f"{case.name(valve.id)} is set to {setting:g} °C; {case.name(outlet.id)} wants {limit:g} °C.",
            todo=f"Set it to {own:g} °C.",
        )


def _supply(case: Case, outlet: Part, valve: Part) -> Iterator[Said]:
    ways = case.ways
    most = case.limit("tmv.supply", last=True)
    for vessel, places in hot_water(case).raw.items():
        design = ways.number(vessel, "design_temp_c") if vessel in ways.sheet.parts else None
        if ("port", valve.id, "hot") in places and design is not None and design > most:
            yield Finding(
                severity=Severity.ADVICE,
                subject=outlet.id,
                culprits=(valve.id,),
                path=(valve.id, vessel),
                measured=design,
                limit=most,
                unit="°C",
                sources=("tmv.supply",),
                message=f"{case.name(valve.id)} gets water at {design:g} °C; it is made for at most {most:g} °C.",
                todo="Hold the store cooler, or fit a valve made for it.",
            )
            return
    yield Sound(outlet.id, "A mixing valve serves it")


def _way(case: Case, vessel: str, outlet: str) -> tuple[str, ...]:
    """Ids from a vessel's hot side to a tap."""
    ways = case.ways
    starts = [p for p, v in hot_water(case).starts.items() if v == vessel]
    cut = ways.keys_doing(Behaviour.COIL) | mixing_ways(case)
    way = (
        shortest(ways, passing(ways, Ask.OPEN), starts, hot_inlets(case, outlet), drop=cut, walls=set(ways.bodies()))
        or ()
    )
    return tuple(dict.fromkeys((vessel, *(k[1] for k, _ in way), outlet)))


@rule("domestic/mixing-bypassed", about="one tap or mixing valve")
def mixing_bypassed(case: Case) -> Iterator[Said]:
    """Way round the mixing valve."""
    ways = case.ways
    held, _most = limits_of(case)
    mixed = mixed_places(case)
    told: set[str] = set()
    for outlet in ways.tagged("outlet"):
        if not mixed & hot_inlets(case, outlet.id):
            continue
        hot = [(v, can_exceed(case, v, held)) for v in unmixed_from(case, outlet.id)]
        by = next(((v, r) for v, r in hot if r.yes), None)
        if by is None:
            yield Sound(outlet.id, "No hot way round its mixing valve")
            continue
        vessel, answer = by
        way = _way(case, vessel, outlet.id)
        told |= set(way)
        yield Finding(
            severity=Severity.DANGER if answer.sure else Severity.FAULT,
            subject=outlet.id,
            path=way,
            culprits=tuple(p for p in way if p in ways.sheet.pipes) or (outlet.id,),
            sources=("g3.bath", "warn.scald"),
            limit=held,
            unit="°C",
            message=f"{case.name(outlet.id)} is reached both through a mixing valve and round it from "
            f"{case.name(vessel)}, which can be hotter than {held:g} °C.",
            todo="Move the tee to the mixed side of the valve.",
        )
    for valve in ways.tagged("mixing_valve"):
        water = water_of(ways, ("port", valve.id, "mixed"))
        if told or water is None or water.fluid != "domestic":
            continue
        for vessel, places in hot_water(case).raw.items():
            if {("port", valve.id, "hot"), ("port", valve.id, "mixed")} <= places and can_exceed(
                case, vessel, held
            ).yes:
                yield Finding(
                    severity=Severity.DANGER if can_exceed(case, vessel, held).sure else Severity.FAULT,
                    subject=valve.id,
                    culprits=(valve.id,),
                    path=(valve.id, vessel),
                    limit=held,
                    unit="°C",
                    sources=("g3.bath", "warn.scald"),
                    message=f"A pipe joins the hot inlet of {case.name(valve.id)} to its mixed side.",
                    todo="Take that pipe out.",
                )
