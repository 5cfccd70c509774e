"""The rule of expansion vessels by size: what swells, what steams and the reserve, between two pressures."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.engineering.contents import contents, vessel_need
from loopwright.errors import FigureError
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways.waters import Water, waters

CLOSE = 0.9
"""Within a tenth of what is needed a small vessel is advice, not a fault."""
SOURCES = ("ev.formula", "ev.store", "ev.final", "ev.reserve", "ev.precharge")


@rule(
    "sealed/vessel-too-small",
    about="one sealed water with a vessel",
    yields_to=("sealed/no-vessel", "sealed/no-relief", "solid-fuel/sealed-water", "sealed/vented-and-sealed-joined"),
)
def vessel_too_small(case: Case) -> Iterator[Said]:
    """Vessels that cannot take what the water swells."""
    for water in waters(case.ways):
        if water.regime == "sealed" and water.vessels and (water.sources or water.fluid != "domestic"):
            yield from _judge(case, water)


def _judge(case: Case, water: Water) -> Iterator[Said]:
    ways = case.ways
    subject = water.sources[0].part if water.sources else water.vessels[0]
    if any(ways.value(s.part, "vessel_built_in") for s in water.sources):
        yield Missing(subject, "The size of the vessel built in is not known", subject)
        return
    for part, prop, words in [
        *((v, "volume_l", "volume") for v in water.vessels),
        *((v, "precharge_bar", "gas pressure") for v in water.vessels),
        *((r.part, "setting_bar", "set pressure") for r in water.reliefs),
    ]:
        if ways.number(part, prop) is None:
            yield case.lacks(subject, part, prop, words)
            return
    settings = [ways.number(r.part, "setting_bar") or 0.0 for r in water.reliefs]
    if not settings:
        return  # the rule on relief valves names it
    held, fitted = contents(ways, water), sum(ways.number(v, "volume_l") or 0.0 for v in water.vessels)
    try:
        least = _least_l(case, water, held.litres, min(settings))
        most = _least_l(case, water, held.litres + held.missing_at_most_l, min(settings))
    except FigureError as bad:
        yield Finding(
            severity=Severity.FAULT,
            subject=subject,
            culprits=water.vessels,
            path=(subject, *water.vessels),
            message=f"The vessel of {case.name(subject)} has no room: {bad.what[0].lower() + bad.what[1:]}.",
            todo=f"{bad.do}." if bad.do else "Lower the gas pressure.",
            sources=SOURCES,
        )
        return
    if fitted >= most - 1e-9:
        yield Sound(subject, f"{fitted:g} l of {least:.0f} l needed")
    elif fitted >= least - 1e-9:
        part, prop = held.missing[0]
        yield Missing(subject, f"{case.name(part)}: {prop.replace('_l', '').replace('_', ' ')} is missing", part, prop)
    else:
        close = fitted >= CLOSE * least
        yield Finding(
            severity=Severity.ADVICE if close else Severity.FAULT,
            subject=subject,
            culprits=water.vessels,
            path=(subject, *water.vessels),
            measured=fitted,
            limit=least,
            unit="l",
            message=f"{' and '.join(map(case.name, water.vessels))} "
            f"hold{'s' if len(water.vessels) == 1 else ''} {fitted:g} l; "
            f"{held.litres:.0f} l of water need {least:.0f} l.",
            todo=f"Fit a vessel of {least:.0f} l or more.",
            sources=(*SOURCES, "sol.vessel.holds") if water.fluid == "solar" else SOURCES,
        )


def _least_l(case: Case, water: Water, litres: float, relief_bar: float) -> float:
    """Least size of all vessels of a water together, in litres."""
    return vessel_need(case.ways, water, litres, relief_bar, case.limit("ev.precharge")).least_L
