"""Answers to the course "along the run"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

from loopwright.sheet.change import with_records

# -- R1 ---------------------------------------------------------------------------------------------------------------


def _pump_on(pen: Pen, pipe: str, at: tuple[float, float]) -> None:
    """The pump taken out and put into another pipe, under its own name and control."""
    links = dict(pen.sheet.links)
    props = dict(pen.sheet.parts["P1"].props)
    pen.cut("P1")
    pen.put(pipe, "pump", "P1", at, **props)
    pen.sheet = with_records(pen.sheet, links=links)


@right("R1")
def r1_vent_feed_pump(pen: Pen) -> None:
    """Feed a hand's width after the vent, the pump after both."""
    _pump_on(pen, "flow_3", (3.9, 2.0))
    pen.move("feed_tee", 2.04, 2.0)


@right("R1")
def r1_vent_and_feed_moved_along(pen: Pen) -> None:
    """The vent moved up to the feed instead, the pump on the rise to the landing."""
    _pump_on(pen, "flow_3", (4.8, 2.8))
    pen.move("vent_tee", 3.16, 2.0)


@right("R1")
def r1_pump_on_the_return(pen: Pen) -> None:
    """Vent and feed together on the flow, the pump on the return: the cistern stands high enough for it."""
    _pump_on(pen, "back", (3.0, 0.2125))
    pen.move("feed_tee", 2.04, 2.0)


@wrong("R1", "order/vent-feed-pump")
def r1_far_apart(pen: Pen) -> None:
    """The pump after both, but vent and feed 1.4 m apart."""
    _pump_on(pen, "flow_3", (3.9, 2.0))


@wrong("R1", "order/vent-feed-pump")
def r1_pump_first(pen: Pen) -> None:
    """The pump before both."""
    _pump_on(pen, "flow_1", (1.5, 1.4))
    pen.move("feed_tee", 2.04, 2.0)


# -- R2 ---------------------------------------------------------------------------------------------------------------


def _stove_vent(pen: Pen, turn_m: float = 6.1, size: str = "22") -> None:
    end = pen.uncap("VJ", "up")
    pen.pipe(end, pen["cistern"]["vent"], size, via=[(1.7, turn_m), (2.225, turn_m)], graded="b", id="stove_vent")


def _air_cock(pen: Pen) -> None:
    boss = pen.uncap("store", "vent")
    pen.pipe(boss, pen.add("air_vent_manual", "AV9", x_m=5.0, height_m=2.3)["a"], "15", via=[])


def _store_vent(pen: Pen, turn_m: float = 6.1) -> None:
    boss = pen.uncap("store", "vent")
    pen.pipe(boss, pen["cistern"]["vent_2"], "22", via=[(5.0, turn_m), (2.375, turn_m)], graded="b", id="store_vent")


@right("R2")
def r2_from_the_riser(pen: Pen) -> None:
    """22 mm from the top of the riser, an air cock on the store."""
    _stove_vent(pen)
    _air_cock(pen)


@right("R2")
def r2_both(pen: Pen) -> None:
    """One from the riser, one from the store's top boss."""
    _stove_vent(pen)
    pen.uncap("store", "vent")
    boss, over = pen["store"]["vent"], [(5.0, 6.25), (2.375, 6.25)]
    pen.pipe(boss, pen["cistern"]["vent_2"], "22", via=over, graded="b", id="store_vent")


@right("R2")
def r2_in_28(pen: Pen) -> None:
    """Wider and higher than it need be."""
    _stove_vent(pen, 6.4, "28")
    _air_cock(pen)


@wrong("R2", "vent-and-feed/vent-over-wrong-cistern")
def r2_over_the_nearer_cistern(pen: Pen) -> None:
    """The store's vent ended over the drinking water."""
    _stove_vent(pen)
    boss = pen.uncap("store", "vent")
    pen.pipe(boss, pen["taps_cistern"]["vent"], "22", via=[(5.0, 6.3), (5.1, 6.3)], graded="b", id="store_vent")


@wrong("R2", "solid-fuel/no-open-vent")
def r2_an_automatic_air_vent(pen: Pen) -> None:
    """An air vent on the riser "does the same"."""
    end = pen.uncap("VJ", "up")
    pen.pipe(end, pen.add("air_vent_auto", "AV8", x_m=1.7, height_m=4.0)["a"], "15", via=[])
    _air_cock(pen)


@wrong("R2", "vent-and-feed/vent-too-small")
def r2_in_15(pen: Pen) -> None:
    """15 mm."""
    _stove_vent(pen, 6.1, "15")
    _air_cock(pen)


@wrong("R2", "vent-and-feed/vent-too-low")
def r2_turned_over_too_low(pen: Pen) -> None:
    """Just over the rim."""
    _stove_vent(pen, 5.86)
    _air_cock(pen)


# -- R3 ---------------------------------------------------------------------------------------------------------------


def _own_stub(pen: Pen, name: str, height_m: float, purpose: str) -> None:
    from loopwright.sheet import edits

    pen.sheet = edits.add_tapping(
        pen.sheet, "store", height_m, pen.catalogue, side="right", name=name, purpose=purpose, size="22"
    )


@right("R3")
def r3_a_pair_of_its_own(pen: Pen) -> None:
    """The boiler's pump turned; the heat pump with a flow and a return of its own."""
    pen.turn("P2")
    pen.cut("hp_flow", "TF")
    first = next(p.id for p in pen.sheet.pipes_of("TR") if p.b.part == "L6" or p.a.part == "L6")
    pen.cut(first, "TR")
    _own_stub(pen, "hp flow", 1.26, "source_flow")
    _own_stub(pen, "hp return", 0.70, "source_return")
    pen.pipe(pen["store"]["hp flow"], pen["hp"]["flow"], "22", via=[(13.6, 1.36), (13.6, 0.765)], id="hp_flow")
    pen.pipe(pen["store"]["hp return"], pen.at("L6", "left"), "22", id="hp_return")


@right("R3")
def r3_own_flow_and_two_checks(pen: Pen) -> None:
    """The boiler's pump turned, an own flow for the heat pump, a check at each pump."""
    pen.turn("P2")
    pen.cut("hp_flow", "TF")
    _own_stub(pen, "hp flow", 1.26, "source_flow")
    pen.pipe(pen["store"]["hp flow"], pen["hp"]["flow"], "22", via=[(13.6, 1.36), (13.6, 0.765)], id="hp_flow")
    pen.put("hp_return_2", "check_valve", "C7", (13.4, -0.3))
    pen.put("boiler_return_5", "check_valve", "C8", (11.25, 0.3))


@wrong("R3", "circuit/backflow-through-idle-circuit")
def r3_one_check_in_the_common_return(pen: Pen) -> None:
    """A check before the tee, where it stops nobody."""
    pen.turn("P2")
    pen.cut("hp_flow", "TF")
    _own_stub(pen, "hp flow", 1.26, "source_flow")
    pen.pipe(pen["store"]["hp flow"], pen["hp"]["flow"], "22", via=[(13.6, 1.36), (13.6, 0.765)], id="hp_flow")
    pen.put("boiler_return_1", "check_valve", "C7", (6.8, 0.91))


@wrong("R3", "circuit/pump-backwards")
def r3_check_against_the_pump(pen: Pen) -> None:
    """Checks at both pumps, one the wrong way round."""
    r3_own_flow_and_two_checks(pen)
    pen.turn("C8")


@wrong("R3", "circuit/pump-backwards")
def r3_only_the_checks(pen: Pen) -> None:
    """The pump left as it was."""
    pen.cut("hp_flow", "TF")
    _own_stub(pen, "hp flow", 1.26, "source_flow")
    pen.pipe(pen["store"]["hp flow"], pen["hp"]["flow"], "22", via=[(13.6, 1.36), (13.6, 0.765)], id="hp_flow")


# -- R4 ---------------------------------------------------------------------------------------------------------------


def _rad_pipe(pen: Pen) -> str:
    return next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"BT1", "RT1"})


def _rad_check(pen: Pen) -> None:
    pen.put(_rad_pipe(pen), "anti_gravity_check", "C1", (7.2, 1.45))


def _unit(pen: Pen) -> None:
    pen.exchange("P3", "solar_pump_unit", **dict(pen.sheet.parts["P3"].props), opening_pa=2000.0)


@right("R4")
def r4_pump_unit_and_anti_gravity_check(pen: Pen) -> None:
    """A pump unit with its check on the sun, an anti-gravity check on the radiators."""
    _unit(pen)
    _rad_check(pen)


@right("R4")
def r4_checks_in_the_pipes(pen: Pen) -> None:
    """A spring check after the solar pump, an anti-gravity check on the radiators' return."""
    pen.put("solar_return_2", "check_valve", "C5", (3.9, 4.15), opening_pa=2000.0)
    pen.put("rad_return", "anti_gravity_check", "C6", (6.5, 0.64))


@right("R4")
def r4_a_motor_valve_on_the_radiators(pen: Pen) -> None:
    """The pump unit on the sun, a motorised valve that rests shut on the radiators."""
    _unit(pen)
    pen.put(_rad_pipe(pen), "motorised_2port", "M1", (7.2, 1.45), rest="shut")
    pen.link("TR1", "M1", does="runs_below", setting_c=20.0)


@wrong("R4", "gravity-loop/spring-check")
def r4_one_on_the_heat_leak_too(pen: Pen) -> None:
    """And one on the heat leak "to match"."""
    _unit(pen)
    _rad_check(pen)
    pen.put("leak_return", "anti_gravity_check", "C9", (2.4, 3.048))


@wrong("R4", "sealed/relief-can-close")
def r4_relief_shut_in(pen: Pen) -> None:
    """A motorised valve between the collector and its relief valve, besides the checks."""
    _rad_check(pen)
    _unit(pen)
    pen.put("solar_return_4", "isolating_valve", "V9", (3.9, 5.2))
    pen.put("solar_flow_2", "isolating_valve", "V8", (4.15, 4.0))


@wrong("R4", "circuit/night-thermosyphon")
def r4_only_the_radiators(pen: Pen) -> None:
    """The sun forgotten."""
    _rad_check(pen)


# -- R5 ---------------------------------------------------------------------------------------------------------------


@right("R5")
def r5_pipes_exchanged_at_the_unit(pen: Pen) -> None:
    """Each return to its own port."""
    pen.swap_ends("unit_V3_b", "unit_V4_a", "LU")


@right("R5")
def r5_exchanged_beyond_the_valves(pen: Pen) -> None:
    """Store and boiler exchanged at the far ends of the two service valves."""
    pen.cut("unit_V3_a", "unit_V4_b", "V3", "V4")
    for pipe in [p.id for p in pen.sheet.pipes.values() if p.id.startswith(("unit_V3", "unit_V4"))]:
        pen.cut(pipe)
    pen.pipe(pen["LU"]["boiler_return"], pen.at("R", "right"), "28", via=[(3.5, 0.78), (3.5, 0.2)])
    pen.pipe(pen["store"]["stove return"], pen["LU"]["store_return"], "28", via=[(4.2, 0.2), (4.2, 0.78)])


@right("R5")
def r5_a_pump_and_a_return_valve(pen: Pen) -> None:
    """The unit and its valves out; a linked pump and a return-temperature valve of 60 degC on the store's branch."""
    pen.cut(*[p.id for p in pen.sheet.pipes.values() if p.id.startswith("unit_")])
    pen.cut("LU", "V1", "V2", "V3", "V4")
    split = pen.add("tee", "split", x_m=4.0, height_m=1.72, turn=2)
    valve = pen.add("return_temperature_valve", "mix", x_m=4.0, height_m=0.2, setting_c=60.0)
    push = pen.add("pump", "P9", x_m=3.6, height_m=0.2, turn=2)
    pen.pipe(pen.at("T", "right"), split["right"], "28", via=[])
    pen.pipe(split["branch"], valve["hot"], "28", via=[])
    pen.pipe(split["left"], pen["store"]["stove flow"], "28", via=[])
    pen.pipe(pen["store"]["stove return"], valve["cold"], "28", via=[])
    pen.pipe(valve["mixed"], push["a"], "28", via=[])
    pen.pipe(push["b"], pen.at("R", "right"), "28", via=[])
    pen.link("TS1", "P9", does="runs_above", setting_c=55.0)


@wrong("R5", "order/loading-unit-sides")
def r5_flows_exchanged_instead(pen: Pen) -> None:
    """The two flows exchanged, the returns left."""
    pen.swap_ends("unit_V1_b", "unit_V2_a", "LU")


@wrong("R5", "gravity-loop/flap-only-way")
def r5_leak_on_the_stores_side(pen: Pen) -> None:
    """The unit right, but the leak's return now joined beyond it."""
    r5_pipes_exchanged_at_the_unit(pen)
    pen.cut("leak_return")
    pen.cap(pen.at("R", "up"))
    pen.cut("V3", "V4")
    pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"LU", "store"} and "V3" in p.id)
    home = pen.tee(pipe, (4.2, 0.2), "LT", towards="down")
    pen.pipe(pen["leak"]["return"], home["branch"], "28", via=[(3.3, 3.048), (3.3, -0.1), (4.2, -0.1)], graded="a")


# -- R6 ---------------------------------------------------------------------------------------------------------------


def _train(pen: Pen, *, check: bool = True) -> None:
    """Stop valve, strainer, reducing valve, branch, check, vessel, coil."""
    pen.cut("SV9", "F1", "RV1", "C2")
    first = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"SV0", "CT1"})
    pen.put(first, "strainer", "F1", (8.5, -0.6))
    second = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"F1", "CT1"})
    pen.put(second, "pressure_reducing_valve", "RV1", (8.2, -0.6), setting_bar=3.0)
    if check:
        third = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"CT1", "CT2"})
        pen.put(third, "check_valve", "C2", (7.4, -0.6))


@right("R6")
def r6_in_order(pen: Pen) -> None:
    """Dirt, pressure, no way back, room to swell."""
    _train(pen)


@right("R6")
def r6_relief_in_place_of_the_vessel(pen: Pen) -> None:
    """A relief valve of 6 bar on the coil's cold side, with its discharge pipe, besides the train in order."""
    _train(pen)
    pen.cut("EV3")
    end = pen.at("CT2", "down")
    relief = pen.add("relief_valve", "SV6", x_m=6.4, height_m=-0.9, setting_bar=6.0, turn=0)
    pen.pipe(end, relief["inlet"], "15", via=[(6.9, -1.15), (6.4, -1.15)])
    tundish = pen.add("tundish", "TU6", x_m=6.6, height_m=-1.25)
    pen.pipe(relief["outlet"], tundish["in"], "15", via=[(6.6, -0.9)])
    pen.pipe(tundish["out"], pen.add("discharge_point", "DP6", x_m=6.6, height_m=-1.9)["in"], "22", via=[])


@wrong("R6", "order/mains-inlet")
def r6_service_valve_before_the_coil(pen: Pen) -> None:
    """In order, but a valve left between vessel and coil."""
    _train(pen)
    last = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"CT2", "store"})
    pen.put(last, "stop_valve", "SV9", (6.2, -0.6))


@wrong("R6", "domestic/backflow-unprotected")
def r6_no_check(pen: Pen) -> None:
    """The check left out."""
    _train(pen, check=False)


@wrong("R6", "order/mains-inlet")
def r6_vessel_before_the_check(pen: Pen) -> None:
    """The check beyond the vessel."""
    _train(pen, check=False)
    last = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"CT2", "store"})
    pen.put(last, "check_valve", "C2", (6.2, -0.6))


# -- R7 ---------------------------------------------------------------------------------------------------------------


def _mixer(pen: Pen, pipe: str, id: str, at: tuple[float, float], setting_c: float, *, swapped: bool = False) -> None:
    """A mixing valve in a hot pipe, its cold from the main's branch by a check valve."""
    line = pen.sheet.pipes[pipe]
    a, b, size = line.a, line.b, line.size
    pen.cut(pipe)
    mixer = pen.add("mixing_valve", id, x_m=at[0], height_m=at[1], setting_c=setting_c, name=f"Mixing valve {id}")
    pen.pipe(a, mixer["cold" if swapped else "hot"], size, id=pipe)
    pen.pipe(mixer["mixed"], b, size, id=f"{pipe}_mixed")
    hold = pen.add("check_valve", f"C_{id}", x_m=at[0] + 0.2, height_m=-1.3, turn=2, name="Check valve")
    pen.pipe(_cold(pen), hold["a"], "22")
    pen.pipe(hold["b"], mixer["hot" if swapped else "cold"], "22", id=f"{pipe}_cold")


def _cold(pen: Pen):
    """The capped branch of the cold main, or a new one beside it."""
    if any("CT1" in (p.a.part, p.b.part) and p.joint for p in pen.sheet.pipes.values()):
        return pen.uncap("CT1", "down")
    pipe = next(p.id for p in pen.sheet.pipes_of("SV0") if "main" not in (p.a.part, p.b.part))
    return pen.tee(pipe, (8.6, -0.6), towards="down")["branch"]


def _hot_pipe(pen: Pen, one: str, two: str) -> str:
    return next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {one, two})


@right("R7")
def r7_one_valve_for_all(pen: Pen) -> None:
    """At the store before the first tee, set 41."""
    _mixer(pen, _hot_pipe(pen, "store", "HT2"), "TM1", (5.6, 2.4), 41.0)


@right("R7")
def r7_two_valves(pen: Pen) -> None:
    """One for the shower, one for the rest."""
    _mixer(pen, "hot_shower", "TM1", (5.2, 2.9), 41.0)
    _mixer(pen, _hot_pipe(pen, "HT2", "HT1"), "TM2", (6.3, 2.5), 41.0)


@wrong("R7", "domestic/scald-risk")
def r7_after_the_showers_tee(pen: Pen) -> None:
    """The shower left unmixed."""
    _mixer(pen, _hot_pipe(pen, "HT2", "HT1"), "TM1", (6.3, 2.5), 41.0)


@wrong("R7", "order/mixing-valve-inlets")
def r7_inlets_exchanged(pen: Pen) -> None:
    """Hot on cold."""
    _mixer(pen, _hot_pipe(pen, "store", "HT2"), "TM1", (5.6, 2.4), 41.0, swapped=True)


@wrong("R7", "domestic/scald-risk")
def r7_set_at_60(pen: Pen) -> None:
    """Set at 60 for the germs."""
    _mixer(pen, _hot_pipe(pen, "store", "HT2"), "TM1", (5.6, 2.4), 60.0)


# -- R8 ---------------------------------------------------------------------------------------------------------------


def _mixed(pen: Pen) -> None:
    """A mixing valve before the pump, its cold side from the manifold's return."""
    pen.cut("floor_flow_1")
    mixer = pen.add("mixing_valve", "TM8", x_m=6.7, height_m=0.22, setting_c=45.0, name="Floor mixing valve")
    pen.pipe(pen["store"]["floor flow"], mixer["hot"], "22", via=[(6.3, 1.09), (6.3, 0.22)], id="floor_flow_1")
    pen.pipe(mixer["mixed"], pen["P4"]["a"], "22", via=[], id="floor_flow_3")
    leg = pen.tee("floor_return", (6.7, -0.02), "ML", towards="up")
    pen.pipe(leg["branch"], mixer["cold"], "22", via=[], id="mix_leg")


def _limit(pen: Pen) -> None:
    limit = pen.add("high_limit_thermostat", "HL8", x_m=8.0, height_m=0.7, name="Floor high limit")
    pen.link(limit, "P4", does="stops_above", setting_c=55.0, manual_reset=True)


def _bypass(pen: Pen) -> None:
    top, low = pen.uncap("BT1", "down"), pen.uncap("BT2", "up")
    valve = pen.add("automatic_bypass_valve", "BV1", x_m=6.85, height_m=0.95, turn=1, name="Automatic bypass")
    pen.pipe(top, valve["a"], "22", via=[])
    pen.pipe(valve["b"], low, "22", via=[])


@right("R8")
def r8_mixing_limit_and_bypasses(pen: Pen) -> None:
    """A mixing valve with the pump after it, a high limit, bypasses."""
    _mixed(pen)
    _limit(pen)
    _bypass(pen)
    pen.set("floor", bypass_built_in=True)


@right("R8")
def r8_a_manifold_set(pen: Pen) -> None:
    """A manifold with all of it built in; one radiator without a head."""
    pen.set("floor", mixing_built_in=True, high_limit_built_in=True, bypass_built_in=True)
    pen.cut("TV1")


@wrong("R8", "underfloor/no-mixing")
def r8_a_lower_tapping(pen: Pen) -> None:
    """The floor's supply moved down where it is cool on most days."""
    pen.taps("store", floor_flow=0.45)
    _limit(pen)
    _bypass(pen)
    pen.set("floor", bypass_built_in=True)


@wrong("R8", "underfloor/no-high-limit")
def r8_mixing_without_a_limit(pen: Pen) -> None:
    """One thing mixes, nothing stops."""
    _mixed(pen)
    _bypass(pen)
    pen.set("floor", bypass_built_in=True)


@wrong("R8", "circuit/dead-headed-pump")
def r8_no_bypass(pen: Pen) -> None:
    """All heads on, no bypass at the radiators."""
    _mixed(pen)
    _limit(pen)
    pen.set("floor", bypass_built_in=True)
