"""Rules of order and sides: what each inlet of a mixing valve and each side of a loading unit meets first.

The order of vent, feed and pump, and of a mains inlet, is judged in `order_lines`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import culprit, share_of
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.warmth import cold_places, tap_coils
from loopwright.waterways.graph import Key, Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of


def outwards(case: Case, part: str, port: str) -> set[Place]:
    """What a port of a part meets in `open`: never through the part, a bypass, a sink or a source.

    Vessels are not crossed.
    """
    ways = case.ways
    drop: set[Key] = {e.key for e in ways.by_part.get(part, ())}
    drop |= ways.keys_doing(Behaviour.EMITTER, Behaviour.COIL, Behaviour.SOURCE)
    drop |= bypasses(case)
    return reach(ways, passing(ways, Ask.OPEN), [("port", part, port)], drop=drop, walls=set(ways.bodies()))


@kept
def bypasses(case: Case) -> frozenset[Key]:
    """Bypass valves and pipes: they join flow and return and tell nothing of either."""
    ways = case.ways
    return frozenset(
        e.key
        for e in ways.elements.values()
        if (ways.sheet.pipes[e.pipe].bypass if e.pipe else ways.has_tag(e.part, "bypass_valve"))
    )


@rule("order/mixing-valve-inlets", about="one mixing or return valve")
def mixing_valve_inlets(case: Case) -> Iterator[Said]:
    """Mixing valve with hot and cold exchanged."""
    ways = case.ways
    for part in ways.tagged("mixing_valve", "return_valve"):
        met = {name: outwards(case, part.id, name) for name in ("hot", "cold", "mixed")}
        if any(len(met[name]) == 1 for name in met):
            yield Missing(part.id, f"{case.name(part.id)} is not joined on every side", part.id)
            continue
        water = water_of(ways, ("port", part.id, "mixed"))
        taps = water is not None and water.fluid == "domestic" and not water.sources
        kind = _tap_heat if taps else _return_heat if ways.has_tag(part.id, "return_valve") else _load_heat
        hot, cold = kind(case, met["hot"]), kind(case, met["cold"])
        serves = any(ways.has_tag(p[1], "outlet") for p in met["mixed"])
        said: dict[str, Any] = {
            "severity": Severity.DANGER if serves else Severity.FAULT,
            "subject": part.id,
            "sources": ("warn.scald",) if serves else (),
        }
        hot_pipe, cold_pipe = culprit(case, part.id, "hot"), culprit(case, part.id, "cold")
        if hot is False and cold is True:
            yield Finding(
                **said,
                culprits=(part.id,),
                path=(part.id, hot_pipe, cold_pipe),
                message=f"{case.name(part.id)} gets hot water on its cold inlet and cold water on its hot inlet.",
                todo="Exchange the two inlets.",
            )
        elif taps and met["mixed"] & _supplies(case):
            yield Finding(
                **said,
                culprits=(part.id, culprit(case, part.id, "mixed")),
                path=(part.id, culprit(case, part.id, "mixed")),
                message=f"The mixed side of {case.name(part.id)} is joined to a cold supply.",
                todo="Join the supply to the cold inlet, and the taps to the mixed side.",
            )
        elif hot is None or cold is None:
            yield Missing(
                part.id,
                f"What {case.name(part.id)} gets on its {'hot' if hot is None else 'cold'} inlet is not to be seen",
                part.id,
            )
        else:
            yield Sound(part.id, "Each inlet meets its own water")


def _supplies(case: Case) -> set[Place]:
    return {("port", p.id, "a") for p in case.ways.tagged("mains")}


def _tap_heat(case: Case, met: set[Place]) -> bool | None:
    """True if tap water at an inlet is warmed (coil's hot end, or a vessel's body), False if cold supply alone."""
    ways = case.ways
    cold = {p for p in cold_places(case) if p[0] != "body"}  # a cylinder is fed cold and is warm all the same
    warmed = {hot for _e, _c, hot in tap_coils(case)}
    if met & warmed:
        return True
    if met & cold:
        return False
    return True if any(p[0] == "body" and ways.kind(p[1]).body != "cistern" for p in met) else None


def _load_heat(case: Case, met: set[Place]) -> bool | None:
    """True if an inlet meets a source's flow or a store, False if it meets a load's return."""
    ways = case.ways
    if any(s.hot in met for s in ways.sources):
        return True
    if any(s.sort == "emitter" and s.ends[1] in met for s in ways.sinks) or any(s.cold in met for s in ways.sources):
        return False
    return True if any(p[0] == "body" and ways.kind(p[1]).body != "cistern" for p in met) else None


def _return_heat(case: Case, met: set[Place]) -> bool | None:
    """True if an inlet meets a source's flow, False if it meets the store or a load's return without it."""
    ways = case.ways
    if any(s.hot in met for s in ways.sources):
        return True
    bodies = any(p[0] == "body" and ways.kind(p[1]).body != "cistern" for p in met)
    return False if bodies or any(s.ends[-1] in met for s in ways.sinks if s.sort != "body") else None


@rule("order/loading-unit-sides", about="one loading unit", yields_to=("circuit/open-end",))
def loading_unit_sides(case: Case) -> Iterator[Said]:
    """Loading unit with its sides exchanged."""
    ways = case.ways
    wanted = {
        "boiler_flow": "the boiler's flow",
        "bypass": "the boiler's flow",
        "boiler_return": "the boiler's return",
        "store_flow": "the store",
        "store_return": "the store's return",
    }
    for part in ways.tagged("loading_unit"):
        met = {name: outwards(case, part.id, name) for name in ways.ports[part.id]}
        loose = next((name for name, places in met.items() if len(places) == 1), None)
        if loose is not None:
            yield Missing(
                part.id, f"{case.name(part.id)}: {ways.ports[part.id][loose].label} is joined to nothing", part.id
            )
            continue
        wrong = [name for name, places in met.items() if not _meets(case, name, places, met)]
        if wrong:
            yield Finding(
                severity=Severity.FAULT,
                subject=part.id,
                sources=("sf.return.min.log",),
                path=(part.id,),
                culprits=tuple(dict.fromkeys(culprit(case, part.id, name) for name in wrong)),
                message=f"{case.name(part.id)}: its side “{ways.ports[part.id][wrong[0]].label}” does not meet "
                f"{wanted[wrong[0]]}.",
                todo="Swap the pipes of the sides that are exchanged.",
            )
        else:
            yield Sound(part.id, "Each side meets its own")


def _meets(case: Case, name: str, places: set[Place], met: dict[str, set[Place]]) -> bool:
    ways = case.ways
    hot, cold = any(s.hot in places for s in ways.sources), any(s.cold in places for s in ways.sources)
    if name in ("boiler_flow", "bypass"):
        return hot and not cold
    if name == "boiler_return":
        return cold and not hot
    if hot or cold:
        return name == "store_flow" and hot  # a flow teed on before the unit still comes by this side
    if name == "store_return":
        flow = _highest(case, met.get("store_flow", set()) | met.get("bypass", set()))
        own = _lowest(case, places)
        return flow is None or own is None or own < flow
    return True


def _shares(case: Case, places: set[Place]) -> list[float]:
    vessels = ("store", "cylinder")
    return [
        share_of(case, p[1], p[2])
        for p in places
        if p[0] == "port" and case.ways.kind(p[1]).body in vessels and p[2] in case.ways.ports[p[1]]
    ]


def _highest(case: Case, places: set[Place]) -> float | None:
    return max(_shares(case, places), default=None)


def _lowest(case: Case, places: set[Place]) -> float | None:
    return min(_shares(case, places), default=None)
