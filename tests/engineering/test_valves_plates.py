"""Valves that mix by temperature and plate exchangers in steady nets: heat balances of mixing, and counterflow NTU."""

from __future__ import annotations

import math

import pytest
from iapws import IAPWS97

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.circulation import circulation
from loopwright.engineering.drawn_parts import Charge
from loopwright.errors import FigureError
from loopwright.waterways import Waterways
from loopwright.waterways.waters import waters

CATALOGUE = standard_catalogue()


def kj_kg(t):
    return IAPWS97(T=t + 273.15, P=0.101325).h


def log_boiler(opens_c: float = 60.0, power_kw: float = 20.0, design_c: float = 80.0):
    """A log boiler on a store through a loading unit, nearly all level."""
    s = draw.sheet("Loading")
    boiler = s.add("log_boiler", "boiler", x_m=0.0, height_m=0.0, power_kw=power_kw)
    unit = s.add("loading_unit_4", "unit", x_m=1.6, height_m=0.6, opens_c=opens_c)
    tank = s.store(
        "store", x_m=4.0, height_m=0.0, volume_l=1000.0, body_diameter_m=0.8, body_height_m=2.0, design_temp_c=design_c,
        tappings={
            "flow": {"height_m": 1.8, "side": "left", "purpose": "source_flow"},
            "return": {"height_m": 0.2, "side": "left", "purpose": "source_return"},
        },
    )  # fmt: skip
    s.pipe(boiler["flow"], unit["boiler_flow"], "28", via=[(0.9, 1.1), (0.9, 0.72)], id="out")
    s.pipe(unit["boiler_return"], boiler["return"], "28", via=[(1.0, 0.48), (1.0, 0.15)], id="home")
    s.pipe(unit["store_flow"], tank["flow"], "28", via=[(2.4, 0.72), (2.4, 1.8)], id="charge")
    s.pipe(tank["return"], unit["store_return"], "28", via=[(2.6, 0.2), (2.6, 0.48)], id="draw")
    return s.done()


def solved(sheet, part: str, charge: Charge = Charge.FULL):
    ways = Waterways(sheet, CATALOGUE)
    of = next(w for w in waters(ways) if part in w.parts)
    return ways, circulation(ways, of, charge=charge)


def test_a_loading_unit_lifts_the_return():
    """40 degC from the store, 60 degC wanted: what is mixed lies in the element's band (10 K, common practice), and
    the share of bypass follows the heat balance of mixing."""
    _, got = solved(log_boiler(), "boiler", Charge.WORKING)
    through = got.through("boiler")
    (valve,) = got.drawn.valves
    share = got.drawn.openings["unit"]
    assert 0.05 < share < 0.95
    assert through.inlet_C == pytest.approx(60.0 + (1.0 - share) * 10.0, abs=0.3)
    flows = {name: abs(got.answer.flow_kg_s(name)) for name in (valve.warm, valve.cool)}
    mixed = sum(flows.values())
    h = (flows[valve.warm] * kj_kg(through.outlet_C) + flows[valve.cool] * kj_kg(40.0)) / mixed
    assert kj_kg(through.inlet_C) == pytest.approx(h, abs=0.5)
    assert through.heat_W == pytest.approx(20e3, rel=1e-4)


def test_warm_water_from_the_store_shuts_the_bypass():
    _, got = solved(log_boiler(), "boiler", Charge.FULL)  # 80 degC all through: nothing to lift
    assert got.drawn.openings["unit"] == 0.0
    assert got.through("boiler").inlet_C == pytest.approx(80.0, abs=0.7)


def floor(setting_c: float = 40.0, design_c: float = 75.0):
    """A warm floor behind a mixing valve: hot from a store, cold from its own return."""
    s = draw.sheet("Floor")
    tank = s.store(
        "store", x_m=0.0, height_m=0.0, volume_l=500.0, body_diameter_m=0.6, body_height_m=1.8, design_temp_c=design_c,
        tappings={
            "flow": {"height_m": 1.5, "side": "right", "purpose": "load_flow"},
            "return": {"height_m": 0.3, "side": "right", "purpose": "load_return"},
        },
    )  # fmt: skip
    valve = s.add("mixing_valve", "TM", x_m=1.6, height_m=1.5, setting_c=setting_c)
    pump = s.add("pump", "P", x_m=2.4, height_m=1.5, head_m=4.0)
    floor = s.add("underfloor_manifold", "floor", x_m=4.4, height_m=0.6, output_w=4000.0, t_need_c=40.0)
    s.pipe(tank["flow"], valve["hot"], "22", id="hot")
    s.pipe(valve["mixed"], pump["a"], "22", id="mixed")
    s.pipe(pump["b"], floor["flow"], "22", via=[(3.4, 1.5), (3.4, 0.92)], id="to")
    back = s.pipe(floor["return"], tank["return"], "22", via=[(3.6, 0.68), (3.6, 0.3)], id="back")
    joint = s.tee(back, (1.6, 0.3), "T", towards="up")
    s.pipe(joint["branch"], valve["cold"], "22", id="cold")
    return s.done()


def test_a_mixing_valve_holds_its_setting():
    """Hot and return water in the shares of the heat balance give the setting."""
    _, got = solved(floor(), "floor")
    through = got.through("floor")
    assert through.inlet_C == pytest.approx(40.0, abs=0.2)
    (valve,) = got.drawn.valves
    warm, cool = (abs(got.answer.flow_kg_s(n)) for n in (valve.warm, valve.cool))
    share = (kj_kg(40.0) - kj_kg(through.outlet_C)) / (kj_kg(75.0) - kj_kg(through.outlet_C))
    assert warm / (warm + cool) == pytest.approx(share, abs=0.01)
    assert not any("lets in both" in words for words in got.drawn.assumed)


def test_a_mixing_valve_with_water_too_cool_opens_fully():
    _, got = solved(floor(setting_c=60.0, design_c=50.0), "floor")
    assert got.drawn.openings["TM"] == 1.0
    assert got.through("floor").inlet_C == pytest.approx(50.0, abs=0.5)


def test_a_valve_without_a_setting_is_named():
    import msgspec

    sheet = floor()
    part = sheet.parts["TM"]
    bare = msgspec.structs.replace(part, props={**part.props, "setting_c": None})
    with pytest.raises(FigureError, match="setting is missing"):
        solved(msgspec.structs.replace(sheet, parts={**sheet.parts, "TM": bare}), "floor")


# plates


def plated(ua: float = 1500.0):
    """A store's circuit and a radiator's, parted by a plate exchanger, both pumped."""
    s = draw.sheet("Plate")
    tank = s.store(
        "store", x_m=0.0, height_m=0.0, volume_l=500.0, body_diameter_m=0.6, body_height_m=1.8, design_temp_c=75.0,
        tappings={
            "flow": {"height_m": 1.5, "side": "right", "purpose": "load_flow"},
            "return": {"height_m": 0.3, "side": "right", "purpose": "load_return"},
        },
    )  # fmt: skip
    one = s.add("pump", "P1", x_m=1.0, height_m=1.5, head_m=2.0, flow_max_m3h=1.0)
    plate = s.add("plate_heat_exchanger", "X", x_m=2.4, height_m=0.9, ua_w_k=ua)
    two = s.add("pump", "P2", x_m=3.4, height_m=1.02, head_m=3.0, flow_max_m3h=1.5)
    rad = s.add("radiator", "R", x_m=5.0, height_m=0.6, output_w=8000.0)
    s.pipe(tank["flow"], one["a"], "22", id="a")
    s.pipe(one["b"], plate["primary_in"], "22", via=[(1.8, 1.5), (1.8, 1.02)], id="b")
    s.pipe(plate["primary_out"], tank["return"], "22", via=[(1.9, 0.78), (1.9, 0.3)], id="c")
    s.pipe(plate["secondary_out"], two["a"], "22", id="d")
    s.pipe(two["b"], rad["flow"], "22", via=[(4.0, 1.02), (4.0, 1.152)], id="e")
    s.pipe(rad["return"], plate["secondary_in"], "22", via=[(4.2, 0.648), (4.2, 0.5), (2.8, 0.5), (2.8, 0.78)], id="f")
    return s.done()


@pytest.mark.parametrize("ua", [300.0, 1500.0, 6000.0])
def test_a_plate_passes_what_counterflow_allows(ua, deviation):
    """Kays and London, counterflow, from the flows and inlet temperatures found; heat by enthalpies of `iapws`."""
    ways = Waterways(plated(ua), CATALOGUE)
    by_part = {p: circulation(ways, w) for w in waters(ways) for p in ("P1", "P2") if p in w.parts}
    hot, cold = by_part["P1"].through("X"), by_part["P2"].through("X")
    assert hot.inlet_C == pytest.approx(75.0, abs=0.5)
    taken = cold.flow_kg_s * 1000 * (kj_kg(cold.outlet_C) - kj_kg(cold.inlet_C))
    given = hot.flow_kg_s * 1000 * (kj_kg(hot.inlet_C) - kj_kg(hot.outlet_C))
    rates = sorted((hot.flow_kg_s * 4186.0, cold.flow_kg_s * 4186.0))
    ntu, ratio = ua / rates[0], rates[0] / rates[1]
    e = math.exp(-ntu * (1 - ratio))
    want = rates[0] * (1 - e) / (1 - ratio * e) * (hot.inlet_C - cold.inlet_C)
    deviation("heat through plates", "Kays and London, counterflow", taken, want, 0.01)
    deviation("heat given and taken by plates", "first law", given, taken, 0.01)
    assert by_part["P2"].through("R").heat_W == pytest.approx(-taken, rel=1e-3)


def test_a_plate_without_its_conductance_is_named():
    import msgspec

    sheet = plated()
    part = sheet.parts["X"]
    bare = msgspec.structs.replace(part, props={**part.props, "ua_w_k": None})
    ways = Waterways(msgspec.structs.replace(sheet, parts={**sheet.parts, "X": bare}), CATALOGUE)
    with pytest.raises(FigureError, match="heat passed per degree is missing"):
        circulation(ways, next(w for w in waters(ways) if "P2" in w.parts))
