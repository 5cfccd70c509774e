"""A power cut in time: from the pumped, firing state before it to the boil, or until everything has cooled.

Owns how such a run begins, when it ends and what is said of it. Knows nothing of how a step is made. The worse case is
taken throughout: standing pumps let nothing through, spring-loaded checks stay shut, valves go where they rest.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from loopwright.catalogue import standard_catalogue
from loopwright.engineering import network as nw
from loopwright.engineering import steady, stepping
from loopwright.engineering.drawn_parts import Asked, Charge, figure
from loopwright.engineering.network import State
from loopwright.engineering.runs.cut_words import boil_of, figures_of, verdict_of
from loopwright.engineering.runs.gear import shut_branches, shut_by_hand
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.heat import Fire, charge_of
from loopwright.engineering.runs.house import House
from loopwright.engineering.runs.record import Peeks, Record
from loopwright.engineering.runs.result import Run
from loopwright.engineering.runs.whole import Whole, charged, whole
from loopwright.errors import FigureError
from loopwright.sheet.values import Sheet
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import NORMAL, POWER_CUT, Ask, Condition
from loopwright.waterways.waters import Water

FINE_S, FINE_FOR_S, STEP_S = 10.0, 600.0, 30.0
FALLING_S = 1800.0
LOW_SHARE = 0.1
CLOSE_K = 1e-3
VALVE_ROUNDS = 8
LONGEST_S = 8 * 3600.0
LAYERS = 20
OUTDOOR_C = 0.0

Progress = Callable[[float], None]
Cancel = Callable[[], bool]


@dataclass(frozen=True)
class Dark:
    """The world of a power cut: no sun on the roof but what is said, no water drawn, no clock."""

    sun: float = 0.0
    powered: bool = False
    cold_C: float = 10.0
    design_outdoor_C: float = -3.0

    def outdoor_C(self, t: float) -> float:
        return OUTDOOR_C

    def sun_W_m2(self, t: float) -> float:
        return self.sun

    def may_burn(self, t: float) -> bool:
        return self.powered

    def clock(self, t: float) -> bool:
        return True

    def element_on(self, t: float) -> bool:
        return False

    def drawn_litres(self, t: float, dt: float) -> Mapping[str, float]:
        return {}

    def next_instant(self, t: float) -> float:
        return math.inf


def waterways_of(drawn: Waterways | Sheet) -> Waterways:
    """The waterways of a sheet, or those given."""
    return drawn if isinstance(drawn, Waterways) else Waterways(drawn, standard_catalogue())


def power_cut(
    drawn: Waterways | Sheet,
    condition: Condition = POWER_CUT,
    *,
    store_full: bool = False,
    shut: Collection[str] = (),
    sun_W_m2: float = 0.0,
    lower_m: float = 0.0,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    so_far: Callable[[Run], None] | None = None,
) -> Run:
    """The run of a power cut (or of any condition) from the running, pumped, firing state.

    `shut` are valves shut at the same moment. `store_full`: stores at design temperature throughout, else their lower
    half at the temperature of water coming back from the house. Every fire has one whole charge before it and burns
    well. Collectors stand in the sun of `sun_W_m2`. `lower_m` sets fires that much lower on pipes that much longer, to
    tell what more height would do. `so_far` is handed what there is of the run from time to time. FigureError where a
    figure is missing or there is nothing to run.
    """
    ways = waterways_of(drawn)
    if shut:
        condition = replace_shut(condition, frozenset(condition.shut) | set(shut))
    _known(ways, condition)
    joined = _waters(ways, condition, sun_W_m2)
    heated = {s.part for s in ways.sources if s.stops in ("fire", "residual") and s.part not in condition.out}
    if not heated and not joined:
        raise FigureError("Nothing on this sheet gives heat in a power cut", do="Draw a stove, a boiler or a collector")
    net = whole(
        ways,
        charged(ways, Charge.FULL if store_full else Charge.WORKING),
        layers=LAYERS,
        wanted=lambda w: w.number in joined,
        needed=lambda w: any(s.part in heated for s in w.sources),
        lower_m=lower_m,
    )
    house, notes = _beginning(net, condition, sun_W_m2)
    record = Record(house)
    record.keep()

    def told(outcome: str) -> Run:
        figures = figures_of(house, record)
        return record.run(
            kind="power cut",
            outcome=outcome,
            verdict=verdict_of(house, outcome, figures),
            notes=(*net.notes, *notes, *house.controls.notes),
            title=ways.sheet.title,
            figures=figures,
            complete=outcome not in ("cancelled", "under way"),
        )

    return told(_march(house, record, progress, cancel, Peeks(so_far, told)))


def replace_shut(condition: Condition, shut: frozenset[str]) -> Condition:
    """The condition with other valves shut."""
    return Condition(condition.power, condition.stopped, shut, condition.out)


def _known(ways: Waterways, condition: Condition) -> None:
    for part in sorted({*condition.stopped, *condition.shut, *condition.out}):
        if part not in ways.sheet.parts:
            raise FigureError(f"There is no part “{part}” on this sheet", do="Name a part by its id")


def _waters(ways: Waterways, condition: Condition, sun: float) -> set[int]:
    """Numbers of the waters that matter: those with heat in them, and those coupled to them by coils and plates."""
    from loopwright.waterways.waters import water_of, waters

    all_waters = waters(ways)
    if condition.power:
        return {w.number for w in all_waters}
    stops = {"fire", "residual"} | ({"sun"} if sun > 0.0 else set())
    found = {w.number for w in all_waters if any(s.stops in stops for s in w.sources)}
    while True:
        more = set(found)
        for sink in ways.sinks:
            if sink.sort not in ("coil", "plate"):
                continue
            touched = {w.number for w in (water_of(ways, p) for p in sink.ends) if w is not None}
            body = water_of(ways, ("body", sink.part))
            vessel = {body.number} if body is not None else set()
            if touched & more:  # a coil with heat in it warms the water of its vessel
                more |= vessel
        if more == found:
            return found
        found = more


def _beginning(net: Whole, condition: Condition, sun: float) -> tuple[House, list[str]]:
    """The house at the instant of the cut, and what was assumed of it."""
    ways, A, notes = net.ways, net.A, []
    asked = Asked(ways, NORMAL, Ask.RUNNING, Charge.FULL, {})
    start = nw.start_at(A, figure("room", "celsius"))
    before = House(net, Dark(sun), start, NORMAL, rooms_move=False)
    fires = {}
    for s in ways.fires:
        if s.part in net.at and s.part not in condition.out:
            charge = charge_of(asked, s.part, burning=True)
            fires[s.part] = Fire(s.part, [(0.0, charge)])
            before.A.Q[net.at[s.part]] = charge.power_W
    for s in ways.sources:
        if s.stops == "sun" and s.part in net.at:
            area = ways.number(s.part, "absorber_m2") or 0.0
            before.A.Q[net.at[s.part]] = assumed("collector", "eta0") * area * sun
    for pump in net.pumps:
        before.gear.run_pump(pump.part, True)
    for floor in before.floor_sets:
        before.gear.open_way(floor.way.part, floor.way.way, 0.1)
    state, settled = _settled(before)
    if not settled:
        notes.append("Before the cut the water had not settled: the run begins after half an hour of firing")
    house = House(net, Dark(sun, condition.power), state, condition, rooms_move=False, fires=fires, close_K=CLOSE_K)
    notes += asked.assumed + house.assumed
    house.gear.opening = dict(before.gear.opening)
    if condition.power:
        house.gear.shut = shut_by_hand(net, condition)
        house.gear.standing_blocks = True
        for pump in net.pumps:
            house.gear.running[pump.part] = True
    else:
        house.gear.shut = shut_branches(net, condition, Ask.REST)
        _fans_stop(house)
        notes.append("Standing pumps and spring-loaded checks are taken to let nothing through")
    house.gear.changed = True
    house.say(0.0, "cut", "", condition.words)
    return house, notes


def _fans_stop(house: House) -> None:
    for part, cell in house.whole.at.items():
        if house.ways.has_tag(part, "fan"):
            house.A.Qn[cell] = house.ways.number(part, "output_without_fan_w") or 0.0


def _settled(before: House) -> tuple[State, bool]:
    """The running state with stores held where they stand; if it does not settle, after half an hour of it.

    Mixing and loading valves are let follow until they hold their setting.
    """
    before.gear.enter(before.A)
    A = before.A
    held = replace(A, is_fixed=A.is_fixed | A.is_layer, inlets=())
    held = replace(held, fixed=np.nonzero(held.is_fixed)[0])
    with np.errstate(all="ignore"):
        s = steady.from_kick(held)
        found, settled, _ = stepping.grow(held, s)
        for _ in range(VALVE_ROUNDS):
            if not settled:
                break
            for blender in before.blenders:
                blender.follow(before.gear, found)
            for floor in before.floor_sets:
                floor.follow(before.gear, found)
            if not before.gear.changed:
                break
            before.gear.enter(before.A)
            found, settled, _ = stepping.grow(held, found)
    if settled:
        return found, True
    if not all(np.isfinite(x).all() for x in (s.T, s.m, s.N)):
        s = nw.start_at(A, figure("room", "celsius"))
    return s, False


def _march(house: House, record: Record, progress: Progress | None, cancel: Cancel | None, peeks: Peeks) -> str:
    """Steps until it boils, or has fallen for half an hour with the fire low, or it has gone on long enough.

    Returns which of them: boils, peaks, or cancelled.
    """
    fires = list(house.fires)
    watched = fires or list(house.sources)
    best, best_at = -1e9, 0.0
    while True:
        t = house.time_s
        if cancel is not None and cancel():
            return "cancelled"
        house.step(FINE_S if t < FINE_FOR_S - 1e-6 else STEP_S if t < best_at + 600.0 else 2.0 * STEP_S)
        record.keep()
        if progress is not None:
            progress(min(1.0, house.time_s / (3.0 * 3600.0)))
        peeks.look()
        if boil_of(house) is not None:
            return "boils"
        hot = max(
            [house.source_C(p) for p in watched] + [float(house.state.N[s].max()) for s in house.whole.layers.values()]
        )
        if hot > best + 0.02:
            best, best_at = hot, house.time_s
        cooling = house.time_s - best_at >= FALLING_S
        low = all(f.mean_W(house.time_s, 60.0) < LOW_SHARE * f.charges[0][1].power_W for f in house.fires.values())
        if (cooling and low) or house.time_s >= LONGEST_S:
            return "peaks"


def boiling_C(house: House, part: str) -> float:
    """Where the water of a source boils under its own water line, degC."""
    return float(house.A.boil[house.whole.at[part]])


__all__ = ["Dark", "Water", "boiling_C", "power_cut", "waterways_of"]
