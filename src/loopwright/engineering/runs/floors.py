"""Warm floors in time: the screed between water and room, and the mixing set that keeps its water cool.

Owns a floor's figures and the law of its mixing set. Knows nothing of how a network is stepped: a floor is one body
that the water warms and the room cools, of the temperature of the water that comes back.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loopwright.engineering.drawn_parts import Asked, figure
from loopwright.engineering.net import Cell, End
from loopwright.engineering.network import State
from loopwright.engineering.runs.given import assumed

if TYPE_CHECKING:
    from loopwright.engineering.runs.gear import Gear
    from loopwright.engineering.runs.rooms import Room
    from loopwright.engineering.runs.whole import Moving, Whole

J_KG_K = 4186.0
STROKE = 0.25  # of its travel that the set moves in a step
LEAST = 0.02


@dataclass(frozen=True)
class Slab:
    """A floor: heat of screed and tiles, what passes from water to it and from it to the room, and its design.

    At design it takes `design_kg_s` of water at `flow_C` and sends it back at `return_C`.
    """

    part: str
    heat_J_K: float
    from_water_W_K: float
    to_room_W_K: float
    design_kg_s: float
    flow_C: float
    return_C: float

    @property
    def node(self) -> str:
        """Its name as a body of the network."""
        return f"screed of {self.part}"

    def cell(self, pipes: Cell) -> Cell:
        """Its loops in the branch: they hand their heat to the slab."""
        return Cell(
            rise_m=pipes.rise_m,
            heat_J_K=pipes.heat_J_K,
            room_C=pipes.room_C,
            coil_W_K=self.from_water_W_K,
            coil_to=End(self.node, 0.0),
        )


def slab_of(asked: Asked, part: str) -> Slab:
    """The slab of a floor from its design output, as large as a usual output a square metre makes it."""
    ways = asked.ways
    output = asked.number(part, "output_w", "rated output")
    flow = asked.number(part, "t_need_c", "flow temperature needed")
    spread = figure("floor", "spread_k")
    back = flow - spread
    to_room = output / max(2.0, back - figure("room", "celsius"))
    area = output / assumed("floor", "w_m2")
    thick = ways.value(part, "in_screed") is not False
    stored = area * 1000.0 * assumed("floor", "screed_kj_m2K" if thick else "dry_kj_m2K")
    through = assumed("floor", "water_to_room") * to_room
    return Slab(part, stored, through, to_room, output / (J_KG_K * spread), flow, back)


def warmed(whole: Whole, state: State, rooms: Mapping[str, Room], outdoor_C: float) -> State:
    """The state with every slab as warm as keeps its room at what is wanted, at most as warm as its design."""
    T, N = state.T.copy(), state.N.copy()
    for part, (slab, node) in whole.slabs.items():
        room = rooms[part]
        need = room.loss_W_K * max(0.0, room.want_C - assumed("house", "free_k") - outdoor_C)
        warm = min(slab.return_C, room.air_C + need / slab.to_room_W_K)
        N[node] = T[whole.at[part]] = warm
    return State(T, state.m, state.p, N)


@dataclass(frozen=True)
class FloorSet:
    """The mixing set of a warm floor: its own water goes round, and hot water comes in only to make up the design flow.

    Of water at `T` it lets in what mixes `design_kg_s` of the water that comes back up to the floor's flow temperature.
    """

    way: Moving
    cell: int
    slab: Slab

    def want_kg_s(self, into_C: float, back_C: float) -> float | None:
        """Hot water that it would let in, None where it stands wide open: what comes is no hotter than the floor's."""
        slab = self.slab
        if into_C <= slab.flow_C + 0.5:
            return None
        return slab.design_kg_s * min(1.0, max(0.0, (slab.flow_C - back_C) / (into_C - back_C)))

    def follow(self, gear: Gear, s: State) -> None:
        """Move towards that flow, by at most a quarter of the stroke."""
        b, now = self.way.branch, gear.opening[self.way.part, self.way.way]
        flow = abs(float(s.m[b]))
        if flow < 1e-4:
            return
        into, back = float(s.T[b, self.cell - 1]), float(s.T[b, self.cell])
        wanted = self.want_kg_s(into, back)
        want = 1.0 if wanted is None else now * min(2.0, max(0.5, wanted / flow))
        gear.open_way(self.way.part, self.way.way, max(LEAST, now + min(STROKE, max(-STROKE, want - now))))
