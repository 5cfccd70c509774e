"""Six more sound systems, each right in an unusual way that tempts several rules at once.

Owns the drawings. Knows nothing of how they are judged.
"""

from __future__ import annotations

from fire_sheets import ON_LEAK, ON_STORE_FLOW, fire
from small_others import vented
from small_systems import closed, drain, system

from loopwright.draw import Drawing


def between(s: Drawing, one: str, other: str) -> str:
    """The pipe that joins two parts."""
    return next(p.id for p in s.sheet.pipes.values() if {p.a.part, p.b.part} == {one, other})


@system("25")
def valves_wherever_they_may_stand() -> Drawing:
    """Valves round a load's pump, before an air vent, on the cold main and on a further radiator: none on the fire."""
    s = fire(
        more={
            "out": {"height_m": 1.2, "side": "right", "size": "22", "purpose": "load_flow"},
            "in": {"height_m": 0.6, "side": "right", "size": "22", "purpose": "load_return"},
        }
    )
    emitter = s.add("radiator", "far", x_m=9.5, height_m=0.748, output_w=1500.0)
    last = s["store"]["out"]
    for n, (kind, x) in enumerate(
        (("isolating_valve", 6.0), ("pump", 6.5), ("isolating_valve", 7.0), ("anti_gravity_check", 7.5))
    ):
        part = s.add(kind, f"line_{n}", x_m=x, height_m=1.3)
        s.pipe(last, part["a"], "22", via=[])
        last = part["b"]
    s.pipe(last, emitter["flow"], "22", via=[], id="far_flow")
    valve = s.add("isolating_valve", "far_valve", x_m=7.6, height_m=0.7, turn=2)
    s.pipe(emitter["return"], valve["a"], "22", via=[(8.4, 0.796), (8.4, 0.7)])
    s.pipe(valve["b"], s["store"]["in"], "22", via=[], id="far_back")
    high = s.tee("far_flow", (8.1, 1.3), "high", towards="up")
    under = s.add("isolating_valve", "under", x_m=8.1, height_m=1.7, turn=3)
    s.pipe(high["branch"], under["a"], "15", via=[])
    s.pipe(under["b"], s.add("air_vent_auto", "air", x_m=8.1, height_m=2.1)["a"], "15", via=[])
    return s


@system("26")
def motor_valve_and_flap_beside_a_leak() -> Drawing:
    """A spring-open motor valve in the store's flow and a flap in its return: the heat leak alone meets the whole."""
    s = fire()
    s.insert("store_flow", "motorised_2port", "motor", at=ON_STORE_FLOW, rest="open")
    s.insert("return_3", "flap_valve", "flap", at=(4.0, 0.2))
    return s


@system("27")
def two_gravity_radiators_one_with_valves() -> Drawing:
    """The heat leak beside a further gravity radiator with a wheelhead valve: the open one is enough."""
    s = fire()
    top = s.tee("leak_flow", ON_LEAK, "LT", towards="up")
    low = s.tee("leak_return", (3.2, 2.0), "LB", towards="right")
    further = s.add("radiator", "further", x_m=5.6, height_m=3.6, output_w=900.0)
    valve = s.add("wheelhead_valve", "wheel", x_m=3.2, height_m=4.152)
    s.pipe(top["branch"], valve["a"], "28", via=[(1.45, 4.152)])
    s.pipe(valve["b"], further["flow"], "28", via=[], id="further_flow")
    s.pipe(further["return"], low["branch"], "28", via=[(4.5, 3.648), (4.5, 2.0)])
    return s


@system("28")
def pump_with_a_flap_round_it() -> Drawing:
    """A pump on the store's return whose flap lets gravity round it, in a pair of 28 mm, with an open heat leak."""
    s = fire()
    near = s.tee("return_3", (4.2, 0.2), "PA", towards="down")
    far = s.tee(between(s, "PA", "R"), (3.5, 0.2), "PB", towards="down")
    pump = s.add("pump", "push", x_m=3.85, height_m=-0.2, turn=2)
    s.pipe(near["branch"], pump["a"], "28", via=[(4.2, -0.2)])
    s.pipe(pump["b"], far["branch"], "28", via=[(3.5, -0.2)], id="pumped")
    s.insert(between(s, "PA", "PB"), "flap_valve", "flap", at=(3.85, 0.2))
    stat = s.add("pipe_thermostat", "stat", x_m=2.2, height_m=1.0)
    s.link(stat, "push", does="runs_above", setting_c=60.0)
    drain(s, "pumped", (3.62, -0.2), "push_low")
    return s


@system("29")
def sealed_boiler_with_service_valves() -> Drawing:
    """A sealed oil boiler on a coil: service valves beyond its relief valve, a locked valve before its vessel."""
    s, store = vented(
        "Service valves",
        {
            "flow": {"height_m": 1.3, "side": "left", "size": "22", "purpose": "coil"},
            "return": {"height_m": 0.7, "side": "left", "size": "22", "purpose": "coil"},
        },
        [
            {
                "name": "boiler",
                "bottom_m": 0.7,
                "top_m": 1.3,
                "lower": "return",
                "upper": "flow",
                "purpose": "source",
                "area_m2": 1.4,
                "content_l": 8.0,
            }
        ],
    )
    boiler = s.add("boiler_oil", "boiler", x_m=-2.0, height_m=0.0, power_kw=15.0, limit_c=80.0)
    pump = s.add("pump", "boiler_pump", x_m=-0.4, height_m=0.2125, turn=2)
    s.pipe(boiler["flow"], store["flow"], "22", via=[(-1.2, 0.7225), (-1.2, 1.4)], id="boiler_flow")
    s.pipe(store["return"], pump["a"], "22", via=[(4.2, 0.8), (4.2, 0.2125)], id="boiler_return")
    s.pipe(pump["b"], boiler["return"], "22", via=[])
    closed(s, "boiler_flow", (-0.6, 1.4), "boiler_return", (0.8, 0.2125), "closed", 18.0)
    s.insert(between(s, "closed_relief_tee", "store"), "isolating_valve", "service_1", at=(1.6, 1.4))
    s.insert("boiler_return", "isolating_valve", "service_2", at=(2.6, 0.2125))
    branch = s.sheet.pipes_of("closed_vessel")[0].id
    s.insert(branch, "isolating_valve", "capped", at=(0.8, -0.05), locked_open=True)
    high = s.tee(between(s, "service_1", "store"), (2.6, 1.4), "high", towards="up")
    s.pipe(high["branch"], s.add("air_vent_manual", "bleed", x_m=2.6, height_m=1.8)["a"], "15", via=[])
    drain(s, "boiler_return", (3.4, 0.2125), "boiler_low")
    return s


@system("30")
def two_cisterns_for_two_waters() -> Drawing:
    """A cylinder of tap water under its own cistern, valved on its feed alone, beside a stove under its own."""
    s = fire(
        more={"loop": {"height_m": 1.4, "side": "right", "size": "22"}, "back": {"height_m": 0.5, "side": "right"}}
    )
    tank = s.store(
        "cyl",
        kind="cylinder_indirect",
        x_m=9.0,
        height_m=0.3,
        volume_l=150.0,
        body_diameter_m=0.45,
        body_height_m=0.95,
        vented=True,
        design_temp_c=60.0,
        tappings={
            "coil in": {"height_m": 0.6, "side": "left", "size": "22", "purpose": "coil"},
            "coil out": {"height_m": 0.2, "side": "left", "size": "22", "purpose": "coil"},
            "cold": {"height_m": 0.05, "side": "right", "size": "22"},
            "hot": {"height_m": 0.95, "side": "top", "size": "22"},
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
    pump = s.add("pump", "cyl_pump", x_m=6.4, height_m=1.5)
    check = s.add("anti_gravity_check", "cyl_check", x_m=7.0, height_m=1.5)
    s.pipe(s["store"]["loop"], pump["a"], "22", via=[])
    s.pipe(pump["b"], check["a"], "22", via=[])
    s.pipe(check["b"], tank["coil in"], "22", via=[(8.2, 1.5), (8.2, 0.9)])
    s.pipe(tank["coil out"], s["store"]["back"], "22", via=[(8.4, 0.5), (8.4, 0.6)])
    cold = s.add("cold_water_cistern", "taps", x_m=11.0, height_m=5.25)
    main = s.add("mains_supply", "taps_main", x_m=9.2, height_m=5.8025, pressure_bar=3.0)
    stop = s.add("stop_valve", "taps_stop", x_m=9.8, height_m=5.8025)
    s.pipe(main["a"], stop["a"], "15", via=[])
    s.pipe(stop["b"], cold["float_in"], "15", via=[])
    end = s.add("discharge_point", "taps_end", x_m=12.2, height_m=5.3)
    s.pipe(cold["overflow"], end["in"], "22", via=[(12.2, 5.7464)])
    s.pipe(cold["feed"], tank["cold"], "22", via=[(11.3, 0.35)], id="taps_feed")
    s.insert("taps_feed", "isolating_valve", "taps_valve", at=(11.3, 2.0))
    top = s.add("tee", "taps_top", x_m=9.0, height_m=2.4, turn=1)
    s.pipe(tank["hot"], top["right"], "22", via=[])
    s.pipe(top["left"], cold["vent"], "22", via=[(9.0, 6.2), (10.7, 6.2)], graded="b", id="taps_vent")
    mixer = s.add("mixing_valve", "taps_mixer", x_m=10.0, height_m=2.4, setting_c=44.0)
    bath = s.add("bath", "bath", x_m=10.6, height_m=3.0)
    s.pipe(top["branch"], mixer["hot"], "22", via=[])
    s.pipe(mixer["mixed"], bath["hot"], "22", via=[])
    own = s.tee("taps_feed", (11.3, 1.2), "taps_cold", towards="left")
    s.pipe(own["branch"], mixer["cold"], "22", via=[(10.0, 1.2)])
    return s
