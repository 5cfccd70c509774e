"""Runs of drawn systems: the books close, halving the step changes little, and what comes out is what trade expects.

Sources: energy balances by arithmetic; boiling by the saturation line of IAPWS-IF97 (library `iapws`); stagnation of a
collector by its own efficiency line, eta0 G = a (T - T_air) (EN ISO 9806).
"""

from __future__ import annotations

import json
import sys
from functools import cache
from pathlib import Path

import msgspec
import numpy as np
import pytest
from iapws import IAPWS97

from loopwright.catalogue import standard_catalogue
from loopwright.engineering.runs import cut as cuts
from loopwright.engineering.runs.cut import power_cut
from loopwright.engineering.runs.day import Day, Drawn, day_named, days, load_day, run_day
from loopwright.engineering.runs.day_words import compare
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.result import Run
from loopwright.errors import FigureError, LoopwrightError
from loopwright.sheet.values import Part, Sheet
from loopwright.waterways import Waterways
from loopwright.waterways.views import POWER_CUT, Condition

sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "samples"))
import others

import systems

CATALOGUE = standard_catalogue()


@cache
def barn() -> Sheet:
    return systems.done(systems.three_source())


@cache
def gravity() -> Sheet:
    return others.stove_by_gravity().b.done()


@cache
def cut(full: bool = False) -> Run:
    return power_cut(Waterways(barn(), CATALOGUE), store_full=full)


def early(hours: float):
    """Progress and cancel that stop a day after some hours."""
    share = [0.0]
    return {"progress": lambda x: share.__setitem__(0, x), "cancel": lambda: share[0] >= hours / 24.0 - 1e-9}


@cache
def winter_morning(step_s: float = 60.0) -> Run:
    """Three hours of winter with the boiler allowed from the first, and a shower."""
    always = (("00:00", "24:00"),)
    shower = (Drawn(at="01:00", litres=45.0, minutes=6.0, tap="shower"),)
    day = msgspec.structs.replace(days()["winter"], boiler=always, programmer=always, draws=shower)
    return run_day(Waterways(barn(), CATALOGUE), day, step_s=step_s, **early(3.0))


# -- books and shapes ---------------------------------------------------------------------------------------------


def test_the_books_of_a_power_cut_close():
    for run in (cut(), cut(True)):
        assert abs(run.books.residual) < 1e-5 * run.books.put_in
        assert run.books.put_in > 1.0


def test_the_books_of_a_day_close():
    run = winter_morning()
    assert abs(run.books.residual) < 1e-3 * run.books.put_in
    b = run.books
    gone = sum(b.loads.values()) + b.pipes + b.stores + b.boiled + b.stored + b.into_held
    assert gone == pytest.approx(b.put_in, rel=1e-3)
    # powers are means of the step that ends at each time: their sum is the books' own
    steps = np.diff(run.times_s)
    boiler = float((run.powers["boiler"][1:] * steps).sum()) / 3.6e6
    assert boiler == pytest.approx(b.sources["boiler"], rel=1e-9)


def test_every_curve_has_one_value_an_instant_and_none_is_nan():
    for run in (cut(), winter_morning()):
        n = len(run.times_s)
        assert (np.diff(run.times_s) > 0.0).all()
        for table in (run.parts, run.pipes, run.flows, run.powers):
            assert table and all(v.shape == (n,) and np.isfinite(v).all() for v in table.values())
        assert all(v.shape[0] == n and v.shape[1] >= 20 for v in run.layers.values())
        assert [e.time_s for e in run.events] == sorted(e.time_s for e in run.events)
        json.dumps(run.as_plain())
        head, *rows = run.as_csv().splitlines()
        assert len(rows) == n and all(len(r.split(",")) == len(head.split(",")) for r in rows)


def test_halving_the_step_changes_little(monkeypatch):
    """A half of the step: peak and heat by path within 1 % of the span, the time to it within 3 min."""
    whole = power_cut(Waterways(gravity(), CATALOGUE))
    monkeypatch.setattr(cuts, "FINE_S", 5.0)
    monkeypatch.setattr(cuts, "STEP_S", 15.0)
    half = power_cut(Waterways(gravity(), CATALOGUE))
    assert half.figures["peak_stove_c"] - 20.0 == pytest.approx(whole.figures["peak_stove_c"] - 20.0, rel=0.01)
    assert half.figures["peak_stove_min"] == pytest.approx(whole.figures["peak_stove_min"], abs=3.0)
    put_in = whole.figures["put_in_kwh"]
    for key, kwh in whole.figures.items():
        if key.startswith("carried_"):
            assert half.figures[key] == pytest.approx(kwh, abs=0.01 * put_in), key
    at = min(half.times_s[-1], whole.times_s[-1])
    for part in whole.parts:
        a = np.interp(at, whole.times_s, whole.parts[part])
        assert np.interp(at, half.times_s, half.parts[part]) - 20.0 == pytest.approx(a - 20.0, rel=0.02, abs=0.6)


def test_halving_the_step_of_a_day_changes_little():
    """What is given less what is kept, every load, and what was lost, within 1 % of all heat: the burn that three hours
    happen to cut short is in the store in one run and yet to come in the other, so it is taken out of both."""
    a, b = winter_morning(), winter_morning(30.0)
    span = a.books.put_in
    assert b.books.put_in - b.books.stored == pytest.approx(a.books.put_in - a.books.stored, abs=0.01 * span)
    assert b.figures["starts_boiler"] == pytest.approx(a.figures["starts_boiler"], abs=1.0)
    assert b.books.sources["collector"] == pytest.approx(a.books.sources["collector"], abs=0.01 * span)
    assert b.books.pipes + b.books.stores == pytest.approx(a.books.pipes + a.books.stores, abs=0.01 * span)
    for part, kwh in a.books.loads.items():
        assert b.books.loads[part] == pytest.approx(kwh, abs=0.01 * span)


# -- the power cut ------------------------------------------------------------------------------------------------


def test_a_store_with_room_keeps_the_stove_from_boiling_and_a_full_one_does_not():
    """Ten kWh into 250 l of 60 degC on average, less a third by the leak: some 25 K; into 250 l of 80 they boil."""
    roomy, full = cut(), cut(True)
    assert roomy.outcome == "peaks" and 85.0 < roomy.figures["peak_stove_c"] < 105.0
    assert full.outcome == "boils" and full.figures["boils_min"] < 60.0
    assert "boils" in full.verdict and "peaks at" in roomy.verdict
    assert roomy.figures["carried_leak_kwh"] > 0.2 * roomy.figures["put_in_kwh"]


def test_boiling_is_judged_by_the_head_of_water():
    """The stove's heating surface at 0.5 m, the cistern's line some 5.5 m above the floor: boiling by IAPWS-IF97."""
    part = barn().parts["cistern"]
    line = part.height_m + (Waterways(barn(), CATALOGUE).number("cistern", "water_line_m") or 0.0)
    pressure = 101325.0 + 965.0 * 9.80665 * (line - 0.6)
    want = IAPWS97(P=pressure / 1e6, x=0).T - 273.15
    assert cut().figures["boils_at_stove_c"] == pytest.approx(want, abs=0.5)


def test_an_isolating_valve_shut_brings_it_to_the_boil_and_the_leak_holds_it_back():
    """The heat in the stove's own water, 12 l and 20 kJ/K of metal, is 70 kJ/K: 8 kW would boil that in 4 to 8 min."""
    ways = Waterways(barn(), CATALOGUE)
    with pytest.raises(FigureError, match="no part"):
        power_cut(ways, shut=("nothing",))
    alone = power_cut(Waterways(_valved(), CATALOGUE), shut=("V9",))
    assert alone.outcome == "boils" and 2.0 < alone.figures["boils_min"] < 10.0
    left_open = power_cut(Waterways(_valved(), CATALOGUE))
    assert left_open.outcome == "peaks"


@cache
def _valved() -> Sheet:
    """The barn with an isolating valve V9 in the stove's own flow, a metre up its riser."""
    from loopwright.sheet.joining import insert_in_pipe

    valve = Part(id="V9", kind="isolating_valve", x_m=1.7, height_m=1.0)
    return insert_in_pipe(barn(), "stove_flow", valve, (1.7, 1.0), CATALOGUE)


def test_nothing_hot_is_refused_in_plain_words():
    sheet = others.oil_by_coil().b.done()
    with pytest.raises(FigureError, match="Nothing on this sheet gives heat"):
        power_cut(Waterways(sheet, CATALOGUE))


def test_a_run_can_be_stopped_and_keeps_what_it_has():
    shares: list[float] = []
    run = power_cut(Waterways(gravity(), CATALOGUE), progress=shares.append, cancel=lambda: len(shares) >= 12)
    assert not run.complete and run.outcome == "cancelled" and len(run.times_s) == 13
    assert shares == sorted(shares) and "Stopped by hand" in run.verdict
    day = winter_morning()
    assert not day.complete and day.times_s[-1] == pytest.approx(3 * 3600.0)


def test_a_collector_left_in_the_sun_stagnates_or_boils():
    """Pump standing, 860 W/m2: the line would go to 23 + 0.78 x 860 / 4 = 191 degC, so it boils at its own pressure."""
    day = msgspec.structs.replace(days()["away"], sun_w_m2=(860.0,) * 24, outdoor_c=(23.0,) * 24)
    run = run_day(Waterways(barn(), CATALOGUE), day, condition=Condition(stopped=frozenset({"P3"})), **early(2.0))
    hottest = run.figures["peak_collector_c"]
    boil = run.parts["collector"].max()
    ways = Waterways(barn(), CATALOGUE)
    vessel = ways.at["port", "EV2", "a"][1]
    charge = 101325.0 + 1e5 * (ways.number("EV2", "precharge_bar") or 0.0)
    pressure = charge - 965.0 * 9.80665 * (ways.source_of["collector"].height_m - vessel)
    want = IAPWS97(P=pressure / 1e6, x=0).T - 273.15
    assert hottest == pytest.approx(boil) and hottest == pytest.approx(want, abs=2.0)
    assert any(e.what == "boils" and e.part == "collector" for e in run.events)
    stagnation = 23.0 + assumed("collector", "eta0") * 860.0 / assumed("collector", "w_m2K")
    assert hottest < stagnation


# -- the day ------------------------------------------------------------------------------------------------------


def test_the_mixing_valve_holds_its_setting_at_a_long_draw():
    """44 degC within 2 K once warm water has reached the tap, with the store above 60 degC (EN 1111 allows 2 K)."""
    base = days()["summer"]
    plain = Day(
        name="draw", title="A draw", outdoor_c=base.outdoor_c, sun_w_m2=(0.0,) * 24, boiler=(), programmer=(),
        draws=(Drawn(at="00:10", litres=60.0, minutes=10.0, tap="bath"),), cold_c=10.0, store_bottom_c=68.0,
        store_top_c=78.0,
    )  # fmt: skip
    run = run_day(Waterways(barn(), CATALOGUE), plain, step_s=20.0, **early(0.4))
    late = (run.times_s > 15 * 60.0) & (run.times_s <= 20 * 60.0)
    assert run.parts["bath"][late] == pytest.approx(44.0, abs=2.0)
    # 60 l at 40 degC hold 60 x 4.18 x 30 kJ = 2.1 kWh, and not less than that is taken
    assert run.books.loads["bath"] == pytest.approx(60.0 * 4.18 * 30.0 / 3600.0, rel=0.08)


def test_a_winter_morning_runs_on_the_boiler():
    run = winter_morning()
    assert run.books.sources["boiler"] > 10.0 and run.books.sources["stove"] == 0.0
    assert any(e.what == "on" and e.part == "boiler" for e in run.events)
    assert run.parts["room R1"].min() > 10.0
    assert "Oil boiler" in run.verdict and "kWh" in run.verdict


def test_days_are_read_and_bad_ones_refused(tmp_path):
    assert list(days()) == ["winter", "spring", "summer", "away"]
    for day in days().values():
        assert len(day.outdoor_c) == 24 and day.source
    with pytest.raises(LoopwrightError, match="no day"):
        day_named("doomsday")
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\ntitle = "x"\noutdoor_c = [1.0]\nsun_w_m2 = [0.0]\n', encoding="utf-8")
    with pytest.raises(LoopwrightError):
        load_day(bad)
    with pytest.raises(LoopwrightError):
        load_day(tmp_path / "none.toml")
    with pytest.raises(LoopwrightError, match="time of day"):
        msgspec.structs.replace(days()["winter"], draws=(Drawn(at="25:00", litres=1.0),)).__post_init__()
    with pytest.raises(FigureError):
        run_day(Waterways(gravity(), CATALOGUE), days()["winter"], step_s=300.0)


def test_two_runs_are_compared_in_words():
    roomy, full = cut(), cut(True)
    words = compare(roomy, full)
    assert any("the second boils" in w for w in words)
    assert compare(roomy, roomy) == ("Both do the same",)
    changed = msgspec.structs.replace(winter_morning(), figures={**winter_morning().figures, "given_stove_kwh": 1.8})
    assert "+1.8 kWh from Stove" in compare(winter_morning(), changed)


def test_the_condition_is_kept():
    assert cut().condition == POWER_CUT and cut().kind == "power cut"


def test_a_collector_boiling_in_the_sun_does_not_end_the_question_about_the_stove():
    """800 W/m2 with the pump standing takes 4 m2 well past boiling; the stove peaks as it would in the dark."""
    run = power_cut(Waterways(barn(), CATALOGUE), sun_W_m2=800.0)
    assert any(e.what == "boils" and e.part == "collector" for e in run.events)
    assert run.outcome == "peaks" and "stove peaks" in run.verdict
    assert run.figures["peak_stove_c"] == pytest.approx(cut().figures["peak_stove_c"], abs=1.0)
    assert run.books.boiled > 0.1 and abs(run.books.residual) < 1e-5 * run.books.put_in
