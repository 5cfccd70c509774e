"""Stores against IAPWS densities integrated by scipy, EN 303-5, closed forms and public figures."""

import warnings

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from loopwright.engineering import store, water
from loopwright.errors import FigureError

warnings.filterwarnings("ignore", module="iapws")
from iapws import IAPWS97  # noqa: E402


def test_heat_is_the_integral_of_density_and_specific_heat():
    def rho_cp(t):
        w = IAPWS97(T=t + 273.15, P=0.101325)
        return w.rho * w.cp * 1e3

    want = 1.0 * quad(rho_cp, 30.0, 80.0, epsrel=1e-6)[0]
    assert store.heat_between_J(1.0, 30.0, 80.0) == pytest.approx(want, rel=1e-3)
    assert store.heat_between_J(1.0, 80.0, 30.0) == pytest.approx(-want, rel=1e-3)


def test_a_thousand_litres_over_fifty_kelvin():
    # 1.163 Wh per L and K (one kilocalorie) gives 58.2 kWh; the real density takes 1 to 3 % off
    kwh = store.heat_between_J(1.0, 30.0, 80.0) / 3.6e6
    assert 0.97 * 58.15 < kwh < 0.995 * 58.15


def test_usable_litres_bounds():
    got = store.usable_litres([60.0] * 10, 0.2, 40.0, 10.0)
    # by constant properties: plug 200 * 50/30 = 333, mixed 200 * 20/30 = 133, less the density (983/992)
    assert got.plug_L == pytest.approx(333.3 * 983.2 / 992.2, rel=3e-3)
    assert got.mixed_L == pytest.approx(133.3 * 983.2 / 992.2, rel=3e-3)
    layered = store.usable_litres([15.0] * 5 + [60.0] * 5, 0.2, 40.0, 10.0)
    assert layered.plug_L == pytest.approx(0.5 * got.plug_L)
    assert layered.mixed_L == 0.0
    with pytest.raises(FigureError):
        store.usable_litres([60.0], 0.2, 10.0, 10.0)


def test_mixed_bound_by_stepping_a_stirred_tank():
    # scipy steps a stirred tank with cold coming in, the valve mixing down to 40 degC
    mass = 0.2 * water.density_kg_m3(60.0)
    h = water.enthalpy_J_kg

    def slope(_tap, y):  # per kg at the tap: heat leaving is h(40) - h(10) whatever the share
        return [-(h(40.0) - h(10.0)) / (mass * water.specific_heat_J_kgK(y[0]))]

    def cool(_tap, y):
        return y[0] - 40.0

    cool.terminal = True
    end = solve_ivp(slope, (0, 1e4), [60.0], events=cool, rtol=1e-9).t[-1]
    got = store.usable_litres([60.0], 0.2).mixed_L
    assert got == pytest.approx(end / water.density_kg_m3(40.0) * 1000, rel=1e-4)


def test_buffer_volume_of_en_303_5():
    # EN 303-5:2012, worked number printed in a public manual: 2 h, 32 kW, load 25 kW gives 735 L
    assert store.buffer_volume_L(2.0, 32e3, 25e3, 32e3) == pytest.approx(735.0)
    assert store.buffer_volume_L(0.5, 10e3, 25e3, 10e3) == 300.0
    with pytest.raises(FigureError):
        store.buffer_volume_L(0.0, 32e3, 25e3, 32e3)


def test_standing_loss():
    # British guide's greatest losses as commonly quoted: 300 L 2.9, 500 L 3.9, 1000 L 6.1 kWh a day
    for litres, kwh in {300: 2.9, 500: 3.9, 1000: 6.1}.items():
        assert store.standing_loss_limit_kWh_day(litres) == pytest.approx(kwh, abs=0.06)
    with pytest.raises(FigureError):
        store.standing_loss_limit_kWh_day(5000.0)


def test_cooling_and_heating_against_scipy():
    def slope(_t, y, power=0.0):
        rho_cp = water.density_kg_m3(y[0]) * water.specific_heat_J_kgK(y[0])
        return [(power - 3.0 * (y[0] - 20.0)) / (0.5 * rho_cp)]

    left = solve_ivp(slope, (0, 48 * 3600), [75.0], rtol=1e-9, atol=1e-9).y[0, -1]
    assert store.cooled_C(3.0, 0.5, 75.0, 20.0, 48.0) == pytest.approx(left, abs=0.2)

    def there(_t, y, _p):
        return y[0] - 70.0

    there.terminal = True
    end = solve_ivp(slope, (0, 1e6), [20.0], args=(6000.0,), events=there, rtol=1e-9, atol=1e-9).t[-1]
    got = store.heat_up_hours(0.5, 20.0, 70.0, 6000.0, ua_W_K=3.0)
    assert got == pytest.approx(end / 3600, rel=1e-3)


def test_heat_up_time_by_the_published_rule():
    # BS 6700 annex C: minutes = litres x K / (14.3 x kW)
    minutes = 60 * store.heat_up_hours(0.14, 10.0, 60.0, 6000.0)
    assert minutes == pytest.approx(140 * 50 / (14.3 * 6.0), rel=0.02)
    assert store.heat_up_hours(0.14, 60.0, 50.0, 6000.0) == 0.0
    with pytest.raises(FigureError, match="never"):
        store.heat_up_hours(0.14, 10.0, 60.0, 100.0, ua_W_K=3.0)


def test_litres_per_kilowatt():
    assert store.litres_per_kilowatt(1.0, 20e3) == pytest.approx(50.0)
    assert np.isfinite(store.litres_per_kilowatt(0.0, 1.0))
