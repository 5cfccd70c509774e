"""Help pages of the computations: complete, named by the figures, and their worked numbers worked out again."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from loopwright.engineering import coils, discharge, domestic, emitters, expansion, friction, pipes, store, water
from loopwright.engineering.fluid import mixture
from loopwright.engineering.pages import ORDER, names, page
from loopwright.errors import LoopwrightError

from . import nets

SECTIONS = ("What it is for", "Equation", "Symbols", "Validity", "Worked example", "Source")
BORE = 0.0262  # EN 1057, 28 x 0.9
KG_S = 400 / 3600


def riser_flow():
    from loopwright.engineering import steady

    net = nets.loop(8000.0, 3.0, length_m=0.0, k=40.0)
    source, pipe = net.branches[0].cells[1], nets.pipe_cell(1.5)
    answer = steady.steady(net.with_branch(replace(net.branches[0], cells=(source, pipe, pipe))))
    return answer.flow_kg_s("riser"), answer.cells_C("riser")[0]


def vessel():
    return expansion.sealed_vessel(200.0, 80.0, 5.0, 3.0, 1.0)


def filled():
    return expansion.fill_pressure_bar(25, 1.0, 3.0)


def drain():
    return discharge.pipe_for("1/2", 7, 3)


def tap():
    return domestic.coil_yield(18.0, 10.0, [125.0] * 10, [80.0] * 10)


# the numbers as the page prints them, and the computation that must give them
WORKED = {
    "water": lambda: [
        f"{water.density_kg_m3(60):.1f}",
        f"{water.density_kg_m3(80):.1f}",
        f"{9.80665 * (water.density_kg_m3(60) - water.density_kg_m3(80)):.1f}",
        f"{100 * water.expansion_fraction(80):.2f} %",
        f"{water.boiling_under_head_C(5.0):.1f} °C",
    ],
    "antifreeze": lambda: [
        f"{mixture(40).density_kg_m3(60):.0f}",
        f"{mixture(40).specific_heat_J_kgK(60) / 1000:.2f}",
        f"{1000 * mixture(40).viscosity_Pa_s(60):.2f} mPa s",
    ],
    "pipe-friction": lambda: [
        f"{pipes.velocity_m_s(KG_S, BORE, 70):.3f} m/s",
        f"{pipes.reynolds(KG_S, BORE, 70):,.0f}".replace(",", " "),
        f"{friction.darcy_factor(pipes.reynolds(KG_S, BORE, 70), 1.5e-6 / BORE):.4f}",
        f"{pipes.pressure_gradient_Pa_m(KG_S, BORE, 70):.1f} Pa a metre",
    ],
    "fittings": lambda: [f"{pipes.pressure_loss_Pa(KG_S, BORE, 0.0, pipes.loss_k('bend'), 70):.1f} Pa"],
    "pipe-heat-loss": lambda: [
        f"{pipes.heat_loss_W_m(pipes.tube('22'), 70, 20):.1f} W/m bare",
        f"{pipes.heat_loss_W_m(pipes.tube('22'), 70, 20, 20):.1f} W/m with 20 mm",
    ],
    "flow-network": lambda: [f"{riser_flow()[0]:.4f} kg/s", f"{riser_flow()[1]:.1f} °C"],
    "emitters": lambda: [f"{emitters.output_W(1500, 55, 45):.0f} W"],
    "coils": lambda: [
        f"{coils.through_layers(0.3, 10.0, [125.0] * 10, [80.0] * 10).outlet_C:.1f} °C",
        f"{coils.exchanger_heat_W(1500.0, 0.2, 70.0, 0.2, 10.0) / 1000:.1f} kW",
    ],
    "store": lambda: [
        f"{store.heat_between_J(0.25, 40, 80) / 3.6e6:.2f} kWh",
        f"{store.heat_up_hours(0.25, 40, 80, 8000):.2f} h",
        f"{store.usable_litres([80], 0.25).plug_L:.0f} litres",
        f"and {store.usable_litres([80], 0.25).mixed_L:.0f}",
        f"{store.casing_W_K(0.47, 1.45, 80):.2f} W/K",
        f"{store.cooled_C(store.casing_W_K(0.47, 1.45, 80), 0.25, 80, 20, 24):.1f} °C",
        f"{store.buffer_volume_L(2, 32e3, 25e3, 32e3):.0f} litres",
    ],
    "hot-water": lambda: [
        f"{18 * tap().hot_share:.1f} l/min go",
        f"{tap().outlet_C:.1f} °C",
        f"{tap().heat_W / 1000:.1f} kW",
        f"{domestic.litres_before_cool(0.25, 80, 1250, 18):.0f} litres",
        f"{domestic.dead_leg_seconds(6, pipes.bore_m('15'), 9):.1f} s",
        f"{domestic.mixing_share(60, 10, 40):.3f}",
    ],
    "expansion": lambda: [f"{expansion.expansion_L(326, 95):.1f} litres", f"by {expansion.expansion_L(100, 80):.2f}"],
    "cistern": lambda: [
        f"{expansion.vented_cistern(326, 95, 0.26, 0.2).room_needed_L:.1f} litres",
        f"{1000 * expansion.vented_cistern(326, 95, 0.26, 0.2).rise_m:.0f} mm",
    ],
    "vessel": lambda: [
        f"{vessel().expansion_L:.2f}",
        f"{vessel().least_L:.1f} litres",
        f"{filled():.2f} bar",
        f"{expansion.hot_pressure_bar(25, 1.0, filled(), vessel().expansion_L):.2f} bar",
    ],
    "discharge": lambda: [
        f"{discharge.rows('1/2')[0].equivalent_m(7, 3):.1f} m",
        f"{drain().equivalent_m(7, 3):.1f} m of {drain().longest_m:.0f}",
        f"so {drain().d2} mm",
    ],
    "heat-balance": lambda: [f"{8 + 15 - 7.8:.1f} kW"],
    "pump-duty": lambda: [f"{5 * (1 - (2 / 3) ** 2):.2f} m"],
    "runs": lambda: [f"{100 * (1 - math.exp(-1)):.1f} %", f"{100 * _tenth():.1f} %", *_charge(), *_cooling()],
}


def _charge() -> list[str]:
    from loopwright.engineering.runs.heat import Charge

    charge = Charge(8000.0, 36e6, 900.0, 0.7)
    left = charge.mean_W(3600.0 + 1350.0, 3600.0 + 1351.0)
    return [
        f"given {charge.given_J(900.0) / 3.6e6:.1f} kWh by then and {charge.given_J(3600.0) / 3.6e6:.1f} kWh",
        f"{left / 1000.0:.1f} kW are left",
    ]


def _cooling() -> list[str]:
    """The coil that the log-boiler sample gets, brought to 2 bar and water of 10 degC."""
    import sys
    from pathlib import Path

    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
    import others

    from loopwright.catalogue import standard_catalogue
    from loopwright.engineering.runs.cooling import cooler_of
    from loopwright.waterways import Waterways
    from loopwright.waterways.views import POWER_CUT

    found, _ = cooler_of(Waterways(others.log_boiler().b.done(), standard_catalogue()), "boiler", POWER_CUT, 10.0)
    assert found is not None
    found = replace(found, full_kg_s=500.0 / 3600.0)
    return [f"passes {found.ua_W_K:.0f} W/K"] + [
        f"{3600.0 * found.flow_kg_s(t):.0f} l/h {said}{found.heat_W(t) / 1000.0:.1f} kW at {t:g} °C"
        for t, said in ((97.5, "carry off "), (100.0, ""))
    ]


def _tenth() -> float:
    """Stirred tanks in a row, closed form: the regularised incomplete gamma function."""
    from scipy.special import gammainc

    return float(gammainc(10, 10))


@pytest.mark.parametrize("name", names())
def test_a_page_is_whole(name):
    found = page(name)
    assert found.title and found.validity and found.source
    for heading in SECTIONS:
        assert found.section(heading), heading
    assert "| symbol | meaning | unit |" in found.section("Symbols")
    assert found.validity in found.text


@pytest.mark.parametrize("name", sorted(WORKED))
def test_the_numbers_of_its_example_come_out(name):
    text = page(name).section("Worked example").replace("\n", " ")
    for number in WORKED[name]():
        assert number in text, number


def test_every_page_has_a_place_and_a_worked_example():
    assert set(names()) == set(ORDER), "each page has its place in ORDER of engineering/pages.py"
    assert set(names()) == set(WORKED), "each page has its worked numbers in WORKED of this test"


def test_a_page_that_is_not_there_says_which_are():
    with pytest.raises(LoopwrightError, match="no computation") as bad:
        page("../sources")
    assert "flow-network" in bad.value.do
