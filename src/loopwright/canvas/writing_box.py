"""A line or a few lines of text typed on the sheet itself: notes, names of floors.

Owns the box and its two ways out. Refuses to know what the text is for.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from loopwright.canvas.fonts import sheet_font

FONT_PX = 13
LEAST_WIDE, LINE_PX, ROOM_PX = 150, 18, 10


class WritingBox(QPlainTextEdit):
    """Enter or a click elsewhere keeps what is typed, Esc does not, Shift Enter begins another line."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._done: Callable[[str], object] = lambda _text: None
        self._left: Callable[[], object] | None = None
        self._before = ""
        self._lines = True
        self.setFont(sheet_font(FONT_PX, 400))
        self.setTabChangesFocus(True)
        self.setAccessibleName("Words on the sheet")
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.textChanged.connect(self._fit)
        self.hide()

    def open(
        self,
        name: str,
        text: str,
        at: QPoint,
        done: Callable[[str], object],
        *,
        lines: bool = True,
        left: Callable[[], object] | None = None,
    ) -> None:
        """Type at a place of the parent, the whole text chosen. `done` gets the text when it was changed and kept;
        `left` is called after Esc."""
        self._before, self._done, self._lines, self._left = text, done, lines, left
        self.setAccessibleName(name)
        self.setPlainText(text)
        self.selectAll()
        self.move(at)
        self._fit()
        self.show()
        self.raise_()
        self.setFocus()

    def keep(self) -> None:
        """Keep what is typed and shut."""
        if not self.isVisible():
            return
        text, done = self.toPlainText().strip(), self._done
        self._shut()
        if text != self._before:
            done(text)

    def _shut(self) -> None:
        held = self.hasFocus()
        self.hide()
        parent = self.parentWidget()
        if held and parent is not None:
            parent.setFocus()

    def _fit(self) -> None:
        lines = self.toPlainText().split("\n")
        wide = max(self.fontMetrics().horizontalAdvance(line) for line in lines) + 3 * ROOM_PX
        self.resize(max(LEAST_WIDE, wide), len(lines) * LINE_PX + ROOM_PX)
        parent = self.parentWidget()
        if parent is not None:  # what is typed stays in view
            self.move(max(0, min(self.x(), parent.width() - self.width())), self.y())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.key() == Qt.Key.Key_Escape:
            self._shut()
            if self._left is not None:
                self._left()
        elif enter and not (self._lines and event.modifiers() & Qt.KeyboardModifier.ShiftModifier):
            self.keep()
        else:
            super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() not in (Qt.FocusReason.PopupFocusReason, Qt.FocusReason.ActiveWindowFocusReason):
            self.keep()
