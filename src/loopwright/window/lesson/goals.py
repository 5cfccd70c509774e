"""The goal of a lesson as a list: met, open or not yet for each condition, and what else stands in the way.

Owns the rows. What holds is judged by `lessons.attempt`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from loopwright.window.badges import badge_pixmap
from loopwright.window.icons import icon
from loopwright.window.lesson.words import Words
from loopwright.window.panel import clear
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Told, Verdict
    from loopwright.lessons.watercourse import Judged

SIDE_PX = 16
WORDS = {"met": "Met", "unmet": "Open", "not yet": "Not yet"}


def state_pixmap(state: str, look: Theme, ratio: float = 2.0) -> QPixmap:
    """A tick, an open ring, or a dotted ring for what is not finished."""
    if state == "met":
        return icon("tick", look["ok"], size=SIDE_PX).pixmap(SIDE_PX, SIDE_PX)
    picture = QPixmap(round(SIDE_PX * ratio), round(SIDE_PX * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    with QPainter(picture) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        pen = QPen(look.colour("ink2" if state == "unmet" else "ink3"), 1.6)
        if state != "unmet":
            pen.setStyle(Qt.PenStyle.DotLine)
        painter.setPen(pen)
        painter.drawEllipse(QRectF(2.5, 2.5, SIDE_PX - 5, SIDE_PX - 5))
    return picture


class Row(QFrame):
    """A picture and a sentence; a click or Enter lights on the sheet what it is about."""

    wanted = Signal(object, str)
    """Ids to light, and the colour's token."""

    def __init__(self, picture: QPixmap, text: str, spoken: str, ids: tuple[str, ...], token: str, look: Theme) -> None:
        super().__init__()
        self.setObjectName("goal-row")
        self._ids, self._token = ids, token
        row = QHBoxLayout(self)
        row.setContentsMargins(2, 2, 2, 2)
        row.setSpacing(7)
        mark = QLabel(self)
        mark.setPixmap(picture)
        mark.setFixedWidth(round(picture.width() / picture.devicePixelRatio()))
        row.addWidget(mark, 0, Qt.AlignmentFlag.AlignTop)
        self.words = Words(self)
        self.words.say(text, look, lit=False)
        row.addWidget(self.words, 1)
        self.setAccessibleName(spoken)
        self.words.setAccessibleName(spoken)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        if ids:
            self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self.setToolTip("Click to see it on the sheet")
            self.setCursor(Qt.CursorShape.PointingHandCursor)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self._ids:
            self.wanted.emit(self._ids, self._token)
        super().mousePressEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space) and self._ids:
            self.wanted.emit(self._ids, self._token)
        else:
            super().keyPressEvent(event)


class GoalList(QWidget):
    """Conditions, findings on the lesson's subject, and harm outside it."""

    wanted = Signal(object, str)
    help_wanted = Signal(str)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._last: tuple[Verdict | None, bool] = (None, False)
        self.rows: list[Row] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(2)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        verdict, silent = self._last
        if verdict is not None:
            self.show_verdict(verdict, silent=silent)

    def show_verdict(self, verdict: Verdict, *, silent: bool = False) -> None:
        """Show how the goal stands; `silent` shows only how many conditions there are."""
        self._last = (verdict, silent)
        clear(self._column)
        self.rows = []
        if silent:
            many = len(verdict.conditions)
            self._hint(f"{many} condition{'' if many == 1 else 's'}, judged when you check.")
            return
        for condition in verdict.conditions:
            self._condition(condition)
        said = {c.said for c in verdict.conditions}
        new = [t for t in verdict.findings if t.said not in said and not self._in(t, verdict.harm)]
        self._told("The rules say", new)
        self._told("Outside this lesson, but do not leave it so", verdict.harm)
        for beyond in verdict.outside:
            self._row("fault", beyond.said, (beyond.id,) if beyond.id else ())
        if verdict.others:
            many = verdict.others
            self._hint(f"{many} other finding{'' if many == 1 else 's'} not for this lesson.")

    @staticmethod
    def _in(told: Told, others: Sequence[Told]) -> bool:
        return any((told.rule, told.said) == (o.rule, o.said) for o in others)

    def _condition(self, judged: Judged) -> None:
        state = str(judged.state)
        ids = tuple(dict.fromkeys((*judged.path, *judged.ids)))
        token = judged.severity or ("ok" if judged.met else "accent")
        spoken = f"{WORDS[state]}: {judged.said}"
        self._add(Row(state_pixmap(state, self._look), judged.said, spoken, ids, token, self._look))

    def _told(self, title: str, told: Sequence[Told]) -> None:
        if told:
            head = QLabel(title, self)
            head.setObjectName("group-heading")
            head.setWordWrap(True)
            self._column.addSpacing(4)
            self._column.addWidget(head)
        for one in told:
            self._row(one.severity, one.said, tuple(dict.fromkeys((*one.path, *one.ids))))

    def _row(self, severity: str, said: str, ids: tuple[str, ...]) -> None:
        picture = badge_pixmap(severity, "", self._look, size=6.0)
        self._add(Row(picture, said, f"{severity}: {said}", ids, severity, self._look))

    def _add(self, row: Row) -> None:
        row.wanted.connect(self.wanted)
        row.words.wanted.connect(self.help_wanted)
        self.rows.append(row)
        self._column.addWidget(row)

    def _hint(self, text: str) -> None:
        label = QLabel(text, self)
        label.setObjectName("hint")
        label.setWordWrap(True)
        self._column.addWidget(label)
