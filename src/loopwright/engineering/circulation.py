"""The circulation of a drawn water: its network solved, and read back by pipe and part.

Owns thermostats that let go, the loop of a source, what a change of pipe or height would give. Knows nothing of how a
network is built or stepped, nor of figures and rules.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import cast

import msgspec
import networkx as nx

from loopwright.engineering import pipes, water
from loopwright.engineering.abreast import Steps, abreast, carried_out
from loopwright.engineering.arrays import arrays
from loopwright.engineering.books import Heads, heads
from loopwright.engineering.drawn import Drawn, drawn
from loopwright.engineering.drawn_branch import Held
from loopwright.engineering.drawn_parts import Charge, Heat, Side
from loopwright.engineering.fluid import WATER, Fluid
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Answer, Ending
from loopwright.engineering.plates import Arriving, exchanged, plates_on
from loopwright.engineering.steady import REMEMBERED, STILL_KG_S, from_kick, settle, steady
from loopwright.engineering.valves import at_rest
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import NORMAL, Condition
from loopwright.waterways.waters import Water, waters

ROUNDS = 3  # a thermostat lets go at most twice: to full power, or off


@dataclass(frozen=True)
class Circulation:
    """A drawn water and its answer. Flows and temperatures are those of the ending to judge by."""

    drawn: Drawn
    answer: Answer
    off: tuple[str, ...] = ()
    """Switched sources that give nothing because the water that comes back is hotter than they send."""

    @property
    def steady(self) -> bool:
        """Whether its figures hold: one steady state within known water, nothing that should carry standing still."""
        return self.answer.outcome == "steady" and self.known

    @property
    def known(self) -> bool:
        """Whether all its water is as warm as its properties are known for."""
        A, T = self.answer.arrays, self.answer.ending.state.T
        return bool((T[A.real] <= water.HIGHEST_C).all() and (T[A.real] >= water.LOWEST_C).all())

    def flow_kg_s(self, pipe: str) -> float:
        """Flow of a pipe towards its end b; nil where nothing can go round."""
        laid = self.drawn.pipes.get(pipe)
        return 0.0 if laid is None else laid.sign * self.answer.flow_kg_s(laid.branch)

    def pipe_C(self, pipe: str) -> float:
        """Temperature of the water in a pipe, held to where the properties of water are known."""
        laid = self.drawn.pipes[pipe]
        return min(water.HIGHEST_C, max(water.LOWEST_C, self.answer.cells_C(laid.branch)[laid.cell]))

    def loss_Pa(self, pipe: str) -> float:
        """Friction and bends of a pipe at its flow, Pa, not below nil."""
        laid = self.drawn.pipes[pipe]
        flow = abs(self.flow_kg_s(pipe))
        warm, fluid = self.pipe_C(pipe), self.drawn.net.fluid
        return pipes.pressure_loss_Pa(flow, laid.bore_m, laid.length_m, laid.k, warm, laid.roughness_m, fluid)

    def through(self, part: str) -> Through:
        """What passes a source or an emitter."""
        held = self.drawn.at_cell[part]
        return _through(self.drawn.net, self.answer.ending, held, self.answer.flow_kg_s(held.branch))

    def loop(self, part: str) -> list[tuple[str, int]] | None:
        """Branches of the loop with the most water through a source or pump, with the flow's sense; None if still."""
        return _loop(self.drawn.net, self.answer, self._branch(part))

    def heads(self, part: str) -> Heads | None:
        """Heads round that loop, in the way of the flow."""
        way = self.loop(part)
        return None if way is None else heads(self.answer.arrays, self.answer.ending.state, way)

    def pipes_on(self, part: str) -> list[str]:
        """Pipes of that loop."""
        way = {name for name, _ in self.loop(part) or ()}
        return [p for p, laid in self.drawn.pipes.items() if laid.branch in way]

    def _branch(self, part: str) -> str:
        if part in self.drawn.at_cell:
            return self.drawn.at_cell[part].branch
        for name, run in self.drawn.runs.items():
            if any(key[:2] == ("way", part) for key, _ in run.steps):
                return name
        raise FigureError(f"“{part}” is not in this network")


@dataclass(frozen=True)
class Through:
    """Flow through a part, its temperatures in the way of the flow, and the heat that the water takes up there."""

    flow_kg_s: float
    inlet_C: float
    outlet_C: float
    fluid: Fluid = WATER

    @property
    def heat_W(self) -> float:
        """Heat taken up by the water; below nil for an emitter."""
        return self.flow_kg_s * float(self.fluid.enthalpy_J_kg(self.outlet_C) - self.fluid.enthalpy_J_kg(self.inlet_C))


def _through(net: Net, ending: Ending, held: Held, flow: float) -> Through:
    row = next(i for i, b in enumerate(net.branches) if b.name == held.branch)
    T = ending.state.T[row]
    inlet = T[held.cell - 1] if flow >= 0.0 else T[held.cell + 1]
    return Through(abs(flow), float(inlet), float(T[held.cell]), net.fluid)


@dataclass(frozen=True)
class Question:
    """What is asked of a water: how it circulates under a condition, with its stores so warm and its sources so hot.

    `heats` replaces what sources give outright. `lossy`: pipes lose heat to the room.
    """

    of: Water
    condition: Condition = NORMAL
    charge: Charge = Charge.FULL
    heats: Mapping[str, Heat] | None = None
    lossy: bool = False

    @property
    def key(self) -> tuple[object, ...]:
        """Its value, to keep the answer by."""
        given = tuple(sorted(self.heats.items())) if self.heats else None
        return self.of.number, self.condition, self.charge, given, self.lossy


def circulation(
    ways: Waterways,
    of: Water,
    condition: Condition = NORMAL,
    charge: Charge = Charge.FULL,
    heats: Mapping[str, Heat] | None = None,
    lossy: bool = False,
) -> Circulation | None:
    """A water solved under a condition, kept by the sheet; None if nothing can go round.

    Switched sources hold their flow temperature as long as that takes no more than their power; else they give all of
    it, or nothing where the water that comes back is hotter. Raises FigureError naming what is missing.
    """
    return carried_out(_asked(ways, Question(of, condition, charge, heats, lossy)))


def answer_together(ways: Waterways, questions: Iterable[Question]) -> None:
    """Answer questions abreast, in little more than the time of one, so that `circulation` finds them answered.

    One that lacks a figure is left as it is: it says so when it is asked.
    """
    different = {question.key: question for question in questions}
    carried_out(abreast([_without_complaint(ways, question) for question in different.values()]))


def _without_complaint(ways: Waterways, question: Question) -> Steps[None]:
    with suppress(FigureError):
        yield from _asked(ways, question)


def _asked(ways: Waterways, question: Question) -> Steps[Circulation | None]:
    memo = cast(dict[object, Circulation | None], ways.cache.setdefault("circulation", {}))
    if question.key not in memo:
        sides = _sides(ways, question)
        memo[question.key] = yield from _circulation(ways, question, dict(question.heats or {}), sides)
    return memo[question.key]


def _sides(ways: Waterways, question: Question) -> dict[tuple[str, str], Side]:
    """What the plate exchangers on a water meet on their other sides, kept by the sheet for both waters."""
    plates = plates_on(ways, question.of)
    if not plates:
        return {}
    memo = cast(dict[object, dict[tuple[str, str], Side]], ways.cache.setdefault("plate sides", {}))
    key = (tuple(sorted(p.part for p in plates)), *question.key[1:])
    if key not in memo:
        by_number = {w.number: w for w in waters(ways)}

        def solve(number: int, sides: Mapping[tuple[str, str], Side]) -> Callable[[str], Arriving | None]:
            other = replace(question, of=by_number[number])
            found = carried_out(_circulation(ways, other, dict(question.heats or {}), sides, _once))

            def arriving(part: str) -> Arriving | None:
                if found is None or part not in found.drawn.at_cell:
                    return None
                through = found.through(part)
                return Arriving(through.flow_kg_s, through.inlet_C)

            return arriving

        memo[key] = exchanged(plates, solve)
    return memo[key]


def circulations(
    ways: Waterways,
    condition: Condition = NORMAL,
    charge: Charge = Charge.FULL,
    lossy: bool = False,
) -> list[tuple[Water, Circulation | FigureError]]:
    """Every water in which something can go round, or why it cannot be computed."""
    answer_together(ways, [Question(of, condition, charge, None, lossy) for of in waters(ways)])
    out: list[tuple[Water, Circulation | FigureError]] = []
    for of in waters(ways):
        try:
            found = circulation(ways, of, condition, charge, lossy=lossy)
        except FigureError as bad:
            out.append((of, bad))
            continue
        if found is not None:
            out.append((of, found))
    return out


def _circulation(
    ways: Waterways,
    question: Question,
    heats: dict[str, Heat],
    sides: Mapping[tuple[str, str], Side],
    answer_of: Callable[[Net], Steps[Answer]] = steady.steps,
) -> Steps[Circulation | None]:
    condition, charge = question.condition, question.charge
    found = None
    off: tuple[str, ...] = ()
    for _ in range(ROUNDS):
        built = drawn(
            ways, question.of, condition, heats=heats, charge=charge, lossy=question.lossy, moving=condition.power,
            sides=sides,
        )  # fmt: skip
        if built is None:
            return None
        if built.valves:
            net, shares, answer = yield from at_rest.steps(built.net, built.valves)
            built = replace(built, net=net, openings=shares)
        else:
            answer = yield from answer_of(built.net)
        found = Circulation(built, answer, off)
        let_go = {}
        for part, heat in built.heats.items():
            if heat.held_C is not None and part in built.at_cell:
                gives = found.through(part).heat_W
                if gives < 0.0:
                    let_go[part] = Heat(0.0)
                    off += (part,)
                elif gives > heat.watts:
                    let_go[part] = Heat(heat.watts)
        if not let_go:
            break
        heats |= let_go
    return found


def _once(net: Net) -> Steps[Answer]:
    """Where a net ends once it runs, with no look at other ends: for turns whose last is solved in full."""
    A = arrays(net)
    ending = yield from settle.steps(A, (yield from from_kick.steps(A)), "kick", False)
    return Answer(ending.kind, None, ending, ending, ending, A)


def _loop(net: Net, answer: Answer, first: str) -> list[tuple[str, int]] | None:
    """A branch and the way back from its end to its beginning whose least flow is largest; of those, the shortest."""
    flows = {b.name: answer.flow_kg_s(b.name) for b in net.branches}
    if abs(flows[first]) < STILL_KG_S:
        return None
    ends = {b.name: (b.a.place, b.b.place) if flows[b.name] > 0.0 else (b.b.place, b.a.place) for b in net.branches}
    begin, end = ends[first]
    way = [first]
    if begin != end:
        graph: nx.DiGraph = nx.DiGraph()
        graph.add_nodes_from((begin, end))
        for name in sorted(flows, key=lambda n: -abs(flows[n])):
            if name == first or abs(flows[name]) < STILL_KG_S or graph.has_edge(*ends[name]):
                continue
            graph.add_edge(*ends[name], name=name)
            if nx.has_path(graph, end, begin):
                way += [graph.edges[pair]["name"] for pair in pairwise(nx.shortest_path(graph, end, begin))]
                break
        else:
            return None
    return [(name, 1 if flows[name] > 0.0 else -1) for name in way]


# what a change would give


def once_running(built: Drawn, part: str, start: State | None = None) -> tuple[Ending, Through]:
    """Where a network ends once it runs (no test of stability, no start from rest), and what passes a part.

    `start`: a state of the same network running with other figures, which is nearer than a start from nothing.
    """
    return _once_running(built.net, built.at_cell[part], start)


def _once_running(net: Net, held: Held, start: State | None) -> tuple[Ending, Through]:
    A = arrays(net)
    ending = settle(A, from_kick(A) if start is None else start, "kick", look=False)
    row = next(i for i, b in enumerate(net.branches) if b.name == held.branch)
    return ending, _through(net, ending, held, float(ending.state.m[row]))


def with_power(built: Drawn, part: str, watts: float) -> Drawn:
    """The same with another power of one source."""
    return replace(built, net=_with_power(built.net, built.at_cell[part], watts))


def _with_power(net: Net, held: Held, watts: float) -> Net:
    branch = next(b for b in net.branches if b.name == held.branch)
    cells = tuple(replace(c, source_W=watts) if i == held.cell else c for i, c in enumerate(branch.cells))
    return net.with_branch(replace(branch, cells=cells))


def lowered(built: Drawn, part: str, by_m: float = 0.5) -> Drawn:
    """The same with a source lower by that much, its two pipes longer by as much each: all else is higher above it."""
    held = built.at_cell[part]
    branch = next(b for b in built.net.branches if b.name == held.branch)
    cells = list(branch.cells)
    cells[held.cell - 1] = replace(cells[held.cell - 1], rise_m=cells[held.cell - 1].rise_m - by_m)
    cells[held.cell + 1] = replace(cells[held.cell + 1], rise_m=cells[held.cell + 1].rise_m + by_m)
    first, *rest = branch.segments
    segments = (replace(first, length_m=first.length_m + 2.0 * by_m), *rest)
    return replace(built, net=built.net.with_branch(replace(branch, cells=tuple(cells), segments=segments)))


def enlarged(ways: Waterways, pipe_ids: Iterable[str]) -> Waterways:
    """The sheet with those pipes one size larger, where there is one."""
    pipes_now = dict(ways.sheet.pipes)
    for pipe_id in pipe_ids:
        pipe = pipes_now[pipe_id]
        size = pipes.next_size_up(pipe.size, pipe.material)
        if size is not None:
            pipes_now[pipe_id] = msgspec.structs.replace(pipe, size=size)
    return Waterways(msgspec.structs.replace(ways.sheet, pipes=pipes_now), ways.catalogue)


def most_heat_W(built: Drawn, part: str, limit_C: float = 95.0, ceiling_W: float = 60e3) -> float:
    """The most heat with which the water leaves a source no hotter than `limit_C` and nothing boils, W, within 1 %.

    `ceiling_W` itself if even that passes; nil if it is too hot with next to none.
    """
    return _most_heat_W(built.net, built.at_cell[part], built.heats[part].watts, limit_C, ceiling_W)


@lru_cache(maxsize=REMEMBERED)
def _most_heat_W(net: Net, held: Held, first_W: float, limit_C: float, ceiling_W: float) -> float:
    """Kept by the value of the net, as `steady` keeps its answers."""
    running: State | None = None

    def over(watts: float) -> float:
        nonlocal running
        ending, through = _once_running(_with_power(net, held, watts), held, running)
        if ending.kind == "steady" and not ending.boils:
            running = ending.state
        hottest = through.outlet_C - limit_C
        return max(hottest, 10.0) if ending.boils else hottest

    low, high = 0.0, max(1000.0, first_W)
    too_cool, too_hot = float("nan"), over(high)
    while too_hot <= 0.0:
        low, too_cool, high = high, too_hot, 2.0 * high
        if low >= ceiling_W:
            return ceiling_W
        too_hot = over(high)
    while high - low > 0.01 * high:
        if high < 50.0:
            return 0.0
        # the water's rise goes nearly with the power: a straight line is a good guess, kept off the ends
        share = 0.5 if too_cool != too_cool else too_cool / (too_cool - too_hot)
        middle = low + (high - low) * min(0.95, max(0.05, share))
        found = over(middle)
        if found <= 0.0:
            low, too_cool, too_hot = middle, found, 0.5 * too_hot
        else:
            high, too_hot = middle, found
            too_cool = 0.5 * too_cool
    return low
