"""Discharge pipes of relief valves: a sheet that breaks each rule, and one that does not.

600 mm to the tundish, 300 mm straight below it, 1:200 after that, and the table of sizes: Approved Document G3,
clauses 3.50 to 3.58, as reprinted in several manuals. Metal, full bore and falling for other relief: makers' manuals.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import DANGER, FAULT, found, missing, said, sound, standing
from vented import sealed_sheet

from loopwright import draw

ALL = ("discharge/no-tundish", "discharge/tundish-misplaced", "discharge/undersized", "discharge/rises")


def cylinder(
    *,
    tundish: bool = True,
    first: str = "15",
    then: str = "22",
    gap_m: float = 0.25,
    drop_m: float = 0.3,
    away_m: float = 2.0,
    fall_m: float = 0.1,
    extra_m: float = 0.0,
    graded: str = "",
    end: bool = True,
    valve: str = "",
    turns: int = 0,
    volume_l: float = 150.0,
    beyond: str = "copper",
    **pipe: Any,
) -> draw.Drawing:
    """An unvented cylinder with its valve, tundish and pipe: 15 mm outlet, 22 mm beyond, 2 m away, all by parameter."""
    s = draw.sheet("Unvented")
    taps = {"tp": {"height_m": 0.9, "side": "right"}, "cold": {"height_m": 0.1, "side": "left"}}
    tank = s.store(
        "cylinder",
        kind="cylinder_direct",
        x_m=0,
        height_m=1.0,
        volume_l=volume_l,
        body_height_m=0.95,
        body_diameter_m=0.45,
        vented=False,
        tappings=taps,
    )
    s.pipe(s.add("mains_supply", "mains", x_m=-2, height_m=1.1, pressure_bar=3.0)["a"], tank["cold"], via=[])
    relief = s.add("tp_relief_valve", "TP", x_m=0.6, height_m=2.1)
    s.pipe(tank["tp"], relief["inlet"], via=[])
    last, x, z = relief["outlet"], 1.0, 2.1 - gap_m
    if tundish:
        gap = s.add("tundish", "TU", x_m=x, height_m=z - 0.12)
        s.pipe(last, gap["in"], first, via=[], id="D1", **pipe)
        last, z, first = gap["out"], z - 0.24, then
    if valve:
        part = s.add(valve, "V", x_m=x, height_m=z - 0.12, turn=1)
        s.pipe(last, part["a"], first, via=[])
        last, z = part["b"], z - 0.24
    if not end:
        s.cap(last)
        return s
    low = z - drop_m - fall_m
    point = s.add("discharge_point", "DP", x_m=x + away_m, height_m=low - 0.5)
    corners = (
        [(x, z - drop_m), (x + away_m, z - drop_m)]
        if not fall_m
        else [(x, z - drop_m), (x + away_m / 2, z - drop_m), (x + away_m / 2, low), (x + away_m, low)]
    )
    s.pipe(
        last,
        point["in"],
        first,
        via=corners,
        id="D2",
        extra_length_m=extra_m,
        extra_bends=turns,
        graded=graded,
        material=beyond,
    )
    return s


def test_a_sound_discharge_pipe():
    s = cylinder(graded="a")
    for slug in ALL:
        assert sound(s, slug), (slug, said(s, slug))


def test_an_unvented_vessel_wants_a_tundish():
    assert found(cylinder(tundish=False), ALL[0]) == [(DANGER, "TP")]


@pytest.mark.parametrize("wrong", [{"end": False}, {"valve": "isolating_valve"}])
def test_a_discharge_pipe_stays_open(wrong):
    assert found(cylinder(**wrong), ALL[0]) == [(DANGER, "TP")]


def test_a_small_vessel_is_no_unvented_cylinder():
    assert sound(cylinder(tundish=False, volume_l=10.0), ALL[0])


def test_a_relief_valve_without_a_pipe_is_named_once():
    s = sealed_sheet()
    bare = s.add("relief_valve", "SV9", x_m=5, height_m=5)
    s.pipe(s.add("open_end", "E", x_m=5, height_m=4)["a"], bare["inlet"], via=[])
    assert (FAULT, "SV9") in found(s, ALL[0])
    assert "discharge/no-tundish" in standing(s)


@pytest.mark.parametrize("wrong", [{"gap_m": 0.8}, {"gap_m": -0.2}, {"drop_m": 0.1}])
def test_the_place_of_a_tundish(wrong):
    assert found(cylinder(**wrong), ALL[1]) == [(FAULT, "TP")]


def test_size_to_the_tundish():
    assert found(cylinder(first="10"), ALL[2]) == [(FAULT, "TP")]


@pytest.mark.parametrize(("then", "wanted"), [("22", [(FAULT, "TP")]), ("28", []), ("15", [(FAULT, "TP")])])
def test_the_table_of_discharge_pipes(then, wanted):
    """7 m of 22 mm with four bends from a G 1/2 valve: 10.2 m against 9 m; in 28 mm 11 m against 18 m."""
    s = cylinder(then=then, away_m=2.0, drop_m=0.3, fall_m=0.1, extra_m=7.0 - 2.78)
    assert found(s, ALL[2]) == wanted
    if then == "22":
        [finding] = said(s, ALL[2])
        assert finding.measured == pytest.approx(10.2, abs=0.01) and "28 mm" in finding.todo


def test_other_pipe_than_copper_is_not_judged_by_the_table():
    s = cylinder(then="25", beyond="pex")
    assert missing(s, ALL[2]) == ["material"]


@pytest.mark.parametrize(
    ("wrong", "severity"),
    [({"fall_m": -0.1}, DANGER), ({"fall_m": 0.0}, FAULT), ({"first": "16", "material": "pex"}, FAULT)],
)
def test_a_discharge_pipe_is_metal_and_falls_all_the_way(wrong, severity):
    assert found(cylinder(**{"graded": "" if "fall_m" in wrong else "a", **wrong}), ALL[3]) == [(severity, "TP")]


def test_a_level_run_marked_as_graded_falls():
    assert sound(cylinder(fall_m=0.0, graded="a"), ALL[3])
