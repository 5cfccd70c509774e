"""Edits of parts: what moves, what stays, what is refused, and that the given sheet is never touched."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loopwright.errors import SheetError
from loopwright.sheet import edits, geometry
from loopwright.sheet.plane import TINY_M
from loopwright.sheet.values import ControlLink, End, Level, Note, Part


def right_angled(points) -> bool:
    return all(abs(a[0] - b[0]) <= TINY_M or abs(a[1] - b[1]) <= TINY_M for a, b in itertools.pairwise(points))


def lines(sheet, catalogue):
    return {key: geometry.polyline(sheet, pipe, catalogue) for key, pipe in sheet.pipes.items()}


def test_ids_follow_the_kind(sheet, catalogue):
    assert edits.new_id(sheet, catalogue["tee"]) == "T1"
    assert edits.new_id(sheet, catalogue["boiler_stove"]) == "stove2"
    with pytest.raises(SheetError, match="already a “stove”"):
        edits.place(sheet, Part(id="stove", kind="tee", x_m=0, height_m=0))
    with pytest.raises(SheetError, match="slash"):
        edits.place(sheet, Part(id="a/b", kind="tee", x_m=0, height_m=0))


def test_moving_everything_moves_pipes_whole(sheet, catalogue):
    moved = edits.move(sheet, {"stove", "store"}, 1.5, 2.0, catalogue)
    for key, line in lines(sheet, catalogue).items():
        want = [(x + 1.5, z + 2.0) for x, z in line]
        assert lines(moved, catalogue)[key] == tuple(pytest.approx(p) for p in want)


def test_a_stretched_pipe_keeps_its_ports_and_free_heights(sheet, catalogue):
    moved = edits.move(sheet, {"store"}, 0.0, 0.2, catalogue)
    line = lines(moved, catalogue)["up"]
    assert line[-1] == pytest.approx((3.72, 1.7))
    assert line[0] == pytest.approx((1.31, 0.68))
    assert right_angled(line)
    assert lines(sheet, catalogue)["up"][-1] == pytest.approx((3.72, 1.5))  # the first sheet is as it was


def test_untouched_records_are_shared(sheet, catalogue):
    moved = edits.move(sheet, {"store"}, 0.5, 0.0, catalogue)
    assert moved.parts["stove"] is sheet.parts["stove"]
    assert list(moved.parts) == list(sheet.parts)
    assert list(moved.pipes) == list(sheet.pipes)


def test_moving_behind_the_stove_leads_the_pipe_anew(sheet, catalogue):
    moved = edits.move(sheet, {"store"}, -6.0, 0.0, catalogue)
    line = lines(moved, catalogue)["up"]
    assert line[0] == pytest.approx((1.31, 0.68))
    assert line[-1] == pytest.approx((-2.28, 1.5))
    assert right_angled(line)


def test_held_runs_stay_when_the_rest_is_led_anew(sheet, catalogue):
    held = edits.connect(
        edits.delete(sheet, {"up"}, catalogue), End("stove", "flow"), End("store", "A"), catalogue,
        points=[(2.0, 0.68), (2.0, 2.4), (3.0, 2.4), (3.0, 1.5)], held=[1, 2], pipe_id="up",
    )  # fmt: skip
    moved = edits.move(held, {"stove"}, 1.5, 0.0, catalogue)  # the stove now stands under the held riser
    line = lines(moved, catalogue)["up"]
    assert right_angled(line)
    kept = [(line[k], line[k + 1]) for k in moved.pipes["up"].held]
    assert any(a[0] == b[0] == 2.0 for a, b in kept)
    assert any(a[1] == b[1] == 2.4 for a, b in kept)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(-300, 300), st.integers(-100, 200))
def test_any_move_leaves_right_angled_pipes_on_their_ports(sheet, catalogue, dx_cm, dz_cm):
    moved = edits.move(sheet, {"store"}, dx_cm / 100, dz_cm / 100, catalogue)
    for line in lines(moved, catalogue).values():
        assert right_angled(line)
    assert set(moved.pipes) == set(sheet.pipes)


def test_moving_by_nothing_is_the_same_sheet(sheet, catalogue):
    assert edits.move(sheet, {"store"}, 0.0, 0.0, catalogue) == sheet


def test_notes_move_with_parts(sheet, catalogue):
    noted = edits.put_note(sheet, Note(id="n", x_m=1.0, height_m=2.0, text="Hot"))
    moved = edits.move(noted, {"n", "store"}, 0.5, 0.0, catalogue)
    assert moved.notes[0].x_m == pytest.approx(1.5)


def test_locked_parts_stay(sheet, catalogue):
    locked = edits.set_part(sheet, "stove", locked=True)
    for edit in (
        lambda: edits.move(locked, {"stove"}, 1, 0, catalogue),
        lambda: edits.delete(locked, {"stove"}, catalogue),
        lambda: edits.set_property(locked, "stove", "power_kw", 9, catalogue),
        lambda: edits.rename(locked, "stove", "fire"),
    ):
        with pytest.raises(SheetError, match="locked"):
            edit()
    assert not edits.set_part(locked, "stove", locked=False).parts["stove"].locked


def test_turning(sheet, catalogue):
    with_tee = edits.place(sheet, Part(id="T1", kind="tee", x_m=6.0, height_m=1.0))
    turned = edits.turn(with_tee, {"T1"}, catalogue)
    assert turned.parts["T1"].turn == 1
    assert edits.turn(turned, {"T1"}, catalogue, quarters=3).parts["T1"] == with_tee.parts["T1"]
    with pytest.raises(SheetError, match="stands upright"):
        edits.turn(sheet, {"store"}, catalogue)


@pytest.mark.parametrize("turns", range(4))
def test_mirroring_is_left_to_right_as_seen(sheet, catalogue, turns):
    from loopwright.sheet.ports import ports_of

    placed = edits.place(sheet, Part(id="T1", kind="tee", x_m=6.0, height_m=1.0, turn=turns))
    mirrored = edits.mirror(placed, {"T1"}, catalogue)
    before = sorted(p.at for p in ports_of(placed.parts["T1"], catalogue).values())
    after = sorted((round(12.0 - p.at[0], 6), p.at[1]) for p in ports_of(mirrored.parts["T1"], catalogue).values())
    assert before == after
    assert edits.mirror(mirrored, {"T1"}, catalogue).parts["T1"] == placed.parts["T1"]


def test_mirroring_a_vessel_takes_its_pipes_along(sheet, catalogue):
    line = lines(edits.mirror(sheet, {"store"}, catalogue), catalogue)["up"]
    assert line[-1] == pytest.approx((4.28, 1.5))
    assert right_angled(line)


def test_properties_are_checked_in_words(sheet, catalogue):
    assert edits.set_property(sheet, "stove", "power_kw", 12, catalogue).parts["stove"].props["power_kw"] == 12
    cases = [
        ("stove", "power_kw", 900.0, "at most 500 kW"),
        ("stove", "power_kw", float("nan"), "that can be built"),
        ("stove", "power_kw", "much", "Give a number"),
        ("stove", "power_kw", True, "Give a number"),
        ("stove", "colour", "red", "no property “colour”"),
        ("store", "vented", 1, "yes or no"),
        ("store", "body_height_m", 1.0, "body is 1 m tall"),
        ("ghost", "power_kw", 1, "no part “ghost”"),
    ]
    for part, name, value, words in cases:
        with pytest.raises(SheetError, match=words):
            edits.set_property(sheet, part, name, value, catalogue)
    valve = edits.place(sheet, Part(id="V1", kind="test_valve", x_m=8, height_m=1))
    with pytest.raises(SheetError, match="open, shut"):
        edits.set_property(valve, "V1", "rest", "ajar", catalogue)


def test_an_untyped_property_is_its_default_again(sheet, catalogue):
    typed = edits.set_property(sheet, "stove", "power_kw", 12.0, catalogue)
    assert edits.set_property(typed, "stove", "power_kw", None, catalogue) == sheet


def test_a_wider_vessel_takes_its_pipes_along(sheet, catalogue):
    wide = edits.set_property(sheet, "store", "body_diameter_m", 0.7, catalogue)
    assert lines(wide, catalogue)["up"][-1] == pytest.approx((3.62, 1.5))
    assert right_angled(lines(wide, catalogue)["up"])


def test_renaming_is_followed_everywhere(sheet, catalogue):
    link = ControlLink(id="L1", sensor="store/D", target="stove", does="runs_below", setting_c=60)
    new = edits.rename(edits.put_link(sheet, link), "store", "tank")
    assert list(new.parts) == ["stove", "tank"]
    assert new.pipes["up"].b == End("tank", "A")
    assert new.links["L1"].sensor == "tank/D"
    with pytest.raises(SheetError, match="already"):
        edits.rename(sheet, "store", "up")


def test_links_need_what_they_name(sheet):
    with pytest.raises(SheetError, match="no part “ghost”"):
        edits.put_link(sheet, ControlLink(id="L1", sensor="ghost", target="stove", does="schedule"))
    with pytest.raises(SheetError, match="no tapping or pocket “Z”"):
        edits.put_link(sheet, ControlLink(id="L1", sensor="store/Z", target="stove", does="schedule"))


def test_deleting_a_part_takes_its_pipes_and_links(sheet, catalogue):
    linked = edits.put_link(sheet, ControlLink(id="L1", sensor="store/D", target="stove", does="runs_below"))
    gone = edits.delete(linked, {"store"}, catalogue)
    assert not gone.pipes
    assert not gone.links
    assert set(gone.parts) == {"stove"}
    with pytest.raises(SheetError, match="no “ghost”"):
        edits.delete(sheet, {"ghost"}, catalogue)


def test_copies_are_whole_and_apart(sheet, catalogue):
    linked = edits.put_link(sheet, ControlLink(id="L1", sensor="store/D", target="stove", does="runs_below"))
    copied = edits.duplicate(linked, {"store", "stove"}, 10.0, 0.0)
    assert list(copied.parts) == ["stove", "store", "stove2", "store2"]
    assert len(copied.pipes) == 4
    twin = next(p for p in copied.pipes.values() if p.a == End("stove2", "flow"))
    want = [(x + 10.0, z) for x, z in lines(sheet, catalogue)["up"]]
    assert geometry.polyline(copied, twin, catalogue) == tuple(pytest.approx(p) for p in want)
    assert copied.links["L2"].sensor == "store2/D"
    alone = edits.duplicate(sheet, {"store"}, 1.0, 0.0)
    assert len(alone.pipes) == 2


def test_floors_and_title(sheet):
    floors = edits.set_levels(sheet, {"First floor": 2.6, "Ground floor": 0.0})
    assert floors.levels == (Level("Ground floor", 0.0), Level("First floor", 2.6))
    for bad in ({}, {"": 0.0}, {"A": 1.0, "B": 1.0}, {"A": float("inf")}):
        with pytest.raises(SheetError):
            edits.set_levels(sheet, bad)
    assert edits.set_title(sheet, " Barn ").title == "Barn"
    with pytest.raises(SheetError):
        edits.set_title(sheet, "  ")


def test_facts_and_limits_come_and_go(sheet):
    new = edits.set_limit(edits.set_fact(sheet, "house_load_w", 8000), "leak_kw", 1.5)
    assert new.facts["house_load_w"] == 8000
    assert new.limits["leak_kw"] == 1.5
    assert edits.set_limit(edits.set_fact(new, "house_load_w", None), "leak_kw", None) == sheet
