"""Rules of tap water: a sheet that breaks each, and one that does not.

48 degC at a bath: Building Regulations requirement G3(4). 44 degC bath, 41 degC shower and basin: the settings that
mixing valve schemes publish. 65 degC: public advice on cylinder thermostats gives 60 to 65.
"""

from __future__ import annotations

import pytest
from circuit_sheets import ADVICE, DANGER, FAULT, boiler_on, found, house, line, missing, sound, stove_on

from loopwright import draw

TAP = {"name": "tap", "bottom_m": 0.3, "top_m": 1.6, "lower": "low", "upper": "high"}
TAPS = {
    "low": {"height_m": 0.3, "purpose": "coil", "side": "right"},
    "top": 1.6,
    "bottom": 0.1,
    "high": {"height_m": 1.6, "purpose": "coil", "side": "right"},
}


def coil_house(source: str = "stove", **props: object) -> tuple[draw.Drawing, draw.PartRef, draw.PartRef]:
    """A store heated by a stove or a boiler, with a coil for tap water; its main is joined, its hot end is not."""
    s, store = house(taps=TAPS, coils=(TAP,))
    if source == "stove":
        stove_on(s, store, "top", "bottom")
    else:
        boiler_on(s, store, "top", "bottom", **props)
    mains, tee = s.add("mains_supply", "mains", x_m=6, height_m=0), s.add("tee", "cold", x_m=7, height_m=0)
    line(s, mains["a"], (tee, "left", "right"), store["low"])
    return s, store, tee


def mixed_to(
    s: draw.Drawing, store: draw.PartRef, cold: draw.PartRef, outlet: draw.PartRef, **props: object
) -> draw.PartRef:
    valve = s.add("mixing_valve", "mix", x_m=8, height_m=2, **props)
    line(s, store["high"], (valve, "hot", "mixed"), outlet["hot"])
    line(s, cold["branch"], valve["cold"])
    return valve


def test_a_mixing_valve_makes_a_bath_safe():
    s, store, cold = coil_house()
    mixed_to(s, store, cold, s.add("bath", "bath", x_m=9, height_m=1), setting_c=44)
    for slug in ("domestic/scald-risk", "domestic/mixing-bypassed", "domestic/primary-at-outlet"):
        assert sound(s, slug), slug


@pytest.mark.parametrize(
    ("kind", "severity"), [("bath", DANGER), ("shower", DANGER), ("basin", DANGER), ("sink", FAULT)]
)
def test_a_stoves_water_straight_to_a_tap(kind, severity):
    s, store, cold = coil_house()
    line(s, store["high"], s.add(kind, "tap", x_m=9, height_m=1)["hot"])
    s.cap(cold["branch"])
    assert found(s, "domestic/scald-risk") == [(severity, "tap")]


def test_a_cold_branch_joined_without_a_valve_does_not_hide_the_risk():
    s, store, cold = coil_house()
    tee = s.add("tee", "join", x_m=8, height_m=2)
    line(s, store["high"], (tee, "left", "right"), s.add("bath", "bath", x_m=9, height_m=1)["hot"])
    line(s, cold["branch"], tee["branch"])
    assert found(s, "domestic/scald-risk") == [(DANGER, "bath")]


@pytest.mark.parametrize(
    ("kind", "limit", "wanted"),
    [
        ("bath", 60, [(FAULT, "tap")]),
        ("shower", 60, []),
        ("shower", 80, [(DANGER, "tap")]),
        ("shower", None, [(FAULT, "tap")]),
    ],
)
def test_a_boilers_limit_decides_and_a_filled_in_one_makes_no_danger(kind, limit, wanted):
    s, store, cold = coil_house("boiler", limit_c=limit)
    line(s, store["high"], s.add(kind, "tap", x_m=9, height_m=1)["hot"])
    s.cap(cold["branch"])
    assert found(s, "domestic/scald-risk") == wanted


@pytest.mark.parametrize(
    ("setting", "kind", "wanted"),
    [
        (44, "bath", []),
        (46, "bath", [ADVICE]),
        (50, "bath", [FAULT]),
        (44, "shower", [ADVICE]),
        (41, "shower", []),
        (46, "sink", []),
    ],
)
def test_settings_of_a_mixing_valve(setting, kind, wanted):
    s, store, cold = coil_house()
    mixed_to(s, store, cold, s.add(kind, "tap", x_m=9, height_m=1), setting_c=setting)
    assert [severity for severity, _ in found(s, "domestic/scald-risk")] == wanted


def test_a_setting_nobody_gave_is_not_assessed():
    s, store, cold = coil_house()
    mixed_to(s, store, cold, s.add("bath", "bath", x_m=9, height_m=1))
    assert missing(s, "domestic/scald-risk") == ["setting_c"]


def round_the_valve(join: bool) -> draw.Drawing:
    """One bath behind a mixing valve; with `join`, also a pipe from before the valve."""
    s, store, cold = coil_house()
    valve, bath = (
        s.add("mixing_valve", "mix", x_m=8, height_m=2, setting_c=44),
        s.add("bath", "bath", x_m=9, height_m=1),
    )
    before, after = s.add("tee", "before", x_m=7, height_m=2), s.add("tee", "after", x_m=8.5, height_m=2)
    line(s, store["high"], (before, "left", "right"), (valve, "hot", "mixed"), (after, "left", "right"), bath["hot"])
    line(s, cold["branch"], valve["cold"])
    if join:
        line(s, before["branch"], after["branch"])
    else:
        s.cap(before["branch"])
        s.cap(after["branch"])
    return s


def test_a_hot_pipe_round_the_mixing_valve():
    assert sound(round_the_valve(False), "domestic/mixing-bypassed")
    s = round_the_valve(True)
    assert found(s, "domestic/mixing-bypassed") == [(DANGER, "bath")]
    assert found(s, "domestic/scald-risk") == []


def test_the_stores_own_water_at_a_tap():
    s, store = house(taps={"top": 1.6, "bottom": 0.1, "draw": {"height_m": 1.75, "side": "right"}})
    stove_on(s, store, "top", "bottom")
    line(s, store["draw"], s.add("shower", "shower", x_m=9, height_m=1)["hot"])
    assert found(s, "domestic/primary-at-outlet") == [(DANGER, "shower")]


def test_a_direct_cylinder_with_a_source_made_for_it_is_sound():
    s = draw.sheet("Direct")
    taps = {
        "top": 0.9,
        "bottom": 0.1,
        "hot": {"height_m": 0.95, "side": "top"},
        "cold": {"height_m": 0.1, "side": "right"},
    }
    cylinder = s.store("cylinder", kind="cylinder_direct", x_m=4, height_m=0.1, tappings=taps)
    boiler = s.add("boiler_electric", "boiler", x_m=0, height_m=0, wholesome_rated=True)
    cistern = s.add("cold_water_cistern", "cistern", x_m=6, height_m=4)
    line(s, boiler["flow"], cylinder["top"])
    line(s, cylinder["bottom"], boiler["return"])
    line(s, cistern["feed"], cylinder["cold"])
    line(s, cylinder["hot"], s.add("basin", "basin", x_m=9, height_m=1)["hot"])
    assert sound(s, "domestic/primary-at-outlet")


def inlet(
    *fittings: str, branch: str | None = None, branch_after: int = 0, content_l: float | None = None
) -> draw.Drawing:
    """A main through fittings in a row into a coil; a branch fitting is teed on after some of them."""
    s, store = house(taps=TAPS, coils=({**TAP, "content_l": content_l},))
    stove_on(s, store, "top", "bottom")
    stops: list = [s.add("mains_supply", "mains", x_m=-4, height_m=0)["a"]]
    for k, kind in enumerate(fittings):
        if branch and k == branch_after:
            stops.append(_teed(s, branch, k))
        stops.append(s.add(kind, kind, x_m=-3 + k, height_m=0))
    if branch and branch_after >= len(fittings):
        stops.append(_teed(s, branch, len(fittings)))
    line(s, *stops, store["low"])
    line(s, store["high"], s.add("sink", "sink", x_m=9, height_m=1)["hot"])
    return s


def _teed(s: draw.Drawing, kind: str, k: int) -> tuple:
    tee, part = s.add("tee", "T", x_m=-3.5 + k, height_m=0), s.add(kind, kind, x_m=-3.5 + k, height_m=1)
    line(s, tee["branch"], part["a" if kind.startswith("expansion") else "inlet"])
    return (tee, "left", "right")


def test_heated_mains_water_wants_room_behind_its_check_valve():
    s = inlet("stop_valve", "check_valve")
    assert found(s, "domestic/expansion-unprovided") == [(FAULT, "store")]
    assert sound(
        inlet("stop_valve", "check_valve", branch="expansion_vessel_potable", branch_after=2),
        "domestic/expansion-unprovided",
    )


def test_a_vessel_before_the_check_valve_is_no_room():
    s = inlet("stop_valve", "check_valve", branch="expansion_vessel_potable", branch_after=1)
    assert found(s, "domestic/expansion-unprovided") == [(FAULT, "store")]
    assert found(s, "order/mains-inlet") == [(FAULT, "store")]


@pytest.mark.parametrize(("content", "wanted"), [(6.0, []), (40.0, [(FAULT, "store")])])
def test_a_relief_valve_will_do_for_a_coil_under_15_litres(content, wanted):
    s = inlet("stop_valve", "check_valve", branch="relief_valve", branch_after=2, content_l=content)
    assert found(s, "domestic/expansion-unprovided") == wanted


def test_a_free_path_to_the_main_gives_room_but_lets_warm_water_back():
    s = inlet("stop_valve")
    assert sound(s, "domestic/expansion-unprovided")
    assert found(s, "domestic/backflow-unprotected") == [(FAULT, "store")]
    assert sound(inlet("stop_valve", "check_valve"), "domestic/backflow-unprotected")


def test_a_reducing_valve_is_no_check_valve():
    assert found(inlet("pressure_reducing_valve"), "domestic/backflow-unprotected") == [(FAULT, "store")]
    assert found(inlet("pressure_reducing_valve"), "domestic/expansion-unprovided") == [(FAULT, "store")]


def test_order_of_a_mains_inlet():
    right = ("stop_valve", "strainer", "pressure_reducing_valve", "check_valve")
    vessel = {"branch": "expansion_vessel_potable", "branch_after": 4}
    assert sound(inlet(*right, **vessel), "order/mains-inlet")
    wrong = ("stop_valve", "strainer", "check_valve", "pressure_reducing_valve")
    assert found(inlet(*wrong, **vessel), "order/mains-inlet") == [(FAULT, "store")]


def test_nothing_shuts_the_heater_off_from_its_vessel():
    s = inlet("check_valve", "isolating_valve", branch="expansion_vessel_potable", branch_after=1)
    assert found(s, "order/mains-inlet") == [(FAULT, "store")]
