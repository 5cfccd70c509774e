"""Water with antifreeze against the table it rests on, and within the solver."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering import friction, steady
from loopwright.engineering.drawn_parts import drawn_fluid
from loopwright.engineering.fluid import WATER, fluid_of, mixture
from loopwright.errors import FigureError
from loopwright.waterways import Waterways
from loopwright.waterways.waters import waters

from . import nets

# Aqueous propylene glycol by volume, handbook of fundamentals 2001: (percent, degC, kg/m3, J/(kg K), mPa s)
TABLE = [
    (20, 20, 1019.0, 3973, 1.996),
    (20, 80, 986.4, 4104, 0.568),
    (30, 20, 1028.3, 3848, 3.069),
    (30, 40, 1018.4, 3903, 1.618),
    (30, 80, 992.4, 4013, 0.700),
    (40, 20, 1036.2, 3702, 4.623),
    (40, 60, 1012.3, 3834, 1.323),
    (40, 80, 997.2, 3900, 0.889),
    (50, 40, 1031.0, 3609, 3.034),
    (50, 80, 1001.0, 3763, 1.126),
]


@pytest.mark.parametrize(("percent", "celsius", "rho", "cp", "mu"), TABLE)
def test_the_mixture_follows_the_table(percent, celsius, rho, cp, mu, deviation):
    fluid = mixture(float(percent))
    deviation("antifreeze density", "handbook table", fluid.density_kg_m3(celsius), rho, 0.001)
    deviation("antifreeze specific heat", "handbook table", fluid.specific_heat_J_kgK(celsius), cp, 0.005)
    deviation("antifreeze viscosity", "handbook table", 1000 * fluid.viscosity_Pa_s(celsius), mu, 0.02)


def test_enthalpy_and_slope_are_the_integral_and_the_derivative():
    fluid = mixture(35.0)
    got = fluid.enthalpy_J_kg(80.0) - fluid.enthalpy_J_kg(15.0)
    assert got == pytest.approx(quad(fluid.specific_heat_J_kgK, 15.0, 80.0)[0], rel=1e-9)
    for t in (15.0, 40.0, 75.0, 105.0):
        slope = (fluid.density_kg_m3(t + 1e-3) - fluid.density_kg_m3(t - 1e-3)) / 2e-3
        assert fluid.density_slope(t) == pytest.approx(slope, rel=1e-5)


def test_words_name_the_mixture():
    assert fluid_of("water with 40 % propylene glycol")[0].name == mixture(40.0).name
    assert fluid_of("glycol 25%")[0].name == mixture(25.0).name
    assert fluid_of("water") == (WATER, "") == fluid_of(None)
    found, supposed = fluid_of("antifreeze")
    assert found.name == mixture(40.0).name and "40 %" in supposed
    with pytest.raises(FigureError, match="outside the table"):
        fluid_of("80 % glycol")


def test_a_gravity_loop_of_antifreeze_balances_by_hand():
    # m from g H (rho_cold - rho_hot) = friction, hot by Q = m dh; properties of the mixture, scalar root by scipy
    fluid, power, height, length = mixture(40.0), 6000.0, 3.0, 12.0
    net = nets.loop(power, height, nets.CU28, length, 6.0)
    source, pipe = net.branches[0].cells[1], nets.pipe_cell(height / 2)
    net = replace(net.with_branch(replace(net.branches[0], cells=(source, pipe, pipe))), fluid=fluid)

    def hot(m):
        return brentq(lambda t: m * (fluid.enthalpy_J_kg(t) - fluid.enthalpy_J_kg(50.0)) - power, 50.0, 140.0)

    def gap(m):
        rho, mu = fluid.density_kg_m3(hot(m)), fluid.viscosity_Pa_s(hot(m))
        loss, _ = friction.loss_and_slope(m, nets.CU28, length, 6.0, 1.5e-6, rho, mu)
        return 9.80665 * height * (fluid.density_kg_m3(50.0) - rho) - loss

    want = brentq(gap, power / (3900 * 50), 1.0)
    answer = steady.steady(net)
    assert answer.flow_kg_s("riser") == pytest.approx(want, rel=2e-3)
    assert abs(answer.ending.balance.gap_W) < 1e-3
    plain = steady.steady(replace(net, fluid=WATER))
    # in this loop it swells more, which drives more; it is thicker and carries less heat a kilogram
    assert answer.flow_kg_s("riser") > 1.02 * plain.flow_kg_s("riser")


def test_a_solar_water_is_what_its_collector_says():
    s = draw.sheet("Sun")
    s.add("solar_collector", "sun", x_m=0.0, height_m=4.0, fluid="water with 30 % propylene glycol")
    ways = Waterways(s.done(), standard_catalogue())
    (of,) = [w for w in waters(ways) if w.sources] or [None]
    assert of is None or drawn_fluid(ways, of)[0].name == mixture(30.0).name


def test_all_shares_are_smooth():
    for percent in (20.0, 33.0, 50.0):
        fluid, t = mixture(percent), np.linspace(5, 108, 200)
        assert np.all(np.diff(fluid.density_kg_m3(t)) < 0.0) and np.all(np.diff(fluid.viscosity_Pa_s(t)) < 0.0)
        assert math.isfinite(fluid.expansion_fraction(110.0))
