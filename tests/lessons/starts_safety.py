"""Starting sheets of the course "safety first"."""

from __future__ import annotations

import bases
import others
import small_others
from pen import Pen
from starts import starts

import systems
from loopwright.sheet.values import Sheet


@starts("S1")
def s1() -> Sheet:
    """Two valves on the heat leak."""
    pen = Pen(bases.stove_and_store("Lantern cottage, the decorator was here").b.done())
    pen.put("leak_flow", "wheelhead_valve", "V1", (1.45, 3.552))
    pen.put("leak_return", "lockshield_valve", "V2", (2.4, 3.048))
    return pen.done()


@starts("S2")
def s2() -> Sheet:
    """A heat leak of 0.6 kW."""
    pen = Pen(bases.stove_and_store("Lantern cottage, a small radiator").b.done())
    pen.set("leak", output_w=600.0)
    return pen.done()


@starts("S3")
def s3() -> Sheet:
    """Valves where none may stand, and none where one is wanted."""
    house = bases.stove_and_store("Lantern cottage, service valves", extra=("radiator flow", "radiator return"))
    systems.radiators(house, house.b["store"])
    pen = Pen(house.b.done())
    pen.move("P1", 5.95, 1.45)
    pen.cut("loft_stop")
    pen.put("stove_flow", "isolating_valve", "V1", (1.7, 1.2))
    pen.put("feed", "stop_valve", "V2", (2.675, 4.4))
    return pen.done()


@starts("S4")
def s4() -> Sheet:
    """A sealed boiler straight on a stove's store."""
    changes = {
        "boiler flow": {"purpose": "source_flow"},
        "boiler return": {"purpose": "source_return", "height_m": 0.81},
    }
    house = bases.stove_and_store(
        "Lantern cottage, an oil boiler joined", changes, extra=("boiler flow", "boiler return", "boiler sensor")
    )
    house.z["radiator flow"] = 1.45  # how high the boiler's return passes
    systems.oil_boiler(house, house.b["store"])
    return house.b.done()


@starts("S5")
def s5() -> Sheet:
    """A sealed log boiler whose cooling water comes from a pump."""
    pen = Pen(others.log_boiler().b.done())
    from loopwright.sheet import edits

    pen.sheet = edits.set_title(pen.sheet, "Old Net Loft, a well pump for cooling")
    pen.move("cooling_main", -0.9, 0.975)
    pen.put("cooling_1", "pump", "WP", (0.05, 0.975))
    pen.sheet = edits.set_part(pen.sheet, "WP", name="Well pump")
    return pen.done()


@starts("S6")
def s6() -> Sheet:
    """Relief and vessel shut away from the boiler."""
    pen = Pen(bases.oil_and_store("Osier Yard, the safety parts", coil=True).b.done())
    pen.move("boiler", 13.2, 0.0)
    pen.lay("boiler_flow_1", points=((12.6, 0.7225), (12.6, 1.63)))
    pen.lay("boiler_return_1", points=((12.6, 0.3), (12.6, 0.2125)))
    pen.move("P2", 11.4, 0.3)
    pen.put("boiler_flow_1", "isolating_valve", "V5", (12.6, 1.2))
    pen.put("boiler_return_1", "isolating_valve", "V6", (12.1, 0.3))
    pen.put("boiler_return_2", "motorised_2port", "M1", (10.95, 0.3), rest="shut")
    pen.link(pen["store"].pocket("boiler sensor"), "M1", does="shuts_above", setting_c=65.0)
    pen.set("EV1", volume_l=4.0)
    return pen.done()


def cylinder_house(title: str) -> Pen:
    """A stove heats a store, the store an unvented cylinder: sound."""
    pen = Pen(small_others.store_heats_an_unvented_cylinder().done())
    from loopwright.sheet import edits

    pen.sheet = edits.set_title(pen.sheet, title)
    pen.sheet = edits.set_levels(pen.sheet, {"Ground floor": 0.0, "First floor": 2.6, "Loft": 5.0})
    for part, name in (
        ("cyl", "Unvented cylinder"), ("tp", "Temperature and pressure valve"), ("leak", "Heat-leak radiator"),
        ("store", "Heat store"), ("expansion_relief", "Expansion relief valve"), ("cistern", "Cistern"),
        ("mixer", "Mixing valve"), ("bath", "Bath"),
    ):  # fmt: skip
        pen.sheet = edits.set_part(pen.sheet, part, name=name)
    return pen


@starts("S7")
def s7() -> Sheet:
    """The cylinder's coil on the fire's own gravity pair, behind a motorised valve."""
    pen = cylinder_house("Lantern cottage, an unvented cylinder")
    pen.cut("pump", "motor", "cut_out")
    pen.cut(*[p.id for p in pen.sheet.pipes_of("cyl") if "store" in (p.a.part, p.b.part)])
    pen.cap(pen["store"]["out"])
    pen.cap(pen["store"]["in"])
    out = pen.tee("store_flow", (4.2, 1.72), "X1", towards="up")
    back = pen.tee("return_3", (4.0, 0.2), "X2", towards="down")
    motor = pen.add("motorised_2port", "motor", x_m=7.4, height_m=2.4, rest="shut", name="Two-port valve")
    pen.pipe(out["branch"], motor["a"], "28", via=[(4.2, 2.4)], id="coil_1")
    pen.pipe(motor["b"], pen["cyl"]["coil in"], "28", via=[(8.6, 2.4), (8.6, 0.9)], id="coil_2")
    pen.pipe(pen["cyl"]["coil out"], back["branch"], "28", via=[(8.9, 0.5), (8.9, -0.3), (4.0, -0.3)], id="coil_3")
    pen.link(pen["cyl"].pocket("stat"), "motor", does="shuts_above", setting_c=60.0)
    return pen.done()


@starts("S8")
def s8() -> Sheet:
    """A discharge pipe with everything wrong."""
    pen = cylinder_house("Lantern cottage, a discharge pipe")
    pen.cut("tundish_1", "end_1")
    pen.add("tundish", "tundish_1", x_m=11.95, height_m=1.3, name="Tundish")
    pen.add("discharge_point", "end_1", x_m=14.9, height_m=-1.4, name="Drain outside")
    pen.pipe(pen["tp"]["outlet"], pen["tundish_1"]["in"], "15", via=[(11.95, 1.5)], id="d1")
    joist = [(11.95, 1.1), (13.6, 1.1), (13.6, 1.15), (14.9, 1.15)]
    pen.pipe(pen["tundish_1"]["out"], pen["end_1"]["in"], "22", via=joist, id="d2", extra_length_m=3.0, extra_bends=2)
    return pen.done()


@starts("S9")
def s9() -> Sheet:
    """A fire that lives on electricity."""
    pen = Pen(bases.stove_and_store("Lantern cottage, lights out").b.done())
    pen.put("return_3", "pump", "P5", (4.0, 0.2))
    stat = pen.add("pipe_thermostat", "TS1", x_m=1.25, height_m=1.15, name="Pipe thermostat")
    pen.link(stat, "P5", does="runs_above", setting_c=55.0)
    pen.put("leak_flow", "wheelhead_valve", "V1", (1.45, 3.552))
    pen.put("leak_return", "lockshield_valve", "V2", (2.4, 3.048))
    pen.set("leak", output_w=600.0)
    pen.put("riser", "isolating_valve", "V3", (1.7, 2.6))
    pen.cut("store_vent")
    pen.pipe(pen["store"]["vent"], pen.add("air_vent_auto", "AV1", x_m=5.0, height_m=2.3)["a"], "15", via=[])
    return pen.done()
