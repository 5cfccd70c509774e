"""A small search that opens over the sheet: type a few letters, Enter takes the first.

Owns the line and its list. Refuses to know what is searched: it is given a function and tells what was picked.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from PySide6.QtCore import QPoint, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QIcon, QKeyEvent
from PySide6.QtWidgets import QApplication, QFrame, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

WIDE, ROWS, ROW = 260, 8, 26
MARGIN = 6


class Found(NamedTuple):
    """One row: what it stands for, its words, and its picture."""

    id: str
    words: str
    icon: QIcon | None = None


class Popup(QFrame):
    """The search. It shuts when something is picked, with Esc, and when the focus goes elsewhere."""

    picked = Signal(str)
    shut = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("popup")
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAutoFillBackground(True)
        self._search: Callable[[str], Sequence[Found]] = lambda _words: ()
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        column.setSpacing(4)
        self.line = _Line(self)
        self.line.setAccessibleName("What to look for")
        self.line.textChanged.connect(self._show)
        self.line.moved.connect(self._step)
        self.line.taken.connect(self._take)
        self.line.given_up.connect(self.close_down)
        column.addWidget(self.line)
        self.list = QListWidget(self)
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.setIconSize(QSize(22, 22))
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemClicked.connect(self._take)
        column.addWidget(self.list)
        self.setFixedWidth(WIDE)
        self.hide()

    def open(self, name: str, hint: str, search: Callable[[str], Sequence[Found]], at: QPoint) -> None:
        """Open at a place of the parent, moved so far that it lies within."""
        self._search = search
        self.line.setAccessibleName(name)
        self.line.setPlaceholderText(hint)
        self.line.clear()
        self.list.setAccessibleName(f"{name}: found")
        self._show("")
        parent = self.parentWidget()
        assert parent is not None
        room = parent.rect()
        whole = 2 * MARGIN + self.line.sizeHint().height() + 4 + ROWS * ROW
        x = max(MARGIN, min(at.x(), room.width() - WIDE - MARGIN))
        y = max(MARGIN, min(at.y(), room.height() - whole - MARGIN))
        self.move(x, y)
        self.show()
        self.raise_()
        self.line.setFocus()

    def close_down(self) -> None:
        """Shut without picking."""
        if self.isVisible():
            self.hide()
            self.shut.emit()

    def _show(self, words: str) -> None:
        self.list.clear()
        for one in self._search(words.strip()):
            item = QListWidgetItem(one.icon or QIcon(), one.words)
            item.setData(Qt.ItemDataRole.UserRole, one.id)
            item.setSizeHint(QSize(WIDE - 4 * MARGIN, ROW))
            self.list.addItem(item)
        self.list.setCurrentRow(0)
        self.list.setFixedHeight(min(max(self.list.count(), 1), ROWS) * ROW + 2)
        self.adjustSize()

    def _step(self, by: int) -> None:
        if self.list.count():
            self.list.setCurrentRow((self.list.currentRow() + by) % self.list.count())

    def _take(self, item: QListWidgetItem | None = None) -> None:
        item = item or self.list.currentItem()
        if item is not None:
            ident = str(item.data(Qt.ItemDataRole.UserRole))
            self.hide()
            self.picked.emit(ident)


class _Line(QLineEdit):
    """The line: arrows step through the list, Enter takes, Esc gives up."""

    moved = Signal(int)
    taken = Signal()
    given_up = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self.moved.emit(1 if key == Qt.Key.Key_Down else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.taken.emit()
        elif key == Qt.Key.Key_Escape:
            self.given_up.emit()
        else:
            super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        now, card = QApplication.focusWidget(), self.parentWidget()
        within = now is not None and card is not None and card.isAncestorOf(now)
        if event.reason() != Qt.FocusReason.PopupFocusReason and not within:
            self.given_up.emit()
