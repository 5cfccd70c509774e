"""Gauge pressure at places of a drawn water whose flow is solved: still water, and what flow adds to it.

Owns the walk along solved branches and out into dead ends. Knows nothing of vents, pumps or what pressure is good.

The neutral point is where a cistern's feed or a vessel joins: there the pressure is that of still cold water below the
line, or the vessel's. From there pumps raise and friction lowers it; a vessel's body is one column.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import dist

from loopwright.catalogue import Behaviour
from loopwright.engineering import pipes
from loopwright.engineering.circulation import Circulation
from loopwright.engineering.drawn_branch import Laid, height_at, joint_k
from loopwright.engineering.drawn_parts import Asked, coil_tube, figure, is_store, opening_Pa, pump_curve
from loopwright.engineering.network import RHO0
from loopwright.engineering.reduction import Run
from loopwright.engineering.water import GRAVITY
from loopwright.sheet.values import Point
from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.profile import points_of

COLD_KG_M3 = 999.7


@dataclass(frozen=True)
class Neutral:
    """The place where the pressure is known, and what it is there, pascals above the air."""

    place: Place
    gauge_Pa: float  # noqa: N815


class Pressures:
    """Pressures of one solved water. `reduced` is pressure less still water of 988 kg/m3, on an open scale."""

    def __init__(self, ways: Waterways, got: Circulation) -> None:
        self.ways, self.got = ways, got
        built = got.drawn
        self._asked = Asked(ways, built.condition, built.ask, built.charge, built.heats)
        self.reduced: dict[Place, float] = {}
        for name, run in built.runs.items():
            self._walk(name, run)

    def joined(self, place: Place) -> Place | None:
        """The nearest place, in parts and pipes, that lies on moving branches; itself if it does; None if none does."""
        water, seen, todo = self.got.drawn.water.places, {place}, deque([place])
        while todo:
            here = todo.popleft()
            if here in self.reduced:
                return here
            for element in self.ways.links[here]:
                there = element.other(here)
                if there in water and there not in seen and element.does is not Behaviour.RELIEF:
                    seen.add(there)
                    todo.append(there)
        return None

    def gauge_Pa(self, place: Place, neutral: Neutral) -> float | None:
        """Pressure above the air at a place; None where it or the neutral point hangs on nothing that moves."""
        here, known = self.joined(place), self.joined(neutral.place)
        if here is None or known is None:
            return None
        at_known = neutral.gauge_Pa + COLD_KG_M3 * GRAVITY * (self._z(neutral.place) - self._z(known))
        pushed = self.reduced[here] - self.reduced[known]
        at_here = at_known + pushed - RHO0 * GRAVITY * (self._z(here) - self._z(known))
        return at_here - COLD_KG_M3 * GRAVITY * (self._z(place) - self._z(here))  # what hangs on still is cold

    def push_Pa(self, place: Place, neutral: Place) -> float | None:
        """What flow and warmth add at a place to the pressure of still water; None as above."""
        here, known = self.joined(place), self.joined(neutral)
        return None if here is None or known is None else self.reduced[here] - self.reduced[known]

    def highest(self, keys: Iterable[Key], neutral: Neutral) -> Iterator[tuple[Key, Point, float]]:
        """Every vertex of moving pipes with its gauge pressure, worked out along the pipe by its length."""
        for key in keys:
            element = self.ways.elements[key]
            a, b = self.gauge_Pa(element.a, neutral), self.gauge_Pa(element.b, neutral)
            if a is None or b is None or element.a not in self.reduced or element.b not in self.reduced:
                continue
            points = points_of(self.ways, element)
            lengths = [dist(p, q) for p, q in pairwise(points)]
            total, run = sum(lengths) or 1.0, 0.0
            za, zb = points[0][1], points[-1][1]
            for i, point in enumerate(points):
                run += lengths[i - 1] if i else 0.0
                share = run / total
                level = a + RHO0 * GRAVITY * za + share * (b - a + RHO0 * GRAVITY * (zb - za))
                yield key, point, level - RHO0 * GRAVITY * point[1]

    def _z(self, place: Place) -> float:
        if is_store(self.ways, place):
            return self.ways.body_range(place[1])[0]
        return self.ways.at[place][1]

    # along a branch

    def _end(self, branch: int, first: bool) -> float:
        """Reduced pressure at a branch's end; at a vessel that of the tapping in its column."""
        A, s = self.got.answer.arrays, self.got.answer.ending.state
        node = (A.pa if first else A.pb)[branch]
        end = A.net.branches[branch].a if first else A.net.branches[branch].b
        store = next((x for x in A.net.stores if x.name == end.place), None)
        if store is None:
            return float(s.p[node])
        below, tall = A.net.height_of(end) - store.base_m, (store.top_m - store.base_m) / len(store.layers_C)
        first_layer = A.node_names.index(store.name)
        column = 0.0
        for i in range(len(store.layers_C)):
            metres = min(tall, max(0.0, below - i * tall))
            column += metres * (float(A.net.fluid.density_kg_m3(float(s.N[first_layer + i]))) - RHO0)
        return float(s.p[node]) - GRAVITY * column

    def _walk(self, name: str, run: Run) -> None:
        A, answer = self.got.answer.arrays, self.got.answer
        row = next(i for i, b in enumerate(A.net.branches) if b.name == name)
        begin, end = self._end(row, True), self._end(row, False)
        flow, cells = answer.flow_kg_s(name), answer.cells_C(name)
        laid = {p: x for p, x in self.got.drawn.pipes.items() if x.branch == name}
        pieces = self._pieces(run, flow, cells, laid)
        missed = (begin - end) - sum(drop + column for drop, column in pieces)
        weight = sum(abs(drop) + abs(column) for drop, column in pieces) or 1.0
        here = begin
        place = run.u
        self._note(place, begin)
        for (key, _), (drop, column) in zip(run.steps, pieces, strict=True):
            here -= drop + column + missed * (abs(drop) + abs(column)) / weight
            place = self.ways.elements[key].other(place)
            self._note(place, here if place != run.v else end)

    def _note(self, place: Place, reduced: float) -> None:
        """Keep a place's pressure; a vessel's is that at its base."""
        if is_store(self.ways, place):
            names = [s.name for s in self.got.drawn.net.stores]
            A = self.got.answer.arrays
            node = len(A.net.nodes) + names.index(place[1])
            reduced = float(self.got.answer.ending.state.p[node])
        self.reduced[place] = reduced

    def _pieces(
        self, run: Run, flow: float, cells: tuple[float, ...], laid: dict[str, Laid]
    ) -> list[tuple[float, float]]:
        """For every step what flow takes and what the column takes, pascals, from the run's beginning."""
        fluid = self.got.drawn.net.fluid
        widths = [x.bore_m for x in laid.values()]
        bore = widths[0] if widths else self.got.answer.arrays.net.branches[0].segments[0].bore_m
        cell, place, out = 0, run.u, []
        for key, _ in run.steps:
            element = self.ways.elements[key]
            if element.pipe in laid:
                bore, cell = laid[element.pipe].bore_m, laid[element.pipe].cell
            warm = min(110.0, max(0.0, cells[min(cell, len(cells) - 1)]))
            stop = element.other(place)
            rise = height_at(self._asked, stop, place) - height_at(self._asked, place, stop)
            drop = self._drop(element, place, flow, bore, warm, laid)
            out.append((drop, GRAVITY * (float(fluid.density_kg_m3(warm)) - RHO0) * rise))
            place = stop
        return out

    def _drop(
        self, element: Element, start: Place, flow: float, bore: float, warm: float, laid: dict[str, Laid]
    ) -> float:
        asked, fluid = self._asked, self.got.drawn.net.fluid
        length, k, rough, extra = 0.0, joint_k(self.ways, element), 1.5e-6, 0.0
        if "body" in (element.a[0], element.b[0]):
            k += 0.5 * (pipes.loss_k("entry") + pipes.loss_k("exit"))
        if element.pipe in laid:
            own = laid[element.pipe]
            length, k, rough = own.length_m, k + own.k, own.roughness_m
        elif element.does is Behaviour.COIL:
            coils = self.ways.sheet.parts[element.part].coils
            coil = next((c for c in coils if element.key[2] == f"coil {c.name}"), None)
            if coil is not None:
                tube = coil_tube(self.ways, element.part, coil)
                length, bore = tube.length_m, tube.bore_m
        elif element.does is Behaviour.PUMP:
            running = asked.condition.power and element.part not in asked.condition.stopped
            if running and start == element.a:
                extra = -self._head(element.part, flow)
            else:
                k += figure("pump_standing", "k")
        elif element.does is Behaviour.ONE_WAY and abs(flow) > 1e-3:
            light = element.way is not None and element.way.gravity_ok
            extra = opening_Pa(asked, element.part, light) * (1.0 if flow > 0 else -1.0)
        return extra + pipes.pressure_loss_Pa(flow, bore, length, k, warm, rough, fluid)

    def _head(self, part: str, flow: float) -> float:
        curve = pump_curve(self._asked, part)
        return curve.shutoff_Pa + curve.square * flow * abs(flow)
