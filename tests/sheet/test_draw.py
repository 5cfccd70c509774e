"""The builder for scripts: the same sheet as by hand, and errors that name what and where."""

from __future__ import annotations

from itertools import pairwise

import pytest

from loopwright import draw
from loopwright.errors import KindError, SheetError
from loopwright.sheet import geometry
from loopwright.sheet.plane import same
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Level


@pytest.fixture
def s(catalogue):
    return draw.sheet("Kiln Lane barn", catalogue=catalogue)


def line(s, pipe_id):
    return geometry.polyline(s.sheet, s.sheet.pipes[pipe_id], s.catalogue)


def test_the_example_of_the_handbook():
    s = draw.sheet("Kiln Lane barn")
    store = s.store("store", x_m=4, height_m=0.1, volume_l=300, tappings={"stove flow": 1.5, "stove return": 0.3})
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0, power_kw=8)
    pipe = s.pipe(stove["flow"], store["stove flow"], size="28", material="copper", via=[(2.0, 1.6)])
    sheet = s.done()
    assert sheet.title == "Kiln Lane barn"
    assert sheet.parts["stove"].props == {"power_kw": 8}
    assert sheet.pipes[pipe.id].b == End("store", "A")
    # level out of the stove to x 2, up, and level into the tapping at 0.1 + 1.5
    assert sheet.pipes[pipe.id].points == ((2.0, 0.68), (2.0, 1.6))
    assert sheet.pipes[pipe.id].held == (1, 2)


def test_a_volume_alone_gives_a_body_of_that_content():
    import math

    for litres in (150, 300, 1000):
        s = draw.sheet("Sizes")
        props = s.store("store", x_m=0, height_m=0, volume_l=litres).part.props
        holds = math.pi / 4 * props["body_diameter_m"] ** 2 * props["body_height_m"] * 1000
        assert holds == pytest.approx(litres, rel=0.08)  # sizes are rounded to the centimetre
    own = draw.sheet("Own").store("s", x_m=0, height_m=0, volume_l=300, body_height_m=1.2).part
    assert "body_diameter_m" not in own.props


def test_floors(catalogue):
    made = draw.sheet("House", levels={"Ground floor": 0, "Loft": 5.2}, catalogue=catalogue).done()
    assert made.levels == (Level("Ground floor", 0.0), Level("Loft", 5.2))


def test_tappings_by_letter_name_and_table(s):
    store = s.store(
        "store", kind="test_vessel", x_m=0, height_m=0, tappings={
            "top": 1.5, "pocket": {"height_m": 1.2, "side": "right", "purpose": "sensor"},
            "cold": {"height_m": 0.1, "size": "22", "layering": True},
        }, coils=[{"name": "solar", "bottom_m": 0.2, "top_m": 0.6, "purpose": "solar", "area_m2": 1.5}],
    )  # fmt: skip
    assert store["top"] == store["A"] == End("store", "A")
    assert store["solar bottom"] == End("store", "D")
    assert store["solar top"] == End("store", "E")
    assert store.part.coils[0].lower == "D"
    assert store.part.tapping("C").layering
    assert store.pocket("pocket") == "store/B"
    with pytest.raises(SheetError, match="no port or tapping “middle”"):
        store["middle"]
    with pytest.raises(SheetError, match="is a sensor pocket"):
        store["pocket"]


def test_labels_serve_as_port_names(s):
    stove = s.add("boiler_stove", x_m=0, height_m=0)
    assert stove["Flow"] == End("stove", "flow")


@pytest.mark.parametrize(
    ("turn_a", "turn_b", "points"),
    [
        (0, 0, [(5.0, 1.0), (5.0, 3.0)]),  # both level: a riser half way
        (1, 1, [(1.0, 2.0), (9.0, 2.0)]),  # both upright: a level run half way (b faces down, so above it)
        (0, 3, [(9.0, 1.0)]),
        (3, 0, [(1.0, 3.0)]),
    ],
)
def test_an_empty_via_is_the_plain_way(s, turn_a, turn_b, points):
    one = s.add("test_valve", "one", x_m=1.0 - (0.12 if turn_a in (0, 2) else 0), height_m=1.0, turn=turn_a)
    two = s.add("test_valve", "two", x_m=9.0 + (0.12 if turn_b in (0, 2) else 0), height_m=3.0, turn=turn_b)
    pipe = s.pipe(one["b"], two["a"], via=[])
    corners = s.sheet.pipes[pipe.id].points
    assert len(corners) == len(points)
    for (x, z), (want_x, want_z) in zip(corners, points, strict=True):
        assert x == pytest.approx(want_x, abs=0.13)
        assert z == pytest.approx(want_z, abs=0.13)


def test_between_given_places_level_comes_first(s):
    one = s.add("test_valve", "one", x_m=0, height_m=0)
    two = s.add("test_valve", "two", x_m=9, height_m=0)
    pipe = s.pipe(one["b"], two["a"], via=[(1, 0), (3, 2), (5, 2), (6, 1)])
    record = s.sheet.pipes[pipe.id]
    # (1, 0) lies on the way and adds no corner; last leg is upright first, so that it enters the port level
    assert record.points == ((3.0, 0.0), (3.0, 2.0), (6.0, 2.0), (6.0, 0.0))
    assert all(same(a[0], b[0]) or same(a[1], b[1]) for a, b in pairwise(line(s, pipe.id)))
    assert record.held == (0, 1, 2, 3)


def test_without_via_a_way_is_found_and_nothing_is_held(s):
    one = s.add("test_valve", "one", x_m=0, height_m=0)
    two = s.add("test_valve", "two", x_m=3, height_m=1)
    pipe = s.pipe(one["b"], two["a"], graded="b", extra_length_m=2.0, id="run")
    assert pipe.id == "run"
    assert s.sheet.pipes["run"].held == ()
    assert s.sheet.pipes["run"].graded == "b"


def test_a_pipe_ref_stands_for_all_its_pieces(s):
    one = s.add("test_valve", "one", x_m=0, height_m=0)
    two = s.add("test_valve", "two", x_m=9, height_m=0)
    pipe = s.pipe(one["b"], two["a"], size="22")
    first = s.insert(pipe, "test_valve", at=(3, 0), rest="open")
    tee = s.tee(pipe, (6, 0), towards="down")
    again = s.insert(pipe, "test_valve", at=(1, 0))
    assert [first.part.x_m, tee.part.x_m, again.part.x_m] == pytest.approx([3.0, 6.0, 1.0])
    assert first.part.props == {"rest": "open"}
    assert ports_of(tee.part, s.catalogue)["branch"].side == "down"
    assert len(pipe.ids) == len(s.sheet.pipes) == 4
    three = s.add("test_valve", "three", x_m=8, height_m=-2)
    s.pipe(tee, three["a"])  # a tee has one free port left
    assert s.sheet.pipes[s.sheet.taken[tee["branch"]]].size == "22"


def test_joints_and_caps_bring_parts_together(s):
    store = s.store("store", kind="test_vessel", x_m=0, height_m=0, tappings={"boss": {"height_m": 1, "side": "right"}})
    plug = s.add("test_plug", "plug", x_m=7, height_m=7)
    s.joint(store["boss"], plug)
    assert ports_of(plug.part, s.catalogue)["a"].at == ports_of(store.part, s.catalogue)["A"].at
    tee = s.add("tee", "T1", x_m=5, height_m=1)
    cap = s.cap(tee["branch"])
    port = ports_of(cap.part, s.catalogue)["a"]
    assert (port.at, port.side) == ((5.0, 1.04), "down")
    assert s.sheet.pipes[s.sheet.taken[tee["branch"]]].joint
    with pytest.raises(SheetError, match="piped already"):
        s.joint(tee["left"], cap["a"])


def test_links_notes_facts(s):
    store = s.store(
        "store", kind="test_vessel", x_m=0, height_m=0, tappings={"top": {"height_m": 1.4, "purpose": "sensor"}}
    )
    stove = s.add("boiler_stove", "stove", x_m=-3, height_m=0)
    link = s.link(store.pocket("top"), stove, "runs_below", setting_c=60, on_power_loss="on")
    s.note("Hot", x_m=1, height_m=2)
    s.fact(house_load_w=8000)
    s.limit(leak_kw=1.5)
    made = s.done()
    assert made.links[link.id].sensor == "store/A"
    assert (made.notes[0].text, made.facts["house_load_w"], made.limits["leak_kw"]) == ("Hot", 8000, 1.5)
    with pytest.raises(SheetError, match="cannot take that value"):
        s.link("store/A", "stove", "dances")


def test_errors_name_what_and_where(s):
    stove = s.add("boiler_stove", "stove", x_m=0, height_m=0)
    store = s.store("store", kind="test_vessel", x_m=4, height_m=0, tappings={"in": 1.0, "out": 0.2})
    s.pipe(stove["flow"], store["in"])
    for make, error, words in [
        (lambda: s.add("rocket", x_m=0, height_m=0), KindError, "no kind of part called “rocket”"),
        (lambda: s.add("tee", "stove", x_m=0, height_m=0), SheetError, "Adding tee “stove”"),
        (lambda: s.add("tee", x_m=1e6, height_m=0), SheetError, "metres within 1000"),
        (lambda: s.add("boiler_stove", x_m=0, height_m=0, power=8), SheetError, "no property “power”"),
        (lambda: s.pipe(stove["flow"], store["out"]), SheetError, r"Piping stove\[flow\] to store\[B\]"),
        (lambda: s.pipe(stove["return"], store["out"], size="23"), SheetError, "not listed in size “23”"),
        (lambda: s.pipe("stove", store["out"]), SheetError, "is no pipe end"),
        (lambda: s.pipe(stove["return"], store["out"], colour="red"), SheetError, "no “colour”"),
        (lambda: s.tee("ghost", (0, 0)), SheetError, "no pipe “ghost”"),
        (lambda: s.store(x_m=0, height_m=0, kind="test_vessel", tappings={"x": {}}), SheetError, "has no height"),
        (lambda: s.store(x_m=0, height_m=0, kind="test_vessel", coils=[{"name": "c"}]), SheetError, "no bottom_m"),
        (lambda: s["ghost"], SheetError, "no part “ghost”"),
    ]:  # fmt: skip
        before = s.sheet
        with pytest.raises(error, match=words):
            make()
        assert s.sheet is before


def test_heights_are_measured_from_code():
    s = draw.sheet("Heights")
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0)
    s.dimension(stove["flow"], (0.0, 3.0), x_m=0.2)
    s.dimension(stove, (0.0, 2.0), x_m=0.4, id="rise")
    made = s.done()
    assert [(d.id, d.a.port, d.b.height_m, d.x_m) for d in made.dimensions] == [
        ("dimension1", "flow", 3.0, 0.2),
        ("rise", "", 2.0, 0.4),
    ]
