"""Metric or imperial: what is shown follows, what is typed may be in any unit, and the choice is kept.

A foot is 0.3048 m, an inch 25.4 mm, an imperial gallon 4.54609 l (Units of Measurement Regulations, from memory).
"""

from __future__ import annotations

import pytest

from loopwright.window.quantities import Units
from loopwright.window.recent import Memory
from loopwright.window.tapping_table import HEIGHT


def enter(field, text: str) -> None:
    field.entry.setText(text)
    field.entry.setModified(True)
    field.entry.offered.emit(text)


@pytest.fixture
def imperial(drawn):
    drawn.actions_["imperial"].trigger()
    drawn.document.choose(["store"])
    return drawn


def test_the_choice_is_kept_and_said_in_the_status_line(imperial, memory):
    assert imperial.status.system.text() == "imperial" and imperial.actions_["imperial"].isChecked()
    assert memory.system == "imperial" and Memory(memory._settings).system == "imperial"
    imperial.actions_["metric"].trigger()
    assert imperial.status.system.text() == "metric" and memory.system == "metric"


def test_fields_and_their_usual_ranges_follow(imperial):
    from loopwright.sheet import edits

    imperial.document.apply("v", lambda s: edits.set_property(s, "store", "volume_l", 250.0, imperial.catalogue))
    field = imperial.properties.fields()["volume_l"]
    assert field.entry.text() == "54.99" and "gal" in field.entry.accessibleName()
    low = imperial.properties.fields()["height_m"]
    assert low.entry.text() == "3.937 in"


@pytest.mark.parametrize(
    ("text", "litres"), [("60", 272.7654), ("300 l", 300.0), ("0.3 m3", 300.0), ("70 us gal", 264.9788)]
)
def test_a_bare_number_is_in_the_unit_shown_and_any_other_is_taken(imperial, text, litres):
    enter(imperial.properties.fields()["volume_l"], text)
    assert imperial.document.sheet.parts["store"].props["volume_l"] == pytest.approx(litres, rel=1e-5)


def test_typing_what_is_shown_changes_nothing(imperial):
    before = imperial.document.sheet
    field = imperial.properties.fields()["height_m"]
    enter(field, field.entry.text())
    assert imperial.document.sheet is before


def test_the_tapping_table_shows_feet_and_takes_metres(imperial):
    editor = imperial.properties.tappings
    row = next(i for i, t in enumerate(editor.model.taps) if t.letter == "A")
    index = editor.model.index(row, HEIGHT)
    assert index.data() == "4 ft 3 in" and editor.model.headerData(HEIGHT, editor_orientation()) == "Height"
    editor.model.setData(index, "1.25 m")
    assert imperial.document.sheet.parts["store"].tapping("A").height_m == pytest.approx(1.25)
    editor.model.setData(index, "4")
    assert imperial.document.sheet.parts["store"].tapping("A").height_m == pytest.approx(1.2192)


def editor_orientation():
    from PySide6.QtCore import Qt

    return Qt.Orientation.Horizontal


def test_the_status_line_follows_the_pointer(imperial):
    imperial.status.point(3.048, -0.6096)
    assert imperial.status.across.text() == "x 10 ft 0 in" and imperial.status.up.text() == "height -2 ft 0 in"
    imperial.actions_["metric"].trigger()
    imperial.status.point(3.048, 0.0)
    assert imperial.status.across.text() == "x 3.05 m"


def test_a_window_in_the_back_follows_when_it_comes_to_the_front(drawn, memory, qtbot):
    memory.system = "imperial"
    with qtbot.waitExposed(drawn):
        drawn.show()
    assert drawn.preferred.now == Units("imperial") and drawn.status.system.text() == "imperial"
