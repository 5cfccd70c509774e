"""A piece of a sheet copied, and dimensions that follow the parts they stand on."""

from __future__ import annotations

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files import dumps, loads
from loopwright.sheet import edits
from loopwright.sheet.dimensions import foot_at, measured_m
from loopwright.sheet.geometry import polyline
from loopwright.sheet.pieces import cut_out, middle_of, next_name, put_in
from loopwright.sheet.values import ControlLink, Dimension, Foot, Note, Sheet

CATALOGUE = standard_catalogue()


@pytest.fixture
def sheet() -> Sheet:
    s = draw.sheet("Copies")
    s.store(
        "store",
        x_m=4,
        height_m=1.0,
        volume_l=200,
        name="Store",
        tappings={"flow": {"height_m": 1.2, "side": "left"}, "return": {"height_m": 0.2, "side": "left"}},
    )
    s.add("boiler_stove", "stove", x_m=1, height_m=0, name="Stove")
    s.add("radiator", "hall", x_m=7, height_m=0, name="Hall 2")
    s.pipe(s["stove"]["flow"], s["store"]["flow"])
    s.pipe(s["stove"]["return"], s["store"]["return"])
    made = s.done()
    made = edits.put_link(made, ControlLink(id="L1", sensor="store/A", target="stove", does="runs_below"))
    made = edits.put_note(made, Note(id="note", x_m=2.0, height_m=3.0, text="Hot"))
    rise = Dimension(id="rise", a=Foot(part="stove", port="flow"), b=Foot(part="store", port="A"), x_m=0.2)
    return edits.put_dimension(made, rise)


def test_a_piece_keeps_what_lies_wholly_in_it(sheet):
    piece = cut_out(sheet, {"store", "stove", "note"})
    assert set(piece.parts) == {"store", "stove"} and len(piece.pipes) == 2
    assert set(piece.links) == {"L1"} and [d.id for d in piece.dimensions] == ["rise"] and piece.notes == sheet.notes
    alone = cut_out(sheet, {"stove"})
    assert not alone.pipes and not alone.links and not alone.dimensions
    with pytest.raises(SheetError, match="no part"):
        cut_out(sheet, set(sheet.pipes))


def test_a_piece_put_into_its_own_sheet_gets_fresh_ids_and_names(sheet):
    after, new = put_in(sheet, cut_out(sheet, {"store", "stove", "hall"}), 10.0, 0.5)
    assert {after.parts[i].name for i in new if i in after.parts} == {"Store 2", "Stove 2", "Hall 3"}
    assert len(after.pipes) == 4 and len(after.links) == 2 and len(after.dimensions) == 2
    for old in sheet.pipes.values():
        line = [(x + 10.0, z + 0.5) for x, z in polyline(sheet, old, CATALOGUE)]
        twins = [polyline(after, after.pipes[i], CATALOGUE) for i in new if i in after.pipes]
        assert any(len(t) == len(line) and all(p == pytest.approx(q) for p, q in zip(t, line)) for t in twins)
    # letters belong to a vessel and are the same in its copy
    twin = next(p for i, p in after.parts.items() if i in new and p.kind == "heat_store")
    assert [t.letter for t in twin.tappings] == [t.letter for t in sheet.parts["store"].tappings]
    assert loads(dumps(after), CATALOGUE) == after


def test_facts_about_a_part_go_with_it(sheet):
    known = edits.set_fact(edits.set_fact(sheet, "burns_h@stove", 6.0), "house_load_w", 8000)
    piece = cut_out(known, {"stove"})
    assert dict(piece.facts) == {"burns_h@stove": 6.0}
    assert put_in(known, piece)[0].facts["burns_h@stove2"] == 6.0


def test_a_piece_put_into_an_empty_sheet_keeps_its_ids_and_names(sheet):
    piece = cut_out(sheet, set(sheet.parts))
    after, new = put_in(Sheet(), loads(dumps(piece), CATALOGUE))
    assert after.parts == sheet.parts and after.pipes == sheet.pipes and new >= set(sheet.parts)


def test_the_middle_of_a_piece(sheet):
    x, z = middle_of(cut_out(sheet, {"hall"}), CATALOGUE)
    assert x == pytest.approx(7.0) and z > 0.2


def test_the_next_name():
    assert next_name("Bath", ()) == "Bath"
    assert next_name("Bath", {"Bath"}) == "Bath 2"
    assert next_name("Bath 2", {"Bath", "Bath 2", "Bath 3"}) == "Bath 4"


def test_a_dimension_follows_its_parts(sheet):
    rise = sheet.dimensions[0]
    before = measured_m(sheet, rise, CATALOGUE)
    raised = edits.move(sheet, {"store"}, 0.0, 0.4, CATALOGUE)
    assert measured_m(raised, raised.dimensions[0], CATALOGUE) == pytest.approx(before + 0.4)
    assert raised.dimensions[0].x_m == rise.x_m, "the line stands while one foot does"
    both = edits.move(sheet, {"store", "stove"}, 1.0, 0.0, CATALOGUE)
    assert both.dimensions[0].x_m == pytest.approx(rise.x_m + 1.0)
    assert edits.rename(sheet, "stove", "fire").dimensions[0].a.part == "fire"
    assert edits.delete(sheet, {"stove"}, CATALOGUE).dimensions == ()
    assert edits.delete(sheet, {"rise"}, CATALOGUE).dimensions == ()


def test_a_dimension_to_a_free_place_and_to_a_pocket(sheet):
    free = Dimension(id="d2", a=Foot(x_m=2.0, height_m=1.0), b=Foot(part="store", x_m=0.0, height_m=0.0), x_m=2.0)
    made = edits.put_dimension(sheet, free)
    assert measured_m(made, free, CATALOGUE) == pytest.approx(0.0)
    moved = edits.move(made, {"d2"}, 0.5, 0.25, CATALOGUE)
    assert moved.dimensions[1].a == Foot(x_m=2.5, height_m=1.25) and moved.dimensions[1].x_m == 2.5
    pocket = edits.add_tapping(sheet, "store", 0.7, CATALOGUE, purpose="sensor")
    letter = pocket.parts["store"].tappings[-1].letter
    assert foot_at(pocket, Foot(part="store", port=letter), CATALOGUE)[1] == pytest.approx(1.7)


@pytest.mark.parametrize(
    ("dimension", "words"),
    [
        (Dimension(id="d2", a=Foot(part="ghost"), b=Foot(), x_m=0.0), "ghost"),
        (Dimension(id="d2", a=Foot(), b=Foot(), x_m=0.0), "one place"),
        (Dimension(id="d2", a=Foot(port="A"), b=Foot(), x_m=0.0), "port of no part"),
        (Dimension(id="d2", a=Foot(), b=Foot(x_m=1.0), x_m=float("inf")), "off the sheet"),
        (Dimension(id="stove", a=Foot(), b=Foot(x_m=1.0), x_m=0.0), "already"),
    ],
)
def test_a_dimension_that_cannot_be_is_refused(sheet, dimension, words):
    with pytest.raises(SheetError, match=words):
        edits.put_dimension(sheet, dimension)


def test_the_title_block(sheet):
    made = edits.set_block(sheet, revision="B", drawn_by="The fitter", scale=25.0)
    assert loads(dumps(made), CATALOGUE).block == made.block and made.block.page == "A3"
    for bad in ({"scale": 0.2}, {"revision": "x" * 201}, {"page": "A9"}, {"colour": "red"}):
        with pytest.raises(SheetError):
            edits.set_block(sheet, **bad)
