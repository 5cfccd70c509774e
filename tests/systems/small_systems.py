"""Sound systems drawn small: each shows something that a careless rule would condemn.

Owns the drawings. Knows nothing of how they are judged.
"""

from __future__ import annotations

from collections.abc import Callable

from fire_sheets import ON_STORE_FLOW, fire
from furnished import furnished

from loopwright import draw
from loopwright.draw import Drawing, PartRef
from loopwright.sheet import edits
from loopwright.sheet.values import End

SYSTEMS: dict[str, Callable[[], Drawing]] = {}


def system(number: str) -> Callable[[Callable[[], Drawing]], Callable[[], Drawing]]:
    """Register a system under its number and its own name, furnished to the size of a house."""

    def register(make: Callable[[], Drawing]) -> Callable[[], Drawing]:
        SYSTEMS[f"{number}-{make.__name__.replace('_', '-')}"] = lambda: furnished(make())
        return make

    return register


def cut(s: Drawing, *ids: str) -> None:
    """Takes pipes or parts away."""
    s.sheet = edits.delete(s.sheet, ids, s.catalogue)


def uncap(s: Drawing) -> None:
    """Takes all caps away, so that their ends can be piped."""
    cut(s, *[p for p in s.sheet.parts if s.sheet.parts[p].kind == "cap"])


def cistern(s: Drawing, id: str, x: float, z: float = 5.25) -> PartRef:
    """A hot-rated cistern that is filled by hand."""
    return s.add("feed_expansion_cistern", id, x_m=x, height_m=z, hot_rated=True, float_valve=False)


def air_vent(s: Drawing, top: End) -> None:
    """An air cock over a tapping in the top of a store."""
    at = s.done().parts[top.part]
    cock = s.add("air_vent_manual", f"{top.part}_air", x_m=at.x_m, height_m=2.4)
    s.pipe(top, cock["a"], "15", via=[])


def drain(s: Drawing, pipe: str, at: tuple[float, float], id: str) -> None:
    """A drain cock under a pipe."""
    tee = s.tee(pipe, at, f"{id}_tee", towards="down")
    s.pipe(tee["branch"], s.add("drain_cock", id, x_m=at[0], height_m=at[1] - 0.3)["a"], "15", via=[])


def closed(
    s: Drawing, flow: str, at: tuple[float, float], back: str, under: tuple[float, float], id: str, litres: float
) -> None:
    """What a sealed water needs: relief valve on its flow, vessel and filling loop on its return."""
    tee = s.tee(flow, at, f"{id}_relief_tee", towards="up")
    relief = s.add("relief_valve", f"{id}_relief", x_m=at[0], height_m=at[1] + 0.4, setting_bar=3.0)
    s.pipe(tee["branch"], relief["inlet"], "15", via=[])
    end = s.add("discharge_point", f"{id}_end", x_m=at[0] + 0.4, height_m=at[1] + 0.1)
    s.pipe(relief["outlet"], end["in"], "15", via=[])
    room = s.tee(back, under, f"{id}_vessel_tee", towards="down")
    vessel = s.add(
        "expansion_vessel", f"{id}_vessel", x_m=under[0], height_m=under[1] - 0.5, volume_l=litres, precharge_bar=1.0
    )
    s.pipe(room["branch"], vessel["a"], "22", via=[])
    fill = s.tee(back, (under[0] + 0.5, under[1]), f"{id}_fill_tee", towards="down")
    loop = s.add("filling_loop", f"{id}_fill", x_m=under[0] + 0.5, height_m=under[1] - 0.5, turn=3, hose_fitted=False)
    s.pipe(loop["b"], fill["branch"], "15", via=[])
    main = s.add("mains_supply", f"{id}_main", x_m=under[0] + 0.5, height_m=under[1] - 1.0, pressure_bar=3.0)
    s.pipe(main["a"], loop["a"], "15")


def radiator(s: Drawing, flow: End, back: End, id: str, x: float, z: float, *, pump_at: tuple[float, float]) -> None:
    """A pumped radiator with its anti-gravity check, from one end of a store or header to another."""
    emitter = s.add("radiator", id, x_m=x, height_m=z, output_w=2000.0)
    pump = s.add("pump", f"{id}_pump", x_m=pump_at[0], height_m=pump_at[1])
    check = s.add("anti_gravity_check", f"{id}_check", x_m=pump_at[0] + 0.5, height_m=pump_at[1])
    s.pipe(flow, pump["a"], "22", via=[])
    s.pipe(pump["b"], check["a"], "22", via=[])
    s.pipe(check["b"], emitter["flow"], "22", via=[])
    s.pipe(emitter["return"], back, "22", via=[(emitter.part.x_m - 0.7, z + 0.048)], id=f"{id}_back")


# -- fires ------------------------------------------------------------------------------------------------------------


@system("02")
def heat_leak_in_series() -> Drawing:
    """Stove, radiator above it, store, stove: one loop without a valve."""
    s = fire()
    cut(s, "store_flow", "leak_return", "R")
    s.sheet = edits.delete(s.sheet, [i for i in ("return_2", "return_3") if i in s.sheet.pipes], s.catalogue)
    s.cap(s["T"]["branch"])
    s.pipe(s["leak"]["return"], s["store"]["flow"], "28", via=[(3.9, 3.048), (3.9, 1.72)], graded="a")
    s.pipe(s["store"]["return"], s["F"]["right"], "28", via=[], graded="a")
    return s


def store_feeds() -> Drawing:
    """The store as the stove's feed and vent: vent off its top boss, feed into its bottom."""
    s = fire(more={"feed": {"height_m": 0.2, "side": "right", "size": "22", "purpose": "feed"}})
    cut(s, "stove_vent", "feed", "store_vent")
    s.cap(s["VJ"]["right"])
    over = [(5.0, 6.05), (2.225, 6.05)]
    s.pipe(s["store"]["vent"], s["cistern"]["vent"], "22", via=over, graded="b", id="store_vent")
    s.cap(s["F"]["branch"])
    s.pipe(s["cistern"]["feed"], s["store"]["feed"], "22", via=[(2.675, 4.8), (5.9, 4.8), (5.9, 0.3)])
    return s


@system("03a")
def store_is_feed_and_vent() -> Drawing:
    """A vented store as the stove's feed and vent, on an open 28 mm pair."""
    return store_feeds()


@system("03b")
def store_is_feed_and_vent_past_a_flap() -> Drawing:
    """The same with a bare flap in the return, opening towards the stove."""
    s = store_feeds()
    s.insert("return_3", "flap_valve", "flap", at=(4.0, 0.2))
    return s


@system("04a")
def vent_from_the_heat_leak() -> Drawing:
    """The open vent leaves the heat-leak loop at its high point, and there is no other."""
    s = fire()
    cut(s, "store_vent")
    air_vent(s, s["store"]["vent"])
    return s


@system("04b")
def vent_through_a_radiator() -> Drawing:
    """The open vent leaves by the top port of the heat-leak radiator, in 22 mm bore."""
    s = fire()
    cut(s, "store_vent", "stove_vent")
    s.sheet = edits.set_property(s.sheet, "leak", "tapping_bore_mm", 22.0, s.catalogue)
    air_vent(s, s["store"]["vent"])
    s.cap(s["VJ"]["right"])
    s.pipe(s["leak"]["vent"], s["cistern"]["vent"], "28", via=[(0.25, 6.0), (2.225, 6.0)], graded="b", id="stove_vent")
    return s


@system("05")
def loading_unit_with_flap() -> Drawing:
    """A loading unit with flap between service valves, in 22 mm; feed, vent and heat leak on the stove's side."""
    s = fire()
    cut(s, "store_flow", "return_3")
    unit = s.add("loading_unit_4_flap", "unit", x_m=3.8, height_m=0.9, opens_c=60.0, starts_itself=True)
    for id, x, z, turn, a, b in (
        ("V1", 3.0, 1.72, 0, s["T"]["branch"], unit["boiler_flow"]),
        ("V2", 4.3, 1.02, 0, unit["store_flow"], s["store"]["flow"]),
        ("V3", 4.3, 0.2, 2, s["store"]["return"], unit["store_return"]),
        ("V4", 3.45, 0.5, 2, unit["boiler_return"], s["R"]["right"]),
    ):
        valve = s.add("isolating_valve", id, x_m=x, height_m=z, turn=turn)
        s.pipe(a, valve["a"], "22", via=[])
        s.pipe(valve["b"], b, "22", via=[])
    return s


@system("07")
def sealed_store_on_a_vented_stove() -> Drawing:
    """A sealed store heated by a vented stove through a coil: two waters."""
    s = fire(store=False)
    uncap(s)
    store = s.store(
        "store",
        x_m=5.0,
        height_m=0.1,
        volume_l=500.0,
        body_diameter_m=0.65,
        body_height_m=1.8,
        design_temp_c=75.0,
        vented=False,
        rating_bar=3.0,
        tappings={
            "flow": {"height_m": 1.62, "side": "left", "size": "28", "purpose": "coil"},
            "return": {"height_m": 0.10, "side": "left", "size": "28", "purpose": "coil"},
            "out": {"height_m": 1.5, "side": "right", "size": "22"},
            "in": {"height_m": 0.2, "side": "right", "size": "22"},
            "air": {"height_m": 1.8, "side": "top", "size": "15"},
        },
        coils=[
            {
                "name": "stove",
                "bottom_m": 0.1,
                "top_m": 1.62,
                "lower": "return",
                "upper": "flow",
                "purpose": "source",
                "area_m2": 2.0,
                "content_l": 12.0,
            }
        ],
    )
    s.pipe(s["T"]["branch"], store["flow"], "28", via=[], graded="b")
    s.pipe(store["return"], s["R"]["right"], "28", via=[], graded="a")
    air = s.add("air_vent_manual", "air", x_m=5.0, height_m=2.3)
    s.pipe(store["air"], air["a"], "15", via=[])
    hot = s.add("radiator", "rad", x_m=9.5, height_m=1.2, output_w=2000.0)
    pump = s.add("pump", "pump", x_m=7.6, height_m=1.6)
    check = s.add("anti_gravity_check", "check", x_m=8.2, height_m=1.6)
    s.pipe(store["out"], pump["a"], "22", via=[], id="supply")
    s.pipe(pump["b"], check["a"], "22", via=[])
    s.pipe(check["b"], hot["flow"], "22", via=[])
    s.pipe(hot["return"], store["in"], "22", via=[(8.6, 0.3)], id="back")
    closed(s, "supply", (6.4, 1.6), "back", (6.6, 0.3), "closed", 80.0)
    drain(s, "back", (8.2, 0.3), "low")
    return s


@system("09")
def oil_boiler_direct() -> Drawing:
    """An oil boiler straight on a vented store: check and service valve on its return, flow open to the vent."""
    s = draw.sheet("Oil boiler direct")
    store = s.store(
        "store",
        x_m=5.0,
        height_m=0.1,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.6,
        design_temp_c=75.0,
        tappings={
            "flow": {"height_m": 1.4, "side": "left", "size": "22"},
            "return": {"height_m": 0.2, "side": "left", "size": "22"},
            "feed": {"height_m": 0.1, "side": "right", "size": "22", "purpose": "feed"},
            "vent": {"height_m": 1.6, "side": "top", "size": "22"},
        },
    )
    boiler = s.add("boiler_oil", "boiler", x_m=1.0, height_m=0.0, power_kw=15.0, limit_c=90.0)
    tank = cistern(s, "cistern", 4.0)
    s.pipe(boiler["flow"], store["flow"], "22", via=[(1.8, 0.7225), (1.8, 1.5)], id="flow")
    check = s.add("check_valve", "check", x_m=3.6, height_m=0.3, turn=2)
    valve = s.add("isolating_valve", "valve", x_m=3.0, height_m=0.3, turn=2)
    pump = s.add("pump", "pump", x_m=2.4, height_m=0.3, turn=2)
    s.pipe(store["return"], check["a"], "22", via=[], id="return")
    s.pipe(check["b"], valve["a"], "22", via=[])
    s.pipe(valve["b"], pump["a"], "22", via=[])
    s.pipe(pump["b"], boiler["return"], "22", via=[], id="return_end")
    s.pipe(tank["feed"], store["feed"], "22", via=[(4.225, 4.8), (5.7, 4.8), (5.7, 0.2)], id="feed")
    s.pipe(store["vent"], tank["vent"], "22", via=[(5.0, 6.0), (3.775, 6.0)], graded="b", id="vent")
    drain(s, "feed", (5.5, 0.2), "low")
    drain(s, "return_end", (1.7, 0.2125), "low_2")
    return s


@system("10")
def neutral_header() -> Drawing:
    """A stove and an oil boiler pumped into a neutral header, two load pumps out; the stove vented before its pump."""
    s = fire(store=False)
    uncap(s)
    header = s.add("low_loss_header", "header", x_m=6.0, height_m=0.6)
    joined = s.add("tee", "PF", x_m=5.0, height_m=1.28)
    parted = s.add("tee", "PR", x_m=5.0, height_m=0.72, turn=2)
    pump = s.add("pump", "stove_pump", x_m=3.0, height_m=1.72)
    s.pipe(s["T"]["branch"], pump["a"], "28", via=[])
    check = s.add("check_valve", "stove_check", x_m=3.6, height_m=1.72)
    s.pipe(pump["b"], check["a"], "28", via=[])
    s.pipe(check["b"], joined["left"], "28", via=[(4.2, 1.72), (4.2, 1.28)])
    s.pipe(joined["right"], header["primary_flow"], "28", via=[])
    s.pipe(header["primary_return"], parted["left"], "28", via=[])
    s.pipe(parted["right"], s["R"]["right"], "28", via=[])
    boiler = s.add("boiler_oil", "boiler", x_m=4.0, height_m=-2.0, power_kw=15.0)
    push = s.add("pump", "boiler_pump", x_m=5.4, height_m=-1.0, turn=3)
    hold = s.add("check_valve", "boiler_check", x_m=5.4, height_m=1.8, turn=2)
    s.pipe(boiler["flow"], push["a"], "22", via=[(5.4, -1.2775)])
    s.pipe(push["b"], hold["a"], "22", via=[(5.4, -0.4), (5.55, -0.4), (5.55, 1.8)])
    s.pipe(hold["b"], joined["branch"], "22", via=[(5.0, 1.8)])
    s.pipe(parted["branch"], boiler["return"], "22", via=[(5.0, -1.7875)])
    s.pipe(header["vent"], s["cistern"]["vent_2"], "22", via=[(6.0, 6.05), (2.375, 6.05)], graded="b", id="header_vent")
    lead = s.add("tee", "LF", x_m=7.0, height_m=1.28)
    back = s.add("tee", "LR", x_m=7.0, height_m=0.72)
    s.pipe(header["load_flow"], lead["left"], "28", via=[])
    s.pipe(back["left"], header["load_return"], "28", via=[])
    radiator(s, lead["right"], back["right"], "R1", 10.0, 1.0, pump_at=(8.0, 1.28))
    radiator(s, lead["branch"], back["branch"], "R2", 10.0, 3.0, pump_at=(8.0, 2.8))
    return s


@system("11")
def drop_feed() -> Drawing:
    """35 mm rises to a vented high point and falls to three gravity radiators, one without valves, two with."""
    s = draw.sheet("Drop feed")
    stove = s.add(
        "boiler_stove",
        "stove",
        x_m=1.0,
        height_m=0.0,
        power_kw=8.0,
        thermal_centre_m=0.4,
        charge_kwh=10.0,
        burn_time_h=1.25,
    )
    tank = cistern(s, "cistern", 3.0, 6.5)
    high = s.add("tee", "high", x_m=1.7, height_m=5.5, turn=1)
    s.pipe(stove["flow"], high["right"], "35", via=[], id="riser")
    s.pipe(high["left"], tank["vent"], "35", via=[(1.7, 7.3), (2.775, 7.3)], graded="b", id="vent")
    f = s.add("tee", "F", x_m=3.225, height_m=0.2)
    s.pipe(tank["feed"], f["branch"], "22", via=[], id="feed")
    s.pipe(f["left"], stove["return"], "35", via=[], graded="a", id="return")
    flow, back = high["branch"], f["right"]
    for n, (x, z) in enumerate(((5.0, 3.2), (7.5, 3.0), (10.0, 2.8)), 1):
        last = n == 3
        emitter = s.add("radiator", f"R{n}", x_m=x, height_m=z, output_w=1600.0 if n == 1 else 1200.0)
        top = emitter.part.x_m - 1.0
        lead = None if last else s.add("tee", f"FT{n}", x_m=top, height_m=5.5, turn=2)
        join = None if last else s.add("tee", f"RT{n}", x_m=top + 0.2, height_m=0.2)
        start, leaves = emitter["flow"], emitter["return"]
        if n > 1:
            valve = s.add("wheelhead_valve", f"V{n}", x_m=top + 0.3, height_m=z + 0.552)
            s.pipe(valve["b"], start, "28", via=[])
            start = valve["a"]
            shield = s.add("lockshield_valve", f"L{n}", x_m=top + 0.5, height_m=z + 0.048, turn=2)
            s.pipe(emitter["return"], shield["a"], "28", via=[])
            leaves = shield["b"]
        if lead is None or join is None:
            s.pipe(flow, start, "28", via=[(top, 5.5), (top, z + 0.552)])
            s.pipe(leaves, back, "28", via=[(top + 0.2, z + 0.048), (top + 0.2, 0.2)])
            break
        s.pipe(flow, lead["right"], "35", via=[], graded="a")
        s.pipe(lead["branch"], start, "28", via=[(top, z + 0.552)])
        s.pipe(leaves, join["branch"], "28", via=[(top + 0.2, z + 0.048)])
        s.pipe(join["left"], back, "35", via=[], graded="a")
        flow, back = lead["left"], join["right"]
    drain(s, "return", (2.4, 0.2), "low")
    return s


@system("12")
def motor_valve_that_springs_open() -> Drawing:
    """A normally-open motorised valve on the store's gravity pair, an open radiator for the whole heat leak besides."""
    s = fire()
    s.insert("store_flow", "motorised_2port", "motor", at=ON_STORE_FLOW, rest="open")
    return s


@system("13")
def two_stoves() -> Drawing:
    """Two stoves on one store, each with vent and feed of its own from one cistern; one heat leak for both."""
    s = fire(leak_w=2600.0, tank={"volume_l": 1000.0, "body_diameter_m": 0.85})
    tank = s["cistern"]
    other = s.add(
        "boiler_stove",
        "other",
        x_m=-1.6,
        height_m=0.0,
        power_kw=8.0,
        thermal_centre_m=0.5,
        charge_kwh=10.0,
        burn_time_h=1.25,
    )
    joined = s.tee("stove_flow", (1.7, 1.3), "T2", towards="left")
    own_vent = s.add("tee", "VJ2", x_m=-0.7, height_m=1.0, turn=3)
    s.pipe(other["flow"], own_vent["left"], "28", via=[])
    s.pipe(own_vent["branch"], tank["vent_3"], "22", via=[(-1.2, 1.0), (-1.2, 6.2), (2.525, 6.2)], graded="b")
    s.pipe(own_vent["right"], joined["branch"], "28", via=[(-0.7, 1.3)], graded="b")
    own_feed = s.add("tee", "F2", x_m=-0.6, height_m=0.2, turn=0)
    back = s.tee("return_2", (2.95, 0.2), "R2", towards="down")
    s.pipe(own_feed["left"], other["return"], "28", via=[], graded="b")
    s.pipe(back["branch"], own_feed["right"], "28", via=[(2.95, -0.3), (0.2, -0.3), (0.2, 0.2)], id="other_back")
    split = s.tee("feed", (2.675, 4.6), "FS", towards="left")
    s.pipe(split["branch"], own_feed["branch"], "22", via=[(-0.6, 4.6)])
    drain(s, "other_back", (1.5, -0.3), "low")
    return s


@system("14")
def store_in_the_cellar() -> Drawing:
    """A store below a stove: pumped with thermostat and return valve; a large heat leak upstairs by gravity."""
    s = fire(store=False, leak_w=3000.0, power_kw=5.0, charge_kwh=6.0, burn_time_h=1.2)
    uncap(s)
    store = s.store(
        "store",
        x_m=6.0,
        height_m=-2.5,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.6,
        design_temp_c=75.0,
        tappings={
            "flow": {"height_m": 1.4, "side": "left", "size": "22"},
            "return": {"height_m": 0.1, "side": "left", "size": "22"},
            "drain": {"height_m": 0.03, "side": "right", "size": "15", "purpose": "drain"},
            "vent": {"height_m": 1.6, "side": "top", "size": "22"},
        },
    )
    s.pipe(store["drain"], s.add("drain_cock", "low", x_m=6.8, height_m=-2.6), "15")
    s.pipe(store["vent"], s["cistern"]["vent_2"], "22", via=[(6.0, 6.05), (2.375, 6.05)], graded="b")
    valve = s.add("return_temperature_valve", "mix", x_m=4.2, height_m=0.2, setting_c=60.0)
    pump = s.add("pump", "pump", x_m=3.7, height_m=0.2, turn=2)
    split = s.add("tee", "split", x_m=4.2, height_m=1.72, turn=2)
    s.pipe(s["T"]["branch"], split["right"], "22", via=[])
    s.pipe(split["branch"], valve["hot"], "22", via=[])
    s.pipe(split["left"], store["flow"], "22", via=[(5.0, 1.72), (5.0, -1.1)])
    s.pipe(store["return"], valve["cold"], "22", via=[(4.7, -2.4), (4.7, 0.2)])
    s.pipe(valve["mixed"], pump["a"], "22", via=[])
    s.pipe(pump["b"], s["R"]["right"], "22", via=[])
    s.add("pipe_thermostat", "stat", x_m=2.2, height_m=1.0)
    s.link("stat", "pump", does="runs_above", setting_c=55.0)
    return s
