"""The cooling coil of a sealed fire: what water carries off, and what a power cut makes of it.

Sources: counterflow with one side at one temperature, Q = m cp (1 - exp(-UA / m cp)) dT (Kays and London); a boiler's
cooling device keeps its water below 110 degC at full power (EN 303-5, from memory); water by the library `iapws`.
"""

from __future__ import annotations

import math
import sys
from functools import cache
from pathlib import Path

import pytest
from iapws import IAPWS97

from loopwright.catalogue import standard_catalogue
from loopwright.engineering.runs.cooling import Cooler, cooler_of
from loopwright.engineering.runs.cut import power_cut
from loopwright.engineering.runs.result import Run
from loopwright.waterways import Waterways
from loopwright.waterways.views import POWER_CUT, Condition

sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "samples"))
import others


@cache
def boiler() -> Waterways:
    return Waterways(others.log_boiler().b.done(), standard_catalogue())


@cache
def cooled() -> Run:
    return power_cut(boiler())


def coil() -> Cooler:
    return Cooler("TD", 95.0, 5.0, 0.15, 400.0, 10.0)


def test_the_coil_follows_its_number_of_transfer_units():
    cp = IAPWS97(T=273.15 + 30.0, P=0.3).cp * 1000.0
    want = 0.15 * cp * -math.expm1(-400.0 / (0.15 * cp)) * 90.0
    assert coil().heat_W(100.0) == pytest.approx(want, rel=0.005)
    assert coil().heat_W(120.0) / coil().heat_W(100.0) == pytest.approx(110.0 / 90.0)
    assert coil().heat_W(95.0) == 0.0 and coil().flow_kg_s(97.5) == pytest.approx(0.075)


@pytest.mark.parametrize("felt", [95.5, 97.0, 99.0, 105.0])
def test_the_straight_line_meets_the_curve_where_it_is_drawn(felt):
    slope, nil = coil().line(felt)
    assert slope * (felt - nil) == pytest.approx(coil().heat_W(felt), rel=1e-9)
    assert slope * (felt + 1.0 - nil) == pytest.approx(coil().heat_W(felt + 1.0), rel=1e-9)


def test_the_log_boiler_is_held_below_110_and_the_water_that_ran_carries_the_heat():
    run = cooled()
    assert run.outcome == "peaks" and 95.0 < run.figures["peak_boiler_c"] < 110.0
    assert any(e.what == "on" and e.part == "TD1" for e in run.events)
    litres, carried = run.figures["cooling_TD1_l"], run.figures["carried_TD1_kwh"]
    rise = carried * 3.6e6 / (litres * 4186.0)  # no hotter than the boiler, and 20 to 30 l an hour a kilowatt at most
    assert 20.0 < rise < run.figures["peak_boiler_c"] - 10.0
    assert litres < 30.0 * 20.0 * run.times_s[-1] / 3600.0
    assert abs(run.books.residual) < 1e-5 * run.books.put_in
    assert "cold water ran" in run.verdict and any("an hour through the coil" in n for n in run.notes)


def test_with_the_cooling_water_shut_off_it_boils():
    run = power_cut(boiler(), shut=("cooling_stop",))
    assert run.outcome == "boils" and "cooling_TD1_l" not in run.figures
    assert run.figures["peak_boiler_c"] > cooled().figures["peak_boiler_c"] + 10.0


def test_the_coil_counts_only_where_water_reaches_it():
    ways = boiler()
    found, words = cooler_of(ways, "boiler", POWER_CUT, 10.0)
    assert found is not None and found.valve == "TD1" and "l of cold water an hour" in words
    shut = Condition(power=False, shut=frozenset({"cooling_stop"}))
    assert cooler_of(ways, "boiler", shut, 10.0) == (None, "")
    # 20 kW at 25 l/h for each, with the root of 3 bar less a little height over 2 bar: 612 l/h
    assert 3600.0 * found.full_kg_s == pytest.approx(500.0 * math.sqrt(3.0 / 2.0), rel=0.01)


def test_halving_the_step_changes_the_peak_little(monkeypatch):
    from loopwright.engineering.runs import cut as cuts

    monkeypatch.setattr(cuts, "FINE_S", 5.0)
    monkeypatch.setattr(cuts, "STEP_S", 15.0)
    half = power_cut(boiler())
    assert half.figures["peak_boiler_c"] == pytest.approx(cooled().figures["peak_boiler_c"], abs=0.8)  # 1 % of 78 K
    assert half.figures["carried_TD1_kwh"] == pytest.approx(cooled().figures["carried_TD1_kwh"], rel=0.01)
