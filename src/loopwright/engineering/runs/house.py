"""A house in time: the network, what moves in it, its sources, rooms and controls, stepped together.

Owns the order of things within a step and what happened in it. Knows nothing of verdicts: `cut` and `day` say when to
begin, what the world does, and when to stop.

Within a step: sources and valves act by the temperatures at its beginning, the network is stepped, then rooms, self-
acting valves and controls look at its end. A thermostat switches at the instant at which it passes its setting, by a
straight line within the step; the clock and self-acting valves act at the end of the step in which they were due.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from loopwright.engineering.arrays import Arrays
from loopwright.engineering.drawn_parts import Asked, Charge, figure
from loopwright.engineering.network import Lagged, State, onward
from loopwright.engineering.runs.controls import Controls, Now, share_passed
from loopwright.engineering.runs.cooling import Cooler, cooler_of
from loopwright.engineering.runs.gear import Gear, blenders, floor_sets, gear_of, room_valves
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.heat import Burner, Fire, burner_of, heat_pump_electric_W, heat_pump_share
from loopwright.engineering.runs.ledger import Ledger, meters_of
from loopwright.engineering.runs.result import Event
from loopwright.engineering.runs.rooms import room_of
from loopwright.engineering.runs.step import through
from loopwright.engineering.runs.whole import Whole
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import NORMAL, Ask, Condition

EARLY, LATE = 0.1, 0.9
"""Shares of a step: a switch before the one is put off to it, one after the other to the step's end."""
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
        for s in self.sources.values():
            b, k = whole.at[s.part]
            if s.stops in ("switched", "residual"):
                self.burners[s.part] = burner_of(asked, s, float(whole.A.C[b, k]))
            elif s.stops == "sun":
                area = asked.number(s.part, "absorber_m2", "absorber area")
                self.A.UA[b, k] = area * assumed("collector", "w_m2K")
        self.coolers: dict[str, Cooler] = {}
        self.assumed: list[str] = []
        for p in self.sources:
            cooler, words = cooler_of(ways, p, self.condition, self.world.cold_C)
            if cooler is not None:
                self.coolers[p] = cooler
                self.assumed.append(words)
        self.elements = elements_of(whole)
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
        self.meters = meters_of(whole, self.elements, {p: c.valve for p, c in self.coolers.items()})
        self.ledger = Ledger(whole, self.meters, self.state)
        self.power_W = np.zeros(len(self.meters.names))
        self._went: tuple[State, float] | None = None
        """Where the last step began, and how long it took."""
        self._boiling: set[str] = set()
        self._burning: frozenset[str] = frozenset()
        self.electric_W: dict[str, float] = {}
        self.crept_J: dict[str, float] = {}
        """Heat that came to emitters by gravity while no fire burned and their own pump stood."""
        self._limited: set[str] = set()
        self._lit: set[str] = set()
        self.controls.look(self._now())

    # -- what is felt -------------------------------------------------------------------------------------------

    def _now(self) -> Now:
        self._burning = frozenset(p for p, f in self.fires.items() if f.burns(self.time_s))
        return Now(self.state, {p: r.air_C for p, r in self.rooms.items()}, self._burning)

    def source_C(self, part: str) -> float:
        """Temperature of a source's water."""
        return float(self.state.T[self.whole.at[part]])

    def say(self, t: float, what: str, part: str, words: str) -> None:
        """Note an event."""
        self.events.append(Event(t, what, part, words))

    # -- one step -----------------------------------------------------------------------------------------------

    def step(self, dt: float) -> None:
        """Step everything by `dt` seconds. FigureError where the network finds no next state.

        Where a thermostat or burner passes its setting within the step, the step is made anew up to that instant, so
        that it switches there; the rest of it follows. That is done once a step.
        """
        self.power_W = np.zeros(len(self.meters.names))
        rest = self._piece(dt, dt)
        if rest > 0.0:
            self._piece(rest, dt, split=False)

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
        guess = self.gear.guess(before) or self._onward(dt)
        state, h = through(self.A, before, dt, booked, t, guess, self.close_K), dt
        share = self._first_switch(before, state, dt) if split else 1.0
        if share < LATE:
            h = min(dt, max(EARLY, share) * dt + PAST_S)
            pieces.clear()
            for part, fire in self.fires.items():
                self.A.Q[self.whole.at[part]] = fire.mean_W(t, h)
            self._taps(t, h)
            self.gear.enter(self.A)
            state = through(self.A, before, h, booked, t, None, self.close_K)
        mean_W = np.zeros(len(self.meters.names))
        for A, new, lagged, seconds in pieces:
            mean_W += self.ledger.add(A, new, lagged, seconds) * (seconds / h)
        self.power_W += mean_W * (h / whole_s)
        self.state, self._went = state, (before, h)
        self.gear.remember(self.state)
        self.time_s = t + h
        for part, watts in self.electric_W.items():
            self.electric_J[part] = self.electric_J.get(part, 0.0) + watts * h
        self._after(t, h, before, mean_W)
        return dt - h

    def _onward(self, dt: float) -> State | None:
        """Where the next step ends if it goes on as the last one went."""
        return None if self._went is None else onward(self._went[0], self.state, dt / self._went[1])

    def _first_switch(self, before: State, after: State, dt: float) -> float:
        """When in a step something first passes its setting or may switch again, as a share of it; 1 if none."""
        airs = {p: r.air_C for p, r in self.rooms.items()}
        was, now = Now(before, airs, self._burning), Now(after, airs, self._burning)
        shares = self.controls.passed(was, now)
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
        powered, clock = self.condition.power, self.world.clock(t)
        for pump in self.whole.pumps:
            part = pump.part
            on = powered and part not in self.condition.stopped
            on = (
                on
                and self.controls.wants(part, clock, True)
                and (self.controls.linked(part) or self._unlinked(part, t))
                and self._of_use(part, t)
            )
            on = on or (powered and part not in self.condition.stopped and self._overruns(part, t))
            if self.gear.run_pump(part, on) and t > 0.0:
                self.say(t, "on" if on else "off", part, f"{self.ways.name(part)} {'starts' if on else 'stops'}")
        if not powered:
            return
        for m in self.whole.moving:
            if m.does.value == "powered" and self.controls.linked(m.part):
                on = self.controls.wants(m.part, clock)
                self.gear.open_way(m.part, m.way, float(on != (m.way == "to_b")))

    def _mates(self, pump: str) -> list[str]:
        """Burners in the same run of pipe as a pump: those that it serves alone."""
        branch = next(p.branch for p in self.whole.pumps if p.part == pump)
        return [p for p in self.burners if self.whole.at[p][0] == branch]

    def _of_use(self, pump: str, t: float) -> bool:
        """Whether a pump that serves burners alone has one that may burn: the plan that stops them stops it, too."""
        return not self._mates(pump) or self.world.may_burn(t)

    def _overruns(self, pump: str, t: float) -> bool:
        """Whether a burner beside a pump has stopped so lately that the pump goes on to carry its last heat away."""
        for part in self._mates(pump):
            burner = self.burners[part]
            minutes = self.ways.number(part, "overrun_min")
            lasts = 60.0 * (assumed("pump", "overrun_min") if minutes is None else minutes)
            if burner.starts and not burner.burning and t - burner.since_s < lasts:
                return True
        return False

    def _unlinked(self, part: str, t: float) -> bool:
        """Whether a pump that nothing drives runs: with its own source, with a warm boiler, with the sun, or always."""
        if part in self.burners:
            return self.burners[part].burning
        water = next((w for w in self.whole.waters if part in w.parts), None)
        mates = [s for s in self.sources.values() if water is not None and s in water.sources]
        if self.ways.has_tag(part, "loading_unit") and mates:
            opens = self.ways.number(part, "opens_c") or 60.0
            return any(self.source_C(s.part) > opens - (10.0 if self.gear.running[part] else 5.0) for s in mates)
        if mates and all(s.stops == "sun" for s in mates):
            return self.world.sun_W_m2(t) > 150.0
        return True

    def _heat(self, t: float, dt: float) -> None:
        A, outdoor = self.A, self.world.outdoor_C(t + 0.5 * dt)
        clock, may = self.world.clock(t), self.world.may_burn(t)
        for part, s in self.sources.items():
            b, k = self.whole.at[part]
            if s.stops == "fire":
                fire = self.fires.get(part)
                A.Q[b, k] = fire.mean_W(t, dt) if fire is not None else 0.0
                self._lighting(t, part, fire)
            elif s.stops == "sun":
                sun = self.world.sun_W_m2(t + 0.5 * dt)
                area = self.ways.number(part, "absorber_m2") or 0.0
                A.Q[b, k] = assumed("collector", "eta0") * sun * area
                A.room[b, k] = outdoor
            else:
                A.Q[b, k] = self._burn(t, dt, part, outdoor, clock, may)
        for part, cooler in self.coolers.items():
            cell = self.whole.at[part]
            A.UA[cell], A.room[cell] = cooler.line(self.source_C(part))
        A.Sn[:] = 0.0
        for part, node in self.elements.items():
            limit = self.ways.number(part, "t_flow_c") or 60.0
            felt = float(self.state.N[node])
            on = self.element_on.get(part, False)
            on = felt < limit if on else felt < limit - 5.0
            on = on and self.condition.power and self.world.element_on(t) and self.controls.wants(part, clock)
            if on != self.element_on.get(part, False):
                self.say(t, "on" if on else "off", part, f"{self.ways.name(part)} {'heats' if on else 'stops'}")
            self.element_on[part] = on
            A.Sn[node] += 1000.0 * (self.ways.number(part, "power_kw") or 0.0) if on else 0.0
        for part, room in self.rooms.items():
            A.room[self.whole.at[part]] = room.air_C
            if part in self.whole.slabs:
                A.layer_room[self.whole.slabs[part][1]] = room.air_C

    def _lighting(self, t: float, part: str, fire: Fire | None) -> None:
        burns = fire is not None and fire.burns(t)
        if burns and part not in self._lit:
            self._lit.add(part)
            if t > 0.0:
                self.say(t, "lit", part, f"{self.ways.name(part)} burns")
        elif not burns and part in self._lit:
            self._lit.discard(part)
            self.say(t, "out", part, f"{self.ways.name(part)} has burnt down")

    def _burn(self, t: float, dt: float, part: str, outdoor: float, clock: bool, may: bool) -> float:
        burner = self.burners[part]
        called = self.condition.power and may and self.controls.wants(part, clock)
        was = burner.burning
        share = heat_pump_share(outdoor) if burner.pump else 1.0
        watts = burner.step(t, dt, self.source_C(part), called, share)
        if burner.burning != was:
            self.say(
                t, "on" if burner.burning else "off", part,
                f"{self.ways.name(part)} {'starts' if burner.burning else 'stops'}",
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
        airs = {p: r.air_C for p, r in self.rooms.items()}
        for room_valve in self.room_valves:
            room_valve.follow(self.gear, airs)
        self._tap_books(t, dt)
        self.controls.look(self._now())
        self._watch(t, dt, before)

    def _creeps(self, emitter: str) -> bool:
        """Whether what comes to an emitter comes by gravity that nobody meant: no fire burns, and its pump stands."""
        if self._burning:
            return False
        branch = self.whole.at[emitter][0]
        pumps = [p.part for p in self.whole.pumps if p.branch == branch]
        return not any(self.gear.running[p] for p in pumps) if pumps else self.ways.has_tag(emitter, "heat_leak")

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

    def _watch(self, t: float, dt: float, before: State) -> None:
        for part, cooler in self.coolers.items():
            felt = self.source_C(part)
            cooler.litres += cooler.flow_kg_s(felt) * dt
            if felt > cooler.opens_C and not cooler.open_now:
                was = float(before.T[self.whole.at[part]])
                when = t + dt * min(1.0, max(0.0, (cooler.opens_C - was) / max(felt - was, 1e-9)))
                self.say(when, "on", cooler.valve, f"{self.ways.name(cooler.valve)} opens")
            cooler.open_now = felt > cooler.opens_C - (1.0 if cooler.open_now else 0.0)
        boils = boiling_places(self.whole, self.ledger)
        for part, watts in boils.items():
            if part not in self._boiling and watts > 20.0:
                self._boiling.add(part)
                self.say(
                    self._when(t, dt, part, before), "boils", part, f"Water boils in {place_words(self.ways, part)}"
                )
        self._boiling &= set(boils)
        for part, s in self.sources.items():
            limit = self.ways.number(part, "limit_c")
            if limit is None and s.stops == "fire":
                limit = assumed("high_limit", "celsius")
            felt = self.source_C(part)
            if limit is not None and felt > limit and part not in self._limited and s.stops != "sun":
                self._limited.add(part)
                was = float(before.T[self.whole.at[part]])
                when = t + dt * min(1.0, max(0.0, (limit - was) / max(felt - was, 1e-9)))
                self.say(when, "limit", part, f"{self.ways.name(part)} passes {limit:.0f} °C")
            elif limit is not None and felt < limit - 5.0:
                self._limited.discard(part)

    def _when(self, t: float, dt: float, part: str, before: State) -> float:
        """When in the step a part's water came to the boil, by a straight line."""
        if part not in self.whole.at:
            return t + dt
        b, k = self.whole.at[part]
        was, now, boil = float(before.T[b, k]), float(self.state.T[b, k]), float(self.A.boil[b, k])
        return t + dt * min(1.0, max(0.0, (boil - was) / max(now - was, 1e-9)))


def writable(A: Arrays) -> Arrays:
    """Arrays whose changing parts are copies of their own: heat, losses, rooms, pumps, loss coefficients."""
    names = ("Q", "UA", "room", "Qn", "pump0", "pump1", "pump2", "seg_k", "Sn", "layer_room")
    return replace(A, any_pump=True, **{n: getattr(A, n).astype(float) for n in names})


def boiling_places(whole: Whole, ledger: Ledger) -> dict[str, float]:
    """Watts that boil away, by part (sources, emitters, stores) or pipe."""
    out: dict[str, float] = {}
    if not (ledger.boil_W.any() or ledger.boil_node_W.any()):
        return out
    named = {cell: part for part, cell in whole.at.items()}
    for pipe, (b, laid) in whole.pipes.items():
        named.setdefault((b, laid.cell), pipe)
    for b, k in zip(*np.nonzero(ledger.boil_W > 0.0), strict=True):
        part = named.get((int(b), int(k)), whole.net.branches[int(b)].name.partition(" ")[2])
        out[part] = out.get(part, 0.0) + float(ledger.boil_W[b, k])
    for node in np.nonzero(ledger.boil_node_W > 0.0)[0]:
        part = whole.A.node_names[int(node)].partition(" ")[0]
        out[part] = out.get(part, 0.0) + float(ledger.boil_node_W[node])
    return out


def place_words(ways: Waterways, place: str) -> str:
    """What people call a part or a pipe, in the middle of a sentence."""
    if place in ways.sheet.pipes:
        return f"the pipe “{place}”"
    return ways.name(place)


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
