"""Answers to the design briefs: whole systems of different families, and such with one thing wrong."""

from __future__ import annotations

import bases
import others
import systems_brief
from answers import right, wrong
from pen import Pen

# -- D1 ---------------------------------------------------------------------------------------------------------------


@right("D1")
def d1_all_by_gravity(pen: Pen) -> None:
    """No pump at all."""
    pen.sheet = others.stove_by_gravity().b.done()


@right("D1")
def d1_radiators_pumped_off_the_store(pen: Pen) -> None:
    """Store and leak by gravity, radiators by a pump."""
    pen.sheet = systems_brief.stove_with_pumped_radiators()


@wrong("D1", "gravity-loop/isolating-valve")
def d1_a_valve_on_the_leak(pen: Pen) -> None:
    """A hand valve on the only heat leak."""
    d1_all_by_gravity(pen)
    pen.put("leak_flow", "isolating_valve", "V1", (1.65, 3.452))


@wrong("D1", "domestic/scald-risk")
def d1_no_mixing_valve(pen: Pen) -> None:
    """The mixing valve left out."""
    import mistakes

    pen.sheet = mistakes.no_mixing_valve(systems_brief.stove_with_pumped_radiators())


@wrong("D1", "volume is to be at least 300 l")
def d1_a_small_store(pen: Pen) -> None:
    """200 l."""
    d1_all_by_gravity(pen)
    pen.set("store", volume_l=200.0)


# -- D2 ---------------------------------------------------------------------------------------------------------------


@right("D2")
def d2_oil_by_a_coil(pen: Pen) -> None:
    """The oil boiler sealed, on a coil."""
    pen.sheet = bases.three_sources().b.done()


@right("D2")
def d2_oil_vented(pen: Pen) -> None:
    """The oil boiler vented, straight on the store."""
    pen.sheet = systems_brief.three_sources_direct()


@wrong("D2", "solid-fuel/heat-leak-needs-power")
def d2_a_pump_in_the_stoves_return(pen: Pen) -> None:
    """One pump for all the fire's water."""
    import mistakes

    pen.sheet = mistakes.pump_in_stove_return(bases.three_sources().b.done())


@wrong("D2", "Cold water left to the sun")
def d2_boiler_too_low(pen: Pen) -> None:
    """The boiler's coil from 0.40 m up."""
    d2_oil_by_a_coil(pen)
    pen.coil("store", "boiler", 0.42, 1.53)


@wrong("D2", "underfloor/no-high-limit")
def d2_floor_without_limit(pen: Pen) -> None:
    """Nothing stops the floor."""
    d2_oil_vented(pen)
    pen.set("floor", high_limit_built_in=False)


# -- D3 ---------------------------------------------------------------------------------------------------------------


@right("D3")
def d3_sealed_with_five_safeguards(pen: Pen) -> None:
    """No loft: sealed, with a cooling coil on the main."""
    pen.sheet = systems_brief.sealed_logs_and_floor()


@right("D3")
def d3_a_cistern_on_the_gable(pen: Pen) -> None:
    """Vented, with a heat leak of 6 kW."""
    pen.sheet = systems_brief.vented_logs_and_floor()


@wrong("D3", "solid-fuel/sealed-water")
def d3_no_cooling_coil(pen: Pen) -> None:
    """Sealed, the cooling water's valve taken away."""
    d3_sealed_with_five_safeguards(pen)
    pen.cut("TD1")


@wrong("D3", "underfloor/no-high-limit")
def d3_floor_without_limit(pen: Pen) -> None:
    """Nothing stops the floor."""
    d3_a_cistern_on_the_gable(pen)
    pen.set("floor", high_limit_built_in=False)


@wrong("D3", "solid-fuel/vent-can-close")
def d3_a_valve_before_the_vent(pen: Pen) -> None:
    """A service valve on the boiler's flow."""
    d3_a_cistern_on_the_gable(pen)
    pen.put("stove_flow", "isolating_valve", "V9", (1.7, 1.4))


# -- D4 ---------------------------------------------------------------------------------------------------------------


@right("D4")
def d4_stove_for_the_taps(pen: Pen) -> None:
    """The old system left alone."""
    pen.sheet = systems_brief.stove_for_the_taps(pen.sheet)


@right("D4")
def d4_plate_to_the_radiators(pen: Pen) -> None:
    """A plate exchanger between the store and the old radiators."""
    pen.sheet = systems_brief.stove_by_plate(pen.sheet)


@wrong("D4", "share one water")
def d4_joined(pen: Pen) -> None:
    """The store teed straight into the old flow and return."""
    pen.sheet = systems_brief.stove_for_the_taps(pen.sheet)
    flow = pen.tee("old_flow", (10.6, 1.3), "JF", towards="left")
    back = pen.tee("new_return_3", (4.2, 0.2), "JB", towards="down")
    pen.pipe(flow["branch"], back["branch"], "22")


@wrong("D4", "solid-fuel/store-is-only-leak")
def d4_no_heat_leak(pen: Pen) -> None:
    """A stove and a store, and no radiator for the power cut."""
    d4_stove_for_the_taps(pen)
    pen.cut("leak")
    pen.cap(pen.at("VJ", "left"))
    pen.cap(pen.at("R", "up"))
