"""Starting sheets of the course "along the run"."""

from __future__ import annotations

import bases
import mistakes
from pen import Pen
from starts import starts

from loopwright import draw
from loopwright.sheet.values import Sheet


def vented_boiler(title: str, vent_x: float, feed_x: float) -> Pen:
    """Base E: a vented oil boiler, vent and feed on its flow, one radiator upstairs, no pump yet."""
    s = draw.sheet(title, levels={"Ground floor": 0, "First floor": 2.6, "Loft": 5.0})
    boiler = s.add("boiler_oil", "boiler", x_m=1.0, height_m=0.0, power_kw=15.0, limit_c=90.0, name="Oil boiler")
    tank = s.add(
        "feed_expansion_cistern", "cistern", x_m=4.0, height_m=5.25, hot_rated=True, float_valve=False, name="Cistern"
    )
    vent = s.add("tee", "vent_tee", x_m=vent_x, height_m=2.0)
    feed = s.add("tee", "feed_tee", x_m=feed_x, height_m=2.0)
    s.pipe(boiler["flow"], vent["left"], "28", via=[(1.5, 0.7225), (1.5, 2.0)], id="flow_1")
    s.pipe(vent["branch"], tank["vent"], "22", via=[(vent_x, 6.3), (3.775, 6.3)], graded="b", id="vent")
    s.pipe(vent["right"], feed["left"], "28", via=[], id="flow_2")
    s.pipe(tank["feed"], feed["branch"], "22", via=[(4.225, 4.6), (feed_x, 4.6)], id="feed")
    high = s.add("tee", "landing", x_m=6.0, height_m=3.552)
    s.pipe(feed["right"], high["left"], "28", via=[(4.8, 2.0), (4.8, 3.552)], id="flow_3")
    air = s.add("air_vent_manual", "air", x_m=6.0, height_m=3.9)
    s.pipe(high["branch"], air["a"], "15", via=[])
    one = s.add("radiator", "R1", x_m=8.0, height_m=3.0, output_w=2000.0, name="Landing radiator")
    s.pipe(high["right"], one["flow"], "22", via=[], id="landing_2")
    s.pipe(one["return"], boiler["return"], "22", via=[(7.0, 3.048), (7.0, 0.2125)], id="back")
    low = s.tee("back", (5.0, 0.2125), "low_tee", towards="down")
    s.pipe(low["branch"], s.add("drain_cock", "low", x_m=5.0, height_m=-0.1)["a"], "15", via=[])
    s.add("room_thermostat", "TR1", x_m=8.0, height_m=4.1, name="Room thermostat")
    s.link("TR1", "boiler", does="runs_below", setting_c=20.0)
    return Pen(s.done())


@starts("R1")
def r1() -> Sheet:
    """The pump between vent and feed."""
    pen = vented_boiler("Skep House, a steamy loft", 1.9, 3.3)
    pen.put("flow_2", "pump", "P1", (2.6, 2.0), head_m=3.0)
    pen.link("TR1", "P1", does="runs_below", setting_c=20.0)
    return pen.done()


@starts("R2")
def r2() -> Sheet:
    """No vent at all, and a drinking-water cistern nearer than the right one."""
    pen = Pen(bases.stove_and_store("Lantern cottage, to be vented").b.done())
    pen.cut("stove_vent", "store_vent")
    pen.cap(pen.at("VJ", "up"))
    pen.cap(pen["store"]["vent"])
    tank = pen.add("cold_water_cistern", "taps_cistern", x_m=5.4, height_m=5.25, name="Cold-water cistern")
    main = pen.add("mains_supply", "taps_main", x_m=3.7, height_m=5.8025, pressure_bar=3.0)
    stop = pen.add("stop_valve", "taps_stop", x_m=4.3, height_m=5.8025)
    end = pen.add("discharge_point", "taps_overflow", x_m=6.6, height_m=5.3)
    basin = pen.add("basin", "basin", x_m=7.6, height_m=2.95, name="Basin")
    pen.pipe(main["a"], stop["a"], "15", via=[])
    pen.pipe(stop["b"], tank["float_in"], "15", via=[])
    pen.pipe(tank["overflow"], end["in"], "22")
    pen.pipe(tank["feed"], basin["cold"], "22", id="taps_feed")
    pen.cap(basin["hot"])
    return pen.done()


@starts("R3")
def r3() -> Sheet:
    """A boiler and a heat pump on one pair, no checks, one pump turned round."""
    house = bases.oil_and_store("Osier Yard, a heat pump joins", sun=True)
    pen = Pen(house.b.done())
    pen.cut("C4")
    pen.turn("P2")
    hp = pen.add("heat_pump", "hp", x_m=15.0, height_m=0.0, mirror=True, t_flow_c=50.0, limit_c=60.0, name="Heat pump")
    out = pen.tee("boiler_flow", (10.8, 1.63), "TF", towards="down")
    home = pen.tee("boiler_return_1", (8.7, 0.6), "TR", towards="down")
    pen.pipe(hp["flow"], out["branch"], "22", via=[(13.6, 0.765), (13.6, 1.2), (10.8, 1.2)], id="hp_flow")
    push = pen.add("pump", "P6", x_m=13.0, height_m=-0.3, name="Heat-pump pump")
    pen.pipe(home["branch"], push["a"], "22", via=[(8.7, -0.3)], id="hp_return")
    pen.pipe(push["b"], hp["return"], "22", via=[(13.8, -0.3), (13.8, 0.225)], id="hp_return_2")
    low = pen.tee("hp_return", (11.5, -0.3), "L6", towards="down")
    pen.pipe(low["branch"], pen.add("drain_cock", "DC6", x_m=11.5, height_m=-0.7)["a"], "15", via=[])
    for target in ("hp", "P6"):
        pen.link(pen["store"].pocket("boiler sensor"), target, does="runs_below", setting_c=48.0)
    return pen.done()


@starts("R4")
def r4() -> Sheet:
    """The checks of the sun and of the radiators taken out."""
    pen = Pen(mistakes.solar_check_missing(bases.three_sources("Kiln Lane barn, warm at midnight").b.done()))
    pen.cut("C1")
    return pen.done()


@starts("R5")
def r5() -> Sheet:
    """The loading unit's two returns exchanged."""
    pen = Pen(bases.log_boiler_and_store("Old Net Loft, tar in the boiler").b.done())
    pen.swap_ends("unit_V3_b", "unit_V4_a", "LU")
    return pen.done()


@starts("R6")
def r6() -> Sheet:
    """The inlet train in a bad order."""
    pen = Pen(bases.oil_and_store("Osier Yard, bangs at night").b.done())
    pen.cut("RV1", "C2")
    first = next(p.id for p in pen.sheet.pipes_of("SV0") if "CT1" in (p.a.part, p.b.part))
    pen.put(first, "check_valve", "C2", (8.35, -0.6))
    last = next(p.id for p in pen.sheet.pipes_of("CT2") if "store" in (p.a.part, p.b.part))
    pen.put(last, "stop_valve", "SV9", (5.85, -0.6))
    pen.put(last if last in pen.sheet.pipes else "cold_4", "pressure_reducing_valve", "RV1", (6.55, -0.6))
    pipe = next(p.id for p in pen.sheet.pipes.values() if {p.a.part, p.b.part} == {"RV1", "SV9"})
    pen.put(pipe, "strainer", "F1", (6.2, -0.6))
    return pen.done()


@starts("R7")
def r7() -> Sheet:
    """Four outlets on one hot pipe and no mixing valve."""
    pen = Pen(mistakes.no_mixing_valve(bases.oil_and_store("Osier Yard, scalding taps").b.done()))
    shower = pen.add("shower", "shower", x_m=6.0, height_m=3.6, name="Shower")
    basin = pen.add("basin", "basin", x_m=7.7, height_m=3.3, name="Basin")
    hot = next(p.id for p in pen.sheet.pipes_of("HT1") if "store" in (p.a.part, p.b.part))
    one = pen.tee(hot, (5.94, 2.2), "HT2", towards="up")
    pen.pipe(one["branch"], shower["hot"], "15", via=[], id="hot_shower")
    two = pen.tee("hot_4", (6.88, 2.2), "HT3", towards="down")
    pen.pipe(two["branch"], basin["hot"], "15", via=[(6.88, 1.95), (7.64, 1.95)], id="hot_basin")
    return pen.done()


def floor(house: bases.House, *, safe: bool) -> None:
    """A plain manifold with its pump: with mixing valve, high limit and bypass, or without."""
    b, z = house.b, house.z
    kit = b.add(
        "underfloor_manifold", "floor", x_m=9.0, height_m=-0.1, output_w=3000.0, mixing_built_in=False,
        high_limit_built_in=False, bypass_built_in=safe, pump_built_in=False, name="Underfloor manifold",
    )  # fmt: skip
    push = b.add("pump", "P4", x_m=7.3, height_m=0.22, name="Floor pump")
    b.pipe(b["store"]["floor flow"], push["a"], "22", via=[(6.3, z["floor flow"]), (6.3, 0.22)], id="floor_flow_1")
    b.pipe(push["b"], kit["flow"], "22", via=[], id="floor_flow_2")
    b.pipe(
        kit["return"], b["store"]["floor return"], "22", via=[(6.12, -0.02), (6.12, z["floor return"])],
        id="floor_return",
    )  # fmt: skip
    b.add("room_thermostat", "TR2", x_m=9.6, height_m=2.0, name="Floor room thermostat")
    b.link("TR2", "P4", does="runs_below", setting_c=20.0)


@starts("R8")
def r8() -> Sheet:
    """A floor straight on the store, and no bypass anywhere."""
    house = bases.oil_and_store("Osier Yard, a warm floor", sun=True, extra=("floor flow", "floor return"))
    floor(house, safe=False)
    return mistakes.no_bypass(house.b.done())
