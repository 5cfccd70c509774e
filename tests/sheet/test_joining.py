"""Connecting, putting fittings in line and taking them out again."""

from __future__ import annotations

from itertools import pairwise

import pytest

from loopwright.errors import SheetError
from loopwright.sheet import edits, geometry
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part


def line_of(sheet, pipe_id, catalogue):
    return geometry.polyline(sheet, sheet.pipes[pipe_id], catalogue)


def valve(**more) -> Part:
    return Part(id="V1", kind="test_valve", x_m=0, height_m=0, **more)


def test_a_routed_pipe_joins_its_ports_at_right_angles(sheet, catalogue):
    line = line_of(sheet, "down", catalogue)
    assert line[0] == pytest.approx((3.72, 0.4))
    assert line[-1] == pytest.approx((1.31, 0.2))
    assert all(a[0] == pytest.approx(b[0]) or a[1] == pytest.approx(b[1]) for a, b in pairwise(line))


def test_refusals(sheet, catalogue):
    cases = [
        (End("stove", "flow"), End("store", "C"), "already holds up"),
        (End("stove", "chimney"), End("store", "C"), "no port “chimney”"),
        (End("store", "D"), End("store", "C"), "sensor pocket"),
        (End("store", "C"), End("store", "C"), "begin and end"),
        (End("ghost", "a"), End("store", "C"), "no part “ghost”"),
    ]
    for a, b, words in cases:
        with pytest.raises(SheetError, match=words):
            edits.connect(sheet, a, b, catalogue)


def test_size_comes_from_the_boss_or_the_pipe_beyond(sheet, catalogue):
    # bore 26.2 mm is 28 x 0.9 copper: EN 1057
    assert sheet.pipes["up"].size == "28"
    placed = edits.place(sheet, Part(id="V1", kind="test_valve", x_m=6.0, height_m=0.9))
    placed = edits.connect(placed, End("store", "C"), End("V1", "a"), catalogue)
    assert placed.pipes["pipe3"].size == "22"  # tapping C
    thin = edits.set_pipe(placed, "pipe3", size="15 mm")
    thin = edits.place(thin, Part(id="V2", kind="test_valve", x_m=7.0, height_m=0.9))
    thin = edits.connect(thin, End("V1", "b"), End("V2", "a"), catalogue)
    assert thin.pipes["pipe4"].size == "15"


def test_pipe_values_are_checked(sheet):
    assert edits.set_pipe(sheet, "up", size="28 x 1.5").pipes["up"].size == "28x1.5"
    assert edits.set_pipe(sheet, "up", size=22).pipes["up"].size == "22"
    for changes, words in [
        ({"size": "23"}, "not listed"),
        ({"material": "wood"}, "no pipe material"),
        ({"material": "pex"}, "Give a size with it"),
        ({"extra_length_m": -1.0}, "0 to 200 m"),
        ({"insulation_mm": 4000.0}, "0 to 300 mm"),
        ({"held": (7,)}, "not there"),
        ({"graded": "c"}, "cannot take that value"),
        ({"extra_bends": "two"}, "cannot take that value"),
        ({"colour": "red"}, "no “colour”"),
        ({"a": End("store", "C")}, "not properties"),
    ]:
        with pytest.raises(SheetError, match=words):
            edits.set_pipe(sheet, "up", **changes)


@pytest.mark.parametrize(("at", "side"), [((3.0, 1.6), "right"), ((2.1, 1.0), "up")])
def test_a_fitting_lies_in_line_and_faces_along_the_pipe(sheet, catalogue, at, side):
    new = edits.insert_in_pipe(sheet, "up", valve(turn=2), at, catalogue)
    ports = ports_of(new.parts["V1"], catalogue)
    assert ports["b"].side == side
    assert new.taken[End("V1", "a")] == "up"
    second = new.pipes[new.taken[End("V1", "b")]]
    assert second.b == End("store", "A")
    assert list(new.pipes) == ["up", second.id, "down"]
    one, two = line_of(new, "up", catalogue), line_of(new, second.id, catalogue)
    assert one[-1] == ports["a"].at
    assert two[0] == ports["b"].at
    was = geometry.drawn_length_m(line_of(sheet, "up", catalogue))
    assert geometry.drawn_length_m(one) + geometry.drawn_length_m(two) == pytest.approx(was - 0.24)


def test_taking_the_fitting_out_heals_the_pipe_exactly(sheet, catalogue):
    marked = edits.set_pipe(sheet, "up", extra_length_m=1.5, extra_bends=2, graded="b", held=(1,))
    new = edits.insert_in_pipe(marked, "up", valve(), (2.0, 1.0), catalogue)
    assert sum(p.extra_length_m for p in new.pipes.values()) == 1.5
    assert edits.delete(new, {"V1"}, catalogue) == marked


def test_two_fittings_taken_out_at_once_heal_too(sheet, catalogue):
    new = edits.insert_in_pipe(sheet, "up", valve(), (2.6, 1.5), catalogue)
    second = new.taken[End("V1", "b")]
    new = edits.insert_in_pipe(new, second, Part(id="V2", kind="test_valve", x_m=0, height_m=0), (3.3, 1.5), catalogue)
    assert edits.delete(new, {"V1", "V2"}, catalogue) == sheet


def test_pipes_written_towards_the_fitting_from_both_sides_heal(sheet, catalogue):
    from loopwright.sheet.pipework import backwards

    new = edits.insert_in_pipe(sheet, "up", valve(), (3.0, 1.5), catalogue)
    second = new.pipes[new.taken[End("V1", "b")]]
    from loopwright.sheet.change import with_pipe

    turned = with_pipe(new, backwards(second))
    assert edits.delete(turned, {"V1"}, catalogue) == sheet


def test_different_sizes_do_not_heal(sheet, catalogue):
    new = edits.insert_in_pipe(sheet, "up", valve(), (3.0, 1.5), catalogue)
    new = edits.set_pipe(new, new.taken[End("V1", "b")], size="22")
    assert set(edits.delete(new, {"V1"}, catalogue).pipes) == {"down"}


def test_a_pipe_back_to_the_fitting_itself_goes_with_it(sheet, catalogue):
    new, branch = edits.tee_into(sheet, "up", (3.0, 1.5), catalogue)
    right = next(e for e in new.taken if e.part == branch.part and new.pipes[new.taken[e]].b == End("store", "A"))
    new = edits.delete(new, {new.taken[right]}, catalogue)
    new = edits.connect(new, branch, right, catalogue)
    assert set(edits.delete(new, {branch.part}, catalogue).pipes) == {"down"}


def test_a_fitting_needs_room(sheet, catalogue):
    short = edits.move(sheet, {"stove"}, 0.55, 0.0, catalogue)  # leaves 0.14 m before the riser
    with pytest.raises(SheetError, match=r"needs 0\.28 m"):
        edits.insert_in_pipe(short, "up", valve(), (1.95, 0.68), catalogue)
    at_end = edits.insert_in_pipe(sheet, "up", valve(), (1.31, 0.68), catalogue)  # slides off the port
    assert at_end.parts["V1"].x_m == pytest.approx(1.31 + 0.14, abs=0.001)
    with pytest.raises(SheetError, match="does not lie in a pipe"):
        edits.insert_in_pipe(sheet, "up", Part(id="p", kind="test_plug", x_m=0, height_m=0), (2, 1), catalogue)


@pytest.mark.parametrize(
    ("at", "towards", "side"),
    [
        ((3.0, 1.5), None, "up"),
        ((3.0, 1.3), None, "down"),
        ((2.0, 1.0), None, "right"),
        ((1.8, 1.0), None, "left"),
        ((3.0, 1.6), "down", "down"),
        ((2.0, 1.0), (0.0, 1.0), "left"),
    ],
)
def test_a_tee_faces_where_the_branch_will_go(sheet, catalogue, at, towards, side):
    new, end = edits.tee_into(sheet, "up", at, catalogue, towards=towards)
    tee = new.parts[end.part]
    assert ports_of(tee, catalogue)[end.port].side == side
    assert end not in new.taken
    branched = edits.connect(new, end, End("store", "C"), catalogue)
    assert branched.pipes[branched.taken[end]].size == "28"
    assert edits.delete(branched, {end.part}, catalogue) == sheet


def test_joints_hold_parts_together(sheet, catalogue):
    with pytest.raises(SheetError, match="do not meet"):
        far = edits.place(sheet, Part(id="plug", kind="test_plug", x_m=9, height_m=1))
        edits.connect(far, End("store", "C"), End("plug", "a"), catalogue, joint=True)
    near = edits.place(sheet, Part(id="plug", kind="test_plug", x_m=4.4, height_m=0.9))
    near = edits.connect(near, End("store", "C"), End("plug", "a"), catalogue, joint=True)
    joint = near.pipes[near.taken[End("plug", "a")]]
    assert geometry.developed_length_m(near, joint, catalogue) == 0.0
    moved = edits.move(near, {"plug"}, 0.3, 0.0, catalogue)
    assert moved.parts["store"].x_m == pytest.approx(4.3)
    with pytest.raises(SheetError, match="come apart"):
        edits.turn(near, {"plug"}, catalogue)
