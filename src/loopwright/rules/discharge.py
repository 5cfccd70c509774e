"""Discharge pipes: the walk from a relief or thermal discharge valve to where its water runs out.

Shared by the rules of discharge. Owns the walk and its measures; says nothing about right and wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Place, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import shortest
from loopwright.waterways.profile import LEVEL_M, stops
from loopwright.waterways.services import run_from
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import FORWARD, SHUT, Ask, Passing, passing
from loopwright.waterways.waters import Water, is_vent_end, water_of


class Discharge(msgspec.Struct, frozen=True, kw_only=True):
    """One valve and its discharge pipe. `steps` run from its outlet to the end, empty when there is none."""

    valve: str
    outlet: Place
    steps: tuple[Step, ...]
    piped: bool
    tundish: str
    """The first tundish on the way, or ''."""
    at_tundish: int
    """Index of the tundish in `steps`; their number without one."""
    run: tuple[str, ...]
    """Parts and pipes from the outlet to the end, or to where the pipe is lost."""
    unvented: bool
    """It guards a vessel of water under mains pressure."""
    fire: Source | None
    thermal: bool
    """A thermal discharge valve: the main drives its water."""

    @property
    def before(self) -> tuple[Step, ...]:
        """From the outlet to the tundish, or to the end."""
        return self.steps[: self.at_tundish]

    @property
    def after(self) -> tuple[Step, ...]:
        """From the tundish to the end."""
        return self.steps[self.at_tundish + 1 :]


@kept
def discharges(case: Case) -> tuple[Discharge, ...]:
    """Every relief valve and thermal discharge valve with its discharge pipe."""
    return tuple(
        _discharge(case, e)
        for e in case.ways.elements.values()
        if e.does is Behaviour.RELIEF or case.ways.has_tag(e.part, "thermal_discharge")
    )


def _discharge(case: Case, valve: Element) -> Discharge:
    ways = case.ways
    guarded = water_of(ways, valve.a)
    steps = shortest(ways, _view(case), [valve.b], _ends(case), drop={valve.key}) or ()
    tundish, index = "", len(steps)
    for number, (key, _) in enumerate(steps):
        if ways.has_tag(ways.elements[key].part, "tundish"):
            tundish, index = ways.elements[key].part, number
            break
    keys = [k for k, _ in steps] or run_from(ways, valve.b, valve.key)
    return Discharge(
        valve=valve.part,
        outlet=valve.b,
        steps=steps,
        piped=any(e.pipe for e in ways.links[valve.b]),
        tundish=tundish,
        at_tundish=index,
        run=tuple(dict.fromkeys(k[1] for k in keys)),
        unvented=_unvented(case, guarded),
        fire=next((s for s in guarded.sources if s.stays_hot), None) if guarded else None,
        thermal=valve.does is not Behaviour.RELIEF,
    )


def _unvented(case: Case, water: Water | None) -> bool:
    """Whether a water under mains pressure holds a vessel of more than a coil's size."""
    if water is None or water.regime != "mains":
        return False
    small = case.limit("store.vented.coil")
    return any(
        b in water.places and (case.ways.number(b[1], "volume_l") or small) >= small
        for b in case.ways.bodies("cylinder", "store")
    )


@kept
def _view(case: Case) -> Passing:
    """How discharged water may go: every way open, checks with their arrow, and down through a tundish."""
    ways = case.ways
    out = dict(passing(ways, Ask.OPEN))
    for element in ways.doing(Behaviour.AIR_GAP, Behaviour.ONE_WAY):
        falls = element.does is Behaviour.ONE_WAY or ways.has_tag(element.part, "tundish")
        out[element.key] = FORWARD if falls else SHUT
    return out


@kept
def _ends(case: Case) -> set[Place]:
    """Where a discharge may end: at a discharge point, or over a cistern that is no longer full to its mouth."""
    ways = case.ways
    out: set[Place] = {("port", p.id, name) for p in ways.tagged("discharge_point") for name in ways.ports[p.id]}
    return out | {e.port for e in ways.doing(Behaviour.AIR_GAP) if is_vent_end(ways, e)}


def can_shut(case: Case, found: Discharge) -> tuple[str, ...]:
    """Parts on the way that can shut it: the valve's own seat is not asked."""
    ways = case.ways
    doing = (Behaviour.HAND, Behaviour.POWERED, Behaviour.THERMAL, Behaviour.PUMP, Behaviour.ONE_WAY)
    return tuple(
        dict.fromkeys(
            ways.elements[k].part
            for k, _ in found.steps
            if ways.elements[k].does in doing and not ways.value(ways.elements[k].part, "locked_open")
        )
    )


def pipes_of(case: Case, steps: Iterable[Step]) -> list[str]:
    """Pipes of a walk in order, joints left out."""
    sheet = case.ways.sheet
    return [k[1] for k, _ in steps if k[0] == "pipe" and not sheet.pipes[k[1]].joint]


def drop_m(case: Case, steps: Iterable[Step]) -> tuple[float, bool]:
    """Length of straight upright pipe at the head of a walk, in metres, and whether a bend follows it."""
    walk = stops(case.ways, steps)
    fallen = 0.0
    for before, here in pairwise(walk):
        if before.at == here.at:
            continue
        if abs(here.at[0] - before.at[0]) > LEVEL_M or here.at[1] > before.at[1]:
            return fallen, True
        fallen += before.at[1] - here.at[1]
    return fallen, False
