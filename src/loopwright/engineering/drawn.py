"""The flow network of a drawing: one water of a sheet under a condition, as a `Net`.

Owns the joining of runs, parts, vessels and the boiling line into a network, and where each pipe and part of the
drawing lies in it. Knows nothing of how a network is solved, nor of figures and rules.

Conventions. Heights follow the drawn line; sources and emitters count at their thermal centres. Loss coefficients
are constant and refer to the pipe's own velocity. Pipes lose no heat unless asked. Valves moved by temperature stand
open, save that a loading unit's own bypass is shut: the water is warm. Stores hold their temperature.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from loopwright.catalogue import Behaviour
from loopwright.engineering.drawn_branch import Held, Laid, branch_of, place_name
from loopwright.engineering.drawn_parts import (
    WATER_J_L_K,
    Asked,
    Charge,
    Heat,
    Side,
    drawn_fluid,
    figure,
    heat_of,
    is_store,
    line_of,
    side_store,
    store_of,
    thermostat_store,
)
from loopwright.engineering.net import Net, Node, Store
from loopwright.engineering.reduction import Run, circulating
from loopwright.engineering.valves import Valve, found_in
from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.views import NORMAL, SHUT, Ask, Condition, Passing, passing
from loopwright.waterways.waters import Water

JOINT_J_K = 400.0  # a tee with its water


@dataclass(frozen=True)
class Drawn:
    """A network and its drawing: what lies in each branch.

    `at_cell`: the cell of each source and emitter by its part. `assumed`: what the drawing did not say, in words.
    """

    net: Net
    water: Water
    condition: Condition
    ask: Ask
    charge: Charge
    heats: Mapping[str, Heat]
    runs: Mapping[str, Run]
    pipes: Mapping[str, Laid]
    at_cell: Mapping[str, Held]
    assumed: tuple[str, ...]
    lossy: bool = False
    valves: tuple[Valve, ...] = ()
    openings: Mapping[str, float] = field(default_factory=dict)
    """How far the warmer way of each mixing valve stands open, once it has come to rest."""


def view_of(condition: Condition) -> Ask:
    """The view of a condition: running with power, rest without."""
    return Ask.RUNNING if condition.power else Ask.REST


def drawn(
    ways: Waterways,
    water: Water,
    condition: Condition = NORMAL,
    *,
    ask: Ask | None = None,
    shares: Mapping[str, float] | None = None,
    heats: Mapping[str, Heat] | None = None,
    charge: Charge = Charge.FULL,
    lossy: bool = False,
    moving: bool = False,
    sides: Mapping[tuple[str, str], Side] | None = None,
) -> Drawn | None:
    """The network of a water, or None if nothing can circulate in it.

    `shares` are parts of nominal output by source, one if not given; `heats` replaces what a source gives outright.
    `lossy`: pipes lose heat to the room, lagged as drawn, else as is usual. `moving`: valves that mix by temperature
    are left for whoever solves it to set. `sides`: what each side of a plate exchanger meets on its other side.
    Raises FigureError naming the part and property that is missing.
    """
    view = view_of(condition) if ask is None else ask
    heat = {
        s.part: (heats or {}).get(s.part) or heat_of(ways, s, condition, view, (shares or {}).get(s.part, 1.0))
        for s in water.sources
    }
    asked = Asked(ways, condition, view, charge, heat, lossy, sides=sides or {})
    passes = passing(ways, view, condition)
    if not moving:
        passes = _passes(ways, passes, asked)
    runs = circulating(ways, passes, water.elements, lambda keys, place: _drives(asked, water, keys, place))
    if not runs:
        return None
    named: dict[str, Run] = {}
    branches, pipes, at_cell = [], {}, {}
    for run in runs:
        name = _name(ways, run, named)
        named[name] = run
        branch, laid, held = branch_of(asked, run, name)
        branches.append(branch)
        pipes.update({x.pipe: x for x in laid})
        at_cell.update({x.part: x for x in held})
    fluid, supposed = drawn_fluid(ways, water)
    if supposed:
        asked.suppose(supposed)
    valves = found_in(asked, named) if moving else ()
    seeking = {v.part for v in valves}
    for part in dict.fromkeys(ways.elements[k].part for run in runs for k, _ in run.steps):
        if part and ways.has_tag(part, "mixing_valve") and part not in seeking:
            asked.suppose(f"{ways.name(part)} lets in both its waters")
    nodes, stores = _places(asked, runs, water)
    net = Net(tuple(branches), nodes, stores, line_of(asked, water), figure("room", "celsius"), fluid)
    return Drawn(net, water, condition, view, charge, heat, named, pipes, at_cell, tuple(asked.assumed), lossy, valves)


def _passes(ways: Waterways, passes: Passing, asked: Asked) -> Passing:
    """The view with the bypasses of warm loading units shut."""
    shut = [e for e in ways.elements.values() if passes[e.key] and _warm_bypass(ways, e)]
    for part in dict.fromkeys(e.part for e in shut):
        asked.suppose(f"{ways.name(part)} is warm and has shut its bypass")
    return {**passes, **{e.key: SHUT for e in shut}} if shut else passes


def _warm_bypass(ways: Waterways, element: Element) -> bool:
    return element.way is not None and element.way.bypass and element.does is Behaviour.THERMAL


def _drives(asked: Asked, water: Water, keys: Iterable[Key], place: Place) -> bool:
    """Whether a connected part of the network can move by itself: a pump, heat, or a warm vessel."""
    ways = asked.ways
    elements = [ways.elements[k] for k in keys]
    if any(e.does is Behaviour.PUMP and asked.condition.power for e in elements):
        return True
    if any(e.does is Behaviour.SOURCE and asked.heats.get(e.part, Heat()).watts > 0.0 for e in elements):
        return True
    if water.fluid == "domestic":
        return False
    return is_store(ways, place) or any(
        e.does is Behaviour.COIL and not ways.has_tag(e.part, "plate") and not ways.kind(e.part).source
        for e in elements
    )


def _name(ways: Waterways, run: Run, taken: Mapping[str, Run]) -> str:
    """A branch by its first and last pipe, or by its part."""
    pipes = [key[1] for key, _ in run.steps if key[0] == "pipe"]
    name = f"{pipes[0]} to {pipes[-1]}" if len(pipes) > 1 else pipes[0] if pipes else " ".join(run.steps[0][0][1:])
    return name if name not in taken else f"{name} ({len(taken)})"


def _places(asked: Asked, runs: list[Run], water: Water) -> tuple[tuple[Node, ...], tuple[Store, ...]]:
    ways = asked.ways
    ends = list(dict.fromkeys(p for run in runs for p in (run.u, run.v)))
    nodes = []
    for place in ends:
        if not is_store(ways, place):
            litres = (ways.number(place[1], "volume_l") or 0.0) if place[0] == "body" else 0.0
            nodes.append(Node(place_name(asked, place), ways.at[place][1], JOINT_J_K + WATER_J_L_K * litres))
    vessels = [p[1] for p in ends if is_store(ways, p)]
    for run in runs:
        vessels += [
            ways.elements[k].part
            for k, _ in run.steps
            if ways.elements[k].does is Behaviour.COIL and ways.kind(ways.elements[k].part).body
        ]
    stores = [store_of(asked, part) for part in dict.fromkeys(vessels)]
    lived = {k for run in runs for k, _ in run.steps}
    held = [thermostat_store(asked, s) for s in water.sources if s.key in lived]
    facing = [side_store(part, way, s) for (part, way), s in asked.sides.items() if ("way", part, way) in lived]
    return tuple(nodes), (*stores, *(h for h in held if h is not None), *facing)
