"""Pipes drawn with typed lengths, to shells, from bodies, and what is said of them on the way; fittings on branches."""

from __future__ import annotations

from itertools import pairwise

import pytest
from scripts import ScriptHost, click, event, key

from barn import CATALOGUE
from loopwright import draw
from loopwright.canvas.tools.pipe import PipeTool
from loopwright.canvas.tools.piping import dip_of
from loopwright.canvas.tools.place import PlaceTool
from loopwright.sheet.geometry import polyline
from loopwright.sheet.ports import ports_of


@pytest.fixture
def room():
    s = draw.sheet("Room")
    s.store("store", x_m=5, height_m=1.0, volume_l=200, tappings={"a": {"height_m": 1.2, "side": "left", "size": "22"}})
    s.add("boiler_stove", "stove", x_m=1, height_m=0)
    s.add("radiator", "rad", x_m=8.5, height_m=0.1)
    s.add("pump", "P1", x_m=2.0, height_m=4.0)
    return ScriptHost(s.done())


def port(room, part, name):
    return ports_of(room.sheet.parts[part], CATALOGUE)[name].at


def line(room, pipe):
    return polyline(room.sheet, room.sheet.pipes[pipe], CATALOGUE)


def typed(tool, text):
    for sign in text:
        key(tool, sign)


def square(points):
    return all(abs(a[0] - b[0]) < 1e-6 or abs(a[1] - b[1]) < 1e-6 for a, b in pairwise(points))


def test_lengths_and_heights_are_typed(room):
    tool = PipeTool(room)
    start = port(room, "P1", "b")
    click(tool, start)
    assert tool.wants("1") and tool.wants("=")
    tool.feed(event(room, "move", (start[0] + 0.4, start[1] + 0.1)))
    typed(tool, "1.25")
    assert "1.25 m right" in room.overlay.words
    key(tool, "enter")
    typed(tool, "=2.6")
    assert "height 2.6" in room.overlay.words
    key(tool, "enter")
    tool.feed(event(room, "move", (start[0] + 3.0, 2.6)))
    typed(tool, "9")
    key(tool, "backspace")
    typed(tool, "0,5")
    key(tool, "enter")
    key(tool, "enter")  # once more at the corner: ends open there
    (pipe,) = room.sheet.pipes
    (x, z), found = start, line(room, pipe)
    for at, wanted in zip(found, [(x, z), (x + 1.25, z), (x + 1.25, 2.6), (x + 1.75, 2.6)], strict=True):
        assert at == pytest.approx(wanted)


def test_what_is_no_length_is_said(room):
    tool = PipeTool(room)
    click(tool, port(room, "P1", "b"))
    typed(tool, "1.2.3")
    key(tool, "enter")
    assert "no length" in room.said[-1] and tool.typed == "" and tool.corners == []
    assert not PipeTool(room).wants("1"), "figures are left alone while no pipe is under way"


def test_a_pipe_ends_on_a_shell_with_a_new_tapping_of_its_size(room):
    tool = PipeTool(room)
    click(tool, port(room, "rad", "flow"))
    right = room.sheet.parts["store"].x_m + 0.1
    tool.feed(event(room, "move", (right, 1.7)))
    assert "new tapping, 0.70 m above the base" in room.overlay.words
    click(tool, (right, 1.7))
    (pipe,) = room.sheet.pipes.values()
    tapping = room.sheet.parts["store"].tappings[-1]
    assert (tapping.height_m, tapping.side, tapping.size) == (0.7, "right", pipe.size)
    assert "B" in (pipe.a.port, pipe.b.port) and square(line(room, pipe.id))
    assert room.commits == ["Draw a pipe and a tapping"]


def test_a_pipe_begins_on_a_shell(room):
    tool = PipeTool(room)
    click(tool, (room.sheet.parts["store"].x_m - 0.1, 1.4))
    click(tool, port(room, "stove", "flow"))
    assert len(room.sheet.parts["store"].tappings) == 2 and len(room.sheet.pipes) == 1


def test_a_tapping_too_near_to_another_is_refused_in_words(room):
    tool = PipeTool(room)
    click(tool, port(room, "stove", "flow"))
    click(tool, (room.sheet.parts["store"].x_m - 0.1, 2.21))
    assert not room.sheet.pipes and len(room.sheet.parts["store"].tappings) == 1
    assert any("mm" in words or "near" in words for words in room.said)


def test_the_body_of_a_part_stands_for_its_nearest_free_port(room):
    tool = PipeTool(room)
    x, z = port(room, "rad", "return")
    part = room.sheet.parts["rad"]
    click(tool, ((x + part.x_m) / 2, z + 0.02))
    assert tool.start is not None and tool.start.end is not None and tool.start.end.port == "return"


def test_a_pipe_that_dips_says_by_how_much_while_it_is_drawn(room):
    assert dip_of(((0.0, 2.0), (1.0, 2.0), (1.0, 1.7), (2.0, 1.7), (2.0, 2.5))) == pytest.approx(0.3)
    assert dip_of(((0.0, 2.0), (1.0, 2.0), (1.0, 1.7))) == 0.0
    tool = PipeTool(room)
    start = port(room, "P1", "b")
    click(tool, start)
    click(tool, (start[0] + 0.3, start[1] - 0.4))
    tool.feed(event(room, "move", (start[0] + 1.0, start[1] + 0.5)))
    assert "Dips 400 mm" in room.overlay.words


def test_a_relief_valve_dropped_on_a_pipe_stands_on_a_branch(room):
    tool = PipeTool(room)
    click(tool, port(room, "stove", "flow"))
    click(tool, port(room, "store", "A"))
    (pipe,) = room.sheet.pipes
    runs = [r for r in pairwise(line(room, pipe)) if r[0][1] == r[1][1]]
    a, b = max(runs, key=lambda r: abs(r[0][0] - r[1][0]))
    place = PlaceTool(room)
    place.take("relief_valve")
    place.feed(event(room, "move", ((a[0] + b[0]) / 2, a[1])))
    assert room.preview is not None and "branch" in room.said[-1]
    click(place, ((a[0] + b[0]) / 2, a[1]))
    valve = next(p for p in room.sheet.parts.values() if p.kind == "relief_valve")
    assert len(room.sheet.pipes_of(valve.id)) == 1 and room.commits[-1] == "Put a relief valve on a pipe"
