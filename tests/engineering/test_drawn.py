"""The flow network of a drawing, held to balances written here from scratch.

References: density and heat of water by IAPWS-IF97 (library `iapws`), viscosity likewise, friction factors by the
library `fluids` (Colebrook), roots by scipy. Heights and lengths are counted by hand from the coordinates drawn.
Loss coefficients: bend 0.9, waterway of a stove 2.0, entry 0.5, exit 1.0, radiator 3.0, ball valve 0.1 (handbook
values; the same table that the drawing uses, since they are conventions and not results).
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import fluids
import msgspec
import numpy as np
import pytest
from iapws import IAPWS97
from scipy.optimize import brentq

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.circulation import (
    circulation,
    circulations,
    enlarged,
    lowered,
    most_heat_W,
    once_running,
    with_power,
)
from loopwright.engineering.drawn import drawn
from loopwright.engineering.drawn_parts import Charge, Heat
from loopwright.errors import FigureError
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL, POWER_CUT
from loopwright.waterways.waters import waters

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))

CATALOGUE = standard_catalogue()
G = 9.80665
CU28, CU22, CU15, ROUGH = 0.0262, 0.0202, 0.0136, 1.5e-6  # EN 1057, 28 x 0.9, 22 x 0.9, 15 x 0.7; drawn tube
STORE_C = 50.0


@cache
def water(t: float) -> IAPWS97:
    return IAPWS97(T=t + 273.15, P=0.15)


def friction_Pa(m: float, bore: float, length: float, k: float, t: float) -> float:
    """Darcy-Weisbach with the factor of `fluids`; laminar to Re 2300, straight to Re 4000 as the convention is."""
    w = water(round(t, 2))
    area = np.pi / 4 * bore**2
    re = m * bore / area / w.mu
    if re < 2300:
        f = 64 / re
    else:
        f = fluids.friction.friction_factor(Re=max(re, 4000), eD=ROUGH / bore, Method="Colebrook")
        if re < 4000:
            f = 64 / 2300 + (f - 64 / 2300) * (re - 2300) / 1700
    return (f * length / bore + k) * m * m / (2 * w.rho * area**2)


def hotter(t: float, m: float, watts: float) -> float:
    """Temperature of water after taking up heat."""
    h = water(t).h * 1000 + watts / m
    return IAPWS97(P=0.15, h=h / 1000).T - 273.15


def ways_of(sheet: Sheet) -> Waterways:
    return Waterways(sheet, CATALOGUE)


def with_part(ways: Waterways, part: str):
    return next(w for w in waters(ways) if part in w.parts)


# -- one gravity loop


def gravity(power_kw: float = 3.0, top: float = 2.2, size: str = "28", dead_end: bool = False) -> Sheet:
    """A stove beside a store that stands at 50 °C: up at x = 1, across at `top`, straight back at 0.2."""
    s = draw.sheet("Gravity pair")
    stove = s.add("boiler_stove", "stove", x_m=0.0, height_m=0.0, power_kw=power_kw, thermal_centre_m=0.4)
    taps = {
        "flow": {"height_m": top - 0.1, "side": "left", "purpose": "source_flow"},
        "return": {"height_m": 0.1, "side": "left", "purpose": "source_return"},
    }
    if dead_end:
        taps["drain"] = {"height_m": 0.05, "side": "right", "purpose": "drain", "size": "15"}
    tank = s.store(
        "store",
        x_m=3.0,
        height_m=0.1,
        volume_l=500.0,
        body_diameter_m=0.5,
        body_height_m=2.6,
        design_temp_c=STORE_C,
        tappings=taps,
    )
    s.pipe(stove["flow"], tank["flow"], size, via=[(1.0, 0.68), (1.0, top)], id="out")
    s.pipe(tank["return"], stove["return"], size, id="back")
    if dead_end:
        cock = s.add("drain_cock", "DC", x_m=4.2, height_m=0.0)
        s.pipe(tank["drain"], cock["a"], "15")
    return s.done()


def gravity_by_hand(power_W: float, top: float, bore: float) -> tuple[float, float]:
    """Flow kg/s and flow temperature: buoyancy of the hot column above the heating surface against all losses."""
    reach = 0.25 + 0.08 + 0.03  # body, insulation, stub: the tapping's end
    out = (1.0 - 0.31) + (top - 0.68) + (3.0 - reach - 1.0)
    back = 3.0 - reach - 0.31
    head = top - 0.4  # from the heating surface to the flow tapping

    def gap(m: float) -> float:
        hot = hotter(STORE_C, m, power_W)
        drive = G * head * (water(STORE_C).rho - water(round(hot, 3)).rho)
        # a stove's own waterway at the middle temperature
        loss = friction_Pa(m, bore, out, 2 * 0.9 + 1.0, hot) + friction_Pa(m, bore, back, 0.5, STORE_C)
        return drive - loss - friction_Pa(m, bore, 0.0, 2.0, (hot + STORE_C) / 2)

    m = brentq(gap, power_W / 4190 / 58, 1.0, xtol=1e-7)
    return m, hotter(STORE_C, m, power_W)


@pytest.mark.parametrize(
    ("power_kw", "top", "size", "bore"),
    [(3.0, 2.2, "28", CU28), (6.0, 2.6, "28", CU28), (1.5, 1.2, "22", CU22), (0.4, 1.6, "15", CU15)],
)
def test_a_drawn_gravity_loop_balances_as_by_hand(power_kw: float, top: float, size: str, bore: float):
    ways = ways_of(gravity(power_kw, top, size))
    got = circulation(ways, with_part(ways, "stove"), POWER_CUT)
    m, hot = gravity_by_hand(1000 * power_kw, top, bore)
    assert got.steady
    through = got.through("stove")
    assert through.flow_kg_s == pytest.approx(m, rel=0.015)
    assert through.inlet_C == pytest.approx(STORE_C, abs=0.1)
    assert through.outlet_C - STORE_C == pytest.approx(hot - STORE_C, rel=0.015)
    assert got.flow_kg_s("out") == pytest.approx(m, rel=0.015)  # drawn from stove to store, so towards its end b
    assert got.flow_kg_s("back") == pytest.approx(m, rel=0.015)
    heads = got.heads("stove")
    assert heads.drive_Pa == pytest.approx(G * (top - 0.4) * (water(STORE_C).rho - water(round(hot, 3)).rho), rel=0.015)
    assert heads.loss_Pa == pytest.approx(heads.drive_Pa, abs=0.01)


def test_most_heat_before_95_is_the_power_at_which_the_balance_by_hand_gives_95():
    ways = ways_of(gravity())
    got = circulation(ways, with_part(ways, "stove"), POWER_CUT)
    by_hand = brentq(lambda w: gravity_by_hand(w, 2.2, CU28)[1] - 95.0, 3000.0, 34e3, xtol=1.0)
    assert most_heat_W(got.drawn, "stove") == pytest.approx(by_hand, rel=0.03)


def test_a_larger_pipe_and_more_height_give_what_a_drawing_of_them_gives():
    ways = ways_of(gravity(5.0))
    got = circulation(ways, with_part(ways, "stove"), POWER_CUT)
    larger = enlarged(ways, got.pipes_on("stove"))
    assert {p.size for p in larger.sheet.pipes.values()} == {"35"}
    _, wide = once_running(drawn(larger, with_part(larger, "stove"), POWER_CUT), "stove")
    m, _ = gravity_by_hand(5000.0, 2.2, 0.0326)  # 35 x 1.2, EN 1057
    assert wide.flow_kg_s == pytest.approx(m, rel=0.015)
    _, higher = once_running(lowered(got.drawn, "stove"), "stove")
    m, _ = gravity_by_hand(5000.0, 2.7, CU28)
    assert higher.flow_kg_s == pytest.approx(m, rel=0.02)  # the pipe back grows by as much too


def test_dead_ends_change_nothing():
    """Water that cannot go round is no part of it (continuity)."""
    plain, capped = ways_of(gravity()), ways_of(gravity(dead_end=True))
    one = drawn(plain, with_part(plain, "stove"), POWER_CUT)
    two = drawn(capped, with_part(capped, "stove"), POWER_CUT)
    assert one.net == two.net


def test_a_fire_let_out_or_too_hot_is_said():
    ways = ways_of(gravity(60.0))
    water_of_stove = with_part(ways, "stove")
    boiling = circulation(ways, water_of_stove, POWER_CUT)
    assert boiling.answer.outcome == "boils" and not boiling.steady
    out = circulation(ways, water_of_stove, msgspec.structs.replace(POWER_CUT, out=frozenset({"stove"})))
    assert "stove" not in out.drawn.at_cell and out.answer.ending.balance.source_W == 0.0


def test_a_missing_size_names_its_pipe():
    sheet = gravity()
    bad = msgspec.structs.replace(sheet.pipes["out"], size="29")
    ways = ways_of(msgspec.structs.replace(sheet, pipes={**sheet.pipes, "out": bad}))
    with pytest.raises(FigureError, match="out"):
        drawn(ways, with_part(ways, "stove"), POWER_CUT)


# -- pumps, radiators, coils


def pumped(head_m: float = 3.0, most_m3h: float = 2.0, output_w: float = 2000.0) -> Sheet:
    """A store at 70 °C, a pump and one radiator on 15 mm pipe of 20 m and a pipe of 5 m back."""
    s = draw.sheet("Pumped radiator")
    tank = s.store(
        "store",
        x_m=0.0,
        height_m=0.0,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.6,
        design_temp_c=70.0,
        tappings={
            "flow": {"height_m": 1.2, "side": "right", "purpose": "load_flow"},
            "return": {"height_m": 0.4, "side": "right", "purpose": "load_return"},
        },
    )
    pump = s.add("pump", "P1", x_m=1.0, height_m=1.2, head_m=head_m, flow_max_m3h=most_m3h)
    valve = s.add("isolating_valve", "V1", x_m=2.0, height_m=1.2)
    rad = s.add("radiator", "R1", x_m=4.5, height_m=1.2 - 0.552, output_w=output_w)
    s.pipe(tank["flow"], pump["a"], "22", id="one")
    s.pipe(pump["b"], valve["a"], "22", id="two")
    s.pipe(valve["b"], rad["flow"], "15", id="three", extra_length_m=18.0, extra_bends=4)
    s.pipe(rad["return"], tank["return"], "15", id="four", via=[(3.0, 0.696), (3.0, 0.4)])
    return s.done()


def test_a_pumped_radiator_balances_as_by_hand():
    """Pump: the parabola through both ends of its curve. Radiator: EN 442 on the arithmetic mean."""
    ways = ways_of(pumped())
    got = circulation(ways, with_part(ways, "P1"), NORMAL)
    one = (1.0 - 0.12) - 0.36
    two = 1.0 - 0.24
    three = (4.0 - 2.12) + 18.0
    four = (4.0 - 3.0) + (0.696 - 0.4) + (3.0 - 0.36)
    shutoff, most = 998.0 * G * 3.0, 998.0 * 2.0 / 3600

    def back_C(m: float) -> float:
        def gap(t: float) -> float:
            return m * 1000 * (water(70.0).h - water(t).h) - 2000.0 * ((70.0 + t) / 2 / 50 - 20 / 50) ** 1.3

        return brentq(gap, 25.0, 69.99)

    def gap(m: float) -> float:
        t = back_C(m)
        # a hot column falls to the radiator's middle and a cooler one on to the lower tapping, the store's rises
        drive = G * ((water(round(t, 3)).rho - water(70.0).rho) * (0.948 - 0.4))
        loss = friction_Pa(m, CU22, one + two, 0.5 + 0.0, 70.0) + friction_Pa(m, CU15, four, 2 * 0.9 + 1.0, t)
        loss += friction_Pa(m, CU15, three, 4 * 0.9 + 3.0 + 0.1 + 0.3, 70.0)  # bends, radiator, valve, reducer
        return shutoff * (1 - (m / most) ** 2) + drive - loss

    m = brentq(gap, 0.01, 0.5)
    assert got.steady
    assert got.flow_kg_s("three") == pytest.approx(m, rel=0.015)
    assert got.through("R1").outlet_C == pytest.approx(back_C(m), abs=0.1)
    assert got.heads("P1").pump_Pa == pytest.approx(shutoff * (1 - (m / most) ** 2), rel=0.02)


def test_no_power_leaves_a_pumped_circuit_out():
    ways = ways_of(pumped())
    assert drawn(ways, with_part(ways, "P1"), POWER_CUT) is None


def coiled(power_kw: float, t_flow_c: float = 75.0) -> Sheet:
    """A boiler on the coil of a store that stands at 60 °C."""
    s = draw.sheet("Coil")
    boiler = s.add("boiler_oil", "boiler", x_m=0.0, height_m=0.0, power_kw=power_kw, t_flow_c=t_flow_c)
    tank = s.store(
        "store",
        x_m=4.0,
        height_m=0.0,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.6,
        design_temp_c=60.0,
        tappings={
            "up": {"height_m": 1.0, "side": "left", "purpose": "coil"},
            "low": {"height_m": 0.2125, "side": "left", "purpose": "coil"},
        },
        coils=[
            {
                "name": "c",
                "bottom_m": 0.2125,
                "top_m": 1.0,
                "lower": "low",
                "upper": "up",
                "area_m2": 1.2,
                "content_l": 7.0,
            }
        ],
    )
    pump = s.add("pump", "P1", x_m=1.5, height_m=0.2125, mirror=True, head_m=4.0, flow_max_m3h=2.5)
    s.pipe(boiler["flow"], tank["up"], "22", id="out", via=[(1.0, 0.7225), (1.0, 1.0)])
    s.pipe(tank["low"], pump["a"], "22", id="back")
    s.pipe(pump["b"], boiler["return"], "22", id="in")
    return s.done()


def test_a_coil_passes_what_effectiveness_and_transfer_units_say():
    """1 - exp(-UA / m cp) with UA = 500 W/(m2 K) of its surface: Kays and London for one side at one temperature."""
    ways = ways_of(coiled(40.0))
    got = circulation(ways, with_part(ways, "boiler"), NORMAL)
    through = got.through("boiler")
    assert through.outlet_C == pytest.approx(75.0, abs=0.05)  # the thermostat holds
    ntu = 500.0 * 1.2 / (through.flow_kg_s * water(65.0).cp * 1000)
    assert 75.0 - through.inlet_C == pytest.approx((75.0 - 60.0) * (1 - np.exp(-ntu)), rel=0.01)


def test_a_boiler_too_small_to_hold_its_thermostat_gives_its_power_and_one_too_cool_gives_nothing():
    ways = ways_of(coiled(4.0))
    got = circulation(ways, with_part(ways, "boiler"), NORMAL)
    assert got.drawn.heats["boiler"] == Heat(4000.0)
    assert got.through("boiler").heat_W == pytest.approx(4000.0, rel=1e-3)
    cool = ways_of(coiled(10.0, t_flow_c=55.0))
    got = circulation(cool, with_part(cool, "boiler"), NORMAL)
    assert got.drawn.heats["boiler"].watts == 0.0
    assert got.pipe_C("out") == pytest.approx(60.0, abs=0.5)


# -- whole sheets


@cache
def base() -> Sheet:
    import systems

    return systems.done(systems.base())


@cache
def base_answers():
    ways = ways_of(base())
    return {(c, w.number): got for c in (NORMAL, POWER_CUT) for w, got in circulations(ways, c)}


def test_the_three_source_system_settles_with_its_heat_accounted_for():
    """First law: what the fires give reaches rooms and stores, to 1e-5."""
    answers = base_answers()
    assert len(answers) == 4  # stove's water, sun's and boiler's with power; the stove's without
    for got in answers.values():
        assert got.steady, got.answer.outcome
        book = got.answer.ending.balance
        assert abs(book.gap_W) <= 1e-5 * max(book.source_W, 100.0)
        assert book.momentum_Pa < 2e-3 and book.continuity_kg_s < 1e-9


def test_water_runs_the_way_the_base_sheet_means_it():
    """Out of the stove into the store's top, back from its foot; pumps the way they point (common practice)."""
    answers = base_answers()
    ways = ways_of(base())
    stove = with_part(ways, "stove").number
    for condition in (NORMAL, POWER_CUT):
        got = answers[condition, stove]
        for pipe in ("stove_flow", "store_flow", "riser", "leak_flow", "leak_return", "return_3", "return_1"):
            assert got.flow_kg_s(pipe) > 0.01, pipe
    assert answers[NORMAL, stove].flow_kg_s("rad_flow_1") > 0.05
    assert answers[POWER_CUT, stove].flow_kg_s("rad_flow_1") == 0.0


def mirrored(sheet: Sheet) -> Sheet:
    """Left and right exchanged: a vessel by its tappings' sides, any other part by its mirror."""
    sides = {"left": "right", "right": "left", "top": "top", "bottom": "bottom"}
    parts = {}
    for old in sheet.parts.values():
        vessel = bool(old.tappings)
        taps = tuple(msgspec.structs.replace(t, side=sides[t.side]) for t in old.tappings)
        parts[old.id] = msgspec.structs.replace(
            old,
            x_m=-old.x_m,
            mirror=old.mirror if vessel else not old.mirror,
            turn={0: 0, 1: 3, 2: 2, 3: 1}[old.turn],
            tappings=taps,
        )
    pipes = {k: msgspec.structs.replace(p, points=tuple((-x, z) for x, z in p.points)) for k, p in sheet.pipes.items()}
    return msgspec.structs.replace(sheet, parts=parts, pipes=pipes)


def test_a_mirrored_sheet_has_the_same_flows():
    """Water does not know left from right."""
    ways = ways_of(mirrored(base()))
    stove = with_part(ways, "stove")
    got = circulation(ways, stove, POWER_CUT)
    plain = base_answers()[POWER_CUT, with_part(ways_of(base()), "stove").number]
    for pipe in base().pipes:
        assert got.flow_kg_s(pipe) == pytest.approx(plain.flow_kg_s(pipe), abs=1e-6), pipe


def test_a_store_half_cold_lets_more_water_round_than_a_full_one():
    """A colder store weighs more against the hot riser (density of water)."""
    ways = ways_of(base())
    stove = with_part(ways, "stove")
    full = base_answers()[POWER_CUT, stove.number]
    working = circulation(ways, stove, POWER_CUT, Charge.WORKING)
    assert working.through("stove").outlet_C < full.through("stove").outlet_C
    hot, _ = once_running(with_power(full.drawn, "stove", 2000.0), "stove")
    assert not hot.boils


# -- figures


def figures_of(sheet: Sheet, condition=POWER_CUT):
    from loopwright.engineering.figures import figures

    return figures(ways_of(sheet), condition)


def test_figures_of_a_fire_are_those_of_the_balance_by_hand():
    from loopwright.engineering.figures import Figure

    found = {f.name: f for f in figures_of(gravity(5.0)) if "Circulation" in f.group}
    assert all(isinstance(f, Figure) for f in found.values())
    m, hot = gravity_by_hand(5000.0, 2.2, CU28)
    assert found["Flow"].value == pytest.approx(3600 * m, rel=0.015)
    assert found["Flow temperature"].value == pytest.approx(hot, abs=0.5)
    drive = G * (2.2 - 0.4) * (water(STORE_C).rho - water(round(hot, 3)).rho)
    assert found["Circulating pressure"].value == pytest.approx(drive, rel=0.015)
    assert found["Resistance at that flow"].value == pytest.approx(drive, rel=0.015)
    assert found["Costliest pipe"].about == ("out",)  # two bends and the longer of the two pipes
    most = [f.value for name, f in found.items() if name.startswith("Most heat")]
    assert len(most) == 3 and most[0] < most[2] < most[1]  # a size more, or height, always carries more (buoyancy)


def test_speed_and_friction_of_a_pipe_follow_from_its_flow():
    """Continuity; Darcy-Weisbach with the factor of `fluids`."""
    found = {f.name: f.value for f in figures_of(pumped(), NORMAL) if f.group.startswith("Flow in")}
    m = found["three: flow"] / 3600
    assert found["three: speed"] == pytest.approx(m / (water(70.0).rho * np.pi / 4 * CU15**2), rel=0.002)
    assert found["three: friction"] == pytest.approx(friction_Pa(m, CU15, 1.0, 0.0, 70.0), rel=0.01)
    duty = {f.name: f.value for f in figures_of(pumped(), NORMAL) if f.group == "P1"}
    assert duty["Head at the duty point"] == pytest.approx(3.0 * (1 - (m * 3.6 / 0.998 / 2.0) ** 2), rel=1e-3)


def test_a_fire_that_boils_has_words_and_no_false_flow():
    """More heat than water below boiling can carry: no steady flow may be shown (first law)."""
    from loopwright.engineering.figures import Gap

    found = [f for f in figures_of(gravity(60.0)) if "Circulation" in f.group or f.group.startswith("Flow in")]
    assert not any(f.name.endswith(("flow", "Flow temperature", "Flow")) and not isinstance(f, Gap) for f in found)
    steam = next(f for f in found if f.name == "Heat that boils away")
    assert "boils" in steam.note and steam.value > 5000.0
    assert any(isinstance(f, Gap) and "boils" in f.missing for f in found)


def test_a_missing_figure_of_a_part_is_named():
    from loopwright.engineering.figures import Gap

    sheet = gravity()
    stove = sheet.parts["stove"]
    nothing = msgspec.structs.replace(stove, props={**stove.props, "power_kw": None})
    found = figures_of(msgspec.structs.replace(sheet, parts={**sheet.parts, "stove": nothing}))
    assert any(isinstance(f, Gap) and "power to water" in f.missing for f in found)
