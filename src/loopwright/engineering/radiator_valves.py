"""Thermostatic radiator valves at rest: each opened by the air of the room that its own radiators warm.

Owns the balance of valve and room. Knows nothing of figures. The network is solved with the valves wide open elsewhere;
here each opening is sought between shut and open until the room is as warm as it asks for: fully open 2 K below its
setting, shut at it. A room loses what its radiators give at the water they are stated to need, in design weather.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from loopwright.engineering.arrays import arrays
from loopwright.engineering.circulation import Circulation
from loopwright.engineering.drawn_branch import Held
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.rooms import room_of
from loopwright.engineering.steady import from_kick
from loopwright.engineering.stepping import grow, run_for
from loopwright.waterways.graph import Waterways

INNER = 4
ROOM_WITHIN_K = 0.2
STEEP = 0.8
"""How much less a radiator gives its room for each kelvin, over what the room loses: about 1.3 (want - out) / (water -
room), and less where water trickles. Only how fast the balance is found hangs on it."""
BAND_K = 2.0  # EN 215: the flow of a valve is rated 2 K below the temperature at which it shuts
LEAST = 0.001
"""Least opening: what a shut valve lets through, as a share of its stroke."""
ROUNDS = 20
WITHIN_K = 0.2


@dataclass(frozen=True)
class RadiatorValve:
    """A valve in its branch, the radiators there with what their rooms lose a kelvin, its setting and K wide open."""

    part: str
    branch: str
    k: float
    set_C: float
    radiators: tuple[tuple[str, int, float], ...]
    """Part, cell, loss of its room in W/K."""


@dataclass(frozen=True)
class AtRest:
    """A radiator with its valve at rest: how far that is open, its room, what it gives, and its flow."""

    valve: str
    opening: float
    room_C: float
    output_W: float
    flow_kg_s: float


def valves_in(ways: Waterways, got: Circulation) -> tuple[RadiatorValve, ...]:
    """The radiator valves of a circulation that stand in a radiator's own branch."""
    beside: dict[str, list[Held]] = {}
    for sink in ways.sinks:
        if sink.sort == "emitter" and sink.part in got.drawn.at_cell:
            held = got.drawn.at_cell[sink.part]
            beside.setdefault(held.branch, []).append(held)
    found = []
    for name, run in got.drawn.runs.items():
        for key, _ in run.steps:
            e = ways.elements[key]
            if not (e.part and ways.has_tag(e.part, "emitter_valve") and e.does.value == "thermal" and name in beside):
                continue
            rooms = tuple((h.part, h.cell, room_of(ways, h.part, DESIGN_OUTDOOR_C).loss_W_K) for h in beside[name])
            k = max(e.way.loss_k if e.way else 0.0, 1.0)
            found.append(RadiatorValve(e.part, name, k, ways.number(e.part, "setting_c") or 20.0, rooms))
    return tuple(found)


DESIGN_OUTDOOR_C = -3.0
"""Air outdoors at which rooms lose what their radiators are meant to give: as the ready-made days take it."""


def at_rest(ways: Waterways, got: Circulation, outdoor_C: float = DESIGN_OUTDOOR_C) -> Mapping[str, AtRest]:
    """Every radiator behind a valve of its own, by part, once all valves of its water have come to rest."""
    valves = valves_in(ways, got)
    return dict(_sought(got.drawn.net, valves, outdoor_C)) if valves else {}


@lru_cache(maxsize=64)
def _sought(net: Net, valves: tuple[RadiatorValve, ...], outdoor_C: float) -> tuple[tuple[str, AtRest], ...]:
    """All brackets are halved together: more flow through one radiator changes the others' little."""
    low, high = ({v.part: end for v in valves} for end in (LEAST, 1.0))
    share = dict(high)
    under = {v.part: outdoor_C + assumed("house", "free_k") - v.set_C for v in valves}  # a room with no heat
    above = {v.part: 0.0 for v in valves}
    airs: dict[str, float] = {p: v.set_C for v in valves for p, _, _ in v.radiators}
    state: State | None = None
    out: dict[str, AtRest] = {}
    for turn in range(ROUNDS):
        for _ in range(INNER):
            state, out = _solved(net, valves, share, airs, state, outdoor_C)
            lag = max(abs(out[p].room_C - airs[p]) for p in airs)
            # rooms and radiators pull at each other: a room as warm as the mean of what was taken and what came of it,
            # weighed by how steeply a radiator gives less to a warmer room
            airs = {p: airs[p] + (x.room_C - airs[p]) / (1.0 + STEEP) for p, x in out.items()}
            if lag < ROOM_WITHIN_K:
                break
        off = 0.0
        for v in valves:
            air = sum(out[p].room_C for p, _, _ in v.radiators) / len(v.radiators)
            now = share[v.part]
            over = air - (v.set_C - BAND_K * now)
            if turn == 0 and over <= 0.0:
                low[v.part], under[v.part] = 1.0, 0.0  # not warm enough even wide open
                continue
            if low[v.part] >= 1.0:
                continue
            off = max(off, abs(over))
            # a straight line over the logarithm of the stroke; the end that stays loses weight, so that it moves, too
            if over > 0.0:
                high[v.part], above[v.part], under[v.part] = now, over, 0.5 * under[v.part]
            else:
                low[v.part], under[v.part], above[v.part] = now, over, 0.5 * above[v.part]
            way = min(0.9, max(0.1, under[v.part] / (under[v.part] - above[v.part])))
            share[v.part] = low[v.part] * (high[v.part] / low[v.part]) ** way
        if off < WITHIN_K:
            break
    return tuple(out.items())


def _solved(
    net: Net,
    valves: tuple[RadiatorValve, ...],
    share: Mapping[str, float],
    airs: Mapping[str, float],
    start: State | None,
    outdoor_C: float,
) -> tuple[State, dict[str, AtRest]]:
    """The network at these openings, and what it makes of each room."""
    now = net
    for v in valves:
        branch = next(b for b in now.branches if b.name == v.branch)
        bores = [s.bore_m for s in branch.segments]
        narrow = bores.index(min(bores))
        more = v.k * (1.0 / max(share[v.part], LEAST) ** 2 - 1.0)
        segments = tuple(replace(s, k=s.k + more) if i == narrow else s for i, s in enumerate(branch.segments))
        rooms = {cell: airs[p] for p, cell, _ in v.radiators}
        cells = tuple(replace(c, room_C=rooms.get(i, c.room_C)) for i, c in enumerate(branch.cells))
        now = now.with_branch(replace(branch, segments=segments, cells=cells))
    A = arrays(now)
    state, settled, _ = grow(A, from_kick(A) if start is None else start)
    if not settled:
        state = run_for(A, state, 1800.0, 30.0)
    rows = {b.name: i for i, b in enumerate(now.branches)}
    out = {}
    for v in valves:
        b = rows[v.branch]
        flow = float(state.m[b])
        for part, cell, loss in v.radiators:
            into = state.T[b, cell - 1] if flow >= 0.0 else state.T[b, cell + 1]
            given = abs(flow) * float(now.fluid.enthalpy_J_kg(into) - now.fluid.enthalpy_J_kg(state.T[b, cell]))
            air = outdoor_C + assumed("house", "free_k") + given / loss
            out[part] = AtRest(v.part, share[v.part], air, given, abs(flow))
    return state, out
