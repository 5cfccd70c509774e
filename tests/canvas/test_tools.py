"""Tools as scripts of events: what they commit, and that letting go leaves the sheet as it was."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

import pytest
from scripts import ScriptHost, click, drag, event, key

from barn import CATALOGUE, kiln_barn
from loopwright.canvas.tools.base import Event
from loopwright.canvas.tools.note import NoteTool
from loopwright.canvas.tools.pan import PanTool
from loopwright.canvas.tools.pipe import PipeTool
from loopwright.canvas.tools.place import PlaceTool
from loopwright.canvas.tools.select import SelectTool, duplicate_here
from loopwright.rules.mending.steps import cap
from loopwright.sheet.edits import place
from loopwright.sheet.geometry import polyline
from loopwright.sheet.plane import is_level, is_upright
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part, Sheet


def at_port(host, part, port):
    return ports_of(host.sheet.parts[part], CATALOGUE)[port].at


@pytest.fixture
def host():
    return ScriptHost()


@pytest.fixture
def room():
    """A stove and a radiator, not yet joined."""
    sheet = place(Sheet(), Part(id="stove", kind="boiler_stove", x_m=1.0, height_m=0.0))
    return ScriptHost(place(sheet, Part(id="R1", kind="radiator", x_m=4.0, height_m=2.5)))


def test_every_tool_can_be_taken_in_hand_and_stands_in_the_table_of_commands(host):
    from loopwright.window.actions import COMMANDS
    from loopwright.window.tools import TOOLS, make_tool

    assert {c.id for c in COMMANDS if c.group == "tool"} == set(TOOLS), "both tables name it"
    for name in TOOLS:
        assert make_tool(name, host).name == name, f"the class of canvas/tools/{name}.py says another name"


def test_tools_need_no_window():
    code = (
        "import sys, loopwright.canvas.tools.select, loopwright.canvas.tools.pipe, loopwright.canvas.tools.place,"
        "loopwright.canvas.tools.pan, loopwright.canvas.tools.note;"
        "sys.exit(any(m.startswith(('PySide6', 'shiboken6')) for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# ---- select


def test_a_click_chooses_and_shift_adds(host):
    tool = SelectTool(host)
    click(tool, (0.9, 0.4))
    assert host.chosen == {"stove"}
    click(tool, (6.3, 0.4), mods=("shift",))
    assert host.chosen == {"stove", "hall"}
    click(tool, (0.2, 1.5))
    assert host.chosen == frozenset() and host.commits == []


def test_a_drag_moves_by_the_snap_in_one_step(host):
    tool = SelectTool(host)
    drag(tool, [(6.3, 3.3), (6.42, 3.395)])
    part = host.sheet.parts["bedroom"]
    assert (part.x_m, part.height_m) == (6.4, 3.15)  # from 6.30, 3.05; a tenth each way on the 0.05 m snap
    assert host.commits == ["Move bedroom"]


def test_out_and_back_changes_nothing(host):
    before = host.sheet
    drag(SelectTool(host), [(6.3, 3.3), (7.3, 4.3), (6.3, 3.3)])
    assert dict(host.sheet.parts) == dict(before.parts) and dict(host.sheet.pipes) == dict(before.pipes)


def test_shift_keeps_a_drag_level(host):
    drag(SelectTool(host), [(6.3, 3.3), (6.5, 3.36)], mods=("shift",))
    assert host.sheet.parts["bedroom"].height_m == 3.05


def test_pipes_stay_on_their_ports(host):
    drag(SelectTool(host), [(6.3, 3.3), (6.7, 3.5)])
    for pipe in host.sheet.pipes.values():
        line = polyline(host.sheet, pipe, CATALOGUE)
        # corners are whole millimetres, ports are not always
        assert all(min(abs(a[0] - b[0]), abs(a[1] - b[1])) < 0.001 for a, b in pairwise(line))


def test_a_stub_of_a_chosen_store_is_dragged_by_centimetres(host):
    host.choose({"store"})
    tool = SelectTool(host)
    x, z = at_port(host, "store", "J")
    drag(tool, [(x, z), (x + 0.01, z + 0.083)])
    assert host.sheet.parts["store"].tapping("J").height_m == pytest.approx(0.82)
    assert host.commits == ["Move a tapping"]


def test_a_stub_too_near_its_neighbour_is_refused_in_words(host):
    host.choose({"store"})
    x, z = at_port(host, "store", "G")
    before = host.sheet.parts["store"].tapping("G").height_m
    drag(SelectTool(host), [(x, z), (x, z - 0.2)])
    assert host.sheet.parts["store"].tapping("G").height_m != pytest.approx(before - 0.2)
    assert any("G" in words or "H" in words for words in host.said)


def test_an_inner_run_is_dragged_and_held(host):
    pipe = next(p for p in host.sheet.pipes.values() if p.b == End("boiler", "return") or p.a == End("stove", "flow"))
    assert pipe.a == End("stove", "flow")
    drag(SelectTool(host), [(1.35, 1.5), (1.5, 1.5)])
    # its riser goes from the stove's flow up to a tee, so it belongs to a port at its end: it gets a jog there
    before, after = (polyline(sheet, sheet.pipes[pipe.id], CATALOGUE) for sheet in (kiln_barn()[0], host.sheet))
    assert host.commits == ["Move a run"] and (after[0], after[-1]) == (before[0], before[-1])
    assert len(after) > len(before) and any(x == 1.5 for x, _ in after) and host.sheet.pipes[pipe.id].held


def test_arrows_delete_and_enter(host):
    host.choose({"hall"})
    tool = SelectTool(host)
    key(tool, "right")
    key(tool, "up", ("shift",))
    assert (host.sheet.parts["hall"].x_m, host.sheet.parts["hall"].height_m) == (6.35, 0.7)
    key(tool, "enter")
    assert host.openings == ["hall"]
    key(tool, "delete")
    assert "hall" not in host.sheet.parts and host.commits[-1] == "Delete"


def test_duplicate_chooses_the_copies(host):
    host.choose({"hall"})
    duplicate_here(host)
    assert len(host.chosen) == 1 and host.chosen != {"hall"} and host.chosen <= set(host.sheet.parts)


# ---- pipe


def test_port_to_port(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    click(tool, at_port(room, "R1", "flow"))
    (pipe,) = room.sheet.pipes.values()
    assert {pipe.a, pipe.b} == {End("stove", "flow"), End("R1", "flow")}
    assert room.commits == ["Draw a pipe"] and pipe.held == ()


def test_a_pipe_drawn_to_a_capped_port_or_to_its_cap_takes_the_cap_off(room):
    sheet = place(room.sheet, Part(id="T", kind="tee", x_m=3.0, height_m=1.0))
    room.sheet = cap(sheet, End("T", "branch"), CATALOGUE)
    (lid,) = set(room.sheet.parts) - set(sheet.parts)
    for at in (at_port(room, "T", "branch"), (room.sheet.parts[lid].x_m, room.sheet.parts[lid].height_m)):
        tool, before = PipeTool(room), room.sheet
        click(tool, at_port(room, "stove", "flow"))
        click(tool, at)
        (pipe,) = room.sheet.pipes.values()
        assert {pipe.a, pipe.b} == {End("stove", "flow"), End("T", "branch")} and lid not in room.sheet.parts
        room.sheet = before


def test_corners_are_kept_and_held(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "return"))
    click(tool, (2.5, 1.2))
    click(tool, (2.5, 2.0))
    click(tool, at_port(room, "R1", "return"))
    (pipe,) = room.sheet.pipes.values()
    line = polyline(room.sheet, pipe, CATALOGUE)
    assert any(a[0] == b[0] == 2.5 for a, b in pairwise(line))
    assert all(is_level(a, b) or is_upright(a, b) for a, b in pairwise(line))
    assert pipe.held


def test_ending_on_a_pipe_makes_a_tee(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    click(tool, at_port(room, "R1", "flow"))
    room.sheet = place(room.sheet, Part(id="vent", kind="air_vent_auto", x_m=2.0, height_m=4.0))
    line = polyline(room.sheet, next(iter(room.sheet.pipes.values())), CATALOGUE)
    spot = ((line[-2][0] + line[-1][0]) / 2, (line[-2][1] + line[-1][1]) / 2)
    click(tool, at_port(room, "vent", "a"))
    click(tool, spot)
    tees = [p for p in room.sheet.parts.values() if p.kind == "tee"]
    assert len(tees) == 1 and len(room.sheet.pipes_of(tees[0].id)) == 3
    assert room.commits[-1] == "Draw a pipe with a tee"


def test_starting_from_a_pipe_makes_a_tee_too(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    click(tool, at_port(room, "R1", "flow"))
    room.sheet = place(room.sheet, Part(id="vent", kind="air_vent_auto", x_m=2.0, height_m=4.0))
    line = polyline(room.sheet, next(iter(room.sheet.pipes.values())), CATALOGUE)
    spot = ((line[-2][0] + line[-1][0]) / 2, (line[-2][1] + line[-1][1]) / 2)
    click(tool, spot)
    click(tool, at_port(room, "vent", "a"))
    assert len([p for p in room.sheet.parts.values() if p.kind == "tee"]) == 1 and len(room.sheet.pipes) == 3


def test_backspace_takes_back_a_corner_then_the_pipe(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    click(tool, (2.5, 1.2))
    count = len(tool.corners)
    key(tool, "backspace")
    assert len(tool.corners) == count - 1
    while tool.start is not None:
        key(tool, "backspace")
    assert room.commits == [] and not room.sheet.pipes


def test_enter_twice_ends_open(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    tool.feed(event(room, "move", (2.5, 1.2)))
    key(tool, "enter")
    assert tool.corners
    key(tool, "enter")
    (pipe,) = room.sheet.pipes.values()
    assert room.sheet.parts[pipe.b.part].kind == "open_end"


def test_a_falling_gravity_flow_shows_while_it_is_drawn(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))  # 0.85 of a stove 0.80 m high: 0.68 m
    tool.feed(event(room, "move", (2.5, 1.2)))
    assert room.overlay.lines[0].token == "accent"
    tool.feed(event(room, "move", (2.5, 0.4)))
    assert room.overlay.lines[0].token == "fault" and "falls 280 mm" in room.said[-1]


def test_a_pipe_by_keys_alone(room):
    """WCAG 2.1 success criterion 2.1.1: all that a pointer does can be done by keys."""
    tool = PipeTool(room)
    key(tool, "tab")  # ports by x, then height: the stove's return at 0.20 m comes first
    assert "Return of Boiler stove" in room.said[-1]
    key(tool, "enter")
    assert tool.start is not None and tool.start.end == End("stove", "return")
    for _ in range(2):
        key(tool, "right", ("shift",))
    key(tool, "enter")
    assert tool.corners
    key(tool, "up", ("shift",))
    while not (tool._hit and tool._hit.id == "R1" and tool._hit.port == "return"):
        key(tool, "tab")
    key(tool, "enter")
    (pipe,) = room.sheet.pipes.values()
    assert {pipe.a, pipe.b} == {End("stove", "return"), End("R1", "return")}


def test_tab_walks_the_parts_and_then_lets_go(room):
    tool = SelectTool(room)
    seen = []
    while tool.wants("tab"):
        key(tool, "tab")
        seen.append(next(iter(room.chosen)))
    assert seen == ["stove", "R1"]  # WCAG 2.1 success criterion 2.1.2: no trap
    key(tool, "backtab")
    assert room.chosen == {"stove"}


def test_a_taken_port_is_refused_in_words(room):
    tool = PipeTool(room)
    click(tool, at_port(room, "stove", "flow"))
    click(tool, at_port(room, "R1", "flow"))
    click(tool, at_port(room, "R1", "return"))
    click(tool, at_port(room, "R1", "flow"))
    assert len(room.sheet.pipes) == 1 and any("already ends" in words for words in room.said)


# ---- place, pan, note


def test_place_on_paper_and_in_a_pipe(room):
    pipes = PipeTool(room)
    click(pipes, at_port(room, "stove", "flow"))
    click(pipes, at_port(room, "R1", "flow"))
    tool = PlaceTool(room)
    tool.take("isolating_valve")
    line = polyline(room.sheet, next(iter(room.sheet.pipes.values())), CATALOGUE)
    a, b = max(pairwise(line), key=lambda r: abs(r[0][0] - r[1][0]) + abs(r[0][1] - r[1][1]))
    click(tool, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
    assert room.commits[-1] == "Put an isolating valve in a pipe" and len(room.sheet.pipes) == 2
    tool.take("pump")
    click(tool, (6.02, 0.98))
    pump = room.sheet.parts["P1"]
    assert (pump.x_m, pump.height_m) == (6.0, 1.0) and room.chosen == {"P1"} and room.done == 2


def test_shift_keeps_the_tool_and_r_turns(room):
    tool = PlaceTool(room)
    tool.take("pump")
    key(tool, "r")
    click(tool, (6.0, 1.0), mods=("shift",))
    click(tool, (6.0, 2.0), mods=("shift",))
    assert [p.turn for p in room.sheet.parts.values() if p.kind == "pump"] == [1, 1] and room.done == 0


def test_pan_moves_with_the_pointer(room):
    drag(PanTool(room), [(1.0, 1.0), (1.5, 1.0)])
    assert room.panned == pytest.approx((25.0, 0.0))


def test_a_note(room):
    click(NoteTool(room), (6.0, 4.0))
    assert [(n.x_m, n.height_m) for n in room.sheet.notes] == [(6.0, 4.0)] and room.openings == [room.sheet.notes[0].id]


# ---- letting go

GESTURES = {
    "select, pressed": (SelectTool, lambda t: t.feed(event(t.host, "press", (6.3, 3.3)))),
    "select, moving": (SelectTool, lambda t: drag(t, [(6.3, 3.3), (7.0, 3.6)], release=False)),
    "select, framing": (SelectTool, lambda t: drag(t, [(0.2, 1.5), (2.0, 2.0)], release=False)),
    "pipe, started": (PipeTool, lambda t: click(t, at_port(t.host, "bedroom", "vent"))),
    "pipe, cornered": (
        PipeTool,
        lambda t: (click(t, at_port(t.host, "bedroom", "vent")), click(t, (7.5, 4.6))),
    ),
    "place, hanging": (PlaceTool, lambda t: (t.take("pump"), t.feed(event(t.host, "move", (2.0, 1.0))))),
    "pan, held": (PanTool, lambda t: t.feed(event(t.host, "press", (2.0, 1.0)))),
}
ENDINGS = {
    "Esc": lambda t: key(t, "escape"),
    "focus lost": lambda t: t.lost_focus(),
    "right click": lambda t: t.feed(event(t.host, "press", (2.0, 1.0), button="right")),
    "another tool": lambda t: t.abandon(),
    "undo by key": lambda t: (t.host.__setattr__("sheet", Sheet()), t.feed(Event("move", (2.0, 1.0)))),
}


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("gesture", GESTURES)
def test_letting_go_leaves_the_sheet(gesture, ending):
    host = ScriptHost()
    before = host.sheet
    make, begin = GESTURES[gesture]
    tool = make(host)
    begin(tool)
    ENDINGS[ending](tool)
    tool.feed(event(host, "release", (2.0, 1.0)))
    assert host.commits == []
    assert host.sheet is before or ending == "undo by key"
    assert not tool.busy
    assert host.preview is None
