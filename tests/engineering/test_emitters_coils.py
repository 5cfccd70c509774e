"""Emitters against the public EN 442 conversion table, coils against textbook effectiveness and an ODE."""

import math

import pytest
from scipy.integrate import solve_ivp

from loopwright.engineering import coils, emitters, water
from loopwright.errors import FigureError

# public conversion table for n = 1.3 (recomputed from EN 442)
FACTORS = {5: 0.050, 10: 0.123, 20: 0.304, 30: 0.515, 40: 0.748, 45: 0.872, 50: 1.0, 60: 1.267, 70: 1.549}


@pytest.mark.parametrize(("dt", "factor"), FACTORS.items())
def test_en442_factors(dt, factor):
    assert emitters.output_W(1000.0, 20 + dt + 5, 20 + dt - 5) == pytest.approx(1000 * factor, abs=0.6)


def test_a_cold_emitter_takes_heat():
    assert emitters.output_W(1000.0, 10, 10, 20) == pytest.approx(-emitters.output_W(1000.0, 30, 30, 20))


def test_return_temperature_closes_the_balance():
    # nominal conditions of EN 442: 75/65/20 at the flow that carries the nominal output
    m = 1500.0 / (water.enthalpy_J_kg(75.0) - water.enthalpy_J_kg(65.0))
    assert emitters.return_C(1500.0, m, 75.0, 20.0) == pytest.approx(65.0, abs=1e-6)
    assert emitters.return_C(1500.0, 1e-5, 75.0, 20.0) == 20.0  # a trickle cools to the room
    assert emitters.return_C(1500.0, 0.02, 10.0, 20.0) > 10.0  # warmed by the room
    with pytest.raises(FigureError):
        emitters.return_C(1500.0, 0.0, 75.0)


def test_effectiveness_of_a_still_side():
    # textbook values: Kays and London
    for ntu, e in {0.5: 0.393, 1: 0.632, 2: 0.865, 3: 0.950, 5: 0.993}.items():
        assert coils.effectiveness_still(ntu) == pytest.approx(e, abs=6e-4)


def test_effectiveness_in_counterflow():
    # limits of the same textbook formula, and balanced flows NTU/(1+NTU)
    assert coils.effectiveness_counterflow(2.0, 0.0) == pytest.approx(coils.effectiveness_still(2.0))
    assert coils.effectiveness_counterflow(3.0, 1.0) == pytest.approx(0.75)
    assert coils.effectiveness_counterflow(3.0, 1 - 1e-6) == pytest.approx(0.75, abs=1e-5)
    # Incropera, table 11.4 by arithmetic: NTU 1, Cr 0.5 gives 0.565
    assert coils.effectiveness_counterflow(1.0, 0.5) == pytest.approx(0.5647, abs=1e-3)


def test_coil_through_layers_against_an_integrated_profile():
    # scipy integrates dT/dA = UA (T_layer - T)/(m cp) through the same layers, with cp of the water itself
    m, inlet = 0.1, 10.0
    layers = [20.0, 35.0, 50.0, 65.0, 75.0]
    ua = [300.0, 300.0, 400.0, 500.0, 500.0]
    t = inlet
    for a, layer in zip(ua, layers, strict=True):

        def slope(_x, y, a=a, layer=layer):
            return [a * (layer - y[0]) / (m * water.specific_heat_J_kgK(y[0]))]

        t = solve_ivp(slope, (0, 1), [t], rtol=1e-9, atol=1e-9).y[0, -1]
    got = coils.through_layers(m, inlet, ua, layers)
    assert got.outlet_C == pytest.approx(t, abs=0.02)
    taken = m * (water.enthalpy_J_kg(t) - water.enthalpy_J_kg(inlet))
    assert got.heat_to_store_W == pytest.approx(-taken, rel=1e-3)
    assert sum(got.heat_by_layer_W) == pytest.approx(got.heat_to_store_W)


def test_exchanger_heat():
    # UA large against both streams: the smaller stream reaches the other inlet
    q = coils.exchanger_heat_W(1e6, 0.05, 70.0, 0.5, 10.0)
    assert q == pytest.approx(0.05 * water.specific_heat_J_kgK(70.0) * 60.0, rel=1e-3)
    assert coils.exchanger_heat_W(1e3, 0.0, 70.0, 0.5, 10.0) == 0.0


def test_impossible_inputs_are_refused():
    with pytest.raises(FigureError):
        coils.effectiveness_still(-1.0)
    with pytest.raises(FigureError):
        coils.through_layers(0.0, 10.0, [1.0], [50.0])
    with pytest.raises(FigureError):
        coils.through_layers(0.1, 10.0, [1.0], [50.0, 60.0])
    assert math.isclose(coils.effectiveness_still(0.0), 0.0)
