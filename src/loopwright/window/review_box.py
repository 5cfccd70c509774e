"""The two boxes of a review: what is decided about one finding, and the last word on the sheet.

Own their fields. What is refused comes from `rules.review`, in its own words, and nothing typed is lost.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from loopwright.window.desk import Desk

if TYPE_CHECKING:
    from loopwright.rules.findings import Answer, Finding
    from loopwright.sheet.values import Verdict
    from loopwright.survey import Survey

VERDICTS = (("to repair", "To repair"), ("accepted", "Accepted"), ("not applicable", "Not applicable"))


class NameField(QLineEdit):
    """Who decides; kept between runs."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(desk.memory.words("reviewer"), parent)
        self.setPlaceholderText("Your name")
        self.setAccessibleName("Name of who decides")
        self.editingFinished.connect(lambda: desk.memory.keep_words("reviewer", self.text().strip()))


class ReasonField(QPlainTextEdit):
    """Two or three lines of reason."""

    def __init__(self, words: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setPlaceholderText(words)
        self.setAccessibleName(words)
        self.setTabChangesFocus(True)
        self.setFixedHeight(62)


class DecisionBox(QWidget):
    """One answer in full, and the decision about it where it is a finding."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._finding: Finding | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        self.words = QLabel("", self)
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(self.words.textInteractionFlags().TextSelectableByMouse)
        column.addWidget(self.words)
        self.fields = QWidget(self)
        inner = QVBoxLayout(self.fields)
        inner.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        self.verdicts = QButtonGroup(self)
        for number, (_, words) in enumerate(VERDICTS):
            button = QRadioButton(words, self.fields)
            self.verdicts.addButton(button, number)
            row.addWidget(button)
        row.addStretch(1)
        inner.addLayout(row)
        self.reason = ReasonField("Why it may stay as it is on this sheet", self.fields)
        inner.addWidget(self.reason)
        last = QHBoxLayout()
        self.name = NameField(desk, self.fields)
        self.decide = QPushButton("Decide", self.fields)
        self.withdraw = QPushButton("Withdraw", self.fields)
        self.decide.clicked.connect(self._decide)
        self.withdraw.clicked.connect(self._withdraw)
        last.addWidget(self.name, 1)
        last.addWidget(self.withdraw)
        last.addWidget(self.decide)
        inner.addLayout(last)
        self.state = QLabel("", self.fields)
        self.state.setObjectName("hint")
        self.state.setWordWrap(True)
        inner.addWidget(self.state)
        column.addWidget(self.fields)
        self.show_answer(None)

    def show_answer(self, answer: Answer | None) -> None:
        """Show an answer; what is typed about the same finding stays."""
        finding = answer.finding if answer is not None else None
        same = (
            finding is not None
            and self._finding is not None
            and (finding.rule, finding.subject) == (self._finding.rule, self._finding.subject)
        )
        self._finding = finding
        self.fields.setVisible(finding is not None)
        self.words.setText(self._told(answer))
        if finding is None:
            return
        from loopwright.rules.review import disposition_of, is_stale

        sheet = self._desk.sheet
        found = disposition_of(sheet, finding)
        self.withdraw.setEnabled(found is not None)
        if not same:
            self.reason.setPlainText(found.reason if found is not None else "")
            verdict = found.verdict if found is not None else "to repair"
            self.verdicts.button([v for v, _ in VERDICTS].index(verdict)).setChecked(True)
        if found is None:
            self.state.setText("Nothing is decided yet.")
            return
        said = f"{dict(VERDICTS)[found.verdict]} by {found.by}, {found.date}, on drawing {found.fingerprint[:8]}."
        if is_stale(sheet, found, finding):
            was = ""
            if found.measured is not None and finding.measured is not None and found.measured != finding.measured:
                was = f" It was {found.measured:.4g} {finding.unit} then, and is {finding.measured:.4g} now."
            said = f"Stale: what it is about has changed since.{was} {said}"
        self.state.setText(said)

    def _told(self, answer: Answer | None) -> str:
        if answer is None:
            return ""
        if answer.finding is not None:
            return f"{answer.finding.message} {answer.finding.todo}"
        if answer.part:
            return f"{answer.because}. Press Enter on it to go to the field."
        return answer.because

    def _decide(self) -> None:
        from loopwright.files.fingerprint import fingerprint
        from loopwright.rules.review import decide

        finding = self._finding
        if finding is None:
            return
        verdict = cast("Verdict", VERDICTS[self.verdicts.checkedId()][0])
        reason, by = self.reason.toPlainText(), self.name.text()
        self._desk.apply(
            "Decide about a finding",
            lambda s: decide(
                s,
                finding,
                verdict,
                reason=reason,
                by=by,
                date=date.today().isoformat(),
                fingerprint=fingerprint(s),
            ),
        )

    def _withdraw(self) -> None:
        from loopwright.rules.review import withdraw

        finding = self._finding
        if finding is not None:
            self._desk.apply("Withdraw a decision", lambda s: withdraw(s, finding.rule, finding.subject))


class SignBox(QWidget):
    """The last word: accepted or refused, by whom."""

    closed = Signal()

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._survey: Survey | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        self.words = QLabel("", self)
        self.words.setWordWrap(True)
        column.addWidget(self.words)
        self.remark = ReasonField("Remark; a refusal needs one", self)
        column.addWidget(self.remark)
        row = QHBoxLayout()
        self.name = NameField(desk, self)
        self.back = QPushButton("Back", self)
        self.refuse = QPushButton("Refuse", self)
        self.accept = QPushButton("Accept", self)
        self.accept.setProperty("primary", True)
        self.back.clicked.connect(self.closed)
        self.accept.clicked.connect(lambda: self._sign(True))
        self.refuse.clicked.connect(lambda: self._sign(False))
        row.addWidget(self.name, 1)
        for button in (self.back, self.refuse, self.accept):
            row.addWidget(button)
        column.addLayout(row)

    def show_for(self, survey: Survey | None) -> None:
        """Come up, and show what stands in the way."""
        self.look(survey)
        self.name.setText(self.name.text() or self._desk.memory.words("reviewer"))
        self.show()
        self.remark.setFocus()

    def look(self, survey: Survey | None) -> None:
        """Show what stands in the way, as a survey has it."""
        from loopwright.rules.review import unsettled

        self._survey = survey
        left = unsettled(self._desk.sheet, survey.findings) if survey is not None else []
        if left:
            numbers = ", ".join(str(f.number) for f in left)
            are = "is" if len(left) == 1 else "are"
            self.words.setText(f"Not yet acceptable: {numbers} {are} neither put right nor settled. It can be refused.")
        elif self._desk.pending:
            self.words.setText("Not yet acceptable: some rules are still working out the flow. A moment.")
        else:
            self.words.setText("Every danger and fault is put right or settled for a reason.")
        self.accept.setEnabled(not left and survey is not None and not self._desk.pending)

    def _sign(self, accepted: bool) -> None:
        from loopwright.files.fingerprint import fingerprint
        from loopwright.rules.review import sign

        survey = self._survey
        if survey is None:
            return
        by, remark = self.name.text(), self.remark.toPlainText()
        done = self._desk.apply(
            "Accept the sheet" if accepted else "Refuse the sheet",
            lambda s: sign(
                s,
                survey.findings,
                accepted=accepted,
                by=by,
                date=date.today().isoformat(),
                fingerprint=fingerprint(s),
                remark=remark,
            ),
        )
        if done:
            self.remark.clear()
            self.closed.emit()
