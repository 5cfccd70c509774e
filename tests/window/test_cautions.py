"""The cautions stand where a person might rely on what is shown: first run, Help, dangers, conditions."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel

from loopwright.rules.findings import Severity
from loopwright.window.cautions import CautionDialog, cautions
from loopwright.window.why import finding_html


@pytest.fixture
def judged(window, small, qtbot):
    window.document.open(small, None)
    qtbot.waitUntil(lambda: window.survey is not None and bool(window.survey.findings))
    return window


def test_the_box_says_every_caution(qtbot):
    box = CautionDialog()
    qtbot.addWidget(box)
    shown = {label.text() for label in box.findChildren(QLabel)}
    assert {cautions()[0], *cautions()[1]} <= shown


def test_the_page_of_a_danger_says_what_can_hurt_and_no_other_does(judged):
    for finding in judged.survey.findings:
        assert ("Never light a fire" in finding_html(finding)) == (finding.severity is Severity.DANGER)
    assert any(f.severity is Severity.DANGER for f in judged.survey.findings), "a stove without a vent"


def test_a_sheet_with_a_danger_must_not_be_lit(judged):
    assert "While a danger stands" in judged.findings.said.text()


def test_conditions_say_that_they_are_worked_out(judged):
    judged.resize(1440, 1000)
    judged.show()
    assert judged.conditions.caution.isVisible() and "drawing alone" in judged.conditions.caution.text()
