"""What differs between two sheets: told by id, then by place in the drawing graph; nothing told that is the same."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loopwright.catalogue import standard_catalogue
from loopwright.files.compare import compare
from loopwright.files.reader import load
from loopwright.sheet import edits

CATALOGUE = standard_catalogue()
SAMPLE = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"


@pytest.fixture(scope="module")
def sheet():
    return load(SAMPLE, CATALOGUE)


def told(old, new):
    return [(c.sort, c.what, c.before or c.after, [(f.name, f.before, f.after) for f in c.fields]) for c in
            compare(old, new, CATALOGUE).changes]  # fmt: skip


def test_nothing_differs_from_itself(sheet):
    found = compare(sheet, sheet, CATALOGUE)
    assert found.changes == () and all(a == b for a, b in found.same.items())
    assert len(found.same) == len(sheet.parts) + len(sheet.pipes)


def test_a_property_a_height_and_a_size(sheet):
    new = edits.set_property(sheet, "cistern", "expansion_room_l", 10.0, CATALOGUE)
    assert told(sheet, new) == [("changed", "part", "cistern", [("Room for expansion", "45 l", "10 l")])]
    pipe = next(iter(sheet.pipes))
    thicker = msgspec.structs.replace(sheet.pipes[pipe], size="35")
    new = msgspec.structs.replace(sheet, pipes={**sheet.pipes, pipe: thicker})
    assert ("changed", "pipe", pipe, [("size", sheet.pipes[pipe].size, "35")]) in told(sheet, new)


def test_a_tapping_that_moved_says_from_where_to_where(sheet):
    new = edits.set_tapping(sheet, "store", "A", CATALOGUE, height_m=1.0)
    was = sheet.parts["store"].tapping("A").height_m
    assert ("moved", "tapping", "store/A", [("height", f"{was:.2f} m", "1.00 m")]) in told(sheet, new)


def test_a_part_under_another_id_is_the_same_part(sheet):
    """A sheet that another hand drew anew has other ids: parts are known by their place in the graph."""
    new = sheet
    for part in list(sheet.parts)[:40]:
        new = edits.rename(new, part, f"{part}_again")
    assert told(sheet, new) == []


@given(st.data())
@settings(max_examples=15, suppress_health_check=list(HealthCheck), deadline=None)
def test_what_is_taken_out_one_way_is_put_in_the_other(sheet, data):
    gone = data.draw(st.sampled_from(sorted(sheet.parts)))
    new = edits.delete(sheet, [gone], CATALOGUE)
    there, back = compare(sheet, new, CATALOGUE), compare(new, sheet, CATALOGUE)
    assert [c.before for c in there.of("removed") if c.what == "part"] == [gone]
    assert [c.after for c in back.of("added") if c.what == "part"] == [gone]
    assert {c.before for c in there.of("removed")} == {c.after for c in back.of("added")}
    assert {c.after for c in there.of("added")} == {c.before for c in back.of("removed")}
