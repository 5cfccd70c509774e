"""What moves by itself at night: pumps standing, stores hot, rooms cool, collectors under a cold sky.

Owns the question and its starts. A loop whose columns could go either way is pushed both ways and let go; what keeps
going is the answer. Knows nothing of rules.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from loopwright.engineering import network
from loopwright.engineering.abreast import Steps, abreast, carried_out
from loopwright.engineering.arrays import Arrays, arrays
from loopwright.engineering.drawn import Drawn, drawn
from loopwright.engineering.drawn_parts import Heat, figure
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Ending
from loopwright.engineering.steady import STILL_KG_S, settle
from loopwright.engineering.stepping import fixed_steps
from loopwright.waterways.graph import Key, Waterways
from loopwright.waterways.views import POWER_CUT, Ask
from loopwright.waterways.waters import Water

PUSH_PA_M = 100.0
"""Head of the push, for each metre of the tallest branch, falling to nil in ten minutes."""


@dataclass(frozen=True)
class Night:
    """What goes round a circuit at rest: flow (positive the way its run is oriented) and heat that leaves the store."""

    flow_kg_s: float
    lost_W: float  # noqa: N815
    settled: bool

    @property
    def moves(self) -> bool:
        return abs(self.flow_kg_s) >= STILL_KG_S


def at_night(ways: Waterways, of: Water, pump: Key) -> Night:
    """The worst of both ways round the circuit of a standing pump. Raises FigureError naming what is missing."""
    memo = ("night", of.number)
    if memo not in ways.cache:
        ways.cache[memo] = _solved(ways, of)
    found: tuple[Drawn, Arrays, tuple[Ending, ...]] | None = ways.cache[memo]  # type: ignore[assignment]
    if found is None:
        return Night(0.0, 0.0, True)
    built, A, endings = found
    name = next((n for n, run in built.runs.items() if any(key == pump for key, _ in run.steps)), None)
    if name is None:
        return Night(0.0, 0.0, True)
    row = next(i for i, b in enumerate(A.net.branches) if b.name == name)
    worst = max(endings, key=lambda e: abs(float(e.state.m[row])))
    book = worst.balance
    return Night(float(worst.state.m[row]), book.emitted_W + book.lost_W, all(e.kind == "steady" for e in endings))


def _solved(ways: Waterways, of: Water) -> tuple[Drawn, Arrays, tuple[Ending, ...]] | None:
    suns = {s.part: Heat(1e-3) if s.stops == "sun" else Heat() for s in of.sources}  # a trace, so that it has a cell
    built = drawn(ways, of, POWER_CUT, ask=Ask.IDLE, heats=suns)
    if built is None:
        return None
    built = _cold(ways, built)
    A = arrays(built.net)
    return built, A, tuple(carried_out(abreast([_let_go(A, sign) for sign in (1.0, -1.0)])))


def _let_go(A: Arrays, sign: float) -> Steps[Ending]:
    return (yield from settle.steps(A, (yield from _pushed(A, sign)), "push"))


def _cold(ways: Waterways, built: Drawn) -> Drawn:
    """The same network in cool rooms, its collectors losing heat to the night."""
    room, sky, loss = (figure("night", key) for key in ("room_celsius", "sky_celsius", "collector_W_m2_K"))
    net = built.net
    held = {(h.branch, h.cell): part for part, h in built.at_cell.items()}
    for branch in net.branches:
        cells = []
        for i, cell in enumerate(branch.cells):
            part = held.get((branch.name, i), "")
            if part in ways.source_of and ways.source_of[part].stops == "sun":
                area = ways.number(part, "absorber_m2") or 0.0
                cells.append(replace(cell, source_W=0.0, loss_W_K=loss * area, room_C=sky))
            else:
                cells.append(replace(cell, room_C=room))
        net = net.with_branch(replace(branch, cells=tuple(cells), should_carry=False))
    return replace(built, net=replace(net, room_C=room))


def _pushed(A: Arrays, sign: float) -> Steps[State]:
    """From rest, every branch that a pump stands in or that loses heat driven one way, then let go."""
    height = float(np.max(np.abs(A.dz).sum(axis=1)))
    push = np.where((A.UA * A.real).sum(axis=1) + (A.Qn * A.real).sum(axis=1) > 0.0, sign * PUSH_PA_M * height, 0.0)
    s = network.start_at(A, A.net.room_C)
    s = yield from fixed_steps.steps(A, s, 30.0, 20, 2, lambda i: push * (1.0 - i / 20.0))
    return (yield from fixed_steps.steps(A, s, 30.0, 20, 2))
