"""Answers to the course "the store"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

# -- T1 ---------------------------------------------------------------------------------------------------------------


@right("T1")
def t1_pipes_exchanged(pen: Pen) -> None:
    """Flow to the high stub, return to the low one."""
    pen.swap_ends("boiler_flow", "boiler_return_1", "store")


@right("T1")
def t1_stubs_dragged(pen: Pen) -> None:
    """Flow to 0.85, return to 0.45 of the store's height."""
    pen.tap("store", "high", 0.81)
    pen.tap("store", "low", 1.53)


@right("T1")
def t1_flow_at_the_very_top(pen: Pen) -> None:
    """Flow at 0.9, return near the floor: no sun here."""
    pen.tap("store", "high", 0.13)
    pen.tap("store", "low", 1.60)


@wrong("T1", "tapping/flow-below-return")
def t1_both_at_half_height(pen: Pen) -> None:
    """Side by side."""
    pen.tap("store", "high", 0.93)
    pen.tap("store", "low", 0.88)


@wrong("T1", "tapping/flow-below-return")
def t1_purposes_renamed(pen: Pen) -> None:
    """New names on the same stubs."""
    pen.tap("store", "high", purpose="source_flow")
    pen.tap("store", "low", purpose="source_return")


# -- T2 ---------------------------------------------------------------------------------------------------------------


def _loads(pen: Pen, rad_flow: float, rad_return: float, floor_flow: float, floor_return: float) -> None:
    pen.taps(
        "store", radiator_flow=rad_flow, radiator_return=rad_return, floor_flow=floor_flow, floor_return=floor_return
    )


@right("T2")
def t2_as_the_handbook(pen: Pen) -> None:
    """Radiators 0.75 and 0.30, floor 0.55 and 0.10."""
    _loads(pen, 1.35, 0.54, 0.99, 0.18)


@right("T2")
def t2_wider_apart(pen: Pen) -> None:
    """Radiators 0.80 and 0.25, floor 0.50 and 0.07."""
    _loads(pen, 1.44, 0.45, 0.92, 0.12)


@wrong("T2", "tapping/return-mixes-hot")
def t2_floor_returns_high(pen: Pen) -> None:
    """The floor's return over the radiators' supply."""
    _loads(pen, 1.35, 0.54, 0.99, 1.44)


@wrong("T2", "tapping/load-draws-cold")
def t2_radiators_under_the_boilers_return(pen: Pen) -> None:
    """Their supply at 0.40, the boiler's return at 0.45."""
    _loads(pen, 0.70, 0.45, 0.62, 0.18)


# -- T3 ---------------------------------------------------------------------------------------------------------------


def _sources(pen: Pen, stove_flow: float, stove_return: float, hp_flow: float, hp_return: float) -> None:
    pen.taps("store", stove_flow=stove_flow, stove_return=stove_return, hp_flow=hp_flow, hp_return=hp_return)


@right("T3")
def t3_heat_pump_at_half_height(pen: Pen) -> None:
    """Stove 0.90 and 0.05, heat pump 0.50 and 0.10."""
    _sources(pen, 1.62, 0.10, 0.90, 0.18)


@right("T3")
def t3_heat_pump_in_the_middle(pen: Pen) -> None:
    """Stove 0.85 and 0.05, heat pump 0.60 and 0.25."""
    _sources(pen, 1.53, 0.10, 1.08, 0.45)


@wrong("T3", "tapping/hotter-below-cooler")
def t3_heat_pump_above_the_stove(pen: Pen) -> None:
    """Heat pump at 0.95, stove at 0.90."""
    _sources(pen, 1.50, 0.10, 1.71, 0.45)


@wrong("T3", "tapping/flow-below-return")
def t3_heat_pump_upside_down(pen: Pen) -> None:
    """Its flow at 0.50, its return at 0.62."""
    _sources(pen, 1.62, 0.10, 0.90, 1.12)


# -- T4 ---------------------------------------------------------------------------------------------------------------


@right("T4")
def t4_coils_exchanged(pen: Pen) -> None:
    """Solar below, boiler above, sensors moved along."""
    pen.coil("store", "boiler", 0.90, 1.53)
    pen.coil("store", "solar", 0.054, 0.63)
    pen.tap("store", "solar sensor", 0.30)
    pen.tap("store", "boiler sensor", 1.20)


@right("T4")
def t4_short_solar_coil(pen: Pen) -> None:
    """Solar to 0.30, boiler from 0.45."""
    pen.coil("store", "boiler", 0.82, 1.50)
    pen.coil("store", "solar", 0.04, 0.54)
    pen.tap("store", "solar sensor", 0.20)
    pen.tap("store", "boiler sensor", 1.00)


@wrong("T4", "tapping/steals-from-solar")
def t4_coils_overlap(pen: Pen) -> None:
    """The boiler's coil reaches down into the sun's."""
    pen.taps("store", solar_sensor=0.25, boiler_sensor=1.20)
    pen.coil("store", "boiler", 0.45, 1.53)
    pen.coil("store", "solar", 0.09, 0.63)


@wrong("T4", "tapping/sensor-in-wrong-zone")
def t4_sensor_forgotten(pen: Pen) -> None:
    """Coils exchanged, the sun's sensor left in the hot top."""
    t4_coils_exchanged(pen)
    pen.tap("store", "solar sensor", 1.26)


# -- T5 ---------------------------------------------------------------------------------------------------------------


@right("T5")
def t5_tails_exchanged_at_the_store(pen: Pen) -> None:
    """All four tails exchanged at the store."""
    pen.swap_ends("hot_1", "cold_4", "store")
    pen.swap_ends("solar_flow_2", "solar_return_1", "store")


@right("T5")
def t5_exchanged_at_the_far_ends(pen: Pen) -> None:
    """The tails left, the pipes exchanged where they come from."""
    pen.swap_ends("hot_1", "cold_4", "TM1", "CT2")
    pen.swap_ends("solar_flow_2", "solar_return_1", "AVT", "DCT2")


@wrong("T5", "tapping/coil-upside-down")
def t5_only_the_mains_coil(pen: Pen) -> None:
    """The solar coil left."""
    pen.swap_ends("hot_1", "cold_4", "store")


@wrong("T5", "order/mixing-valve-inlets")
def t5_exchanged_at_the_mixing_valve(pen: Pen) -> None:
    """Solar put right; for the taps the pipes exchanged at the mixing valve instead."""
    pen.swap_ends("solar_flow_2", "solar_return_1", "store")
    pen.swap_ends("hot_1", "cold_4", "store")
    pen.swap_ends("hot_1", "cold_6", "TM1")


# -- T6 ---------------------------------------------------------------------------------------------------------------


def _sensors(pen: Pen, boiler: float, solar: float, radiators: float) -> None:
    pen.taps("store", boiler_sensor=boiler, solar_sensor=solar, radiator_sensor=radiators)


@right("T6")
def t6_each_in_its_span(pen: Pen) -> None:
    """0.70, 0.15 and 0.75 of the height."""
    _sensors(pen, 1.26, 0.27, 1.40)


@right("T6")
def t6_lower_and_higher(pen: Pen) -> None:
    """0.60, 0.25 and 0.80 of the height."""
    _sensors(pen, 1.08, 0.45, 1.44)


@wrong("T6", "tapping/sensor-in-wrong-zone")
def t6_boiler_sensor_above_its_flow(pen: Pen) -> None:
    """At 0.95, over the boiler's flow at 0.85."""
    _sensors(pen, 1.75, 0.27, 1.40)


@wrong("T6", "tapping/sensor-in-wrong-zone")
def t6_solar_sensor_above_its_coil(pen: Pen) -> None:
    """At 0.42, over the coil's top at 0.35."""
    _sensors(pen, 1.26, 0.75, 1.40)


# -- T7 ---------------------------------------------------------------------------------------------------------------


def _table(pen: Pen, **heights: float) -> None:
    pen.taps("store", **heights)


@right("T7")
def t7_the_barns_own_table(pen: Pen) -> None:
    """Solar lowest, stove from bottom to top, boiler above, floor below the radiators."""
    pen.coil("store", "boiler", 0.90, 1.53)
    pen.coil("store", "solar", 0.054, 0.63)
    _table(
        pen, stove_flow=1.62, stove_return=0.10, radiator_flow=1.35, radiator_return=0.54, floor_flow=0.99,
        floor_return=0.18, solar_sensor=0.30, boiler_sensor=1.20,
    )  # fmt: skip


@right("T7")
def t7_another_table(pen: Pen) -> None:
    """The boiler a little lower, the floor lower still."""
    pen.coil("store", "boiler", 0.81, 1.44)
    pen.coil("store", "solar", 0.04, 0.54)
    _table(
        pen, stove_flow=1.71, stove_return=0.10, radiator_flow=1.50, radiator_return=0.63, floor_flow=0.92,
        floor_return=0.12, solar_sensor=0.25, boiler_sensor=1.10, radiator_sensor=1.55,
    )  # fmt: skip


@wrong("T7", "tapping/vent-not-top")
def t7_vent_on_the_flank(pen: Pen) -> None:
    """The vent at 0.80, the coil's top at 0.97."""
    t7_the_barns_own_table(pen)
    pen.coil("store", "hot water", 0.36, 1.75)
    pen.tap("store", "vent", 1.45, side="left")


@wrong("T7", "gravity-loop/sink-too-low")
def t7_stove_low(pen: Pen) -> None:
    """The stove's flow at 0.30 "to heat it all"."""
    t7_the_barns_own_table(pen)
    pen.tap("store", "stove flow", 0.70)
    pen.lay("store_flow", points=((4.0, 1.72), (4.0, 0.8)), graded="a")
