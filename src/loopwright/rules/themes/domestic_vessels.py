"""Rules of vessels of tap water: relief and cut-out of unvented ones, and how hot the water is kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import Circuit, immersions, load_circuits, share_of, source_circuits
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.heaters import Heater, beside, mains_heaters
from loopwright.rules.links import HOLDS, NOT_DRAWN, drawn, driving, senses, setting_c
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.warmth import heats
from loopwright.sheet.values import ControlLink
from loopwright.waterways.graph import Element
from loopwright.waterways.paths import reach
from loopwright.waterways.services import run_from
from loopwright.waterways.views import Ask, passing, rest_position
from loopwright.waterways.waters import water_of


def _vessels(case: Case) -> Iterator[Heater]:
    """Vessels of heated mains water larger than 15 l: unvented ones."""
    small = case.limit("store.vented.coil")
    return (h for h in mains_heaters(case) if not h.is_coil and (h.content_l is None or h.content_l > small))


def _reliefs(case: Case, heater: Heater, ask: Ask, tag: str = "") -> list[Element]:
    """Relief valves that a heater reaches in a view, on either side of it."""
    ways = case.ways
    walls = set(ways.bodies()) - set(heater.inside)
    begin = {heater.cold, *heater.inside}
    seen = reach(ways, passing(ways, ask), begin, drop=beside(case, heater), walls=walls)
    return [e for e in ways.doing(Behaviour.RELIEF) if e.a in seen and (not tag or ways.has_tag(e.part, tag))]


@rule("domestic/unvented-no-relief", about="one coil or vessel of heated mains water")
def unvented_no_relief(case: Case) -> Iterator[Said]:
    """Heated mains water shut in without the valve that must let it out."""
    small = case.limit("store.vented.coil")
    for heater in mains_heaters(case):
        if heater.is_coil and heater.content_l is None:
            yield Missing(heater.part, f"{heater.words}: content is missing", heater.part, "content_l")
            continue
        large = heater.content_l is None or heater.content_l > small
        if heater.is_coil and not large:
            yield Sound(heater.part, f"{small:g} l or less of mains water in a coil or plate is no unvented vessel")
            continue
        wanted = "temperature-and-pressure relief valve" if large and not heater.is_coil else "relief valve"
        tag = "tp_relief" if large and not heater.is_coil else ""
        if _reliefs(case, heater, Ask.FIXED, tag):
            yield Sound(heater.part, f"A {wanted} stands on it")
            continue
        shut = _reliefs(case, heater, Ask.OPEN, tag)
        held = f" {heater.content_l:g} l of" if heater.content_l is not None else ""
        yield Finding(
            severity=Severity.DANGER,
            subject=heater.part,
            culprits=(heater.part, *(e.part for e in shut)),
            path=(heater.part, *(e.part for e in shut)),
            sources=("g3.devices", "g3.devices.usual"),
            measured=0.0,
            limit=1.0,
            message=(
                f"{heater.words} can be shut off from {case.name(shut[0].part)}."
                if shut
                else f"{heater.words} heats{held} mains water and has no {wanted}."
            ),
            todo=f"Fit a {wanted} {'in the top of the vessel itself' if tag else 'with no valve between'}.",
        )


@rule(
    "domestic/relief-misplaced",
    about="one temperature-and-pressure relief valve",
    yields_to=("domestic/unvented-no-relief",),
)
def relief_misplaced(case: Case) -> Iterator[Said]:
    """A valve that feels the temperature anywhere but at the vessel's top."""
    least = case.limit("g3.tpr.place")
    for heater in _vessels(case):
        for valve in _reliefs(case, heater, Ask.FIXED, "tp_relief"):
            at = _tapping(case, valve, heater.part)
            share = share_of(case, heater.part, at) if at else None
            name, vessel = case.name(valve.part), case.name(heater.part)
            if share is not None and share >= least - 1e-6:
                yield Sound(valve.part, "It stands in the top fifth of the vessel")
                continue
            yield Finding(
                severity=Severity.FAULT,
                subject=valve.part,
                culprits=(valve.part,),
                path=(valve.part, heater.part),
                measured=share,
                limit=least,
                sources=("g3.tpr.place",),
                message=(
                    f"{name} stands at {share:.0%} of the height of {vessel}; it belongs in the top fifth."
                    if share is not None
                    else f"{name} stands on a pipe and not on {vessel} itself."
                ),
                todo="Use the upper boss of the vessel.",
            )


def _tapping(case: Case, valve: Element, vessel: str) -> str | None:
    """Tapping of the vessel that a valve stands on by a run of its own; None when that run serves others too."""
    run = run_from(case.ways, valve.a, valve.key)
    ends = (case.ways.elements[run[-1]].a, case.ways.elements[run[-1]].b) if run else ()
    return next((p[2] for p in ends if p[:2] == ("port", vessel)), None)


# -- cut-outs ---------------------------------------------------------------------------------------------------------


@rule(
    "domestic/unvented-no-cut-out",
    about="one way of heating an unvented vessel",
    yields_to=("solid-fuel/feeds-unvented-cylinder",),
)
def unvented_no_cut_out(case: Case) -> Iterator[Said]:
    """A heat input to an unvented vessel that nothing stops for good."""
    for heater in _vessels(case):
        yield from _elements(case, heater.part)
        primaries = [
            c
            for c in (*source_circuits(case), *load_circuits(case))
            if c.sink is not None and c.sink.part == heater.part and c.coil_name
        ]
        seen: set[str] = set()
        for circuit in primaries:
            if circuit.coil_name not in seen:
                seen.add(circuit.coil_name)
                yield _primary(case, heater.part, circuit)


def _elements(case: Case, vessel: str) -> Iterator[Said]:
    for heater in immersions(case):
        built_in = case.ways.value(heater.part, "cut_out_built_in")
        if heater.store != vessel:
            continue
        if built_in is None:
            yield case.unanswered(vessel, heater.part, "cut_out_built_in", "whether a cut-out is built in")
        elif built_in:
            yield Sound(vessel, f"{case.name(heater.part)} has a cut-out")
        else:
            yield Finding(
                severity=Severity.DANGER,
                subject=vessel,
                culprits=(heater.part,),
                path=(vessel, heater.part),
                sources=("g3.devices", "g3.immersion.cutout"),
                message=f"{case.name(heater.part)} heats unvented {case.name(vessel)} without a cut-out.",
                todo="Fit an immersion heater with a cut-out reset by hand.",
            )


def _primary(case: Case, vessel: str, circuit: Circuit) -> Said:
    """A coil: a cut-out on the vessel, and a valve resting shut that it closes; the sun's pump will do as well."""
    ways, name = case.ways, case.name(vessel)
    sun = circuit.source is not None and circuit.source.stops == "sun"
    elements = [ways.elements[k] for k in circuit.keys]
    valves = sorted(
        {
            e.part
            for e in elements
            if e.does is Behaviour.POWERED and rest_position(ways, e.part) not in ("open", "as_left")
        }
    )
    pumps = {e.part for e in elements if e.does is Behaviour.PUMP} if sun else set()
    built_in = ways.value(vessel, "cut_out_built_in")
    cuts = [k for k in driving(case, {*valves, *pumps}, *HOLDS) if senses(case, k, vessel) and _by_hand(case, k)]
    said: dict[str, Any] = {"subject": vessel, "path": (vessel, circuit.subject), "culprits": (vessel, circuit.subject)}
    if cuts or (built_in and (valves or pumps)):
        return Sound(vessel, f"A cut-out stops the heat from {case.name(circuit.subject)}")
    if built_in:
        return Finding(
            **said,
            severity=Severity.FAULT,
            sources=("g3.indirect",),
            message=f"No valve that rests shut stands between {case.name(circuit.subject)} and unvented {name}, so its "
            "cut-out stops nothing.",
            todo="Fit a two-port valve that rests shut on the primary, worked by the cut-out.",
        )
    if built_in is None:
        return Missing(vessel, f"{name}: whether a cut-out is built in is not answered", vessel, "cut_out_built_in")
    if not drawn(case):
        return Missing(vessel, NOT_DRAWN)
    return Finding(
        **said,
        severity=Severity.DANGER,
        sources=("g3.devices", "g3.solar") if sun else ("g3.devices", "g3.indirect"),
        message=f"No cut-out reset by hand stops {case.name(circuit.subject)} from overheating unvented {name}.",
        todo="Fit a cut-out on the vessel that shuts a valve on the primary.",
    )


def _by_hand(case: Case, link: ControlLink) -> bool:
    """Whether a link stays off until it is reset by hand."""
    part = link.sensor.partition("/")[0]
    return link.manual_reset or (case.ways.has_tag(part, "sensor") and case.ways.value(part, "manual_reset") is True)


# -- kept hot ---------------------------------------------------------------------------------------------------------


@rule("domestic/stored-too-cool", about="one vessel of stored tap water")
def stored_too_cool(case: Case) -> Iterator[Said]:
    """Tap water kept at the warmth germs like."""
    ways = case.ways
    least, small = case.limit("leg.store.min"), case.limit("g3.small")
    bodies = [
        b
        for b in ways.bodies("cylinder", "store")
        if (w := water_of(ways, b)) is not None
        and w.fluid == "domestic"
        and (ways.number(b[1], "volume_l") or small + 1) > small
    ]
    kept = {b: _kept_c(case, b[1]) for b in bodies}
    for body, (found, by) in kept.items():
        vessel = body[1]
        if not by:
            continue
        if found is None:
            yield case.lacks(vessel, by, "t_flow_c", "temperature")
        elif found >= least:
            yield Sound(vessel, f"It is kept at {found:g} °C")
        elif any(
            other != body and (t or 0.0) >= least and water_of(ways, other) is water_of(ways, body)
            for other, (t, _) in kept.items()
        ):
            yield Sound(vessel, "A hotter vessel follows it")
        else:
            yield Finding(
                severity=Severity.FAULT,
                subject=vessel,
                culprits=(by,),
                path=(vessel, by),
                measured=found,
                limit=least,
                unit="°C",
                sources=("leg.store.min", "leg.weekly"),
                message=f"{case.name(vessel)} keeps tap water at {found:g} °C; germs die off from {least:g} °C.",
                todo=f"Keep it at {least:g} °C, or raise it to that once a week.",
            )


def _kept_c(case: Case, vessel: str) -> tuple[float | None, str]:
    """How hot a vessel of tap water gets, and by what: its hottest source, held down by the thermostats on it.

    A fire or the sun has no figure of its own: what it heats is judged by the rest, or not at all.
    """
    ways = case.ways
    best: tuple[float | None, str] = (None, "")
    for part in sorted(heats(case).get(vessel, ())):
        stops = ways.source_of[part].stops if part in ways.source_of else "switched"
        if stops == "sun" or (
            stops == "switched" and part not in ways.source_of and drawn(case) and not driving(case, {part})
        ):
            continue  # the sun does not come to order; an immersion that nothing switches on is for now and then
        if stops == "fire":
            return 100.0, part
        flow = ways.number(part, "t_flow_c")
        circuit = next((c for c in source_circuits(case) if c.subject == part and c.store == vessel), None)
        moved = {ways.elements[k].part for k in circuit.keys if ways.elements[k].part} if circuit else set()
        held = [setting_c(case, k) for k in driving(case, {part, *moved}, *HOLDS) if senses(case, k, vessel)]
        known = [t for t in held if t is not None]
        if flow is not None and known:
            flow = min(flow, max(known))
        if not best[1] or (flow or 0.0) > (best[0] or 0.0):
            best = (flow, part)
    return best
