"""The rule of the cooling water of a fire: where it comes from, what it serves, where it goes, and its pressure."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.cuts import least_cut
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, published, rule
from loopwright.rules.vents import feed_outlets, fires, line_m
from loopwright.waterways.graph import Element, Key, Place, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BOTH, FORWARD, Ask, Passing, passing
from loopwright.waterways.waters import Water, water_of, waters

PA_PER_M = 9806.65  # cold water, standard gravity: arithmetic
BAR = 1e5


@rule("solid-fuel/cooling-supply-can-fail", about="one thermal discharge valve", yields_to=("solid-fuel/sealed-water",))
def cooling_supply_can_fail(case: Case) -> Iterator[Said]:
    """Cooling water that can be shut off, needs a pump, is used for taps, or has nowhere to go."""
    for source in fires(case):
        coil = next((e for e in case.ways.by_part[source.part] if e.does is Behaviour.COIL), None)
        water = water_of(case.ways, source.hot)
        if coil is not None and water is not None:
            for valve in _discharge_valves(case, coil):
                yield _cooling(case, source, water, coil, valve)


def _discharge_valves(case: Case, coil: Element) -> list[Element]:
    """Thermal discharge valves next to a cooling coil, nothing of their kind between."""
    ways = case.ways
    valves = [e for e in ways.elements.values() if ways.has_tag(e.part, "thermal_discharge")]
    near = _from(case, passing(ways, Ask.OPEN), [coil.a, coil.b], {e.key for e in valves})
    return [e for e in valves if {e.a, e.b} & near]


def _supply_view(case: Case) -> Passing:
    """What may stand in a cooling supply: what never shuts, forward checks, hand valves locked open."""
    ways = case.ways
    out = dict(passing(ways, Ask.FIXED))
    out.update({e.key: FORWARD for e in ways.doing(Behaviour.ONE_WAY)})
    hand = ways.doing(Behaviour.HAND)
    out.update({e.key: BOTH for e in hand if ways.value(e.part, "locked_open") is True})
    return out


def _supplies(case: Case) -> dict[Place, str]:
    """Where cooling water may come from: the main, and the outlets of cisterns."""
    ways = case.ways
    out: dict[Place, str] = {}
    for part in ways.tagged("mains"):
        out.update({("port", part.id, name): part.id for name in ways.ports[part.id]})
    for water in waters(ways):
        for body in water.feeds:
            out.update(dict.fromkeys(feed_outlets(case, water, body[1]), body[1]))
    return out


class _Cooling(msgspec.Struct, frozen=True):
    """One discharge valve of a fire's coil: what is judged, and how gravely."""

    source: Source
    coil: Element
    valve: Element
    severity: Severity

    def wrong(self, message: str, todo: str, culprits: tuple[str, ...], *sources: str) -> Finding:
        """A finding on this valve."""
        return Finding(
            severity=self.severity,
            subject=self.valve.part,
            culprits=culprits,
            path=(self.source.part, self.valve.part, *culprits),
            message=message,
            todo=todo,
            sources=sources,
        )


def _cooling(case: Case, source: Source, water: Water, coil: Element, valve: Element) -> Said:
    """The first that is wrong with it, from the supply to the pressure."""
    severity = Severity.FAULT if water.regime == "vented" and not water.mixed else Severity.DANGER
    one = _Cooling(source, coil, valve, severity)
    supplies, view = _supplies(case), _supply_view(case)
    feeding = {place: part for place, part in supplies.items() if valve.a in _from(case, view, [place], {valve.key})}
    if not feeding:
        return _unfed(case, one, supplies)
    return _shared(case, one, feeding, supplies) or _endless(case, one) or _pressure(case, source, valve, feeding)


def _from(case: Case, view: Passing, begin: Collection[Place], drop: set[Key]) -> set[Place]:
    """Places reached in a view, cisterns not crossed."""
    return reach(case.ways, view, begin, drop=drop, walls=case.ways.bodies("cistern"))


def _after_valve(case: Case, one: _Cooling) -> tuple[set[Place], bool]:
    """What the valve lets its water into, and whether that is the coil: the valve may stand before it or after it."""
    every, coil, valve = passing(case.ways, Ask.OPEN), one.coil, one.valve
    after = _from(case, every, [valve.b], {valve.key, coil.key})
    through_coil = bool(after & {coil.a, coil.b})
    return (after | _from(case, every, [coil.a, coil.b], {valve.key})) if through_coil else after, through_coil


def _unfed(case: Case, one: _Cooling, supplies: dict[Place, str]) -> Finding:
    """No supply is sure to reach the valve: none is drawn, or something stands in it."""
    stove, valve = case.name(one.source.part), one.valve
    every = passing(case.ways, Ask.OPEN)
    drawn = [place for place in supplies if valve.a in _from(case, every, [place], {valve.key})]
    if not drawn:
        return one.wrong(
            f"No cold water reaches {case.name(valve.part)}, which should cool {stove}.",
            "Feed it by an unvalved branch of the public main or by gravity.",
            (valve.part,),
            "tdv.supply.valve",
        )
    cut = least_cut(case, _supply_view(case), [valve.a], drawn, drop={valve.key}, towards_near=True)
    pump = any(e.part in cut for e in case.ways.doing(Behaviour.PUMP))
    names = " and ".join(case.name(c) for c in cut)
    return one.wrong(
        f"Cooling water of {stove} passes {names}, which can {'stand still' if pump else 'be shut'}.",
        "Feed the discharge valve by an unvalved branch of the public main or by gravity.",
        cut or (valve.part,),
        "tdv.supply.source" if pump else "tdv.supply.valve",
    )


def _shared(case: Case, one: _Cooling, feeding: dict[Place, str], supplies: dict[Place, str]) -> Finding | None:
    """The coil also serves a tap."""
    ways, coil, valve = case.ways, one.coil, one.valve
    far, through_coil = _after_valve(case, one)
    if not through_coil:
        far = far | (_from(case, passing(ways, Ask.OPEN), [coil.a, coil.b], {valve.key}) - set(supplies))
    taps = sorted({p[1] for p in far if ways.has_tag(p[1], "outlet")})
    if not taps or not (through_coil or _beyond_coil(case, coil, valve, feeding, taps)):
        return None
    return one.wrong(
        f"The cooling coil of {case.name(one.source.part)} also serves {case.name(taps[0])}.",
        "Leave the coil to the discharge valve alone.",
        (taps[0],),
        "tdv.coil.only",
    )


def _endless(case: Case, one: _Cooling) -> Finding | None:
    """The warmed water has no open end to run to."""
    ways, coil, valve = case.ways, one.coil, one.valve
    begin = [valve.b, *((coil.a, coil.b) if _after_valve(case, one)[1] else ())]
    out = _from(case, passing(ways, Ask.FIXED), begin, {valve.key})
    if any(ways.has_tag(p[1], "tundish") or ways.has_tag(p[1], "discharge_point") for p in out):
        return None
    return one.wrong(
        f"{case.name(valve.part)} of {case.name(one.source.part)} has no open end to run to.",
        "Lead it over a tundish to a drain that takes near-boiling water.",
        (valve.part,),
        "tdv.discharge",
    )


def _beyond_coil(case: Case, coil: Element, valve: Element, feeding: dict[Place, str], taps: list[str]) -> bool:
    """Whether taps draw from the far end of the coil, not merely from the same main before it."""
    ways = case.ways
    ends = {("port", t, n) for t in taps for n in ways.ports[t]}
    direct = _from(case, passing(ways, Ask.OPEN), feeding, {coil.key, valve.key})
    return not ends & direct


def _pressure(case: Case, source: Source, valve: Element, feeding: dict[Place, str]) -> Said:
    """Pressure of the cooling water: of the main after a reducing valve, or of a cistern by its height."""
    ways = case.ways
    least, wanted = published("tdv.supply.min"), published("tdv.supply.min", last=True)
    found: list[float] = []
    for place, part in sorted(feeding.items()):
        if ways.kind(part).body == "cistern":
            line = line_m(case, part)
            if line is not None:
                found.append((line - ways.at[valve.a][1]) * PA_PER_M / BAR)
            continue
        bar = ways.number(part, "pressure_bar")
        if bar is None:
            return case.lacks(valve.part, part, "pressure_bar", "pressure")
        seen = _from(case, _supply_view(case), [place], {valve.key})
        settings = [ways.number(p[1], "setting_bar") for p in seen if ways.has_tag(p[1], "reducing")]
        found.append(min([bar, *(s for s in settings if s is not None)]))
    pressure = max(found, default=None)
    if pressure is None:
        return Missing(valve.part, f"Pressure of the water to {case.name(valve.part)} is missing", valve.part)
    if pressure >= wanted - 1e-6:
        return Sound(valve.part)
    low = pressure < least - 1e-6
    return Finding(
        severity=Severity.FAULT if low else Severity.ADVICE,
        subject=valve.part,
        culprits=(valve.part,),
        path=(source.part, valve.part),
        message=f"Cooling water reaches {case.name(valve.part)} at {pressure:.1f} bar;"
        f" {least if low else wanted:g} bar is {'needed' if low else 'asked for by some makers'}.",
        todo="Take the branch where the pressure is higher.",
        measured=pressure,
        limit=least if low else wanted,
        unit="bar",
        sources=("tdv.supply.min",),
    )
