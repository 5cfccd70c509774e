"""A question with its choices: the bet before a lesson and the reason after it.

Owns the buttons and what is said of the choice. Whether it scores is the attempt's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QFrame, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from loopwright.window.desk import Desk
from loopwright.window.lesson.words import Words
from loopwright.window.panel import clear
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.lesson import Question

INSET_PX = 10
WRAPPED = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)


class Choice(QPushButton):
    """A choice whose words wrap."""

    def __init__(self, words: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.words = words
        self.setCheckable(True)
        self.setProperty("choice", True)
        self.setAccessibleName(words)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def sizeHint(self) -> QSize:
        return QSize(240, self.heightForWidth(max(self.width(), 120)))

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        room = QRect(0, 0, max(40, width - 2 * INSET_PX), 2000)
        return self.fontMetrics().boundingRect(room, WRAPPED, self.words).height() + 14

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.setFixedHeight(self.heightForWidth(self.width()))

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        with QPainter(self) as painter:
            painter.setPen(self.palette().buttonText().color())
            painter.drawText(self.rect().adjusted(INSET_PX, 6, -INSET_PX, -6), WRAPPED, self.words)


class Asked(QFrame):
    """One question. It sends the number of a choice, from 0, and shows what the owner says of it."""

    chosen = Signal(int)
    help_wanted = Signal(str)

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("asked")
        self._title = title
        self.choices: list[Choice] = []
        self._question: Question | None = None
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(10, 8, 10, 8)
        self._column.setSpacing(5)
        self._group = QButtonGroup(self)
        self._group.idClicked.connect(self.chosen)
        self.said: Words | None = None

    def ask(self, question: Question, look: Theme) -> None:
        """Show a question."""
        self._question = question
        clear(self._column)
        for button in self._group.buttons():
            self._group.removeButton(button)
        head = QLabel(self._title, self)
        head.setObjectName("group-heading")
        self._column.addWidget(head)
        words = Words(self)
        words.say(question.ask, look)
        words.wanted.connect(self.help_wanted)
        self._column.addWidget(words)
        self.choices = []
        for number, text in enumerate(question.choices):
            button = Choice(text, self)
            self._group.addButton(button, number)
            self._column.addWidget(button)
            self.choices.append(button)
        self.said = Words(self, name="hint")
        self.said.hide()
        self._column.addWidget(self.said)
        self.show()

    def say(self, words: str, look: Theme) -> None:
        """Say something of the choice that was made."""
        if self.said is not None:
            self.said.say(words, look)
            self.said.show()

    @property
    def question(self) -> Question | None:
        """What is asked."""
        return self._question

    def settle(self, chosen: int) -> None:
        """Leave the chosen one alone on show."""
        for number, button in enumerate(self.choices):
            button.setVisible(number == chosen)
            button.setEnabled(False)


class Bet(Asked):
    """The bet before a lesson: it is never scored, and told once what follows has been played."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__("Your bet; it is never scored", parent)
        self._desk = desk
        self.betted = -1
        self.chosen.connect(self._put)

    def ask(self, question: Question, look: Theme) -> None:
        """Show a bet that nobody has put yet."""
        self.betted = -1
        super().ask(question, look)

    def _put(self, choice: int) -> None:
        self.betted = choice
        self._desk.take_focus()  # the button that had it is gone, and the sheet's keys are wanted next
        self.settle(choice)
        self.say("Draw, then check: it will be played, and you will see.", self._desk.look)

    def tell(self) -> None:
        """Say how it came; nothing where nobody bet."""
        bet = self.question
        if bet is not None and self.betted >= 0:
            came = (
                "It came as you bet." if self.betted == bet.right else f"It came otherwise: {bet.choices[bet.right]}."
            )
            self.say(f"{came} {bet.because}".strip(), self._desk.look)
