"""The rule that plays a power cut in time: does a fire boil with the power off?"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering.circulation import enlarged
from loopwright.engineering.runs.cut import power_cut
from loopwright.engineering.runs.cut_words import when_of
from loopwright.engineering.runs.result import Run
from loopwright.errors import FigureError
from loopwright.rules.cooling import sound_cooling
from loopwright.rules.families import LOOP_SHAPE, SHEDDING, WRONG_TAPPINGS
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import missing, water_of_source
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways import Waterways
from loopwright.waterways.graph import Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import loops
from loopwright.waterways.views import POWER_CUT, Ask, Condition

HIGHER_M = 0.5
MORE_L = 100.0


@rule(
    "solid-fuel/boils-in-power-cut",
    about="one fire",
    computed=True,
    yields_to=(*SHEDDING, *LOOP_SHAPE, "gravity-loop/too-weak", *WRONG_TAPPINGS),
)
def boils_in_power_cut(case: Case) -> Iterator[Said]:
    """With the power off, one whole charge brings a fire's water to the boil."""
    for source in case.ways.fires:
        if sound_cooling(case, source):
            yield _cooled(case, source)
        elif not loops(case.ways, source, Ask.REST):
            yield Sound(source.part, "Nothing can go round without power: other rules answer for that")
        else:
            yield _judged(case, source)


def _cooled(case: Case, source: Source) -> Said:
    """A fire with a sure cooling coil: judged by its run, taken at its word where the run lacks a figure."""
    said = _judged(case, source)
    return Sound(source.part, "The cooling coil carries the heat") if isinstance(said, Missing) else said


def _judged(case: Case, source: Source) -> Said:
    part, name = source.part, case.name(source.part)
    if not (case.ways.number(part, "charge_kwh") or case.ways.number(part, "burn_time_h")):
        return Missing(
            part, f"{name}: neither the heat of one charge nor its burning time is stated", part, "charge_kwh"
        )
    try:
        run = _run(case.ways, part)
    except FigureError as bad:
        return missing(part, bad)
    if run.outcome != "boils":
        return Sound(part, run.verdict)
    boil = next(e for e in run.events if e.what == "boils")  # no sun shines in it: the first is the fire's
    limit = case.limit("vent.stored.max")
    hot = [s for s in run.layers if run.figures[f"peak_{s}_c"] > limit]
    grave = water_of_source(case, source).regime != "vented" or bool(hot)
    told = ", ".join(f"{case.name(s)} {run.figures[f'peak_{s}_c']:.0f} °C" for s in run.layers)
    where = "" if boil.part == part else f", first in {_place(case, boil.part)}"
    return Finding(
        severity=Severity.DANGER if grave and _stated(case, source) else Severity.FAULT,
        subject=part,
        culprits=(part,),
        message=f"With the power off {name} boils {when_of(boil.time_s)}{where}; the hottest by then: {told}.",
        todo=_todo(case, source) if boil.time_s > 1.0 else "Let its water round, or let more heat away.",
        measured=round(boil.time_s / 60.0, 1),
        unit="min",
        sources=("vent.stored.max", "sf.thermostat.exempt"),
        condition=POWER_CUT.words,
    )


def _place(case: Case, place: str) -> str:
    return f"the pipe “{place}”" if place in case.sheet.pipes else case.name(place)


def _stated(case: Case, source: Source) -> bool:
    """Whether the figures that decide were typed: a filled-in default never makes a danger."""
    ways, part = case.ways, source.part
    typed = ways.typed(part, "charge_kwh") or ways.typed(part, "burn_time_h")
    vessels = [p[1] for p in ways.bodies("store", "cylinder")]
    return (
        typed
        and ways.typed(part, "power_kw")
        and all(ways.typed(v, "volume_l") and ways.typed(v, "design_temp_c") for v in vessels)
    )


@kept
def _run(ways: Waterways, fire: str, lower_m: float = 0.0) -> Run:
    """The run of one fire alone, `lower_m` below where it is drawn."""
    others = frozenset(s.part for s in ways.fires if s.part != fire)
    return power_cut(ways, Condition(power=False, out=others), lower_m=lower_m)


def _todo(case: Case, source: Source) -> str:
    """What one size larger, half a metre more height or 100 l more store would give, each run through."""
    ways, part = case.ways, source.part
    on_loop = sorted({k[1] for found in loops(ways, source, Ask.REST) for k in found.keys if k[0] == "pipe"})
    said = []
    for words, wider, lower in (
        ("one size larger", lambda: enlarged(ways, on_loop), 0.0),
        (f"{HIGHER_M:g} m more height", lambda: ways, HIGHER_M),
        (f"{MORE_L:.0f} l more store", lambda: _fuller(ways), 0.0),
    ):
        try:
            changed = wider()
            run = _run(changed, part, lower)
        except FigureError:
            continue
        if run.outcome == "boils":
            said.append(f"{words}: boils {when_of(60.0 * run.figures['boils_min'])}")
        else:
            said.append(f"{words}: peaks at {run.figures[f'peak_{part}_c']:.0f} °C")
    return f"Let more heat away, or into more water ({'; '.join(said)})." if said else "Let more heat away."


def _fuller(ways: Waterways) -> Waterways:
    """The sheet with its largest store 100 l larger."""
    vessels = [p[1] for p in ways.bodies("store", "cylinder")]
    if not vessels:
        raise FigureError("There is no store")
    largest = max(vessels, key=lambda v: ways.number(v, "volume_l") or 0.0)
    part = ways.sheet.parts[largest]
    props = {**part.props, "volume_l": (ways.number(largest, "volume_l") or 0.0) + MORE_L}
    parts = {**ways.sheet.parts, largest: msgspec.structs.replace(part, props=props)}
    return Waterways(msgspec.structs.replace(ways.sheet, parts=parts), ways.catalogue)
