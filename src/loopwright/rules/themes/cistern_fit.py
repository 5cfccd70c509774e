"""The rule of what a cistern must stand and let go: hot water from a fire, and what a float valve lets in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.rules.bores import no_size, tube_of
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import fires
from loopwright.waterways.graph import Element, Place
from loopwright.waterways.profile import falls, stops
from loopwright.waterways.services import run_from
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import closable
from loopwright.waterways.waters import water_of, waters


@rule("vent-and-feed/cistern-unfit", about="one cistern, or one single-feed cylinder")
def cistern_unfit(case: Case) -> Iterator[Said]:
    """A cistern that cannot stand a stove's hot water, or a float valve without an overflow."""
    ways = case.ways
    hot: dict[str, str] = {}
    for source in fires(case):
        water = water_of(ways, source.hot)
        if water is None:
            continue
        for cistern in water.cisterns:
            hot.setdefault(cistern, source.part)
        for body in ways.bodies("cylinder"):
            vessel = body[1]
            in_it = {p[1] for p in water.places}
            if vessel in in_it and ways.value(vessel, "single_feed") is True:
                yield Finding(
                    severity=Severity.FAULT,
                    subject=vessel,
                    culprits=(vessel,),
                    path=(source.part, vessel),
                    message=f"{case.name(vessel)} is a single-feed cylinder on the water of {case.name(source.part)}.",
                    todo="Fit a cylinder with a feed of its own.",
                    sources=("sf.single_feed",),
                )
    used = sorted({c for w in waters(ways) for c in w.cisterns})
    for cistern in used:
        name = case.name(cistern)
        if cistern in hot:
            rated = ways.value(cistern, "hot_rated")
            stove = case.name(hot[cistern])
            if rated is None:
                yield Missing(cistern, f"{name}: whether it stands hot water is not answered", cistern, "hot_rated")
            elif rated is False:
                yield Finding(
                    severity=Severity.FAULT,
                    subject=cistern,
                    culprits=(cistern,),
                    path=(cistern, hot[cistern]),
                    message=f"{name} is not rated for hot water, and {stove} can send it near boiling.",
                    todo="Fit a cistern rated for hot water.",
                    sources=("sf.fe.rating",),
                )
            else:
                yield Sound(cistern)
        if ways.value(cistern, "float_valve") is not False and "overflow" in ways.ports[cistern]:
            yield _overflow(case, cistern)


def _overflow(case: Case, cistern: str) -> Said:
    """What is wrong with the overflow of a float valve's cistern: first whether water gets out, then how well."""
    ways = case.ways
    run = [ways.elements[k] for k in run_from(ways, ("port", cistern, "overflow"), ("way", cistern, "overflow"))]
    name = case.name(cistern)
    about: dict[str, Any] = {"severity": Severity.FAULT, "subject": cistern}
    shut = tuple(dict.fromkeys(e.part for e in run if closable(ways, e)))
    if shut:
        names = " and ".join(case.name(p) for p in shut)
        return Finding(
            **about,
            culprits=shut,
            path=(cistern, *(e.id for e in run)),
            message=f"{names} can shut the overflow of {name}.",
            todo=f"Take {names} out of the overflow.",
            sources=("fe.warning",),
        )
    pipes = [e for e in run if e.pipe and not ways.sheet.pipes[e.pipe].joint]
    if not pipes:
        return Finding(
            **about,
            culprits=(cistern,),
            path=(cistern,),
            message=f"{name} has a float valve and no overflow pipe.",
            todo=f"Draw an overflow of {case.limit('fe.overflow.bore'):g} mm bore or more, falling to the outside.",
            sources=("fe.warning", "fe.overflow.bore"),
        )
    return _narrow_overflow(case, cistern, pipes) or _rising_overflow(case, cistern, run) or Sound(cistern)


def _narrow_overflow(case: Case, cistern: str, pipes: list[Element]) -> Said | None:
    """An overflow that lets out less than the float valve may let in."""
    bore = case.limit("fe.overflow.bore")
    tubes = [(tube_of(case, e.pipe), e) for e in pipes]
    unknown = next((e.pipe for tube, e in tubes if tube is None), None)
    if unknown is not None:
        return no_size(case, cistern, unknown)
    found, thin = min(((tube, e) for tube, e in tubes if tube is not None), key=lambda pair: pair[0].bore_m)
    inlet = next((e.pipe for e in case.ways.links.get(("port", cistern, "float_in"), ()) if e.pipe), None)
    feeding = tube_of(case, inlet) if inlet is not None else None
    size = found.bore_m * 1e3
    small = size < bore - 0.01
    if not small and (feeding is None or found.bore_m > feeding.bore_m):
        return None
    needs = f"{bore:g} mm" if small else "more than its inlet"
    return Finding(
        severity=Severity.FAULT,
        subject=cistern,
        culprits=(thin.pipe,),
        path=(cistern, thin.pipe),
        message=f"Overflow of {case.name(cistern)} has a bore of {size:.1f} mm; it needs {needs}.",
        todo="Draw the overflow one size larger.",
        measured=size,
        limit=bore,
        unit="mm",
        sources=("fe.overflow.bore",),
    )


def _rising_overflow(case: Case, cistern: str, run: list[Element]) -> Finding | None:
    """An overflow that has to push its water up."""
    rises = falls(stops(case.ways, _backwards(("port", cistern, "overflow"), run)))
    if not rises:
        return None
    stop, metres = rises[0]
    return Finding(
        severity=Severity.FAULT,
        subject=cistern,
        culprits=(stop.key[1],),
        path=(cistern, *(e.id for e in run)),
        spot=stop.at,
        message=f"Overflow of {case.name(cistern)} rises by {metres * 1000:.0f} mm on its way out.",
        todo="Let it fall all the way to the outside.",
        measured=metres * 1000,
        limit=0.0,
        unit="mm",
        sources=("fe.warning",),
    )


def _backwards(start: Place, run: list[Element]) -> list[Step]:
    """A run as steps towards its start: what falls on the way out rises on the way back."""
    out: list[Step] = []
    for element in run:
        out.append((element.key, element.b == start))
        start = element.other(start)
    return out[::-1]
