"""Fields of the properties panel: one row each, with its unit, usual range and, when refused, the reason below.

Owns what a person types until it is a value. Refuses to know parts and sheets: a field holds a value and says when a
good one was entered. A refused text stays as typed; Esc brings the last good value back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QLineEdit, QSizePolicy, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window.as_typed import as_typed, tip
from loopwright.window.switch import Switch

LABEL_WIDTH = 108
ENTRY_WIDTH, FEET_WIDTH = 82, 104
"""Width of an entry for a number, and for one in feet and inches."""
Read = Callable[[str], object]
Show = Callable[[object], str]


class Entry(QLineEdit):
    """A line of text that offers its content on Enter and on leaving, and gives it up on Esc."""

    offered = Signal(str)
    given_up = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.returnPressed.connect(self._offer)

    def _offer(self) -> None:
        self.offered.emit(self.text())

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._mine(event):
            event.accept()
            return True
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._step_back(event):
            event.ignore()  # nothing half typed to take back here: the step belongs to the drawing
            return True
        return super().event(event)

    def _step_back(self, event: QKeyEvent) -> bool:
        undo, redo = QKeySequence.StandardKey.Undo, QKeySequence.StandardKey.Redo
        return not self.isModified() and (event.matches(undo) or event.matches(redo))

    def _mine(self, event: QKeyEvent) -> bool:
        return event.key() == Qt.Key.Key_Escape and (self.isModified() or bool(self.property("refused")))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._mine(event):
            self.given_up.emit()
            event.accept()
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if self.isModified() and event.reason() != Qt.FocusReason.PopupFocusReason:
            self.offered.emit(self.text())


class Hint(QLabel):
    """Words beside an entry: as many as go into one line, all of them under the pointer."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        as_typed(self)
        self.setObjectName("hint")
        self.setWordWrap(True)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._wordings: tuple[str, ...] = ("",)

    @property
    def words(self) -> str:
        """All of it, whatever is shown."""
        return self._wordings[0]

    def show_words(self, *wordings: str) -> None:
        """Show the first that fits into the line, longest first; the last one wraps where it must."""
        self._wordings = wordings or ("",)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FontChange:
            self._fit()
        return super().event(event)

    def _fit(self) -> None:
        measure = self.fontMetrics().horizontalAdvance
        shown = next((w for w in self._wordings if measure(w) <= self.width() - 2), self._wordings[-1])
        if shown != self.text():
            self.setText(shown)
        self.setToolTip("" if shown == self.words else tip(self.words))


class Field(QWidget):
    """A row: label, entry, hint, and a sentence below when what was entered is refused."""

    entered = Signal(object)
    """A good value that differs from the one shown."""

    def __init__(self, name: str, label: str, help_text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = name
        self.setToolTip(tip(help_text))
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 1, 0, 1)
        self._grid.setHorizontalSpacing(7)
        self._grid.setVerticalSpacing(1)
        self._label = QLabel(label, self)
        as_typed(self._label)
        self._label.setFixedWidth(LABEL_WIDTH)
        self._label.setWordWrap(True)
        self._hint = Hint(self)
        self._refusal = QLabel("", self)
        as_typed(self._refusal)
        self._refusal.setObjectName("refusal")
        self._refusal.setWordWrap(True)
        self._refusal.hide()
        self._grid.addWidget(self._label, 0, 0)
        self._grid.addWidget(self._hint, 0, 2)
        self._grid.addWidget(self._refusal, 1, 1, 1, 2)
        self._grid.setColumnStretch(2, 1)

    def set_hint(self, *wordings: str) -> None:
        """Words beside the entry: the usual range, or what the value means; shorter ones for where there is no room."""
        self._hint.show_words(*wordings)

    @property
    def hint(self) -> str:
        """All the words beside the entry."""
        return self._hint.words

    def add_action(self, widget: QWidget) -> None:
        """Put a small button at the end of the row."""
        self._grid.addWidget(widget, 0, 3)

    @property
    def refusal(self) -> str:
        """Why what was entered is refused; empty when it is not."""
        return self._refusal.text()

    def refuse(self, sentence: str) -> None:
        """Say below the entry why it is refused; an empty sentence takes that back."""
        self._refusal.setText(sentence)
        self._refusal.setVisible(bool(sentence))
        self._mark(bool(sentence))

    def _mark(self, refused: bool) -> None:
        pass

    def show_value(self, value: object) -> None:
        """Show a value that came from outside; what is half typed is left alone."""
        raise NotImplementedError

    def pending(self) -> str | None:
        """Text that was typed and refused, or None."""
        return None


class TextField(Field):
    """A field that reads text with a function that may refuse it. With a unit the hint column starts right after."""

    def __init__(
        self,
        name: str,
        label: str,
        read: Read,
        show: Show,
        *,
        unit: str = "",
        help_text: str = "",
        wide: bool = False,
        feet: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(name, label, help_text, parent)
        self._read, self._show = read, show
        self._value: object = None
        self.entry = Entry(self)
        self.entry.setAccessibleName(f"{label}, in {unit}" if unit else label)
        self.entry.setAccessibleDescription(help_text)
        self._label.setBuddy(self.entry)
        if wide:
            self._grid.addWidget(self.entry, 0, 1, 1, 2)
            self._hint.hide()
        else:
            self.entry.setFixedWidth(FEET_WIDTH if feet else ENTRY_WIDTH)
            self._grid.addWidget(self.entry, 0, 1)
        if unit:
            self._unit = QLabel(unit, self.entry)
            self._unit.setObjectName("hint")
            self._unit.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            self.entry.installEventFilter(self)
            self.entry.setTextMargins(0, 0, self._unit.sizeHint().width() + 4, 0)
        self.entry.offered.connect(self._offered)
        self.entry.given_up.connect(self._given_up)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if watched is self.entry and event.type() in (QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.Polish):
            hint = self._unit.sizeHint()
            self._unit.setGeometry(self.entry.width() - hint.width() - 7, 1, hint.width(), self.entry.height() - 2)
            self.entry.setTextMargins(0, 0, hint.width() + 4, 0)
        return False

    def show_value(self, value: object) -> None:
        self._value = value
        if not self.entry.isModified() and not self.refusal:
            self._put(value)

    def _put(self, value: object) -> None:
        self.entry.setText("" if value is None else self._show(value))
        self.entry.setCursorPosition(0)
        self.entry.setModified(False)

    def restore(self, text: str) -> None:
        """Put text back that was typed and refused before, with the reason."""
        self.entry.setText(text)
        self._offered(text)

    def pending(self) -> str | None:
        return self.entry.text() if self.refusal else None

    def _offered(self, text: str) -> None:
        try:
            value = self._read(text)
        except LoopwrightError as bad:
            self.refuse(bad.sentence)
            return
        self.refuse("")
        if value == self._value or (self._value is not None and text.strip() == self._show(self._value)):
            self._put(self._value)  # what is shown may be rounded: typing it again changes nothing
            return
        self.entry.setModified(False)
        before, self._value = self._value, value
        self.entered.emit(value)
        if not self.refusal:
            self._put(self._value)
        else:  # the sheet refused it: the text stays, the last good value is the one before
            self._value = before

    def _given_up(self) -> None:
        self.refuse("")
        self._put(self._value)

    def _mark(self, refused: bool) -> None:
        if bool(self.entry.property("refused")) != refused:
            self.entry.setProperty("refused", refused)
            self.entry.style().unpolish(self.entry)
            self.entry.style().polish(self.entry)


class ChoiceField(Field):
    """A field of a few named choices."""

    def __init__(
        self,
        name: str,
        label: str,
        choices: Sequence[tuple[object, str]],
        *,
        help_text: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(name, label, help_text, parent)
        self.box = _Quiet(self)
        self.box.setAccessibleName(label)
        self.box.setAccessibleDescription(help_text)
        self._label.setBuddy(self.box)
        for value, words in choices:
            self.box.addItem(words, value)
        self._grid.addWidget(self.box, 0, 1, 1, 2)
        self._hint.hide()
        self._value: object = None
        self.box.activated.connect(self._activated)

    def show_value(self, value: object) -> None:
        self._value = value
        index = next((i for i in range(self.box.count()) if self.box.itemData(i) == value), -1)
        if index < 0 and value not in (None, ""):
            self.box.addItem(str(value), value)
            index = self.box.count() - 1
        self.box.setCurrentIndex(index)

    def _activated(self, index: int) -> None:
        value = self.box.itemData(index)
        if value != self._value:
            self.refuse("")
            self._value = value
            self.entered.emit(value)


class FlagField(Field):
    """A field that is yes or no. A value that nobody gave yet reads "not stated" until it is switched."""

    def __init__(self, name: str, label: str, *, help_text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(name, label, help_text, parent)
        self.switch = Switch(label, self)
        self.switch.setAccessibleDescription(help_text)
        self.switch.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # a click leaves the keys with the sheet
        self._label.setBuddy(self.switch)
        self._grid.addWidget(self.switch, 0, 1, Qt.AlignmentFlag.AlignLeft)
        self.switch.clicked.connect(self._clicked)

    def show_value(self, value: object) -> None:
        self.switch.setChecked(value is True)
        self.set_hint("not stated" if value is None else "yes" if value is True else "no")

    def _clicked(self, on: bool) -> None:
        self.set_hint("yes" if on else "no")
        self.entered.emit(on)


class _Quiet(QComboBox):
    """A box that the wheel turns only once it has the focus, so that scrolling a panel changes nothing."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumContentsLength(6)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
