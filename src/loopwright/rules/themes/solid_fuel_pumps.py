"""Rules of the pumps of a fire: what starts them, and how warm the water is that they send back."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.links import drawn
from loopwright.rules.pumped import pumped_loops, pumps_on
from loopwright.rules.registry import Case, Said, facts, rule


@rule(
    "solid-fuel/pump-without-thermostat",
    about="one pump of a fire",
    yields_to=("gravity-loop/pump-in-line", "solid-fuel/heat-leak-needs-power"),
)
def pump_without_thermostat(case: Case) -> Iterator[Said]:
    """A pump on the fire's own circuit that nothing tells when to start."""
    ways = case.ways
    for source in ways.fires:
        pumps = sorted({pump for loop in pumped_loops(case, source) for pump in pumps_on(case, loop)})
        if not pumps:
            continue
        if not drawn(case):
            yield Missing(source.part, "controls are not drawn")
            continue
        for pump in pumps:
            if ways.has_tag(pump, "loading_unit") and ways.value(pump, "starts_itself"):
                yield Sound(pump, "It starts itself")
                continue
            driven = [
                k for k in case.sheet.links.values() if k.target == pump and k.does in ("runs_above", "difference")
            ]
            if not driven:
                yield Finding(
                    severity=Severity.FAULT,
                    subject=pump,
                    culprits=(pump,),
                    path=(pump, source.part),
                    message=f"{case.name(pump)} circulates {case.name(source.part)} and no thermostat starts it.",
                    todo="Add a pipe thermostat on the flow near the stove that runs it above 45 to 60 °C.",
                    sources=("sf.pump.start.return", "sf.pump.start.flow"),
                )
                continue
            setting = next((k.setting_c for k in driven if k.setting_c is not None), None)
            high = facts()["sf.pump.overheat"].value
            top = float(high[-1]) if isinstance(high, list) else 90.0
            if setting is None and driven[0].does == "runs_above":
                yield Missing(pump, f"{case.name(pump)}: start temperature is missing", driven[0].id, "setting_c")
            elif setting is not None and setting > top:
                yield Finding(
                    severity=Severity.FAULT,
                    subject=pump,
                    culprits=(pump,),
                    path=(pump, source.part),
                    message=f"{case.name(pump)} starts at {setting:g} °C; above {top:g} °C the stove may boil first.",
                    todo="Set its thermostat to between 45 and 60 °C.",
                    measured=setting,
                    limit=top,
                    unit="°C",
                    sources=("sf.pump.overheat", "sf.pump.start.flow"),
                )
            elif setting is not None and not 45.0 <= setting <= 60.0:
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=pump,
                    culprits=(pump,),
                    path=(pump, source.part),
                    message=f"{case.name(pump)} starts at {setting:g} °C; 45 to 60 °C is usual.",
                    todo="Check the setting with the stove's maker.",
                    measured=setting,
                    limit=60.0,
                    unit="°C",
                    sources=("sf.pump.start.flow",),
                )
            else:
                yield Sound(pump)


@rule(
    "solid-fuel/cold-return",
    about="one fire with a pumped circuit",
    yields_to=("gravity-loop/pump-in-line", "solid-fuel/heat-leak-needs-power", "order/loading-unit-sides"),
)
def cold_return(case: Case) -> Iterator[Said]:
    """Pumped cold water entering the fire's return."""
    ways = case.ways
    for source in ways.fires:
        pumped = pumped_loops(case, source)
        if not pumped:
            continue
        log = ways.has_tag(source.part, "log_boiler") or ways.sheet.parts[source.part].kind == "log_boiler"
        stated = ways.number(source.part, "min_return_c")
        stove = facts()["sf.return.min.stove"].value
        limit = (
            stated
            if stated is not None
            else (case.limit("sf.return.min.log") if log else float(stove[-1]) if isinstance(stove, list) else 50.0)
        )
        guards = {
            ways.elements[k].part
            for loop in pumped
            for k in loop.keys
            if ways.elements[k].part
            and (
                ways.has_tag(ways.elements[k].part, "loading_unit")
                or ways.has_tag(ways.elements[k].part, "return_valve")
            )
        }
        held = [
            k
            for k in case.sheet.links.values()
            if k.does == "runs_above"
            and k.setting_c is not None
            and k.setting_c >= limit
            and any(k.target == ways.elements[e].part for w in pumped for e in w.keys)
        ]
        if guards or held:
            part = next(iter(sorted(guards)), "")
            setting = None
            if part:
                setting = ways.number(part, "opens_c") or ways.number(part, "setting_c")
            if part and setting is None:
                yield Missing(source.part, f"{case.name(part)}: opening temperature is missing", part, "opens_c")
            elif part and setting is not None and setting < limit:
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=source.part,
                    culprits=(part,),
                    path=pumped[0].ids,
                    message=f"{case.name(part)} opens at {setting:g} °C;"
                    f" {case.name(source.part)} wants {limit:g} °C back.",
                    todo=f"Fit an insert for {limit:g} °C.",
                    measured=setting,
                    limit=limit,
                    unit="°C",
                    sources=("sf.return.min.log" if log else "sf.return.min.stove",),
                )
            else:
                yield Sound(source.part)
            continue
        pump = pumps_on(case, pumped[0])[0]
        yield Finding(
            severity=Severity.FAULT if log else Severity.ADVICE,
            subject=source.part,
            culprits=(pump,),
            path=pumped[0].ids,
            message=f"{case.name(pump)} sends cold water straight back to {case.name(source.part)};"
            f" it wants {limit:g} °C or more.",
            todo="Fit a loading unit on the return, with a flap.",
            limit=limit,
            unit="°C",
            sources=("sf.return.min.log" if log else "sf.return.min.stove",),
        )
