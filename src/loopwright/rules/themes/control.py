"""Rules of control: what starts a pump, what stops a boiler, and what keeps immersion and store from overheating."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import Circuit, source_circuits
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.links import HOLDS, NOT_DRAWN, drawn, driving, is_device, senses, setting_c
from loopwright.rules.registry import Case, Said, rule
from loopwright.sheet.values import ControlLink
from loopwright.waterways.waters import water_of

LEAST_ON_K = 3.0
"""Under this difference a solar pump hunts: between the usual off and on, common practice, no source."""


@rule(
    "control/pump-uncontrolled",
    about="one pump",
    yields_to=("solid-fuel/pump-without-thermostat", "solid-fuel/heat-leak-needs-power", "gravity-loop/pump-in-line"),
)
def pump_uncontrolled(case: Case) -> Iterator[Said]:
    """A pump that nothing starts and stops."""
    ways = case.ways
    for element in ways.doing(Behaviour.PUMP):
        if element.part in ways.source_of:
            continue
        pump = element.part
        if ways.value(pump, "starts_itself"):
            yield Sound(pump, "It starts and stops itself")
            continue
        if ways.value(pump, "standby_of"):
            yield Sound(pump, "It stands by for another")
            continue
        if not drawn(case):
            yield Missing(pump, NOT_DRAWN)
            continue
        water = water_of(ways, element.a)
        collectors = [s.part for s in water.sources if s.stops == "sun"] if water else []
        found = driving(case, {pump})
        if collectors:
            yield _solar_pump(case, pump, collectors, found)
        elif found:
            yield Sound(pump, "A control drives it")
        else:
            yield Finding(
                severity=Severity.ADVICE,
                subject=pump,
                culprits=(pump,),
                path=(pump,),
                message=f"Nothing starts or stops {case.name(pump)}.",
                todo="Link it to the thermostat or sensor that calls for it.",
                sources=("ctl.interlock",),
            )


def _solar_pump(case: Case, pump: str, collectors: list[str], found: list[ControlLink]) -> Said:
    name = case.name(pump)
    difference = next((k for k in found if k.does == "difference"), None)
    if difference is None:
        return Finding(
            severity=Severity.FAULT,
            subject=pump,
            culprits=(pump,),
            path=(pump, *collectors),
            message=f"{name} does not follow the difference between {case.name(collectors[0])} and the store.",
            todo="Drive it by a difference controller with sensors on the collector and low in the store.",
            sources=("sol.dT.on", "sol.dT.off"),
        )
    on, off = difference.setting_c, difference.off_c
    if on is not None and (on < LEAST_ON_K or (off is not None and off >= on)):
        said = f"starts at {on:g} K" + (f" and stops at {off:g} K" if off is not None else "")
        return Finding(
            severity=Severity.ADVICE,
            subject=pump,
            culprits=(pump,),
            path=(pump, *collectors),
            measured=on,
            limit=case.limit("sol.dT.on"),
            unit="K",
            message=f"{name} {said} of difference; 6 to 10 K on and 2 to 4 K off are usual.",
            todo="Set the start well above the stop.",
            sources=("sol.dT.on", "sol.dT.off"),
        )
    return Sound(pump, "A difference drives it")


@rule("control/boiler-no-interlock", about="one boiler that can be switched off")
def boiler_no_interlock(case: Case) -> Iterator[Said]:
    """A boiler that nothing stops once neither rooms nor store want heat."""
    ways = case.ways
    for source in ways.sources:
        if source.stops not in ("switched", "residual") or not ways.has_tag(source.part, "boiler"):
            continue
        if not drawn(case):
            yield Missing(source.part, NOT_DRAWN)
        elif any(_calls(case, k, set()) for k in driving(case, {source.part})):
            yield Sound(source.part, "A thermostat or store sensor calls it")
        else:
            yield Finding(
                severity=Severity.FAULT,
                subject=source.part,
                culprits=(source.part,),
                path=(source.part,),
                message=f"No store, cylinder or room thermostat stops {case.name(source.part)}.",
                todo="Link it to the sensor of the store, or to a room thermostat.",
                sources=("ctl.interlock", "ctl.cylstat"),
            )


def _calls(case: Case, link: ControlLink, seen: set[str]) -> bool:
    """Whether heat wanted stands behind a link: a vessel's pocket, a thermostat, or what one of these drives."""
    if link.does == "schedule" or link.id in seen:
        return False
    part, _, pocket = link.sensor.partition("/")
    if part not in case.sheet.parts:
        return False
    if pocket or case.ways.kind(part).body in ("store", "cylinder") or is_device(case, part):
        return True
    return any(_calls(case, k, seen | {link.id}) for k in driving(case, {part}))  # a zone valve's end switch


@rule("control/immersion-no-cut-out", about="one immersion heater", yields_to=("domestic/unvented-no-cut-out",))
def immersion_no_cut_out(case: Case) -> Iterator[Said]:
    """An immersion heater with a thermostat alone."""
    for part in case.ways.tagged("immersion"):
        name, built_in = case.name(part.id), case.ways.value(part.id, "cut_out_built_in")
        if built_in is None:
            yield Missing(
                part.id, f"{name}: whether a cut-out is built in is not answered", part.id, "cut_out_built_in"
            )
        elif built_in:
            yield Sound(part.id, "A cut-out is built in")
        else:
            yield Finding(
                severity=Severity.DANGER,
                subject=part.id,
                culprits=(part.id,),
                path=(part.id,),
                message=f"{name} has no cut-out: should its thermostat stick, the water boils.",
                todo="Fit an immersion heater with a cut-out reset by hand.",
                sources=("g3.immersion.cutout",),
            )


@rule("control/store-no-high-limit", about="one source at one store", yields_to=("domestic/unvented-no-cut-out",))
def store_no_high_limit(case: Case) -> Iterator[Said]:
    """A source that can be stopped, or the sun, and nothing on the store that stops it."""
    seen: set[tuple[str, str]] = set()
    for circuit in source_circuits(case):
        source = circuit.source
        if source is None or source.stops == "fire" or (circuit.subject, circuit.store) in seen:
            continue
        seen.add((circuit.subject, circuit.store))
        yield _limited(case, circuit, sun=source.stops == "sun")


def _limited(case: Case, circuit: Circuit, *, sun: bool) -> Said:
    ways, source, store = case.ways, circuit.subject, circuit.store
    limit, design = ways.number(source, "limit_c"), ways.number(store, "design_temp_c")
    if limit is not None and design is not None and limit <= design:
        return Sound(source, f"Its own limit of {limit:g} °C is no hotter than {case.name(store)} is made for")
    if not drawn(case):
        return Missing(source, NOT_DRAWN)
    moved = {
        ways.elements[k].part for k in circuit.keys if ways.elements[k].does in (Behaviour.PUMP, Behaviour.POWERED)
    }
    stops = [k for k in driving(case, {source, *moved}, *HOLDS) if senses(case, k, store)]
    path = (source, store, *sorted(moved))
    if not stops:
        return Finding(
            severity=Severity.FAULT,
            subject=source,
            culprits=(source,),
            path=path,
            message=f"No sensor on {case.name(store)} stops {case.name(source)} when the store is hot.",
            todo="Put a limit thermostat in the top third of the store.",
            sources=("store.t.limit", "sol.store.max") if sun else ("store.t.limit",),
        )
    settings = [t for t in (setting_c(case, k) for k in stops) if t is not None]
    if not settings:
        return Missing(
            source, f"The temperature at which {case.name(source)} stops is missing", stops[0].id, "setting_c"
        )
    lowest, most, usual = min(settings), case.limit("store.t.limit"), case.limit("sol.store.max", last=True)
    if lowest > most or (sun and lowest > usual):
        return Finding(
            severity=Severity.FAULT if lowest > most else Severity.ADVICE,
            subject=source,
            culprits=(source,),
            path=path,
            message=f"{case.name(source)} stops only when {case.name(store)} is at {lowest:g} °C.",
            todo=f"Set it to {most if lowest > most else usual:g} °C or less.",
            measured=lowest,
            limit=most if lowest > most else usual,
            unit="°C",
            sources=("store.t.limit", "sol.store.max") if sun else ("store.t.limit",),
        )
    return Sound(source, f"It stops when the store is at {lowest:g} °C")
