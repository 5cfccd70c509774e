"""Rules of drain-down solar water: that all of it comes down when the pump stands, and goes up again when it runs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.bores import tube_of
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import LEVEL_STUB_M
from loopwright.waterways.graph import Place, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import shortest
from loopwright.waterways.profile import LEVEL_M, Stop, dips, level_runs, points_of, stops
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, waters

SHUTS = (Behaviour.HAND, Behaviour.POWERED, Behaviour.THERMAL, Behaviour.ONE_WAY)
"""What can keep water, or the air for it, from passing."""


class DrainDown(msgspec.Struct, frozen=True, kw_only=True):
    """A collector and the vessel that it drains into; steps run from the collector's ends to the vessel's body."""

    water: Water
    source: Source
    vessel: str
    line_m: float | None
    """Height of the vessel's water line on the sheet."""
    flow: tuple[Step, ...]
    back: tuple[Step, ...]
    """From the collector's lower end down to the vessel, against the pump."""

    @property
    def round(self) -> tuple[Step, ...]:
        """From the vessel up the return, through the collector, and down the flow."""
        up = tuple((key, not forward) for key, forward in reversed(self.back))
        return (*up, (self.source.key, True), *self.flow)

    @property
    def ids(self) -> tuple[str, ...]:
        """Parts and pipes to light."""
        return tuple(dict.fromkeys((self.source.part, self.vessel, *(k[1] for k, _ in (*self.back, *self.flow)))))


@kept
def drain_downs(case: Case) -> tuple[DrainDown, ...]:
    """Every collector that drains into a vessel."""
    return tuple(_find(case))


def _find(case: Case) -> Iterator[DrainDown]:
    ways = case.ways
    every = passing(ways, Ask.OPEN)
    for water in waters(ways):
        if water.regime != "drain-down":
            continue
        bodies: set[Place] = {b for b in ways.bodies("drain_vessel") if b in water.places}
        for source in water.sources:
            flow = shortest(ways, every, [source.hot], bodies, drop={source.key})
            back = shortest(ways, every, [source.cold], bodies, drop={source.key})
            if flow is None or back is None or source.stops != "sun":
                continue
            last = ways.elements[back[-1][0]]
            vessel = (last.b if back[-1][1] else last.a)[1]
            line = ways.number(vessel, "water_line_m")
            yield DrainDown(
                water=water,
                source=source,
                vessel=vessel,
                flow=flow,
                back=back,
                line_m=None if line is None else ways.sheet.parts[vessel].height_m + line,
            )


@rule("solar/drain-down-traps-water", about="one collector that drains down")
def traps_water(case: Case) -> Iterator[Said]:
    """A dip above the vessel's water, or both pipes shut off."""
    for found in drain_downs(case):
        part = found.source.part
        if found.line_m is None:
            yield case.lacks(part, found.vessel, "water_line_m", "cold water line")
            continue
        walk = stops(case.ways, found.round)
        yield (
            _stays_in_dip(case, found, walk, found.line_m)
            or _both_shut(case, found)
            or _runs_level(case, found, walk, found.line_m)
            or Sound(part, "All its water runs down")
        )


def _stays_in_dip(case: Case, found: DrainDown, walk: list[Stop], line_m: float) -> Finding | None:
    low = [b for b in dips(walk) if b.at[1] > line_m + LEVEL_M and b.key[1] != found.source.part]
    if not low:
        return None
    mm = low[0].depth_m * 1000
    return Finding(
        severity=Severity.FAULT,
        subject=found.source.part,
        culprits=tuple(dict.fromkeys(b.key[1] for b in low)),
        path=found.ids,
        spot=low[0].at,
        measured=mm,
        limit=0.0,
        unit="mm",
        message=f"Water of {case.name(found.source.part)} stays in a dip of {mm:.0f} mm and may freeze.",
        todo="Lay both pipes to fall all the way to the vessel.",
    )


def _both_shut(case: Case, found: DrainDown) -> Finding | None:
    """What can shut stands in either pipe: then no air comes in for the water that should go out."""
    ways = case.ways
    back, flow = (
        [ways.elements[k].part for k, _ in leg if ways.elements[k].does in SHUTS] for leg in (found.back, found.flow)
    )
    if not back or not flow:
        return None
    culprits = tuple(dict.fromkeys((*back, *flow)))
    return Finding(
        severity=Severity.FAULT,
        subject=found.source.part,
        culprits=culprits,
        path=found.ids,
        message=f"{' and '.join(map(case.name, culprits))} can shut both pipes of {case.name(found.source.part)}, so "
        "its water stays up.",
        todo="Leave one pipe free: air must come in as water goes out.",
    )


def _runs_level(case: Case, found: DrainDown, walk: list[Stop], line_m: float) -> Finding | None:
    level = [
        (stop, metres)
        for stop, metres in level_runs(walk)
        if metres > LEVEL_STUB_M and stop.at[1] > line_m and stop.key[1] != found.source.part
    ]
    if not level:
        return None
    long = sum(metres for _, metres in level)
    return Finding(
        severity=Severity.ADVICE,
        subject=found.source.part,
        culprits=tuple(dict.fromkeys(stop.key[1] for stop, _ in level)),
        path=found.ids,
        spot=level[0][0].at,
        measured=long,
        unit="m",
        message=f"{long:.1f} m of pipe to {case.name(found.source.part)} runs level and is not marked as graded.",
        todo="Grade it towards the vessel.",
    )


@rule(
    "solar/drain-down-cannot-fill",
    about="one collector that drains down",
    yields_to=("solar/drain-down-traps-water", "sealed/vented-and-sealed-joined"),
)
def cannot_fill(case: Case) -> Iterator[Said]:
    """Too little pump, too little room in the vessel, or something that has no place in such water."""
    for found in drain_downs(case):
        yield from (
            _stands_in(case, found)
            or _lift(case, found)
            or _room(case, found)
            or [Sound(found.source.part, "Pump and vessel are large enough")]
        )


def _stands_in(case: Case, found: DrainDown) -> list[Said]:
    ways = case.ways
    checks = [
        ways.elements[k].part for k, forward in found.back if ways.elements[k].does is Behaviour.ONE_WAY and not forward
    ]
    vents = [p for p in sorted(found.water.parts) if ways.has_tag(p, "air_vent")]
    loops = [e.part for e in found.water.fillings if ways.value(e.part, "hose_fitted") is not False]
    for parts, why in (
        (checks, "holds the water up"),
        (vents, "lets air in and steam out"),
        (list(found.water.vessels), "keeps the water under pressure"),
        (loops, "fills the air room that the collector drains into"),
    ):
        if parts:
            return [
                Finding(
                    severity=Severity.FAULT,
                    subject=found.source.part,
                    culprits=tuple(dict.fromkeys(parts)),
                    path=found.ids,
                    message=f"{case.name(parts[0])} {why}; it has no place in water that drains down.",
                    todo="Take it out.",
                )
            ]
    return []


def _lift(case: Case, found: DrainDown) -> list[Said]:
    """Whether the pumps, standing against no flow, lift the water to the collector's top."""
    ways, part = case.ways, found.source.part
    pumps = list(
        dict.fromkeys(
            ways.elements[k].part for k, _ in (*found.back, *found.flow) if ways.elements[k].does is Behaviour.PUMP
        )
    )
    if found.line_m is None or not pumps:
        return []
    heads = [ways.number(p, "head_m") for p in pumps]
    if any(h is None for h in heads):
        pump = pumps[heads.index(None)]
        return [case.lacks(part, pump, "head_m", "head at no flow")]
    head = sum(h or 0.0 for h in heads)
    lift = max(ways.at[p][1] for p in (*found.source.flow_ports, *found.source.return_ports)) - found.line_m
    if head >= lift:
        return []
    return [
        Finding(
            severity=Severity.FAULT,
            subject=part,
            culprits=tuple(pumps),
            path=found.ids,
            measured=head,
            limit=lift,
            unit="m",
            message=f"{' and '.join(map(case.name, pumps))} lift{'s' if len(pumps) == 1 else ''} water "
            f"by {head:.1f} m; the top of "
            f"{case.name(part)} is {lift:.1f} m above the vessel's water.",
            todo=f"Fit {lift - head:.1f} m more of head, or a second pump in line.",
        )
    ]


def _room(case: Case, found: DrainDown) -> list[Said]:
    """Whether the vessel's air room takes what drains back."""
    ways, part = case.ways, found.source.part
    room = ways.number(found.vessel, "air_room_l")
    held = [ways.number(s.part, "content_l") for s in found.water.sources]
    if room is None or found.line_m is None:
        prop = "air_room_l" if room is None else "water_line_m"
        return [
            Missing(
                part,
                f"{case.name(found.vessel)}: {'air room' if room is None else 'water line'} is missing",
                found.vessel,
                prop,
            )
        ]
    if None in held:
        source = found.water.sources[held.index(None)].part
        return [case.lacks(part, source, "content_l", "water content")]
    litres = sum(h or 0.0 for h in held)
    for key in found.water.elements:
        if key[0] == "pipe" and not ways.sheet.pipes[key[1]].joint:
            tube = tube_of(case, key[1])
            if tube is None:
                return [Missing(part, f"The size of {key[1]} is in no table", key[1], "size")]
            litres += tube.litres_per_m * _above_m(case, key[1], found.line_m)
    if litres <= room:
        return []
    return [
        Finding(
            severity=Severity.FAULT,
            subject=part,
            culprits=(found.vessel,),
            path=found.ids,
            measured=room,
            limit=litres,
            unit="l",
            message=f"{case.name(found.vessel)} has {room:.0f} l of air room; {litres:.0f} l drain back into it.",
            todo=f"Fit a vessel with {litres - room:.0f} l more of air room.",
        )
    ]


def _above_m(case: Case, pipe_id: str, line: float) -> float:
    """Developed length of a pipe above a height; what the section cannot show goes with the larger part."""
    points = points_of(case.ways, case.ways.elements["pipe", pipe_id])
    above = below = 0.0
    for (x0, z0), (x1, z1) in pairwise(points):
        length = abs(x1 - x0) + abs(z1 - z0)
        low, high = min(z0, z1), max(z0, z1)
        share = 1.0 if low >= line else 0.0 if high <= line else (high - line) / (high - low)
        above += share * length
        below += (1 - share) * length
    return above + (case.ways.sheet.pipes[pipe_id].extra_length_m if above >= below else 0.0)
