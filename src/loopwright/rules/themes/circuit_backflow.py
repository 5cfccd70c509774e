"""The rule of water pushed backwards through a circuit whose pump stands, as far as the drawing alone tells.

How much runs backwards needs the flow network and is not counted yet: so this is advice.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.themes.circuit_pumps import running
from loopwright.waterways.graph import Element, Key
from loopwright.waterways.paths import against, shortest
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of


@rule("circuit/backflow-through-idle-circuit", about="one pump beside another")
def backflow_through_idle_circuit(case: Case) -> Iterator[Said]:
    """A circuit that another pump can push backwards, for want of a check valve."""
    ways = case.ways
    rounds = [one for pump in ways.doing(Behaviour.PUMP) if (one := _round(case, pump)) is not None]
    of_water: dict[int, list[_Round]] = {}
    for one in rounds:
        of_water.setdefault(one.water, []).append(one)
    fires = {s.key for s in ways.sources if s.stops == "fire"}
    for idle in rounds:
        name, way = idle.pump.part, idle.way
        if not fires.isdisjoint(idle.keys) or ways.value(name, "standby_of"):
            continue  # no check belongs in a fire's own pair
        beside = [
            other
            for other in of_water[idle.water]
            if other is not idle
            and not ways.value(other.pump.part, "standby_of")
            and idle.pump.key not in other.keys
            and other.pump.key not in idle.keys
        ]
        if not beside:
            continue
        pushed = next((other.pump.part for other in beside if _pushes(case, way, other.keys)), None)
        if pushed is None:
            yield Sound(name, "Nothing else can push its water backwards")
            continue
        path = tuple(dict.fromkeys(k[1] for k, _ in way))
        yield Finding(
            severity=Severity.ADVICE,
            subject=name,
            culprits=(name,),
            path=path,
            sources=("sf.link.nrv",),
            message=f"{case.name(pushed)} can push water backwards through {case.name(name)} while that stands.",
            todo=f"Put a check valve beside {case.name(name)}.",
        )


class _Round(NamedTuple):
    """A pump and its way round."""

    pump: Element
    way: tuple[Step, ...]
    keys: frozenset[Key]
    water: int
    """The number of the water it moves; -1 in a cistern, which is none."""


def _round(case: Case, pump: Element) -> _Round | None:
    """The shortest way from a pump's outlet round to its inlet, the pump itself last."""
    ways = case.ways
    way = shortest(ways, running(case), [pump.b], {pump.a}, drop={pump.key}, walls=ways.bodies("cistern"))
    if way is None:
        return None
    steps = (*way, (pump.key, True))
    water = water_of(ways, pump.a)
    return _Round(pump, steps, frozenset(key for key, _ in steps), -1 if water is None else water.number)


def _pushes(case: Case, way: tuple[Step, ...], others: frozenset[Key]) -> bool:
    """Whether two rounds share pipe, and what is the idle one's alone lets water back."""
    sheet = case.ways.sheet
    if not any(k[0] == "pipe" and k in others and not sheet.pipes[k[1]].joint for k, _ in way):
        return False
    alone = [(k, not forward) for k, forward in way if k not in others]
    return not against(case.ways, passing(case.ways, Ask.IDLE), alone)
