"""Figures of pumps in a steady circulation: duty point, and the circuit that decides what head is needed.

Owns which figures of a pump people read. Knows nothing of how a network is built or solved.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import networkx as nx

from loopwright.catalogue import Behaviour
from loopwright.engineering.books import heads
from loopwright.engineering.circulation import Circulation
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, stated
from loopwright.engineering.figures.outcome import SOLVER
from loopwright.engineering.steady import STILL_KG_S
from loopwright.waterways.graph import Key, Waterways

COLD_KG_M3 = 998.0


def pump_figures(ways: Waterways, got: Circulation) -> Iterator[Figure | Gap]:
    """Figures of every pump that runs in a steady water."""
    if not got.drawn.condition.power:
        return
    for branch, run in got.drawn.runs.items():
        for key, _ in run.steps:
            element = ways.elements[key]
            if element.does is Behaviour.PUMP and element.part not in got.drawn.condition.stopped:
                yield from _pump(ways, got, branch, key)


def _pump(ways: Waterways, got: Circulation, branch: str, key: Key) -> Iterator[Figure | Gap]:
    part = ways.elements[key].part
    flow = got.answer.flow_kg_s(branch)
    head = stated(ways, part, "head_m", "head with no flow", "m")
    most = stated(ways, part, "flow_max_m3h", "flow with no head", "m³/h")
    assert head is not None and most is not None  # the network was built with them

    of = Subject(group=ways.name(part), about=(part,), topic="pumps", page="pump-duty")
    warm = min(110.0, max(0.0, got.answer.cells_C(branch)[0]))
    lift = head.value * (1 - (3600 * flow / COLD_KG_M3 / most.value) ** 2)
    curve = (head, most)
    yield of.figure(
        "Flow at the duty point",
        3600 * flow / float(got.drawn.net.fluid.density_kg_m3(warm)),
        "m³/h",
        "where its curve H0 (1 - (V / Vmax)²) meets the circuit",
        (*curve, Input("temperature", warm, "°C")),
        SOLVER,
    )
    yield of.figure(
        "Head at the duty point",
        lift,
        "m",
        "H0 (1 - (V / Vmax)²)",
        curve,
        "parabola between both ends of its curve: common practice",
    )
    yield from _index(ways, got, branch, of)


def _index(ways: Waterways, got: Circulation, branch: str, of: Subject) -> Iterator[Figure | Gap]:
    """Of the emitters that the pump feeds, the one with least flow for its output: its loop decides the head."""
    fed: list[tuple[float, str, list[tuple[str, int]], Input]] = []
    for sink in ways.sinks:
        held = got.drawn.at_cell.get(sink.part)
        output = stated(ways, sink.part, "output_w", f"{ways.name(sink.part)}: rated output", "W")
        if sink.sort != "emitter" or held is None or output is None or output.value <= 0.0:
            continue
        way = _round(got, branch, held.branch)
        if way is not None:
            fed.append((3600 * abs(got.answer.flow_kg_s(held.branch)) / output.value * 1000, sink.part, way, output))
    if not fed:
        return
    per_kw, emitter, way, output = min(fed, key=lambda x: x[0])
    lost = heads(got.answer.arrays, got.answer.ending.state, way).loss_Pa
    names = {name for name, _ in way}
    lit = tuple(p for p, laid in got.drawn.pipes.items() if laid.branch in names)
    yield of.figure(
        f"Index circuit, by {ways.name(emitter)}: resistance",
        lost,
        "Pa",
        "Σ (f L / d + K) ρ v² / 2 round the loop with least flow for its output",
        (output, Input("flow for its output", per_kw, "kg/h a kW")),
        SOLVER,
        f"of {len(fed)} emitter{'s' if len(fed) > 1 else ''} on this pump",
        about=(*of.about, emitter, *lit),
    )
    through = got.through(emitter)
    yield of.figure(
        f"Index circuit, by {ways.name(emitter)}: flow",
        3600 * through.flow_kg_s,
        "kg/h",
        "continuity and momentum",
        (output,),
        SOLVER,
        f"{through.inlet_C - through.outlet_C:.1f} K colder when it leaves",
        about=(*of.about, emitter, *lit),
    )


def _round(got: Circulation, first: str, by: str) -> list[tuple[str, int]] | None:
    """A loop with the flow through a pump's branch and another one, None if the water of the one misses the other."""
    flows = {b.name: got.answer.flow_kg_s(b.name) for b in got.drawn.net.branches}
    if abs(flows[first]) < STILL_KG_S or abs(flows[by]) < STILL_KG_S:
        return None
    ends = {
        b.name: (b.a.place, b.b.place) if flows[b.name] > 0.0 else (b.b.place, b.a.place)
        for b in got.drawn.net.branches
    }
    stores = {s.name for s in got.drawn.net.stores}
    graph: nx.DiGraph = nx.DiGraph()
    for name in sorted(flows, key=lambda n: abs(flows[n])):
        if abs(flows[name]) >= STILL_KG_S:
            graph.add_edge(*ends[name], name=name)  # of two between the same places, the one with more flow stays

    def leg(start: str, end: str) -> list[str] | None:
        if start == end:
            return []
        kept = graph.subgraph(n for n in graph if n not in stores or n in (start, end))
        if start not in kept or end not in kept or not nx.has_path(kept, start, end):
            return None
        return [kept.edges[pair]["name"] for pair in pairwise(nx.shortest_path(kept, start, end))]

    if first == by:
        back = leg(ends[first][1], ends[first][0])
        way = None if back is None else [first, *back]
    else:
        there, back = leg(ends[first][1], ends[by][0]), leg(ends[by][1], ends[first][0])
        way = None if there is None or back is None else [first, *there, by, *back]
    if way is None or len({ends[name][0] for name in way}) < len(way):
        return None  # it would pass a place twice: two circuits that share a place are not one
    return [(name, 1 if flows[name] > 0.0 else -1) for name in way]
