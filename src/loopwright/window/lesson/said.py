"""What a check says: the one sentence to read first, what follows, what was put right, what is offered, the points.

Owns the box. What is said comes from `lessons.saying`, in its own words.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loopwright.window.badges import badge_pixmap
from loopwright.window.lesson.goals import Row, state_pixmap
from loopwright.window.lesson.words import Words, called
from loopwright.window.panel import clear
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Attempt, Verdict
    from loopwright.lessons.findfaults import Marks
    from loopwright.lessons.saying import Feedback
    from loopwright.window.desk import Desk

OFFERS = {"hint": "Take a hint", "answer": "Show one answer; the lesson is then worth 40", "next": "Next lesson"}


class Said(QFrame):
    """The answer to a check."""

    offered = Signal(str)
    help_wanted = Signal(str)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self.setObjectName("lesson-said")
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(5)
        self.head = QLabel("", self)
        self.head.setObjectName("group-heading")
        row = QHBoxLayout()
        self.score = QLabel("", self)
        self.score.setObjectName("group-heading")
        row.addWidget(self.head)
        row.addStretch(1)
        row.addWidget(self.score)
        column.addLayout(row)
        self.right, self.words, self.follows = Words(self), Words(self), Words(self)
        self.follows.setObjectName("lesson-follows")
        for words in (self.right, self.words, self.follows):
            words.wanted.connect(self.help_wanted)
            column.addWidget(words)
        self.offer = QPushButton("", self)
        self.offer.setProperty("link", True)
        self._offer = ""
        self.offer.clicked.connect(self._take_offer)
        column.addWidget(self.offer, 0, Qt.AlignmentFlag.AlignLeft)
        self.hide()

    def _take_offer(self) -> None:
        self.offered.emit(self._offer)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        for words in (self.right, self.words, self.follows):
            words.set_look(look)

    def show_feedback(self, said: Feedback, follows: str, verdict: Verdict, attempt: Attempt) -> None:
        """Show what a check says."""
        self.setProperty("passed", verdict.passed)
        self.style().unpolish(self)
        self.style().polish(self)
        open_ = "Not yet" if verdict.finished else "Not finished"
        self.head.setText("The task is done" if verdict.passed else open_)
        self.right.say("Put right: " + " ".join(said.right) if said.right else "", self._look)
        self.right.setVisible(bool(said.right) and not verdict.passed)
        self.words.say(said.say, self._look, lit=False)
        told = follows if follows != said.say else ""
        self.follows.say(told, self._look, lit=False)
        self.follows.setVisible(bool(told) and (said.play or verdict.passed))
        self._offer = said.offer if said.offer in OFFERS and said.offer != "next" else ""
        if said.offer == "hint" and not attempt.hints_left:
            self._offer = ""
        self.offer.setText(OFFERS.get(self._offer, ""))
        self.offer.setVisible(bool(self._offer))
        self.show_score(attempt, verdict)
        self.show()

    def show_score(self, attempt: Attempt, verdict: Verdict | None = None) -> None:
        """The points so far."""
        points = attempt.score(verdict)
        faults = attempt.lesson.sort == "faults"
        if faults and verdict is None:
            return
        self.score.setText(f"{points} of 100" if attempt.passed or faults else f"Check {attempt.checks}")


class FoundList(QWidget):
    """How the marks of a sheet of faults stand: found, for another reason, sound, and how many are still hidden."""

    wanted = Signal(object, str)
    help_wanted = Signal(str)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(2)
        self.rows: list[Row] = []
        self.hide()

    def set_look(self, look: Theme) -> None:
        """Take another theme, from the next check on."""
        self._look = look

    def show_marks(self, marks: Marks, desk: Desk) -> None:
        """Show marks that were judged."""
        from loopwright.lessons.findfaults import marks_in

        marked = marks_in(desk.sheet)
        self.begin()
        for fault in marks.found:
            self.add("met", f"Found. {fault.why}", fault.at)
        for fault in marks.part_only:
            names = ", ".join(called(desk.sheet, desk.catalogue, i) for i in fault.at if i in marked)
            self.add("unmet", f"{names[:1].upper()}{names[1:]} is at fault, for another reason. Look again.", fault.at)
        for decoy in marks.decoys:
            self.add("sound", f"Sound, though it looks odd. {decoy.why}", decoy.at)
        for part in marks.false:
            name = called(desk.sheet, desk.catalogue, part)
            self.add("sound", f"{name[:1].upper()}{name[1:]} is sound.", (part,))
        self.end()

    def begin(self) -> None:
        """Empty it."""
        clear(self._column)
        self.rows = []
        head = QLabel("Your marks", self)
        head.setObjectName("group-heading")
        self._column.addWidget(head)

    def add(self, state: str, text: str, ids: Iterable[str]) -> None:
        """One line: `met`, `unmet`, or `sound` for what was marked wrongly."""
        look = self._look
        picture = badge_pixmap("advice", "", look, size=6.0) if state == "sound" else state_pixmap(state, look)
        row = Row(picture, text, text, tuple(ids), {"met": "ok", "sound": "advice"}.get(state, "accent"), look)
        row.wanted.connect(self.wanted)
        row.words.wanted.connect(self.help_wanted)
        self._column.addWidget(row)
        self.rows.append(row)

    def end(self) -> None:
        """Show it, or nothing where no line was added."""
        self.setVisible(bool(self.rows))
