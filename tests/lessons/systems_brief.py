"""Whole systems that answer the design briefs.

Owns the drawings, made from the base sheets. Knows nothing of how they are judged.
"""

from __future__ import annotations

import bases
import msgspec
import others
from pen import Pen

import systems
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet

TAPS = ("hot water", "cold in", "radiator flow", "radiator return")


def stove_with_pumped_radiators() -> Sheet:
    """Stove and store by gravity, mains coil, radiators pumped off the store."""
    h = bases.house("Lantern cottage, radiators off the store")
    tank = bases.store(h, (*bases.STOVE_TAPS, *TAPS), ["hot water"])
    systems._stove(h, tank)
    bases.drain(h, tank)
    systems.radiators(h, tank)
    systems.hot_water(h, tank)
    return h.b.done()


def three_sources_direct() -> Sheet:
    """Stove by gravity, oil boiler straight on the vented store, sun by a coil, radiators, floor, hot water."""
    h = bases.house("Kiln Lane barn, the boiler vented")
    direct = {
        "boiler flow": {"purpose": "source_flow"},
        "boiler return": {"purpose": "source_return", "height_m": 0.9},
    }
    names = [*bases.BASE_STORE]
    tank = bases.store(h, names, ["hot water", "solar"], direct)
    systems._stove(h, tank)
    bases.boiler_direct(h, tank)
    systems._solar(h, tank)
    systems.radiators(h, tank)
    systems._floor(h, tank)
    systems.hot_water(h, tank)
    bases.drain(h, tank)
    return h.b.done()


def _floor_and_heat_pump(
    h: bases.House, floor_flow: float, floor_return: float, hp_flow: float, hp_back: float
) -> None:
    """A warm floor and a heat pump on further stubs of the store."""
    pen = Pen(h.b.done())
    for name, height, purpose in (
        ("floor flow", floor_flow, "load_flow"),
        ("floor return", floor_return, "load_return"),
        ("hp flow", hp_flow, "source_flow"),
        ("hp return", hp_back, "source_return"),
        ("hp sensor", (hp_flow + hp_back) / 2, "sensor"),
    ):
        side = "right"
        pen.sheet = edits.add_tapping(
            pen.sheet, "store", height, pen.catalogue, side=side, name=name, purpose=purpose, size="28"
        )
        h.z[name] = pen.sheet.parts["store"].height_m + height
    h.b.sheet = pen.done()
    h.z.setdefault("boiler return", h.z["hp return"])
    systems._floor(h, h.b["store"])
    b, tank = h.b, h.b["store"]
    hp = b.add(
        "heat_pump", "hp", x_m=14.0, height_m=0.0, mirror=True, t_flow_c=50.0, limit_c=60.0, max_return_c=55.0,
        name="Heat pump",
    )  # fmt: skip
    push = b.add("pump", "P6", x_m=12.4, height_m=-0.3, name="Heat-pump pump")
    b.pipe(hp["flow"], tank["hp flow"], "28", via=[(12.6, 0.765), (12.6, h.z["hp flow"])], id="hp_flow")
    b.pipe(tank["hp return"], push["a"], "28", via=[(11.0, h.z["hp return"]), (11.0, -0.3)], id="hp_return")
    b.pipe(push["b"], hp["return"], "28", via=[(13.0, -0.3), (13.0, 0.225)], id="hp_return_2")
    low = b.tee("hp_return", (11.6, -0.3), "L6", towards="down")
    b.pipe(low["branch"], b.add("drain_cock", "DC6", x_m=11.6, height_m=-0.7)["a"], "15", via=[])
    for target in ("hp", "P6"):
        b.link(tank.pocket("hp sensor"), target, does="runs_below", setting_c=48.0)


def sealed_logs_and_floor() -> Sheet:
    """A sealed log boiler with its five safeguards, a heat pump and a warm floor."""
    h = others.log_boiler()
    pen = Pen(h.b.done())
    loads = ("P1", "C1", "R1", "R2", "TV1", "TV2", "BV1", "BT1", "BT2", "RT1", "RT2", "TR1")
    pen.cut(*loads)
    for pipe in [p.id for p in pen.sheet.pipes_of("store") if p.a.part == p.b.part]:
        pen.cut(pipe)
    for name in ("radiator flow", "radiator return"):
        pen.cut(*[p.id for p in pen.sheet.pipes_of("store") if pen["store"][name] in (p.a, p.b)])
        letter = next(t.letter for t in pen.sheet.parts["store"].tappings if t.name == name)
        pen.sheet = edits.remove_tapping(pen.sheet, "store", letter, pen.catalogue)
    pen.sheet = edits.set_title(pen.sheet, "Old Net Loft, sealed")
    h.b.sheet = pen.done()
    _floor_and_heat_pump(h, 1.0, 0.25, 1.2, 0.5)
    whole = Pen(h.b.done())
    whole.set("floor", output_w=5000.0)
    return whole.done()


def vented_logs_and_floor() -> Sheet:
    """A vented log boiler with a cistern on the gable, 42 mm and a heat leak of 6 kW, a heat pump and a warm floor."""
    h = bases.log_boiler_and_store("Old Net Loft, a cistern on the gable")
    h.z["radiator flow"], h.z["radiator return"] = 1.45, 0.64
    _floor_and_heat_pump(h, 0.95, 0.22, 1.1, 0.45)
    h.b.fact(house_load_kw=3.0)
    whole = Pen(h.b.done())
    whole.set("store", volume_l=2000.0)
    whole.set("leak", output_w=6000.0)
    whole.set("cistern", expansion_room_l=90.0)
    wide = ("stove_flow", "riser", "leak_", "return_", "unit_")
    whole.lay(*[x for x in whole.sheet.pipes if x.startswith(wide)], size="42")
    return whole.done()


def beside(old: Sheet, new: Sheet) -> Sheet:
    """Two sheets on one: what was there, and what is added left of it."""
    from loopwright.sheet.change import with_records

    pipes = {f"new_{k}": msgspec.structs.replace(v, id=f"new_{k}") for k, v in new.pipes.items()}
    links = {f"new_{k}": msgspec.structs.replace(v, id=f"new_{k}") for k, v in new.links.items()}
    return with_records(
        old, parts={**old.parts, **new.parts}, pipes={**old.pipes, **pipes}, links={**old.links, **links}
    )


def stove_for_the_taps(old: Sheet) -> Sheet:
    """The old system left as it is; a stove on a small vented store that heats the taps."""
    h = bases.house("A stove for the taps")
    tank = bases.store(
        h, (*bases.STOVE_TAPS, "hot water", "cold in"), ["hot water"], volume_l=400.0, body_diameter_m=0.58
    )
    systems._stove(h, tank)
    bases.drain(h, tank)
    systems.hot_water(h, tank)
    return beside(old, h.b.done())


def stove_by_plate(old: Sheet) -> Sheet:
    """A stove on a vented store that warms the old radiators' return over a plate exchanger."""
    h = bases.stove_and_store("A stove for the radiators", extra=("radiator flow", "radiator return"))
    pen = Pen(beside(old, h.b.done()))
    plate = pen.add("plate_heat_exchanger", "PX", x_m=8.0, height_m=1.0, name="Plate heat exchanger")
    push = pen.add("pump", "P7", x_m=6.6, height_m=1.45, name="Store pump")
    check = pen.add("anti_gravity_check", "C7", x_m=7.1, height_m=1.45, name="Anti-gravity check")
    pen.pipe(pen["store"]["radiator flow"], push["a"], "22", via=[])
    pen.pipe(push["b"], check["a"], "22", via=[])
    pen.pipe(check["b"], plate["primary_in"], "22", via=[(7.5, 1.45), (7.5, 1.12)])
    pen.pipe(plate["primary_out"], pen["store"]["radiator return"], "22", via=[(7.5, 0.88), (7.5, 0.64)])
    last = next(p for p in pen.sheet.pipes_of("boiler") if "return" in (p.a.port, p.b.port))
    far = last.other("boiler")
    pen.cut(last.id)
    pen.pipe(far, plate["secondary_in"], "22", via=[(10.9, -0.3), (9.0, -0.3), (9.0, 0.88)])
    pen.pipe(
        plate["secondary_out"],
        pen["boiler"]["return"],
        "22",
        via=[(9.3, 1.12), (9.3, 1.3), (10.45, 1.3), (10.45, 0.175)],
    )
    pen.link("TR1", "P7", does="runs_below", setting_c=20.0)
    return pen.done()
