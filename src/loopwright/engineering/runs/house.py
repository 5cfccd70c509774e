"""A house in time: the network, what moves in it, its sources, rooms and controls, stepped together.

Owns the order of things within a step and what happened in it. Knows nothing of verdicts: `cut` and `day` say when to
begin, what the world does, and when to stop.

Within a step: sources and valves act by the temperatures at its beginning, the network is stepped, then rooms, self-
acting valves and controls look at its end. A step is cut at every instant that a plan names (a clock, a fire lit, a tap
opened or shut), and where a thermostat passes its setting, by a straight line within the step. Self-acting valves
follow at the end of each piece.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import NamedTuple, Protocol

import numpy as np

from loopwright.catalogue import Behaviour
from loopwright.engineering.arrays import Arrays
from loopwright.engineering.drawn_parts import Asked, Charge, figure
from loopwright.engineering.network import Lagged, State, onward
from loopwright.engineering.runs.controls import Controls, Now, share_passed
from loopwright.engineering.runs.cooling import Cooler, cooler_of
from loopwright.engineering.runs.drives import Pumping, pumping
from loopwright.engineering.runs.foresight import Foresight
from loopwright.engineering.runs.gear import Gear, blenders, floor_sets, gear_of, room_valves
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.heat import Burner, Fire, burner_of, heat_pump_electric_W, heat_pump_share
from loopwright.engineering.runs.ledger import Ledger, meters_of
from loopwright.engineering.runs.result import Event
from loopwright.engineering.runs.rooms import room_of
from loopwright.engineering.runs.step import through
from loopwright.engineering.runs.watch import Watch, limits_of
from loopwright.engineering.runs.whole import Whole
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import NORMAL, Ask, Condition

ELEMENT_BAND_K = 5.0
"""An immersion heater starts again that far below its thermostat's setting."""
EARLY, LATE = 0.1, 0.9
"""Shares of a step: a switch before the one is put off to it, one after the other to the step's end."""
SOON_S = 1e-6
"""An instant as near as that has come."""
PAST_S = 0.5
"""A piece ends that much after the switch, so that it is past it for certain."""


class World(Protocol):
    """What the house does not decide: weather, the clock, who opens a tap. Times in seconds."""

    @property
    def cold_C(self) -> float:
        """Temperature of water from the main."""

    @property
    def design_outdoor_C(self) -> float:
        """Outdoor air at which emitters just heat their rooms."""

    def outdoor_C(self, t: float) -> float:
        """Air outdoors."""

    def sun_W_m2(self, t: float) -> float:
        """Sun on the collector's plane."""

    def may_burn(self, t: float) -> bool:
        """Whether switched sources are allowed by the day's plan."""

    def clock(self, t: float) -> bool:
        """What programmers say."""

    def element_on(self, t: float) -> bool:
        """Whether immersion heaters are switched on."""

    def drawn_litres(self, t: float, dt: float) -> Mapping[str, float]:
        """Litres at the tap's temperature asked of each tap between t and t + dt."""

    def next_instant(self, t: float) -> float:
        """When after t its plan next changes at a stroke: a clock, a fire lit, a tap opened or shut; or infinity."""


@dataclass
class House:
    """A house, its world, and where it stands."""

    whole: Whole
    world: World
    state: State
    condition: Condition = NORMAL
    rooms_move: bool = True
    close_K: float = 5e-3
    """Last update of a step's temperatures that counts as none; it is still made."""
    fires: dict[str, Fire] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    time_s: float = 0.0
    electric_J: dict[str, float] = field(default_factory=dict)
    short_J: float = 0.0
    """Heat that taps lacked of their temperature."""
    cool_litres: float = 0.0
    drawn_litres: float = 0.0

    def __post_init__(self) -> None:
        whole, ways = self.whole, self.whole.ways
        self.ways: Waterways = ways
        self.A = writable(whole.A)
        self.gear: Gear = gear_of(whole)
        self.controls = Controls(whole)
        self.sources = {s.part: s for s in ways.sources if s.part in whole.at and s.part not in self.condition.out}
        asked = Asked(ways, NORMAL, Ask.RUNNING, Charge.FULL, {})
        self.burners: dict[str, Burner] = {}
        self.fired: dict[str, tuple[int, int]] = {}
        """Fires by part, with their cells."""
        self.sunny: list[tuple[tuple[int, int], float]] = []
        """Cells of collectors, each with the watts that it takes up a watt of sun on a square metre."""
        for s in self.sources.values():
            cell = whole.at[s.part]
            if s.stops in ("switched", "residual"):
                self.burners[s.part] = burner_of(asked, s, float(whole.A.C[cell]))
            elif s.stops == "sun":
                area = asked.number(s.part, "absorber_m2", "absorber area")
                self.A.UA[cell] = area * assumed("collector", "w_m2K")
                self.sunny.append((cell, area * assumed("collector", "eta0")))
            else:
                self.fired[s.part] = cell
        self.coolers: dict[str, Cooler] = {}
        self.assumed: list[str] = []
        for p in self.sources:
            cooler, words = cooler_of(ways, p, self.condition, self.world.cold_C)
            if cooler is not None:
                self.coolers[p] = cooler
                self.assumed.append(words)
        self.elements = {part: element_of(ways, part, node) for part, node in elements_of(whole).items()}
        self.element_on: dict[str, bool] = {}
        self.rooms = {
            p: room_of(ways, p, self.world.design_outdoor_C)
            for p in whole.at
            if p not in {s.part for s in ways.sources}
        }
        by_branch: dict[int, tuple[str, ...]] = {}
        for p in self.rooms:
            b = whole.at[p][0]
            by_branch[b] = (*by_branch.get(b, ()), p)
        self.blenders = blenders(whole)
        self.floor_sets = floor_sets(whole)
        self.room_valves = room_valves(whole, by_branch, tuple(self.rooms))
        self.meters = meters_of(
            whole, {p: e.node for p, e in self.elements.items()}, {p: c.valve for p, c in self.coolers.items()}
        )
        self.ledger = Ledger(whole, self.meters, self.state)
        self.power_W = np.zeros(len(self.meters.names))
        self.foresight = Foresight(self.state)
        self._burning: frozenset[str] = frozenset()
        self.electric_W: dict[str, float] = {}
        self.crept_J: dict[str, float] = {}
        """Heat that came to emitters by gravity while no fire burned and their own pump stood."""
        self._lit: set[str] = set()
        self.name = cache(ways.name)
        self.pumping: list[Pumping] = pumping(whole, self.condition, self.controls, self.burners, self.sources)
        moved = (m for m in whole.moving if m.does is Behaviour.POWERED and self.controls.linked(m.part))
        self.powered_ways = [(m.part, m.way) for m in moved] if self.condition.power else []
        self.creeping = {p: _creeping(whole, p) for p in self.meters.emitters}
        self.watch = Watch(whole, self.ledger, self.coolers, limits_of(whole, self.sources.values()), self.say)
        self.controls.look(self._now())

    # -- what is felt -------------------------------------------------------------------------------------------

    def _now(self) -> Now:
        self._burning = frozenset(p for p, f in self.fires.items() if f.burns(self.time_s))
        return Now(self.state, self._airs(), self._burning)

    def _airs(self) -> dict[str, float]:
        return {p: r.air_C for p, r in self.rooms.items()}

    def source_C(self, part: str) -> float:
        """Temperature of a source's water."""
        return float(self.state.T[self.whole.at[part]])

    def say(self, t: float, what: str, part: str, words: str) -> None:
        """Note an event."""
        self.events.append(Event(t, what, part, words))

    # -- one step -----------------------------------------------------------------------------------------------

    def step(self, dt: float) -> None:
        """Step everything by `dt` seconds. FigureError where the network finds no next state."""
        self.step_to(self.time_s + dt)

    def step_to(self, end_s: float) -> None:
        """Step everything up to a time. FigureError where the network finds no next state.

        The step is cut at every instant at which the world's plan changes or a pump has overrun its time. Where a
        thermostat or burner passes its setting in between, that part is made anew up to that instant, so that it
        switches there; the rest of it follows. That is done once a part.
        """
        self.power_W = np.zeros(len(self.meters.names))
        whole_s = end_s - self.time_s
        while self.time_s < end_s:
            until = min(end_s, self._next_instant())
            rest = self._piece(until - self.time_s, whole_s)
            if rest > 0.0:
                self._piece(rest, whole_s, split=False)
            self.time_s = until  # and not what rounding makes of the sum

    def _next_instant(self) -> float:
        """When next something is bound to change, s."""
        t = self.time_s
        ends = [pump.overruns_until(t) for pump in self.pumping]
        return min([self.world.next_instant(t), *(end for end in ends if end > t + SOON_S)])

    def _piece(self, dt: float, whole_s: float, split: bool = True) -> float:
        """Step by `dt`, or up to the first switch in it. `whole_s` is the step it is part of. Returns what is left."""
        t = self.time_s
        self._switch(t)
        self._heat(t, dt)
        self._taps(t, dt)
        self.gear.enter(self.A)
        pieces: list[tuple[Arrays, State, Lagged, float]] = []

        def booked(A: Arrays, new: State, lagged: Lagged, h: float) -> None:
            pieces.append((A, new, lagged, h))

        before = self.state
        guess = self.gear.guess(before) or self.foresight.guess(dt)
        state, h = through(self.A, before, dt, booked, t, guess, self.close_K), dt
        share = self._first_switch(before, state, dt) if split else 1.0
        if share < LATE:
            h = min(dt, max(EARLY, share) * dt + PAST_S)
            pieces.clear()
            for part, fire in self.fires.items():
                self.A.Q[self.whole.at[part]] = fire.mean_W(t, h)
            self._taps(t, h)
            self.gear.enter(self.A)
            guess = onward(state, before, -h / dt)
            state = through(self.A, before, h, booked, t, guess, self.close_K)
        mean_W = np.zeros(len(self.meters.names))
        for A, new, lagged, seconds in pieces:
            mean_W += self.ledger.add(A, new, lagged, seconds) * (seconds / h)
        self.power_W += mean_W * (h / whole_s)
        self.state = state
        self.foresight.learn(state, h)
        self.gear.remember(self.state)
        self.time_s = t + h
        for part, watts in self.electric_W.items():
            self.electric_J[part] = self.electric_J.get(part, 0.0) + watts * h
        self._after(t, h, before, mean_W)
        return dt - h

    def _first_switch(self, before: State, after: State, dt: float) -> float:
        """When in a step something first passes its setting or may switch again, as a share of it; 1 if none."""
        shares = self.controls.passed(Now(after, self._airs(), self._burning))
        if self.condition.power:
            for part, burner in self.burners.items():
                cell = self.whole.at[part]
                was_C, now_C = float(before.T[cell]), float(after.T[cell])
                found = share_passed(was_C, now_C, burner.turns_at_C, rising=burner.burning)
                free = (burner.free_at_s() - self.time_s) / dt  # it waits for the end of its least burn or rest
                if 1e-6 < free < 1.0:
                    waits = was_C > burner.turns_at_C if burner.burning else was_C < burner.turns_at_C
                    found = free if waits else None if found is None else max(found, free)
                shares += [found] if found is not None else []
        return min(shares, default=1.0)

    def _switch(self, t: float) -> None:
        clock, may, sun = self.world.clock(t), self.world.may_burn(t), self.world.sun_W_m2(t)
        for pump in self.pumping:
            runs = self.gear.running[pump.part]
            on = pump.wanted(self.controls, clock, may, sun, self.state, runs) or pump.overruns_until(t) > t + SOON_S
            if self.gear.run_pump(pump.part, on) and t > 0.0:
                self.say(t, "on" if on else "off", pump.part, f"{self.name(pump.part)} {'starts' if on else 'stops'}")
        for part, way in self.powered_ways:
            self.gear.open_way(part, way, float(self.controls.wants(part, clock) != (way == "to_b")))

    def _heat(self, t: float, dt: float) -> None:
        A, outdoor, sun = self.A, self.world.outdoor_C(t + 0.5 * dt), self.world.sun_W_m2(t + 0.5 * dt)
        clock, may = self.world.clock(t), self.world.may_burn(t)
        for part, cell in self.fired.items():
            fire = self.fires.get(part)
            A.Q[cell] = fire.mean_W(t, dt) if fire is not None else 0.0
            self._lighting(t, part, fire)
        for cell, area in self.sunny:
            A.Q[cell] = area * sun
            A.room[cell] = outdoor
        for part in self.burners:
            A.Q[self.whole.at[part]] = self._burn(t, dt, part, outdoor, clock, may)
        for part, cooler in self.coolers.items():
            cell = self.whole.at[part]
            A.UA[cell], A.room[cell] = cooler.line(self.source_C(part))
        A.Sn[:] = 0.0
        for part, (node, limit_C, watts) in self.elements.items():
            felt = float(self.state.N[node])
            on = self.element_on.get(part, False)
            on = felt < (limit_C if on else limit_C - ELEMENT_BAND_K)
            on = on and self.condition.power and self.world.element_on(t) and self.controls.wants(part, clock)
            if on != self.element_on.get(part, False):
                self.say(t, "on" if on else "off", part, f"{self.name(part)} {'heats' if on else 'stops'}")
            self.element_on[part] = on
            A.Sn[node] += watts if on else 0.0
        for part, room in self.rooms.items():
            A.room[self.whole.at[part]] = room.air_C
        for part, (_, node) in self.whole.slabs.items():
            A.layer_room[node] = self.rooms[part].air_C

    def _lighting(self, t: float, part: str, fire: Fire | None) -> None:
        burns = fire is not None and fire.going(t)
        if burns and part not in self._lit:
            self._lit.add(part)
            if t > 0.0:
                self.say(t, "lit", part, f"{self.name(part)} burns")
        elif not burns and part in self._lit:
            self._lit.discard(part)
            self.say(t, "out", part, f"{self.name(part)} has burnt down")

    def _burn(self, t: float, dt: float, part: str, outdoor: float, clock: bool, may: bool) -> float:
        burner = self.burners[part]
        called = self.condition.power and may and self.controls.wants(part, clock)
        was = burner.burning
        share = heat_pump_share(outdoor) if burner.pump else 1.0
        watts = burner.step(t, dt, self.source_C(part), called, share)
        if burner.burning != was:
            self.say(
                t, "on" if burner.burning else "off", part,
                f"{self.name(part)} {'starts' if burner.burning else 'stops'}",
            )  # fmt: skip
        if burner.electric:
            spent = heat_pump_electric_W(watts, self.source_C(part), outdoor) if burner.pump else watts
            self.electric_W[part] = spent
        return watts

    def _taps(self, t: float, dt: float) -> None:
        asked = self.world.drawn_litres(t, dt)
        used, cold = assumed("tap", "celsius"), self.world.cold_C
        for draw in self.whole.draws:
            litres = asked.get(draw.part, 0.0)
            hot = float(self.state.T[draw.branch, 0])
            share = min(1.0, (used - cold) / (hot - cold)) if hot > used else 1.0
            self.gear.open_tap(draw.part, litres * share / dt)

    # -- after the step -----------------------------------------------------------------------------------------

    def _after(self, t: float, dt: float, before: State, mean_W: np.ndarray) -> None:
        first = len(self.meters.sources)
        outdoor = self.world.outdoor_C(t + 0.5 * dt)
        for i, part in enumerate(self.meters.emitters):
            if self._creeps(part):
                self.crept_J[part] = self.crept_J.get(part, 0.0) + float(mean_W[first + i]) * dt
            if self.rooms_move:
                self.rooms[part].step(dt, float(mean_W[first + i]), outdoor)
        for blender in self.blenders:
            blender.follow(self.gear, self.state)
        for floor in self.floor_sets:
            floor.follow(self.gear, self.state)
        airs = self._airs()
        for room_valve in self.room_valves:
            room_valve.follow(self.gear, airs)
        self._tap_books(t, dt)
        self.controls.look(self._now())
        self.watch.look(t, dt, before, self.state)

    def _creeps(self, emitter: str) -> bool:
        """Whether what comes to an emitter comes by gravity that nobody meant: no fire burns, and its pump stands."""
        if self._burning:
            return False
        pumps, leaks = self.creeping[emitter]
        return not any(self.gear.running[p] for p in pumps) if pumps else leaks

    def _tap_books(self, t: float, dt: float) -> None:
        cool = assumed("tap", "cool_c")
        for draw in self.whole.draws:
            flow = self.gear.taps.get(draw.part, 0.0)
            if flow <= 0.0:
                continue
            warm = float(self.state.T[draw.branch, 0])
            self.drawn_litres += flow * dt
            if warm < cool:
                self.cool_litres += flow * dt
                self.short_J += flow * dt * 4186.0 * (assumed("tap", "celsius") - warm)


def writable(A: Arrays) -> Arrays:
    """Arrays whose changing parts are copies of their own: heat, losses, rooms, pumps, loss coefficients."""
    names = ("Q", "UA", "room", "Qn", "pump0", "pump1", "pump2", "seg_k", "Sn", "layer_room")
    return replace(A, any_pump=True, **{n: getattr(A, n).astype(float) for n in names})


class Element(NamedTuple):
    """An immersion heater: the temperature node that it warms, its thermostat's setting, its power."""

    node: int
    limit_C: float
    watts: float


def element_of(ways: Waterways, part: str, node: int) -> Element:
    """An immersion heater by its part."""
    limit = ways.number(part, "t_flow_c") or 60.0
    return Element(node, limit, 1000.0 * (ways.number(part, "power_kw") or 0.0))


def _creeping(whole: Whole, emitter: str) -> tuple[tuple[str, ...], bool]:
    """Pumps in an emitter's own branch, and whether it is a heat leak."""
    branch = whole.at[emitter][0]
    return tuple(p.part for p in whole.pumps if p.branch == branch), whole.ways.has_tag(emitter, "heat_leak")


def elements_of(whole: Whole) -> dict[str, int]:
    """Temperature node that each immersion heater warms: the layer at the boss it is screwed into."""
    out: dict[str, int] = {}
    ways = whole.ways
    for part in ways.tagged("immersion"):
        for pipe in ways.sheet.pipes_of(part.id):
            end = pipe.other(part.id)
            tapping = ways.sheet.parts[end.part].tapping(end.port)
            if end.part in whole.layers and tapping is not None:
                out[part.id] = whole.layer_at(end.part, ways.sheet.parts[end.part].height_m + tapping.height_m)
    return out


def room_C() -> float:
    """Temperature of everything before a run begins."""
    return figure("room", "celsius")
