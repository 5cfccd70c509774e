"""The limits of a sheet: listed with their published figures, set in one step, refused in words, marked when changed.

22 mm for a stove's vent and 60 degC for stored hot water stand in resources/sources.toml with their sources.
"""

from __future__ import annotations

import pytest

from loopwright.rules.limits import limits
from loopwright.window.limits import LimitsDialog, published_words
from loopwright.window.quantities import Units

VENT, STORED = "sf.vent.od.min", "leg.store.min"


@pytest.fixture
def box(drawn, qtbot):
    made = LimitsDialog(drawn.desk)
    qtbot.addWidget(made)
    return made


def test_every_limit_stands_there_as_published(box):
    assert set(box.rows) == set(limits())
    row = box.rows[VENT]
    assert row.entry.text() == "" and row.entry.placeholderText() == "22" and not row.changed
    assert "22 mm OD" in row.entry.accessibleDescription() and limits()[VENT].fact.source in (
        row.entry.accessibleDescription()
    )
    assert box.said.text() == "Every limit is the published one."


def test_limits_are_set_in_one_step_in_any_unit_and_taken_back(box, drawn):
    box.rows[VENT].entry.setText("28 mm")
    box.rows[STORED].entry.setText("149 F")
    assert box.said.text() == "2 limits of its own."
    box.accept()
    assert dict(drawn.document.sheet.limits) == {VENT: 28.0, STORED: pytest.approx(65.0)}
    assert drawn.document.undo_label == "Set limits of the sheet"
    drawn.document.undo()
    assert not drawn.document.sheet.limits


def test_a_changed_limit_is_shown_and_an_empty_field_brings_the_published_one_back(box, drawn, qtbot):
    box.rows[VENT].entry.setText("28")
    box.accept()
    again = LimitsDialog(drawn.desk)
    qtbot.addWidget(again)
    assert again.rows[VENT].entry.text() == "28" and again.rows[VENT].changed
    again.all_published.click()
    again.accept()
    assert not drawn.document.sheet.limits


def test_the_published_figure_typed_in_is_no_limit_of_its_own(box, drawn):
    before = drawn.document.sheet
    box.rows[VENT].entry.setText("22")
    box.accept()
    assert drawn.document.sheet is before


@pytest.mark.parametrize(
    ("text", "words"), [("28 bar", "is not a length"), ("-3", "less than nothing"), ("22 m", "Check the unit")]
)
def test_nonsense_is_refused_in_words_and_nothing_is_set(box, drawn, text, words):
    before = drawn.document.sheet
    box.rows[STORED].entry.setText("65")
    box.rows[VENT].entry.setText(text)
    box.accept()
    assert words in box.rows[VENT].refusal.text() and box.rows[VENT].entry.text() == text
    assert drawn.document.sheet is before and not box.result()


def test_the_filter_hides_the_rest(box):
    box.search.setText("vent overflow")
    shown = [key for key, row in box.rows.items() if not row.isHidden()]
    assert shown == ["fe.overflow.bore"]


def test_the_sheets_own_limit_reaches_the_rules(drawn, qtbot):
    """What is typed in the box is what a rule gets."""
    from loopwright.rules.registry import Case
    from loopwright.waterways import Waterways

    box = LimitsDialog(drawn.desk)
    qtbot.addWidget(box)
    box.rows[VENT].entry.setText("1 1/8 in")
    box.accept()
    case = Case(Waterways(drawn.document.sheet, drawn.catalogue))
    assert case.limit(VENT) == pytest.approx(28.575)


def test_figures_in_the_units_that_are_preferred():
    assert published_words(limits()[VENT], Units("imperial")) == "0.866 in OD"
    assert published_words(limits()["vel.steel"], Units()) == "1.5 to 3 m/s"
    assert published_words(limits()["store.log.55"], Units("imperial")) == "55 l per kW"


def test_the_command_opens_it(drawn, qtbot):
    drawn.actions_["limits"].trigger()
    made = drawn.findChild(LimitsDialog)
    assert made is not None and made.isVisible()
    made.reject()


def test_a_slope_reads_and_is_typed_as_the_trade_says_it(box, drawn):
    row = box.rows["sf.primary.slope"]
    assert row.entry.placeholderText() == "1 in 120"
    assert published_words(row.limit, Units()) == "1 in 120"
    row.entry.setText("1:120")
    assert row.read() is None, "the published figure"
    row.entry.setText("1 in 100")
    box.accept()
    assert dict(drawn.document.sheet.limits) == {"sf.primary.slope": pytest.approx(0.01)}
