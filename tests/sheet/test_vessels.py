"""Tappings and coils: where a stub may sit, and what a pipe on it forbids."""

from __future__ import annotations

import pytest

from loopwright.errors import SheetError
from loopwright.sheet import edits, geometry
from loopwright.sheet.values import ControlLink, End


def store(sheet):
    return sheet.parts["store"]


def test_letters_go_on_and_are_not_soon_used_again(sheet, catalogue):
    new = edits.add_tapping(sheet, "store", 1.0, catalogue, name="spare")
    assert store(new).tapping("E").height_m == 1.0
    fewer = edits.remove_tapping(new, "store", "C", catalogue)
    assert edits.next_letter(store(fewer)) == "F"


def test_many_tappings(sheet, catalogue):
    bare = edits.remove_tapping(edits.remove_tapping(sheet, "store", "C", catalogue), "store", "D", catalogue)
    for k in range(30):
        bare = edits.add_tapping(bare, "store", 0.05 * k, catalogue, side="right")
    letters = [t.letter for t in store(bare).tappings]
    assert len(set(letters)) == len(letters) == 32
    assert "A2" in letters
    assert not {"I", "O"} & set(letters)


@pytest.mark.parametrize(
    ("height_m", "side", "words"),
    [
        (1.43, "left", "30 mm apart"),
        (1.17, "right", "30 mm apart"),  # the pocket needs room as well
        (1.7, "left", "1.6 m tall"),
        (-0.1, "left", "between 0 and 1.6"),
        (float("nan"), "left", "stands at nan"),
    ],
)
def test_refused_places(sheet, catalogue, height_m, side, words):
    with pytest.raises(SheetError, match=words):
        edits.add_tapping(sheet, "store", height_m, catalogue, side=side)


def test_forty_millimetres_are_enough(sheet, catalogue):
    assert store(edits.add_tapping(sheet, "store", 1.44, catalogue)).tapping("E")
    assert store(edits.add_tapping(sheet, "store", 1.43, catalogue, side="right")).tapping("E")


def test_one_stub_on_top(sheet, catalogue):
    new = edits.add_tapping(sheet, "store", 1.6, catalogue, side="top")
    with pytest.raises(SheetError, match="only one stub sits on the top"):
        edits.add_tapping(new, "store", 1.6, catalogue, side="top")


def test_a_moved_stub_takes_its_pipe_along(sheet, catalogue):
    new = edits.set_tapping(sheet, "store", "A", catalogue, height_m=1.2)
    assert geometry.polyline(new, new.pipes["up"], catalogue)[-1] == pytest.approx((3.72, 1.3))
    over = edits.set_tapping(sheet, "store", "A", catalogue, side="right", height_m=1.5)
    assert geometry.polyline(over, over.pipes["up"], catalogue)[-1] == pytest.approx((4.28, 1.6))


def test_what_a_pipe_forbids(sheet, catalogue):
    for edit, words in [
        (lambda: edits.remove_tapping(sheet, "store", "A", catalogue), "up ends on tapping A"),
        (lambda: edits.set_tapping(sheet, "store", "A", catalogue, purpose="sensor"), "no longer take a pipe"),
        (lambda: edits.set_tapping(sheet, "store", "A", catalogue, letter="Q"), "its own for good"),
        (lambda: edits.set_tapping(sheet, "store", "A", catalogue, purpose="beer"), "cannot serve"),
        (lambda: edits.set_tapping(sheet, "store", "Q", catalogue, name="x"), "no tapping Q"),
        (lambda: edits.add_tapping(sheet, "stove", 0.2, catalogue), "no tappings or coils of its own"),
    ]:
        with pytest.raises(SheetError, match=words):
            edit()
    linked = edits.put_link(sheet, ControlLink(id="L1", sensor="store/D", target="stove", does="runs_below"))
    with pytest.raises(SheetError, match="sensor in D"):
        edits.remove_tapping(linked, "store", "D", catalogue)


def test_coils_come_with_their_stubs_and_go_with_them(sheet, catalogue):
    new = edits.add_coil(sheet, "store", catalogue, name="solar", bottom_m=0.15, top_m=0.6, purpose="solar")
    coil = store(new).coils[0]
    assert (store(new).tapping(coil.lower).height_m, store(new).tapping(coil.upper).height_m) == (0.15, 0.6)
    assert store(new).tapping(coil.lower).purpose == "coil"
    assert edits.remove_coil(new, "store", "solar", catalogue) == sheet


def test_what_a_coil_may_be(sheet, catalogue):
    new = edits.add_coil(sheet, "store", catalogue, name="solar", bottom_m=0.15, top_m=0.6)
    coil = store(new).coils[0]
    add = {"name": "bath", "bottom_m": 1.0, "top_m": 1.4}
    for edit, words in [
        (lambda: edits.add_coil(sheet, "store", catalogue, name="x", bottom_m=0.6, top_m=0.2), "bottom below its top"),
        (lambda: edits.add_coil(sheet, "store", catalogue, name="x", bottom_m=0.6, top_m=2.0), "tall"),
        (lambda: edits.add_coil(new, "store", catalogue, **{**add, "name": "solar"}), "name of its own"),
        (lambda: edits.add_coil(new, "store", catalogue, **add, lower=coil.lower), "shares a tapping"),
        (lambda: edits.add_coil(new, "store", catalogue, **add, upper="A"), "up ends on tapping A"),
        (lambda: edits.add_coil(new, "store", catalogue, **add, upper="D"), "no tapping that takes a pipe"),
        (lambda: edits.set_coil(new, "store", "solar", catalogue, area_m2=-1.0), "above nil"),
        (lambda: edits.set_coil(new, "store", "solar", catalogue, lower="A"), "up ends on tapping A"),
        (lambda: edits.remove_tapping(new, "store", coil.lower, catalogue), "an end of coil “solar”"),
        (lambda: edits.remove_coil(new, "store", "rain", catalogue), "no coil “rain”"),
    ]:
        with pytest.raises(SheetError, match=words):
            edit()
    piped = edits.connect(new, End("store", coil.upper), End("store", "C"), catalogue)
    with pytest.raises(SheetError, match="Take that pipe off"):
        edits.remove_coil(piped, "store", "solar", catalogue)
    longer = edits.set_coil(new, "store", "solar", catalogue, top_m=0.7, area_m2=1.8)
    assert (store(longer).coils[0].top_m, store(longer).coils[0].area_m2) == (0.7, 1.8)
