"""A barn with a stove, a store, sun and an oil boiler, laid out by hand: the sheet that pictures are tried
on."""

from __future__ import annotations

import msgspec

from loopwright.catalogue import standard_catalogue
from loopwright.sheet import edits
from loopwright.sheet.values import Coil, ControlLink, End, Level, Note, Part, Sheet, Tapping

CATALOGUE = standard_catalogue()


def _tap(letter, height, side, purpose, size="22", name=""):
    return Tapping(letter=letter, height_m=height, side=side, purpose=purpose, size=size, name=name)


STORE = Part(
    id="store",
    kind="heat_store",
    name="Heat store",
    x_m=3.9,
    height_m=2.75,
    tappings=(
        _tap("A", 1.32, "left", "source_flow", "28"),
        _tap("B", 1.12, "left", "coil"),
        _tap("C", 0.60, "right", "sensor"),
        _tap("D", 0.46, "left", "coil", "15"),
        _tap("E", 0.16, "left", "coil", "15"),
        _tap("F", 0.06, "left", "source_return", "28"),
        _tap("G", 1.26, "right", "source_flow"),
        _tap("H", 1.05, "right", "load_flow"),
        _tap("J", 0.74, "right", "source_return"),
        _tap("K", 0.36, "right", "load_return"),
        _tap("L", 0.06, "right", "drain", "15"),
        _tap("M", 0.0, "bottom", "coil"),
        _tap("N", 1.45, "top", "air_vent", "15"),
    ),
    coils=(
        Coil(name="Solar coil", bottom_m=0.16, top_m=0.46, lower="E", upper="D", purpose="solar"),
        Coil(name="Hot water coil", bottom_m=0.08, top_m=1.12, lower="M", upper="B", purpose="domestic"),
    ),
)


def _part(sheet: Sheet, ident: str, kind: str, x: float, z: float, **more) -> Sheet:
    return edits.place(sheet, Part(id=ident, kind=kind, x_m=x, height_m=z, **more))


def kiln_barn() -> tuple[Sheet, dict[str, str]]:
    """The sheet, and the service of each pipe."""
    s = Sheet(
        title="Kiln Lane barn",
        levels=(Level("Ground floor", 0.0), Level("First floor", 2.6), Level("Loft", 5.0)),
    )
    s = edits.place(s, STORE)
    s = _part(s, "stove", "boiler_stove", 0.9, 0.0, name="Stove", props={"power_kw": 8.0})
    s = _part(s, "leak", "heat_leak_radiator", 0.7, 2.95, name="Heat-leak radiator", mirror=True)
    s = _part(s, "cistern", "feed_expansion_cistern", 1.95, 5.15, name="Cistern")
    s = _part(s, "bedroom", "radiator", 6.3, 3.05, name="Bedroom radiator")
    s = _part(s, "hall", "radiator", 6.3, 0.2, name="Hall radiator")
    s = _part(s, "boiler", "boiler_oil", 7.4, 0.0, name="Oil boiler", mirror=True)
    s = _part(s, "sun", "solar_collector", 5.1, 5.5, name="Solar collector")
    s = _part(s, "mains", "mains_supply", 3.9, -0.25, turn=3, name="Mains supply")
    s = _part(s, "TM1", "mixing_valve", 2.9, 3.87, mirror=True)
    s = _part(s, "basin", "basin", 1.95, 3.35, name="Basin")
    s = _part(s, "vent", "air_vent_auto", 3.9, 4.6)
    s = _part(s, "drain", "drain_cock", 4.5, 2.7)
    s = _part(s, "DT1", "differential_controller", 6.0, 5.3, name="Solar controller")
    services: dict[str, str] = {}

    def join(a: str, b: str, service: str, size: str = "22", via=None) -> str:
        nonlocal s
        pipe = edits.new_pipe_id(s)
        ends = [End(*name.split(".")) for name in (a, b)]
        s = edits.connect(s, ends[0], ends[1], CATALOGUE, size=size, points=via, pipe_id=pipe)
        services[pipe] = service
        return pipe

    def tee(pipe: str, at, towards) -> str:
        nonlocal s
        before = set(s.pipes)
        s, end = edits.tee_into(s, pipe, at, CATALOGUE, towards=towards)
        for new in set(s.pipes) - before:
            services[new] = services[pipe]
        return f"{end.part}.{end.port}"

    def insert(pipe: str, ident: str, kind: str, at, **more) -> None:
        nonlocal s
        before = set(s.pipes)
        s = edits.insert_in_pipe(s, pipe, Part(id=ident, kind=kind, x_m=0.0, height_m=0.0, **more), at, CATALOGUE)
        for new in set(s.pipes) - before:
            services[new] = services[pipe]

    flow = join("stove.flow", "store.A", "flow", "28", [(1.35, 0.68), (1.35, 4.07)])
    back = join("store.F", "stove.return", "return", "28", [(1.7, 2.81), (1.7, 0.2)])
    join("leak.flow", tee(flow, (1.35, 3.5), "left"), "flow", "28")
    join("leak.return", tee(back, (1.7, 2.4), "left"), "return", "28")
    join(tee(flow, (1.35, 4.05), "up"), "cistern.vent", "vent", "15")
    join(tee(back, (2.6, 2.81), "up"), "cistern.feed", "feed")
    join("sun.flow", "store.D", "solar_flow", "15")
    join("sun.return", "store.E", "solar_return", "15")
    hot = join("store.B", "TM1.hot", "hot")
    join("TM1.mixed", "basin.hot", "hot")
    cold = join("mains.a", "store.M", "cold")
    join(tee(cold, (3.9, 2.2), "left"), "TM1.cold", "cold")
    main = join("store.H", "hall.flow", "flow", "22", [(5.3, 3.80), (5.3, 0.752)])
    insert(main, "P1", "pump", (4.9, 3.8))
    branch = next(p.id for p in s.pipes.values() if p.b.part == "hall" and services[p.id] == "flow")
    rad = join(tee(branch, (5.3, 3.6), "right"), "bedroom.flow", "flow")
    insert(rad, "V1", "thermostatic_radiator_valve", (5.6, 3.6))
    ret = join("hall.return", "store.K", "return", "22", [(5.0, 0.248), (5.0, 3.11)])
    join(tee(ret, (5.0, 2.9), "right"), "bedroom.return", "return")
    up = join("boiler.flow", "store.G", "flow")
    down = join("store.J", "boiler.return", "return")
    insert(down, "P2", "pump", (6.9, 2.0))
    join("store.N", "vent.a", "vent", "15")
    join("store.L", "drain.a", "return", "15")
    insert(up, "V2", "isolating_valve", (7.0, 1.5))
    insert(cold, "V3", "stop_valve", (3.9, 0.3), name="Stop valve")
    insert(cold, "C1", "check_valve", (3.9, 1.2), name="Check valve")
    s = edits.put_link(s, ControlLink(id="link1", sensor="DT1", target="P1", does="difference", second="store/C"))
    s = edits.put_note(s, Note(id="note1", x_m=2.2, height_m=1.2, text="Living room"))
    del hot, back
    return msgspec.structs.replace(s), services
