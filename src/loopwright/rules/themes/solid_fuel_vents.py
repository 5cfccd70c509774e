"""Rules of a fire's safeguards: open vent, feed, relief valve, and what a fire on sealed water needs.

The supply of cooling water is judged in `solid_fuel_water`.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.rules.cooling import cooling_lacks
from loopwright.rules.cuts import least_cut
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.relief import built_in_relief, reliefs_reached
from loopwright.rules.vents import (
    bare,
    feed_outlets,
    fires,
    is_piped,
    least_fall,
    line_m,
    open_tops,
    own,
    refilled,
    runs,
    starts,
    vent_targets,
    vents_reached,
)
from loopwright.waterways.graph import Element, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.views import SHUT, Ask, closable, passing
from loopwright.waterways.waters import Water, water_of
from loopwright.words import listed


def _waters_of_fires(case: Case) -> Iterator[tuple[Source, Water]]:
    """Each fire that is piped, with its own water. One just put on the sheet is an open end, not yet a danger."""
    for source in fires(case):
        water = water_of(case.ways, source.hot)
        if water is not None and is_piped(case, source.part):
            yield source, water


def sealed_lacks(case: Case, source: Source, water: Water) -> tuple[list[str], bool]:
    """What an accepted sealed fire still lacks, in words, and whether the maker's leave was never answered.

    A source with only heat left over (pellets) does without cooling coil and its supply.
    """
    ways = case.ways
    lacks: list[str] = []
    leave = ways.value(source.part, "sealed_allowed")
    if leave is False:
        lacks.append("the maker's leave")
    if source.stops == "fire":
        cooling = cooling_lacks(case, source)
        if cooling:
            lacks.append(
                "a cooling coil with a thermal discharge valve"
                if cooling.startswith("no ")
                else "cooling water that cannot fail"
            )
    fixed = passing(ways, Ask.FIXED)
    if not (built_in_relief(case, source) or reliefs_reached(case, water, [source.hot, source.cold], fixed)):
        lacks.append("a relief valve that nothing can shut off")
    if not (water.vessels or ways.value(source.part, "vessel_built_in")):
        lacks.append("an expansion vessel")
    return lacks, leave is None


def accepted(case: Case, source: Source, water: Water) -> bool:
    """Whether a fire may stand on sealed water."""
    lacks, unanswered = sealed_lacks(case, source, water)
    return not lacks and not unanswered


@rule("solid-fuel/sealed-water", about="one fire", yields_to=("sealed/vented-and-sealed-joined",))
def sealed_water(case: Case) -> Iterator[Said]:
    """A fire on closed water without all of its safeguards."""
    for source, water in _waters_of_fires(case):
        opened = water.regime in ("vented", "drain-down") and not water.mixed
        if opened or vents_reached(case, source, passing(case.ways, Ask.OPEN)):
            yield Sound(source.part, "Its water is open to the air" if water.regime == "vented" else "")
            continue
        lacks, unanswered = sealed_lacks(case, source, water)
        if not lacks and unanswered:
            words = f"{case.name(source.part)}: whether its maker allows sealed water is not answered"
            yield Missing(source.part, words, source.part, "sealed_allowed")
        elif not lacks:
            yield Sound(source.part, "All safeguards of a sealed fire are drawn")
        else:
            cut = _shut_relief(case, source, water)
            lacks = (["the maker's leave"] if unanswered else []) + lacks
            yield Finding(
                severity=Severity.DANGER,
                subject=source.part,
                culprits=tuple(dict.fromkeys((*cut, source.part, *water.vessels))),
                path=tuple(dict.fromkeys((source.part, *cut, *water.vessels))),
                message=f"{case.name(source.part)} is on sealed water and lacks {listed(lacks)}"
                + (f": {' and '.join(map(case.name, cut))} can shut it off." if cut else "."),
                todo=f"Take {' and '.join(map(case.name, cut))} out from between it and its relief valve."
                if cut and len(lacks) == 1
                else "Give it an open vent and a cistern; or, where its maker allows it, draw all the safeguards.",
                sources=("sf.vented.default", "sf.sealed.allowed_if"),
            )


def _shut_relief(case: Case, source: Source, water: Water) -> tuple[str, ...]:
    """Parts that can shut a source off from a relief valve that is drawn; empty when none is, or none can."""
    ways, begin = case.ways, [source.hot, source.cold]
    if built_in_relief(case, source) or reliefs_reached(case, water, begin, passing(ways, Ask.FIXED)):
        return ()
    drawn = {e.a for e in reliefs_reached(case, water, begin, passing(ways, Ask.OPEN))}
    return least_cut(case, passing(ways, Ask.FIXED), begin, drawn) if drawn else ()


def _rises_to_feed(case: Case, source: Source, water: Water) -> bool:
    """A single pipe that rises all the way to the cistern's feed outlet: feed and vent in one, judged elsewhere."""
    lines = [z for b in water.feeds if (z := line_m(case, b[1])) is not None]
    paths = least_fall(
        case,
        passing(case.ways, Ask.OPEN),
        starts(source),
        feed_outlets(case, water),
        max(lines, default=1e3),
        drop=own(source),
        inside=source.part,
    )
    return any(p.fall_m <= 0.0 for p in paths)


@rule(
    "solid-fuel/no-open-vent",
    about="one fire on water with a cistern",
    yields_to=("solid-fuel/sealed-water", "vent-and-feed/no-discharge-over-cistern"),
)
def no_open_vent(case: Case) -> Iterator[Said]:
    """A fire whose flow leads to no vent."""
    for source, water in _waters_of_fires(case):
        if not water.cisterns or accepted(case, source, water):
            continue
        if vents_reached(case, source, passing(case.ways, Ask.OPEN)) or _rises_to_feed(case, source, water):
            yield Sound(source.part)
            continue
        cisterns = tuple(sorted(water.cisterns))
        yield Finding(
            severity=Severity.DANGER,
            subject=source.part,
            culprits=(source.part,),
            path=(source.part, *cisterns),
            message=f"No vent leads from the flow of {case.name(source.part)}.",
            todo="Draw a vent from the stove's flow, rising all the way, over the cistern that feeds it.",
            sources=("sf.vented.default",),
        )


@rule("solid-fuel/vent-can-close", about="one fire with a vent", yields_to=("solid-fuel/no-open-vent",))
def vent_can_close(case: Case) -> Iterator[Said]:
    """Anything that can shut between a fire's flow and the end of its vent, or in any vent of its water."""
    ways = case.ways
    blamed: set[str] = set()
    for source, water in _waters_of_fires(case):
        if not vents_reached(case, source, passing(ways, Ask.OPEN)):
            continue
        name = case.name(source.part)
        said = False
        if not vents_reached(case, source, bare(case)):
            cut = least_cut(case, bare(case), starts(source), vent_targets(case, water), drop=own(source))
            names = " and ".join(case.name(c) for c in cut) or "A valve"
            blamed |= set(cut)
            said = True
            yield Finding(
                severity=Severity.DANGER,
                subject=source.part,
                culprits=cut or (source.part,),
                path=(source.part, *cut),
                message=f"{names} can cut {name} off from its open vent.",
                todo=f"Move the vent joint to the stove's side of {names}, or take it out.",
                sources=("sf.vent.valves", "warn.vent.block"),
            )
        for run in runs(case, water):
            stop = [k[1] for k, _ in run.steps if k[0] == "way" and _blocks(case, ways.elements[k])]
            stop = [p for p in dict.fromkeys(stop) if p not in blamed]
            if not stop:
                continue
            blamed |= set(stop)
            said = True
            names = " and ".join(case.name(p) for p in stop)
            yield Finding(
                severity=Severity.DANGER,
                subject=source.part,
                culprits=tuple(stop),
                path=(source.part, *run.ids),
                message=f"{names} can shut {case.name(run.pipe)}.",
                todo=f"Take {names} out of the vent.",
                sources=("sf.vent.valves", "warn.vent.block"),
            )
        if not said:
            yield Sound(source.part)


def _blocks(case: Case, element: Element) -> bool:
    return closable(case.ways, element) or bare(case)[element.key] == SHUT


@rule("solid-fuel/feed-can-close", about="one fire on water with a cistern", yields_to=("solid-fuel/vent-can-close",))
def feed_can_close(case: Case) -> Iterator[Said]:
    """Anything that can keep cold water from a fire."""
    ways = case.ways
    for source, water in _waters_of_fires(case):
        outlets = feed_outlets(case, water)
        if accepted(case, source, water):
            continue
        if not outlets and water.regime == "vented" and not water.mixed and not open_tops(case, water):
            yield _no_feed(case, source, water)
        if not outlets:
            continue
        near = {source.hot, source.cold}
        if not reach(ways, passing(ways, Ask.OPEN), outlets, walls=ways.bodies("cistern")) & near:
            continue
        if refilled(case, source):
            yield Sound(source.part)
            continue
        cut = least_cut(case, passing(ways, Ask.REFILL), near, outlets, towards_near=True)
        names = " and ".join(case.name(c) for c in cut) or "A valve"
        yield Finding(
            severity=Severity.DANGER,
            subject=source.part,
            culprits=cut or (source.part,),
            path=(source.part, *cut, *sorted({b[1] for b in water.feeds})),
            message=f"{names} can keep cold water from {case.name(source.part)}.",
            todo=f"Take {names} out of the feed, or bring a feed to the stove's side of it.",
            sources=("sf.feed.valves", "warn.vent.block"),
        )


def _no_feed(case: Case, source: Source, water: Water) -> Finding:
    """A fire under a vent to which no cistern brings cold water: what boils away is not made up."""
    cisterns = tuple(sorted(water.cisterns))
    return Finding(
        severity=Severity.DANGER,
        subject=source.part,
        culprits=(source.part,),
        path=(source.part, *cisterns),
        message=f"No cold feed leads from a cistern to {case.name(source.part)}.",
        todo="Draw a feed from the cistern to its return, without valves.",
        sources=("sf.feed.valves",),
    )


@rule(
    "solid-fuel/relief-asked-for",
    about="one vented fire whose maker asks for a relief valve",
    yields_to=("solid-fuel/vent-can-close", "solid-fuel/feed-can-close", "sealed/relief-can-close"),
)
def relief_asked_for(case: Case) -> Iterator[Said]:
    """The relief valve that the maker asks for, left out or shut off."""
    ways = case.ways
    for source, water in _waters_of_fires(case):
        if ways.value(source.part, "relief_required") is not True or water.regime != "vented":
            continue
        begin = [source.hot, source.cold]
        if built_in_relief(case, source) or reliefs_reached(case, water, begin, passing(ways, Ask.FIXED)):
            yield Sound(source.part)
            continue
        drawn = reliefs_reached(case, water, begin, passing(ways, Ask.OPEN))
        cut = least_cut(case, passing(ways, Ask.FIXED), begin, {e.a for e in drawn}) if drawn else ()
        names = " and ".join(case.name(c) for c in cut)
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=cut or (source.part,),
            path=(source.part, *cut),
            message=f"{names} can shut {case.name(source.part)} off from the relief valve its maker asks for."
            if cut
            else f"The maker of {case.name(source.part)} asks for a relief valve, and none is drawn.",
            todo="Put the relief valve at the stove, with nothing between that can be shut.",
            sources=("sf.sv.set", "sv.isolation"),
        )
