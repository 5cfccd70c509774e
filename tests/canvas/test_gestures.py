"""Gestures of the select tool beyond choosing and moving: guide lines, copies, corners, circuits, walking by keys."""

from __future__ import annotations

from itertools import pairwise
from math import dist

import pytest
from scripts import ScriptHost, click, drag, event, key

from barn import CATALOGUE
from loopwright.canvas.tools.base import Event, Hit
from loopwright.canvas.tools.place import PlaceTool
from loopwright.canvas.tools.select import SelectTool
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.ports import ports_of


@pytest.fixture
def host():
    return ScriptHost()


def line(host, pipe):
    return polyline(host.sheet, host.sheet.pipes[pipe], CATALOGUE)


def longest(host, pipe):
    """Number and middle of a pipe's longest run."""
    runs = list(pairwise(line(host, pipe)))
    k = max(range(len(runs)), key=lambda n: dist(*runs[n]))
    (x0, z0), (x1, z1) = runs[k]
    return k, ((x0 + x1) / 2, (z0 + z1) / 2)


def on_pipe(host, kind, pipe, run, at, to=None, mods=()):
    """An event on a pipe whose hit is given, so that nothing else can be in the way."""
    where = to or at
    return Event(
        kind, where, (where[0] * 100, -where[1] * 100), Hit("pipe", pipe, run=run, at=at), frozenset(mods), "left"
    )


def pull(host, tool, pipe, run, at, to, mods=()):
    """Press on a run, drag, let go."""
    tool.feed(on_pipe(host, "press", pipe, run, at, mods=mods))
    for share in (0.5, 1.0):
        there = (at[0] + (to[0] - at[0]) * share, at[1] + (to[1] - at[1]) * share)
        tool.feed(on_pipe(host, "move", pipe, run, at, there, mods))
    tool.feed(on_pipe(host, "release", pipe, run, at, to, mods))


def test_a_port_drawn_level_with_the_port_it_is_piped_to(host):
    """The radiator's pipe ends on a port whose height is off the snap; the drag finds it and shows the line."""
    sheet = host.sheet
    part = sheet.parts["bedroom"]
    pairs = [
        (ports_of(part, CATALOGUE)[mine.port].at, ports_of(sheet.parts[other.part], CATALOGUE)[other.port].at)
        for pipe in sheet.pipes_of("bedroom")
        for mine, other in ((pipe.a, pipe.b), (pipe.b, pipe.a))
        if mine.part == "bedroom"
    ]
    mine, other = pairs[0]
    exact = other[1] - mine[1] if abs(other[1] - mine[1]) > 1e-6 else 0.0
    tool = SelectTool(host)
    drag(tool, [(6.3, 3.3), (6.3, 3.3 + exact + 0.2), (6.3, 3.3 + exact + 0.04)], release=False)
    assert host.overlay.lines, "a line shows what the port is level with"
    tool.feed(event(host, "release", (6.3, 3.3 + exact + 0.04)))
    gaps = [
        abs(
            ports_of(host.sheet.parts[pipe.a.part], CATALOGUE)[pipe.a.port].at[1]
            - ports_of(host.sheet.parts[pipe.b.part], CATALOGUE)[pipe.b.port].at[1]
        )
        for pipe in host.sheet.pipes_of("bedroom")
    ]
    assert min(gaps) < 1e-6, "one of its pipes is level"


def test_ctrl_leaves_guides_and_snap(host):
    tool = SelectTool(host)
    drag(tool, [(6.3, 3.3), (6.317, 3.511)], mods=("ctrl",))
    part = host.sheet.parts["bedroom"]
    assert (part.x_m, part.height_m) == pytest.approx((6.317, 3.261)) and host.overlay.lines == ()


def test_alt_drags_a_copy(host):
    before = set(host.sheet.parts)
    tool = SelectTool(host)
    drag(tool, [(6.3, 3.3), (6.8, 4.3)], mods=("alt",))
    new = set(host.sheet.parts) - before
    assert len(new) == 1 and host.chosen == new and host.commits == ["Drag a copy"]
    assert host.sheet.parts["bedroom"].x_m == 6.3


def test_nudging_by_keys_in_three_steps(host):
    host.choose({"hall"})
    tool, start = SelectTool(host), host.sheet.parts["hall"]
    key(tool, "right")
    key(tool, "up", ("shift",))
    key(tool, "left", ("ctrl",))
    end = host.sheet.parts["hall"]
    assert (end.x_m - start.x_m, end.height_m - start.height_m) == pytest.approx((0.04, 0.5))
    for pipe in host.sheet.pipes_of("hall"):
        assert all(a[0] == pytest.approx(b[0]) or a[1] == pytest.approx(b[1]) for a, b in pairwise(line(host, pipe.id)))


def test_alt_and_a_run_pulls_a_piece_of_it_out(host):
    pipe = max(host.sheet.pipes, key=lambda p: dist(*max(pairwise(line(host, p)), key=lambda r: dist(*r))))
    run, middle = longest(host, pipe)
    before = line(host, pipe)
    pull(host, SelectTool(host), pipe, run, middle, (middle[0] + 0.3, middle[1] + 0.3), ("alt",))
    after = line(host, pipe)
    assert len(after) > len(before) and (after[0], after[-1]) == (before[0], before[-1])
    assert host.commits == ["Move a run"]


def test_a_corner_of_the_chosen_pipe_is_taken_hold_of(host):
    pipe = next(p for p in host.sheet.pipes if len(line(host, p)) >= 5)
    corners = line(host, pipe)
    host.choose({pipe})
    at = corners[2]
    pull(host, SelectTool(host), pipe, 2, at, (at[0] + 0.1, at[1] + 0.1))
    after = line(host, pipe)
    assert host.commits == ["Move a corner"] and (after[0], after[-1]) == (corners[0], corners[-1])
    assert after[2] != at


def test_a_second_click_on_a_pipe_and_ctrl_click_choose_its_circuit(host):
    tool = SelectTool(host)
    pipe = next(p.id for p in host.sheet.pipes_of("bedroom"))
    run, middle = longest(host, pipe)
    for kind in ("press", "release"):
        tool.feed(on_pipe(host, kind, pipe, run, middle))
    assert host.chosen == {pipe}
    for kind in ("press", "release"):
        tool.feed(on_pipe(host, kind, pipe, run, middle))
    whole = host.chosen
    assert {pipe, "bedroom"} < whole and "store" not in whole
    host.choose(())
    for kind in ("press", "release"):
        tool.feed(on_pipe(host, kind, pipe, run, middle, mods=("ctrl",)))
    assert host.chosen == whole and host.commits == []


def test_walking_along_the_water(host):
    host.choose({"stove"})
    tool = SelectTool(host)
    seen = ["stove"]
    for _ in range(6):
        key(tool, "right", ("alt",))
        seen.append(next(iter(host.chosen)))
    assert len(set(seen)) > 2 and host.commits == []
    neighbours = {p.other("stove").part for p in host.sheet.pipes_of("stove")}
    assert seen[1] in neighbours


def test_a_frame_then_a_group_moves_whole(host):
    tool = SelectTool(host)
    host.choose({"bedroom", "hall"})
    before = host.sheet
    drag(tool, [(6.3, 3.3), (6.8, 3.3)])
    moved = host.sheet.parts["hall"].x_m - before.parts["hall"].x_m
    assert moved == pytest.approx(host.sheet.parts["bedroom"].x_m - before.parts["bedroom"].x_m) and moved > 0.3
    click(tool, (0.2, 1.5))
    assert host.chosen == frozenset()


def test_a_new_part_comes_into_line_with_what_stands_there(host):
    """A radiator's ports are at the heights of its neighbour's, which are on no snap."""
    neighbour = host.sheet.parts["hall"]
    raised = edits.move(host.sheet, {"hall"}, 0.0, 0.017, CATALOGUE)
    host.sheet = raised
    height = raised.parts["hall"].height_m
    tool = PlaceTool(host)
    tool.take("radiator")
    at = (neighbour.x_m + 2.0, height + 0.004)
    tool.feed(event(host, "move", at))
    assert host.overlay.ghosts[0].height_m == pytest.approx(height) and host.overlay.lines
    click(tool, at)
    new = next(p for i, p in host.sheet.parts.items() if i not in raised.parts)
    assert new.height_m == pytest.approx(height)
