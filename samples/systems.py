"""The systems behind the samples, starters and tests, drawn by script so that they never go stale.

`python samples/systems.py` writes them. Scenario: Kiln Lane barn, invented. Each system is a function that gives a
builder, so that a fault is one edit of a sound system. Owns the three-source store; the others are in `others.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.sheet.values import End, Sheet

Turns = {"up": 0, "right": 1, "down": 2, "left": 3}
_OUT = {
    0: {"left": "left", "right": "right", "branch": "up"},
    1: {"left": "up", "right": "down", "branch": "right"},
    2: {"left": "right", "right": "left", "branch": "down"},
    3: {"left": "down", "right": "up", "branch": "left"},
}


class House:
    """A builder with the turns of small fittings by the compass."""

    def __init__(self, title: str, **levels: float) -> None:
        self.z: dict[str, float] = {}
        """Heights of the store's tappings on the sheet."""
        self.b = draw.sheet(title, levels={k.replace("_", " "): v for k, v in levels.items()})

    def tee(self, name: str, x: float, z: float, branch: str) -> dict[str, End]:
        """A tee whose branch leaves towards `branch`; ends by direction."""
        turn = Turns[branch]
        part = self.b.add("tee", name, x_m=x, height_m=z, turn=turn)
        return {_OUT[turn][port]: part[port] for port in ("left", "right", "branch")}

    def line(self, kind: str, id: str, x: float, z: float, to: str = "right", **props: Any) -> tuple[End, End]:
        """A fitting in line whose own direction a -> b points `to`; gives (inlet, outlet)."""
        part = self.b.add(kind, id, x_m=x, height_m=z, turn={"right": 0, "down": 1, "left": 2, "up": 3}[to], **props)
        return part["a"], part["b"]

    def end(self, kind: str, id: str, x: float, z: float, opens: str, **props: Any) -> End:
        """A one-port part whose port `a` opens towards `opens`."""
        return self.b.add(kind, id, x_m=x, height_m=z, turn=_turn_for(kind, opens), **props)[_first_port(kind)]

    def pipe(self, a: End, b: End, size: str = "22", **more: Any) -> Any:
        """A pipe."""
        return self.b.pipe(a, b, size=size, **more)


def _first_port(kind: str) -> str:
    return standard_catalogue()[kind].ports[0].name


def _turn_for(kind: str, opens: str) -> int:
    order = ("up", "right", "down", "left")
    port = standard_catalogue()[kind].ports[0]
    return (order.index(opens) - order.index(port.side)) % 4


BASE_STORE = {
    "stove flow": {"height_m": 1.62, "side": "left", "purpose": "source_flow", "size": "28"},
    "solar flow": {"height_m": 0.63, "side": "left", "purpose": "coil", "size": "22"},
    "stove return": {"height_m": 0.10, "side": "left", "purpose": "source_return", "size": "28"},
    "solar return": {"height_m": 0.054, "side": "left", "purpose": "coil", "size": "22"},
    "hot water": {"height_m": 1.70, "side": "right", "purpose": "coil", "size": "22"},
    "boiler flow": {"height_m": 1.53, "side": "right", "purpose": "coil", "size": "22"},
    "radiator flow": {"height_m": 1.35, "side": "right", "purpose": "load_flow", "size": "22"},
    "floor flow": {"height_m": 0.99, "side": "right", "purpose": "load_flow", "size": "22"},
    "boiler return": {"height_m": 0.90, "side": "right", "purpose": "coil", "size": "22"},
    "radiator return": {"height_m": 0.54, "side": "right", "purpose": "load_return", "size": "22"},
    "cold in": {"height_m": 0.36, "side": "right", "purpose": "coil", "size": "22"},
    "floor return": {"height_m": 0.18, "side": "right", "purpose": "load_return", "size": "22"},
    "drain": {"height_m": 0.06, "side": "right", "purpose": "drain", "size": "15"},
    "vent": {"height_m": 1.80, "side": "top", "purpose": "vent", "size": "22"},
    "solar sensor": {"height_m": 0.30, "side": "right", "purpose": "sensor"},
    "boiler sensor": {"height_m": 1.20, "side": "right", "purpose": "sensor"},
    "radiator sensor": {"height_m": 1.45, "side": "right", "purpose": "sensor"},
}
BASE_COILS = (
    {
        "name": "solar",
        "bottom_m": 0.054,
        "top_m": 0.63,
        "lower": "solar return",
        "upper": "solar flow",
        "purpose": "solar",
        "area_m2": 1.2,
        "content_l": 7.0,
    },
    {
        "name": "boiler",
        "bottom_m": 0.90,
        "top_m": 1.53,
        "lower": "boiler return",
        "upper": "boiler flow",
        "purpose": "source",
        "area_m2": 1.4,
        "content_l": 8.0,
    },
    {
        "name": "hot water",
        "bottom_m": 0.36,
        "top_m": 1.70,
        "lower": "cold in",
        "upper": "hot water",
        "purpose": "domestic",
        "area_m2": 2.5,
        "content_l": 10.0,
    },
)


SMALL_STORE: dict[str, Any] = {"volume_l": 250.0, "body_diameter_m": 0.47, "body_height_m": 1.45}
SMALL_HEIGHTS = {
    "stove flow": 1.305,
    "solar flow": 0.50,
    "stove return": 0.10,
    "solar return": 0.05,
    "hot water": 1.37,
    "boiler flow": 1.23,
    "radiator flow": 1.09,
    "floor flow": 0.80,
    "boiler return": 0.725,
    "radiator return": 0.43,
    "cold in": 0.29,
    "floor return": 0.16,
    "drain": 0.05,
    "vent": 1.45,
    "solar sensor": 0.24,
    "boiler sensor": 0.97,
    "radiator sensor": 1.16,
}


def three_source() -> House:
    """The three-source store with the usual store of 250 l."""
    return base(store=SMALL_STORE, heights=SMALL_HEIGHTS)


def base(
    title: str = "Kiln Lane barn", *, store: Mapping[str, Any] | None = None, heights: Mapping[str, float] | None = None
) -> House:
    """The three-source store: stove by gravity, sealed oil boiler and solar by coils, radiators, floor, hot water.

    `heights` are those of the tappings above the store's base, where they are not the 1.8 m store's; pipes follow.
    """
    h = House(title, Ground_floor=0.0, First_floor=2.6, Loft=5.0)
    b = h.b
    tall = heights or {}
    tappings = {name: {**spec, "height_m": tall.get(name, spec["height_m"])} for name, spec in BASE_STORE.items()}
    coils = [
        {
            **coil,
            "bottom_m": tappings[str(coil["lower"])]["height_m"],
            "top_m": tappings[str(coil["upper"])]["height_m"],
        }
        for coil in BASE_COILS
    ]
    h.z = {name: 0.1 + float(spec["height_m"]) for name, spec in tappings.items()}
    tank = b.store(
        "store",
        x_m=5.0,
        height_m=0.1,
        **{
            "volume_l": 500.0,
            "body_diameter_m": 0.65,
            "body_height_m": 1.8,
            "design_temp_c": 80.0,
            "rating_bar": 3.0,
            **(store or {}),
        },
        tappings=tappings,
        coils=coils,
        name="Heat store",
    )
    _stove(h, tank)
    oil_boiler(h, tank)
    _solar(h, tank)
    radiators(h, tank)
    _floor(h, tank)
    hot_water(h, tank)
    drain = h.end("drain_cock", "drain", 5.75, h.z["drain"], "left")
    h.pipe(tank["drain"], drain, "15")
    return h


def _stove(h: House, tank: Any) -> None:
    b = h.b
    stove = b.add(
        "boiler_stove",
        "stove",
        x_m=1.0,
        height_m=0.0,
        power_kw=8.0,
        thermal_centre_m=0.5,
        charge_kwh=10.0,
        burn_time_h=1.25,
        name="Stove",
        rating_bar=2.0,
    )
    leak = b.add(
        "heat_leak_radiator", "leak", x_m=0.7, height_m=3.0, mirror=True, output_w=1300.0, name="Heat-leak radiator"
    )
    cistern = b.add(
        "feed_expansion_cistern",
        "cistern",
        x_m=2.45,
        height_m=5.25,
        hot_rated=True,
        expansion_room_l=45.0,
        name="Cistern",
    )
    t = h.tee("T", 1.7, h.z["stove flow"], "right")
    joint = h.tee("VJ", 1.7, 3.552, "left")
    f = h.tee("F", 2.675, 0.2, "up")
    r = h.tee("R", 3.2, 0.2, "up")
    lag = {"insulation_mm": 25.0}
    h.pipe(stove["flow"], t["down"], "28", **lag, id="stove_flow")
    h.pipe(t["right"], tank["stove flow"], "28", graded="b", **lag, id="store_flow")
    h.pipe(t["up"], joint["down"], "28", **lag, id="riser")
    h.pipe(joint["left"], leak["flow"], "28", id="leak_flow")
    h.pipe(leak["return"], r["up"], "28", via=[(3.2, 3.048)], graded="a", id="leak_return")
    h.pipe(joint["up"], cistern["vent"], "22", via=[(1.7, 6.0), (2.225, 6.0)], id="stove_vent", graded="b")
    h.pipe(tank["vent"], cistern["vent_2"], "22", via=[(5.0, 6.05), (2.375, 6.05)], id="store_vent", graded="b")
    h.pipe(cistern["feed"], f["up"], "22", id="feed")
    h.pipe(tank["stove return"], r["right"], "28", graded="a", **lag, id="return_3")
    h.pipe(r["left"], f["right"], "28", graded="a", **lag, id="return_2")
    h.pipe(f["left"], stove["return"], "28", graded="a", **lag, id="return_1")
    mains = h.end("mains_supply", "loft_main", 0.9, 5.7175, "right", pressure_bar=3.0)
    stop_in, stop_out = h.line("stop_valve", "loft_stop", 1.3, 5.7175)
    h.pipe(mains, stop_in, "15")
    h.pipe(stop_out, cistern["float_in"], "15")
    out = h.end("discharge_point", "overflow_end", 3.4, 5.3, "up")
    h.pipe(cistern["overflow"], out, "22", material="copper", id="overflow")


def oil_boiler(h: House, tank: Any) -> None:
    """A sealed oil boiler on the store's boiler coil, 7 m to its right: pump, relief valve, vessel, filling loop."""
    b = h.b
    boiler = b.add(
        "boiler_oil",
        "boiler",
        x_m=12.0,
        height_m=0.0,
        mirror=True,
        power_kw=15.0,
        t_flow_c=75.0,
        limit_c=80.0,
        name="Oil boiler",
        limit_thermostat=True,
    )
    sv = h.tee("SVT", 11.4, h.z["boiler flow"], "up")
    relief = b.add("relief_valve", "SV1", x_m=11.4, height_m=2.0, setting_bar=3.0, name="Relief valve")
    end = h.end("discharge_point", "sv_end", 11.9, 1.75, "up")
    h.pipe(relief["outlet"], end, "15")
    h.pipe(sv["up"], relief["inlet"], "15")
    h.pipe(boiler["flow"], sv["right"], "22", via=[(11.6, h.z["boiler flow"])], id="boiler_flow_1")
    top = h.tee("AVT2", 10.9, h.z["boiler flow"], "up")
    air = h.end("air_vent_manual", "AV2", 10.9, h.z["boiler flow"] + 0.3, "down")
    h.pipe(top["up"], air, "15")
    h.pipe(sv["left"], top["right"], "22", id="boiler_flow_2")
    h.pipe(top["left"], tank["boiler flow"], "22", id="boiler_flow_3")
    under = (h.z["radiator flow"] - 0.552 + _floor_base(h) + 0.4) / 2  # between the hall radiator and the manifold
    pump_in, pump_out = h.line("pump", "P2", 10.9, 0.3, "right", name="Boiler pump")
    vessel_tee = h.tee("EVT", 10.5, 0.3, "down")
    vessel = h.end("expansion_vessel", "EV1", 10.5, -0.15, "up", volume_l=12.0, precharge_bar=1.0)
    fill_tee = h.tee("FT", 10.1, 0.3, "down")
    loop = b.add("filling_loop", "FL1", x_m=10.1, height_m=-0.1, turn=3, hose_fitted=False, name="Filling loop")
    fill_main = h.end("mains_supply", "fill_main", 10.1, -0.6, "up", pressure_bar=3.0)
    h.pipe(pump_out, boiler["return"], "22", via=[(11.4, 0.3), (11.4, 0.2125)], id="boiler_return_1")
    h.pipe(vessel_tee["right"], pump_in, "22", id="boiler_return_2")
    h.pipe(fill_tee["right"], vessel_tee["left"], "22", id="boiler_return_3")
    h.pipe(vessel_tee["down"], vessel, "15", id="vessel_branch")
    h.pipe(fill_tee["down"], loop["b"], "15", id="fill_branch")
    h.pipe(fill_main, loop["a"], "15", id="fill_supply")
    low = h.tee("DCT", 9.75, 0.3, "down")
    cock = h.end("drain_cock", "DC1", 9.75, -0.02, "up")
    h.pipe(low["down"], cock, "15")
    h.pipe(low["right"], fill_tee["left"], "22", id="boiler_return_5")
    h.pipe(
        tank["boiler return"],
        low["left"],
        "22",
        id="boiler_return_4",
        via=[(8.0, h.z["boiler return"]), (8.0, under), (9.5, under), (9.5, 0.3)],
    )
    b.link(tank.pocket("boiler sensor"), "boiler", does="runs_below", setting_c=65.0)
    b.link(tank.pocket("boiler sensor"), "P2", does="runs_below", setting_c=65.0)


def _solar(h: House, tank: Any) -> None:
    b = h.b
    panel = b.add(
        "solar_collector",
        "collector",
        x_m=7.2,
        height_m=5.7,
        absorber_m2=4.0,
        content_l=3.0,
        mirror=True,
        name="Solar collector",
    )
    vent = h.tee("AVT", 6.1, 6.778, "up")
    air = h.end("air_vent_manual", "AV1", 6.1, 7.05, "down")
    h.pipe(panel["flow"], vent["right"], "22", id="solar_flow_1")
    h.pipe(vent["up"], air, "15")
    h.pipe(vent["left"], tank["solar flow"], "22", via=[(4.15, 6.778), (4.15, h.z["solar flow"])], id="solar_flow_2")
    unit_in, unit_out = h.line("solar_pump_unit", "P3", 3.9, 3.8, "up", name="Solar pump", opening_pa=2000.0)
    sv = h.tee("SVT2", 3.9, 4.5, "right")
    relief = b.add("relief_valve", "SV2", x_m=4.5, height_m=4.75, setting_bar=6.0, name="Solar relief valve")
    end = h.end("discharge_point", "solar_end", 4.75, 4.3, "up")
    h.pipe(sv["right"], relief["inlet"], "15", via=[(4.5, 4.5)])
    h.pipe(relief["outlet"], end, "15", via=[(4.75, 4.75)])
    ev = h.tee("EVT2", 3.9, 4.9, "left")
    vessel = h.end("expansion_vessel_solar", "EV2", 3.5, 4.7, "up", volume_l=24.0, precharge_bar=1.5)
    h.pipe(ev["left"], vessel, "15")
    low = h.tee("DCT2", 3.9, -0.1, "right")
    cock = h.end("drain_cock", "DC2", 3.9, -0.4, "up")
    h.pipe(low["down"], cock, "15")
    h.pipe(tank["solar return"], low["right"], "22", via=[(4.4, h.z["solar return"]), (4.4, -0.1)], id="solar_return_1")
    h.pipe(low["up"], unit_in, "22", id="solar_return_5")
    h.pipe(unit_out, sv["down"], "22", id="solar_return_2")
    h.pipe(sv["up"], ev["down"], "22", id="solar_return_3")
    h.pipe(ev["up"], panel["return"], "22", via=[(3.9, 5.45), (8.1, 5.45)], id="solar_return_4")
    b.add("differential_controller", "DT1", x_m=6.0, height_m=4.3, name="Solar controller")
    b.link("collector", "P3", does="difference", second=tank.pocket("solar sensor"), setting_c=7.0, off_c=3.0)
    b.link(tank.pocket("solar sensor"), "P3", does="stops_above", setting_c=85.0)


def radiators(
    h: House,
    tank: Any,
    right: float = 0.0,
    output_w: tuple[float, float] = (2100.0, 1400.0),
    **more: Any,
) -> None:
    """Two radiators with thermostatic valves on a pump, bypass and check; `right` moves them along the sheet.

    `more` are further properties of both radiators.
    """
    b, top, low_z = h.b, h.z["radiator flow"], h.z["radiator return"]
    p_in, p_out = h.line("pump", "P1", right + 6.45, top, name="Radiator pump")
    by_flow = h.tee("BT1", right + 6.85, top, "down")
    by_z = h.z["boiler return"] + 0.14 if "boiler return" in h.z else (top + low_z) / 2  # clear of what crosses below
    by_in, by_out = h.line("automatic_bypass_valve", "BV1", right + 6.85, by_z, "down", name="Automatic bypass")
    by_back = h.tee("BT2", right + 6.85, low_z, "up")
    check_in, check_out = h.line("anti_gravity_check", "C1", right + 7.2, top, name="Anti-gravity check")
    split = h.tee("RT1", right + 7.6, top, "up")
    joined = h.tee("RT2", right + 7.4, low_z, "up")
    low = b.add(
        "radiator", "R1", x_m=right + 8.7, height_m=top - 0.552, output_w=output_w[0], name="Hall radiator", **more
    )
    high = b.add("radiator", "R2", x_m=right + 8.7, height_m=3.0, output_w=output_w[1], name="Bedroom radiator", **more)
    v1_in, v1_out = h.line("thermostatic_radiator_valve", "TV1", right + 7.9, top)
    v2_in, v2_out = h.line("thermostatic_radiator_valve", "TV2", right + 7.9, 3.552)
    h.pipe(tank["radiator flow"], p_in, id="rad_flow_1")
    h.pipe(p_out, by_flow["left"])
    h.pipe(by_flow["down"], by_in, via=[])
    h.pipe(by_out, by_back["up"], via=[])
    h.pipe(by_flow["right"], check_in)
    h.pipe(check_out, split["left"])
    h.pipe(split["right"], v1_in, "15")
    h.pipe(v1_out, low["flow"], "15")
    h.pipe(split["up"], v2_in, "15", via=[(right + 7.6, 3.552)])
    h.pipe(v2_out, high["flow"], "15")
    h.pipe(low["return"], joined["right"], "15", via=[(right + 7.7, top - 0.504), (right + 7.7, low_z)])
    h.pipe(high["return"], joined["up"], "15", via=[(right + 7.4, 3.048)])
    h.pipe(joined["left"], by_back["right"])
    h.pipe(by_back["left"], tank["radiator return"], id="rad_return")
    b.add("room_thermostat", "TR1", x_m=right + 8.3, height_m=4.1, name="Room thermostat")
    b.link("TR1", "P1", does="runs_below", setting_c=20.0)


def _floor_base(h: House) -> float:
    """Base of the manifold: on the floor where the hall radiator hangs low."""
    return 0.1 if h.z["radiator flow"] > 1.4 else 0.0


def _floor(h: House, tank: Any) -> None:
    b, base_m = h.b, _floor_base(h)
    floor = b.add(
        "underfloor_manifold",
        "floor",
        x_m=8.6,
        height_m=base_m,
        output_w=3000.0,
        mixing_built_in=True,
        high_limit_built_in=True,
        bypass_built_in=True,
        pump_built_in=False,
        name="Underfloor manifold",
    )
    pump_z = (h.z["boiler return"] + h.z["radiator return"]) / 2
    p_in, p_out = h.line("pump", "P4", 6.3, pump_z, "down", name="Floor pump")
    h.pipe(tank["floor flow"], p_in, via=[(6.3, h.z["floor flow"])], id="floor_flow_1")
    h.pipe(p_out, floor["flow"], via=[(6.3, base_m + 0.32)], id="floor_flow_2")
    h.pipe(
        floor["return"],
        tank["floor return"],
        via=[(6.12, base_m + 0.08), (6.12, h.z["floor return"])],
        id="floor_return",
    )
    b.add("room_thermostat", "TR2", x_m=9.6, height_m=2.0, name="Floor room thermostat")
    b.link("TR2", "P4", does="runs_below", setting_c=20.0)


def hot_water(h: House, tank: Any) -> None:
    """The mains through the store's hot water coil, and a mixing valve before the taps."""
    b = h.b
    mixer = b.add("mixing_valve", "TM1", x_m=6.1, height_m=2.2, setting_c=44.0, name="Mixing valve")
    sink = b.add("sink", "sink", x_m=7.06, height_m=2.95, name="Sink")
    bath = b.add("bath", "bath", x_m=6.7, height_m=2.95, name="Bath")
    shared = h.tee("HT1", 6.64, 2.2, "up")
    h.pipe(tank["hot water"], mixer["hot"], via=[(5.7, h.z["hot water"]), (5.7, 2.2)], id="hot_1")
    h.pipe(mixer["mixed"], shared["left"], id="hot_2")
    h.pipe(shared["up"], bath["hot"], "15", id="hot_3")
    h.pipe(shared["right"], sink["hot"], "15", id="hot_4")
    main = h.end("mains_supply", "main", 9.2, -0.6, "left", pressure_bar=3.5, name="Mains supply")
    stop_in, stop_out = h.line("stop_valve", "SV0", 8.8, -0.6, "left", name="Stop valve")
    red_in, red_out = h.line("pressure_reducing_valve", "RV1", 8.3, -0.6, "left", name="Pressure-reducing valve")
    branch = h.tee("CT1", 7.9, -0.6, "down")
    check_in, check_out = h.line("check_valve", "C2", 7.4, -0.6, "left", name="Check valve")
    room = h.tee("CT2", 6.9, -0.6, "down")
    vessel = h.end("expansion_vessel_potable", "EV3", 6.9, -1.1, "up", volume_l=8.0, precharge_bar=3.0)
    h.pipe(main, stop_in)
    h.pipe(stop_out, red_in)
    h.pipe(red_out, branch["right"])
    h.pipe(branch["left"], check_in, id="cold_2")
    h.pipe(check_out, room["right"], id="cold_3")
    h.pipe(room["down"], vessel, "15", id="potable_branch")
    h.pipe(room["left"], tank["cold in"], via=[(5.55, -0.6), (5.55, h.z["cold in"])], id="cold_4")
    mix_in, mix_out = h.line("check_valve", "C3", 6.2, -1.3, "left", name="Check valve")
    h.pipe(branch["down"], mix_in, via=[(7.9, -1.3)], id="cold_5")
    h.pipe(mix_out, mixer["cold"], id="cold_6", via=[(5.95, -1.3), (5.95, 1.95), (6.1, 1.95)])


def done(house: House) -> Sheet:
    """The finished sheet."""
    return house.b.done()


if __name__ == "__main__":
    from writing import main

    main()
