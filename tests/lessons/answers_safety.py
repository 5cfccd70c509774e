"""Answers to the course "safety first"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

from loopwright.sheet import edits

# -- S1 ---------------------------------------------------------------------------------------------------------------


@right("S1")
def s1_plain_unions(pen: Pen) -> None:
    """Both valves out, unions in their place."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "union", "U1", (1.45, 3.552))
    pen.put("leak_return", "union", "U2", (2.4, 3.048))


def _landing(pen: Pen, watts: float) -> None:
    """A radiator upstairs without valves, on tees of the riser and of the return."""
    out = pen.tee("riser", (1.7, 3.3), "T5", towards="right")
    home = pen.tee("return_3", (4.2, 0.2), "T6", towards="up")
    rad = pen.add("radiator", "R9", x_m=7.0, height_m=3.0, output_w=watts, name="Landing radiator")
    pen.pipe(out["branch"], rad["flow"], "28", via=[(5.9, 3.3), (5.9, 3.552)], id="landing_flow")
    pen.pipe(rad["return"], home["branch"], "28", via=[(4.2, 3.048)], id="landing_return")


@right("S1")
def s1_second_radiator(pen: Pen) -> None:
    """The valved radiator stays; one of 1.2 kW without valves beside it."""
    _landing(pen, 1200.0)


@wrong("S1", "gravity-loop/isolating-valve")
def s1_lever_valve_locked_open(pen: Pen) -> None:
    """One lever valve, its handle wired."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "isolating_valve", "V3", (1.45, 3.552), locked_open=True)


@wrong("S1", "solid-fuel/heat-leak-can-be-shut")
def s1_normally_open_motor_valve(pen: Pen) -> None:
    """A motorised valve that springs open."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "motorised_2port", "M1", (1.45, 3.552), rest="open")


@wrong("S1", "solid-fuel/heat-leak-can-be-shut")
def s1_only_the_lockshield(pen: Pen) -> None:
    """The wheelhead out, the lockshield left."""
    pen.cut("V1")


# -- S2 ---------------------------------------------------------------------------------------------------------------


@right("S2")
def s2_a_larger_radiator(pen: Pen) -> None:
    """One radiator of 1.3 kW."""
    pen.set("leak", output_w=1300.0)


@right("S2")
def s2_a_second_one(pen: Pen) -> None:
    """Another of 1.2 kW beside it, without valves."""
    _landing(pen, 1200.0)


@wrong("S2", "solid-fuel/heat-leak-can-be-shut")
def s2_a_second_one_with_a_valve(pen: Pen) -> None:
    """Another of 0.8 kW, with a radiator valve."""
    _landing(pen, 800.0)
    pen.put("landing_flow", "wheelhead_valve", "V8", (3.0, 3.3))


@wrong("S2", "still brings the water to the boil")
def s2_just_enough_by_the_rule(pen: Pen) -> None:
    """Another of 0.5 kW: 1.1 kW in all meets the least figure, and a full store still boils."""
    _landing(pen, 500.0)


@wrong("S2", "solid-fuel/store-is-only-leak")
def s2_no_radiator(pen: Pen) -> None:
    """The radiator taken out: "the store takes it"."""
    pen.cut("leak")
    pen.cap(pen.at("VJ", "left"))
    pen.cap(pen.at("R", "up"))


@wrong("S2", "solid-fuel/heat-leak-too-small")
def s2_a_floor(pen: Pen) -> None:
    """A warm floor counted in."""
    out = pen.tee("riser", (1.7, 3.3), "T5", towards="right")
    home = pen.tee("return_3", (4.2, 0.2), "T6", towards="up")
    kit = pen.add("underfloor_manifold", "floor", x_m=7.0, height_m=2.8, output_w=3000.0, mixing_built_in=True)
    pen.pipe(out["branch"], kit["flow"], "28", via=[(5.9, 3.3), (5.9, 3.12)])
    pen.pipe(kit["return"], home["branch"], "28", via=[(4.2, 2.88)])


# -- S3 ---------------------------------------------------------------------------------------------------------------


def _valves_at_the_pump(pen: Pen, left: float = 5.6, right_x: float = 6.4) -> None:
    pen.put("rad_flow_1", "isolating_valve", "V5", (left, 1.45))
    pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"P1", "BT1"})
    pen.put(pipe, "isolating_valve", "V6", (right_x, 1.45))


def _stop_at_the_float(pen: Pen, at: float = 1.3) -> None:
    pipe = next(p.id for p in pen.sheet.pipes_of("loft_main"))
    pen.put(pipe, "stop_valve", "V7", (at, 5.7175))


@right("S3")
def s3_moved_to_where_they_belong(pen: Pen) -> None:
    """Both wrong valves out, one on each side of the pump, one before the float valve."""
    pen.cut("V1", "V2")
    _valves_at_the_pump(pen)
    _stop_at_the_float(pen)


@right("S3")
def s3_one_at_the_radiators_return_too(pen: Pen) -> None:
    """The same, and a further one on the radiators' return."""
    pen.cut("V1", "V2")
    _valves_at_the_pump(pen, 5.58, 6.45)
    _stop_at_the_float(pen, 1.6)
    pen.put("rad_return", "isolating_valve", "V8", (6.2, 0.64))


@wrong("S3", "gravity-loop/isolating-valve")
def s3_between_tee_and_store(pen: Pen) -> None:
    """The lever valve moved between T and the store."""
    pen.cut("V1", "V2")
    pen.put("store_flow", "isolating_valve", "V1", (3.0, 1.72))
    _valves_at_the_pump(pen)
    _stop_at_the_float(pen)


@wrong("S3", "gravity-loop/isolating-valve")
def s3_in_the_stoves_return(pen: Pen) -> None:
    """A valve in the stove's return, between feed and leak."""
    pen.cut("V1", "V2")
    pen.put("return_2", "isolating_valve", "V1", (2.95, 0.2))
    _valves_at_the_pump(pen)
    _stop_at_the_float(pen)


@wrong("S3", "solid-fuel/vent-can-close")
def s3_locked(pen: Pen) -> None:
    """The lever valve left where it was, but locked."""
    pen.set("V1", locked_open=True)
    pen.cut("V2")
    _valves_at_the_pump(pen)
    _stop_at_the_float(pen)


# -- S4 ---------------------------------------------------------------------------------------------------------------


@right("S4")
def s4_by_a_coil(pen: Pen) -> None:
    """The boiler on a coil in the upper half."""
    pen.cut("boiler_flow_3", "boiler_return_4")
    for name in ("boiler flow", "boiler return"):
        letter = next(t.letter for t in pen.sheet.parts["store"].tappings if t.name == name)
        pen.sheet = edits.remove_tapping(pen.sheet, "store", letter, pen.catalogue)
    pen.sheet = edits.add_coil(
        pen.sheet, "store", pen.catalogue, name="boiler", bottom_m=0.9, top_m=1.53, purpose="source", area_m2=1.4,
        content_l=8.0,
    )  # fmt: skip
    pen.pipe(pen.at("AVT2", "left"), pen["store"]["boiler top"], "22", id="boiler_flow_3")
    pen.pipe(pen["store"]["boiler bottom"], pen.at("DCT", "left"), "22", id="boiler_return_4")


@right("S4")
def s4_by_a_plate(pen: Pen) -> None:
    """A plate exchanger between the two, a pump on each side."""
    pen.cut("boiler_flow_3", "boiler_return_4")
    for name in ("boiler flow", "boiler return"):
        pen.tap("store", name, purpose="any")
    plate = pen.add("plate_heat_exchanger", "PX", x_m=8.6, height_m=1.0, mirror=True, name="Plate heat exchanger")
    pen.pipe(pen.at("AVT2", "left"), plate["primary_in"], "22", id="boiler_flow_3")
    pen.pipe(plate["primary_out"], pen.at("DCT", "left"), "22", id="boiler_return_4")
    push = pen.add("pump", "P7", x_m=7.2, height_m=0.88, name="Store pump")
    pen.pipe(pen["store"]["boiler return"], push["a"], "22")
    pen.pipe(push["b"], plate["secondary_in"], "22")
    pen.pipe(plate["secondary_out"], pen["store"]["boiler flow"], "22")
    pen.link(pen["store"].pocket("boiler sensor"), "P7", does="runs_below", setting_c=65.0)


@right("S4")
def s4_boiler_made_vented(pen: Pen) -> None:
    """Vessel and filling hose out: the boiler is vented through the store."""
    pen.cut("EV1", "FL1", "fill_main")
    for tee in ("EVT", "FT"):
        for pipe in pen.sheet.pipes_of(tee):
            if not {pipe.a.part, pipe.b.part} - {tee} & set(pen.sheet.parts):
                pen.cut(pipe.id)
        pen.cap(pen.at(tee, "down"))


@wrong("S4", "sealed/vented-and-sealed-joined")
def s4_checks_in_both_pipes(pen: Pen) -> None:
    """A check valve in each pipe."""
    pen.put("boiler_flow_3", "check_valve", "C5", (8.0, 1.63))
    pen.put("boiler_return_4", "check_valve", "C6", (7.0, 0.91))


@wrong("S4", "solid-fuel/sealed-water")
def s4_all_sealed(pen: Pen) -> None:
    """The cistern taken off, vents and feed capped."""
    pen.cut("cistern")
    pen.cap(pen.at("VJ", "up"))
    pen.cap(pen["store"]["vent"])
    pen.cap(pen.at("F", "up"))


# -- S5 ---------------------------------------------------------------------------------------------------------------


@right("S5")
def s5_from_the_main(pen: Pen) -> None:
    """The pump out: straight from the public main, its stop valve locked open."""
    pen.cut("WP")


@right("S5")
def s5_from_the_main_without_a_valve(pen: Pen) -> None:
    """The pump out, and the stop valve too."""
    pen.cut("WP", "cooling_stop")


@wrong("S5", "solid-fuel/cooling-supply-can-fail")
def s5_from_a_low_cistern(pen: Pen) -> None:
    """From a cistern 5 m above: too little pressure for the valve."""
    pen.cut("WP", "cooling_main", "cooling_stop")
    tank = pen.add("cold_water_cistern", "CW", x_m=-1.6, height_m=6.0, name="Cold-water cistern")
    main = pen.add("mains_supply", "cw_main", x_m=-3.4, height_m=6.5525, pressure_bar=3.0)
    pen.pipe(main["a"], tank["float_in"], "15")
    end = pen.add("discharge_point", "cw_end", x_m=-0.4, height_m=6.1)
    pen.pipe(tank["overflow"], end["in"], "22")
    pen.cap(tank["vent"])
    pen.pipe(tank["feed"], pen["cooling_strainer"]["a"], "22", id="cooling_feed")


@wrong("S5", "solid-fuel/sealed-water")
def s5_a_stop_valve(pen: Pen) -> None:
    """From the main, but its stop valve free to shut."""
    pen.cut("WP")
    pen.set("cooling_stop", locked_open=False)


@wrong("S5", "solid-fuel/sealed-water")
def s5_a_second_pump(pen: Pen) -> None:
    """A second pump beside the first, on a battery."""
    one = pen.tee("cooling_1", (-0.45, 0.975), "B1", towards="up")
    after = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"WP", "cooling_stop"})
    pen.move("cooling_stop", 0.5, 0.975)
    del after
    two = pen.add("pump", "WP2", x_m=0.05, height_m=1.5)
    pen.pipe(one["branch"], two["a"], "22")
    pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"cooling_strainer", "TD1"})
    join = pen.tee(pipe, (1.1, 0.975), "B2", towards="up")
    pen.pipe(two["b"], join["branch"], "22")


# -- S6 ---------------------------------------------------------------------------------------------------------------


def _zone_to_the_store_side(pen: Pen) -> None:
    pen.cut("M1")
    pen.put("boiler_return_4", "motorised_2port", "M1", (7.0, 1.0), rest="shut")
    pen.link(pen["store"].pocket("boiler sensor"), "M1", does="shuts_above", setting_c=65.0)


@right("S6")
def s6_relief_first_vessel_behind_a_locked_valve(pen: Pen) -> None:
    """The valve beyond the relief tee, the vessel behind a valve locked open, 18 l."""
    pen.cut("V5")
    pen.put("boiler_flow_2", "isolating_valve", "V5", (11.15, 1.63))
    _zone_to_the_store_side(pen)
    pen.set("V6", locked_open=True)
    pen.set("EV1", volume_l=18.0)


@right("S6")
def s6_both_on_the_boilers_side(pen: Pen) -> None:
    """Relief and vessel on the boiler's side, both valves beyond them."""
    pen.cut("V5", "V6")
    pen.put("boiler_flow_3", "isolating_valve", "V5", (9.0, 1.63))
    _zone_to_the_store_side(pen)
    pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"M1", "DCT"})
    pen.put(pipe, "isolating_valve", "V6", (9.5, 0.5))
    pen.set("EV1", volume_l=12.0)


@wrong("S6", "sealed/relief-can-close")
def s6_locked_before_the_relief(pen: Pen) -> None:
    """The valve before the relief locked open."""
    pen.set("V5", locked_open=True)
    _zone_to_the_store_side(pen)
    pen.set("V6", locked_open=True)
    pen.set("EV1", volume_l=18.0)


@wrong("S6", "sealed/vessel-can-close")
def s6_zone_valve_left(pen: Pen) -> None:
    """All else right, the zone valve left between vessel and boiler."""
    pen.cut("V5")
    pen.put("boiler_flow_2", "isolating_valve", "V5", (11.15, 1.63))
    pen.set("V6", locked_open=True)
    pen.set("EV1", volume_l=18.0)


@wrong("S6", "sealed/vessel-too-small")
def s6_vessel_doubled_unread(pen: Pen) -> None:
    """The vessel left at 4 l."""
    s6_both_on_the_boilers_side(pen)
    pen.set("EV1", volume_l=4.0)


# -- S7 ---------------------------------------------------------------------------------------------------------------


def _off_the_fire(pen: Pen) -> None:
    pen.cut("motor", "X1", "X2")
    pen.cut(*[i for i in ("coil_1", "coil_2", "coil_3") if i in pen.sheet.pipes])


def _own_circuit(pen: Pen, *, valve: bool) -> None:
    """A pump from the store to the cylinder's coil, with or without its two-port valve."""
    _off_the_fire(pen)
    out, home = pen.uncap("store", "out"), pen.uncap("store", "in")
    pump = pen.add("pump", "pump", x_m=6.6, height_m=1.6, name="Cylinder pump")
    pen.pipe(out, pump["a"], "22", via=[])
    last = pump["b"]
    if valve:
        motor = pen.add("motorised_2port", "motor", x_m=7.4, height_m=1.6, rest="shut", name="Two-port valve")
        pen.pipe(last, motor["a"], "22", via=[])
        last = motor["b"]
        pen.link(pen["cyl"].pocket("stat"), "motor", does="shuts_above", setting_c=60.0)
        cut_out = pen.add("high_limit_thermostat", "cut_out", x_m=9.2, height_m=1.8, name="Cut-out")
        pen.link(cut_out, "motor", does="shuts_above", setting_c=80.0, manual_reset=True)
    pen.pipe(last, pen["cyl"]["coil in"], "22", via=[(8.6, 1.6), (8.6, 0.9)])
    pen.pipe(pen["cyl"]["coil out"], home, "22", via=[], id="coil_back")
    pen.link(pen["cyl"].pocket("stat"), "pump", does="runs_below", setting_c=60.0)


@right("S7")
def s7_the_store_heats_the_cylinder(pen: Pen) -> None:
    """A pumped coil circuit from the store, two-port resting shut, cut-out on it."""
    _own_circuit(pen, valve=True)


@right("S7")
def s7_a_mains_coil(pen: Pen) -> None:
    """The cylinder out, a mains coil of 6 l in the store."""
    _off_the_fire(pen)
    pen.cut("cyl", "tp", "tundish_1", "end_1")
    pen.sheet = edits.add_coil(
        pen.sheet, "store", pen.catalogue, name="taps", bottom_m=0.25, top_m=1.65, purpose="domestic", area_m2=2.5,
        content_l=6.0,
    )  # fmt: skip
    pen.pipe(pen.at("relief_tee", "left"), pen["store"]["taps bottom"], "22", id="cold_end")
    pen.pipe(pen["store"]["taps top"], pen["mixer"]["hot"], "22", id="hot")


@wrong("S7", "solid-fuel/feeds-unvented-cylinder")
def s7_a_second_motor_valve(pen: Pen) -> None:
    """Two motorised valves in series."""
    pen.put("coil_1", "motorised_2port", "motor_2", (6.0, 2.4), rest="shut")


@wrong("S7", "domestic/unvented-no-cut-out")
def s7_pumped_without_a_valve(pen: Pen) -> None:
    """Pumped from the store, no two-port valve."""
    _own_circuit(pen, valve=False)


# -- S8 ---------------------------------------------------------------------------------------------------------------


def _discharge(pen: Pen, size: str, way: list[tuple[float, float]], extra_m: float, bends: int) -> None:
    pen.cut("d1", "d2")
    pen.move("tundish_1", 11.2, 1.2)
    pen.pipe(pen["tp"]["outlet"], pen["tundish_1"]["in"], "22", via=[(11.2, 1.5)], id="d1")
    pen.pipe(
        pen["tundish_1"]["out"], pen["end_1"]["in"], size, via=way, graded="a", id="d2", extra_length_m=extra_m,
        extra_bends=bends,
    )  # fmt: skip


@right("S8")
def s8_in_28_falling_all_the_way(pen: Pen) -> None:
    """Tundish close under the valve, a straight drop, 28 mm laid to fall."""
    _discharge(pen, "28", [(11.2, 0.65), (14.9, 0.65)], 3.0, 2)


@right("S8")
def s8_short_in_22(pen: Pen) -> None:
    """Out by the near wall: short enough for 22 mm."""
    pen.move("end_1", 11.2, -1.4)
    _discharge(pen, "22", [], 0.0, 0)


@wrong("S8", "discharge/undersized")
def s8_still_22(pen: Pen) -> None:
    """The tundish right, the pipe as long and as thin as before."""
    _discharge(pen, "22", [(11.2, 0.65), (14.9, 0.65)], 3.0, 2)


@wrong("S8", "discharge/rises")
def s8_over_the_joist(pen: Pen) -> None:
    """28 mm, but over the joist."""
    _discharge(pen, "28", [(11.2, 0.65), (13.6, 0.65), (13.6, 0.7), (14.9, 0.7)], 0.0, 0)


@wrong("S8", "discharge/no-tundish")
def s8_no_tundish(pen: Pen) -> None:
    """Left out to keep it tidy."""
    pen.cut("d1", "d2", "tundish_1")
    way = [(11.2, 1.5), (11.2, 0.65), (14.9, 0.65)]
    pen.pipe(pen["tp"]["outlet"], pen["end_1"]["in"], "28", via=way, graded="a", id="d1")


# -- S9 ---------------------------------------------------------------------------------------------------------------


def _vent_right(pen: Pen) -> None:
    """The valve off the riser; the store vented again."""
    pen.cut("V3")


@right("S9")
def s9_all_by_gravity(pen: Pen) -> None:
    """Pump out, leak of 1.3 kW without valves, valve off the riser."""
    _vent_right(pen)
    pen.cut("P5", "TS1", "V1", "V2")
    pen.set("leak", output_w=1300.0)


@right("S9")
def s9_pumped_store_large_leak(pen: Pen) -> None:
    """The store left on its pump; leaks of 8 kW without valves upstairs."""
    _vent_right(pen)
    pen.cut("V1", "V2")
    pen.set("leak", output_w=4500.0)
    out = pen.tee("riser", (1.7, 3.3), "T5", towards="right")
    home = pen.tee("return_2", (2.95, 0.2), "T6", towards="up")
    rad = pen.add("radiator", "R9", x_m=7.0, height_m=3.0, output_w=4000.0, name="Landing radiator")
    pen.pipe(out["branch"], rad["flow"], "28", via=[(5.9, 3.3), (5.9, 3.552)])
    pen.pipe(rad["return"], home["branch"], "28", via=[(2.95, 3.048)])
    pen.lay("stove_flow", "return_1", size="35")


@wrong("S9", "gravity-loop/spring-check")
def s9_spring_check_round_the_pump(pen: Pen) -> None:
    """A spring check beside the pump; the leak as it was."""
    _vent_right(pen)
    _beside(pen, "check_valve")


@wrong("S9", "gravity-loop/flap-only-way")
def s9_flap_round_the_pump(pen: Pen) -> None:
    """A flap beside the pump; the leak as it was."""
    _vent_right(pen)
    _beside(pen, "flap_valve")


def _beside(pen: Pen, kind: str) -> None:
    pen.move("P5", 3.9, 0.2)
    right_pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"P5", "store"})
    one = pen.tee(right_pipe, (4.3, 0.2), "B1", towards="down")
    left_pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"P5", "R"})
    two = pen.tee(left_pipe, (3.5, 0.2), "B2", towards="down")
    check = pen.add(kind, "C5", x_m=3.9, height_m=-0.2, turn=2)
    pen.pipe(one["branch"], check["a"], "28", via=[(4.3, -0.2)])
    pen.pipe(check["b"], two["branch"], "28", via=[(3.5, -0.2)])


@wrong("S9", "solid-fuel/heat-leak-can-be-shut")
def s9_only_the_vent(pen: Pen) -> None:
    """The vent put right, all else left."""
    _vent_right(pen)
