"""Rules of tap water on its way in: room for heated mains water to swell, and nothing running back to the main."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.heaters import Heater, beside, mains_heaters
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways.graph import Place
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BOTH, FORWARD, Ask, Passing, passing


def pushed_back(case: Case, *, through_reducing: bool) -> Passing:
    """How swelling water may go: every way open, one-way ways forward alone; reducing valves back too, if asked."""
    ways = case.ways
    out = dict(passing(ways, Ask.OPEN))
    for key, element in ways.elements.items():
        if element.does is Behaviour.ONE_WAY:
            free = through_reducing and ways.has_tag(element.part, "reducing")
            out[key] = BOTH if free else FORWARD
    return out


def _cold_side(case: Case, heater: Heater, view: Passing) -> set[Place]:
    return reach(case.ways, view, [heater.cold], drop=beside(case, heater), walls=set(case.ways.bodies()))


def _hot_side(case: Case, heater: Heater, view: Passing) -> set[Place]:
    walls = set(case.ways.bodies()) - set(heater.inside)
    return reach(case.ways, view, heater.inside, drop=beside(case, heater), walls=walls)


def _has_mains(case: Case, places: set[Place]) -> bool:
    return any(case.ways.has_tag(p[1], "mains") for p in places)


@rule(
    "domestic/expansion-unprovided",
    about="one coil or vessel of heated mains water",
    yields_to=("domestic/unvented-no-relief",),
)
def expansion_unprovided(case: Case) -> Iterator[Said]:
    """No room for heated mains water to swell."""
    ways = case.ways
    view = pushed_back(case, through_reducing=False)
    for heater in mains_heaters(case):
        cold = _cold_side(case, heater, view)
        near = cold | _hot_side(case, heater, view)
        if _has_mains(case, cold):
            yield Sound(heater.part, "Its water swells back into the main")
            continue
        if any(ways.has_tag(p[1], "potable") for p in near) or ways.value(heater.part, "air_gap_internal"):
            yield Sound(heater.part, "It has room to swell")
            continue
        relieved = any(e.does is Behaviour.RELIEF and e.a in near for e in ways.elements.values())
        small = case.limit("store.vented.coil")
        if heater.is_coil and relieved:
            if heater.content_l is None:
                yield Missing(heater.part, f"{heater.words}: content is missing", heater.part, "content_l")
                continue
            if heater.content_l < small:
                yield Sound(heater.part, "A relief valve on its cold side will do for so small a coil")
                continue
        met = tuple(
            dict.fromkeys(
                e.part
                for e in ways.elements.values()
                if e.does is Behaviour.ONE_WAY and (e.b in cold) != (e.a in cold) and e.part
            )
        )
        yield Finding(
            severity=Severity.FAULT,
            subject=heater.part,
            culprits=met or (heater.part,),
            path=(heater.part, *met),
            sources=("store.vented.coil", "exp.60"),
            message=f"{heater.words} has no room for its water to swell: "
            f"{case.name(met[0]) if met else 'the supply'} shuts it off from the main and no vessel comes before it.",
            todo="Put a vessel for drinking water between the check valve and the heater.",
        )


@rule(
    "domestic/backflow-unprotected",
    about="one coil or vessel of heated mains water",
    yields_to=("sealed/filling-unprotected",),
)
def backflow_unprotected(case: Case) -> Iterator[Said]:
    """Heated water free to run back to the main."""
    view = pushed_back(case, through_reducing=True)
    for heater in mains_heaters(case):
        if not _has_mains(case, _cold_side(case, heater, view)):
            yield Sound(heater.part, "A check valve keeps its water from the main")
            continue
        pipe = next((e.pipe for e in case.ways.links[heater.cold] if e.pipe), heater.part)
        yield Finding(
            severity=Severity.FAULT,
            subject=heater.part,
            culprits=(pipe,),
            path=(heater.part, pipe),
            sources=("fc.2", "wr.feed.check"),
            message=f"{heater.words} can send heated water back into the main: no check valve stands between them.",
            todo="Put a check valve in the cold inlet, and a vessel for drinking water after it.",
        )
