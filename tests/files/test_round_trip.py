"""What is written is read again exactly, and the same sheet always gives the same bytes."""

from __future__ import annotations

import json

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopwright import draw
from loopwright.errors import FileError
from loopwright.files.reader import loads
from loopwright.files.schema import schema_bytes
from loopwright.files.writer import dumps
from loopwright.resources import resource_root
from loopwright.sheet import edits
from loopwright.sheet.values import ControlLink, Dimension, Foot, Note, Sheet, Signature, TitleBlock, Tried

numbers = st.floats(-90, 90, allow_nan=False).map(lambda v: round(v, 6))
words = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
names = st.text("abcXYZ089 äß-", min_size=1, max_size=8).map(str.strip).filter(bool)


@st.composite
def sheets(draw_from) -> Sheet:
    """Sheets made by the builder from whatever numbers and words come."""
    s = draw.sheet(draw_from(names))
    heights = draw_from(st.lists(st.integers(0, 35), min_size=2, max_size=8, unique=True))
    tappings = {
        f"t{k}": {"height_m": h / 25, "side": draw_from(st.sampled_from(["left", "right"])), "name": draw_from(names)}
        for k, h in enumerate(heights)
    }
    store = s.store("store", x_m=draw_from(numbers), height_m=draw_from(numbers), tappings=tappings)
    fittings = []
    for k in range(draw_from(st.integers(1, 4))):
        fittings.append(
            s.add(
                "tee",
                f"T{k}",
                x_m=draw_from(numbers),
                height_m=draw_from(numbers),
                turn=draw_from(st.integers(0, 3)),
                mirror=draw_from(st.booleans()),
                name=draw_from(words),
                existing=draw_from(st.booleans()),
            )
        )
    for fitting, letter in zip(fittings, [t.letter for t in store.part.tappings], strict=False):
        via = draw_from(st.lists(st.tuples(numbers, numbers), max_size=3))
        s.pipe(fitting["branch"], store[letter], via=via, graded=draw_from(st.sampled_from(["", "a", "b"])),
               extra_length_m=draw_from(st.floats(0, 100)), extra_bends=draw_from(st.integers(0, 9)),
               size=draw_from(st.sampled_from(["15", "22", "28", "28x1.5"])))  # fmt: skip
    stove = s.add("boiler_stove", x_m=draw_from(numbers), height_m=0, power_kw=draw_from(st.floats(0, 400)))
    s.link(store, stove, "runs_below", setting_c=draw_from(st.one_of(st.none(), st.floats(0, 100))))
    s.note(draw_from(words), x_m=1, height_m=draw_from(numbers))
    for value in draw_from(st.lists(st.one_of(st.booleans(), st.integers(-99, 99), st.floats(-1e6, 1e6), words))):
        s.fact(**{f"fact{len(s.sheet.facts)}": value})
    s.limit(any=draw_from(st.floats(-1e9, 1e9)))
    return s.done()


@settings(max_examples=60, deadline=None)
@given(sheets())
def test_round_trip_is_exact(sheet):
    data = dumps(sheet)
    read = loads(data)
    assert read == sheet
    assert list(read.parts) == list(sheet.parts)
    assert dumps(read) == data


def test_everything_at_once_and_one_record_a_line(sheet):
    text = dumps(sheet).decode()
    assert loads(text.encode()) == sheet
    lines = text.splitlines()
    for part in sheet.parts.values():
        assert sum(f'"id":"{part.id}"' in line for line in lines) == 1
    plain = json.loads(text)
    assert list(plain) == [
        "format", "version", "title", "levels", "parts", "pipes", "links", "notes", "dispositions", "limits", "facts",
    ]  # fmt: skip
    assert (plain["format"], plain["version"]) == ("loopwright-sheet", 1)
    assert plain["parts"][0]["height_m"] == 0.1


def test_the_order_in_which_properties_were_typed_does_not_show():
    one, two = draw.sheet("A"), draw.sheet("A")
    one.add("boiler_stove", x_m=0, height_m=0, power_kw=8, rating_bar=3)
    two.add("boiler_stove", x_m=0, height_m=0.0, rating_bar=3.0, power_kw=8.0)
    assert dumps(one.done()) == dumps(two.done())


def test_a_byte_order_mark_and_other_line_ends_are_read(sheet):
    data = dumps(sheet)
    assert loads(b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n")) == sheet


def test_an_empty_sheet(sheet):
    assert loads(dumps(Sheet())) == Sheet()


def test_numbers_that_are_none_are_not_written():
    blank = Sheet(notes=(Note(id="n", x_m=float("nan"), height_m=0.0, text=""),))
    with pytest.raises(FileError, match="“n” holds a number that is none"):
        dumps(blank)
    link = ControlLink(id="L", sensor="a", target="b", does="schedule", setting_c=float("inf"))
    with pytest.raises(FileError, match="none"):
        dumps(Sheet(links={"L": link}))
    with pytest.raises(FileError, match="cannot be written"):
        dumps(Sheet(title="\ud800"))


LATE = ("dimensions", "block", "tried", "signatures")
"""Keys that a sheet without them does not write."""


def test_the_shipped_schema_is_that_of_the_format():
    shipped = (resource_root() / "loopwright.schema.json").read_bytes()
    assert shipped == schema_bytes()
    keys = list(msgspec.json.decode(shipped)["$defs"]["SheetRecord"]["properties"])
    written = [*json.loads(dumps(Sheet()))]
    assert [key for key in keys if key not in LATE] == written, "what is drawn late is left out"
    foot = Foot(height_m=2.0)
    full = Sheet(
        dimensions=(Dimension(id="d", a=Foot(), b=foot, x_m=1.0),),
        block=TitleBlock(revision="B"),
        tried=(Tried(power=False, shut=("V1",)),),
        signatures=(Signature(verdict="refused", by="A", date="2026-03-14", fingerprint="0", remark="B"),),
    )
    assert keys == [*json.loads(dumps(full))] and loads(dumps(full)) == full


def test_a_large_sheet_reads_and_writes_quickly():
    import time

    s = draw.sheet("Large")
    for k in range(600):
        s.add("tee", x_m=k % 30, height_m=k // 30)
    sheet = s.done()
    for k in range(1, 600):
        a, b = s[f"T{k}"]["right"], s[f"T{k + 1}"]["left"]
        sheet = edits.connect(sheet, a, b, s.catalogue, points=[], size="22")
    begin = time.perf_counter()
    assert loads(dumps(sheet)) == sheet
    assert time.perf_counter() - begin < 2.0
