"""The row of buttons under a lesson: check, hint, start again, the next lesson.

Owns their words and states. What they do is the panel's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from loopwright.window.panel import divider

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Attempt


class Buttons(QWidget):
    """What a learner can ask for at any time."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 2)
        column.setSpacing(6)
        column.addWidget(divider(self))
        rows = QVBoxLayout()
        rows.setContentsMargins(14, 0, 10, 0)
        rows.setSpacing(6)
        first, second = QHBoxLayout(), QHBoxLayout()
        self.check = QPushButton("Check", self)
        self.check.setProperty("primary", True)
        self.check.setToolTip("Judge the answer (Ctrl Enter). Each check after the first costs ten points.")
        self.check.setShortcut("Ctrl+Return")
        self.hint = QPushButton("Hint", self)
        self.next = QPushButton("Next lesson", self)
        self.next.setProperty("primary", True)
        self.again = QPushButton("Start again", self)
        self.again.setToolTip("Put the starting sheet back; it can be undone")
        self.live = QCheckBox("Judge while I draw", self)
        self.live.setChecked(True)
        self.live.setToolTip("Without it nothing is said until you check")
        for button in (self.check, self.hint):
            first.addWidget(button, 1)
        first.addWidget(self.again, 1)
        second.addWidget(self.live)
        second.addStretch(1)
        second.addWidget(self.next)
        rows.addLayout(first)
        rows.addLayout(second)
        column.addLayout(rows)

    def show_attempt(self, attempt: Attempt, *, has_next: bool) -> None:
        """Words and states for an attempt."""
        left = attempt.hints_left
        self.hint.setText(f"Hint ({left})" if left else "No hint left")
        self.hint.setEnabled(left > 0)
        cost = (5, 10, 15)[min(attempt.hints_taken, 2)]
        self.hint.setToolTip(f"{left} left; the next costs {cost} points" if left else "Every hint is taken")
        self.next.setVisible(has_next and attempt.passed)
