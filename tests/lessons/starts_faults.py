"""Sheets with five hidden faults each, drawn from sound ones by single mistakes."""

from __future__ import annotations

from collections.abc import Callable

import bases
import mistakes
from pen import Pen
from starts import starts

import systems
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet

Edit = Callable[[Sheet], Sheet]


def barn(title: str, *made: Edit) -> Sheet:
    """Base B with some mistakes."""
    sheet = bases.three_sources(title).b.done()
    for edit in made:
        sheet = edit(sheet)
    return sheet


@starts("F1")
def f1() -> Sheet:
    """Orchard wing."""
    return barn(
        "Orchard wing", mistakes.dip_in_stove_flow, mistakes.radiators_drawn_from_below, mistakes.low_vent,
        mistakes.no_mixing_valve, mistakes.no_boiler_vessel,
    )  # fmt: skip


@starts("F2")
def f2() -> Sheet:
    """Long barn."""
    return barn(
        "Long barn", mistakes.valve_on_heat_leak, mistakes.coil_upside_down, mistakes.filled_through_a_check,
        mistakes.no_bypass, mistakes.small_cistern,
    )  # fmt: skip


def _valve_on_vent(sheet: Sheet) -> Sheet:
    return mistakes.put(sheet, "stove_vent", "isolating_valve", "V3", (1.7, 4.6))


@starts("F3")
def f3() -> Sheet:
    """Weaver's house."""
    return barn(
        "Weaver's house", mistakes.coils_exchanged, mistakes.valve_before_relief, mistakes.mixing_valve_crossed,
        _valve_on_vent, mistakes.small_heat_leak,
    )  # fmt: skip


@starts("F4")
def f4() -> Sheet:
    """Kiln Lane barn, second fix."""
    return barn(
        "Kiln Lane barn, second fix", mistakes.pump_in_stove_return, mistakes.vent_over_drinking_water,
        mistakes.no_potable_vessel, mistakes.solar_check_missing, mistakes.small_cistern,
    )  # fmt: skip


def _bypassed(sheet: Sheet) -> Sheet:
    pen = Pen(sheet)
    before = pen.tee("hot_1", (5.7, 2.0), "HB1", towards="left")
    after = pen.tee("hot_3", (6.64, 2.6), "HB2", towards="left")
    pen.pipe(before["branch"], after["branch"], "15", via=[(5.4, 2.0), (5.4, 2.6)], id="hot_short")
    return pen.done()


def _blind_sensor(sheet: Sheet) -> Sheet:
    pen = Pen(sheet)
    pen.taps("store", boiler_sensor=0.24)
    return pen.done()


@starts("F5")
def f5() -> Sheet:
    """Top farm annexe."""
    return barn(
        "Top farm annexe", mistakes.thin_stove_pair, mistakes.plastic_heat_leak, mistakes.dip_in_vent, _bypassed,
        _blind_sensor,
    )  # fmt: skip


@starts("F6")
def f6() -> Sheet:
    """Old Net Loft."""
    house = bases.log_boiler_and_store(
        "Old Net Loft", extra=("radiator flow", "radiator return", "floor flow", "floor return")
    )
    house.z["boiler return"] = 1.0  # the bypass stands clear of it
    systems.radiators(house, house.b["store"])
    systems._floor(house, house.b["store"])
    pen = Pen(house.b.done())
    pen.swap_ends("unit_V3_b", "unit_V4_a", "LU")
    pen.put("stove_flow", "isolating_valve", "V5", (1.7, 1.4))
    pen.set("cistern", hot_rated=False)
    pen.set("floor", high_limit_built_in=False)
    pen.turn("P1")
    pen.sheet = edits.set_title(pen.sheet, "Old Net Loft, five faults")
    return pen.done()
