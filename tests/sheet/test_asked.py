"""What a line of words asks for, where it goes, what is piped to a vessel, and the same again piped alike.

Which way water goes, and at what share of a body a coil sits, are common practice, no source; 2 kW is 2000 W and 0.5 m³
is 500 l by the SI brochure.
"""

from __future__ import annotations

from itertools import pairwise
from time import process_time

import pytest
from msgspec.structs import replace

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.sheet import placing
from loopwright.sheet.asked import EXTRAS, understood
from loopwright.sheet.fitting_out import fitted
from loopwright.sheet.geometry import polyline
from loopwright.sheet.piping_up import piped_up
from loopwright.sheet.ports import box_of, number, ports_of
from loopwright.sheet.repeating import again
from loopwright.sheet.values import End, Part, Sheet, Tapping

CATALOGUE = standard_catalogue()


@pytest.fixture
def sheet():
    s = draw.sheet("Asked")
    s.store("store", x_m=3, height_m=0.5, volume_l=250, tappings={"flow": {"height_m": 1.2, "side": "right"}})
    s.add("radiator", "rad", x_m=8, height_m=1.0)
    s.add("feed_expansion_cistern", "cistern", x_m=3, height_m=5)
    s.add("mains_supply", "main", x_m=0, height_m=-1)
    s.add("sink", "tap", x_m=5, height_m=0.0)
    s.pipe(s["store"]["flow"], s["rad"]["flow"], id="out")
    s.pipe(s["main"]["a"], s["tap"]["hot"], id="cold")
    return s.done()


def new(kind, **more):
    return Part(id="", kind=kind, x_m=0.0, height_m=0.0, **more)


@pytest.mark.parametrize(
    ("text", "kinds", "props"),
    [
        ("oil", ["boiler_oil"], [{}]),  # a word of the name comes before a word that merely holds it, as coil does
        ("drain", ["drain_cock"], [{}]),
        ("boiler, oil", ["boiler_oil"], [{}]),  # a name with a comma is one part
        ("radiator 2", ["radiator"], [{"output_w": 2000.0}]),
        ("radiator 900 W 6 l", ["radiator"], [{"output_w": 900.0, "content_l": 6.0}]),
        ("heat store 0.5 m3", ["heat_store"], [{"volume_l": 500.0}]),
        ("relief 3", ["relief_valve"], [{"setting_bar": 3.0}]),
        ("solar vessel 35 1.5 bar", ["expansion_vessel_solar"], [{"volume_l": 35.0, "precharge_bar": 1.5}]),
        ("stop, reducing, check", ["stop_valve", "pressure_reducing_valve", "check_valve"], [{}, {}, {}]),
    ],
)
def test_a_line_of_words(text, kinds, props):
    row = understood(text, CATALOGUE)[0]
    assert [one.kind.id for one in row] == kinds and [dict(one.props) for one in row] == props


@pytest.mark.parametrize("text", ["no such thing", "radiator 9999999", "sink 3 kWh", "stop, no such thing"])
def test_a_line_that_means_nothing_finds_nothing(text):
    assert understood(text, CATALOGUE) == []


def test_a_long_line_is_read_in_no_time():
    before = process_time()
    for text in ("radiator " + "1  " * 5000 + ",", "pump, " * 5000, "9" * 100_000, "a " * 5000 + "1 kW"):
        understood(text, CATALOGUE)
    assert process_time() - before < 2.0


def test_coils_are_asked_for_where_there_is_a_vessel():
    assert all(one.extra is None for row in understood("coil", CATALOGUE) for one in row)
    (row,) = understood("store 450, solar coil 1.2m2 7l, hot water coil 2.5", CATALOGUE)
    assert [one.extra.purpose for one in row[1:] if one.extra] == ["solar", "domestic"]
    assert [dict(one.props) for one in row[1:]] == [{"area_m2": 1.2, "content_l": 7.0}, {"area_m2": 2.5}]
    assert row[1].words == "Solar coil, 1.2 m2 7 l"
    first = understood("coil", CATALOGUE, into_vessel=True)[0][0]
    assert first.extra is not None and first.extra.sort == "coil"


def test_a_coil_for_the_sun_gets_shorter_rather_than_higher(sheet):
    tall = 1.55  # a drain stub where the coil would begin
    part = Part(id="v", kind="heat_store", x_m=0.0, height_m=0.0, props={"body_height_m": tall})
    part = replace(part, tappings=(Tapping(letter="A", height_m=0.06, side="right"),))
    sun = next(extra for extra in EXTRAS if extra.name == "Solar coil")
    (coil,) = fitted(Sheet(parts={"v": part}), "v", sun, CATALOGUE).parts["v"].coils
    assert coil.bottom_m > 0.09 and coil.top_m <= 0.35 * tall


def test_a_vessel_is_fitted_out_where_there_is_room(sheet):
    by_name = {extra.name: extra for extra in EXTRAS}
    for name in ("Solar coil", "Boiler coil", "Hot water coil", "Sensor pocket"):
        sheet = fitted(sheet, "store", by_name[name], CATALOGUE, 0.3)
    part = sheet.parts["store"]
    solar, boiler, domestic = part.coils
    assert solar.top_m < boiler.bottom_m, "the sun heats the coldest water, the boiler the upper part"
    assert domestic.top_m > boiler.top_m
    pocket = next(t for t in part.tappings if t.purpose == "sensor")
    assert pocket.height_m == pytest.approx(0.3, abs=0.1)
    for a, b in pairwise(sorted((t.side, t.height_m) for t in part.tappings)):
        assert a[0] != b[0] or b[1] - a[1] > 0.0399, "no two stubs stand too near"


def test_a_row_lies_in_a_pipe_in_the_way_it_was_drawn(sheet):
    after = placing.in_pipe(
        sheet, "out", [new("stop_valve"), new("check_valve"), new("air_vent_manual")], (6.0, 1.7), CATALOGUE
    )
    line = polyline(sheet, sheet.pipes["out"], CATALOGUE)
    place, walked = "store", []
    while place != "rad":
        pipe = next(p for p in after.pipes.values() if p.a.part == place and p.b.part not in (*walked, "AV1"))
        place = pipe.b.part
        walked.append(place)
    kinds = [after.parts[i].kind for i in walked]
    assert kinds == ["stop_valve", "check_valve", "tee", "radiator"], "the vent stands on a branch"
    check = next(p for p in after.parts.values() if p.kind == "check_valve")
    ends = {e.port for p in after.pipes_of(check.id) for e in (p.a, p.b) if e.part == check.id and p.b == e}
    assert ends == {"a"}, "water comes in at the side that lets it through"
    assert (line[0], line[-1]) == (
        polyline(after, after.pipes["out"], CATALOGUE)[0],
        ports_of(after.parts["rad"], CATALOGUE)["flow"].at,
    )


def test_a_discharge_goes_onto_the_outlet_of_the_valve_before_it(sheet):
    after = placing.in_pipe(sheet, "out", [new("relief_valve"), new("discharge_point")], (6.0, 1.7), CATALOGUE)
    valve = next(p for p in after.parts.values() if p.kind == "relief_valve")
    point = next(p for p in after.parts.values() if p.kind == "discharge_point")
    (pipe,) = after.pipes_of(point.id)
    assert {pipe.a, pipe.b} == {End(valve.id, "outlet"), End(point.id, "in")}
    heights = [z for _, z in polyline(after, pipe, CATALOGUE)]
    assert heights == sorted(heights, reverse=True) and heights[-1] < heights[0], "it falls"


def test_a_row_on_a_port_is_turned_for_the_water(sheet):
    """A cistern takes water in at its float valve: the mains comes last, and a one-way valve faces the cistern."""
    row = [new("check_valve"), new("stop_valve"), new("mains_supply")]
    after = placing.on_port(sheet, End("cistern", "float_in"), row, CATALOGUE)
    check = next(p for p in after.parts.values() if p.kind == "check_valve")
    pipe = after.pipes[after.taken[End("cistern", "float_in")]]
    assert pipe.other("cistern") == End(check.id, "b") and pipe.size == "15", "a float valve is for half-inch pipe"
    assert len([p for p in after.pipes.values() if p.id not in sheet.pipes]) == 3
    boxes = [box_of(after.parts[i], CATALOGUE) for i in after.parts if i not in sheet.parts]
    for a, b in pairwise(sorted(boxes)):
        assert a[2] <= b[0] + 1e-6, "no two of them overlap"
    with pytest.raises(SheetError, match="Nothing can follow"):
        placing.on_port(sheet, End("cistern", "overflow"), [new("discharge_point"), new("stop_valve")], CATALOGUE)
    with pytest.raises(SheetError, match="already holds"):
        placing.on_port(sheet, End("rad", "flow"), [new("stop_valve")], CATALOGUE)


def test_a_part_on_a_port_keeps_clear_of_pipes(sheet):
    s = draw.sheet("Clear")
    s.add("feed_expansion_cistern", "cistern", x_m=3, height_m=5)
    s.add("sink", "tap", x_m=2.4, height_m=6.0)
    s.add("mains_supply", "main", x_m=2.22, height_m=2.0, turn=3)
    s.pipe(s["main"]["a"], s["tap"]["hot"], id="riser", via=[(2.34, 2.12)])
    crowded = s.done()
    after = placing.on_port(crowded, End("cistern", "float_in"), [new("stop_valve")], CATALOGUE)
    valve = next(p for p in after.parts.values() if p.kind == "stop_valve")
    x0, z0, x1, z1 = box_of(valve, CATALOGUE)
    for a, b in pairwise(polyline(after, after.pipes["riser"], CATALOGUE)):
        assert max(a[0], b[0]) <= x0 or min(a[0], b[0]) >= x1 or max(a[1], b[1]) <= z0 or min(a[1], b[1]) >= z1


def test_a_drain_cock_on_a_shell_bores_a_tapping_for_itself(sheet):
    after = placing.on_shell(sheet, "store", 0.05, "right", [new("drain_cock")], CATALOGUE)
    tapping = after.parts["store"].tappings[-1]
    assert (tapping.purpose, tapping.size, tapping.side) == ("drain", "15", "right")
    (pipe,) = after.pipes_of("DC1")
    heights = [z for _, z in polyline(after, pipe, CATALOGUE)]
    assert heights[-1] < heights[0], "it hangs below its stub"


def test_parts_set_beside_each_other_stand_level_and_apart(sheet):
    row = [Part(id="", kind="radiator", x_m=10.0, height_m=0.2), new("radiator"), new("sink")]
    after = placing.on_sheet(sheet, row, CATALOGUE)
    made = [p for i, p in after.parts.items() if i not in sheet.parts]
    assert [p.kind for p in made] == ["radiator", "radiator", "sink"] and {p.height_m for p in made} == {0.2}
    for a, b in pairwise(made):
        assert box_of(b, CATALOGUE)[0] - box_of(a, CATALOGUE)[2] == pytest.approx(placing.APART_M, abs=0.001)


def test_the_same_again_is_piped_alike_and_keeps_clear(sheet):
    after, copies = again(sheet, {"rad"}, CATALOGUE)
    (copy,) = copies
    (pipe,) = after.pipes_of(copy)  # the radiator had but its flow piped
    tee = pipe.other(copy).part
    assert after.parts[tee].kind == "tee" and len(after.pipes_of(tee)) == 3
    reached = {end.part for p in after.pipes_of(tee) for end in (p.a, p.b)}
    assert {"store", "rad", copy} <= reached
    assert (pipe.size, pipe.material) == (sheet.pipes["out"].size, sheet.pipes["out"].material)
    boxes = [box_of(after.parts[i], CATALOGUE) for i in ("rad", copy)]
    assert boxes[1][1] >= boxes[0][3], "it stands above"
    blocked = placing.on_sheet(sheet, [Part(id="", kind="radiator", x_m=8.0, height_m=2.0)], CATALOGUE)
    beside, copies = again(blocked, {"rad"}, CATALOGUE)
    mine = box_of(beside.parts[next(iter(copies))], CATALOGUE)
    for i in blocked.parts:
        x0, z0, x1, z1 = box_of(blocked.parts[i], CATALOGUE)
        assert mine[2] <= x0 or x1 <= mine[0] or mine[3] <= z0 or z1 <= mine[1], i
    with pytest.raises(SheetError):
        again(sheet, {"out"}, CATALOGUE)


def test_the_same_again_takes_the_valves_at_its_ports_along(sheet):
    valved = placing.in_pipe(
        sheet,
        "out",
        [new("thermostatic_radiator_valve")],
        ports_of(sheet.parts["rad"], CATALOGUE)["flow"].at,
        CATALOGUE,
    )
    after, copies = again(valved, {"rad"}, CATALOGUE)
    assert sorted(after.parts[i].kind for i in copies) == ["radiator", "thermostatic_radiator_valve"]
    valves = [p.id for p in after.parts.values() if p.kind == "thermostatic_radiator_valve"]
    assert len(valves) == 2 and all(len(after.pipes_of(v)) == 2 for v in valves)


def test_parts_are_piped_to_the_stubs_that_serve_them(sheet):
    """A fire spans the whole vessel, a switched source heats its upper part, the sun goes to its coil."""
    s = draw.sheet("Joined")
    s.store(
        "store",
        x_m=5,
        height_m=0.1,
        volume_l=300,
        tappings={"load": {"height_m": 1.3, "side": "right", "purpose": "load_flow", "size": "22"}},
        coils=[{"name": "sun", "bottom_m": 0.1, "top_m": 0.5, "side": "left", "purpose": "solar"}],
    )
    s.add("boiler_stove", "stove", x_m=1, height_m=0)
    s.add("boiler_oil", "boiler", x_m=9, height_m=0, mirror=True)
    s.add("radiator", "rad", x_m=9, height_m=3)
    s.add("solar_collector", "panel", x_m=2, height_m=5)
    s.add("heat_leak_radiator", "leak", x_m=1, height_m=3)
    bare = s.done()
    after = piped_up(bare, {"stove", "boiler", "rad", "panel", "leak"}, CATALOGUE)
    store = after.parts["store"]
    at = {}
    for part in ("stove", "boiler", "rad", "panel"):
        for pipe in after.pipes_of(part):
            mine, stub = (pipe.a, pipe.b) if pipe.a.part == part else (pipe.b, pipe.a)
            assert stub.part == "store"
            at[part, mine.port] = store.tapping(stub.port)
    assert len(at) == 8 and len({t.letter for t in at.values()}) == 8 and not after.pipes_of("leak")
    tall = number(store, CATALOGUE["heat_store"], "body_height_m")
    assert at["stove", "return"].height_m < 0.2 * tall < 0.8 * tall < at["stove", "flow"].height_m
    assert at["boiler", "return"].height_m > store.coils[0].top_m, "what the sun heats is left to it"
    assert at["rad", "flow"].name == "load", "a stub that is there is taken"
    assert {at["panel", p].letter for p in ("flow", "return")} == {store.coils[0].lower, store.coils[0].upper}
    assert {at[k].purpose for k in (("stove", "flow"), ("boiler", "flow"))} == {"source_flow"}
    assert {t.side for (part, _), t in at.items() if part in ("boiler", "rad")} == {"right"}
    for ids, words in (({"leak"}, "free flow"), ({"stove", "boiler"}, "free flow"), (set(), "free flow")):
        with pytest.raises(SheetError, match=words):
            piped_up(after, ids, CATALOGUE)
    panel = Part(id="two", kind="solar_collector", x_m=2.0, height_m=7.0)
    with pytest.raises(SheetError, match="no free coil"):
        piped_up(placing.on_sheet(after, [panel], CATALOGUE), {"two"}, CATALOGUE)
    alone = draw.sheet("Alone")
    alone.add("radiator", "rad", x_m=1, height_m=0)
    with pytest.raises(SheetError, match="no store"):
        piped_up(alone.done(), {"rad"}, CATALOGUE)
