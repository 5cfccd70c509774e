"""Expansion against EN 12828 arithmetic, trade tables, Boyle's law."""

import pytest

from loopwright.engineering import expansion
from loopwright.errors import FigureError


def test_a_thousand_litres():
    # density tables: 10 to 90 degC is 3.56 %
    assert expansion.expansion_L(1000.0, 90.0) == pytest.approx(35.6, abs=0.2)
    assert expansion.expansion_L(1000.0, 5.0) == 0.0
    with pytest.raises(FigureError):
        expansion.expansion_L(1000.0, 120.0)


def test_vented_cistern():
    got = expansion.vented_cistern(1000.0, 90.0, 0.3 * 0.45, 0.2)
    assert got.expansion_L == pytest.approx(35.6, abs=0.2)
    assert got.room_needed_L == pytest.approx(40.0)  # public training page: 4 % of the content
    assert got.rise_m == pytest.approx(0.0356 / 0.135, rel=0.01)
    assert not got.fits
    assert expansion.vented_cistern(150.0, 90.0, 0.135, 0.2).fits


def test_vessel_arithmetic_of_en_12828():
    # EN 12828 annex D, arithmetic: Ve + Vwr = 10 L, p0 1.0, pe 2.5 bar gives 23.3 L
    content = 7.0 / 0.0356
    got = expansion.sealed_vessel(content, 90.0, 5.0, 3.0, precharge=1.0)
    assert got.reserve_L == 3.0
    assert got.final_bar == pytest.approx(2.5)
    assert got.least_L == pytest.approx((got.expansion_L + 3.0) * 3.5 / 1.5)
    assert got.least_L == pytest.approx(23.3, abs=0.3)


def test_small_vessel_keeps_a_fifth():
    got = expansion.sealed_vessel(60.0, 80.0, 4.0)
    assert got.least_L < 15.0
    assert got.reserve_L == pytest.approx(0.2 * got.least_L)
    # it holds just what it must: Boyle from the fill that holds the reserve to the final pressure
    fill = expansion.fill_pressure_bar(got.least_L, got.precharge_bar, got.reserve_L)
    hot = expansion.hot_pressure_bar(got.least_L, got.precharge_bar, fill, got.expansion_L)
    assert hot == pytest.approx(got.final_bar)


@pytest.mark.parametrize("content", [5.0, 60.0, 120.0, 400.0, 1500.0])
@pytest.mark.parametrize("head", [2.0, 6.0, 11.0])
def test_the_least_vessel_reaches_at_most_its_final_pressure(content, head):
    got = expansion.sealed_vessel(content, 85.0, head)
    fill = expansion.fill_pressure_bar(got.least_L, got.precharge_bar, got.reserve_L)
    hot = expansion.hot_pressure_bar(got.least_L, got.precharge_bar, fill, got.expansion_L)
    assert hot <= got.final_bar + 1e-9


def test_a_large_store_needs_a_large_vessel():
    # 1000 L at 90 degC, 1.0 to 2.5 bar: about 83 L plus reserve (arithmetic of the same formula)
    got = expansion.sealed_vessel(1000.0, 90.0, 5.0, precharge=1.0)
    assert got.least_L == pytest.approx(83 + 5 * 3.5 / 1.5, abs=1)


def test_precharge():
    assert expansion.precharge_bar(10.0) == pytest.approx(1.28, abs=0.01)  # EN 12828: static head + 0.3 bar
    assert expansion.precharge_bar(1.0) == 0.7
    # at 110 degC water needs 0.42 to 0.5 bar more (vapour pressure 1.434 bar, IF97)
    assert expansion.precharge_bar(10.0, 110.0) == pytest.approx(1.28 + 0.42, abs=0.02)


def test_final_pressure():
    # EN 12828: setting less 0.5 bar, less 10 % above 5 bar
    assert expansion.final_pressure_bar(3.0) == 2.5
    assert expansion.final_pressure_bar(6.0) == pytest.approx(5.4)
    with pytest.raises(FigureError):
        expansion.final_pressure_bar(0.2)


def test_no_room_below_the_relief_valve():
    with pytest.raises(FigureError, match="no room"):
        expansion.sealed_vessel(200.0, 80.0, 30.0, 3.0)


def test_a_full_vessel_lifts_the_valve():
    assert expansion.hot_pressure_bar(10.0, 1.0, 1.2, 12.0) is None


def test_solar_vessel_takes_the_steam():
    dry = expansion.solar_vessel(25.0, 0.0, 100.0, 8.0)
    steam = expansion.solar_vessel(25.0, 6.0, 100.0, 8.0)
    factor = 6.4 / (5.4 - steam.precharge_bar)
    assert steam.least_L >= dry.least_L + 6.0 * factor * 0.99
    glycol = expansion.solar_vessel(25.0, 6.0, 100.0, 8.0, expansion_share=0.085)
    assert glycol.expansion_L == pytest.approx(2.125)
