"""Rules of vessels of tap water: a sheet that breaks each, and one that does not.

Two devices beside the thermostat, the relief valve in the top fifth, the cut-out on the primary, coils under 15 l:
Approved Document G3. Cut-out of an immersion heater: EN 60335-2-73. 60 degC in store: HSG274 part 2.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import DANGER, FAULT, found, line, missing, sound, standing

from loopwright import draw

RELIEF, PLACE = "domestic/unvented-no-relief", "domestic/relief-misplaced"
CUT, COOL = "domestic/unvented-no-cut-out", "domestic/stored-too-cool"


def cylinder(
    *,
    relief: float | None = 0.9,
    valve: bool = False,
    two_port: bool = True,
    rest: str = "shut",
    volume_l: float = 150.0,
    coil: bool = True,
    immersion: bool | None = None,
    fed: str = "mains_supply",
    t_flow_c: float = 70.0,
    on_pipe: bool = False,
    **props: Any,
) -> draw.Drawing:
    """An unvented indirect cylinder on a boiler: relief valve at a height, two-port valve, immersion heater."""
    s = draw.sheet("Cylinder")
    taps: dict[str, Any] = {
        "cold": {"height_m": 0.15, "side": "right"},
        "hot": {"height_m": 0.95, "side": "top"},
        "boss": {"height_m": 0.5, "side": "right"},
        "eye": {"height_m": 0.6, "side": "right", "purpose": "sensor"},
        "down": {"height_m": 0.1, "side": "left"},
        "up": {"height_m": 0.5, "side": "left"},
    }
    if relief is not None and not on_pipe:
        taps["tp"] = {"height_m": relief, "side": "right"}
    tank = s.store(
        "cyl",
        kind="cylinder_indirect",
        x_m=0,
        height_m=0,
        volume_l=volume_l,
        body_height_m=0.95,
        body_diameter_m=0.45,
        vented=False,
        tappings=taps,
        coils=({"name": "primary", "bottom_m": 0.1, "top_m": 0.5, "lower": "down", "upper": "up"},),
        **props,
    )
    supply = s.add(fed, "supply", x_m=3, height_m=0.0 if fed == "mains_supply" else 4.0)
    line(s, supply["a" if fed == "mains_supply" else "feed"], tank["cold"])
    bath = s.add("bath", "bath", x_m=2, height_m=2)
    if on_pipe:
        tee = s.add("tee", "T", x_m=0, height_m=1.5, turn=1)
        line(s, tank["hot"], (tee, "left", "right"), bath["hot"])
    else:
        line(s, tank["hot"], bath["hot"])
    if relief is not None:
        stops: list[Any] = [tee["branch"] if on_pipe else tank["tp"]]
        if valve:
            stops.append(s.add("isolating_valve", "V", x_m=0.6, height_m=0.9))
        line(s, *stops, s.add("tp_relief_valve", "TP", x_m=1.2, height_m=1.4)["inlet"])
    if coil:
        boiler = s.add("boiler_oil", "boiler", x_m=-3, height_m=0, t_flow_c=t_flow_c)
        pump = s.add("pump", "pump", x_m=-1.5, height_m=0.1, turn=2)
        out: list[Any] = [s.add("motorised_2port", "MV", x_m=-1, height_m=0.5, rest=rest)] if two_port else []
        line(s, boiler["flow"], *out, tank["up"])
        line(s, tank["down"], pump, boiler["return"])
    if immersion is not None:
        line(s, s.add("immersion_heater", "IH", x_m=1, height_m=0.5, cut_out_built_in=immersion)["boss"], tank["boss"])
    return s


def test_an_unvented_cylinder_has_its_own_relief_valve():
    assert sound(cylinder(), RELIEF)
    assert found(cylinder(relief=None), RELIEF) == [(DANGER, "cyl")]
    assert found(cylinder(valve=True), RELIEF) == [(DANGER, "cyl")]


def test_a_cylinder_under_a_cistern_is_not_asked():
    s = cylinder(relief=None, fed="cold_water_cistern")
    for slug in (RELIEF, PLACE, CUT):
        assert found(s, slug) == [] and missing(s, slug) == []


@pytest.mark.parametrize(("height", "wanted"), [(0.9, []), (0.7, [(FAULT, "TP")])])
def test_the_relief_valve_stands_in_the_top_fifth(height, wanted):
    assert found(cylinder(relief=height), PLACE) == wanted


def test_the_relief_valve_stands_on_the_vessel_and_not_on_a_pipe():
    assert found(cylinder(on_pipe=True), PLACE) == [(FAULT, "TP")]


def test_a_cut_out_shuts_a_valve_on_the_primary():
    assert sound(cylinder(cut_out_built_in=True), CUT)
    assert found(cylinder(cut_out_built_in=True, two_port=False), CUT) == [(FAULT, "cyl")]
    assert found(cylinder(cut_out_built_in=True, rest="open"), CUT) == [(FAULT, "cyl")]
    assert missing(cylinder(), CUT) == ["cut_out_built_in"]


def test_a_thermostat_that_resets_itself_is_no_cut_out():
    s = cylinder(cut_out_built_in=False)
    assert missing(s, CUT) == [""]
    s.link("cyl/" + s["cyl"].pocket("eye").split("/")[1], "MV", "stops_above", setting_c=60)
    assert found(s, CUT) == [(DANGER, "cyl")]
    s.link(s.add("high_limit_thermostat", "HL", x_m=2, height_m=3), "MV", "shuts_above", setting_c=85)
    assert sound(s, CUT)


def test_an_immersion_heater_without_a_cut_out_is_named_once():
    s = cylinder(cut_out_built_in=True, immersion=False)
    assert found(s, CUT) == [(DANGER, "cyl")]
    assert CUT in standing(s) and "control/immersion-no-cut-out" not in standing(s)
    assert sound(cylinder(cut_out_built_in=True, immersion=True), CUT)


@pytest.mark.parametrize(("flow", "wanted"), [(70.0, []), (50.0, [(FAULT, "cyl")])])
def test_tap_water_is_kept_hot(flow, wanted):
    assert found(cylinder(t_flow_c=flow), COOL) == wanted


def test_a_thermostat_on_the_cylinder_decides():
    s = cylinder(t_flow_c=70.0)
    s.link(s["cyl"].pocket("eye"), "MV", "shuts_above", setting_c=50)
    assert found(s, COOL) == [(FAULT, "cyl")]


def test_a_weekly_raise_by_the_immersion_heater():
    s = cylinder(t_flow_c=45.0, immersion=True)
    s.link(s["cyl"].pocket("eye"), "boiler", "runs_below", setting_c=45)
    assert found(s, COOL) == [(FAULT, "cyl")]
    s.link(s.add("programmer", "clock", x_m=3, height_m=3), "IH", "schedule")
    assert sound(s, COOL)


@pytest.mark.parametrize(("litres", "wanted"), [(6.0, []), (20.0, [(DANGER, "store")])])
def test_a_mains_coil_in_a_store(litres, wanted):
    s = draw.sheet("Coil")
    store = s.store(
        "store",
        x_m=0,
        height_m=0,
        volume_l=300,
        coils=({"name": "tap", "bottom_m": 0.2, "top_m": 1.2, "lower": "low", "upper": "high", "content_l": litres},),
        tappings={"low": {"height_m": 0.2, "side": "right"}, "high": {"height_m": 1.2, "side": "right"}},
    )
    line(s, s.add("mains_supply", "main", x_m=3, height_m=0)["a"], store["low"])
    line(s, store["high"], s.add("sink", "sink", x_m=2, height_m=2)["hot"])
    assert found(s, RELIEF) == wanted
