"""Rules of sealed water: a violating and a sound sheet each.

That nothing may shut between a source and its relief valve or vessel: boiler manuals and EN 12828, as the rules' pages
name them. Which device a filling pipe needs: Water Fittings Regulations 1999 and the suppliers' listing named there.
"""

from __future__ import annotations

import msgspec
import pytest
from vented import CATALOGUE, between, findings, only, sealed_sheet, sound, stove_sheet

from loopwright.catalogue import Catalogue
from loopwright.rules.findings import Missing, Severity
from loopwright.rules.registry import Case, all_rules
from loopwright.waterways import Waterways

S = "sealed/"


@pytest.mark.parametrize("slug", ["no-relief", "relief-can-close", "no-vessel", "vessel-can-close"])
def test_a_sound_boiler_passes(slug):
    assert sound(sealed_sheet().done(), S + slug)


# -- joined to vented water


def with_vessel(kind: str, source: str):
    s = stove_sheet(kind=kind, source=source)
    joint = s.tee("return", (3.2, 0.2), "ET", towards="up")
    s.pipe(joint["branch"], s.add("expansion_vessel", "EV", x_m=3.2, height_m=0.8)["a"], "15", via=[(3.2, 0.6)])
    return s.done()


def test_a_vessel_on_a_stoves_vented_water_is_a_danger():
    found = only(with_vessel("boiler_stove", "stove"), S + "vented-and-sealed-joined")
    assert found.severity is Severity.DANGER and found.culprits == ("EV",)


def test_a_vessel_on_a_boilers_vented_water_is_a_fault():
    assert only(with_vessel("boiler_oil", "boiler"), S + "vented-and-sealed-joined").severity is Severity.FAULT


def test_a_relief_valve_alone_does_not_join_them():
    s = stove_sheet()
    joint = s.tee("return", (3.2, 0.2), "ST", towards="up")
    s.pipe(joint["branch"], s.add("relief_valve", "SV", x_m=3.2, height_m=0.7)["inlet"], "15")
    assert sound(s.done(), S + "vented-and-sealed-joined")


# -- relief


def test_no_relief_valve_is_a_danger():
    found = only(sealed_sheet(relief=False).done(), S + "no-relief")
    assert found.severity is Severity.DANGER and found.subject == "boiler"


def test_a_relief_valve_inside_the_boiler_counts_and_is_asked_for():
    assert sound(sealed_sheet(relief=False, relief_built_in=True).done(), S + "no-relief")
    assert only(sealed_sheet(relief=False, relief_built_in=False).done(), S + "no-relief")


@pytest.mark.parametrize(
    "slug, drawn, prop",
    [("no-relief", {"relief": False}, "relief_built_in"), ("no-vessel", {"vessel": False}, "vessel_built_in")],
)
def test_what_a_kind_leaves_open_is_asked_for(slug, drawn, prop):
    sheet = sealed_sheet(**drawn).done()
    open_kind = CATALOGUE["boiler_oil"]
    props = tuple(msgspec.structs.replace(p, default=None) if p.name == prop else p for p in open_kind.props)
    kinds = Catalogue(msgspec.structs.replace(k, props=props) if k is open_kind else k for k in CATALOGUE)
    said = list(all_rules()[S + slug].check(Case(Waterways(sheet, kinds))))
    assert [type(a) for a in said] == [Missing] and said[0].prop == prop


def test_a_valve_before_the_relief_valve_is_a_danger():
    s = sealed_sheet()
    s.insert(between(s.sheet, "boiler", "RT"), "isolating_valve", "V1", at=(2.0, 1.0))
    s.insert(between(s.sheet, "boiler", "ET"), "pump", "P1", at=(1.8, 0.2))
    found = only(s.done(), S + "relief-can-close")
    assert found.severity is Severity.DANGER and found.culprits == ("V1",)


def test_a_valve_beyond_the_relief_valve_is_sound():
    s = sealed_sheet()
    s.insert(between(s.sheet, "RT", "store"), "isolating_valve", "V1", at=(2.8, 1.4))
    assert sound(s.done(), S + "relief-can-close")


def collector(relief_side: str):
    """A collector trapped between a check and a motorised valve, the relief valve on either side of the check."""
    s = sealed_sheet(kind="solar_collector", source="sun", relief=False)
    s.insert(between(s.sheet, "sun", "store"), "motorised_2port", "M1", at=(2.8, 1.4))
    s.insert(between(s.sheet, "sun", "ET"), "check_valve", "C1", at=(1.8, 0.2))
    at = {"collector": (0.6, "sun"), "vessel": (3.0, "ET")}[relief_side]
    piece = between(s.sheet, "sun", "C1") if relief_side == "collector" else between(s.sheet, "ET", "store")
    joint = s.tee(piece, (at[0], 0.2), "ST", towards="down")
    s.pipe(joint["branch"], s.add("relief_valve", "SV", x_m=joint.part.x_m + 0.5, height_m=-0.4)["inlet"], "15")
    return s.done()


def test_a_trapped_collector_is_a_danger():
    found = only(collector("vessel"), S + "relief-can-close")
    assert found.severity is Severity.DANGER and set(found.culprits) == {"M1", "C1"}
    assert sound(collector("collector"), S + "relief-can-close")


# -- vessel


def test_no_vessel_is_a_fault():
    assert only(sealed_sheet(vessel=False).done(), S + "no-vessel").severity is Severity.FAULT
    assert sound(sealed_sheet(vessel=False, vessel_built_in=True).done(), S + "no-vessel")


def test_a_lever_valve_under_the_vessel():
    s = sealed_sheet()
    s.insert("vessel", "isolating_valve", "V1", at=(2.4, 0.7))
    found = only(s.done(), S + "vessel-can-close")
    assert found.severity is Severity.FAULT and found.culprits == ("V1",)


def test_a_capped_valve_under_the_vessel():
    s = sealed_sheet()
    s.insert("vessel", "isolating_valve", "V1", at=(2.4, 0.7), locked_open=True)
    assert sound(s.done(), S + "vessel-can-close")


def test_swelling_water_passes_a_standing_pump_and_a_check_along_its_arrow():
    s = sealed_sheet()
    s.insert(between(s.sheet, "boiler", "RT"), "check_valve", "C1", at=(2.0, 1.0))
    s.insert(between(s.sheet, "boiler", "ET"), "pump", "P1", at=(1.8, 0.2))
    assert sound(s.done(), S + "vessel-can-close")


# -- filling


def filled(kind: str, *, source_kind: str = "boiler_oil", **props: object):
    s = sealed_sheet(kind=source_kind)
    main = s.add("mains_supply", "mains", x_m=2.4, height_m=-0.8)
    device = s.add(kind, "F", x_m=3.2, height_m=-0.8, **props)
    s.pipe(main, device["a"], "15")
    joint = s.tee(between(s.sheet, "ET", "store"), (3.2, 0.2), "MT", towards="down")
    s.pipe(device["b"], joint["branch"], "15", id="fill")
    return s.done()


def test_a_filling_loop_with_a_double_check_is_sound():
    assert sound(filled("filling_loop"), S + "filling-unprotected")
    assert sound(filled("disconnector"), S + "filling-unprotected")


def test_filling_with_less_than_the_device_is_a_fault():
    for sheet in (filled("filling_loop", device="none"), filled("filling_loop", permanent=True)):
        found = only(sheet, S + "filling-unprotected")
        assert found.severity is Severity.FAULT and found.culprits == ("F",)


def test_a_fixed_pipe_with_a_check_is_a_fault():
    for kind in ("check_valve", "double_check_valve"):
        found = only(filled(kind), S + "filling-unprotected")
        assert found.severity is Severity.FAULT and found.culprits == ("F",)


def test_solar_fluid_filled_from_the_main_is_a_danger():
    found = only(filled("filling_loop", source_kind="solar_collector"), S + "filling-unprotected")
    assert found.severity is Severity.DANGER
    away = filled("filling_loop", source_kind="solar_collector", hose_fitted=False)
    assert not findings(away, S + "filling-unprotected")
