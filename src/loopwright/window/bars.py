"""The rows round the sheet: the tools, the condition over it, and the page for a file that was refused.

Owns their widgets. Refuses to know what the commands behind them do.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from loopwright.errors import LoopwrightError
from loopwright.window.actions import COMMANDS, Actions
from loopwright.window.as_typed import as_typed, tip
from loopwright.window.icons import icon
from loopwright.window.theme import Theme

TOOLS = tuple((c.id, c.keys[0]) for c in COMMANDS if c.group == "tool" and c.icon)
"""Those with a picture, in the order of the table of commands, and their keys."""
NARROW, SLIM = 1400, 1200
"""Below these widths of the window undo and redo go without words, and all tools do."""


class ToolRow(QWidget):
    """Tools, undo and redo, zoom, and the views of the document."""

    view_chosen = Signal(str)

    def __init__(self, actions: Actions, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("tool-row")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setFixedHeight(40)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(8, 0, 12, 0)
        self._row.setSpacing(4)
        self._wordy: dict[QToolButton, int] = {}
        for command, key in TOOLS:
            if command in actions:
                self._tool(actions, command, f"{actions[command].text()}  {key}")
        self._line()
        self._tool(actions, "undo", "Undo")
        self._tool(actions, "redo", "Redo")
        self._line()
        zoom = QLabel("Zoom", self)
        self._row.addWidget(zoom)
        self._tool(actions, "zoom_out", "")
        self.percent = QLabel("100 %", self)
        self.percent.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.percent.setMinimumWidth(48)
        self._row.addWidget(self.percent)
        self._tool(actions, "zoom_in", "")
        self._tool(actions, "zoom_fit", "Fit")
        self._rest = self._row.count()
        self._row.addStretch(1)
        self._lent: dict[str, QWidget] = {}
        self.views = QButtonGroup(self)
        self._names: list[str] = []
        self.views.idClicked.connect(self._view)

    def add_view(self, name: str, label: str) -> None:
        """Offer a view of the document; the row shows them once there are two."""
        button = QPushButton(label, self)
        button.setCheckable(True)
        button.setMinimumWidth(max(64, button.sizeHint().width()))
        self.views.addButton(button, len(self._names))
        self._names.append(name)
        self._row.addWidget(button)
        self.views.button(0).setChecked(True)
        for one in self.views.buttons():
            one.setVisible(len(self._names) > 1)

    def show_view(self, name: str) -> None:
        """Mark a view as the one on show; none for a view without a button."""
        self.views.setExclusive(name in self._names)
        for number, other in enumerate(self._names):
            self.views.button(number).setChecked(other == name)
        self.views.setExclusive(True)
        self._show_row(name)

    def lend(self, view: str, row: QWidget) -> None:
        """Show a view's own choices in place of the tools while it is in front."""
        if view not in self._lent:
            self._lent[view] = row
            self._row.insertWidget(self._rest, row, 100)
        self._show_row(view)

    def _show_row(self, view: str) -> None:
        """Tools while the sheet is in front; they make no sense over any other view."""
        buttons, lent = self.views.buttons(), list(self._lent.values())
        for k in range(self._row.count()):
            item = self._row.itemAt(k)
            widget = item.widget() if item is not None else None
            if widget is not None and widget not in buttons:
                widget.setVisible(widget is self._lent.get(view) if widget in lent else view == "draw")

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window undo and redo, whose pictures everybody knows, go without words, then all tools."""
        super().resizeEvent(event)
        style = Qt.ToolButtonStyle
        for button, least in self._wordy.items():
            button.setToolButtonStyle(
                style.ToolButtonIconOnly if self.width() < least else style.ToolButtonTextBesideIcon
            )

    def _view(self, number: int) -> None:
        self.view_chosen.emit(self._names[number])

    def _line(self) -> None:
        self._row.addSpacing(4)
        line = QFrame(self)
        line.setObjectName("bar")
        line.setFixedSize(1, 22)
        self._row.addWidget(line)
        self._row.addSpacing(4)

    def _tool(self, actions: Actions, command: str, words: str) -> None:
        button = QToolButton(self)
        button.setDefaultAction(actions[command])
        button.setIconSize(QSize(18, 18))
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.setAccessibleName(actions[command].text())
        if words:
            button.setText(words)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        else:
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)
        button.setProperty("words", words)
        if words and command != "zoom_fit":
            self._wordy[button] = NARROW if command in ("undo", "redo") else SLIM
        self._row.addWidget(button)
        actions[command].changed.connect(self._keep_words)

    def _keep_words(self) -> None:
        """An action that changes writes its whole text on its button; put the short one back."""
        for button in self.findChildren(QToolButton):
            words = button.property("words")
            if words and button.text() != words:
                button.setText(str(words))


class Elided(QLabel):
    """A line that ends in dots where there is no room for all of it, and says all of it under the pointer."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        as_typed(self)
        self.whole = ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def show_words(self, words: str) -> None:
        """Show other words."""
        self.whole = words
        self.setToolTip(tip(words))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setText(self.fontMetrics().elidedText(self.whole, Qt.TextElideMode.ElideRight, self.width()))


class ConditionBar(QFrame):
    """The condition over the sheet: what it is, what moves in it, and the way in or out."""

    toggled = Signal()

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("condition-bar")
        self.setFixedHeight(34)
        self._look = look
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 0, 8, 0)
        row.setSpacing(8)
        self._icon = QLabel(self)
        self.name = QLabel("Normal running", self)
        self.name.setObjectName("condition-name")
        as_typed(self.name)
        self.words = Elided(self)
        self.button = QPushButton("Try a power cut  Shift F6", self)
        self.button.setFixedHeight(26)
        self.button.clicked.connect(self.toggled)
        row.addWidget(self._icon)
        row.addWidget(self.name)
        row.addWidget(self.words, 1)
        row.addWidget(self.button)
        self._abnormal = False
        self._called = self.name.text()
        self.set_look(look)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        name, token = ("bolt", "on_accent") if self._abnormal else ("tick", "ok")
        self._icon.setPixmap(icon(name, look[token], size=16).pixmap(16, 16))

    def show_condition(self, name: str, words: str, abnormal: bool) -> None:
        """Show a condition's name and what it means."""
        self._called = name
        self.name.setToolTip(tip(name))
        self._shorten()
        self.words.show_words(words)
        self.button.setText("Back to normal  Esc" if abnormal else "Try a power cut  Shift F6")
        if abnormal != self._abnormal:
            self._abnormal = abnormal
            self.setProperty("abnormal", abnormal)
            for widget in (self, *self.findChildren(QWidget)):
                widget.style().unpolish(widget)
                widget.style().polish(widget)
        self.set_look(self._look)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._shorten()

    def _shorten(self) -> None:
        """A long name leaves room for what it means."""
        room = max(120, (self.width() - self.button.sizeHint().width()) // 2)
        metrics = self.name.fontMetrics()
        self.name.setText(metrics.elidedText(self._called, Qt.TextElideMode.ElideMiddle, room))


class RefusedPage(QWidget):
    """A file that was not opened: what is wrong, where, and what to do. The sheet before it stays open."""

    closed = Signal()
    another = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("refused-page")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        page = QVBoxLayout(self)
        page.setContentsMargins(32, 32, 32, 32)
        page.setSpacing(12)
        self.title = QLabel("", self)
        self.title.setObjectName("page-heading")
        self._lines = [QLabel("", self) for _ in range(3)]
        as_typed(self.title, *self._lines)
        page.addStretch(1)
        page.addWidget(self.title)
        for label in self._lines:
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            page.addWidget(label)
        row = QHBoxLayout()
        back = QPushButton("Back to the sheet", self)
        back.setProperty("primary", True)
        back.clicked.connect(self.closed)
        other = QPushButton("Open another", self)
        other.clicked.connect(self.another)
        row.addWidget(back)
        row.addWidget(other)
        row.addStretch(1)
        page.addLayout(row)
        page.addStretch(2)

    def show_refusal(self, name: str, bad: LoopwrightError) -> None:
        """Show why a file was not opened."""
        self.title.setText(f"{name} was not opened")
        for label, text in zip(self._lines, _sentences(bad)):
            label.setText(text)
            label.setVisible(bool(text))


def _sentences(bad: LoopwrightError) -> Sequence[str]:
    return [f"{text.rstrip('.')}." if text else "" for text in (bad.what, bad.where, bad.do)]
