"""Sound systems beside the three-source store: small ones, each with one way of heating a store.

Scenario: houses round Kiln Lane, invented. Owns the systems. Knows nothing of how they are judged.
"""

from __future__ import annotations

from typing import Any

from systems import House, hot_water, oil_boiler, radiators


def _cistern(h: House, x: float, base_m: float = 5.25, **props: Any) -> Any:
    """A cistern with its float valve on the mains to its left and its overflow to its right."""
    b = h.b
    cistern = b.add("feed_expansion_cistern", "cistern", x_m=x, height_m=base_m, name="Cistern", **props)
    mains = h.end("mains_supply", "loft_main", x - 1.55, base_m + 0.4675, "right", pressure_bar=3.0)
    stop_in, stop_out = h.line("stop_valve", "loft_stop", x - 1.15, base_m + 0.4675)
    h.pipe(mains, stop_in, "15")
    h.pipe(stop_out, cistern["float_in"], "15")
    end = h.end("discharge_point", "overflow_end", x + 0.95, base_m + 0.05, "up")
    h.pipe(cistern["overflow"], end, "22", id="overflow")
    return cistern


def _cold_main(h: House, tank: Any, x: float, z: float, riser_x: float, mixer: Any, cold_z: float) -> None:
    """Mains to a hot water coil: stop valve, reducing valve, check valve and vessel; a branch to the mixing valve."""
    b = h.b
    main = h.end("mains_supply", "main", x, z, "left", pressure_bar=3.5)
    stop_in, stop_out = h.line("stop_valve", "SV0", x - 0.45, z, "left", name="Stop valve")
    red_in, red_out = h.line("pressure_reducing_valve", "RV1", x - 1.0, z, "left", name="Pressure-reducing valve")
    branch = h.tee("CT1", x - 1.45, z, "down")
    check_in, check_out = h.line("check_valve", "C1", x - 1.9, z, "left", name="Check valve")
    room = h.tee("CT2", x - 2.35, z, "down")
    vessel = b.add("expansion_vessel_potable", "EV3", x_m=x - 2.35, height_m=z - 0.45, volume_l=8.0, precharge_bar=3.0)
    h.pipe(main, stop_in)
    h.pipe(stop_out, red_in)
    h.pipe(red_out, branch["right"])
    h.pipe(branch["left"], check_in, id="cold_1")
    h.pipe(check_out, room["right"], id="cold_2")
    h.pipe(room["down"], vessel["a"], "15", id="potable_branch")
    h.pipe(room["left"], tank["cold in"], via=[(riser_x - 0.25, z), (riser_x - 0.25, cold_z)], id="cold_3")
    mix_in, mix_out = h.line("check_valve", "C2", x - 2.35, z - 0.8, "left", name="Check valve")
    h.pipe(branch["down"], mix_in, via=[(x - 1.45, z - 0.8)], id="cold_4")
    h.pipe(mix_out, mixer["cold"], via=[(riser_x, z - 0.8)], id="cold_5")


# -- stove beside a store ---------------------------------------------------------------------------------------------


def stove_by_gravity() -> House:
    """A small stove and a store on one floor: gravity pair, gravity radiator upstairs, mains coil for the taps."""
    h = House("Stove and store by gravity", Ground_floor=0.0, First_floor=2.6, Loft=5.0)
    b = h.b
    stove = b.add(
        "boiler_stove",
        "stove",
        x_m=1.2,
        height_m=0.0,
        power_kw=5.0,
        thermal_centre_m=0.45,
        charge_kwh=7.0,
        burn_time_h=1.4,
        rating_bar=2.0,
        name="Stove",
    )
    tank = b.store(
        "store",
        x_m=4.6,
        height_m=0.0,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.55,
        design_temp_c=80.0,
        name="Heat store",
        tappings={
            "stove flow": {"height_m": 1.40, "side": "left", "purpose": "source_flow", "size": "28"},
            "stove return": {"height_m": 0.14, "side": "left", "purpose": "source_return", "size": "28"},
            "hot water": {"height_m": 1.46, "side": "right", "purpose": "coil", "size": "22"},
            "cold in": {"height_m": 0.30, "side": "right", "purpose": "coil", "size": "22"},
            "drain": {"height_m": 0.06, "side": "right", "purpose": "drain", "size": "15"},
            "vent": {"height_m": 1.55, "side": "top", "purpose": "vent", "size": "22"},
        },
        coils=[
            {
                "name": "hot water",
                "bottom_m": 0.30,
                "top_m": 1.46,
                "lower": "cold in",
                "upper": "hot water",
                "purpose": "domestic",
                "area_m2": 2.5,
                "content_l": 10.0,
            }
        ],
    )
    leak = b.add(
        "heat_leak_radiator", "leak", x_m=0.8, height_m=2.9, mirror=True, output_w=1200.0, name="Gravity radiator"
    )
    cistern = _cistern(h, 2.9, hot_rated=True)
    t = h.tee("T", 1.9, 1.40, "right")
    joint = h.tee("VJ", 1.9, 3.452, "left")
    f = h.tee("F", 3.125, 0.14, "up")
    r = h.tee("R", 3.6, 0.14, "up")
    lag = {"insulation_mm": 25.0}
    h.pipe(stove["flow"], t["down"], "28", **lag, id="stove_flow")
    h.pipe(t["right"], tank["stove flow"], "28", graded="b", **lag, id="store_flow")
    h.pipe(t["up"], joint["down"], "28", **lag, id="riser")
    h.pipe(joint["left"], leak["flow"], "28", id="leak_flow")
    h.pipe(leak["return"], r["up"], "28", via=[(3.6, 2.948)], graded="a", id="leak_return")
    h.pipe(joint["up"], cistern["vent"], "22", via=[(1.9, 6.0), (2.675, 6.0)], id="stove_vent", graded="b")
    h.pipe(tank["vent"], cistern["vent_2"], "22", via=[(4.6, 6.05), (2.825, 6.05)], id="store_vent", graded="b")
    h.pipe(cistern["feed"], f["up"], "22", id="feed")
    h.pipe(tank["stove return"], r["right"], "28", graded="b", **lag, id="return_3")
    h.pipe(r["left"], f["right"], "28", graded="b", **lag, id="return_2")
    h.pipe(f["left"], stove["return"], "28", graded="b", via=[(1.75, 0.14), (1.75, 0.2)], **lag, id="return_1")
    drain = h.end("drain_cock", "drain", 5.35, 0.06, "left")
    h.pipe(tank["drain"], drain, "15")
    mixer = b.add("mixing_valve", "TM1", x_m=5.9, height_m=2.0, setting_c=41.0, name="Mixing valve")
    shared = h.tee("HT1", 6.44, 2.0, "up")
    bath = b.add("bath", "bath", x_m=6.5, height_m=2.95, name="Bath")
    basin = b.add("basin", "basin", x_m=7.1, height_m=2.95, name="Basin")
    h.pipe(tank["hot water"], mixer["hot"], via=[(5.5, 1.46), (5.5, 2.0)], id="hot_1")
    h.pipe(mixer["mixed"], shared["left"], id="hot_2")
    h.pipe(shared["up"], bath["hot"], "15", id="hot_3")
    h.pipe(shared["right"], basin["hot"], "15", via=[(7.04, 2.0)], id="hot_4")
    _cold_main(h, tank, 8.6, -0.6, 5.9, mixer, 0.30)
    return h


# -- log boiler -------------------------------------------------------------------------------------------------------


def log_boiler() -> House:
    """A sealed log boiler with cooling coil and loading unit, a store of 1000 l and radiators."""
    h = House("Log boiler, sealed", Ground_floor=0.0, First_floor=2.6)
    b = h.b
    b.fact(house_load_kw=5.0)
    boiler = b.add(
        "log_boiler",
        "boiler",
        x_m=2.2,
        height_m=0.0,
        power_kw=20.0,
        min_output_kw=10.0,
        burn_time_h=3.9,
        charge_kwh=78.0,
        sealed_allowed=True,
        limit_thermostat=True,
        limit_c=95.0,
        rating_bar=3.0,
        name="Log boiler",
    )
    tank = b.store(
        "store",
        x_m=6.6,
        height_m=0.0,
        volume_l=1000.0,
        body_diameter_m=0.79,
        body_height_m=2.05,
        design_temp_c=85.0,
        rating_bar=3.0,
        vented=False,
        name="Heat store",
        tappings={
            "boiler flow": {"height_m": 1.90, "side": "left", "purpose": "source_flow", "size": "28"},
            "boiler return": {"height_m": 0.15, "side": "left", "purpose": "source_return", "size": "28"},
            "radiator flow": {"height_m": 1.60, "side": "right", "purpose": "load_flow", "size": "22"},
            "radiator return": {"height_m": 0.40, "side": "right", "purpose": "load_return", "size": "22"},
            "drain": {"height_m": 0.06, "side": "right", "purpose": "drain", "size": "15"},
            "air": {"height_m": 2.05, "side": "top", "purpose": "air_vent", "size": "15"},
        },
    )
    h.z = {"radiator flow": 1.60, "radiator return": 0.40}
    unit = b.add(
        "loading_unit_3_flap", "LU1", x_m=3.6, height_m=0.15, opens_c=60.0, starts_itself=True, name="Loading unit"
    )
    split = h.tee("BT", 3.6, 1.10, "down")
    sv = h.tee("SVT", 3.0, 1.10, "up")
    relief = b.add("relief_valve", "SV1", x_m=3.0, height_m=1.6, setting_bar=3.0, name="Relief valve")
    relief_end = h.end("discharge_point", "sv_end", 3.5, 1.4, "up")
    h.pipe(boiler["flow"], sv["left"], "28", id="boiler_flow_1", graded="b")
    h.pipe(sv["up"], relief["inlet"], "15")
    h.pipe(relief["outlet"], relief_end, "15", via=[(3.5, 1.6)])
    h.pipe(sv["right"], split["left"], "28", id="boiler_flow_2", graded="b")
    h.pipe(split["right"], tank["boiler flow"], "28", via=[(4.3, 1.10), (4.3, 1.90)], id="boiler_flow_3", graded="b")
    h.pipe(split["down"], unit["bypass"], "28", id="bypass")
    fill = h.tee("FT", 5.2, 0.15, "down")
    room = h.tee("EVT", 4.5, 0.15, "down")
    vessel = b.add(
        "expansion_vessel", "EV1", x_m=4.5, height_m=-0.4, volume_l=150.0, precharge_bar=1.0, name="Expansion vessel"
    )
    loop = b.add("filling_loop", "FL1", x_m=5.2, height_m=-0.35, turn=3, hose_fitted=False, name="Filling loop")
    fill_main = h.end("mains_supply", "fill_main", 5.2, -0.85, "up", pressure_bar=3.0)
    h.pipe(tank["boiler return"], fill["right"], "28", id="return_1", graded="a")
    h.pipe(fill["left"], room["right"], "28", id="return_2", graded="a")
    h.pipe(room["left"], unit["store_return"], "28", id="return_3", graded="a")
    h.pipe(unit["boiler_return"], boiler["return"], "28", id="return_4", graded="a")
    h.pipe(room["down"], vessel["a"], "22", id="vessel_branch")
    h.pipe(fill_main, loop["a"], "15", id="fill_supply")
    h.pipe(loop["b"], fill["down"], "15", id="fill_branch")
    _cooling(h, boiler)
    air = h.end("air_vent_manual", "AV1", 6.6, 2.45, "down")
    h.pipe(tank["air"], air, "15")
    drain = h.end("drain_cock", "drain", 7.5, 0.06, "left")
    h.pipe(tank["drain"], drain, "15")
    radiators(h, tank, 1.6, (3600.0, 2400.0), t_need_c=70.0)
    return h


def _cooling(h: House, boiler: Any) -> None:
    """Mains water through the boiler's cooling coil, let in by a thermal valve, and away over a tundish."""
    b = h.b
    main = h.end("mains_supply", "cooling_main", 0.0, 0.975, "right", pressure_bar=3.0)
    stop_in, stop_out = h.line("stop_valve", "cooling_stop", 0.42, 0.975, locked_open=True)
    mesh_in, mesh_out = h.line("strainer", "cooling_strainer", 0.86, 0.975)
    valve = b.add(
        "thermal_discharge_valve", "TD1", x_m=1.36, height_m=0.975, opens_c=95.0, name="Thermal discharge valve"
    )
    tundish = b.add("tundish", "TU1", x_m=-0.4, height_m=0.75)
    end = h.end("discharge_point", "cooling_end", -0.4, 0.2, "up")
    h.pipe(main, stop_in, "22", id="cooling_1")
    h.pipe(stop_out, mesh_in, "22", id="cooling_2")
    h.pipe(mesh_out, valve["in"], "22", id="cooling_3")
    h.pipe(valve["out"], boiler["cooling_in"], "22", id="cooling_4")
    h.pipe(boiler["cooling_out"], tundish["in"], "22", via=[(-0.4, 1.15)], id="cooling_5")
    h.pipe(tundish["out"], end, "22", id="cooling_6")


# -- oil boiler -------------------------------------------------------------------------------------------------------


def _vented_store(h: House, tappings: dict[str, Any], coils: list[dict[str, Any]]) -> Any:
    """A vented store under its cistern: feed at its base, vent off its top, a drain."""
    b = h.b
    every = {
        "feed": {"height_m": 0.10, "side": "left", "purpose": "feed", "size": "22"},
        "vent": {"height_m": 1.45, "side": "top", "purpose": "vent", "size": "22"},
        **tappings,
        "drain": {"height_m": 0.05, "side": "right", "purpose": "drain", "size": "15"},
    }
    tank = b.store(
        "store",
        x_m=5.0,
        height_m=0.1,
        volume_l=250.0,
        body_diameter_m=0.47,
        body_height_m=1.45,
        design_temp_c=75.0,
        name="Heat store",
        tappings=every,
        coils=coils,
    )
    h.z = {name: 0.1 + spec["height_m"] for name, spec in every.items()}
    cistern = _cistern(h, 3.6, hot_rated=True)
    h.pipe(cistern["feed"], tank["feed"], "22", via=[(3.825, 0.2)], id="feed")
    h.pipe(tank["vent"], cistern["vent"], "22", via=[(5.0, 6.0), (3.375, 6.0)], graded="b", id="store_vent")
    drain = h.end("drain_cock", "drain", 5.75, h.z["drain"], "left")
    h.pipe(tank["drain"], drain, "15")
    return tank


def oil_by_coil() -> House:
    """A sealed oil boiler on a coil of a vented store, with radiators and hot water."""
    h = House("Oil boiler on a vented store", Ground_floor=0.0, First_floor=2.6, Loft=5.0)
    tank = _vented_store(
        h,
        {
            "hot water": {"height_m": 1.37, "side": "right", "purpose": "coil", "size": "22"},
            "boiler flow": {"height_m": 1.23, "side": "right", "purpose": "coil", "size": "22"},
            "radiator flow": {"height_m": 1.09, "side": "right", "purpose": "load_flow", "size": "22"},
            "boiler return": {"height_m": 0.725, "side": "right", "purpose": "coil", "size": "22"},
            "radiator return": {"height_m": 0.43, "side": "right", "purpose": "load_return", "size": "22"},
            "cold in": {"height_m": 0.29, "side": "right", "purpose": "coil", "size": "22"},
            "boiler sensor": {"height_m": 0.97, "side": "right", "purpose": "sensor"},
        },
        [
            {
                "name": "boiler",
                "bottom_m": 0.725,
                "top_m": 1.23,
                "lower": "boiler return",
                "upper": "boiler flow",
                "purpose": "source",
                "area_m2": 1.4,
                "content_l": 8.0,
            },
            {
                "name": "hot water",
                "bottom_m": 0.29,
                "top_m": 1.37,
                "lower": "cold in",
                "upper": "hot water",
                "purpose": "domestic",
                "area_m2": 2.5,
                "content_l": 10.0,
            },
        ],
    )
    oil_boiler(h, tank)
    radiators(h, tank)
    hot_water(h, tank)
    return h


def store_only() -> House:
    """A vented store under its cistern and nothing else: somewhere to begin."""
    h = House("Store only", Ground_floor=0.0, First_floor=2.6, Loft=5.0)
    _vented_store(h, {}, [])
    return h
