"""A practice sheet beside its marks: how many faults are hidden, the marks, and what a check finds.

Owns the walk through one exercise. The faults are hidden and judged by `lessons.practice`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from loopwright.window.desk import Desk
from loopwright.window.lesson.task import TaskPanel
from loopwright.window.lesson.watch import nothing_shown
from loopwright.window.lesson.words import Words, called
from loopwright.window.panel import divider
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.practice import Exercise, Grade
    from loopwright.sheet.values import Sheet


class ExercisePanel(TaskPanel):
    """The exercise of a sheet."""

    place, title = "exercise", "Exercise"

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent, reasons=False)
        self.exercise: Exercise | None = None
        self.sound: Sheet | None = None
        self.grade: Grade | None = None
        self.checks = 0
        self.task = Words(self)
        self.task.wanted.connect(desk.help)
        self.about = QLabel("", self)
        self.about.setObjectName("hint")
        self.about.setWordWrap(True)
        self.marks.mark.setText("Mark as a fault")
        self.said = QLabel("", self)
        self.said.setObjectName("group-heading")
        self.said.setWordWrap(True)
        self.said.hide()
        for widget in (self.heading, self.task, self.about, self.marks, self.said, self.found):
            self.column.addWidget(widget)
        self.column.addStretch(1)
        self._add_buttons()

    def _add_buttons(self) -> None:
        self.panel.body.addWidget(divider(self))
        row = QHBoxLayout()
        row.setContentsMargins(14, 4, 10, 4)
        self.check_button = QPushButton("Check", self)
        self.check_button.setProperty("primary", True)
        self.check_button.setShortcut("Ctrl+Return")
        self.check_button.clicked.connect(self.check)
        self.show_button = QPushButton("Show what is hidden", self)
        self.show_button.clicked.connect(self.show_hidden)
        self.more = QPushButton("Another", self)
        self.more.setToolTip("Hide other faults in a sound sheet")
        self.more.clicked.connect(self._another)
        for button in (self.check_button, self.show_button, self.more):
            row.addWidget(button)
        row.addStretch(1)
        self.panel.body.addLayout(row)

    # ---- an exercise comes and goes

    def begin(self, exercise: Exercise, sound: Sheet) -> None:
        """Show an exercise whose sheet is on the sheet; `sound` is the sheet in which it was hidden."""
        self.exercise, self.sound, self.grade, self.checks = exercise, sound, None, 0
        self.found.begin()
        self.found.end()
        self.said.hide()
        self._show_texts()
        self._begin()

    def _begun_on(self) -> Sheet | None:
        return self.exercise.sheet if self.exercise is not None else None

    def _forget(self) -> None:
        self.exercise = None

    def _take_over(self) -> None:
        self._lend(None, 150)
        if self.exercise is not None:
            self.marking.begin()
            self._desk.sift(nothing_shown)
        self._desk.refresh()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.found.set_look(look)
        self.marks.fill()
        if self.exercise is not None:
            self._show_texts()
            self._show_grade()

    def _show_texts(self) -> None:
        exercise = self.exercise
        assert exercise is not None
        count = len(exercise.hidden)
        self.heading.setText(self._desk.sheet.title)
        one = "One fault is" if count == 1 else f"{count} faults are"
        self.task.say(
            f"{one} hidden on this sheet. Follow the water, then switch everything off and look again. Mark whatever "
            "is at fault; any part of a fault counts.",
            self._desk.look,
        )
        few = f" {exercise.asked} were asked for; no more could be told apart here." if count < exercise.asked else ""
        self.about.setText(f"Seed {exercise.seed}, difficulty {exercise.difficulty}.{few}")

    # ---- checking

    def check(self) -> None:
        """Judge the marks."""
        from loopwright.lessons.practice import grade

        if self.exercise is None:
            return
        self.checks += 1
        self.grade = grade(self.exercise, self.marking.marks())
        self._show_grade()
        self._desk.say(self.said.text())

    def _show_grade(self, *, hidden: bool = False) -> None:
        grade, exercise = self.grade, self.exercise
        if grade is None or exercise is None:
            return
        count, found = len(exercise.hidden), len(grade.found)
        said = f"{found} of {count} found."
        if grade.wrong:
            said += f" {len(grade.wrong)} marked where nothing is wrong."
        if found == count and not grade.wrong:
            said = f"All {count} found." if count > 1 else "The fault is found."
        self.said.setText(said)
        self.said.show()
        self.found.begin()
        for fault in grade.found:
            self.found.add("met", f"{fault.reason} {fault.repair}", (*fault.culprits, fault.subject))
        for fault in grade.missed:
            if hidden:
                self.found.add("unmet", f"{fault.reason} {fault.repair}", fault.at)
            else:
                self.found.add("unmet", f"One is hidden still, about {self._theme(fault.rule)}.", ())
        for name in grade.wrong:
            words = called(self._desk.sheet, self._desk.catalogue, name)
            self.found.add("sound", f"{words[:1].upper()}{words[1:]} is sound.", (name,))
        self.found.end()

    @staticmethod
    def _theme(rule: str) -> str:
        from loopwright.window.help_pages import THEMES

        theme = rule.partition("/")[0]
        return THEMES.get(theme, theme).lower()

    def show_hidden(self) -> None:
        """Tell what is hidden and light it."""
        from loopwright.lessons.practice import grade

        if self.exercise is None:
            return
        self.grade = grade(self.exercise, self.marking.marks())
        self._show_grade(hidden=True)
        self._desk.light([i for h in self.exercise.hidden for i in h.at], "fault")

    def _another(self) -> None:
        from loopwright.window.lesson.practice import PracticeDialog

        PracticeDialog(self._desk, of=self).open()
