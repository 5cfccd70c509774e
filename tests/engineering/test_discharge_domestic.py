"""Discharge pipes against the statutory table, domestic hot water against closed forms and scipy."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from loopwright.engineering import coils, discharge, domestic, water
from loopwright.errors import FigureError


def test_worked_example_of_the_table():
    # Approved Document G3 example: G 1/2, 7 m, 4 bends: 22 mm comes to 10.2 m and fails, 28 mm to 11.0, passes
    row = discharge.pipe_for("G 1/2", 7.0, 4)
    assert row.d2 == "28"
    assert row.equivalent_m(7.0, 4) == pytest.approx(11.0)
    assert discharge.judge("1/2", "22", 7.0, 4) == (False, pytest.approx(10.2), 9.0)
    assert discharge.judge("1/2", "28", 7.0, 4)[0]


# Approved Document G3, table: valve, D1, D2, longest, allowance for a bend
TABLE = [
    ("1/2", "15", "22", 9, 0.8), ("1/2", "15", "28", 18, 1.0), ("1/2", "15", "35", 27, 1.4),
    ("3/4", "22", "28", 9, 1.0), ("3/4", "22", "35", 18, 1.4), ("3/4", "22", "42", 27, 1.7),
    ("1", "28", "35", 9, 1.4), ("1", "28", "42", 18, 1.7), ("1", "28", "54", 27, 2.3),
]  # fmt: skip


@pytest.mark.parametrize(("valve", "d1", "d2", "longest", "bend"), TABLE)
def test_each_row(valve, d1, d2, longest, bend):
    just = discharge.pipe_for(valve, longest - 2 * bend, 2)
    assert (just.d1, just.d2) == (d1, d2)
    over_passes, _, _ = discharge.judge(valve, d2, longest - 2 * bend + 0.01, 2)
    assert not over_passes


def test_beyond_the_table_is_refused():
    with pytest.raises(FigureError, match="Shorten"):
        discharge.pipe_for("3/4", 30.0, 0)
    with pytest.raises(FigureError, match="1/2"):
        discharge.pipe_for("2", 3.0, 0)
    assert discharge.judge("3/4", "22", 1.0, 0)[0] is False
    assert discharge.judge("1/2", "54", 20.0, 1)[0]


def test_limits_of_the_text():
    # Approved Document G3, 3.50 to 3.56: 600 mm to the tundish
    assert discharge.longest_to_tundish_m() == 0.6


def test_mixing_share():
    # 60 and 10 degC to 40 degC: 0.600
    assert domestic.mixing_share(60.0, 10.0, 40.0) == pytest.approx(0.600, abs=1e-3)
    with pytest.raises(FigureError):
        domestic.mixing_share(35.0, 10.0, 40.0)


def test_coil_yield_balances_tap_and_coil():
    got = domestic.coil_yield(10.0, 10.0, [400.0] * 5, [40.0, 50.0, 60.0, 70.0, 75.0])
    tap = 10 / 60 * water.density_kg_m3(10.0) / 1000
    h = water.enthalpy_J_kg
    assert got.reaches
    assert 0 < got.hot_share < 1
    assert got.heat_W == pytest.approx(tap * (h(40.0) - h(10.0)), rel=1e-6)
    again = coils.through_layers(got.coil_kg_s, 10.0, [400.0] * 5, [40.0, 50.0, 60.0, 70.0, 75.0])
    assert again.outlet_C == pytest.approx(got.outlet_C)


def test_a_cool_store_does_not_reach_the_tap():
    got = domestic.coil_yield(15.0, 10.0, [200.0] * 3, [40.0] * 3)
    assert not got.reaches
    assert got.hot_share == 1.0
    # textbook: effectiveness 1 - exp(-NTU) against one temperature
    ntu = 600.0 / (got.coil_kg_s * water.specific_heat_J_kgK(30.0))
    assert got.outlet_C == pytest.approx(10 + 30 * (1 - np.exp(-ntu)), abs=0.1)


def test_litres_before_cool_against_a_stepped_store():
    # scipy steps the store; each step the mixing valve finds its share of the coil
    volume, ua, tap = 0.3, 2500.0, 12.0
    mass = volume * water.density_kg_m3(75.0)

    def slope(_t, y):
        taken = domestic.coil_yield(tap, 10.0, [ua], [y[0]]).heat_W
        return [-taken / (mass * water.specific_heat_J_kgK(y[0]))]

    def cool(_t, y):
        return coils.through_layers(tap / 60 * 0.9997, 10.0, [ua], [y[0]]).outlet_C - 40.0

    cool.terminal = True
    seconds = solve_ivp(slope, (0, 3e4), [75.0], events=cool, rtol=1e-7, max_step=60.0).t[-1]
    litres = seconds * tap / 60 * water.density_kg_m3(10.0) / water.density_kg_m3(40.0)
    assert domestic.litres_before_cool(volume, 75.0, ua, tap) == pytest.approx(litres, rel=0.01)
    # NTU 3.0: even the full flow needs a store of 10 + 30/0.95 = 41.6 degC
    assert domestic.litres_before_cool(volume, 41.0, ua, tap) == 0.0


def test_dead_leg():
    # 10 m of 15 mm copper holds 1.45 L; at 6 L/min it clears in 14.5 s
    assert domestic.dead_leg_seconds(10.0, 0.0136, 6.0) == pytest.approx(14.5, abs=0.1)
