"""The sound sheets from which lessons start. Scenario: invented houses. Metres; x right, height up.

Owns the base sheets: A stove and store, B three sources, C oil boiler on a vented store, D the same with sun.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import others
from pen import Pen

import systems
from loopwright.sheet import edits
from systems import BASE_COILS, BASE_STORE, House

LAG = {"insulation_mm": 25.0}


def store(
    h: House,
    names: Sequence[str],
    coils: Sequence[str] = (),
    changes: Mapping[str, Mapping[str, Any]] | None = None,
    **props: Any,
) -> Any:
    """The base store of 500 l with some of its tappings and coils. `changes` are fields of tappings, new ones too."""
    more = changes or {}
    taps = {n: {**BASE_STORE[n], **more.get(n, {})} for n in names}
    taps |= {n: dict(spec) for n, spec in more.items() if n not in taps}
    wound = [
        {**c, "bottom_m": taps[str(c["lower"])]["height_m"], "top_m": taps[str(c["upper"])]["height_m"]}
        for c in BASE_COILS
        if c["name"] in coils
    ]
    h.z = {n: 0.1 + float(spec["height_m"]) for n, spec in taps.items()}
    given = {"volume_l": 500.0, "body_diameter_m": 0.65, "body_height_m": 1.8, "design_temp_c": 80.0, "rating_bar": 3.0}
    tank = h.b.store(
        "store", x_m=5.0, height_m=0.1, tappings=taps, coils=wound, name="Heat store", **{**given, **props}
    )
    return tank


def drain(h: House, tank: Any) -> None:
    """A drain cock on the store's lowest stub."""
    h.pipe(tank["drain"], h.end("drain_cock", "drain", 5.75, h.z["drain"], "left"), "15")


def house(title: str, **levels: float) -> House:
    """An empty house of two floors and a loft, unless other levels are given."""
    return House(title, **(levels or {"Ground_floor": 0.0, "First_floor": 2.6, "Loft": 5.0}))


STOVE_TAPS = ("stove flow", "stove return", "drain", "vent")


def stove_and_store(
    title: str = "Lantern cottage",
    changes: Mapping[str, Mapping[str, Any]] | None = None,
    extra: Sequence[str] = (),
    **props: Any,
) -> House:
    """Base A: stove, heat leak, cistern, store by gravity. Ids: stove, leak, cistern, store, tees T, VJ, F, R.

    Pipes: stove_flow, store_flow, riser, leak_flow, leak_return, stove_vent, store_vent, feed, return_3 to return_1.
    """
    h = house(title)
    tank = store(h, (*STOVE_TAPS, *extra), changes=changes, **props)
    systems._stove(h, tank)
    drain(h, tank)
    return h


def three_sources(title: str = "Kiln Lane barn") -> House:
    """Base B: the three-source store of 500 l."""
    return systems.base(title)


OIL_TAPS = (
    "hot water", "boiler flow", "radiator flow", "boiler return", "radiator return", "cold in", "drain", "vent",
    "boiler sensor",
)  # fmt: skip


def oil_and_store(
    title: str = "Osier Yard",
    *,
    sun: bool = False,
    coil: bool = False,
    taps: bool = True,
    more: Mapping[str, Mapping[str, Any]] | None = None,
    extra: Sequence[str] = (),
) -> House:
    """Base C, and D with `sun`: an oil boiler straight on a vented store (or by `coil`), radiators, hot water."""
    h = house(title)
    feed = {"feed": {"height_m": 0.10, "side": "left", "purpose": "feed", "size": "22"}}
    direct = {} if coil else {
        "boiler flow": {"purpose": "source_flow"},
        "boiler return": {"purpose": "source_return", "height_m": 0.81},
    }  # fmt: skip
    names = (*OIL_TAPS, *(("solar flow", "solar return", "solar sensor") if sun else ()), *extra)
    changes: dict[str, dict[str, Any]] = {**feed, **direct}
    for name, fields in (more or {}).items():
        changes[name] = {**changes.get(name, {}), **fields}
    if sun:
        changes["feed"]["height_m"] = 0.14
    coils = ["hot water"] + (["solar"] if sun else []) + (["boiler"] if coil else [])
    tank = store(h, names, coils, changes)
    x = 2.2 if sun else 3.6
    cistern = others._cistern(h, x, hot_rated=True)
    h.pipe(cistern["feed"], tank["feed"], "22", via=[(x + 0.225, h.z["feed"])], id="feed")
    h.pipe(tank["vent"], cistern["vent"], "22", via=[(5.0, 6.0), (x - 0.225, 6.0)], graded="b", id="store_vent")
    drain(h, tank)
    if coil:
        systems.oil_boiler(h, tank)
    else:
        boiler_direct(h, tank)
    if sun:
        systems._solar(h, tank)
    back = h.z.pop("boiler return") if "boiler return" in (more or {}) else None  # else the bypass stands clear of it
    systems.radiators(h, tank)
    if back is not None:
        h.z["boiler return"] = back
    if taps:
        systems.hot_water(h, tank)
    return h


def boiler_direct(h: House, tank: Any, flow: str = "boiler flow", back: str = "boiler return") -> None:
    """An oil boiler on two tappings: check, service valve and pump on its return, its flow open to the store."""
    b = h.b
    boiler = b.add(
        "boiler_oil", "boiler", x_m=12.0, height_m=0.0, mirror=True, power_kw=18.0, t_flow_c=75.0, limit_c=85.0,
        limit_thermostat=True, name="Oil boiler",
    )  # fmt: skip
    under = (h.z["radiator flow"] - 0.552 + systems._floor_base(h) + 0.4) / 2
    h.pipe(boiler["flow"], tank[flow], "22", via=[(11.4, 0.7225), (11.4, h.z[flow])], id="boiler_flow")
    low = h.tee("DCT", 9.75, 0.3, "down")
    h.pipe(low["down"], h.end("drain_cock", "DC1", 9.75, -0.02, "up"), "15")
    check_in, check_out = h.line("check_valve", "C4", 10.15, 0.3, "right", name="Boiler check valve")
    valve_in, valve_out = h.line("isolating_valve", "V4", 10.55, 0.3, "right", name="Service valve")
    pump_in, pump_out = h.line("pump", "P2", 10.95, 0.3, "right", name="Boiler pump")
    h.pipe(
        tank[back], low["left"], "22", id="boiler_return_1",
        via=[(8.0, h.z[back]), (8.0, under), (9.5, under), (9.5, 0.3)],
    )  # fmt: skip
    h.pipe(low["right"], check_in, "22", id="boiler_return_2")
    h.pipe(check_out, valve_in, "22", id="boiler_return_3")
    h.pipe(valve_out, pump_in, "22", id="boiler_return_4")
    h.pipe(pump_out, boiler["return"], "22", via=[(11.4, 0.3), (11.4, 0.2125)], id="boiler_return_5")
    for target in ("boiler", "P2"):
        b.link(tank.pocket("boiler sensor"), target, does="runs_below", setting_c=65.0)


def log_boiler_and_store(title: str = "Old Net Loft", extra: Sequence[str] = ()) -> House:
    """Base G: a vented log boiler and a store of 1200 l; loading unit with flap between service valves V1 to V4.

    The heat leak of 2 kW, vent and feed stay on the boiler's side of the unit. Ids as in base A, the boiler is `stove`.
    """
    h = stove_and_store(title, extra=extra, volume_l=1200.0, body_diameter_m=0.93, body_height_m=1.8)
    pen = Pen(h.b.done())
    pen.exchange(
        "stove", "log_boiler", power_kw=20.0, min_output_kw=10.0, burn_time_h=4.0, charge_kwh=80.0, rating_bar=2.0,
        thermal_centre_m=0.6, limit_c=95.0,
    )  # fmt: skip
    pen.sheet = edits.set_part(pen.sheet, "stove", name="Log boiler")
    pen.set("leak", output_w=2000.0)
    pen.cut("drain")
    pen.tap("store", "drain", 0.03)
    pen.pipe(pen["store"]["drain"], pen.add("drain_cock", "drain", x_m=5.9, height_m=0.13, turn=1)["a"], "15", via=[])
    pen.cut("store_flow", "return_3")
    unit = pen.add(
        "loading_unit_4_flap", "LU", x_m=3.8, height_m=0.9, opens_c=60.0, starts_itself=True, name="Loading unit"
    )
    tank = pen["store"]
    for id, x, z, turn, a, b in (
        ("V1", 3.0, 1.72, 0, pen.at("T", "right"), unit["boiler_flow"]),
        ("V2", 4.2, 1.02, 0, unit["store_flow"], tank["stove flow"]),
        ("V3", 4.2, 0.2, 2, tank["stove return"], unit["store_return"]),
        ("V4", 3.5, 0.5, 2, unit["boiler_return"], pen.at("R", "right")),
    ):
        valve = pen.add("isolating_valve", id, x_m=x, height_m=z, turn=turn, name=f"Service valve {id}")
        pen.pipe(a, valve["a"], "28", via=[], id=f"unit_{id}_a")
        pen.pipe(valve["b"], b, "28", via=[], id=f"unit_{id}_b")
    stat = pen.add("pipe_thermostat", "TS1", x_m=1.25, height_m=1.45, name="Pipe thermostat")
    pen.link(stat, "LU", does="runs_above", setting_c=55.0)
    h.b.sheet = pen.done()
    return h
