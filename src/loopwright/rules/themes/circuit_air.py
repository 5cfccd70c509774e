"""Rules of circuits by height: high points where air collects, and waters that cannot be drained.

One sweep from the top of each water joins its height points; where two pockets meet, the one without a way out has its
depth. Dead ends are left out, and so is what stands above the cold water line. Not assessed: the tops of coils and of
appliances, whose makers vent them, and each shut-off region's own drain. Velocity is that at design power.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering.pipes import bore_m, velocity_m_s
from loopwright.engineering.water import specific_heat_J_kgK
from loopwright.errors import LoopwrightError
from loopwright.rules.circuits import load_circuits
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.sheet.values import Point
from loopwright.waterways.loops import loops
from loopwright.waterways.profile import LEVEL_M, points_of
from loopwright.waterways.views import Ask
from loopwright.waterways.waters import Water, is_vent_end, waters

NOISE_M = 0.05
"""Common practice, no source: a shallower pocket is how the line was drawn, not how the pipe will lie."""

Spot = tuple[str, ...]
"""A place, or ("bend", pipe, number)."""


class Pocket(msgspec.Struct, frozen=True):
    """Trapped air: what it lies in, where, how deep, and whether it is a vessel's own top."""

    ids: tuple[str, ...]
    at: Point
    depth_m: float
    vessel: bool


@rule(
    "circuit/air-trap",
    about="one pumped water",
    yields_to=("gravity-loop/dips", "vent-and-feed/vent-dips", "tapping/vent-not-top"),
)
def air_trap(case: Case) -> Iterator[Said]:
    """High point where air collects."""
    ways = case.ways
    by_gravity = _gravity_keys(case)
    for water in waters(ways):
        pumped = sorted(water.elements & ways.keys_doing(Behaviour.PUMP))
        if water.fluid == "domestic" or water.regime == "drain-down" or not pumped:
            continue
        subject = ways.elements[pumped[0]].part
        pockets = [p for p in air_pockets(case, water) if not by_gravity & set(p.ids)]
        for pocket in pockets:
            name = case.name(pocket.ids[0]) if pocket.ids[0] in ways.sheet.parts else "A pipe"
            yield Finding(
                severity=Severity.ADVICE if pocket.vessel or _swept(case, pocket) else Severity.FAULT,
                subject=pocket.ids[0],
                culprits=pocket.ids,
                path=pocket.ids,
                spot=pocket.at,
                measured=pocket.depth_m,
                limit=NOISE_M,
                unit="m",
                sources=("air.store",) if pocket.vessel else ("air.high", "vel.min"),
                message=f"{name} holds air at {pocket.at[1]:.2f} m: {pocket.depth_m:.2f} m high and no way out.",
                todo="Put an air vent at the top.",
            )
        if not pockets:
            yield Sound(subject, "Air finds a way out of every high point")


def _swept(case: Case, pocket: Pocket) -> bool:
    """Whether water runs fast enough at a pocket's pipe to carry air on: its circuit's power, return 20 K cooler."""
    ways = case.ways
    pipe = ways.sheet.pipes.get(pocket.ids[0])
    if pipe is None:
        return False
    key = ("pipe", pipe.id)
    watts = max((ways.number(c.subject, "output_w") or 0.0 for c in load_circuits(case) if key in c.keys), default=0.0)
    for source in ways.sources:
        if any(key in loop.keys for loop in loops(ways, source, Ask.OPEN)):
            watts = max(watts, (ways.number(source.part, "power_kw") or 0.0) * 1000)
    try:
        bore = bore_m(pipe.size, pipe.material)
    except LoopwrightError:
        return False
    flow_kg_s = watts / (float(specific_heat_J_kgK(60.0)) * case.limit("dt.rad", last=True))
    return velocity_m_s(flow_kg_s, bore) >= case.limit("vel.min")


def _gravity_keys(case: Case) -> set[str]:
    """Pipes and parts of the pumpless loops of fires, which gravity-loop/dips examines."""
    ways = case.ways
    out: set[str] = set()
    for source in ways.fires:
        for loop in loops(ways, source, Ask.OPEN):
            if not any(ways.elements[k].does is Behaviour.PUMP for k in loop.keys):
                out |= {k[1] for k in loop.keys if k[0] == "pipe"}
    return out


def air_pockets(case: Case, water: Water) -> list[Pocket]:
    """Pockets of a water deeper than NOISE_M, deepest first."""
    return _sweep(case, water)


def _sweep(case: Case, water: Water) -> list[Pocket]:
    height, links, owner, at = _height_points(case, water)
    free = _ways_out(case, water, height)
    _prune(links, free)
    parent: dict[Spot, Spot] = {}
    members: dict[Spot, list[Spot]] = {}
    top: dict[Spot, Spot] = {}
    vented: dict[Spot, bool] = {}
    out: list[Pocket] = []

    def root(spot: Spot) -> Spot:
        while parent[spot] != spot:
            parent[spot] = parent[parent[spot]]
            spot = parent[spot]
        return spot

    def close(group: Spot, level: float) -> None:
        peak = top[group]
        depth = height[peak] - level
        plateau = [s for s in members[group] if height[peak] - height[s] <= LEVEL_M]
        appliance = any(s[0] in ("port", "inner") and case.ways.kind(s[1]).large for s in plateau)
        if not vented[group] and not appliance and depth > NOISE_M + LEVEL_M:
            out.append(Pocket(owner[peak], at[peak], depth, peak[0] == "top"))

    lowest = min((height[s] for s in links), default=0.0)
    for spot in sorted(links, key=lambda s: (-height[s], s)):
        parent[spot], top[spot], vented[spot], members[spot] = spot, spot, spot in free, [spot]
        for other in links[spot]:
            if other not in parent:
                continue
            one, two = root(spot), root(other)
            if one == two:
                continue
            keep, lose = (one, two) if _outlives(height, vented, top, one, two) else (two, one)
            close(lose, height[spot])
            parent[lose] = keep
            members[keep] += members[lose]
            vented[keep] = vented[keep] or vented[lose]
            if height[top[lose]] > height[top[keep]] + LEVEL_M:
                top[keep] = top[lose]
    for group in {root(s) for s in parent}:
        close(group, lowest)
    return sorted(out, key=lambda p: (-p.depth_m, p.ids))


def _prune(links: dict[Spot, list[Spot]], free: set[Spot]) -> None:
    """Dead ends taken away, those that let air out excepted: no water runs there, so no air is carried there."""
    todo = [s for s, near in links.items() if len(near) <= 1 and s not in free and s[0] != "top"]
    while todo:
        spot = todo.pop()
        for other in links.pop(spot, []):
            links[other].remove(spot)
            if len(links[other]) == 1 and other not in free and other[0] != "top":
                todo.append(other)


def _outlives(height: dict[Spot, float], vented: dict[Spot, bool], top: dict[Spot, Spot], one: Spot, two: Spot) -> bool:
    """Of two pockets that meet, the vented one goes on, else the higher one."""
    if vented[one] != vented[two]:
        return vented[one]
    return height[top[one]] >= height[top[two]]


def _height_points(
    case: Case, water: Water
) -> tuple[dict[Spot, float], dict[Spot, list[Spot]], dict[Spot, tuple[str, ...]], dict[Spot, Point]]:
    """Every place, bend and body top of a water, with its neighbours, whose it is, and where."""
    ways = case.ways
    height: dict[Spot, float] = {}
    links: dict[Spot, list[Spot]] = {}
    owner: dict[Spot, tuple[str, ...]] = {}
    at: dict[Spot, Point] = {}

    def put(spot: Spot, point: Point, ids: tuple[str, ...]) -> None:
        if spot not in height:
            height[spot], links[spot], owner[spot], at[spot] = point[1], [], ids, point

    def join(one: Spot, two: Spot) -> None:
        links[one].append(two)
        links[two].append(one)

    for place in sorted(water.places):
        point = ways.at[place]
        if place[0] == "body":
            put(("top", place[1]), (point[0], ways.body_range(place[1])[1]), (place[1],))
        else:
            put(place, point, (place[1],))
    for key in sorted(water.elements):
        element = ways.elements[key]
        if element.a not in water.places or element.b not in water.places:
            continue
        if "body" in (element.a[0], element.b[0]):
            body, port = (element.a, element.b) if element.a[0] == "body" else (element.b, element.a)
            join(port, ("top", body[1]))  # air from a tapping rises inside the body to its top
            continue
        last: Spot = element.a
        points = points_of(ways, element)
        for number, point in enumerate(points[1:-1]):
            bend: Spot = ("bend", element.pipe or element.part, str(number))
            put(bend, point, (element.pipe or element.part,))
            join(last, bend)
            last = bend
        join(last, element.b)
    for spot, ids in list(owner.items()):  # a peak at a port lies in the pipe there
        pipe = next((e.pipe for e in ways.links.get(spot, ()) if e.pipe), None)
        if pipe and spot[0] == "port" and not ways.kind(spot[1]).large:
            owner[spot] = (pipe, *ids)
    return height, links, owner, at


def _ways_out(case: Case, water: Water, height: dict[Spot, float]) -> set[Spot]:
    """Points where air leaves: vent ends, feed outlets, air vents, emitters and appliances with their own vent."""
    ways = case.ways
    lines = [ways.sheet.parts[c].height_m + (ways.number(c, "water_line_m") or 0.0) for c in water.cisterns]
    line = min(lines, default=None)
    out: set[Spot] = {s for s, z in height.items() if line is not None and z >= line - LEVEL_M}
    for place in water.places:
        part = place[1]
        if place[0] == "body":
            continue
        spills = any(is_vent_end(ways, e) for e in ways.links[place] if e.does is Behaviour.AIR_GAP)
        open_air = ways.has_tag(part, "air_vent") or ways.has_tag(part, "own_air_vent")
        if spills or open_air or ways.kind(part).body == "cistern":
            out.add(place)
    return out


@rule("circuit/no-drain", about="one heating water")
def no_drain(case: Case) -> Iterator[Said]:
    """Lowest point without a drain cock."""
    ways = case.ways
    for water in waters(ways):
        if water.fluid != "heating" or water.regime == "drain-down" or not water.sources:
            continue  # tap water runs out at its taps, a collector through its pump unit
        drains = [ways.at[p][1] for p in water.places if p[0] == "port" and ways.has_tag(p[1], "drain")]
        lowest = min(drains, default=None)
        fires = [s for s in water.sources if s.stops == "fire"]
        for source in fires:
            back = min(ways.at[p][1] for p in source.return_ports)
            if lowest is not None and lowest <= back + LEVEL_M:
                yield Sound(source.part, "A drain cock stands at or below its return")
                continue
            where = "no drain cock" if lowest is None else f"its lowest drain cock at {lowest:.2f} m"
            yield Finding(
                severity=Severity.FAULT,
                subject=source.part,
                culprits=(source.part,),
                path=(source.part,),
                measured=lowest,
                limit=back,
                unit="m",
                sources=("sf.drain",),
                message=f"{case.name(source.part)} has {where}; its return is at {back:.2f} m.",
                todo="Put a drain cock on its return, at the lowest point.",
            )
        if fires:
            continue
        source = water.sources[0]
        if lowest is None:
            yield Finding(
                severity=Severity.ADVICE,
                subject=source.part,
                culprits=(source.part,),
                path=(source.part,),
                sources=("drain.low",),
                message=f"The water of {case.name(source.part)} has no drain cock.",
                todo="Put a drain cock at the lowest point.",
            )
        else:
            yield Sound(source.part, "It has a drain cock")
