"""The review of a sheet: every rule's answer by theme with the sheet lit, a decision about each finding, what could not
be assessed, and the last word.

Owns the walk through the answers and which of them is on show. What may be decided is asked of `rules.review`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from loopwright.rules.findings import told
from loopwright.window.as_typed import tip
from loopwright.window.badges import badge_pixmap
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.panel import Panel
from loopwright.window.review_box import VERDICTS, DecisionBox, SignBox
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.rules.findings import Answer
    from loopwright.survey import Survey

ANSWER = Qt.ItemDataRole.UserRole
SHOWN = ("Every rule", "Findings", "Open points", "What is not settled")
WORDS = {
    "pass": "looked at and right",
    "finding": "found something",
    "not applicable": "nothing to look at",
    "not assessed": "could not be assessed",
    "covered": "covered by another finding",
}


def _many(count: int, word: str) -> str:
    one, _, rest = word.partition(" or ")
    words = f"{one}s or {rest}s" if rest else f"{one}s"
    return f"{count} {word if count == 1 else words}"


def children(item: QTreeWidgetItem) -> list[QTreeWidgetItem]:
    """The items under one."""
    return [child for n in range(item.childCount()) if (child := item.child(n)) is not None]


class Review(Panel):
    """Every rule's answer, and what is decided about each finding."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__("Review", parent)
        self._desk = desk
        self._survey: Survey | None = None
        self._in_front = False
        self.show_what = QComboBox(self)
        self.show_what.addItems(SHOWN)
        self.show_what.setAccessibleName("Which answers to show")
        self.show_what.currentIndexChanged.connect(self._fill)
        self.head.addWidget(self.show_what)
        done = QPushButton("Done", self)
        done.setToolTip("Back to the properties and findings (Esc)")
        done.clicked.connect(lambda: self._desk.close("review"))
        self.head.addWidget(done)
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        self.said.setWordWrap(True)
        self.body.addWidget(self.said)
        self.tree = QTreeWidget(self)
        self.tree.setHeaderHidden(True)
        self.tree.setIconSize(QSize(20, 20))
        self.tree.setIndentation(14)
        self.tree.setUniformRowHeights(True)
        self.tree.setAccessibleName("Answers of the rules")
        self.tree.currentItemChanged.connect(self._chosen)
        self.tree.itemActivated.connect(self._jump)
        self.body.addWidget(self.tree, 1)
        row = QHBoxLayout()
        self.back, self.on = QPushButton("Previous", self), QPushButton("Next", self)
        self.on.setProperty("primary", True)
        self.back.clicked.connect(lambda: self.step(-1))
        self.on.clicked.connect(lambda: self.step(1))
        self.sign = QPushButton("Accept or refuse…", self)
        self.sign.setToolTip("Sign for the sheet as a whole")
        self.sign.clicked.connect(self._sign)
        row.addWidget(self.back)
        row.addWidget(self.on)
        row.addStretch(1)
        row.addWidget(self.sign)
        self.body.addLayout(row)
        self.box = DecisionBox(desk, self)
        self.body.addWidget(self.box)
        self.signing = SignBox(desk, self)
        self.signing.hide()
        self.signing.closed.connect(self._signed)
        self.body.addWidget(self.signing)
        desk.surveyed.connect(self._surveyed)
        desk.sheet_changed.connect(self._sheet_changed)

    # ---- coming and going

    def enter(self) -> None:
        """Show the answers as they are now."""
        self._in_front = True
        self._survey = self._desk.survey
        self._fill()
        self.tree.setFocus()

    def leave(self) -> None:
        """Put the light out."""
        self._in_front = False
        self._desk.light(())

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        if self._in_front:
            self._fill()

    def _surveyed(self, survey: Survey) -> None:
        if self._in_front:
            self._survey = survey
            self._fill()
            self.signing.look(survey)

    def _sheet_changed(self, _sheet: object) -> None:
        if self._in_front:
            self._fill()

    # ---- the answers

    def _fill(self) -> None:
        from loopwright.rules.registry import THEMES, page
        from loopwright.rules.review import unsettled
        from loopwright.window.help_pages import THEMES as TITLES

        survey = self._survey
        kept = self._key(self.tree.currentItem())
        self.tree.blockSignals(True)
        self.tree.clear()
        if survey is None:
            self.said.setText("The sheet is being checked…")
            self.tree.blockSignals(False)
            return
        left = {(f.rule, f.subject) for f in unsettled(self._desk.sheet, survey.findings)}
        themes: dict[str, QTreeWidgetItem] = {}
        rules: dict[str, QTreeWidgetItem] = {}
        again: QTreeWidgetItem | None = None
        for answer in sorted(survey.answers, key=lambda a: THEMES.index(a.rule.partition("/")[0])):
            if not self._wanted(answer, left):
                continue
            theme = answer.rule.partition("/")[0]
            if theme not in themes:
                themes[theme] = QTreeWidgetItem(self.tree, [TITLES.get(theme, theme)])
            if answer.rule not in rules:
                rules[answer.rule] = QTreeWidgetItem(themes[theme], [page(answer.rule).title])
                rules[answer.rule].setToolTip(0, page(answer.rule).title)
            item = QTreeWidgetItem(rules[answer.rule], [self._words(answer)])
            item.setToolTip(0, tip(self._words(answer)))
            item.setData(0, ANSWER, answer)
            item.setIcon(0, self._icon(answer, left))
            if self._key(item) == kept:
                again = item
        for rule in rules.values():
            self._sum_up(rule)
        self.tree.expandAll()
        if self.show_what.currentIndex() == 0:
            for rule in rules.values():
                rule.setExpanded(any(self._loud(leaf) for leaf in children(rule)))
        self.tree.blockSignals(False)
        self._say(survey, len(left))
        if again is not None:
            self.tree.setCurrentItem(again)
            self._chosen(again)
        else:
            self.step(1, start=True)
        now = self.tree.currentItem()
        if now is not None:
            self.tree.scrollToItem(now, QTreeWidget.ScrollHint.PositionAtCenter)

    def _wanted(self, answer: Answer, left: set[tuple[str, str]]) -> bool:
        match self.show_what.currentIndex():
            case 1:
                return answer.finding is not None
            case 2:
                return str(answer.outcome) == "not assessed"
            case 3:
                return answer.finding is not None and (answer.rule, answer.subject) in left
        return True

    def _words(self, answer: Answer) -> str:
        who = self._name(answer.subject)
        if answer.finding is not None:
            return f"{self._decided(answer)}{answer.finding.message}"
        return told(who, answer.because or WORDS[str(answer.outcome)])

    def _decided(self, answer: Answer) -> str:
        """What was decided about a finding, in front of its words."""
        from loopwright.rules.review import disposition_of, is_stale

        finding, sheet = answer.finding, self._desk.sheet
        found = disposition_of(sheet, finding) if finding is not None else None
        if finding is None or found is None:
            return ""
        return "Stale: " if is_stale(sheet, found, finding) else f"{dict(VERDICTS)[found.verdict]}: "

    def _name(self, subject: str) -> str:
        owner, slash, rest = subject.partition("/")
        part = self._desk.sheet.parts.get(owner)
        name = (part.name or self._desk.catalogue[part.kind].name) if part is not None else owner
        return f"{name} {rest}" if slash else name

    def _icon(self, answer: Answer, left: set[tuple[str, str]]) -> QIcon:
        look = self._desk.look
        if answer.finding is not None:
            number = str(answer.finding.number)
            return QIcon(badge_pixmap(answer.finding.severity.word, number, look, size=9.0))
        if str(answer.outcome) == "not assessed":
            return QIcon(badge_pixmap("", "?", look, size=8.0))
        return icon("tick", look["ok"]) if str(answer.outcome) == "pass" else QIcon()

    def _loud(self, item: QTreeWidgetItem) -> bool:
        answer = item.data(0, ANSWER)
        return answer.finding is not None or str(answer.outcome) == "not assessed"

    def _sum_up(self, rule: QTreeWidgetItem) -> None:
        """A rule whose answers are all one quiet word needs no line for each."""
        answers = [leaf.data(0, ANSWER) for leaf in children(rule)]
        outcomes = {str(a.outcome) for a in answers}
        if outcomes <= {"pass", "not applicable", "covered"} and len(outcomes) == 1:
            (outcome,) = outcomes
            count = f", {len(answers)} times" if len(answers) > 1 else ""
            rule.setToolTip(0, f"{rule.text(0)}: {WORDS[outcome]}{count}")
            if outcome == "pass":
                rule.setIcon(0, icon("tick", self._desk.look["ok"]))
            else:
                rule.setForeground(0, self._desk.look.colour("ink3"))
                rule.setText(0, f"{rule.text(0)} - {WORDS[outcome]}")

    def _say(self, survey: Survey, left: int) -> None:
        counts = survey.counts()
        rules = len({a.rule for a in survey.answers})
        said = f"{rules} rules answered: {_many(len(survey.findings), 'finding')}, "
        said += f"{_many(counts['not assessed'], 'open point')}. "
        said += f"{_many(left, 'danger or fault')} not settled." if left else "No danger or fault is left to settle."
        if self._desk.pending:
            said += f" {_many(self._desk.pending, 'rule')} still working out the flow."
        signed = self._desk.sheet.signatures
        if signed:
            last = signed[-1]
            said += f" {last.verdict.capitalize()} by {last.by}, {last.date}{self._since(last.fingerprint)}."
        self.said.setText(said)

    def _since(self, fingerprint: str) -> str:
        from loopwright.files.fingerprint import fingerprint as now

        return "" if now(self._desk.sheet) == fingerprint else "; the drawing has changed since"

    @staticmethod
    def _key(item: QTreeWidgetItem | None) -> tuple[str, str, str] | None:
        answer = item.data(0, ANSWER) if item is not None else None
        return (answer.rule, answer.subject, str(answer.outcome)) if answer is not None else None

    # ---- walking

    def step(self, by: int, start: bool = False) -> None:
        """To the next answer that wants attention, or the one before; round at the end."""
        loud = [i for i in self._leaves() if self._loud(i)] or self._leaves()
        if not loud:
            self.box.show_answer(None)
            return
        now = self.tree.currentItem()
        at = loud.index(now) if now in loud else (-1 if by > 0 else 0)
        self.tree.setCurrentItem(loud[0] if start else loud[(at + by) % len(loud)])

    def _leaves(self) -> list[QTreeWidgetItem]:
        return [leaf for theme in children(self.tree.invisibleRootItem()) for rule in children(theme)
                for leaf in children(rule)]  # fmt: skip

    def _chosen(self, item: QTreeWidgetItem | None, _before: object = None) -> None:
        answer: Answer | None = item.data(0, ANSWER) if item is not None else None
        self.box.show_answer(answer)
        if item is None:
            return
        if answer is None:
            answers = [child.data(0, ANSWER) for child in children(item)]
            self._desk.light([a.subject for a in answers if a is not None and a.subject], "accent")
            return
        finding = answer.finding
        if finding is not None:
            self._desk.light((*finding.path, *finding.culprits, finding.subject), finding.severity.word)
            self._desk.show_spot(finding.spot)
        else:
            self._desk.light([answer.subject] if answer.subject else [], "accent")

    def _jump(self, item: QTreeWidgetItem) -> None:
        answer: Answer | None = item.data(0, ANSWER)
        if answer is not None and answer.part in self._desk.sheet.parts:
            self._desk.close("review")
            self._desk.jump(answer.part, answer.prop)

    # ---- signing

    def _sign(self) -> None:
        self.box.hide()
        self.signing.show_for(self._survey)

    def _signed(self) -> None:
        self.tree.setFocus()  # before what had it goes
        self.signing.hide()
        self.box.show()
        if self._survey is not None:
            self._fill()
