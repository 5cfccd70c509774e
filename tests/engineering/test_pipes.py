"""Pipes against the `fluids` library, EN tables, textbook examples and trade sheets."""

import math

import fluids
import numpy as np
import pytest
from fluids import piping

from loopwright.engineering import friction, pipes, water
from loopwright.errors import FigureError


def test_copper_bores():
    # EN 1057, usual British walls (former Table X), bores in mm
    for size, bore in {15: 13.6, 22: 20.2, 28: 26.2, 35: 32.6, 42: 39.6, 54: 51.6}.items():
        assert pipes.bore_m(size, "copper") == pytest.approx(bore * 1e-3)
    assert pipes.bore_m("28 x 1.5") == pytest.approx(0.025)
    assert pipes.bore_m("22x0.9 mm") == pipes.bore_m("22 mm") == pipes.bore_m(22.0)
    assert pipes.tube(28).litres_per_m == pytest.approx(0.539, abs=1e-3)


def test_steel_against_the_medium_series_of_the_library():
    # `fluids` lists BS 1387 medium (EN 10255) in mm: the same walls, and the greatest outside diameters
    listed = zip(piping.DN_MEDIUM_BS1387, piping.MEDIUMo_BS1387, piping.MEDIUMt_BS1387, strict=True)
    by_dn = {int(dn): (outside, wall) for dn, outside, wall in listed}
    for size in pipes.sizes("steel"):
        outside, wall = by_dn[int(size)]
        tube = pipes.tube("DN " + size, "steel")
        assert tube.wall_m * 1e3 == pytest.approx(wall)
        assert outside - 0.7 <= tube.outside_m * 1e3 <= outside


def test_unknown_names_are_refused_with_the_choices():
    with pytest.raises(FigureError, match="22"):
        pipes.bore_m("23")
    with pytest.raises(FigureError, match="steel"):
        pipes.bore_m("22", "lead")
    with pytest.raises(FigureError, match="entry"):
        pipes.loss_k("banana")


def test_every_row_is_a_pipe():
    for material in pipes.materials():
        for size in pipes.sizes(material):
            t = pipes.tube(size, material)
            assert 0.5 < t.bore_m / t.outside_m < 1.0
            assert t.source


def test_next_size_up():
    assert pipes.next_size_up("22") == "28"
    assert pipes.next_size_up("28x1.5") == "35"
    assert pipes.next_size_up("54") is None
    assert pipes.next_size_up("15", "steel") == "20"


@pytest.mark.parametrize("re", [10.0, 800.0, 2299.0])
def test_laminar(re):
    assert friction.darcy_factor(re, 1e-3) == pytest.approx(64 / re)  # any textbook


@pytest.mark.parametrize("rel", [0.0, 1e-5, 5e-5, 1e-4, 1e-3, 1e-2, 0.04])
@pytest.mark.parametrize("re", [4000.0, 5000.0, 1e4, 3e4, 1e5, 1e6, 1e7])
def test_turbulent_against_the_library(re, rel):
    want = fluids.friction.Colebrook(re, rel)
    assert friction.darcy_factor(re, rel) == pytest.approx(want, rel=1e-6)


def test_moody_chart_values():
    # exact Colebrook values as read from any Moody chart
    for re, rel, f in [(5e3, 0, 0.0374), (1e4, 0, 0.03088), (1e5, 1e-3, 0.02217), (1e6, 1e-3, 0.01994)]:
        assert friction.darcy_factor(re, rel) == pytest.approx(f, rel=2e-3)
    # Cengel and Cimbala, 2-inch stainless pipe: f = 0.0174 (from memory)
    assert friction.darcy_factor(126_400, 4.2e-5) == pytest.approx(0.0174, abs=1e-4)


def test_transition_is_a_straight_line():
    low, high = friction.darcy_factor(2300.0, 0), friction.darcy_factor(4000.0, 0)
    assert friction.darcy_factor(3150.0, 0) == pytest.approx(0.5 * (low + high))


def test_pressure_against_the_library():
    t, m = 60.0, 0.15
    for size, material in [("22", "copper"), ("28", "copper"), ("25", "steel"), ("16", "pex")]:
        tube = pipes.tube(size, material)
        rho, mu = water.density_kg_m3(t), water.viscosity_Pa_s(t)
        want = fluids.one_phase_dP(m=m, rho=rho, mu=mu, D=tube.bore_m, roughness=tube.roughness_m, L=7.0)
        v = m / (rho * tube.area_m2)
        want += fluids.dP_from_K(K=4.4, rho=rho, V=v)
        got = pipes.pressure_loss_Pa(m, tube.bore_m, 7.0, 4.4, t, tube.roughness_m)
        assert got == pytest.approx(want, rel=2e-3)
        assert pipes.pressure_loss_Pa(-m, tube.bore_m, 7.0, 4.4, t, tube.roughness_m) == pytest.approx(-got)
        assert pipes.velocity_m_s(m, tube.bore_m, t) == pytest.approx(v)


def test_published_pressure_gradients():
    # public web example for hot water: 1.2 L/s in 2 inch medium steel, 0.54 m/s, about 60 Pa/m
    bore = pipes.bore_m("50", "steel")
    assert pipes.velocity_m_s(1.2 * 0.98, bore, 65) == pytest.approx(0.54, abs=0.01)
    assert pipes.pressure_gradient_Pa_m(1.2 * 0.98, bore, 65, 4.5e-5) == pytest.approx(60, rel=0.1)
    # BS 6700:2006 table D.4 (secondary copy, rounded chart readings of cold copper): kPa/m, +-25 %
    sheet = [(15, 0.10, 0.6), (15, 0.20, 2.3), (15, 0.30, 5), (22, 0.30, 0.65), (28, 0.35, 0.25)]
    for size, litres, kPa in sheet:
        got = pipes.pressure_gradient_Pa_m(litres, pipes.bore_m(size), 10.0)
        assert got / 1000 == pytest.approx(kPa, rel=0.25)


def test_rule_of_thumb_for_small_bore():
    # UK trade (from memory): 15 mm carries about 6 kW at 11 K, close to 0.9 m/s
    m = 6000 / (4190 * 11)
    assert pipes.velocity_m_s(m, pipes.bore_m(15), 75) == pytest.approx(0.9, abs=0.06)


def test_slope_of_the_loss_is_its_derivative():
    for m in (0.0, 1e-6, 1e-3, 0.02, 0.05, 0.2, -0.2):
        args = (0.0202, 5.0, 3.0, 1.5e-6, 983.0, 4.7e-4)
        d = max(1e-9, 1e-6 * abs(m))
        up, _ = friction.loss_and_slope(m + d, *args)
        down, _ = friction.loss_and_slope(m - d, *args)
        _, slope = friction.loss_and_slope(m, *args)
        assert slope > 0
        assert slope == pytest.approx((up - down) / (2 * d), rel=1e-3)


def test_loss_rises_with_flow_everywhere():
    m = np.linspace(-0.3, 0.3, 4001)
    loss, slope = friction.loss_and_slope(m, 0.0202, 5.0, 0.0, 1.5e-6, 983.0, 4.7e-4)
    assert np.all(np.diff(loss) > 0)
    assert np.all(slope > 0)


def test_fittings_of_the_convention():
    # textbook values for sharp entry and exit; the copper trade's Pub. 150 gives a 28 mm elbow 0.83 to 1.30 m
    # of tube, K 0.79 to 1.24 at f = 0.025
    assert pipes.loss_k("entry") == 0.5
    assert pipes.loss_k("exit") == 1.0
    assert 0.79 <= pipes.loss_k("bend") <= 1.24


def test_fittings_sit_within_the_librarys_range():
    # `fluids`: Crane and Hooper figures for the same fittings, which differ among themselves by half
    d = 0.0262
    gate = fluids.fittings.Hooper2K(Di=d / 0.0254, Re=2e4, name="Valve, Gate, Full line size, Beta = 1")
    check = fluids.fittings.Hooper2K(Di=d / 0.0254, Re=2e4, name="Valve, Check, Swing")
    globe = fluids.fittings.Hooper2K(Di=d / 0.0254, Re=2e4, name="Valve, Globe, Standard")
    assert pipes.loss_k("valve_gate") == pytest.approx(gate, rel=0.5)
    assert pipes.loss_k("check_swing") == pytest.approx(check, rel=0.5)
    assert pipes.loss_k("valve_globe") == pytest.approx(globe, rel=0.5)


def test_heat_loss_of_a_bare_pipe():
    # Incropera and DeWitt, example 9.4 (from memory): steam pipe, 0.1 m outside, surface 165 degC,
    # room 23 degC, emissivity 0.85: 347 W/m by convection and 441 W/m by radiation
    pipe = pipes.Tube("steel", "x", 0.1, 0.001, 0.0, 1e6, 0.85, 0.0, "")
    assert pipes.heat_loss_W_m(pipe, 165.0, 23.0) == pytest.approx(347 + 441, rel=0.02)


def test_heat_loss_by_churchill_and_chu():
    # film law of Churchill and Chu 1975 for a horizontal cylinder; air at 313 K from a textbook table
    t, room = 60.0, 20.0
    pipe = pipes.tube("28")
    nu, k, pr = 1.70e-5, 0.0272, 0.705
    ra = 9.81 / 313 * (t - room) * pipe.outside_m**3 / nu**2 * pr
    nusselt = (0.6 + 0.387 * ra ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)) ** 2
    h = nusselt * k / pipe.outside_m + 0.6 * 5.67e-8 * (333.15**4 - 293.15**4) / (t - room)
    want = h * math.pi * pipe.outside_m * (t - room)
    assert pipes.heat_loss_W_m(pipe, t, room) == pytest.approx(want, rel=0.12)


def test_lagging():
    pipe = pipes.tube("22")
    bare = pipes.heat_loss_W_m(pipe, 70, 20)
    lagged = pipes.heat_loss_W_m(pipe, 70, 20, lagging_mm=25)
    # conduction alone bounds it from above: 2 pi k dT / ln(D2/D1)
    assert lagged < 2 * math.pi * 0.04 * 50 / math.log(72 / 22)
    assert 0.1 * bare < lagged < 0.35 * bare
    assert pipes.heat_loss_W_m(pipe, 20, 20) == 0.0
    assert pipes.heat_loss_W_m(pipe, 10, 20) < 0.0
    with pytest.raises(FigureError):
        pipes.heat_loss_W_m(pipe, 70, 20, lagging_mm=-1)
