"""The box that hides faults in a sound sheet: how many, and the number that gives the same ones again.

Owns the two fields. The faults are hidden by `lessons.practice`.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
)

from loopwright.errors import LoopwrightError
from loopwright.window.desk import Desk
from loopwright.window.panel import counter

if TYPE_CHECKING:
    from loopwright.lessons.practice import Exercise
    from loopwright.sheet.values import Sheet
    from loopwright.window.jobs import Task
    from loopwright.window.lesson.exercise import ExercisePanel

MOST_SEED = 99_999


class PracticeDialog(QDialog):
    """How many faults, and which."""

    def __init__(self, desk: Desk, of: ExercisePanel | None = None) -> None:
        """`of`: an exercise whose sound sheet is to be used again."""
        super().__init__(desk.window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Practice on this sheet")
        self.setMinimumWidth(400)
        self._desk = desk
        self._task: Task | None = None
        exercise = of.exercise if of is not None else None
        self._sheet: Sheet = of.sound if of is not None and of.sound is not None else desk.sheet
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 14, 14, 14)
        column.setSpacing(10)
        words = QLabel(
            "Faults are hidden in a copy of this sheet, in a tab of its own. Mark what is at fault, then check.", self
        )
        words.setWordWrap(True)
        column.addWidget(words)
        form = QFormLayout()
        form.setHorizontalSpacing(12)
        self.faults, self.seed = counter(self), counter(self)
        self.faults.setRange(1, 10)
        self.faults.setValue(len(exercise.hidden) if exercise is not None else 3)
        self.faults.setAccessibleName("How many faults")
        self.seed.setRange(0, MOST_SEED)
        self.seed.setAccessibleName("Seed")
        self.seed.setToolTip("The same number hides the same faults again")
        other = QPushButton("Another", self)
        other.clicked.connect(self._roll)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.seed, 1)
        row.addWidget(other)
        form.addRow("Faults", self.faults)
        form.addRow("Seed", row)
        column.addLayout(form)
        self.said = QLabel("The same seed hides the same faults again.", self)
        self.said.setObjectName("hint")
        self.said.setWordWrap(True)
        column.addWidget(self.said)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel, self)
        self.start = QPushButton("Start", self)
        self.start.setProperty("primary", True)
        buttons.addButton(self.start, QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(self._start)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.finished.connect(self._stop)
        self._roll()
        self.faults.setFocus()

    def _roll(self) -> None:
        self.seed.setValue(random.SystemRandom().randrange(1, MOST_SEED))

    def _start(self) -> None:
        sheet, catalogue = self._sheet, self._desk.catalogue
        seed, faults = self.seed.value(), self.faults.value()
        self.start.setEnabled(False)
        self._say("Faults are being hidden…", "hint")

        def work(_task: object) -> Any:
            from loopwright.lessons.practice import practice

            return practice(sheet, catalogue, seed, faults)

        def done(exercise: Exercise) -> None:
            self.accept()
            self._desk.lessons.begin_exercise(exercise, sheet)

        def failed(bad: LoopwrightError) -> None:
            self.start.setEnabled(True)
            self._say(bad.sentence, "refusal")

        self._task = self._desk.work(work, done, failed)

    def _say(self, words: str, name: str) -> None:
        self.said.setObjectName(name)
        self.said.setText(words)
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)

    def _stop(self) -> None:
        if self._task is not None and not self._task.over:
            self._task.cancel()
