"""What the window does with answers: the survey, a finding that is chosen, its page, and the condition on show.

Owns which part of the window hears of them. Refuses to decide what they say.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from loopwright.rules.findings import Finding
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.checking import condition_words, summary

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow


class Answers(QObject):
    """The answers of one window."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self.pending = 0
        """Rules that still work out the flow."""
        self._opened: Sheet | None = None

    def opened(self) -> None:
        """Another drawing is open: its answers are still to come."""
        self._opened = self._window.document.sheet

    def answered(self, sheet: Sheet, survey: Survey, pending: int) -> None:
        """Take a survey of the sheet, whole or with rules still to come, and show what it says."""
        if sheet is not self._window.document.sheet:
            return
        self._window.survey, self.pending = survey, pending
        self.show_survey()
        if sheet is self._opened and not pending:  # flags stand now, and names where flags let them
            self._opened = None
            self._window.stage.refit()
        self._window.properties.show_services(dict(survey.services))
        self.condition_changed(self._window.conditions.condition)
        self._window.desk.surveyed.emit(survey)

    def show_survey(self) -> None:
        """Show the last survey's findings on the sheet and in their list: all, or what `desk.sieve` leaves of them."""
        if self._window.survey is not None:
            sieve = self._window.desk.sieve
            usual = (
                self._window.survey.findings,
                summary(self._window.survey, self._window.document.sheet, self.pending),
            )
            findings, said = usual if sieve is None else sieve(self._window.survey)
            self._window.findings.show_findings(findings, said)
            self._window.stage.show_survey(self._window.survey, findings)

    def broke(self, bad: Exception) -> None:
        """Say that a check fell over, and keep the report of it."""
        self._window.findings.say("The check stopped on a fault of loopwright itself. Your drawing is not harmed.")
        if not self._window.failed.report(bad):
            raise bad

    def finding_chosen(self, finding: Finding | None) -> None:
        """Light what a finding is about, and ask what would mend it."""
        self._window.mender.ask(finding, self._window.survey)
        if finding is None:
            self._window.stage.light((), "accent")
            return
        self._window.beneath.reveal(self._window.findings)
        ids: Sequence[str] = (*finding.path, *finding.culprits, finding.subject)
        self._window.stage.light([i.partition("/")[0] for i in ids], finding.severity.word)
        self._window.stage.show_spot(finding.spot)
        self._window.status.say(f"{finding.message} {finding.todo}")
        if self._window.right.currentWidget() is self._window.why:
            self._window.why.show_finding(finding)

    def choose_finding(self, number: int) -> None:
        """Choose a finding by its number."""
        if self._window.survey is not None:
            found = next((f for f in self._window.survey.findings if f.number == number), None)
            if found is not None:
                self._window.findings.choose(found)

    def show_why(self, finding: Finding) -> None:
        """Explain a finding in place of the right-hand panels."""
        self._window.findings.choose(finding)
        self._window.right.setCurrentWidget(self._window.why)
        self._window.why.show_finding(finding)

    def close_why(self) -> None:
        """Bring the right-hand panels again."""
        if self._window.right.currentWidget() is self._window.why:
            self._window.put_side("right", None)
            self._window.findings.list.setFocus()

    # ---- conditions

    def show_condition_of(self, finding: Finding) -> None:
        """Play the condition in which a finding tells."""
        from loopwright.rules.replay import replay

        self._window.conditions.set_condition(replay(self._window.desk.waterways(self._window.document.sheet), finding))
        self._window.stage.light(
            [i.partition("/")[0] for i in (*finding.path, *finding.culprits)], finding.severity.word
        )

    def condition_changed(self, condition: Condition) -> None:
        """Show on the sheet what moves and what stands idle under a condition."""
        moving, idle, words = condition_words(self._window.checks.kept, self._window.document.sheet, condition)
        self._window.stage.show_condition(moving, idle, condition != NORMAL)
        self._window.condition_bar.show_condition(self._name(condition), words, condition != NORMAL)
        self._window.actions_["power_cut"].setChecked(not condition.power)

    def _name(self, condition: Condition) -> str:
        """A condition as people say it, its parts by name."""
        if condition in (NORMAL, POWER_CUT):
            return condition.words
        from loopwright.rules.replay import named

        return named(self._window.desk.waterways(self._window.document.sheet), condition)

    def toggle_condition(self) -> None:
        """Go from normal running to a power cut, and from any condition back to normal running."""
        if self._window.conditions.condition == NORMAL:
            self._window.conditions.toggle_power_cut()
            self._window.status.say(
                "Power cut shown. Faded pipes stand still; arrows show where water moves. "
                "Esc goes back to normal running."
            )
        else:
            self._window.conditions.normal()
            self._window.status.say("")
