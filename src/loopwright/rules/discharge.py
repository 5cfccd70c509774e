"""Discharge pipes: the walk from a relief or thermal discharge valve to where its water runs out.

Shared by the rules of discharge. Owns the walk and its measures; says nothing about right and wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering import discharge_walk
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Place, Source
from loopwright.waterways.paths import shortest
from loopwright.waterways.profile import LEVEL_M, stops
from loopwright.waterways.services import run_from
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import FORWARD, SHUT, Ask, Passing, passing
from loopwright.waterways.waters import Water, water_of

FIRE_STOPS = ("fire", "residual")


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


def discharges(case: Case) -> tuple[Discharge, ...]:
    """Every relief valve and thermal discharge valve with its discharge pipe, cached."""
    ways = case.ways
    if "discharges" not in ways.cache:
        ways.cache["discharges"] = tuple(
            _discharge(case, e)
            for e in ways.elements.values()
            if e.does is Behaviour.RELIEF or (e.part and ways.has_tag(e.part, "thermal_discharge"))
        )
    return cast(tuple[Discharge, ...], ways.cache["discharges"])


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
        fire=next((s for s in guarded.sources if s.stops in FIRE_STOPS), None) if guarded else None,
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


def _view(case: Case) -> Passing:
    """How discharged water may go: every way open, checks with their arrow, and down through a tundish."""
    ways = case.ways
    if "discharge view" not in ways.cache:
        out = dict(passing(ways, Ask.OPEN))
        for key, element in ways.elements.items():
            if element.does is Behaviour.AIR_GAP:
                out[key] = FORWARD if ways.has_tag(element.part, "tundish") else SHUT
            elif element.does is Behaviour.ONE_WAY:
                out[key] = FORWARD
        ways.cache["discharge view"] = out
    return cast(Passing, ways.cache["discharge view"])


def _ends(case: Case) -> set[Place]:
    """Where a discharge may end: at a discharge point, or over a cistern that is no longer full to its mouth."""
    ways = case.ways
    if "discharge ends" not in ways.cache:
        out: set[Place] = {("port", p.id, name) for p in ways.tagged("discharge_point") for name in ways.ports[p.id]}
        for body in ways.bodies("cistern"):
            out |= {
                e.other(body)
                for e in ways.links[body]
                if e.does is Behaviour.AIR_GAP and ways.ports[body[1]][e.other(body)[2]].role == "vent"
            }
        ways.cache["discharge ends"] = out
    return cast(set[Place], ways.cache["discharge ends"])


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


def length_m(case: Case, steps: Iterable[Step]) -> float:
    """Developed length of a walk: what is drawn, and what the section cannot show."""
    return discharge_walk.length_m(case.ways, steps)


def bends(case: Case, steps: Iterable[Step]) -> int:
    """Bends of a walk: where it turns as drawn, and those the section cannot show."""
    return discharge_walk.bends(case.ways, steps)


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
