"""Parts put on ports, shells and in rows by hand; what faces the store; graded pipes; links that make their pockets."""

from __future__ import annotations

import pytest
from scripts import ScriptHost, click, event, key

from barn import CATALOGUE
from loopwright import draw
from loopwright.canvas.tools.link import LinkTool
from loopwright.canvas.tools.pipe import PipeTool
from loopwright.canvas.tools.place import PlaceTool
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part


@pytest.fixture
def room():
    s = draw.sheet("Room")
    s.store("store", x_m=5, height_m=1.0, volume_l=200, tappings={"a": {"height_m": 1.2, "side": "left", "size": "22"}})
    s.add("boiler_stove", "stove", x_m=1, height_m=0)
    s.add("boiler_oil", "boiler", x_m=11, height_m=0, mirror=True)
    s.add("pump", "P1", x_m=8.0, height_m=4.0)
    s.add("room_thermostat", "TS1", x_m=9.0, height_m=5.0)
    return ScriptHost(s.done())


def port(room, part, name):
    return ports_of(room.sheet.parts[part], CATALOGUE)[name].at


@pytest.mark.parametrize(("x", "mirror"), [(1.5, True), (9.0, False)])
def test_a_new_radiator_turns_its_flow_to_the_store(room, x, mirror):
    tool = PlaceTool(room)
    tool.take("radiator")
    click(tool, (x, 3.0))
    (part,) = (p for p in room.sheet.parts.values() if p.kind == "radiator")
    assert part.mirror is mirror
    flow = ports_of(part, CATALOGUE)["flow"].at[0]
    assert abs(flow - 5.0) < abs(part.x_m - 5.0)
    key(tool, "m")  # and is turned away by hand
    tool.feed(event(room, "move", (x, 6.0)))
    assert room.overlay.ghosts[0].mirror is not mirror


def test_a_part_clicked_onto_a_port_is_piped_to_it(room):
    tool = PlaceTool(room)
    tool.take("drain_cock")
    spot = port(room, "P1", "a")
    tool.feed(event(room, "move", spot))
    assert "on this port" in room.said[-1] and room.preview is not None
    click(tool, spot)
    assert room.sheet.pipes[room.sheet.taken[End("P1", "a")]].other("P1") == End("DC1", "a")
    assert room.commits == ["Put a drain cock on a port"] and room.chosen == {"DC1"} and room.done == 1
    tool.take("drain_cock")
    click(tool, port(room, "P1", "b"), mods=("ctrl",))  # Ctrl sets it beside
    assert End("P1", "b") not in room.sheet.taken and "DC2" in room.sheet.parts


def test_a_part_clicked_onto_the_end_of_a_pipe_lies_in_it(room):
    pipe = PipeTool(room)
    click(pipe, port(room, "stove", "flow"))
    click(pipe, port(room, "store", "A"))
    tool = PlaceTool(room)
    tool.take("stop_valve")
    click(tool, port(room, "store", "A"))
    assert len(room.sheet.pipes_of("V1")) == 2 and "store" in {p.other("V1").part for p in room.sheet.pipes_of("V1")}


def test_a_part_clicked_onto_a_shell_gets_its_tapping(room):
    tool = PlaceTool(room)
    tool.take("air_vent_manual")
    click(tool, (5.1, 1.9))
    tapping = room.sheet.parts["store"].tappings[-1]
    assert (tapping.purpose, tapping.side, tapping.height_m) == ("air_vent", "right", 0.9)
    assert room.sheet.pipes_of("AV1")
    before = room.sheet
    tool.take("air_vent_manual")
    tool.feed(event(room, "move", (4.9, 2.2)))  # where a stub is already
    assert "too close" in room.said[-1]
    assert room.sheet is before


def test_a_row_hangs_on_the_pointer_together(room):
    tool = PlaceTool(room)
    tool.take("stop_valve")
    tool.more = (Part(id="", kind="check_valve", x_m=0.0, height_m=0.0),)
    tool.feed(event(room, "move", (2.0, 5.0)))
    assert [ghost.kind for ghost in room.overlay.ghosts] == ["stop_valve", "check_valve"]
    click(tool, (2.0, 5.0))
    assert room.commits == ["Place 2 parts"] and len(room.chosen) == 2


def test_level_runs_are_laid_to_rise_from_a_key_on(room):
    tool = PipeTool(room)
    assert tool.wants("g")
    key(tool, "g")
    assert "laid to rise" in room.said[-1]
    for a, b in ((port(room, "stove", "flow"), port(room, "store", "A")), ((4.9, 1.2), port(room, "stove", "return"))):
        click(tool, a)
        tool.feed(event(room, "move", b))
        assert "laid to rise" in room.overlay.words
        click(tool, b)
    up, down = room.sheet.pipes.values()
    for pipe in (up, down):
        ends = {end: port(room, end.part, end.port)[1] for end in (pipe.a, pipe.b)}
        assert ends[pipe.a if pipe.graded == "a" else pipe.b] == max(ends.values()), "towards the higher end"
    key(tool, "g")
    click(tool, port(room, "P1", "a"))
    click(tool, port(room, "boiler", "flow"))
    assert [p.graded for p in room.sheet.pipes.values()].count("") == 1


@pytest.mark.parametrize(
    ("name", "at", "purpose"),
    [("flow", (4.9, 2.0), "source_flow"), ("return", (4.9, 1.2), "source_return")],
)
def test_a_stub_serves_what_is_piped_to_it(room, name, at, purpose):
    tool = PipeTool(room)
    click(tool, port(room, "stove", name))
    click(tool, at)
    assert room.sheet.parts["store"].tappings[-1].purpose == purpose


def test_a_link_makes_its_pocket_where_the_vessel_is_clicked(room):
    tool = LinkTool(room)
    tool.feed(event(room, "move", (5.0, 1.8)))
    assert "new pocket, 0.80 m above the base" in room.overlay.words
    click(tool, (5.0, 1.8))
    assert not any(t.purpose == "sensor" for t in room.sheet.parts["store"].tappings), "not before there is a link"
    click(tool, (11.0, 0.4))
    pocket = next(t for t in room.sheet.parts["store"].tappings if t.purpose == "sensor")
    assert pocket.height_m == 0.8
    # the same sensor drives more, without being clicked again, and one undo step each
    click(tool, (8.0, 4.0))
    assert {link.target for link in room.sheet.links.values()} == {"boiler", "P1"}
    assert {link.sensor for link in room.sheet.links.values()} == {f"store/{pocket.letter}"}
    assert room.commits == ["Link a control"] * 2
    # near a pocket that pocket is meant, and another sensor begins anew
    click(tool, (5.0, 1.85))
    assert tool.sensor is not None and tool.sensor.place == f"store/{pocket.letter}"
    key(tool, "escape")
    click(tool, (9.0, 5.0))
    click(tool, (8.0, 4.0))
    assert len(room.sheet.links) == 3 and sum(t.purpose == "sensor" for t in room.sheet.parts["store"].tappings) == 1
    click(tool, (2.0, 6.0))
    assert room.done == 1 and room.chosen == frozenset(), "a click beside puts the tool down"


def test_a_link_let_go_leaves_no_pocket(room):
    before = room.sheet
    tool = LinkTool(room)
    click(tool, (5.0, 1.8))
    key(tool, "escape")
    assert room.sheet is before and tool.sensor is None and not tool.busy
