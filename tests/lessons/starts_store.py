"""Starting sheets of the course "the store"."""

from __future__ import annotations

import bases
from pen import Pen
from starts import starts

import systems
from loopwright.sheet.values import Sheet


@starts("T1")
def t1() -> Sheet:
    """The boiler's flow low, its return high."""
    taps = {
        "boiler flow": {"height_m": 0.45, "purpose": "any"},
        "boiler return": {"height_m": 1.44, "purpose": "any"},
    }
    pen = Pen(bases.oil_and_store("Osier Yard, the bath is lukewarm", more=taps).b.done())
    pen.tap("store", "boiler flow", name="low")
    pen.tap("store", "boiler return", name="high")
    return pen.done()


@starts("T2")
def t2() -> Sheet:
    """Radiators drawn from the bottom, the floor from the top."""
    house = bases.oil_and_store("Osier Yard, two loads", sun=True, extra=("floor flow", "floor return"))
    systems._floor(house, house.b["store"])
    pen = Pen(house.b.done())
    pen.taps("store", radiator_flow=0.22, floor_flow=1.44, floor_return=1.08)
    return pen.done()


@starts("T3")
def t3() -> Sheet:
    """A heat pump drawn in over a stove."""
    taps = {
        "stove flow": {"height_m": 1.08},
        "hp flow": {"height_m": 1.71, "side": "right", "size": "28", "purpose": "source_flow"},
        "hp return": {"height_m": 1.08, "side": "right", "size": "28", "purpose": "source_return"},
    }
    house = bases.stove_and_store("Lantern cottage, a heat pump comes", taps)
    b, z = house.b, house.z
    hp = b.add(
        "heat_pump", "hp", x_m=9.0, height_m=0.0, mirror=True, t_flow_c=50.0, max_return_c=55.0, name="Heat pump"
    )
    push = b.add("pump", "P6", x_m=7.4, height_m=0.2, name="Heat-pump pump")
    b.pipe(hp["flow"], b["store"]["hp flow"], "28", via=[(8.2, z["hp flow"])], id="hp_flow")
    b.pipe(b["store"]["hp return"], push["a"], "28", via=[(6.4, z["hp return"]), (6.4, 0.2)], id="hp_return")
    b.pipe(push["b"], hp["return"], "28", via=[], id="hp_return_2")
    low = b.tee("hp_return", (6.8, 0.2), "L6", towards="down")
    b.pipe(low["branch"], b.add("drain_cock", "DC6", x_m=6.8, height_m=-0.2)["a"], "15", via=[])
    return b.done()


def _sun_and_coil(title: str) -> Pen:
    return Pen(bases.oil_and_store(title, sun=True, coil=True).b.done())


@starts("T4")
def t4() -> Sheet:
    """The solar coil above, the boiler's below, and their sensors with them."""
    pen = _sun_and_coil("Osier Yard, nothing cold for the sun")
    pen.coil("store", "solar", 0.90, 1.53)
    pen.coil("store", "boiler", 0.105, 0.63)
    pen.tap("store", "solar sensor", 1.26)
    pen.tap("store", "boiler sensor", 0.44)
    return pen.done()


@starts("T5")
def t5() -> Sheet:
    """Both coils joined upside down."""
    pen = Pen(bases.oil_and_store("Osier Yard, coils upside down", sun=True).b.done())
    pen.swap_ends("hot_1", "cold_4", "store")
    pen.swap_ends("solar_flow_2", "solar_return_1", "store")
    return pen.done()


@starts("T6")
def t6() -> Sheet:
    """Three sensors, each in the wrong layer."""
    house = bases.oil_and_store("Osier Yard, three sensors", sun=True, extra=("radiator sensor",))
    pen = Pen(house.b.done())
    pen.link(pen["store"].pocket("radiator sensor"), "P1", does="runs_above", setting_c=45.0)
    pen.tap("store", "boiler sensor", 0.20)
    pen.tap("store", "solar sensor", 1.26)
    pen.tap("store", "radiator sensor", 0.45)
    return pen.done()


@starts("T7")
def t7() -> Sheet:
    """Every connection somewhere."""
    pen = Pen(bases.three_sources("Kiln Lane barn, connections to be set").b.done())
    pen.coil("store", "solar", 0.95, 1.50)
    pen.coil("store", "boiler", 0.12, 0.66)
    pen.taps(
        "store", stove_flow=0.80, radiator_flow=0.24, radiator_return=1.10, floor_flow=1.38, floor_return=1.02,
        solar_sensor=1.30, boiler_sensor=0.45,
    )  # fmt: skip
    return pen.done()
