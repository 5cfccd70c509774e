"""The review: every answer, decisions kept that go stale, open points that lead to their field, the last word."""

from __future__ import annotations

from pathlib import Path

import pytest

from loopwright.files.reader import load
from loopwright.sheet import edits
from loopwright.window.review import ANSWER

FAULTY = Path(__file__).parents[2] / "samples" / "faulty" / "small-cistern.loopwright"
RULE = "vent-and-feed/cistern-too-small"


@pytest.fixture
def review(window, catalogue, qtbot):
    window.document.open(load(FAULTY, catalogue), None)
    qtbot.waitUntil(lambda: window.survey is not None and bool(window.survey.answers))
    return window.places.open("review")


def on_show(review):
    return review.tree.currentItem().data(0, ANSWER)


def test_it_begins_at_the_first_finding_and_lists_every_rule(window, review):
    assert on_show(review).rule == RULE
    rules = {leaf.data(0, ANSWER).rule for leaf in review._leaves()}
    assert rules == {a.rule for a in window.survey.answers}
    assert "1 finding" in review.said.text() and "1 danger or fault not settled" in review.said.text()
    review.show_what.setCurrentText("Findings")
    assert len(review._leaves()) == 1


def test_nothing_is_accepted_without_name_and_reason_and_nothing_typed_is_lost(window, review):
    box = review.box
    box.name.setText("A. Reviewer")
    box.verdicts.button(1).setChecked(True)
    box.decide.click()
    assert "without a reason" in window.status.words.text()
    assert window.document.sheet.dispositions == ()
    assert box.name.text() == "A. Reviewer" and box.verdicts.checkedId() == 1
    box.reason.setPlainText("The spare room is in the feed cistern next to it")
    box.decide.click()
    (made,) = window.document.sheet.dispositions
    assert (made.rule, made.verdict, made.by) == (RULE, "accepted", "A. Reviewer")
    assert "Accepted by A. Reviewer" in box.state.text()
    window.commands.undo()
    assert window.document.sheet.dispositions == () and box.state.text() == "Nothing is decided yet."


def test_a_decision_goes_stale_with_what_it_is_about(window, review, catalogue, qtbot):
    box = review.box
    box.name.setText("A. Reviewer")
    box.verdicts.button(1).setChecked(True)
    box.reason.setPlainText("Seen on site")
    box.decide.click()
    window.document.apply("Set", lambda s: edits.set_property(s, "cistern", "expansion_room_l", 12.0, catalogue))
    qtbot.waitUntil(lambda: box.state.text().startswith("Stale"))
    box.withdraw.click()
    assert window.document.sheet.dispositions == ()


def test_signing_waits_for_every_danger_and_fault(window, review, qtbot):
    review.sign.click()
    assert not review.signing.accept.isEnabled() and "Not yet acceptable" in review.signing.words.text()
    review.signing.name.setText("A. Reviewer")
    review.signing.refuse.click()
    assert "remark" in window.status.words.text() and not window.document.sheet.signatures
    review.signing.remark.setPlainText("Fit a larger cistern")
    review.signing.refuse.click()
    assert window.document.sheet.signatures[-1].verdict == "refused"
    assert "Refused by A. Reviewer" in review.said.text() and "changed since" not in review.said.text()
    window.document.apply("Set title", lambda s: edits.set_title(s, "Again"))
    qtbot.waitUntil(lambda: "the drawing has changed since" in review.said.text())
    review.box.name.setText("A. Reviewer")
    review.box.verdicts.button(2).setChecked(True)
    review.box.reason.setPlainText("Another cistern takes it")
    review.box.decide.click()
    assert review.tree.currentItem().text(0).startswith("Not applicable: ")
    window.answers.pending = 3  # as while the flow is worked out
    review.sign.click()
    assert not review.signing.accept.isEnabled() and "still working out" in review.signing.words.text()
    window.answers.pending = 0
    window.desk.surveyed.emit(window.survey)
    assert review.signing.accept.isEnabled()
    review.signing.accept.click()
    assert window.document.sheet.signatures[-1].verdict == "accepted"


def test_an_open_point_leads_to_its_field(window, review, catalogue, qtbot):
    prop = "hot_rated"
    window.document.apply("Set", lambda s: edits.set_property(s, "cistern", prop, None, catalogue))
    review.show_what.setCurrentText("Open points")
    qtbot.waitUntil(lambda: any(leaf.data(0, ANSWER).prop == prop for leaf in review._leaves()))
    leaf = next(i for i in review._leaves() if i.data(0, ANSWER).prop == prop)
    review.tree.itemActivated.emit(leaf, 0)
    assert window.document.chosen == {"cistern"} and window.places.front("right") == ""
