"""Rules of the pumps of a fire: what starts them, and how warm the water is that they send back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.links import drawn, driving
from loopwright.rules.pumped import pumped_loops, pumps_on
from loopwright.rules.registry import Case, Said, published, rule
from loopwright.waterways.graph import Source
from loopwright.waterways.loops import Loop

USUAL_START_C = (45.0, 60.0)
"""What makers of stoves ask of the thermostat of their pump: common practice, no source."""


@rule(
    "solid-fuel/pump-without-thermostat",
    about="one pump of a fire",
    yields_to=("gravity-loop/pump-in-line", "solid-fuel/heat-leak-needs-power"),
)
def pump_without_thermostat(case: Case) -> Iterator[Said]:
    """A pump on the fire's own circuit that nothing tells when to start."""
    for source in case.ways.fires:
        pumps = sorted({pump for loop in pumped_loops(case, source) for pump in pumps_on(case, loop)})
        if pumps and not drawn(case):
            yield Missing(source.part, "controls are not drawn")
            continue
        for pump in pumps:
            yield _start(case, source, pump)


def _start(case: Case, source: Source, pump: str) -> Said:
    """What starts one pump of a fire, and at what temperature."""
    if case.ways.has_tag(pump, "loading_unit") and case.ways.value(pump, "starts_itself"):
        return Sound(pump, "It starts itself")
    name, stove = case.name(pump), case.name(source.part)
    said: dict[str, Any] = {"subject": pump, "culprits": (pump,), "path": (pump, source.part)}
    starts = driving(case, {pump}, "runs_above", "difference")
    if not starts:
        return Finding(
            **said,
            severity=Severity.FAULT,
            message=f"{name} circulates {stove} and no thermostat starts it.",
            todo="Add a pipe thermostat on the flow near the stove that runs it above 45 to 60 °C.",
            sources=("sf.pump.start.return", "sf.pump.start.flow"),
        )
    setting = next((k.setting_c for k in starts if k.setting_c is not None), None)
    if setting is None:
        if starts[0].does == "runs_above":
            return Missing(pump, f"{name}: start temperature is missing", starts[0].id, "setting_c")
        return Sound(pump)
    top = published("sf.pump.overheat", last=True)
    if setting > top:
        return Finding(
            **said,
            severity=Severity.FAULT,
            message=f"{name} starts at {setting:g} °C; above {top:g} °C the stove may boil first.",
            todo="Set its thermostat to between 45 and 60 °C.",
            measured=setting,
            limit=top,
            unit="°C",
            sources=("sf.pump.overheat", "sf.pump.start.flow"),
        )
    if not USUAL_START_C[0] <= setting <= USUAL_START_C[1]:
        return Finding(
            **said,
            severity=Severity.ADVICE,
            message=f"{name} starts at {setting:g} °C; 45 to 60 °C is usual.",
            todo="Check the setting with the stove's maker.",
            measured=setting,
            limit=USUAL_START_C[1],
            unit="°C",
            sources=("sf.pump.start.flow",),
        )
    return Sound(pump)


@rule(
    "solid-fuel/cold-return",
    about="one fire with a pumped circuit",
    yields_to=("gravity-loop/pump-in-line", "solid-fuel/heat-leak-needs-power", "order/loading-unit-sides"),
)
def cold_return(case: Case) -> Iterator[Said]:
    """Pumped cold water entering the fire's return."""
    for source in case.ways.fires:
        pumped = pumped_loops(case, source)
        if pumped:
            yield _return(case, source, pumped)


def _return(case: Case, source: Source, pumped: list[Loop]) -> Said:
    """What keeps the water warm that the pumps of a fire send back to it."""
    ways = case.ways
    log = ways.has_tag(source.part, "log_boiler") or ways.sheet.parts[source.part].kind == "log_boiler"
    limit = ways.number(source.part, "min_return_c")
    if limit is None:
        limit = case.limit("sf.return.min.log") if log else published("sf.return.min.stove", last=True)
    sources = ("sf.return.min.log" if log else "sf.return.min.stove",)
    on_them = {ways.elements[k].part for loop in pumped for k in loop.keys if ways.elements[k].part}
    guards = sorted(p for p in on_them if ways.has_tag(p, "loading_unit") or ways.has_tag(p, "return_valve"))
    if guards:
        guard = guards[0]
        opens = ways.number(guard, "opens_c") or ways.number(guard, "setting_c")
        if opens is None:
            return case.lacks(source.part, guard, "opens_c", "opening temperature")
        if opens >= limit:
            return Sound(source.part)
        return Finding(
            severity=Severity.ADVICE,
            subject=source.part,
            culprits=(guard,),
            path=pumped[0].ids,
            message=f"{case.name(guard)} opens at {opens:g} °C; {case.name(source.part)} wants {limit:g} °C back.",
            todo=f"Fit an insert for {limit:g} °C.",
            measured=opens,
            limit=limit,
            unit="°C",
            sources=sources,
        )
    if any(k.setting_c is not None and k.setting_c >= limit for k in driving(case, on_them, "runs_above")):
        return Sound(source.part)
    pump = pumps_on(case, pumped[0])[0]
    return Finding(
        severity=Severity.FAULT if log else Severity.ADVICE,
        subject=source.part,
        culprits=(pump,),
        path=pumped[0].ids,
        message=f"{case.name(pump)} sends cold water straight back to {case.name(source.part)};"
        f" it wants {limit:g} °C or more.",
        todo="Fit a loading unit on the return, with a flap.",
        limit=limit,
        unit="°C",
        sources=sources,
    )
