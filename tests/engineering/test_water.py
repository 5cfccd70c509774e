"""Water against IAPWS-97 (library `iapws`), Kell's printed table and public steam tables."""

import warnings

import numpy as np
import pytest

from loopwright.engineering import water
from loopwright.errors import FigureError

warnings.filterwarnings("ignore", module="iapws")
from iapws import IAPWS97  # noqa: E402

TEMPERATURES = [0.5, 1, 4, 10, 15, 20, 25, 30, 40, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 99, 100, 105, 110]


def reference(t: float) -> IAPWS97:
    """Liquid at 1 atm, or on the saturation line above its boiling point."""
    return IAPWS97(T=t + 273.15, P=0.101325) if t < 99.5 else IAPWS97(T=t + 273.15, x=0)


@pytest.mark.parametrize("t", TEMPERATURES)
def test_properties_agree_with_iapws(t):
    state = reference(t)
    assert water.density_kg_m3(t) == pytest.approx(state.rho, rel=2e-4)
    assert water.specific_heat_J_kgK(t) == pytest.approx(state.cp * 1e3, rel=2e-3)
    assert water.viscosity_Pa_s(t) == pytest.approx(state.mu, rel=1e-2)


@pytest.mark.parametrize(("a", "b"), [(10, 60), (40, 80), (0.5, 95)])
def test_enthalpy_difference_agrees_with_iapws(a, b):
    want = (reference(b).h - reference(a).h) * 1e3
    assert water.enthalpy_J_kg(b) - water.enthalpy_J_kg(a) == pytest.approx(want, rel=1e-3)


def test_density_equals_kells_printed_table():
    # Kell 1975, table at 1 atm
    printed = {0: 999.840, 4: 999.972, 10: 999.700, 20: 998.204, 40: 992.216, 60: 983.199, 80: 971.798}
    for t, rho in printed.items():
        assert water.density_kg_m3(t) == pytest.approx(rho, abs=2e-3)


def test_density_is_greatest_at_four_degrees():
    # maximum density at 3.98 degC: any handbook
    t = np.linspace(0, 10, 1001)
    assert t[np.argmax(water.density_kg_m3(t))] == pytest.approx(3.98, abs=0.05)


def test_slopes_are_the_derivatives():
    for t in (2.0, 20.0, 60.0, 108.0):
        d = 1e-3
        assert water.raw_density_slope(t) == pytest.approx(
            (water.raw_density_kg_m3(t + d) - water.raw_density_kg_m3(t - d)) / (2 * d), rel=1e-5, abs=1e-8
        )
        assert water.raw_specific_heat_J_kgK(t) == pytest.approx(
            (water.raw_enthalpy_J_kg(t + d) - water.raw_enthalpy_J_kg(t - d)) / (2 * d), rel=1e-6
        )


def test_enthalpy_and_back():
    for t in (0.0, 37.0, 109.0):
        assert water.temperature_at_enthalpy_C(water.enthalpy_J_kg(t)) == pytest.approx(t, abs=1e-8)


def test_viscosity_at_twenty_degrees():
    # 1.0016 mPa s at 20 degC and 1 atm: the internationally agreed reference value (from memory)
    assert water.viscosity_Pa_s(20.0) == pytest.approx(1.0016e-3, rel=2e-3)


def test_expansion_agrees_with_the_trade_table():
    # public German trade table "Ausdehnung von Wasser", V/V0 relative to 10 degC
    for t, percent in {40: 0.75, 60: 1.67, 80: 2.86, 90: 3.55, 100: 4.31, 110: 5.11}.items():
        assert 100 * water.expansion_fraction(t) == pytest.approx(percent, abs=0.03)
    assert water.expansion_fraction(10.0) == 0.0
    assert water.expansion_fraction(60.0, 20.0) < water.expansion_fraction(60.0, 10.0)


def test_boiling_agrees_with_if97():
    # IAPWS-IF97 release, table 36: T_sat(0.1 MPa) = 372.755919 K, T_sat(1 MPa) = 453.035632 K
    assert water.boiling_C(1e5) + 273.15 == pytest.approx(372.755919, abs=1e-6)
    assert water.boiling_C(1e6) + 273.15 == pytest.approx(453.035632, abs=1e-6)
    # table 35: p_sat(300 K) = 3536.58941 Pa
    assert water.vapour_pressure_Pa(300 - 273.15) == pytest.approx(3536.58941, rel=1e-8)
    # recomputed from IF97
    for bar, t in {1.013: 99.97, 1.2: 104.78, 1.5: 111.35, 2.0: 120.21, 3.0: 133.53, 4.0: 143.61}.items():
        assert water.boiling_C(bar * 1e5) == pytest.approx(t, abs=0.01)


def test_boiling_under_head():
    # 5 m of water is 0.47 to 0.49 bar: 110.9 to 111.3 degC by IF97
    assert 110.5 < water.boiling_under_head_C(5.0) < 111.4
    assert water.boiling_under_head_C(0.0) == pytest.approx(99.97, abs=0.01)
    # the same trade table as above, gauge bar over an atmosphere of 1 bar (it prints 0.013 at 100 degC)
    for gauge_bar, t in {0.013: 100, 0.208: 105, 0.433: 110, 0.985: 120, 1.701: 130}.items():
        assert water.boiling_C(1e5 * (1 + gauge_bar)) == pytest.approx(t, abs=0.1)


@pytest.mark.parametrize("t", [-0.1, 110.5, float("nan"), 400.0])
def test_outside_the_range_is_refused(t):
    for figure in (water.density_kg_m3, water.specific_heat_J_kgK, water.viscosity_Pa_s, water.enthalpy_J_kg):
        with pytest.raises(FigureError):
            figure(t)
    with pytest.raises(FigureError):
        water.density_kg_m3(np.array([20.0, t]))


def test_pressure_outside_the_range_is_refused():
    for p in (0.0, -5.0, 5e6):
        with pytest.raises(FigureError):
            water.boiling_C(p)
