"""Sound systems drawn small, where no fire is the question: boilers, sun, heat pump, radiators, floors, tap water.

Owns the drawings. Knows nothing of how they are judged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import others
from fire_sheets import fire
from small_systems import cistern, closed, drain, system

from loopwright import draw
from loopwright.draw import Drawing, PartRef
from loopwright.sheet.values import End
from systems import hot_water


def vented(
    title: str, taps: Mapping[str, Mapping[str, object]], coils: Sequence[Mapping[str, object]] = (), **props: object
) -> tuple[Drawing, PartRef]:
    """A vented store of 300 l, base at 0.1 m: feed into its left foot, vent off its top, drains."""
    s = draw.sheet(title)
    store = s.store(
        "store",
        x_m=5.0,
        height_m=0.1,
        coils=coils,
        tappings={
            "feed": {"height_m": 0.1, "side": "left", "size": "22", "purpose": "feed"},
            "vent": {"height_m": 1.6, "side": "top", "size": "22"},
            "drain": {"height_m": 0.03, "side": "right", "size": "15", "purpose": "drain"},
            **taps,
        },
        **{"volume_l": 300.0, "body_diameter_m": 0.5, "body_height_m": 1.6, "design_temp_c": 75.0, **props},
    )
    tank = cistern(s, "cistern", 3.6)
    s.pipe(tank["feed"], store["feed"], "22", via=[(3.825, 0.2)], id="feed")
    s.pipe(store["vent"], tank["vent"], "22", via=[(5.0, 6.0), (3.375, 6.0)], graded="b", id="vent")
    s.pipe(store["drain"], s.add("drain_cock", "low", x_m=5.8, height_m=0.0)["a"], "15", via=[])
    return s, store


def boiler_at(s: Drawing, store: PartRef, *, kind: str = "boiler_oil", **props: object) -> PartRef:
    """A boiler on the store's left tappings `flow` and `return`, pump on its return."""
    boiler = s.add(kind, "boiler", x_m=1.0, height_m=0.0, **{"power_kw": 15.0, "limit_c": 90.0, **props})
    pump = s.add("pump", "boiler_pump", x_m=2.6, height_m=0.45, turn=2)
    s.pipe(boiler["flow"], store["flow"], "22", via=[(1.8, 0.8), (1.8, 1.5)], id="boiler_flow")
    s.pipe(store["return"], pump["a"], "22", via=[], id="boiler_return")
    s.pipe(pump["b"], boiler["return"], "22", via=[(1.9, 0.45)], id="boiler_return_2")
    drain(s, "boiler_return_2", (2.2, 0.45), "boiler_low")
    return boiler


def bypass(s: Drawing, flow: str, at: tuple[float, float], back: str, to: tuple[float, float]) -> None:
    """An automatic bypass valve from a flow pipe down to a return pipe."""
    top, low = s.tee(flow, at, "by_1", towards="down"), s.tee(back, to, "by_2", towards="up")
    valve = s.add("automatic_bypass_valve", "bypass", x_m=at[0], height_m=(at[1] + to[1]) / 2, turn=1)
    s.pipe(top["branch"], valve["a"], "22", via=[])
    s.pipe(valve["b"], low["branch"], "22", via=[])


def main_end(s: Drawing, id: str, x: float, z: float) -> End:
    """A mains supply opening upwards."""
    return s.add("mains_supply", id, x_m=x, height_m=z, pressure_bar=3.0)["a"]


RADIATORS = {
    "out": {"height_m": 1.2, "side": "right", "size": "22", "purpose": "load_flow"},
    "in": {"height_m": 0.4, "side": "right", "size": "22", "purpose": "load_return"},
}
BOILER = {
    "flow": {"height_m": 1.4, "side": "left", "size": "22"},
    "return": {"height_m": 0.35, "side": "left", "size": "22"},
}


@system("15")
def drain_down_collector() -> Drawing:
    """A collector that drains: two pumps in series, no check, no expansion vessel, no air vent, pipes graded."""
    s, store = vented(
        "Drain-down",
        {
            "sun in": {"height_m": 0.6, "side": "right", "size": "22", "purpose": "coil"},
            "sun out": {"height_m": 0.1, "side": "right", "size": "22", "purpose": "coil"},
        },
        [
            {
                "name": "sun",
                "bottom_m": 0.1,
                "top_m": 0.6,
                "lower": "sun out",
                "upper": "sun in",
                "purpose": "solar",
                "area_m2": 1.2,
                "content_l": 7.0,
            }
        ],
    )
    panel = s.add("solar_collector", "panel", x_m=8.5, height_m=6.0, absorber_m2=4.0, content_l=3.0)
    vessel = s.add("drain_down_vessel", "vessel", x_m=9.8, height_m=4.0)
    s.pipe(panel["flow"], vessel["flow_in"], "22", via=[(9.8, 7.078)], graded="a", id="sun_flow")
    s.pipe(vessel["return_out"], store["sun in"], "22", via=[(9.8, 0.7)], graded="a", id="sun_flow_2")
    one = s.add("pump", "pump_1", x_m=7.2, height_m=1.2, turn=3)
    two = s.add("pump", "pump_2", x_m=7.2, height_m=1.8, turn=3)
    s.pipe(store["sun out"], one["a"], "22", via=[(7.2, 0.2)], graded="b", id="sun_return")
    s.pipe(one["b"], two["a"], "22", via=[])
    s.pipe(two["b"], panel["return"], "22", via=[(7.2, 6.022)], graded="b", id="sun_return_2")
    drain(s, "sun_return", (6.4, 0.2), "sun_low")
    return s


@system("16")
def heat_pump_at_mid_store() -> Drawing:
    """A heat pump's flow at mid store and its return at the bottom; the stove at the top; no sun."""
    s = fire(
        more={
            "hp flow": {"height_m": 0.9, "side": "right", "size": "28", "purpose": "source_flow"},
            "hp return": {"height_m": 0.1, "side": "right", "size": "28", "purpose": "source_return"},
        }
    )
    pump = s.add("heat_pump", "hp", x_m=9.0, height_m=0.0, mirror=True, max_return_c=60.0)
    push = s.add("pump", "hp_pump", x_m=7.0, height_m=0.2)
    s.pipe(pump["flow"], s["store"]["hp flow"], "28", via=[(7.8, 1.0)], id="hp_flow")
    s.pipe(s["store"]["hp return"], push["a"], "28", via=[], id="hp_return")
    s.pipe(push["b"], pump["return"], "28", via=[], id="hp_return_2")
    drain(s, "hp_return", (6.4, 0.2), "hp_low")
    return s


@system("17")
def check_on_the_return() -> Drawing:
    """Radiators above the store on a pump, with a weighted check on the return."""
    s = fire(more=RADIATORS)
    store = s["store"]
    one = s.add("radiator", "R1", x_m=9.0, height_m=3.0, output_w=2000.0)
    pump = s.add("pump", "pump", x_m=6.2, height_m=1.3)
    check = s.add("anti_gravity_check", "check", x_m=6.4, height_m=0.5, turn=2)
    s.pipe(store["out"], pump["a"], "22", via=[], id="supply")
    s.pipe(pump["b"], one["flow"], "22", via=[(7.2, 1.3), (7.2, 3.552)], id="supply_2")
    s.pipe(one["return"], check["a"], "22", via=[(7.6, 3.048), (7.6, 0.5)], id="back")
    s.pipe(check["b"], store["in"], "22", via=[], id="back_2")
    return s


@system("18")
def thermostatic_valves_and_bypass() -> Drawing:
    """Every radiator with a thermostatic valve, an automatic bypass at the pump."""
    s, store = vented("Thermostatic valves", {**BOILER, **RADIATORS})
    boiler_at(s, store)
    pump = s.add("pump", "pump", x_m=6.0, height_m=1.3)
    check = s.add("anti_gravity_check", "check", x_m=7.2, height_m=1.3)
    split = s.add("tee", "split", x_m=7.8, height_m=3.552, turn=0)
    joined = s.add("tee", "joined", x_m=7.5, height_m=3.048, turn=3)
    s.pipe(store["out"], pump["a"], "22", via=[])
    s.pipe(pump["b"], check["a"], "22", via=[], id="supply")
    s.pipe(check["b"], split["left"], "22", via=[(7.6, 1.3), (7.6, 3.552)])
    s.pipe(joined["left"], store["in"], "22", via=[(7.5, 0.5)], id="back")
    for n, z in ((1, 3.0), (2, 4.4)):
        emitter = s.add("radiator", f"R{n}", x_m=9.4, height_m=z, output_w=1500.0)
        valve = s.add("thermostatic_radiator_valve", f"V{n}", x_m=8.4, height_m=z + 0.552)
        s.pipe(split["right" if n == 1 else "branch"], valve["a"], "22", via=[] if n == 1 else [(7.8, z + 0.552)])
        s.pipe(valve["b"], emitter["flow"], "22", via=[])
        s.pipe(
            emitter["return"],
            joined["branch" if n == 1 else "right"],
            "22",
            via=[] if n == 1 else [(8.2, z + 0.048), (8.2, 4.0), (7.5, 4.0)],
        )
    bypass(s, "supply", (6.6, 1.3), "back", (6.6, 0.5))
    return s


@system("19")
def floor_with_mixing_leg() -> Drawing:
    """A warm floor: main pump, manifold pump with mixing valve, and a high limit that stops the manifold pump."""
    s, store = vented(
        "Warm floor",
        {
            **BOILER,
            "out": {"height_m": 0.9, "side": "right", "size": "22", "purpose": "load_flow"},
            "in": {"height_m": 0.15, "side": "right", "size": "22", "purpose": "load_return"},
        },
    )
    boiler_at(s, store)
    main = s.add("pump", "main_pump", x_m=6.0, height_m=1.0)
    check = s.add("anti_gravity_check", "check", x_m=7.0, height_m=1.0)
    mixer = s.add("mixing_valve", "mixer", x_m=7.8, height_m=1.0, setting_c=42.0)
    push = s.add("pump", "floor_pump", x_m=8.4, height_m=1.0)
    floor = s.add(
        "underfloor_manifold",
        "floor",
        x_m=9.6,
        height_m=0.68,
        mixing_built_in=False,
        high_limit_built_in=False,
        bypass_built_in=True,
        pump_built_in=False,
    )
    leg = s.add("tee", "leg", x_m=7.8, height_m=0.25)
    s.pipe(store["out"], main["a"], "22", via=[])
    s.pipe(main["b"], check["a"], "22", via=[], id="supply")
    s.pipe(check["b"], mixer["hot"], "22", via=[])
    s.pipe(mixer["mixed"], push["a"], "22", via=[])
    s.pipe(push["b"], floor["flow"], "22", via=[])
    s.pipe(floor["return"], leg["right"], "22", via=[(9.0, 0.76), (9.0, 0.25)])
    s.pipe(leg["branch"], mixer["cold"], "22", via=[])
    s.pipe(leg["left"], store["in"], "22", via=[], id="back")
    bypass(s, "supply", (6.5, 1.0), "back", (6.5, 0.25))
    s.add("high_limit_thermostat", "limit", x_m=8.8, height_m=1.6)
    s.add("room_thermostat", "room", x_m=9.6, height_m=2.0)
    s.link("limit", "floor_pump", does="stops_above", setting_c=55.0, manual_reset=True)
    s.link("room", "floor_pump", does="runs_below", setting_c=20.0)
    s.link("room", "main_pump", does="runs_below", setting_c=20.0)
    s.add("cylinder_thermostat", "cyl", x_m=4.0, height_m=2.2)
    for target in ("boiler", "boiler_pump"):
        s.link("cyl", target, does="runs_below", setting_c=65.0)
    return s


@system("21")
def mains_coil() -> Drawing:
    """A mains coil of 6 l in a vented store: check valve, potable vessel, one mixing valve for all outlets."""
    h = others.House("Mains coil", Ground_floor=0.0, First_floor=2.6, Loft=5.0)
    tank = others._vented_store(
        h,
        {
            "hot water": {"height_m": 1.37, "side": "right", "purpose": "coil", "size": "22"},
            "cold in": {"height_m": 0.29, "side": "right", "purpose": "coil", "size": "22"},
        },
        [
            {
                "name": "hot water",
                "bottom_m": 0.29,
                "top_m": 1.37,
                "lower": "cold in",
                "upper": "hot water",
                "purpose": "domestic",
                "area_m2": 2.5,
                "content_l": 6.0,
            }
        ],
    )
    hot_water(h, tank)
    return h.b


@system("22")
def close_coupled_vent_and_feed() -> Drawing:
    """A vented oil boiler: vent and feed 150 mm apart on its flow, the pump after them; air vent on the landing."""
    s = draw.sheet("Close-coupled vent and feed")
    boiler = s.add("boiler_oil", "boiler", x_m=1.0, height_m=0.0, power_kw=15.0, limit_c=90.0)
    tank = cistern(s, "cistern", 3.0)
    vent = s.add("tee", "vent_tee", x_m=1.8, height_m=2.0)
    feed = s.add("tee", "feed_tee", x_m=1.95, height_m=2.0)
    pump = s.add("pump", "pump", x_m=2.6, height_m=2.0)
    s.pipe(boiler["flow"], vent["left"], "28", via=[(1.5, 0.7225), (1.5, 2.0)], id="flow")
    s.pipe(vent["branch"], tank["vent"], "22", via=[(1.8, 6.1), (2.775, 6.1)], graded="b", id="vent")
    s.pipe(vent["right"], feed["left"], "28", via=[])
    s.pipe(tank["feed"], feed["branch"], "15", via=[(3.225, 4.6), (1.95, 4.6)], id="feed")
    s.pipe(feed["right"], pump["a"], "28", via=[])
    high = s.add("tee", "landing", x_m=5.0, height_m=3.552)
    s.pipe(pump["b"], high["left"], "22", via=[(3.4, 2.0), (3.4, 3.552)], id="landing_1")
    air = s.add("air_vent_manual", "air", x_m=5.0, height_m=3.9)
    s.pipe(high["branch"], air["a"], "15", via=[])
    one = s.add("radiator", "R1", x_m=7.0, height_m=3.0, output_w=2000.0)
    s.pipe(high["right"], one["flow"], "22", via=[], id="landing_2")
    s.pipe(one["return"], boiler["return"], "22", via=[(6.0, 3.048), (6.0, 0.2125)], id="back")
    drain(s, "back", (4.0, 0.2125), "low")
    split = s.tee("landing_2", (5.5, 3.552), "split", towards="down")
    joined = s.tee("back", (6.0, 1.4), "joined", towards="right")
    two = s.add("radiator", "R2", x_m=8.2, height_m=1.0, output_w=1500.0)
    stat = s.add("thermostatic_radiator_valve", "stat", x_m=7.1, height_m=1.552)
    shield = s.add("lockshield_valve", "shield", x_m=7.1, height_m=1.048, turn=2)
    s.pipe(split["branch"], stat["a"], "22", via=[(5.5, 1.9), (6.6, 1.9), (6.6, 1.552)])
    s.pipe(stat["b"], two["flow"], "22", via=[])
    s.pipe(two["return"], shield["a"], "22", via=[])
    s.pipe(shield["b"], joined["branch"], "22", via=[(6.4, 1.048), (6.4, 1.4)])
    room = s.add("room_thermostat", "room", x_m=8.0, height_m=2.4)
    for target in ("boiler", "pump"):
        s.link(room, target, does="runs_below", setting_c=20.0)
    s.add("pressure_gauge", "height", x_m=3.0, height_m=2.4)
    return s


@system("23")
def pump_on_the_return() -> Drawing:
    """A boiler with its pump on the return; vent and feed both on the store."""
    s, store = vented("Pump on the return", BOILER)
    boiler_at(s, store)
    s.insert("boiler_flow", "air_separator", "separator", at=(3.0, 1.5))
    return s


@system("24")
def pellet_boiler() -> Drawing:
    """A sealed pellet boiler whose pump runs on to a direct store circuit: relief valve and vessel."""
    s = draw.sheet("Pellet boiler")
    store = s.store(
        "store",
        x_m=6.0,
        height_m=0.1,
        volume_l=500.0,
        body_diameter_m=0.65,
        body_height_m=1.8,
        design_temp_c=80.0,
        vented=False,
        rating_bar=3.0,
        tappings={
            "flow": {"height_m": 1.6, "side": "left", "size": "28"},
            "return": {"height_m": 0.1, "side": "left", "size": "28"},
            "drain": {"height_m": 0.03, "side": "right", "size": "15", "purpose": "drain"},
            "air": {"height_m": 1.8, "side": "top", "size": "15"},
        },
    )
    boiler = s.add(
        "boiler_pellet",
        "boiler",
        x_m=1.0,
        height_m=0.0,
        power_kw=15.0,
        residual_kw=1.0,
        overrun_min=20.0,
        leak_not_needed=True,
        limit_c=90.0,
        sealed_allowed=True,
        relief_built_in=True,
    )
    pump = s.add("pump", "pump", x_m=3.0, height_m=0.2, turn=2)
    valve = s.add("return_temperature_valve", "mix", x_m=3.8, height_m=0.2, setting_c=60.0)
    split = s.add("tee", "split", x_m=3.8, height_m=1.7, turn=2)
    s.pipe(boiler["flow"], split["right"], "28", via=[(1.6, 1.7)], id="flow")
    s.pipe(split["branch"], valve["hot"], "28", via=[])
    s.pipe(split["left"], store["flow"], "28", via=[])
    s.pipe(store["return"], valve["cold"], "28", via=[], id="return")
    s.pipe(valve["mixed"], pump["a"], "28", via=[])
    s.pipe(pump["b"], boiler["return"], "28", via=[(1.9, 0.2)])
    s.pipe(store["drain"], s.add("drain_cock", "low", x_m=6.8, height_m=0.0)["a"], "15", via=[])
    s.pipe(store["air"], s.add("air_vent_manual", "air", x_m=6.0, height_m=2.3)["a"], "15", via=[])
    closed(s, "flow", (2.6, 1.7), "return", (4.5, 0.2), "closed", 80.0)
    return s


@system("20")
def store_heats_an_unvented_cylinder() -> Drawing:
    """A stove heats the store; the store heats an unvented cylinder by a pumped coil with valve and cut-out."""
    s = fire(
        more={
            "out": {"height_m": 1.5, "side": "right", "size": "22", "purpose": "load_flow"},
            "in": {"height_m": 0.4, "side": "right", "size": "22", "purpose": "load_return"},
        }
    )
    tank = s.store(
        "cyl",
        kind="cylinder_indirect",
        x_m=10.0,
        height_m=0.3,
        volume_l=150.0,
        body_diameter_m=0.45,
        body_height_m=0.95,
        vented=False,
        rating_bar=6.0,
        cut_out_built_in=True,
        tappings={
            "coil in": {"height_m": 0.6, "side": "left", "size": "22", "purpose": "coil"},
            "coil out": {"height_m": 0.2, "side": "left", "size": "22", "purpose": "coil"},
            "cold": {"height_m": 0.05, "side": "right", "size": "22"},
            "hot": {"height_m": 0.95, "side": "top", "size": "22"},
            "tp": {"height_m": 0.9, "side": "right", "size": "22"},
            "stat": {"height_m": 0.5, "side": "right", "purpose": "sensor"},
        },
        coils=[
            {
                "name": "coil",
                "bottom_m": 0.2,
                "top_m": 0.6,
                "lower": "coil out",
                "upper": "coil in",
                "purpose": "source",
                "area_m2": 0.8,
                "content_l": 5.0,
            }
        ],
    )
    pump = s.add("pump", "pump", x_m=6.6, height_m=1.6)
    valve = s.add("motorised_2port", "motor", x_m=7.4, height_m=1.6, rest="shut")
    s.pipe(s["store"]["out"], pump["a"], "22", via=[])
    s.pipe(pump["b"], valve["a"], "22", via=[])
    s.pipe(valve["b"], tank["coil in"], "22", via=[(8.6, 1.6), (8.6, 0.9)])
    s.pipe(tank["coil out"], s["store"]["in"], "22", via=[], id="coil_back")
    s.link(tank.pocket("stat"), "pump", does="runs_below", setting_c=60.0)
    s.link(tank.pocket("stat"), "motor", does="shuts_above", setting_c=60.0)
    cut_out = s.add("high_limit_thermostat", "cut_out", x_m=9.2, height_m=1.8)
    s.link(cut_out, "motor", does="shuts_above", setting_c=80.0, manual_reset=True)
    # the cold inlet: stop valve, reducing valve, check valve, vessel, expansion relief
    at, z = tank["cold"], 0.35
    relief_tee = s.add("tee", "relief_tee", x_m=10.9, height_m=z)
    vessel_tee = s.add("tee", "vessel_tee", x_m=11.5, height_m=z, turn=2)
    check = s.add("check_valve", "check", x_m=12.1, height_m=z, turn=2)
    reduce = s.add("pressure_reducing_valve", "reduce", x_m=12.7, height_m=z, turn=2, setting_bar=3.0)
    stop = s.add("stop_valve", "stop", x_m=13.3, height_m=z, turn=2)
    s.pipe(at, relief_tee["left"], "22", via=[], id="cold_end")
    s.pipe(relief_tee["right"], vessel_tee["right"], "22", via=[])
    s.pipe(vessel_tee["left"], check["b"], "22", via=[])
    cold = s.add("tee", "cold_tee", x_m=12.4, height_m=z)
    s.pipe(check["a"], cold["left"], "22", via=[])
    s.pipe(cold["right"], reduce["b"], "22", via=[])
    s.pipe(reduce["a"], stop["b"], "22", via=[])
    s.pipe(s.add("mains_supply", "main", x_m=14.2, height_m=z, turn=3, pressure_bar=4.0)["a"], stop["a"], "22", via=[])
    room = s.add("expansion_vessel_potable", "room", x_m=11.5, height_m=-0.2, volume_l=18.0, precharge_bar=3.0)
    s.pipe(vessel_tee["branch"], room["a"], "22", via=[])
    relief = s.add("relief_valve", "expansion_relief", x_m=10.9, height_m=0.8, setting_bar=6.0)
    s.pipe(relief_tee["branch"], relief["inlet"], "22", via=[])
    tp = s.add("tp_relief_valve", "tp", x_m=10.7, height_m=1.5, setting_bar=7.0, setting_c=90.0)
    s.pipe(tank["tp"], tp["inlet"], "22", via=[(10.7, 1.2)])
    for n, (valve_at, x, height) in enumerate(((tp, 11.1, 1.25), (relief, 11.25, 0.6)), 1):
        tundish = s.add("tundish", f"tundish_{n}", x_m=x, height_m=height)
        s.pipe(valve_at["outlet"], tundish["in"], "22", via=[])
        end = s.add("discharge_point", f"end_{n}", x_m=x, height_m=-1.4)
        s.pipe(tundish["out"], end["in"], "28", via=[])
    mixer = s.add("mixing_valve", "mixer", x_m=11.0, height_m=2.3, setting_c=44.0)
    bath = s.add("bath", "bath", x_m=12.4, height_m=3.0)
    hold = s.add("check_valve", "mixer_check", x_m=11.7, height_m=1.9, turn=2)
    s.pipe(cold["branch"], hold["a"], "22", via=[(12.4, 1.9)])
    s.pipe(hold["b"], mixer["cold"], "22", via=[(11.0, 1.9)])
    s.pipe(tank["hot"], mixer["hot"], "22", via=[(10.0, 2.3)])
    s.pipe(mixer["mixed"], bath["hot"], "22", via=[])
    return s
