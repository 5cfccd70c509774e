"""One door for changes: undo, redo, selection, clean state, and errors that leave everything as it was.

The laws of undo (undo gives back the value before an edit, redo the value after it) are from memory; no outside figure
is used in this file.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopwright.errors import SheetError
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.window.document import STEPS, Document


def test_an_edit_is_one_step_and_undo_gives_the_same_sheet_back(qapp, small):
    document = Document(small)
    assert document.apply("Set title", lambda s: edits.set_title(s, "Other"))
    after = document.sheet
    assert after.title == "Other"
    assert document.undo() == "Set title"
    assert document.sheet is small
    assert document.redo() == "Set title"
    assert document.sheet is after


def test_an_edit_that_changes_nothing_is_no_step(qapp, small):
    document = Document(small)
    assert not document.apply("Nothing", lambda s: s)
    assert not document.apply("Equal", lambda s: edits.set_title(s, s.title))
    assert document.undo_label == "" and document.clean


@pytest.mark.parametrize("bad", [SheetError("refused", do="Do otherwise"), ZeroDivisionError()])
def test_an_edit_that_raises_leaves_everything_as_it_was(qapp, qtbot, small, bad):
    document = Document(small)
    document.apply("Set title", lambda s: edits.set_title(s, "One"))
    document.apply("Set title", lambda s: edits.set_title(s, "Two"))
    document.undo()
    document.choose(["P1"])
    before = (document.sheet, document.undo_label, document.redo_label, document.chosen)

    def edit(_sheet: Sheet) -> Sheet:
        raise bad

    with qtbot.assertNotEmitted(document.changed), pytest.raises(type(bad)):
        document.apply("Bad", edit)
    assert (document.sheet, document.undo_label, document.redo_label, document.chosen) == before


def test_an_edit_must_give_a_sheet(qapp, small):
    document = Document(small)
    with pytest.raises(TypeError):
        document.apply("Forgot to return", lambda s: None)
    assert document.sheet is small


def test_selection_goes_back_with_the_step_and_drops_what_is_gone(qapp, small, catalogue):
    document = Document(small)
    document.choose(["P1", "not there"])
    assert document.chosen == {"P1"}
    document.apply("Delete P1", lambda s: edits.delete(s, ["P1"], catalogue))
    assert document.chosen == frozenset()
    document.undo()
    assert document.chosen == {"P1"}
    document.redo()
    assert document.chosen == frozenset()


def test_clean_follows_the_saved_sheet_through_undo(qapp, small, tmp_path):
    document = Document(small)
    document.apply("Set title", lambda s: edits.set_title(s, "One"))
    assert not document.clean
    document.mark_saved(tmp_path / "one.loopwright")
    assert document.clean and document.path == tmp_path / "one.loopwright"
    document.undo()
    assert not document.clean
    document.redo()
    assert document.clean


def test_a_new_edit_forgets_what_was_undone_but_a_choice_does_not(qapp, small):
    document = Document(small)
    document.apply("One", lambda s: edits.set_title(s, "One"))
    document.undo()
    document.choose(["P1"])
    assert document.redo_label == "One"
    document.apply("Two", lambda s: edits.set_title(s, "Two"))
    assert document.redo_label == ""


def test_opening_forgets_the_history(qapp, qtbot, small):
    document = Document(small)
    document.apply("One", lambda s: edits.set_title(s, "One"))
    with qtbot.waitSignals([document.changed, document.opened]):
        document.open(Sheet(), Path("a.loopwright"))
    assert document.undo_label == "" and document.clean and document.chosen == frozenset()


def test_the_history_has_an_end(qapp):
    document = Document()
    for number in range(STEPS + 7):
        document.apply("Set title", lambda s, n=number: edits.set_title(s, f"Title {n}"))
    count = 0
    while document.undo():
        count += 1
    assert count == STEPS


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(["edit", "undo", "redo"]), max_size=30))
def test_any_walk_through_the_history_can_be_taken_back(qapp, steps):
    document = Document()
    first = document.sheet
    for number, step in enumerate(steps):
        if step == "edit":
            document.apply("Set title", lambda s, n=number: edits.set_title(s, f"Title {n}"))
        else:
            getattr(document, step)()
    while document.undo():
        pass
    assert document.sheet is first
