"""Rules of sealed water: joined to vented water, relief valve, expansion vessel, and how it is filled."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.cuts import least_cut, to_change
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.relief import built_in_relief, reliefs_reached
from loopwright.rules.vents import is_piped
from loopwright.rules.warmth import heated_by_coil, immersions_in
from loopwright.waterways.graph import Element, Place, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach, shortest
from loopwright.waterways.views import BOTH, FORWARD, Ask, Passing, passing
from loopwright.waterways.waters import Water, water_of, waters

CLOSED = ("sealed", "undefined")
HOT_SOURCE_C = 100.0
JOINED = "sealed/vented-and-sealed-joined"


def _closed(case: Case) -> Iterator[tuple[Water, list[Source]]]:
    """Closed waters with the sources that stand in them and are piped."""
    for water in waters(case.ways):
        if water.regime in CLOSED:
            yield water, [s for s in water.sources if is_piped(case, s.part)]


@rule("sealed/vented-and-sealed-joined", about="one water")
def vented_and_sealed_joined(case: Case) -> Iterator[Said]:
    """One water with a cistern and an expansion vessel or filling device."""
    ways = case.ways
    for water in waters(ways):
        if water.regime not in ("vented", "drain-down"):
            continue
        name = water.sources[0].part if water.sources else min(water.cisterns, default=min(water.parts))
        if not water.mixed:
            yield Sound(name)
            continue
        fire = next((s for s in water.sources if s.stays_hot), None)
        fillings = [e.part for e in water.fillings if e.b in water.places]
        built_in = [s.part for s in water.sources if ways.value(s.part, "vessel_built_in")]
        culprits = tuple(dict.fromkeys([*water.vessels, *built_in, *fillings]))
        what = " and ".join(case.name(c) for c in culprits)
        opens = " and ".join(case.name(c) for c in sorted(water.cisterns)) or "a drain-down vessel"
        yield Finding(
            severity=Severity.DANGER if fire else Severity.FAULT,
            subject=fire.part if fire else name,
            culprits=culprits,
            path=tuple(dict.fromkeys((*culprits, *sorted(water.cisterns), name))),
            message=f"{what} and {opens} are on one water, half sealed and half open"
            + (f", and {case.name(fire.part)} heats it." if fire else "."),
            todo="Put a coil or a plate exchanger between the two.",
            sources=("warn.retrofit",),
        )


def _heats_through_coil(case: Case, vessel: str) -> list[Source]:
    """Fires, the sun, and sources hotter than boiling that heat a vessel through a coil."""
    out = []
    for part in sorted(heated_by_coil(case, vessel)):
        source = case.ways.source_of[part]
        limit = case.ways.number(part, "limit_c")
        if source.stays_hot or source.stops == "sun" or (limit is not None and limit > HOT_SOURCE_C):
            out.append(source)
    return out


def _vessels_in(case: Case, water: Water) -> list[str]:
    """Stores and cylinders of a water that a coil can overheat."""
    return [
        b[1] for b in case.ways.bodies("store", "cylinder") if b in water.places and _heats_through_coil(case, b[1])
    ]


@rule("sealed/no-relief", about="one closed water", yields_to=("solid-fuel/sealed-water", JOINED))
def no_relief(case: Case) -> Iterator[Said]:
    """A closed water with a source of heat and no relief valve. Drain-down water is open to its air room."""
    ways = case.ways
    for water, sources in _closed(case):
        heated = [s.part for s in sources] + _vessels_in(case, water)
        heated += [b[1] for b in ways.bodies("store", "cylinder") if b in water.places and immersions_in(case, b[1])]
        if not heated:
            continue
        built_in = [built_in_relief(case, s) for s in sources]
        if water.reliefs or True in built_in:
            yield Sound(heated[0])
            continue
        if None in built_in:
            part = sources[built_in.index(None)].part
            yield case.unanswered(heated[0], part, "relief_built_in", "whether a relief valve is built in")
            continue
        yield Finding(
            severity=Severity.DANGER,
            subject=heated[0],
            culprits=tuple(dict.fromkeys(heated)),
            path=tuple(dict.fromkeys(heated)),
            message=f"{case.name(heated[0])} heats closed water that has no relief valve."
            if sources
            else f"{case.name(heated[0])} is heated, closed, and has no relief valve.",
            todo="Put a relief valve at the source.",
            sources=("sv.set", "sv.location") if sources else ("sv.store",),
        )


@rule(
    "sealed/relief-can-close",
    about="one source or heated store in closed water",
    yields_to=("sealed/no-relief", "solid-fuel/sealed-water"),
)
def relief_can_close(case: Case) -> Iterator[Said]:
    """A source that valves can shut off from its relief valve."""
    ways = case.ways
    fixed = passing(ways, Ask.FIXED)
    for water, sources in _closed(case):
        if not water.reliefs:
            continue
        seats = {e.a for e in water.reliefs}
        for source in sources:
            built_in = built_in_relief(case, source)
            if built_in or reliefs_reached(case, water, [source.hot, source.cold], fixed):
                yield Sound(source.part)
                continue
            cut = to_change(case, least_cut(case, fixed, [source.hot, source.cold], seats))
            if built_in is None:
                words = f"{case.name(source.part)}: whether a relief valve is built in is not answered"
                yield Missing(source.part, words, source.part, "relief_built_in")
                continue
            sun = source.stops == "sun"
            yield _shut_off(case, source.part, cut, ("sol.sv.isolate",) if sun else ("sv.isolation",))
        for vessel in _vessels_in(case, water):
            body: Place = ("body", vessel)
            if reliefs_reached(case, water, [body], fixed):
                yield Sound(vessel)
            else:
                cut = to_change(case, least_cut(case, fixed, [body], seats))
                yield _shut_off(case, vessel, cut, ("sv.store", "sv.isolation"))


def _shut_off(case: Case, part: str, cut: tuple[str, ...], sources: tuple[str, ...]) -> Finding:
    names = " and ".join(case.name(c) for c in cut) or "A valve"
    return Finding(
        severity=Severity.DANGER,
        subject=part,
        culprits=cut or (part,),
        path=(part, *cut),
        message=f"{names} can shut {case.name(part)} off from its relief valve.",
        todo="Put the relief valve inside the valves, at the heat source.",
        sources=sources,
    )


@rule("sealed/no-vessel", about="one closed water", yields_to=("solid-fuel/sealed-water", JOINED))
def no_vessel(case: Case) -> Iterator[Said]:
    """A closed water with a source, or heated through a coil, and no expansion vessel."""
    for water, sources in _closed(case):
        if not sources:
            yield from _vessel_of_store(case, water)
            continue
        answers = [case.ways.value(s.part, "vessel_built_in") for s in sources]
        asked = [case.ways.kind(s.part).prop("vessel_built_in") is not None for s in sources]
        name = sources[0].part
        if water.vessels or True in answers:
            yield Sound(name)
            continue
        unknown = next((s.part for s, a, q in zip(sources, answers, asked) if q and a is None), None)
        if unknown:
            yield case.unanswered(name, unknown, "vessel_built_in", "whether a vessel is built in")
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=name,
            culprits=tuple(s.part for s in sources),
            path=tuple(s.part for s in sources),
            message=f"Closed water of {case.name(name)} has no expansion vessel.",
            todo="Put an expansion vessel on the return, near the pump's inlet.",
            sources=("ev.formula", "ev.position"),
        )


def _vessel_of_store(case: Case, water: Water) -> Iterator[Said]:
    """A closed store that others heat through a coil swells like any other water."""
    heated = _vessels_in(case, water)
    if heated and water.vessels:
        yield Sound(heated[0])
    elif heated:
        yield Finding(
            severity=Severity.FAULT,
            subject=heated[0],
            culprits=tuple(heated),
            path=tuple(heated),
            message=f"Closed water of {case.name(heated[0])} has no expansion vessel.",
            todo="Put an expansion vessel on a return to it.",
            sources=("ev.formula", "ev.store"),
        )


@kept
def _swelling(case: Case) -> Passing:
    """What lets swelling water out to a vessel: what never shuts, valves locked open, standing pumps, open checks."""
    ways = case.ways
    out = dict(passing(ways, Ask.FIXED))
    for element in ways.doing(Behaviour.PUMP, Behaviour.ONE_WAY, Behaviour.HAND):
        if element.does is Behaviour.ONE_WAY:
            out[element.key] = FORWARD
        elif element.does is Behaviour.PUMP or ways.value(element.part, "locked_open") is True:
            out[element.key] = BOTH
    return out


@rule("sealed/vessel-can-close", about="one source in closed water", yields_to=("sealed/no-vessel",))
def vessel_can_close(case: Case) -> Iterator[Said]:
    """A valve between a source and the vessel that takes its expansion."""
    ways = case.ways
    passes = _swelling(case)
    for water, sources in _closed(case):
        if not water.vessels:
            continue
        seals = [e for part in water.vessels for e in ways.by_part[part] if e.does is Behaviour.SEAL]
        ends = {e.a for e in seals} & water.places
        for source in sources:
            if ways.value(source.part, "vessel_built_in"):
                yield Sound(source.part)
                continue
            if reach(ways, passes, [source.hot, source.cold]) & ends:
                yield Sound(source.part)
                continue
            cut = least_cut(case, passes, [source.hot, source.cold], ends)
            names = " and ".join(case.name(c) for c in cut) or "A valve"
            sun = source.stops == "sun"
            yield Finding(
                severity=Severity.DANGER if sun else Severity.FAULT,
                subject=source.part,
                culprits=cut or (source.part,),
                path=(source.part, *cut, *water.vessels),
                message=f"{names} can shut {case.name(source.part)} off from its expansion vessel.",
                todo="Use a capped valve, or none.",
                sources=("ev.valve", "sol.nrv.place") if sun else ("ev.valve",),
            )


@rule(
    "sealed/filling-unprotected",
    about="one filling device, or one heating water joined to the main",
    yields_to=("domestic/primary-at-outlet",),
)
def filling_unprotected(case: Case) -> Iterator[Said]:
    """Mains that reaches heating or solar water with too little to keep it back."""
    ways = case.ways
    for element in ways.elements.values():
        if element.does is Behaviour.GUARD:
            yield from _device(case, element)
    for water in waters(ways):
        heating = _heating_places(case, water) if water.regime == "mains" else set()
        if heating:
            yield _fixed_pipe(case, water, heating)


def _device(case: Case, element: Element) -> Iterator[Said]:
    ways = case.ways
    far = water_of(ways, element.b)
    if far is None or far.fluid == "domestic" or not far.parts - {element.part}:
        return
    part = element.part
    disconnects = ways.has_tag(part, "disconnector") or ways.value(part, "device") == "disconnector"
    double = ways.value(part, "device") == "double_check"
    permanent = ways.value(part, "permanent") is True
    solar = far.fluid == "solar"
    if disconnects and not solar:
        yield Sound(part)
        return
    if double and not permanent and not solar:
        yield Sound(part)
        return
    if solar and ways.value(part, "hose_fitted") is False:
        yield Sound(part, "The hose is taken off")
        return
    if solar:
        words = "antifreeze needs a reduced-pressure valve or an air gap"
        todo = "Fill it by hand, or take the hose off."
        sources = ("fc.4", "fc.glycol")
    elif permanent:
        words, todo = "a permanent pipe needs a disconnector", "Fit a disconnector."
        sources = ("fc.3", "fill.perm")
    else:
        words, todo = "a filling loop needs a double check valve", "Fit a double check valve."
        sources = ("fc.3", "fill.temp")
    yield Finding(
        severity=Severity.DANGER if solar else Severity.FAULT,
        subject=part,
        culprits=(part,),
        path=(part,),
        message=f"{case.name(part)} joins the main to {'solar fluid' if solar else 'heating water'}: {words}.",
        todo=todo,
        sources=sources,
    )


def _heating_places(case: Case, water: Water) -> set[Place]:
    """Places in a mains water that belong to heating: sources and stores not fit for drinking water, emitters."""
    ways = case.ways
    out = {p for s in water.sources for p in (s.hot, s.cold) if ways.value(s.part, "wholesome_rated") is not True}
    out |= {b for b in ways.bodies("store") if b in water.places and ways.value(b[1], "wholesome_rated") is not True}
    return out | {p for s in ways.sinks if s.sort == "emitter" for p in s.ends if p in water.places}


def _fixed_pipe(case: Case, water: Water, heating: set[Place]) -> Said:
    ways = case.ways
    begin = [p for p in sorted(water.places) if ways.has_tag(p[1], "mains")]
    path = shortest(ways, passing(ways, Ask.OPEN), begin, heating, walls=ways.bodies("cistern")) or ()
    checks = [ways.elements[k].part for k, _ in path if ways.elements[k].does is Behaviour.ONE_WAY]
    pipe = next((k[1] for k, _ in path if k[0] == "pipe"), begin[0][1])
    solar = any(s.stops == "sun" for s in water.sources)
    culprit = tuple(dict.fromkeys(checks)) or (pipe,)
    has = " and ".join(case.name(c) for c in culprit) if checks else "nothing"
    return Finding(
        severity=Severity.DANGER if solar else Severity.FAULT,
        subject=water.sources[0].part if water.sources else culprit[0],
        culprits=culprit,
        path=tuple(dict.fromkeys(k[1] for k, _ in path)),
        message=f"A permanent pipe joins the main to {'solar fluid' if solar else 'heating water'} with {has} between;"
        " it needs a disconnector.",
        todo="Fit a disconnector, or a filling loop that is taken off.",
        sources=("fc.4", "fill.perm") if solar else ("fc.3", "fill.perm"),
    )
