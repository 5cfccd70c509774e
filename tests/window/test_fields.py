"""Fields: units, refusal in words, typed text kept, Esc brings the last good value back.

Conversions are checked against the exact definitions: 1 in = 25.4 mm and 1 ft = 0.3048 m (international yard and pound
agreement of 1959).
"""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from loopwright.sheet.values import Sheet
from loopwright.window.fields import ChoiceField, FlagField, TextField
from loopwright.window.quantities import read_number, show_number, unit_sign


@pytest.fixture
def panel(drawn, qtbot):
    drawn.document.choose(["store"])
    with qtbot.waitExposed(drawn):
        drawn.show()
    return drawn.properties


def enter(qtbot, field: TextField, text: str) -> None:
    field.entry.setFocus()
    field.entry.selectAll()
    qtbot.keyClicks(field.entry, text)
    qtbot.keyClick(field.entry, Qt.Key.Key_Return)


def test_a_length_may_be_typed_in_feet(panel, drawn, qtbot):
    enter(qtbot, panel.fields()["body_height_m"], "6 ft")
    assert drawn.document.sheet.parts["store"].props["body_height_m"] == pytest.approx(6 * 0.3048)


def test_a_thickness_may_be_typed_in_inches(panel, drawn, qtbot):
    enter(qtbot, panel.fields()["insulation_mm"], "4 in")
    assert drawn.document.sheet.parts["store"].props["insulation_mm"] == pytest.approx(101.6)
    assert panel.fields()["insulation_mm"].entry.text() == "101.6"


def test_what_is_no_quantity_is_refused_in_words_and_stays_typed(panel, drawn, qtbot):
    before = drawn.document.sheet
    field = panel.fields()["volume_l"]
    enter(qtbot, field, "28 mn")
    assert drawn.document.sheet is before
    assert field.entry.text() == "28 mn"
    assert "28 mn" in field.refusal and "Try" in field.refusal
    assert field.findChild(QLabel, "refusal").isVisible()


def test_a_value_beyond_the_limit_is_refused_with_the_limit(panel, drawn, qtbot, catalogue):
    before = drawn.document.sheet
    spec = catalogue["heat_store"].prop("body_height_m")
    field = panel.fields()["body_height_m"]
    enter(qtbot, field, "90")
    assert drawn.document.sheet is before
    assert f"{spec.most:g}" in field.refusal and field.entry.text() == "90"


def test_escape_brings_the_last_good_value_back(panel, qtbot):
    field = panel.fields()["volume_l"]
    enter(qtbot, field, "much")
    qtbot.keyClick(field.entry, Qt.Key.Key_Escape)
    assert field.entry.text() == "250" and not field.refusal


def test_escape_in_an_untouched_field_leads_back_to_the_sheet(panel, drawn, qtbot):
    with qtbot.waitActive(drawn):
        drawn.activateWindow()
    field = panel.fields()["volume_l"]
    field.entry.setFocus()
    qtbot.keyClick(field.entry, Qt.Key.Key_Escape)
    assert drawn.stage.view.hasFocus() and drawn.document.chosen == {"store"}
    qtbot.keyClick(drawn.stage.view, Qt.Key.Key_Escape)
    assert drawn.document.chosen == frozenset()


def test_a_refused_text_waits_while_something_else_is_chosen(panel, drawn, qtbot):
    enter(qtbot, panel.fields()["volume_l"], "much")
    drawn.document.choose(["P1"])
    assert "volume_l" not in panel.fields()
    drawn.document.choose(["store"])
    field = panel.fields()["volume_l"]
    assert field.entry.text() == "much" and field.refusal


def test_undo_elsewhere_leaves_half_typed_text_alone(panel, drawn, qtbot):
    drawn.document.apply(
        "Set title", lambda s: Sheet(**{f: getattr(s, f) for f in s.__struct_fields__} | {"title": "x"})
    )
    field = panel.fields()["volume_l"]
    field.entry.setFocus()
    field.entry.selectAll()
    qtbot.keyClicks(field.entry, "30")
    drawn.document.undo()
    assert panel.fields()["volume_l"] is field and field.entry.text() == "30"


def test_an_emptied_field_goes_back_to_what_is_assumed(panel, drawn, qtbot):
    field = panel.fields()["volume_l"]
    enter(qtbot, field, "300")
    assert "assumed" not in field._hint.text()
    enter(qtbot, field, "\b")
    assert "volume_l" not in drawn.document.sheet.parts["store"].props
    assert field.entry.text() == "250" and "assumed" in field._hint.text()


def test_a_choice_and_a_flag_make_steps(drawn, qtbot):
    drawn.document.choose([next(iter(drawn.document.sheet.pipes))])
    pipe = next(iter(drawn.document.chosen))
    material = drawn.properties.fields()["material"]
    assert isinstance(material, ChoiceField)
    index = next(
        i
        for i in range(material.box.count())
        if material.box.itemData(i) != "copper"
        and material.box.itemData(i) != drawn.document.sheet.pipes[pipe].material
    )
    size = drawn.properties.fields()["size"]
    size.box.activated.emit(size.box.findData("22"))
    assert drawn.document.sheet.pipes[pipe].size == "22"
    assert index > 0
    bypass = drawn.properties.fields()["bypass"]
    assert isinstance(bypass, FlagField)
    bypass.switch.click()
    assert drawn.document.sheet.pipes[pipe].bypass is True
    assert drawn.document.undo_label.startswith("Set bypass of pipe")


def test_the_height_field_moves_the_part_with_its_pipes(panel, drawn, qtbot):
    enter(qtbot, panel.fields()["height_m"], "0.5")
    assert drawn.document.sheet.parts["store"].height_m == pytest.approx(0.5)
    assert len(drawn.document.sheet.pipes) == 2


def test_several_parts_of_a_kind_are_set_at_once(drawn, qtbot, catalogue):
    from loopwright.sheet import edits

    drawn.document.apply("Copy", lambda s: edits.duplicate(s, ["P1"], 1.0, 0.0))
    pumps = [p.id for p in drawn.document.sheet.parts.values() if p.kind == "pump"]
    drawn.document.choose(pumps)
    with qtbot.waitExposed(drawn):
        drawn.show()
    enter(qtbot, drawn.properties.fields()["head_m"], "4")
    assert [drawn.document.sheet.parts[p].props["head_m"] for p in pumps] == [4.0, 4.0]
    drawn.document.undo()
    assert all("head_m" not in drawn.document.sheet.parts[p].props for p in pumps)


def test_numbers_are_read_and_shown_plainly():
    assert read_number("", "m") is None
    assert read_number("1/2 in", "mm") == pytest.approx(12.7)
    assert show_number(0.000012) == "0.000012"
    assert show_number(101.6) == "101.6"
    assert unit_sign("degC") == "°C"


def test_floors_are_added_moved_and_removed(drawn, qtbot):
    with qtbot.waitExposed(drawn):
        drawn.show()
    drawn.document.choose([])
    drawn.properties._add_floor()
    assert [level.name for level in drawn.document.sheet.levels] == ["Ground floor", "First floor"]
    enter(qtbot, drawn.properties.fields()["level/First floor"], "2.4")
    assert drawn.document.sheet.levels[1].height_m == pytest.approx(2.4)
    drawn.properties._add_floor()
    assert len(drawn.document.sheet.levels) == 3


def test_tab_goes_down_the_fields_as_soon_as_they_are_there(panel, drawn, qtbot):
    with qtbot.waitActive(drawn):
        drawn.activateWindow()
    drawn.document.choose(["P1"])
    panel.focus_name()
    qtbot.keyClick(panel.fields()["name"].entry, Qt.Key.Key_Tab)
    assert panel.fields()["height_m"].entry.hasFocus()


def test_what_nobody_stated_says_so(drawn):
    drawn.document.choose(["stove"])
    field = drawn.properties.fields()["min_return_c"]
    assert field.entry.text() == "" and field._hint.text().startswith("not stated")
