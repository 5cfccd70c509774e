"""The rule of water pushed backwards through a circuit whose pump stands, as far as the drawing alone tells.

How much runs backwards needs the flow network and is not counted yet: so this is advice.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.themes.circuit import pumps
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
    rounds = {p.part: (p, way) for p in pumps(case) if (way := _round(case, p)) is not None}
    fires = {s.key for s in ways.sources if s.stops == "fire"}
    for name, (idle, way) in rounds.items():
        keys = {k for k, _ in way}
        if fires & keys or ways.value(name, "standby_of"):
            continue  # no check belongs in a fire's own pair
        beside = [
            (n, other, w)
            for n, (other, w) in rounds.items()
            if n != name
            and water_of(ways, other.a) is water_of(ways, idle.a)
            and not ways.value(n, "standby_of")
            and idle.key not in {k for k, _ in w}
            and other.key not in keys
        ]
        if not beside:
            continue
        pushed = next((n for n, _, w in beside if _pushes(case, way, {k for k, _ in w})), None)
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


def _round(case: Case, pump: Element) -> tuple[Step, ...] | None:
    """The shortest way from a pump's outlet round to its inlet, the pump itself last."""
    ways = case.ways
    way = shortest(ways, running(case), [pump.b], {pump.a}, drop={pump.key}, walls=ways.bodies("cistern"))
    return None if way is None else (*way, (pump.key, True))


def _pushes(case: Case, way: tuple[Step, ...], others: set[Key]) -> bool:
    """Whether two rounds share pipe, and what is the idle one's alone lets water back."""
    sheet = case.ways.sheet
    if not any(k[0] == "pipe" and k in others and not sheet.pipes[k[1]].joint for k, _ in way):
        return False
    alone = [(k, not forward) for k, forward in way if k not in others]
    return not against(case.ways, passing(case.ways, Ask.IDLE), alone)
