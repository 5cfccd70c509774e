"""What moves in a house: pumps that run or stand, valves and their openings, taps; and how that enters the network.

Owns the state of moving things and its translation into the arrays of a step. Knows nothing of why they move, save for
self-acting valves, which follow the temperature of their own water (or room) at the end of the last step by at most a
quarter of their stroke.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from loopwright.catalogue import Behaviour
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.drawn_parts import figure
from loopwright.engineering.network import State
from loopwright.engineering.runs.floors import FloorSet
from loopwright.engineering.runs.whole import FLOOR_SET, Moving, Whole
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import SHUT, Ask, Condition, passing

HOLD_PA_S_KG = 1e8  # slope that holds a shut valve, or a tap at its flow; numerical, that of a check valve
LEAST_OPENING = 0.01
CAUTION = 0.4  # of the way to its setting that a blender goes at once: the share of flow is not that of the stroke
STROKE = 0.25  # of its travel that a self-acting valve moves in a step
PROPORTIONAL_K = 2.0  # a radiator valve opens fully that far below its setting: EN 215 practice


@dataclass
class Gear:
    """Pumps running by part, openings by part and way, flows of taps (kg/s) by part; branches that are shut."""

    whole: Whole
    running: dict[str, bool]
    opening: dict[tuple[str, str], float]
    shut: np.ndarray
    taps: dict[str, float] = field(default_factory=dict)
    standing_blocks: bool = False
    """Whether a standing pump counts as shut: what is needed must not rest on water getting through it."""
    changed: bool = True
    switched: set[str] = field(default_factory=set)
    """Pumps and taps that moved at one stroke, so that the next step will not be like the last."""
    flow_kg_s: dict[tuple[str, bool], float] = field(default_factory=dict)
    """Flow of each pump's branch when it last ran, and stood: where to look for it when it is switched again."""

    def run_pump(self, part: str, on: bool) -> bool:
        """Switch a pump; True if that changed anything."""
        if self.running.get(part) == on:
            return False
        self.running[part] = on
        self.changed = True
        self.switched.add(part)
        return True

    def open_way(self, part: str, way: str, share: float) -> None:
        """Set how far a way is open."""
        share = min(1.0, max(0.0, share))
        if abs(self.opening.get((part, way), -1.0) - share) > 1e-9:
            self.opening[part, way] = share
            self.changed = True

    def open_tap(self, part: str, kg_s: float) -> None:
        """Set what a tap draws."""
        if self.taps.get(part, 0.0) != kg_s:
            self.changed = True
            if abs(self.taps.get(part, 0.0) - kg_s) > 0.1 * kg_s:
                self.switched.add(part)
            self.taps[part] = kg_s

    def enter(self, A: Arrays) -> None:
        """Write it into the arrays of the next step, if anything moved."""
        if not self.changed:
            return
        self.changed = False
        A.pump0[:] = 0.0
        A.pump1[:] = np.where(self.shut, -HOLD_PA_S_KG, 0.0)
        A.pump2[:] = 0.0
        extra: dict[int, float] = dict.fromkeys(self.whole.moving_segment, 0.0)
        for pump in self.whole.pumps:
            if self.running.get(pump.part):
                A.pump0[pump.branch] += pump.curve.shutoff_Pa
                A.pump1[pump.branch] += pump.curve.linear
                A.pump2[pump.branch] += pump.curve.square
            elif self.standing_blocks:
                A.pump1[pump.branch] = -HOLD_PA_S_KG
            else:
                extra[pump.branch] += figure("pump_standing", "k")
        for way in self.whole.moving:
            share = self.opening[way.part, way.way]
            if share < LEAST_OPENING:
                A.pump1[way.branch] = -HOLD_PA_S_KG
            else:
                extra[way.branch] += way.k * (1.0 / share**2 - 1.0)
        for draw in self.whole.draws:
            A.pump1[draw.branch] = -HOLD_PA_S_KG
            A.pump0[draw.branch] = HOLD_PA_S_KG * self.taps.get(draw.part, 0.0)
        blocked = A.pump1 <= -HOLD_PA_S_KG
        for draw in self.whole.draws:
            blocked[draw.branch] = False
        A.pump0[blocked], A.pump2[blocked] = 0.0, 0.0
        for branch, segment in self.whole.moving_segment.items():
            A.seg_k[segment] = extra[branch]

    def guess(self, s: State) -> State | None:
        """Where the next step will about end after a switch: at the flow that it brings. None with no switch."""
        if not self.switched:
            return None
        m = s.m.copy()
        for pump in self.whole.pumps:
            if pump.part in self.switched:
                on = self.running[pump.part]
                m[pump.branch] = self.flow_kg_s.get((pump.part, on), 0.05 if on else 1e-4)
        for draw in self.whole.draws:
            if draw.part in self.switched:
                m[draw.branch] = self.taps.get(draw.part, 0.0)
        self.switched.clear()
        return State(s.T, m, s.p, s.N)

    def remember(self, s: State) -> None:
        """Note the flows of pumps."""
        for pump in self.whole.pumps:
            self.flow_kg_s[pump.part, self.running[pump.part]] = float(s.m[pump.branch])


def gear_of(whole: Whole) -> Gear:
    """Everything open, every pump standing."""
    return Gear(
        whole,
        {p.part: False for p in whole.pumps},
        {(m.part, m.way): 1.0 for m in whole.moving},
        np.zeros(whole.A.B, dtype=bool),
    )


def shut_branches(whole: Whole, condition: Condition, ask: Ask) -> np.ndarray:
    """Branches that let nothing through under a condition in a view. (B,)"""
    view = passing(whole.ways, ask, condition)
    shut = np.zeros(whole.A.B, dtype=bool)
    for number, run in whole.runs.items():
        shut[number] = any(view[key] == SHUT for key, _ in run.steps)
    return shut


def shut_by_hand(whole: Whole, condition: Condition) -> np.ndarray:
    """Branches shut by a condition's valves alone: standing pumps are no valves. (B,)"""
    bare = Condition(shut=condition.shut)
    return shut_branches(whole, bare, Ask.RUNNING)


# -- self-acting valves -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Blender:
    """A mixing valve or a loading valve: two ways, tied, and the water between them. Cells and nodes by number."""

    part: str
    hot: Moving
    cold: Moving
    hot_cell: int
    cold_cell: int
    node: int
    setting_C: float

    def follow(self, gear: Gear, s: State) -> None:
        """Move towards the share of hot water that would give the setting, by at most a quarter of the stroke."""
        hot, cold = s.T[self.hot.branch, self.hot_cell], s.T[self.cold.branch, self.cold_cell]
        now, share = s.N[self.node], gear.opening[self.part, self.hot.way]
        spread = hot - cold
        step = (
            CAUTION * (self.setting_C - now) / spread if spread > 2.0 else (STROKE if now < self.setting_C else -STROKE)
        )
        share = min(1.0, max(0.0, share + min(STROKE, max(-STROKE, step))))
        gear.open_way(self.part, self.hot.way, share)
        gear.open_way(self.part, self.cold.way, 1.0 - share)


@dataclass(frozen=True)
class RoomValve:
    """A thermostatic radiator valve: shut at its setting, wide open 2 K below. `rooms` whose air it feels."""

    way: Moving
    rooms: tuple[str, ...]
    setting_C: float

    def follow(self, gear: Gear, rooms: Mapping[str, float]) -> None:
        """Move towards what its room asks, by at most a quarter of the stroke."""
        air = [rooms[r] for r in self.rooms if r in rooms]
        if not air:
            return
        want = (self.setting_C - sum(air) / len(air)) / PROPORTIONAL_K
        now = gear.opening[self.way.part, self.way.way]
        gear.open_way(self.way.part, self.way.way, now + min(STROKE, max(-STROKE, min(1.0, max(0.0, want)) - now)))


def floor_sets(whole: Whole) -> list[FloorSet]:
    """Every warm floor with a mixing set of its own."""
    found = []
    for m in whole.moving:
        if m.way == FLOOR_SET:
            found.append(FloorSet(m, whole.at[m.part][1], whole.slabs[m.part][0]))
    return found


def blenders(whole: Whole) -> list[Blender]:
    """Every mixing and loading valve whose two ways are both in the network."""
    ways, found = whole.ways, []
    by_part: dict[str, dict[str, Moving]] = {}
    for m in whole.moving:
        if m.does is Behaviour.THERMAL:
            by_part.setdefault(m.part, {})[m.way] = m
    nodes = {n.name: i for i, n in enumerate(whole.net.nodes)}
    for part, tied in by_part.items():
        hot = tied.get("hot") or tied.get("bypass")
        cold = tied.get("cold") or tied.get("thermal")
        if hot is None or cold is None:
            continue
        inner = next(iter(ways.kind(part).inner), "")
        node = nodes.get(f"{part} {inner}")
        setting = ways.number(part, "setting_c") or ways.number(part, "opens_c")
        if node is None or setting is None:
            continue
        place = ("inner", part, inner)
        found.append(Blender(part, hot, cold, _cell_at(whole, hot, place), _cell_at(whole, cold, place), node, setting))
    return found


def _cell_at(whole: Whole, way: Moving, place: tuple[str, ...]) -> int:
    return int(whole.A.last[way.branch]) if whole.runs[way.branch].v == place else 0


def room_valves(whole: Whole, emitters_of: Mapping[int, tuple[str, ...]], every: tuple[str, ...]) -> list[RoomValve]:
    """Every thermostatic radiator valve, with the rooms of the emitters in its own branch (of all, if none is)."""
    ways: Waterways = whole.ways
    return [
        RoomValve(m, emitters_of.get(m.branch) or every, ways.number(m.part, "setting_c") or 20.0)
        for m in whole.moving
        if m.does is Behaviour.THERMAL and ways.has_tag(m.part, "emitter_valve")
    ]
