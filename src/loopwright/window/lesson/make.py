"""The box in which a teacher makes a lesson of the sheet: its words, its goal from the rules, its answers as a proof.

Owns the fields. The lesson is written and proved by `lessons.teaching`; what is refused comes back in its own words and
nothing typed is lost.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.badges import badge_pixmap
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.lesson import library
from loopwright.window.panel import counter, scrolled

if TYPE_CHECKING:
    from loopwright.lessons.goals import Condition
    from loopwright.lessons.lesson import Lesson
    from loopwright.sheet.values import Sheet

SLUG = Qt.ItemDataRole.UserRole
EDITS = (
    ("Anything may be changed", "anything"),
    ("Only what the first right answer changes", "answer"),
    ("Any part may be added, none taken out", "add"),
)


class Lines(QPlainTextEdit):
    """A few lines; Tab leaves it."""

    def __init__(self, name: str, words: str, parent: QWidget, high: int = 58) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(words)
        self.setTabChangesFocus(True)
        self.setFixedHeight(high)

    def text(self) -> str:
        """What is written, without space about it."""
        return self.toPlainText().strip()


class MakeDialog(QDialog):
    """A lesson in the making."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Make a lesson from this sheet")
        self.resize(640, 720)
        self._desk = desk
        self._sheet: Sheet = desk.sheet
        self.made: Lesson | None = None
        self.right: list[Path] = []
        self.wrong: list[Path] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 14, 14, 14)
        column.setSpacing(8)
        words = QLabel(
            "This sheet is where a learner begins. A lesson is a draft until two right and two wrong answers behave.",
            self,
        )
        words.setWordWrap(True)
        column.addWidget(words)
        body = QWidget(self)
        body.setObjectName("panel-body")
        self.form = QFormLayout(body)
        self.form.setContentsMargins(10, 10, 10, 10)
        self.form.setHorizontalSpacing(12)
        self.form.setVerticalSpacing(8)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        self._make_words()
        self._make_goal()
        self._make_answers()
        column.addWidget(scrolled(body, self), 1)
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        self.said.setWordWrap(True)
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        column.addWidget(self.said)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        self.write_button = QPushButton("Write the lesson", self)
        self.write_button.setProperty("primary", True)
        buttons.addButton(self.write_button, QDialogButtonBox.ButtonRole.ApplyRole)
        self.write_button.clicked.connect(self.write)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.title.setFocus()

    # ---- the fields

    def _line(self, label: str, words: str = "") -> QLineEdit:
        field = QLineEdit(self)
        field.setAccessibleName(label)
        field.setPlaceholderText(words)
        self.form.addRow(label, field)
        return field

    def _make_words(self) -> None:
        self.title = self._line("Title", "In a few words")
        self.ident = self._line("Id", "Letters, digits and dashes; also the name of the file")
        self.title.textEdited.connect(self._suggest)
        self.course = QComboBox(self)
        self.course.setAccessibleName("Course")
        self.course.addItem("Own lessons", library.OWN)
        for course in library.shipped():
            if course.id != library.OWN:
                self.course.addItem(course.title, course.id)
        self.form.addRow("Course", self.course)
        self.minutes = counter(self)
        self.minutes.setRange(1, 240)
        self.minutes.setValue(15)
        self.minutes.setSuffix(" min")
        self.minutes.setAccessibleName("Minutes")
        self.form.addRow("Time", self.minutes)
        self.able = self._line("To be able to", "tell where a heat leak may have a valve")
        self.task = Lines("Task", "What the learner is to do, in one or two sentences", self)
        self.form.addRow("Task", self.task)
        self.hints = Lines("Hints", "One a line, up to three, the last the plainest", self, 72)
        self.form.addRow("Hints", self.hints)
        self.reason = Lines("Reason", "Why it is so; empty: taken from the page of the first rule", self)
        self.form.addRow("Reason", self.reason)

    def _make_goal(self) -> None:
        around = QWidget(self)
        inner = QVBoxLayout(around)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(4)
        row = QHBoxLayout()
        self.search = QLineEdit(self)
        self.search.setPlaceholderText("Find a rule")
        self.search.setAccessibleName("Find a rule")
        self.search.textChanged.connect(self._filter)
        self.quiet = QPushButton("Also: no danger, no fault", self)
        self.quiet.setCheckable(True)
        row.addWidget(self.search, 1)
        row.addWidget(self.quiet)
        inner.addLayout(row)
        self.rules = QListWidget(self)
        self.rules.setAccessibleName("Rules that are to be clear in the end")
        self.rules.setFixedHeight(150)
        self.rules.setIconSize(QSize(16, 16))
        self.rules.setSpacing(1)
        inner.addWidget(self.rules)
        note = QLabel("Rules that fail now stand first; a learner passes when every ticked rule is clear.", around)
        note.setObjectName("hint")
        note.setWordWrap(True)
        inner.addWidget(note)
        self.form.addRow("Goal", around)
        self._fill_rules()
        self.edits = QComboBox(self)
        self.edits.setAccessibleName("What may be changed")
        for words, data in EDITS:
            self.edits.addItem(words, data)
        self.form.addRow("Allowed", self.edits)

    def _fill_rules(self) -> None:
        """Rules that now find something, then those that pass; others have nothing to say of this sheet."""
        from loopwright.rules.findings import Outcome
        from loopwright.rules.registry import page
        from loopwright.survey import survey

        found = survey(self._sheet, self._desk.catalogue)
        failing = dict.fromkeys(f.rule for f in found.findings)
        severity = {f.rule: f.severity.word for f in reversed(found.findings)}
        passing = [a.rule for a in found.answers if a.outcome is Outcome.PASS and a.rule not in failing]
        look = self._desk.look
        for slug in (*failing, *dict.fromkeys(passing)):
            item = QListWidgetItem(page(slug).title)
            item.setData(SLUG, slug)
            item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Unchecked)
            fails = slug in failing
            shape = badge_pixmap(severity[slug], "", look, size=6.0) if fails else icon("tick", look["ok"], size=16)
            item.setIcon(shape)
            spoken = f"{page(slug).title}, {'fails' if fails else 'passes'} now"
            item.setData(Qt.ItemDataRole.AccessibleTextRole, spoken)
            self.rules.addItem(item)

    def _make_answers(self) -> None:
        self.answers = QLabel("No answers yet.", self)
        self.answers.setWordWrap(True)
        self.answers.setObjectName("hint")
        row = QHBoxLayout()
        for words, slot in (("Add a right answer…", self._add_right), ("Add a wrong answer…", self._add_wrong)):
            button = QPushButton(words, self)
            button.clicked.connect(slot)
            row.addWidget(button)
        row.addStretch(1)
        around = QWidget(self)
        inner = QVBoxLayout(around)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.addLayout(row)
        inner.addWidget(self.answers)
        self.form.addRow("Answers", around)
        self.folder = self._line("Folder")
        self.folder.setText(str(library.own_folder(self._desk.memory)))
        choose = QPushButton("Choose…", self)
        choose.clicked.connect(self._choose_folder)
        self.form.addRow("", choose)

    def _suggest(self, title: str) -> None:
        self.ident.setText(re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-"))

    def _filter(self, text: str) -> None:
        words = text.lower().split()
        for number in range(self.rules.count()):
            item = self.rules.item(number)
            item.setHidden(not all(w in item.text().lower() for w in words))

    def _add_right(self) -> None:
        self._add_answer(self.right)

    def _add_wrong(self) -> None:
        self._add_answer(self.wrong)

    def _add_answer(self, kept: list[Path]) -> None:
        path = questions.ask_open_path(self, self._desk.memory.folder())
        if path is None:
            return
        kept.append(path)
        said = [f"Right: {', '.join(p.name for p in self.right)}." if self.right else ""]
        said.append(f"Wrong: {', '.join(p.name for p in self.wrong)}." if self.wrong else "")
        self.answers.setText(" ".join(s for s in said if s))

    def _choose_folder(self) -> None:
        folder = questions.ask_folder(self, Path(self.folder.text()), "Folder of own lessons")
        if folder is not None:
            self.folder.setText(str(folder))

    # ---- writing it

    def tick(self, slug: str, on: bool = True) -> None:
        """Choose a rule for the goal."""
        for number in range(self.rules.count()):
            if self.rules.item(number).data(SLUG) == slug:
                self.rules.item(number).setCheckState(Qt.CheckState.Checked if on else Qt.CheckState.Unchecked)

    def goal(self) -> tuple[Condition, ...]:
        """The goal as it is ticked."""
        from loopwright.lessons import goals

        items = [self.rules.item(n) for n in range(self.rules.count())]
        ticked = [i.data(SLUG) for i in items if i.checkState() == Qt.CheckState.Checked]
        out: list[Condition] = [goals.Clear(rule=slug) for slug in ticked]
        return (*out, goals.Quiet()) if self.quiet.isChecked() else tuple(out)

    def write(self) -> None:
        """Write the lesson, or say what is missing."""
        from loopwright.files.reader import load
        from loopwright.lessons import make_lesson
        from loopwright.lessons.lesson import Allowed

        for field, name in ((self.title.text(), "title"), (self.task.text(), "task")):
            if not field.strip():
                self._say(f"The lesson has no {name} yet.", bad=True)
                return
        catalogue = self._desk.catalogue
        choice = self.edits.currentData()
        folder = Path(self.folder.text().strip())
        try:
            right = [load(path, catalogue) for path in self.right]
            wrong = [load(path, catalogue) for path in self.wrong]
            if choice == "answer" and not right:
                self._say("Add a right answer first: what it changes is what the lesson will allow.", bad=True)
                return
            goal = self.goal()
            more: dict[str, Any] = {"able_to": self.able.text().strip() or self.title.text().strip()}
            self.made = make_lesson(
                self._sheet,
                folder,
                id=self.ident.text().strip(),
                title=self.title.text().strip(),
                task=self.task.text(),
                answer=right[0] if right else None,
                goal=goal or None,
                allowed={"anything": Allowed(anything=True), "add": Allowed(place=("*",))}.get(choice),
                hints=[h.strip() for h in self.hints.text().splitlines() if h.strip()],
                reason=self.reason.text(),
                right=right[1:],
                wrong=wrong,
                course=self.course.currentData(),
                number=self._number(folder),
                minutes=self.minutes.value(),
                catalogue=catalogue,
                **more,
            )
        except LoopwrightError as bad:
            self._say(bad.sentence, bad=True)
            return
        except OSError as bad:
            self._say(f"The lesson cannot be written there: {bad.strerror or bad}. Choose another folder.", bad=True)
            return
        library.keep_folder(self._desk.memory, folder)
        state = f" It is a draft: {self.made.draft}." if self.made.draft else " It may be given out."
        self._say(f"{self.made.path.name} is written.{state} Lessons, Courses lists it under Own lessons.")
        self._desk.say(f"{self.made.path.name} is written.")

    def _number(self, folder: Path) -> int:
        """The next free number of its course in the folder."""
        own, _ = library.own_lessons(folder)
        return max((x.number for x in own if x.course == self.course.currentData()), default=0) + 1

    def _say(self, words: str, *, bad: bool = False) -> None:
        self.said.setObjectName("refusal" if bad else "hint")
        self.said.setText(words)
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)
