"""Answers to the course "up is up"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen
from starts_up import PAIR

# -- U1 ---------------------------------------------------------------------------------------------------------------


@right("U1")
def u1_upstairs(pen: Pen) -> None:
    """In the bedroom, flow from the top of the riser."""
    pen.move("leak", 0.7, 3.0)
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[])
    pen.pipe(pen["leak"]["return"], pen.uncap("R", "up"), "28", via=[(3.2, 3.048)], graded="a")


@right("U1")
def u1_high_on_the_wall(pen: Pen) -> None:
    """On the ground floor, its middle 1 m above the fire's; the flow falls all the way to it from the vented top."""
    pen.move("leak", -0.6, 1.2)
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[(0.3, 3.552), (0.3, 1.752)], graded="a")
    pen.pipe(pen["leak"]["return"], pen.uncap("R", "up"), "28", via=[(3.2, 1.248)], graded="a")


@wrong("U1", "Circulating height is -0.05 m")
def u1_beside_the_stove(pen: Pen) -> None:
    """Where it stood: its middle is 0.05 m below the fire's."""
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[(0.3, 3.552), (0.3, 0.702)], graded="a")
    home = pen.tee("return_1", (2.2, 0.2), "R2", towards="down")
    pen.pipe(pen["leak"]["return"], home["branch"], "28", via=[(0.3, 0.198), (0.3, -0.2), (2.2, -0.2)])


@wrong("U1", "gravity-loop/dips")
def u1_flow_by_the_skirting(pen: Pen) -> None:
    """Upstairs, but the flow drops to the skirting and climbs again."""
    pen.move("leak", -0.6, 3.0)
    down = [(1.3, 3.552), (1.3, 2.75), (0.3, 2.75), (0.3, 3.552)]
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=down)
    pen.pipe(pen["leak"]["return"], pen.uncap("R", "up"), "28", via=[(3.2, 3.048)], graded="a")


# -- U2 ---------------------------------------------------------------------------------------------------------------


@right("U2")
def u2_tapping_raised(pen: Pen) -> None:
    """The flow at the top flank of the store."""
    pen.tap("store", "stove flow", 1.62)
    pen.move("T", 1.7, 1.72)
    pen.lay("store_flow", points=(), graded="b")


@right("U2")
def u2_wider_pair(pen: Pen) -> None:
    """35 mm from stove to store and back."""
    pen.lay(*PAIR, size="35")
    pen.tap("store", "stove flow", size="35")
    pen.tap("store", "stove return", size="35")


@right("U2")
def u2_shorter_and_higher(pen: Pen) -> None:
    """The detour taken out, the tapping a little higher."""
    pen.lay("store_flow", "return_3", extra_length_m=1.0, extra_bends=1)
    pen.tap("store", "stove flow", 1.5)
    pen.lay("store_flow", points=((2.1, 1.0), (2.1, 1.6)), graded="b")


@right("U2")
def u2_a_plinth(pen: Pen) -> None:
    """The store half a metre up."""
    pen.move("store", 5.0, 0.6)


@wrong("U2", "Water that the source can charge")
def u2_return_raised(pen: Pen) -> None:
    """The return half a metre up."""
    pen.tap("store", "stove return", 0.5)


@wrong("U2", "gravity-loop/small-bore")
def u2_thinner_pair(pen: Pen) -> None:
    """22 mm "so that it flows faster"."""
    pen.lay(*PAIR, size="22")


# -- U3 ---------------------------------------------------------------------------------------------------------------


@right("U3")
def u3_straight_under_the_beam(pen: Pen) -> None:
    """Tee and tapping both lowered to 1.50 m."""
    pen.move("T", 1.7, 1.5)
    pen.tap("store", "stove flow", 1.4)
    pen.lay("store_flow", points=(), graded="b")


@right("U3")
def u3_over_the_beam_from_a_higher_tee(pen: Pen) -> None:
    """The tee raised: the riser's vent lets the air out of the level run."""
    pen.move("T", 1.7, 1.95)
    pen.lay("store_flow", points=((4.2, 1.95), (4.2, 1.72)), graded="a")


@right("U3")
def u3_over_the_beam_with_its_own_vent(pen: Pen) -> None:
    """Over the beam, with an open vent of its own on the high point."""
    pen.lay("store_flow", points=((2.1, 1.72), (2.1, 1.95), (2.9, 1.95), (2.9, 1.72)))
    top = pen.tee("store_flow", (2.45, 1.95), "H", towards="up")
    way = [(2.45, 3.0), (2.05, 3.0), (2.05, 6.3), (2.525, 6.3)]
    pen.pipe(top["branch"], pen["cistern"]["vent_3"], "22", via=way, graded="b")


@wrong("U3", "gravity-loop/dips")
def u3_hump_without_a_vent(pen: Pen) -> None:
    """Up over the beam and down again."""
    pen.lay("store_flow", points=((2.1, 1.72), (2.1, 1.95), (2.9, 1.95), (2.9, 1.72)))


@wrong("U3", "gravity-loop/dips")
def u3_a_shallower_dip(pen: Pen) -> None:
    """Tee and tapping lower, but not low enough."""
    pen.move("T", 1.7, 1.62)
    pen.tap("store", "stove flow", 1.52)
    pen.lay("store_flow", points=((2.1, 1.62), (2.1, 1.52), (2.9, 1.52), (2.9, 1.62)))


@wrong("U3", "beam")
def u3_through_the_beam(pen: Pen) -> None:
    """A hole in the beam."""
    pen.lay("store_flow", points=(), graded="b")


# -- U4 ---------------------------------------------------------------------------------------------------------------


@right("U4")
def u4_round_the_room(pen: Pen) -> None:
    """At the skirting, 4 m longer than drawn."""
    pen.lay("return_3", points=(), graded="a", extra_length_m=4.0, extra_bends=4)


@right("U4")
def u4_under_the_threshold(pen: Pen) -> None:
    """In a duct 50 mm under the floor, with a drain cock in it."""
    pen.lay("return_3", points=((4.4, 0.2), (4.4, -0.05), (3.45, -0.05), (3.45, 0.2)), graded="a")
    low = pen.tee("return_3", (3.9, -0.05), "L", towards="down")
    pen.pipe(low["branch"], pen.add("drain_cock", "DC9", x_m=3.9, height_m=-0.4)["a"], "15", via=[])


@right("U4")
def u4_over_the_hatch_with_an_open_vent(pen: Pen) -> None:
    """As it was, with an open vent of its own on the top."""
    top = pen.tee("return_3", (3.9, 1.3), "L", towards="up")
    pen.pipe(top["branch"], pen["cistern"]["vent_3"], "22", via=[(3.9, 6.2), (2.525, 6.2)], graded="b")


@wrong("U4", "gravity-loop/dips")
def u4_same_way_in_35(pen: Pen) -> None:
    """Wider, the same way."""
    pen.lay("return_1", "return_2", "return_3", size="35")


@wrong("U4", "Water that the source can charge")
def u4_return_tapping_at_half_height(pen: Pen) -> None:
    """The tapping moved up to save the climb."""
    pen.tap("store", "stove return", 0.9)
    pen.lay("return_3", points=((3.45, 1.0), (3.45, 0.2)), graded="a")


# -- U5 ---------------------------------------------------------------------------------------------------------------


@right("U5")
def u5_pair_in_28_leak_in_22(pen: Pen) -> None:
    """The radiator's own branch may stay 22."""
    pen.lay(*PAIR, size="28")
    pen.tap("store", "stove flow", size="28")


@right("U5")
def u5_all_in_28(pen: Pen) -> None:
    """One size for everything."""
    pen.lay(*PAIR, "riser", "leak_flow", "leak_return", size="28")
    pen.tap("store", "stove flow", size="28")


@right("U5")
def u5_common_pipes_in_35(pen: Pen) -> None:
    """What carries both loops in 35, the rest in 28."""
    pen.lay("stove_flow", "return_1", "return_2", size="35")
    pen.lay("store_flow", "return_3", "riser", "leak_flow", "leak_return", size="28")
    pen.tap("store", "stove flow", size="28")


@wrong("U5", "gravity-loop/small-bore")
def u5_return_left_thin(pen: Pen) -> None:
    """The flow in 28 alone."""
    pen.lay("stove_flow", "store_flow", size="28")
    pen.tap("store", "stove flow", size="28")


@wrong("U5", "gravity-loop/small-bore")
def u5_tapping_left_thin(pen: Pen) -> None:
    """Pipes in 28, the tapping left."""
    pen.lay(*PAIR, size="28")


@wrong("U5", "wider than 35")
def u5_all_in_42(pen: Pen) -> None:
    """As wide as it comes."""
    pen.lay(*PAIR, size="42")
    pen.tap("store", "stove flow", size="42")


# -- U6 ---------------------------------------------------------------------------------------------------------------


def _store_pair(pen: Pen) -> None:
    """The store side by side with the radiator: tee R in the return."""
    pen.uncap("store", "stove flow")
    pen.uncap("store", "stove return")
    pen.pipe(pen.uncap("T", "right"), pen["store"]["stove flow"], "28", via=[], graded="b")
    r = pen.add("tee", "R", x_m=3.2, height_m=0.2)
    pen.pipe(r["left"], pen.uncap("F", "right"), "28", via=[], graded="a")
    pen.pipe(pen["store"]["stove return"], r["right"], "28", via=[], graded="a")


@right("U6")
def u6_side_by_side(pen: Pen) -> None:
    """Two branches, one tee out, one tee home."""
    _store_pair(pen)
    pen.uncap("leak", "flow")
    pen.uncap("leak", "return")
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[])
    pen.pipe(pen["leak"]["return"], pen.at("R", "up"), "28", via=[(3.2, 3.048)], graded="a")


@right("U6")
def u6_one_after_the_other(pen: Pen) -> None:
    """Stove, radiator, store, stove."""
    for part, name in (("store", "stove flow"), ("store", "stove return"), ("leak", "flow"), ("leak", "return")):
        pen.uncap(part, name)
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[])
    pen.pipe(pen["leak"]["return"], pen["store"]["stove flow"], "28", via=[(3.9, 3.048), (3.9, 1.72)], graded="a")
    pen.pipe(pen["store"]["stove return"], pen.uncap("F", "right"), "28", via=[], graded="a")


@wrong("U6", "tapping/flow-below-return")
def u6_store_the_wrong_way_round(pen: Pen) -> None:
    """Its upper pipe taken home, its lower one to the tee."""
    u6_side_by_side(pen)
    pen.cut(*[p.id for p in pen.sheet.pipes_of("store") if {p.a.part, p.b.part} & {"T", "R"}])
    pen.pipe(pen.at("T", "right"), pen["store"]["stove return"], "28", via=[(3.5, 1.72), (3.5, 0.45), (3.8, 0.2)])
    pen.pipe(
        pen["store"]["stove flow"], pen.at("R", "right"), "28", via=[(4.2, 1.72), (4.2, 0.9), (3.4, 0.9), (3.4, 0.2)]
    )


@wrong("U6", "No loop goes")
def u6_flow_straight_to_return(pen: Pen) -> None:
    """The fire heats itself."""
    pen.pipe(pen.uncap("T", "right"), pen.uncap("F", "right"), "28", via=[(3.5, 1.72), (3.5, 0.2)])


@wrong("U6", "circuit/no-return")
def u6_radiator_without_return(pen: Pen) -> None:
    """Its return forgotten and capped."""
    _store_pair(pen)
    pen.uncap("leak", "flow")
    pen.pipe(pen.uncap("VJ", "left"), pen["leak"]["flow"], "28", via=[])
    pen.cap(pen.at("R", "up"))


# -- U7 ---------------------------------------------------------------------------------------------------------------


def _thermostat(pen: Pen, pump: str) -> None:
    stat = pen.add("pipe_thermostat", "TS1", x_m=1.25, height_m=1.15, name="Pipe thermostat")
    pen.link(stat, pump, does="runs_above", setting_c=55.0)


@right("U7")
def u7_pump_on_the_stores_own_pair(pen: Pen) -> None:
    """A pump beyond both tees, started by a thermostat on the flow."""
    pen.put("return_3", "pump", "P5", (3.9, -0.6))
    _thermostat(pen, "P5")


@right("U7")
def u7_loading_unit_beyond_the_leak(pen: Pen) -> None:
    """A loading unit with flap on the store's pair; the leak stays on the stove's side."""
    pen.cut("store_flow", "return_3")
    unit = pen.add("loading_unit_4_flap", "LU", x_m=4.0, height_m=-1.0, opens_c=60.0, starts_itself=True)
    pen.pipe(pen.at("T", "right"), unit["boiler_flow"], "28", via=[(3.6, 1.72)])
    pen.pipe(unit["store_flow"], pen["store"]["stove flow"], "28", via=[])
    pen.pipe(pen["store"]["stove return"], unit["store_return"], "28", via=[])
    pen.pipe(unit["boiler_return"], pen.at("R", "right"), "28", via=[])
    _thermostat(pen, "LU")


@wrong("U7", "gravity-loop/sink-too-low")
def u7_pump_thermostat_only(pen: Pen) -> None:
    """Left to gravity, the pipes made wider."""
    pen.lay(*PAIR, size="35")


@wrong("U7", "solid-fuel/heat-leak-needs-power")
def u7_pump_in_the_common_return(pen: Pen) -> None:
    """One pump for both sinks."""
    pen.put("return_2", "pump", "P5", (2.95, 0.2))
    _thermostat(pen, "P5")
