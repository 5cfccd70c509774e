"""What the solved flow adds to rules of the graph: night circulation, height of a sink, height of a vent.

Owns these answers only. The rules themselves stand with their themes.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering.night import Night, at_night
from loopwright.errors import FigureError
from loopwright.rules.circuits import Circuit, load_circuits, source_circuits
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import missing
from loopwright.rules.registry import Case, Said, all_rules, sharpens
from loopwright.rules.themes.vent_pressure import PA_M, Known, each_known
from loopwright.rules.vents import feed_outlets, joint_of, line_m, runs, vented_waters
from loopwright.waterways.waters import water_of

NEEDS_FLOW = "needs the flow network"


# -- night circulation ----------------------------------------------------------------------------------------------


@sharpens("circuit/night-thermosyphon")
def night(case: Case, said: tuple[Said, ...]) -> Iterator[Said]:
    """Whether warm water rises by itself, solved: rooms at 15 degC, collectors losing to -5 degC."""
    circuits = {c.subject: c for c in (*source_circuits(case), *load_circuits(case)) if _pump(case, c)}
    for item in said:
        circuit = circuits.get(item.subject)
        waits = isinstance(item, Missing) and item.what.endswith(NEEDS_FLOW)
        if circuit is None or not (waits or isinstance(item, Finding)):
            yield item
            continue
        found = _at_night(case, circuit)
        if isinstance(found, Missing):
            yield item if isinstance(item, Finding) else found
        elif isinstance(item, Finding):
            yield _measured(item, found) if found.moves else item
        else:
            yield _load(case, circuit, found)


def _pump(case: Case, circuit: Circuit) -> str:
    return next((k[1] for k in circuit.keys if case.ways.elements[k].does is Behaviour.PUMP), "")


def _at_night(case: Case, circuit: Circuit) -> Night | Missing:
    ways = case.ways
    key = next(k for k in circuit.keys if ways.elements[k].does is Behaviour.PUMP)
    of = water_of(ways, ways.elements[key].a)
    assert of is not None
    try:
        return at_night(ways, of, key)
    except FigureError as bad:
        return missing(circuit.subject, bad)


def _measured(found: Finding, night: Night) -> Finding:
    return msgspec.structs.replace(
        found, message=f"{found.message} About {night.lost_W:.0f} W go that way on a night of -5 °C."
    )


def _load(case: Case, circuit: Circuit, found: Night) -> Said:
    if not found.moves:
        return Sound(circuit.subject, "Solved: nothing rises in it at rest")
    if not found.settled:
        return Missing(circuit.subject, "The flow at rest does not settle")
    pump = _pump(case, circuit)
    return Finding(
        severity=Severity.ADVICE,
        subject=circuit.subject,
        culprits=(pump,),
        path=circuit.ids,
        message=f"With its pump standing {3600 * abs(found.flow_kg_s):.0f} kg/h still go through"
        f" {case.name(circuit.subject)}: about {found.lost_W:.0f} W leave {case.name(circuit.store)}.",
        todo="Put an anti-gravity check beside the pump, facing the way it pushes.",
        measured=3600 * abs(found.flow_kg_s),
        limit=0.0,
        unit="kg/h",
        sources=("sol.nrv",),
    )


# -- a low sink that the flow shows to do ----------------------------------------------------------------------------


@sharpens("gravity-loop/sink-too-low")
def low_sink(case: Case, said: tuple[Said, ...]) -> Iterator[Said]:
    """Advice about little height is withdrawn where gravity is shown to carry the heat."""
    advised = {i.subject for i in said if isinstance(i, Finding) and i.severity is Severity.ADVICE}
    carried: set[str] = set()
    if advised:
        weak = tuple(all_rules(computed=True)["gravity-loop/too-weak"].check(case))
        by_fire = {s: [a for a in weak if a.subject == s] for s in advised}
        carried = {
            s for s, got in by_fire.items() if got and all(isinstance(a, Sound) and "kg/h" in a.because for a in got)
        }
    for item in said:
        if isinstance(item, Finding) and item.severity is Severity.ADVICE and item.subject in carried:
            low = case.name(item.culprits[0])
            yield Sound(
                item.subject, f"{low} lies only {item.measured:.2f} m above, and gravity carries the heat: solved"
            )
        else:
            yield item


# -- the pump's push at a vent ----------------------------------------------------------------------------------------


@sharpens("vent-and-feed/vent-too-low")
def vent_with_pump(case: Case, said: tuple[Said, ...]) -> Iterator[Said]:
    """The allowance for height with the pump's push at the vent's joint on top."""
    by_owner = {run.owner: (water, run) for water in vented_waters(case) for run in runs(case, water)}
    for item in said:
        if not (isinstance(item, Missing) and item.what.endswith(NEEDS_FLOW)) or item.subject not in by_owner:
            yield item
            continue
        water, run = by_owner[item.subject]
        every = each_known(case, water)
        joint = joint_of(case, run)
        line = line_m(case, run.cistern)
        outlets = [o for body in water.feeds for o in sorted(feed_outlets(case, water, body[1]))]
        lacks = next((x for x in every if isinstance(x, Missing)), None)
        if lacks is not None or line is None or not outlets:
            yield Missing(item.subject, lacks.what, lacks.part, lacks.prop) if lacks is not None else item
            continue
        pushes = [x.pressures.push_Pa(joint, outlets[0]) or 0.0 for x in every if isinstance(x, Known)]
        heads = max(0.0, *pushes, 0.0) / PA_M
        base = min((case.sheet.parts[s.part].height_m for s in water.sources), default=line)
        rise = case.limit("vent.rise.base") / 1000 + case.limit("vent.rise.per_m") / 1000 * max(0.0, line - base)
        needed, stands = rise + heads, run.turn_over_m - line
        if stands >= needed - 1e-3:
            yield Sound(
                item.subject, f"The pump pushes {1000 * heads:.0f} mm at its joint: {1000 * needed:.0f} mm needed"
            )
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=run.owner,
            culprits=(run.pipe,),
            path=(*run.ids, run.cistern),
            message=f"{case.name(run.pipe)} turns over {1000 * stands:.0f} mm above the cold water;"
            f" {1000 * needed:.0f} mm is needed, {1000 * heads:.0f} mm of it for the pump's push at its joint.",
            todo=f"Raise the turn-over by {1000 * (needed - stands):.0f} mm, or move the pump beyond its joint.",
            measured=1000 * stands,
            limit=1000 * needed,
            unit="mm",
            sources=("vent.rise.base", "vent.rise.per_m", "vent.rise.H"),
        )
