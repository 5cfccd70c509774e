"""Several things chosen: what they share can be set on all at once, and where they differ the field says so."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox

from loopwright.sheet.values import Part, Sheet
from loopwright.window.fields import ChoiceField, TextField
from loopwright.window.subjects import subject


def put(window, sheet: Sheet, chosen) -> dict:
    window.document.open(sheet, None)
    window.document.choose(chosen)
    return window.properties.fields()


def radiators() -> Sheet:
    parts = (
        Part(id="R1", kind="radiator", x_m=1.0, height_m=0.1, props={"output_w": 1000.0}),
        Part(id="R2", kind="radiator", x_m=3.0, height_m=0.1, props={"output_w": 2000.0}),
        Part(id="P1", kind="pump", x_m=5.0, height_m=1.0),
    )
    return Sheet(title="Several", parts={p.id: p for p in parts})


def test_parts_of_one_kind_are_set_together_and_say_where_they_differ(window):
    field = put(window, radiators(), ["R1", "R2"])["output_w"]
    assert isinstance(field, TextField) and field.entry.text() == ""
    assert "several values" in field._hint.text()
    field.entry.setText("1500")
    field.entry.offered.emit("1500")
    sheet = window.document.sheet
    assert [sheet.parts[p].props["output_w"] for p in ("R1", "R2")] == [1500.0, 1500.0]
    window.document.undo()
    assert window.document.sheet.parts["R2"].props["output_w"] == 2000.0, "one step back for all"


def test_parts_of_several_kinds_offer_what_all_of_them_have(window, catalogue):
    fields = put(window, radiators(), ["R1", "R2", "P1"])
    shared = {s.name for s in catalogue["radiator"].props} & {s.name for s in catalogue["pump"].props}
    assert shared >= set(fields) - {"existing"}
    assert "existing" in fields and "output_w" not in fields


def test_a_circuit_has_its_pipes_set_at_once(window, small):
    fields = put(window, small, ["stove", "store", *small.pipes])
    size = fields["size"]
    assert isinstance(size, ChoiceField) and size.box.currentData() == "28"
    assert "graded" not in fields and "name" not in fields and "existing" in fields
    size.box.setCurrentIndex(size.box.findData("22"))
    size.box.activated.emit(size.box.currentIndex())
    assert {p.size for p in window.document.sheet.pipes.values()} == {"22"}


def test_a_choice_that_differs_says_several_values(window, small):
    fields = put(window, small, list(small.pipes))
    first = next(iter(small.pipes))
    window.document.choose([first])
    one = window.properties.fields()["size"]
    one.box.setCurrentIndex(one.box.findData("22"))
    one.box.activated.emit(one.box.currentIndex())
    window.document.choose(list(small.pipes))
    box = window.properties.fields()["size"].box
    assert fields and isinstance(box, QComboBox)
    assert box.currentIndex() == -1 and box.placeholderText() == "several values"


def test_every_row_of_both_has_a_key_of_its_own(small, catalogue):
    found = subject(small, frozenset((*small.parts, *small.pipes)), catalogue, {})
    keys = [r.key for r in found.rows] + [r.key for _, rows in found.groups for r in rows]
    assert len(keys) == len(set(keys)) and found.title == "3 parts and 2 pipes"
