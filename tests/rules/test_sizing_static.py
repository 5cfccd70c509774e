"""Rules of size without a flow network: a sheet that breaks each, and one that does not.

Emitter output by exponent: EN 442. 0.1 m2 of coil and 25 l of store a square metre of absorber: Domestic Building
Services Compliance Guide, from memory; 50 l: German trade page. 15 kW on an ordinary coil: BS 6700 annex. 55 degC:
Approved Document L. 2 bar on a vented stove: EN 16510-2-4.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import (
    ADVICE,
    DANGER,
    FAULT,
    boiler_on,
    found,
    house,
    line,
    missing,
    radiators_on,
    said,
    solar_on,
    sound,
    stove_on,
)
from vented import sealed_sheet

from loopwright import draw
from loopwright.rules.findings import Finding
from loopwright.sheet import edits

HEAT, COIL = "sizing/output-below-demand", "sizing/coil-duty-too-small"
SUN, BAR = "sizing/store-too-small-for-solar", "sizing/pressure-above-rating"
TAPS = {
    "top": 1.6,
    "bottom": 0.1,
    "supply": {"height_m": 1.5, "side": "right"},
    "back": {"height_m": 0.3, "side": "right"},
    "up": 0.8,
    "down": 0.05,
    "return": 0.9,
}


def only(s: draw.Drawing, slug: str) -> Finding:
    """The one finding of a rule."""
    [finding] = [a for a in said(s, slug) if isinstance(a, Finding)]
    return finding


# -- heat for the house


def heated(
    load_kw: float | None,
    *,
    output_w: float = 5000.0,
    t_need_c: float = 75.0,
    power_kw: float = 20.0,
    kind: str = "radiator",
    source: str = "boiler",
) -> draw.Drawing:
    """One emitter on a store that a boiler or stove heats, and a house load."""
    s, store = house(taps=TAPS)
    if source == "stove":
        stove_on(s, store, "top", "bottom", power_kw=power_kw)
    else:
        boiler_on(s, store, "top", "bottom", power_kw=power_kw)
    radiators_on(s, store, "supply", "back", kind=kind, output_w=output_w, t_need_c=t_need_c)
    if load_kw is not None:
        s.fact(house_load_kw=load_kw)
    return s


def test_without_a_stated_load_nothing_is_asked():
    assert said(heated(None), HEAT) == []


@pytest.mark.parametrize(("load", "severity"), [(5.0, None), (5.3, ADVICE), (6.0, FAULT)])
def test_emitters_against_the_load_of_the_house(load, severity):
    """75/65 degC in a room of 20: the rated 50 K, so the rated 5 kW."""
    s = heated(load)
    wrong = [x for x in said(s, HEAT) if isinstance(x, Finding) and x.measured == pytest.approx(5.0)]
    assert [x.severity for x in wrong] == ([severity] if severity else [])


def test_emitters_run_cooler_give_less():
    """6 kW rated at 50 K give 6 (20/50)^1.3 = 1.82 kW at 45/35 degC."""
    assert only(heated(4.0, output_w=6000.0, t_need_c=45.0), HEAT).measured == pytest.approx(1.823, abs=0.01)
    assert sound(heated(4.0, output_w=4000.0, t_need_c=40.0, kind="underfloor_manifold"), HEAT)


def test_emitters_that_want_hot_water_from_a_boiler_are_advised_against():
    assert found(heated(5.0), HEAT) == [(ADVICE, "store")]
    assert only(heated(5.0), HEAT).sources == ("ctl.flow.max",)
    assert sound(heated(5.0, source="stove"), HEAT)


def test_sources_against_the_house_and_its_hot_water():
    s = heated(5.0, power_kw=6.0, source="stove")
    assert sound(s, HEAT)
    s.fact(hot_water_kw=3.0)
    assert found(s, HEAT) == [(FAULT, "store")]


# -- coils


def by_coil(
    area_m2: float | None, *, kind: str = "boiler_oil", store: str = "heat_store", **props: Any
) -> draw.Drawing:
    """A source on a coil."""
    s = draw.sheet("By coil")
    tank = s.store(
        "store",
        kind=store,
        x_m=4,
        height_m=0.1,
        volume_l=300,
        design_temp_c=80,
        coils=({"name": "oil", "bottom_m": 0.2, "top_m": 0.7, "lower": "down", "upper": "up", "area_m2": area_m2},),
        tappings={"down": {"height_m": 0.2, "side": "left"}, "up": {"height_m": 0.7, "side": "left"}},
    )
    if kind == "solar_collector":
        collector = s.add(kind, "sun", x_m=0, height_m=6, **props)
        line(s, collector["flow"], tank["up"])
        line(s, tank["down"], collector["return"])
    else:
        boiler_on(s, tank, "up", "down", kind=kind, **props)
    return s


@pytest.mark.parametrize(("area", "wanted"), [(0.7, [(FAULT, "store")]), (2.5, [])])
def test_a_boilers_coil(area, wanted):
    """25 kW on 0.7 m2 and on 2.5 m2, the flow 75 degC: 1 - exp(-UA/C), C = 2500 W/K, 700 W/(m2 K), 20 K."""
    s = by_coil(area, power_kw=25.0, t_flow_c=75.0)
    assert found(s, COIL) == wanted
    if wanted:
        assert only(s, COIL).measured == pytest.approx(0.178 * 2.5 * 20, abs=0.05)


def test_an_ordinary_cylinder_coil_takes_15_kw():
    assert found(by_coil(None, store="cylinder_indirect", power_kw=20.0), COIL) == [(ADVICE, "store")]
    assert missing(by_coil(None, store="cylinder_indirect", power_kw=12.0), COIL) == ["area_m2"]


@pytest.mark.parametrize(("area", "wanted"), [(0.3, [(ADVICE, "store")]), (0.4, [])])
def test_a_solar_coil(area, wanted):
    assert found(by_coil(area, kind="solar_collector", absorber_m2=4.0), COIL) == wanted


@pytest.mark.parametrize(("area", "hot", "wanted"), [(0.5, 60, [(FAULT, "store")]), (2.5, 80, [])])
def test_a_coil_for_the_taps(area, hot, wanted):
    """18 l/min from 10 to 40 degC: 1 - exp(-UA/C), C = 1254 W/K; 0.5 m2 at 60 degC: 10 + 0.244 x 50 = 22 degC."""
    s, store = house(
        taps={
            "low": {"height_m": 0.3, "side": "right"},
            "high": {"height_m": 1.6, "side": "right"},
            "top": 1.6,
            "bottom": 0.1,
        },
        design_temp_c=hot,
        coils=({"name": "tap", "bottom_m": 0.3, "top_m": 1.6, "lower": "low", "upper": "high", "area_m2": area},),
    )
    stove_on(s, store, "top", "bottom")
    line(s, s.add("mains_supply", "mains", x_m=7, height_m=0)["a"], store["low"])
    line(s, store["high"], s.add("bath", "bath", x_m=9, height_m=2, demand_l_min=18.0)["hot"])
    assert found(s, COIL) == wanted
    if wanted:
        assert only(s, COIL).measured == pytest.approx(22.2, abs=0.3)


# -- store for the sun


@pytest.mark.parametrize(("absorber", "at", "measured"), [(4.0, 0.9, None), (12.0, 0.9, 500.0), (6.0, 0.3, 83.3)])
def test_room_for_the_sun(absorber, at, measured):
    """500 l: 50 l a square metre for 10 m2; a boiler's return at 0.3 m of 1.8 m leaves a sixth of it."""
    s, store = house(
        taps={**TAPS, "return": {"height_m": at, "side": "right"}, "back": {"height_m": 0.1, "side": "right"}},
        coils=({"name": "sun", "bottom_m": 0.05, "top_m": 0.8, "lower": "down", "upper": "up"},),
    )
    solar_on(s, store, "up", "down")
    s.sheet = edits.set_property(s.sheet, "collector", "absorber_m2", absorber, s.catalogue)
    boiler_on(s, store, "top", "return")
    assert found(s, SUN) == ([(ADVICE, "store")] if measured else [])
    if measured:
        assert only(s, SUN).measured == pytest.approx(measured, abs=0.1)


# -- pressure


@pytest.mark.parametrize(("bears", "wanted"), [(4.0, []), (1.5, [(FAULT, "boiler")])])
def test_a_part_behind_a_relief_valve_of_3_bar(bears, wanted):
    assert found(sealed_sheet(rating_bar=bears), BAR) == wanted


def test_a_fires_water_makes_it_a_danger():
    s = sealed_sheet(kind="log_boiler", source="log", rating_bar=1.5)
    assert found(s, BAR) == [(DANGER, "log")]


@pytest.mark.parametrize(("up_m", "wanted"), [(6.0, []), (25.0, [(DANGER, "stove")])])
def test_a_stove_under_its_cistern(up_m, wanted):
    """0.098 bar a metre of water: 25 m are 2.5 bar, against the 2 bar of a vented stove."""
    s = draw.sheet("Tall")
    tank = s.store(
        "store",
        x_m=4,
        height_m=0,
        volume_l=300,
        rating_bar=6.0,
        tappings={
            "in": {"height_m": 1.3, "side": "left"},
            "out": {"height_m": 0.1, "side": "left"},
            "vent": {"height_m": 1, "side": "top"},
        },
    )
    stove = s.add("boiler_stove", "stove", x_m=0, height_m=0)
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=2, height_m=up_m)
    tee = s.add("tee", "T", x_m=2, height_m=0.1)
    line(s, stove["flow"], tank["in"])
    line(s, tank["out"], (tee, "right", "left"), stove["return"])
    line(s, cistern["feed"], tee["branch"])
    line(s, tank["vent"], cistern["vent"])
    assert found(s, BAR) == wanted


@pytest.mark.parametrize(("reduced", "wanted"), [(True, []), (False, [(DANGER, "cylinder")])])
def test_an_unvented_vessel_behind_a_reducing_valve(reduced, wanted):
    s = draw.sheet("Unvented")
    tank = s.store(
        "cylinder",
        kind="cylinder_direct",
        x_m=0,
        height_m=0,
        volume_l=150,
        rating_bar=3.5,
        tappings={"cold": {"height_m": 0.1, "side": "left"}},
    )
    valve = s.add(
        "pressure_reducing_valve" if reduced else "stop_valve",
        "V",
        x_m=-1,
        height_m=0.1,
        **({"setting_bar": 3.0} if reduced else {}),
    )
    line(s, s.add("mains_supply", "mains", x_m=-2, height_m=0.1, pressure_bar=6.0)["a"], valve, tank["cold"])
    assert found(s, BAR) == wanted


def test_mains_pressure_nobody_measured():
    s = draw.sheet("Unvented")
    tank = s.store(
        "cylinder",
        kind="cylinder_direct",
        x_m=0,
        height_m=0,
        volume_l=150,
        rating_bar=3.5,
        tappings={"cold": {"height_m": 0.1, "side": "left"}},
    )
    line(s, s.add("mains_supply", "mains", x_m=-2, height_m=0.1)["a"], tank["cold"])
    assert missing(s, BAR) == ["pressure_bar"]
