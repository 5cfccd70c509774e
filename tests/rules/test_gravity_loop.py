"""What stands in a gravity loop, its shape, height and bore: one wrong and one sound sheet a rule.

Continuous rise and 28 mm are stove manuals' requirements, one in 120 an old plumbing handbook's; that buoyancy opens
no spring is arithmetic (about 110 Pa a metre against springs of 1 kPa and more). The rest is common practice,
no source.
"""

from __future__ import annotations

import pytest
from fire_sheets import ON_LEAK, ON_RETURN, ON_STORE_FLOW, answer, bad, fire
from vented import asked, findings, only, sound

from loopwright import draw
from loopwright.rules.findings import Finding, Missing, Severity
from loopwright.rules.mending.steps import turn_round
from loopwright.sheet import edits

DANGER, FAULT, ADVICE = Severity.DANGER, Severity.FAULT, Severity.ADVICE


def led(pipe: str, *points: tuple[float, float], **sheet: object) -> draw.Drawing:
    """The sheet with one pipe led another way."""
    s = fire(**sheet)
    s.sheet = edits.set_pipe(s.sheet, pipe, points=points, held=(), graded="")
    return s


def severities(s: draw.Drawing, slug: str) -> list[Severity]:
    """Severities of one rule's findings."""
    return [f.severity for f in findings(s.done(), slug)]


# -- what stands in it ------------------------------------------------------------------------------------------------


def test_a_hand_valve_between_fire_and_heat_leak_is_a_danger():
    s = fire()
    s.insert("leak_flow", "isolating_valve", "V", at=ON_LEAK)
    found = only(s.done(), "gravity-loop/isolating-valve")
    assert (found.severity, found.culprits, found.step) == (DANGER, ("V",), "5")
    assert {"stove", "leak", "V", "riser"} <= set(found.path)


def test_a_lock_does_not_lower_the_danger():
    s = fire()
    s.insert("leak_flow", "isolating_valve", "V", at=ON_LEAK, locked_open=True)
    assert severities(s, "gravity-loop/isolating-valve") == [DANGER]


@pytest.mark.parametrize(("locked", "severity"), [(False, FAULT), (True, ADVICE)])
def test_a_hand_valve_to_the_store_is_a_fault_or_advice_once_locked(locked, severity):
    s = fire()
    s.insert("store_flow", "isolating_valve", "V", at=ON_STORE_FLOW, locked_open=locked)
    assert severities(s, "gravity-loop/isolating-valve") == [severity]
    assert bad(s.done()) == ({("gravity-loop/isolating-valve", FAULT)} if not locked else set())


def test_a_hand_valve_on_the_only_return_is_a_danger():
    s = fire()
    s.insert("return_2", "isolating_valve", "V", at=ON_RETURN)
    assert bad(s.done()) == {("gravity-loop/isolating-valve", DANGER)}


def test_valves_round_a_pump_are_sound_while_an_open_radiator_carries_the_heat():
    s = fire()
    pipe = draw.PipeRef(s, "return_3")
    for kind, id, x in (("pump", "P", 4.0), ("isolating_valve", "V1", 3.6), ("isolating_valve", "V2", 4.35)):
        s.insert(pipe, kind, id, at=(x, 0.2))
    assert sound(s.done(), "gravity-loop/isolating-valve")
    assert sound(s.done(), "gravity-loop/pump-in-line")


def test_a_pump_in_the_heat_leak():
    s = fire()
    s.insert("leak_flow", "pump", "P", at=ON_LEAK)
    found = only(s.done(), "gravity-loop/pump-in-line")
    assert (found.severity, found.culprits) == (DANGER, ("P",))
    assert sound(fire().done(), "gravity-loop/pump-in-line")


def test_a_spring_check_on_the_pair_to_the_store_is_a_fault():
    s = fire()
    s.insert("store_flow", "check_valve", "C", at=ON_STORE_FLOW)
    assert bad(s.done()) == {("gravity-loop/spring-check", FAULT)}


def test_a_flap_may_stand_on_the_pair_to_the_store_the_way_the_water_goes():
    s = fire()
    s.insert("store_flow", "flap_valve", "C", at=ON_STORE_FLOW)  # passes from end a, the stove's, to end b
    assert sound(s.done(), "gravity-loop/spring-check")
    s = fire()
    s.sheet = edits.delete(s.sheet, ["return_3"], s.catalogue)
    s.pipe(s["R"]["right"], s["store"]["return"], "28", graded="b", id="return_3")
    s.insert("return_3", "flap_valve", "C", at=(4.0, 0.2))  # passes towards the store, against the loop
    found = only(s.done(), "gravity-loop/spring-check")
    assert (found.severity, found.culprits) == (FAULT, ("C",))
    assert "against" in found.message


def test_a_flap_facing_the_wrong_way_in_the_heat_leak_is_a_danger():
    s = fire()
    s.sheet = edits.delete(s.sheet, ["leak_flow"], s.catalogue)
    s.pipe(s["leak"]["flow"], s["VJ"]["branch"], "28", via=[], id="leak_flow")
    s.insert("leak_flow", "flap_valve", "C", at=ON_LEAK)
    assert only(s.done(), "gravity-loop/spring-check").severity is DANGER
    assert answer(s).slug == "gravity-loop/spring-check"


def test_a_check_that_opens_under_little_pressure_is_no_spring():
    # at about 110 Pa a metre half a metre gives some 50 Pa: a check that opens at 20 Pa lifts, one at 1000 Pa does not
    for opening, severity in ((20.0, []), (1000.0, [FAULT])):
        s = fire()
        s.insert("store_flow", "check_valve", "C", at=ON_STORE_FLOW, opening_pa=opening)
        assert severities(s, "gravity-loop/spring-check") == severity


def test_a_flap_as_the_last_way_out():
    s = fire()
    s.insert("return_2", "flap_valve", "C", at=ON_RETURN)
    found = only(s.done(), "gravity-loop/flap-only-way")
    assert (found.severity, found.culprits) == (FAULT, ("C",))
    s = fire()
    s.insert("return_3", "flap_valve", "C", at=(4.0, 0.2))
    assert sound(s.done(), "gravity-loop/flap-only-way")


def test_a_flap_that_faces_back_is_a_fault_beside_a_valve_that_stands_open_too():
    s = fire()
    s.insert("store_flow", "motorised_2port", "motor", at=ON_STORE_FLOW, rest="open")
    s.insert("return_3", "flap_valve", "flap", at=(4.0, 0.2))
    assert sound(s.done(), "gravity-loop/spring-check")
    s.sheet = turn_round(s.sheet, "flap", s.catalogue)
    assert only(s.done(), "gravity-loop/spring-check").culprits == ("flap",)


# -- its shape --------------------------------------------------------------------------------------------------------


def test_a_dip_in_the_flow_to_the_store_is_a_fault():
    s = led("store_flow", (2.4, 1.72), (2.4, 1.42), (3.4, 1.42), (3.4, 1.72))
    found = only(s.done(), "gravity-loop/dips")
    assert (found.severity, found.measured) == (FAULT, 300)
    assert found.culprits == ("store_flow",)


def test_a_dip_in_the_flow_to_a_heat_leak_relied_on_is_a_danger():
    s = led("riser", (1.7, 2.4), (1.3, 2.4), (1.3, 2.1), (2.1, 2.1), (2.1, 2.9), (1.7, 2.9))
    assert DANGER in severities(s, "gravity-loop/dips")


def test_a_hump_without_a_vent_and_one_that_a_vent_leaves():
    s = led("leak_return", (1.4, 3.048), (1.4, 3.5), (3.2, 3.5))
    assert severities(s, "gravity-loop/dips") == [DANGER]
    assert sound(fire().done(), "gravity-loop/dips")  # the riser's top is a high point that the open vent leaves


def test_a_return_that_falls_below_the_stove_and_rises_into_it_is_advice():
    s = led("return_2", (3.0, 0.2), (3.0, -0.3), (2.8, -0.3), (2.8, 0.2))
    assert set(severities(s, "gravity-loop/dips")) == {ADVICE}


def test_a_return_rising_steadily_from_a_low_tapping_is_sound():
    s = fire(taps=(1.62, 0.02))  # the return leaves the store below the stove's return port
    assert ADVICE not in severities(s, "gravity-loop/dips")
    assert sound(s.done(), "gravity-loop/dips")


# -- how high its sinks stand -----------------------------------------------------------------------------------------


def cellar(leak_w: float | None) -> draw.Drawing:
    """A stove whose gravity pair falls to a store in the cellar; a radiator upstairs if asked for."""
    s = fire(leak_w=leak_w, store=False)
    s.sheet = edits.delete(s.sheet, [p for p in s.sheet.parts if s.sheet.parts[p].kind == "cap"], s.catalogue)
    low = s.store(
        "store",
        x_m=5.0,
        height_m=-2.4,
        name="Store",
        volume_l=500.0,
        body_height_m=1.8,
        body_diameter_m=0.65,
        design_temp_c=60.0,
        tappings={
            "flow": {"height_m": 1.6, "side": "left", "size": "28"},
            "return": {"height_m": 0.1, "side": "left", "size": "28"},
        },
    )
    s.pipe(s["T"]["branch"], low["flow"], "28", via=[])
    s.pipe(low["return"], s["R"]["right"], "28", via=[])
    if leak_w is None:
        s.cap(s["R"]["branch"])
    return s


def test_a_store_below_its_fire():
    found = [f for f in findings(cellar(None).done(), "gravity-loop/sink-too-low") if f.culprits == ("store",)]
    assert [f.severity for f in found] == [DANGER]  # nothing else takes the heat
    found = [f for f in findings(cellar(1300.0).done(), "gravity-loop/sink-too-low") if f.culprits == ("store",)]
    assert [f.severity for f in found] == [FAULT]
    assert found[0].measured is not None and found[0].measured < 0


def test_a_store_beside_its_stove_is_not_too_low():
    assert all(f.severity is ADVICE for f in findings(fire().done(), "gravity-loop/sink-too-low"))


def test_less_than_a_metre_is_advice():
    s = fire(thermal_centre_m=0.75)
    found = findings(s.done(), "gravity-loop/sink-too-low")
    assert [f.severity for f in found] == [ADVICE]
    assert found[0].measured == pytest.approx(0.97)  # tapping 1.72 m, centre 0.75 m
    assert sound(fire(thermal_centre_m=0.5).done(), "gravity-loop/sink-too-low")


def test_one_low_radiator_in_series_with_a_high_store_does_not_fire():
    s = fire(leak_w=None)
    s.sheet = edits.delete(s.sheet, ["return_3"], s.catalogue)
    row = s.add("radiator", "row", x_m=4.0, height_m=-0.6, mirror=True, output_w=300.0)
    s.pipe(s["store"]["return"], row["flow"], "28", via=[])
    s.pipe(row["return"], s["R"]["right"], "28", via=[(3.4, -0.552), (3.4, 0.2)])
    low = [f for f in findings(s.done(), "gravity-loop/sink-too-low") if f.severity > ADVICE]
    assert low == []


# -- its bore and its levels ------------------------------------------------------------------------------------------


def test_a_gravity_pair_in_22_mm_is_a_fault():
    s = fire()
    s.sheet = edits.set_pipe(s.sheet, "store_flow", size="22")
    found = only(s.done(), "gravity-loop/small-bore")
    assert (found.severity, found.culprits, found.measured, found.limit) == (FAULT, ("store_flow",), 22.0, 28.0)
    assert sound(fire().done(), "gravity-loop/small-bore")
    assert sound(fire(size="35").done(), "gravity-loop/small-bore")


def test_the_branch_to_one_radiator_may_be_22_mm_and_never_15():
    for size, severity in (("22", []), ("15", [FAULT])):
        s = fire()
        for pipe in ("leak_flow", "leak_return"):
            s.sheet = edits.set_pipe(s.sheet, pipe, size=size)
        assert severities(s, "gravity-loop/small-bore") == severity


@pytest.mark.parametrize(("size", "severity"), [("25", []), ("20", [FAULT])])
def test_steel_goes_by_its_bore(size, severity):
    # EN 10255 medium: DN 25 has a bore of 27.3 mm, DN 20 of 21.7 mm; 28 mm copper has 26.2 mm
    s = fire()
    s.sheet = edits.set_pipe(s.sheet, "store_flow", material="steel", size=size)
    assert severities(s, "gravity-loop/small-bore") == severity


def test_a_narrow_tapping_is_named():
    s = fire()
    letter = s["store"]["flow"].port
    s.sheet = edits.set_tapping(s.sheet, "store", letter, s.catalogue, size="22")
    found = only(s.done(), "gravity-loop/small-bore")
    assert found.culprits == ("store",)


def test_a_level_run_is_advice_until_it_is_graded():
    s = fire()
    s.sheet = edits.set_pipe(s.sheet, "store_flow", graded="")
    found = findings(s.done(), "gravity-loop/level-run")
    assert [f.severity for f in found] == [ADVICE]
    assert "store_flow" in found[0].culprits
    assert not [f for f in findings(fire().done(), "gravity-loop/level-run") if "store_flow" in f.culprits]


def lagged(mm: float | None, *, far: float = 0.0) -> draw.Drawing:
    """The stove's pair to its store in pipe lagged so thickly, with so many metres more out of the section."""
    s = fire()
    for pipe in ("stove_flow", "store_flow", "return_3", "return_2", "return_1", "return_0"):
        s.sheet = edits.set_pipe(s.sheet, pipe, insulation_mm=mm)
    s.sheet = edits.set_pipe(s.sheet, "store_flow", extra_length_m=far)
    return s


def test_a_bare_pair_of_more_than_five_metres_is_advice():
    """Five metres: stove manuals, as the rule's page names them. The heat leak's own pipes may be bare."""
    said = [f.message for f in findings(lagged(0.0).done(), "gravity-loop/level-run")]
    assert len(said) == 1 and "without insulation" in said[0]
    assert not findings(lagged(25.0).done(), "gravity-loop/level-run")
    missing = [a for a in asked(lagged(None).done(), "gravity-loop/level-run") if isinstance(a, Missing)]
    assert [a.prop for a in missing] == ["insulation_mm"]


def test_a_pair_of_more_than_ten_metres_is_advice():
    """Ten metres: stove manuals, as the rule's page names them."""
    said = [f.message for f in findings(lagged(25.0, far=6.0).done(), "gravity-loop/level-run")]
    assert len(said) == 1 and "m long" in said[0]


@pytest.mark.parametrize(("up_m", "few"), [(0.01, True), (0.04, False)])
def test_a_flow_that_climbs_less_than_one_in_120_is_advice(up_m, few):
    """1 in 120: an old plumbing handbook, as the rule's page names it. 1.6 m along, so 13 mm up are needed."""
    s = lagged(25.0)
    points = ((2.1, 1.72), (3.7, 1.72 + up_m), (4.4, 1.72 + up_m), (4.4, 1.72 + up_m))
    s.sheet = edits.set_pipe(s.sheet, "store_flow", points=points[:3], held=())
    said = [f.message for f in findings(s.done(), "gravity-loop/level-run")]
    assert any("rises by only 1 in" in m for m in said) is few


def pellets(**props: object) -> draw.Drawing:
    """An automatic boiler in the stove's place, by gravity to its store, the heat leak shut by a lever valve."""
    s = fire(kind="boiler_pellet", **props)
    s.insert("leak_flow", "isolating_valve", "V", at=ON_LEAK)
    s.insert("return_2", "isolating_valve", "W", at=ON_RETURN)
    return s


def test_heat_left_over_is_shed_like_a_fire_s():
    """A boiler that can be stopped still has its grate's heat to lose (rule of the trade; see the rule's page)."""
    assert severities(pellets(residual_kw=1.0), "gravity-loop/isolating-valve") == [DANGER]
    assert not severities(pellets(residual_kw=0.0), "gravity-loop/isolating-valve")
    assert not severities(pellets(residual_kw=1.0, leak_not_needed=True), "gravity-loop/isolating-valve")
    asked_for = [a.prop for a in asked(pellets().done(), "gravity-loop/isolating-valve") if isinstance(a, Missing)]
    assert asked_for == ["residual_kw"]


def test_nothing_is_said_of_a_sheet_without_a_fire():
    s = draw.sheet("No fire")
    for slug in (
        "isolating-valve",
        "pump-in-line",
        "spring-check",
        "flap-only-way",
        "dips",
        "sink-too-low",
        "small-bore",
        "level-run",
    ):
        assert not [a for a in asked(s.done(), f"gravity-loop/{slug}") if isinstance(a, Finding)]
        assert asked(s.done(), f"gravity-loop/{slug}") == []


def loaded(leak_w: float | None) -> draw.Drawing:
    """A loading unit with flap, in 22 mm, between the stove and its store."""
    s = fire(leak_w=leak_w)
    s.sheet = edits.delete(s.sheet, ["store_flow", "return_3"], s.catalogue)
    unit = s.add("loading_unit_4_flap", "unit", x_m=3.8, height_m=0.9, starts_itself=True)
    for a, b in (
        (s["T"]["branch"], unit["boiler_flow"]),
        (unit["store_flow"], s["store"]["flow"]),
        (s["store"]["return"], unit["store_return"]),
        (unit["boiler_return"], s["R"]["right"]),
    ):
        s.pipe(a, b, "22", via=[])
    return s


def test_a_pumped_circuit_past_a_flap_needs_neither_rise_nor_bore_while_a_radiator_carries_the_heat():
    for slug in ("gravity-loop/small-bore", "gravity-loop/dips"):
        assert sound(loaded(1300.0).done(), slug)


def test_a_flap_that_is_the_last_way_out_is_held_to_bore_and_shape():
    s = loaded(None)
    assert answer(s).slug == "gravity-loop/flap-only-way"
    assert severities(s, "gravity-loop/small-bore") == [FAULT]
    assert any(severity > ADVICE for severity in severities(s, "gravity-loop/dips"))
