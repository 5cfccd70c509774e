"""Thirty-two single mistakes in the three-source store, each one edit of the sound sheet, and what must be found.

Owns the edits. Knows nothing of how a rule decides: what it must say is written down here from the trade's own rules.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from loopwright.catalogue import standard_catalogue
from loopwright.draw import Drawing
from loopwright.sheet import edits
from loopwright.sheet.change import with_records
from loopwright.sheet.values import End, Part, Point, Sheet

Edit = Callable[[Sheet], Sheet]
CATALOGUE = standard_catalogue()


class Mistake(msgspec.Struct, frozen=True):
    """One edit, and the one danger or fault that must follow: rule, severity, subject and the parts to change."""

    number: int
    name: str
    edit: Edit
    rule: str
    severity: str
    subject: str
    culprits: tuple[str, ...]


MISTAKES: list[Mistake] = []


def mistake(number: int, rule: str, severity: str, subject: str, *culprits: str) -> Callable[[Edit], Edit]:
    """Register an edit under its own name."""

    def register(edit: Edit) -> Edit:
        MISTAKES.append(Mistake(number, edit.__name__.replace("_", "-"), edit, rule, severity, subject, culprits))
        return edit

    return register


# -- steps ------------------------------------------------------------------------------------------------------------


def put(sheet: Sheet, pipe: str, kind: str, id: str, at: Point, **props: Any) -> Sheet:
    """A fitting put into a pipe at the place nearest to `at`."""
    part = Part(id=id, kind=kind, x_m=at[0], height_m=at[1], props=props)
    return edits.insert_in_pipe(sheet, pipe, part, at, CATALOGUE)


def cap(sheet: Sheet, part: str, port: str) -> Sheet:
    """A free end capped."""
    drawing = Drawing(sheet, CATALOGUE)
    drawing.cap(End(part, port))
    return drawing.done()


def end_of(sheet: Sheet, part: str, name: str) -> End:
    """An end by port, letter or name."""
    return _part(sheet, part)[name]


def _part(sheet: Sheet, part: str) -> Any:
    from loopwright.draw import PartRef

    return PartRef(Drawing(sheet, CATALOGUE), part)


def pipe(sheet: Sheet, a: tuple[str, str], b: tuple[str, str], *via: Point, **more: Any) -> Sheet:
    """A pipe between two ends."""
    drawing = Drawing(sheet, CATALOGUE)
    drawing.pipe(end_of(sheet, *a), end_of(sheet, *b), via=via or None, **more)
    return drawing.done()


def without(sheet: Sheet, *ids: str) -> Sheet:
    """The sheet without some parts or pipes."""
    return edits.delete(sheet, ids, CATALOGUE)


def set_to(sheet: Sheet, part: str, **props: Any) -> Sheet:
    """Properties typed."""
    for name, value in props.items():
        sheet = edits.set_property(sheet, part, name, value, CATALOGUE)
    return sheet


def retap(sheet: Sheet, part: str, name: str, height_m: float) -> Sheet:
    """A tapping moved to another height; its pipe follows."""
    return edits.set_tapping(sheet, part, end_of(sheet, part, name).port, CATALOGUE, height_m=height_m)


# -- what shuts a fire in ---------------------------------------------------------------------------------------------


@mistake(1, "gravity-loop/isolating-valve", "danger", "stove", "V1")
def valve_on_heat_leak(sheet: Sheet) -> Sheet:
    """A lever valve on the branch to the heat-leak radiator, after the vent has left."""
    return put(sheet, "leak_flow", "isolating_valve", "V1", (1.45, 3.552))


@mistake(2, "gravity-loop/isolating-valve", "danger", "stove", "V1")
def valve_on_stove_return(sheet: Sheet) -> Sheet:
    """A lever valve on the stove's return, between the feed and the return of the heat leak: no fixed loop is left."""
    return put(sheet, "return_2", "isolating_valve", "V1", (2.95, 0.2))


@mistake(3, "gravity-loop/isolating-valve", "fault", "stove", "V1")
def valve_to_store(sheet: Sheet) -> Sheet:
    """A lever valve between the stove's tee and the store."""
    return put(sheet, "store_flow", "isolating_valve", "V1", (2.9, 1.72))


@mistake(4, "solid-fuel/vent-can-close", "danger", "stove", "V1")
def valve_on_stove_flow(sheet: Sheet) -> Sheet:
    """A lever valve on the stove's flow before anything leaves it."""
    return put(sheet, "stove_flow", "isolating_valve", "V1", (1.7, 1.2))


@mistake(5, "solid-fuel/heat-leak-can-be-shut", "danger", "stove", "TV3")
def thermostatic_valve_on_heat_leak(sheet: Sheet) -> Sheet:
    """A thermostatic valve on the heat-leak radiator."""
    return put(sheet, "leak_flow", "thermostatic_radiator_valve", "TV3", (1.45, 3.552))


@mistake(6, "solid-fuel/heat-leak-can-be-shut", "fault", "stove", "M1")
def motor_valve_on_heat_leak(sheet: Sheet) -> Sheet:
    """A normally-open motorised valve on the heat leak."""
    return put(sheet, "leak_flow", "motorised_2port", "M1", (1.45, 3.552), rest="open")


@mistake(7, "solid-fuel/heat-leak-needs-power", "danger", "stove", "P5")
def pump_in_stove_return(sheet: Sheet) -> Sheet:
    """A pump in the stove's return, between the return of the heat leak and the feed."""
    sheet = put(sheet, "return_2", "pump", "P5", (2.95, 0.2))
    return _started_by_stove(sheet, "P5")


@mistake(8, "gravity-loop/pump-in-line", "danger", "stove", "P5")
def pump_in_heat_leak(sheet: Sheet) -> Sheet:
    """A pump in the branch to the heat-leak radiator."""
    return _started_by_stove(put(sheet, "leak_flow", "pump", "P5", (1.45, 3.552)), "P5")


def _started_by_stove(sheet: Sheet, pump: str) -> Sheet:
    """A pipe thermostat near the stove that starts the pump, so that the pump itself is the only mistake."""
    drawing = Drawing(sheet, CATALOGUE)
    stat = drawing.add("pipe_thermostat", "TS1", x_m=1.25, height_m=1.15, name="Pipe thermostat")
    drawing.link(stat, pump, does="runs_above", setting_c=55.0)
    return drawing.done()


@mistake(9, "solid-fuel/store-is-only-leak", "fault", "stove", "store")
def no_heat_leak_radiator(sheet: Sheet) -> Sheet:
    """The heat-leak radiator taken away and its pipes capped. The store keeps room for 8.5 kWh of a 10 kWh charge."""
    sheet = without(sheet, "leak")
    return cap(cap(sheet, *_towards(sheet, "VJ", "left")), *_towards(sheet, "R", "up"))


def _towards(sheet: Sheet, part: str, way: str) -> tuple[str, str]:
    """The port of a fitting that leaves a given way."""
    from loopwright.sheet.ports import ports_of

    ports = ports_of(sheet.parts[part], CATALOGUE)
    return part, next(name for name, port in ports.items() if port.side == way)


@mistake(10, "solid-fuel/heat-leak-too-small", "fault", "stove", "leak")
def small_heat_leak(sheet: Sheet) -> Sheet:
    """A heat-leak radiator of 0.6 kW."""
    return set_to(sheet, "leak", output_w=600.0)


@mistake(11, "gravity-loop/spring-check", "danger", "stove", "C4")
def check_in_heat_leak(sheet: Sheet) -> Sheet:
    """A spring check valve in the branch to the heat-leak radiator."""
    return put(sheet, "leak_flow", "check_valve", "C4", (1.45, 3.552))


# -- vents, feeds and shape -------------------------------------------------------------------------------------------


@mistake(12, "solid-fuel/vent-can-close", "danger", "stove", "V1")
def valve_on_vent(sheet: Sheet) -> Sheet:
    """A gate valve on the stove's open vent."""
    return put(sheet, "stove_vent", "isolating_valve", "V1", (1.7, 4.6))


@mistake(13, "solid-fuel/feed-can-close", "danger", "stove", "V1")
def valve_on_feed(sheet: Sheet) -> Sheet:
    """A stop valve on the cistern's cold feed."""
    return put(sheet, "feed", "stop_valve", "V1", (2.675, 4.4))


@mistake(14, "gravity-loop/dips", "fault", "stove", "store_flow")
def dip_in_stove_flow(sheet: Sheet) -> Sheet:
    """A dip of 0.3 m in the flow between the stove's tee and the store."""
    return edits.set_pipe(sheet, "store_flow", points=((2.2, 1.72), (2.2, 1.42), (3.5, 1.42), (3.5, 1.72)), held=())


@mistake(15, "tapping/flow-below-return", "fault", "stove", "store_flow", "return_3")
def stove_swapped_at_store(sheet: Sheet) -> Sheet:
    """The stove's flow and return exchanged at the store."""
    lag = {"insulation_mm": 25.0}
    sheet = without(sheet, "store_flow", "return_3")
    sheet = pipe(
        sheet,
        _towards(sheet, "T", "right"),
        ("store", "stove return"),
        (3.5, 1.72),
        (3.5, 0.2),
        size="28",
        id="store_flow",
        graded="a",
        **lag,
    )
    return pipe(
        sheet,
        ("store", "stove flow"),
        _towards(sheet, "R", "right"),
        (3.7, 1.72),
        (3.7, 0.45),
        (3.36, 0.45),
        (3.36, 0.2),
        size="28",
        id="return_3",
        graded="a",
        **lag,
    )


@mistake(
    16, "gravity-loop/small-bore", "fault", "stove", "return_1", "return_2", "return_3", "store_flow", "stove_flow"
)
def thin_stove_pair(sheet: Sheet) -> Sheet:
    """The stove's pair to the store in 22 mm."""
    for name in ("stove_flow", "store_flow", "return_1", "return_2", "return_3"):
        sheet = edits.set_pipe(sheet, name, size="22")
    return sheet


@mistake(17, "solid-fuel/plastic-pipe", "danger", "stove", "leak_return")
def plastic_heat_leak(sheet: Sheet) -> Sheet:
    """The return of the heat leak in plastic."""
    return edits.set_pipe(sheet, "leak_return", material="polybutylene", size="28")


@mistake(18, "vent-and-feed/vent-dips", "fault", "stove", "stove_vent")
def dip_in_vent(sheet: Sheet) -> Sheet:
    """A dip of 0.3 m in the stove's vent; the store's vent still rises."""
    points = ((1.7, 4.6), (1.2, 4.6), (1.2, 4.3), (0.9, 4.3), (0.9, 5.0), (1.7, 5.0), (1.7, 6.0), (2.225, 6.0))
    return edits.set_pipe(sheet, "stove_vent", points=points, held=(), graded="")


@mistake(19, "vent-and-feed/vent-too-low", "fault", "stove", "stove_vent")
def low_vent(sheet: Sheet) -> Sheet:
    """The stove's vent turned over too low: just above the cistern's rim, 0.36 m above its water instead of 0.37 m."""
    return edits.set_pipe(sheet, "stove_vent", points=((1.7, 5.86), (2.225, 5.86)), held=())


@mistake(20, "vent-and-feed/vent-over-wrong-cistern", "danger", "stove", "stove_vent")
def vent_over_drinking_water(sheet: Sheet) -> Sheet:
    """The stove's vent ended over the cistern that feeds the cold taps."""
    drawing = Drawing(sheet, CATALOGUE)
    tank = drawing.add("cold_water_cistern", "taps_cistern", x_m=-0.6, height_m=5.25, name="Cold-water cistern")
    main = drawing.add("mains_supply", "taps_main", x_m=-2.2, height_m=5.8025, pressure_bar=3.0)
    stop = drawing.add("stop_valve", "taps_stop", x_m=-1.7, height_m=5.8025)
    end = drawing.add("discharge_point", "taps_overflow", x_m=0.35, height_m=5.4)
    drawing.pipe(main, stop["a"], "15")
    drawing.pipe(stop["b"], tank["float_in"], "15")
    drawing.pipe(tank["overflow"], end, "22", via=[(0.35, 5.7464)])
    drawing.pipe(tank["feed"], End("bath", "cold"), "22", via=[(-0.3, 2.7), (6.76, 2.7)], id="taps_feed")
    drawing.sheet = without(drawing.sheet, "stove_vent", "store_vent")
    drawing.pipe(
        End(*_towards(drawing.sheet, "store", "up")),
        End("cistern", "vent"),
        "22",
        via=[(5.0, 6.05), (2.225, 6.05)],
        id="store_vent",
        graded="b",
    )
    drawing.pipe(
        End(*_towards(drawing.sheet, "VJ", "up")),
        tank["vent"],
        "22",
        via=[(1.7, 6.2), (-0.9, 6.2)],
        id="stove_vent",
        graded="b",
    )
    return drawing.done()


@mistake(21, "vent-and-feed/cistern-too-small", "fault", "cistern", "cistern")
def small_cistern(sheet: Sheet) -> Sheet:
    """A cistern with room for 10 l of expansion."""
    return set_to(sheet, "cistern", expansion_room_l=10.0)


# -- sealed waters ----------------------------------------------------------------------------------------------------


@mistake(22, "sealed/relief-can-close", "danger", "boiler", "V1")
def valve_before_relief(sheet: Sheet) -> Sheet:
    """A service valve on the oil boiler's flow, before the tee of its relief valve."""
    return put(sheet, "boiler_flow_1", "isolating_valve", "V1", (11.6, 1.2))


@mistake(23, "sealed/no-vessel", "fault", "boiler", "boiler")
def no_boiler_vessel(sheet: Sheet) -> Sheet:
    """The oil boiler's expansion vessel taken away and its tee capped."""
    sheet = without(sheet, "EV1")
    return cap(sheet, *_towards(sheet, "EVT", "down"))


@mistake(24, "sealed/filling-unprotected", "fault", "boiler", "C4")
def filled_through_a_check(sheet: Sheet) -> Sheet:
    """The filling loop replaced by a fixed pipe with a check valve."""
    sheet = without(sheet, "FL1")
    (left,) = sheet.pipes_of("fill_main")  # a fitting in line leaves a plain pipe in its place
    return put(sheet, left.id, "check_valve", "C4", (10.1, -0.1))


# -- the store --------------------------------------------------------------------------------------------------------


@mistake(
    25,
    "tapping/solar-not-lowest",
    "fault",
    "collector",
    "solar_flow_2",
    "solar_return_1",
    "boiler_flow_3",
    "boiler_return_4",
)
def coils_exchanged(sheet: Sheet) -> Sheet:
    """The solar coil above and the oil boiler's coil below."""
    for name, height in (("solar flow", 1.53), ("solar return", 0.90), ("boiler return", 0.105), ("boiler flow", 0.63)):
        sheet = retap(sheet, "store", name, height)
    sheet = edits.set_pipe(sheet, "boiler_return_4", points=((9.5, 0.205), (9.5, 0.3)), held=())
    sheet = edits.set_coil(sheet, "store", "solar", CATALOGUE, bottom_m=0.90, top_m=1.53)
    return edits.set_coil(sheet, "store", "boiler", CATALOGUE, bottom_m=0.105, top_m=0.63)


@mistake(26, "tapping/return-mixes-hot", "fault", "R1", "rad_return", "rad_flow_1")
def radiators_drawn_from_below(sheet: Sheet) -> Sheet:
    """The radiators' supply moved to a tenth of the store's height: their return is now above it."""
    return retap(sheet, "store", "radiator flow", 0.22)


@mistake(27, "tapping/coil-upside-down", "fault", "store", "cold_4", "hot_1")
def coil_upside_down(sheet: Sheet) -> Sheet:
    """The ends of the hot water coil exchanged."""
    sheet = without(sheet, "hot_1", "cold_4")
    sheet = pipe(sheet, ("store", "cold in"), ("TM1", "hot"), (5.7, 0.46), (5.7, 2.2), size="22", id="hot_1")
    return pipe(
        sheet, _towards(sheet, "CT2", "left"), ("store", "hot water"), (5.55, -0.6), (5.55, 1.8), size="22", id="cold_4"
    )


# -- taps -------------------------------------------------------------------------------------------------------------


@mistake(28, "order/mixing-valve-inlets", "danger", "TM1", "TM1")
def mixing_valve_crossed(sheet: Sheet) -> Sheet:
    """The hot and the cold inlet of the mixing valve exchanged."""
    sheet = without(sheet, "hot_1", "cold_6")
    sheet = pipe(sheet, ("store", "hot water"), ("TM1", "cold"), (6.1, 1.8), size="22", id="hot_1")
    return pipe(sheet, ("C3", "b"), ("TM1", "hot"), (5.95, -1.3), (5.95, 2.2), size="22", id="cold_6")


@mistake(29, "domestic/scald-risk", "danger", "bath", "bath", "sink")
def no_mixing_valve(sheet: Sheet) -> Sheet:
    """The mixing valve taken out and its hot pipes joined."""
    sheet = without(without(sheet, "TM1"), "C3")  # a fitting in line leaves a plain pipe in its place
    return cap(sheet, *_towards(sheet, "CT1", "down"))


@mistake(30, "domestic/expansion-unprovided", "fault", "store", "C2")
def no_potable_vessel(sheet: Sheet) -> Sheet:
    """The drinking-water vessel taken away and its tee capped: the check valve leaves expansion nowhere to go."""
    sheet = without(sheet, "EV3")
    return cap(sheet, *_towards(sheet, "CT2", "down"))


@mistake(31, "circuit/dead-headed-pump", "fault", "P1", "P1")
def no_bypass(sheet: Sheet) -> Sheet:
    """The automatic bypass taken out of the radiator circuit."""
    sheet = without(sheet, "BV1")
    for pipe_id in [p.id for p in sheet.pipes.values() if {p.a.part, p.b.part} == {"BT1", "BT2"}]:
        sheet = without(sheet, pipe_id)  # a fitting in line leaves a plain pipe in its place
    return cap(cap(sheet, *_towards(sheet, "BT1", "down")), *_towards(sheet, "BT2", "up"))


@mistake(32, "circuit/night-thermosyphon", "fault", "collector", "P3")
def solar_check_missing(sheet: Sheet) -> Sheet:
    """The check valve taken out of the solar pump unit."""
    old = sheet.parts["P3"]
    props = {key: value for key, value in old.props.items() if key != "opening_pa"}
    return with_records(sheet, parts={**sheet.parts, "P3": msgspec.structs.replace(old, kind="pump", props=props)})
