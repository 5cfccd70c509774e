"""A reviewer's decisions: kept in the sheet, stale when what they are about changed, never lost by editing."""

from __future__ import annotations

from pathlib import Path

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files.fingerprint import fingerprint
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps
from loopwright.rules import review
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.survey import survey
from loopwright.waterways.views import POWER_CUT, Condition

CATALOGUE = standard_catalogue()
FAULTY = Path(__file__).parents[2] / "samples" / "faulty"
WHO = {"by": "A. Reviewer", "date": "2026-03-14"}


@pytest.fixture(scope="module")
def low_vent() -> Sheet:
    return load(FAULTY / "low-vent.loopwright", CATALOGUE)


@pytest.fixture(scope="module")
def small_cistern() -> Sheet:
    return load(FAULTY / "small-cistern.loopwright", CATALOGUE)


def found(sheet: Sheet, rule: str):
    return next(f for f in survey(sheet, CATALOGUE).findings if f.rule == rule)


def decided(sheet: Sheet, rule: str, verdict: str = "accepted", reason: str = "as built, seen on site") -> Sheet:
    return review.decide(sheet, found(sheet, rule), verdict, reason=reason, fingerprint=fingerprint(sheet), **WHO)


def stale(sheet: Sheet) -> bool:
    (disposition,) = sheet.dispositions
    return review.is_stale(sheet, disposition, found(sheet, disposition.rule))


def test_a_decision_holds_until_what_it_is_about_changes(small_cistern):
    rule = "vent-and-feed/cistern-too-small"
    sheet = decided(small_cistern, rule)
    assert sheet.dispositions[0].measured == found(sheet, rule).measured
    assert not stale(sheet)
    assert not stale(edits.set_title(sheet, "Another title")), "the title is not what was judged"
    moved = edits.move(sheet, ["cistern"], 0.01, 0.0, CATALOGUE)
    assert not stale(moved), "a hand's breadth aside changes nothing that was judged"
    other = edits.set_property(sheet, "cistern", "expansion_room_l", 12.0, CATALOGUE)
    assert found(other, rule) and stale(other), "another cistern, still too small"


def test_decisions_survive_the_file_renaming_and_deleting(low_vent):
    sheet = decided(low_vent, "vent-and-feed/vent-too-low")
    sheet = review.note_tried(sheet, POWER_CUT)
    sheet = review.note_tried(sheet, Condition(stopped=frozenset({"P1"})))
    again = loads(dumps(sheet), CATALOGUE)
    assert again == sheet and again.dispositions == sheet.dispositions and again.tried == sheet.tried
    subject = sheet.dispositions[0].subject
    renamed = edits.rename(sheet, subject, "another_name")
    assert renamed.dispositions[0].subject == "another_name" and not stale(renamed)
    repumped = edits.rename(sheet, "P1", "P9")
    assert Condition(stopped=frozenset({"P9"})) in review.conditions_tried(repumped)
    gone = edits.delete(sheet, [next(p for p in sheet.parts if p not in (subject, "P1"))], CATALOGUE)
    assert gone.dispositions == sheet.dispositions


def test_the_fingerprint_names_the_drawing_and_not_what_was_said_of_it(low_vent):
    sheet = review.note_tried(decided(low_vent, "vent-and-feed/vent-too-low"), POWER_CUT)
    assert fingerprint(sheet) == fingerprint(low_vent)
    assert fingerprint(edits.set_title(sheet, "Another title")) != fingerprint(low_vent)


@pytest.mark.parametrize("verdict", ["accepted", "not applicable"])
def test_nothing_is_let_stand_without_a_reason_and_a_name(low_vent, verdict):
    with pytest.raises(SheetError, match="without a reason"):
        decided(low_vent, "vent-and-feed/vent-too-low", verdict, reason="  ")
    finding = found(low_vent, "vent-and-feed/vent-too-low")
    with pytest.raises(SheetError, match="needs the name"):
        review.decide(low_vent, finding, verdict, by=" ", date="", fingerprint="", reason="because")


def test_a_sheet_is_accepted_only_when_every_danger_and_fault_is_settled(low_vent):
    findings = survey(low_vent, CATALOGUE).findings
    with pytest.raises(SheetError, match="neither put right nor settled"):
        review.sign(low_vent, findings, accepted=True, fingerprint=fingerprint(low_vent), **WHO)
    with pytest.raises(SheetError, match="remark"):
        review.sign(low_vent, findings, accepted=False, fingerprint=fingerprint(low_vent), **WHO)
    refused = review.sign(low_vent, findings, accepted=False, fingerprint="f", remark="Raise the vent", **WHO)
    assert refused.signatures[-1].verdict == "refused"
    sheet = low_vent
    for finding in review.unsettled(sheet, findings):
        sheet = decided(sheet, finding.rule)
    signed = review.sign(sheet, findings, accepted=True, fingerprint=fingerprint(sheet), **WHO)
    assert signed.signatures[-1].fingerprint == fingerprint(signed)
    assert review.unsettled(review.withdraw(sheet, findings[0].rule, findings[0].subject), findings)


def test_a_second_decision_takes_the_place_of_the_first(low_vent):
    rule = "vent-and-feed/vent-too-low"
    sheet = decided(decided(low_vent, rule), rule, "to repair", "")
    assert [d.verdict for d in sheet.dispositions] == ["to repair"]


def test_conditions_tried_lose_parts_that_are_gone(low_vent):
    valve = next(p for p in low_vent.parts if "valve" in low_vent.parts[p].kind)
    sheet = review.note_tried(low_vent, Condition(shut=frozenset({valve})))
    assert review.conditions_tried(sheet) == [Condition(shut=frozenset({valve}))]
    gone = edits.delete(sheet, [valve], CATALOGUE)
    assert review.conditions_tried(gone) == [Condition()]
    assert review.forget_tried(sheet, Condition(shut=frozenset({valve}))).tried == ()
