"""Safeguards of a fire: open vent, feed, relief valve and cooling water; a violating and a sound sheet each.

No valve in a vent, a feed or a cooling supply, the five safeguards of a sealed fire and the pressure of cooling water:
EN 12828 and boiler manuals, as the rules' pages name them.
"""

from __future__ import annotations

import pytest
from vented import CATALOGUE, asked, between, only, sealed_sheet, sound, stove_sheet

from loopwright.rules.findings import Missing, Severity
from loopwright.sheet import edits

F = "solid-fuel/"


@pytest.mark.parametrize("slug", ["sealed-water", "no-open-vent", "vent-can-close", "feed-can-close"])
def test_a_sound_vented_stove_passes(slug):
    assert sound(stove_sheet().done(), F + slug)


# -- sealed


def log_boiler(
    *,
    leave: bool | None = True,
    coil: bool = True,
    relief: bool = True,
    vessel: bool = True,
    supply: tuple[str, ...] = (),
    bar: float | None = 3.0,
    tap: bool = False,
    end: bool = True,
):
    """A sealed log boiler: main, what `supply` names, discharge valve, coil, tundish and drain."""
    s = sealed_sheet(kind="log_boiler", source="log", relief=relief, vessel=vessel, sealed_allowed=leave)
    if not coil:
        return s.done()
    main = s.add("mains_supply", "mains", x_m=-3.0, height_m=0.4, pressure_bar=bar)
    valve = s.add("thermal_discharge_valve", "TD", x_m=-0.3, height_m=0.4)
    last = main["a"]
    for number, words in enumerate(supply):
        kind, _, prop = words.partition(" ")
        part = s.add(kind, f"S{number}", x_m=-2.4 + 0.6 * number, height_m=0.4, **({prop: True} if prop else {}))
        s.pipe(last, part["a"], "15")
        last = part["b"]
    s.pipe(last, valve["in"], "15")
    s.pipe(valve["out"], s["log"]["cooling_in"], "15", via=[(0.2, 0.4), (0.2, 0.975)])
    if not end:
        return s.done()
    gap = s.add("tundish", "TU", x_m=-1.5, height_m=1.0)
    out = s.pipe(s["log"]["cooling_out"], gap["in"], "15", via=[(-1.5, 1.15)])
    s.pipe(gap["out"], s.add("discharge_point", "DP", x_m=-1.5, height_m=0.6)["in"], "22")
    if tap:
        joint = s.tee(out, (-0.6, 1.15), "HT", towards="up")
        s.pipe(joint["branch"], s.add("basin", "basin", x_m=-0.6, height_m=2.0)["hot"], "15")
    return s.done()


def test_a_sealed_log_boiler_with_all_five_safeguards():
    assert sound(log_boiler(), F + "sealed-water")
    assert sound(log_boiler(supply=("strainer", "check_valve", "stop_valve locked_open")), F + "sealed-water")


@pytest.mark.parametrize(
    "lacking, words",
    [
        ({"leave": False}, "leave"),
        ({"coil": False}, "cooling coil"),
        ({"relief": False}, "relief valve"),
        ({"vessel": False}, "expansion vessel"),
        ({"supply": ("isolating_valve",)}, "cooling water"),
    ],
)
def test_each_safeguard_is_missed(lacking, words):
    found = only(log_boiler(**lacking), F + "sealed-water")
    assert found.severity is Severity.DANGER and words in found.message


def test_the_makers_leave_must_be_answered():
    said = asked(log_boiler(leave=None), F + "sealed-water")
    assert [type(a) for a in said] == [Missing] and said[0].prop == "sealed_allowed"


def test_a_pellet_boiler_needs_no_cooling_coil():
    assert sound(sealed_sheet(kind="boiler_pellet", source="log", sealed_allowed=True).done(), F + "sealed-water")


# -- vent and feed


def test_a_stove_without_a_vent():
    found = only(stove_sheet(vent=None).done(), F + "no-open-vent")
    assert found.severity is Severity.DANGER and found.subject == "stove"


def test_a_vent_off_the_stores_top_serves_the_stove():
    s = stove_sheet(vent=None)
    s.pipe(s["store"]["top"], s["cistern"]["vent"], "22", via=[(4.0, 5.95), (2.775, 5.95)])
    assert sound(s.done(), F + "no-open-vent") and sound(s.done(), F + "vent-can-close")


@pytest.mark.parametrize("kind", ["isolating_valve", "pump", "flap_valve", "motorised_2port", "strainer"])
def test_anything_that_can_shut_between_stove_and_vent(kind):
    s = stove_sheet()
    s.insert(between(s.sheet, "stove", "VT"), kind, "X", at=(2.0, 0.9))
    found = only(s.done(), F + "vent-can-close")
    assert found.severity is Severity.DANGER and found.culprits == ("X",)


def test_a_valve_in_a_vent_is_a_danger_whatever_other_vent_there_is():
    s = stove_sheet()
    s.pipe(s["store"]["top"], s["cistern"]["vent_2"], "22", via=[(4.0, 5.95), (2.925, 5.95)], id="vent_2")
    s.insert("vent_2", "isolating_valve", "V1", at=(4.0, 3.0))
    assert only(s.done(), F + "vent-can-close").culprits == ("V1",)


def test_a_valve_beyond_the_vent_joint_is_sound():
    s = stove_sheet()
    s.insert(between(s.sheet, "VT", "store"), "isolating_valve", "V1", at=(2.8, 1.4))
    assert sound(s.done(), F + "vent-can-close")


def feed_past(kind: str, *, turned: bool = False):
    """A feed to the return, one part between it and the stove; the way round by the flow is valved."""
    s = stove_sheet(feed=None)
    s.pipe(s["cistern"]["feed"], s["FT"]["branch"], "22", via=[(3.225, 4.6), (2.4, 4.6)], id="feed")
    s.insert(between(s.sheet, "VT", "store"), "isolating_valve", "V9", at=(2.8, 1.4))
    piece = between(s.sheet, "stove", "FT")
    if turned:
        end = s.sheet.pipes[piece].other("stove")
        s.sheet = edits.delete(s.sheet, [piece], CATALOGUE)
        piece = s.pipe(s["stove"]["return"], end, "28").id
    s.insert(piece, kind, "X", at=(1.8, 0.2))
    return s.done()


@pytest.mark.parametrize("kind", ["isolating_valve", "pump", "check_valve"])
def test_a_feed_that_can_be_shut(kind):
    found = only(feed_past(kind), F + "feed-can-close")
    assert found.severity is Severity.DANGER and set(found.culprits) == {"X", "V9"}  # by return and by flow


def test_a_bare_flap_that_opens_towards_the_stove():
    assert sound(feed_past("flap_valve"), F + "feed-can-close")
    assert only(feed_past("flap_valve", turned=True), F + "feed-can-close").culprits[-1] == "X"


def test_a_stop_valve_on_the_cistern_feed():
    s = stove_sheet()
    s.insert("feed", "stop_valve", "V1", at=(2.4, 3.0))
    assert only(s.done(), F + "feed-can-close").culprits == ("V1",)


# -- relief valve on vented water


def test_the_relief_valve_a_maker_asks_for():
    assert only(stove_sheet(relief_required=True).done(), F + "relief-asked-for").severity is Severity.FAULT
    assert sound(stove_sheet(relief_required=True, relief_built_in=True).done(), F + "relief-asked-for")
    assert asked(stove_sheet().done(), F + "relief-asked-for") == []
    s = stove_sheet(relief_required=True)
    joint = s.tee(between(s.sheet, "stove", "VT"), (1.6, 0.68), "ST", towards="up")
    run = s.pipe(joint["branch"], s.add("relief_valve", "SV", x_m=1.6, height_m=1.6)["inlet"], "15")
    assert sound(s.done(), F + "relief-asked-for")
    s.insert(run, "isolating_valve", "V1", at=(1.6, 1.1))
    assert only(s.done(), F + "relief-asked-for").culprits == ("V1",)


# -- cooling water


def test_a_sound_cooling_supply():
    assert sound(log_boiler(), F + "cooling-supply-can-fail")
    supply = ("strainer", "check_valve", "stop_valve locked_open")
    assert sound(log_boiler(supply=supply), F + "cooling-supply-can-fail")


@pytest.mark.parametrize("kind", ["isolating_valve", "stop_valve", "pump"])
def test_a_cooling_supply_that_can_fail(kind):
    found = only(log_boiler(supply=(kind,)), F + "cooling-supply-can-fail")
    assert found.severity is Severity.DANGER and found.culprits == ("S0",)


def test_a_cooling_coil_used_for_taps_or_without_an_end():
    assert only(log_boiler(tap=True), F + "cooling-supply-can-fail").culprits == ("basin",)
    assert "no open end" in only(log_boiler(end=False), F + "cooling-supply-can-fail").message


def test_pressure_of_the_cooling_water():  # 1.5 bar by one maker, 2.0 by others: makers' manuals
    assert only(log_boiler(bar=1.2), F + "cooling-supply-can-fail").severity is Severity.FAULT
    assert only(log_boiler(bar=1.8), F + "cooling-supply-can-fail").severity is Severity.ADVICE
    said = asked(log_boiler(bar=None), F + "cooling-supply-can-fail")
    assert [type(a) for a in said] == [Missing] and said[0].prop == "pressure_bar"
