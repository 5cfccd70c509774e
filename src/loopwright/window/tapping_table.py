"""The table of a vessel's tappings: what each cell says, what was half typed, and how its keys move.

Owns cells and keys. Refuses to change a tapping: it offers what was typed.
"""

from __future__ import annotations

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QBrush, QFont, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QTableView, QWidget

from loopwright.sheet.values import Part, Tapping
from loopwright.window.quantities import Units
from loopwright.window.subjects import PURPOSE_WORDS
from loopwright.window.theme import Theme

Index = QModelIndex | QPersistentModelIndex
HEADS = ("", "Name", "Height", "Size")
LETTER, NAME, HEIGHT, SIZE = range(4)


class TappingsModel(QAbstractTableModel):
    """Tappings from the top down. A refused text stays in its cell until it is mended or given up."""

    offered = Signal(str, int, str)
    """Letter, column, text."""

    def __init__(self, look: Theme, parent: QWidget | None = None, *, units: Units | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self._units = units or Units()
        self.taps: list[Tapping] = []
        self.pending: dict[tuple[str, int], str] = {}

    def show(self, part: Part) -> None:
        """List a vessel's tappings."""
        taps = sorted(part.tappings, key=lambda t: (t.side != "top", t.side == "bottom", -t.height_m, t.letter))
        if [t.letter for t in taps] == [t.letter for t in self.taps]:
            self.taps = taps
            if taps:
                self.dataChanged.emit(self.index(0, 0), self.index(len(taps) - 1, SIZE))
            return
        self.beginResetModel()
        self.taps = taps
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.taps)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return len(HEADS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            head = HEADS[section]
            return f"{head} m" if section == HEIGHT and self._units.system == "metric" else head
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.TextAlignmentRole:
            return int(
                (Qt.AlignmentFlag.AlignLeft if section < HEIGHT else Qt.AlignmentFlag.AlignRight)
                | Qt.AlignmentFlag.AlignVCenter
            )
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        tap = self.taps[index.row()]
        fixed = index.column() == LETTER or (index.column() == HEIGHT and tap.side in ("top", "bottom"))
        return flags if fixed else flags | Qt.ItemFlag.ItemIsEditable

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        tap = self.taps[index.row()]
        key = (tap.letter, index.column())
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            if key in self.pending:
                return self.pending[key]
            return self._text(tap, index.column(), role == Qt.ItemDataRole.EditRole)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return int(
                (Qt.AlignmentFlag.AlignLeft if index.column() < HEIGHT else Qt.AlignmentFlag.AlignRight)
                | Qt.AlignmentFlag.AlignVCenter
            )
        if role == Qt.ItemDataRole.ForegroundRole:
            if key in self.pending:
                return QBrush(self.look.colour("danger"))
            if index.column() == NAME and not tap.name:
                return QBrush(self.look.colour("ink3"))
        if role == Qt.ItemDataRole.FontRole and index.column() == LETTER:
            font = QFont(self.parent().font())  # type: ignore[union-attr]
            font.setWeight(QFont.Weight.DemiBold)
            return font
        if role == Qt.ItemDataRole.ToolTipRole and index.column() == NAME:
            return f"{tap.name or PURPOSE_WORDS.get(tap.purpose, tap.purpose)}, on the {tap.side}"
        return None

    def _text(self, tap: Tapping, column: int, edited: bool) -> str:
        if column == LETTER:
            return tap.letter
        if column == NAME:
            return tap.name or ("" if edited else PURPOSE_WORDS.get(tap.purpose, tap.purpose))
        if column == HEIGHT:
            if tap.side in ("top", "bottom"):
                return tap.side
            if edited:
                return self._units.show(tap.height_m, "m")
            return self._units.height(tap.height_m).removesuffix(" m")
        return tap.size if edited or tap.purpose != "sensor" else "pocket"

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        tap = self.taps[index.row()]
        before = self.pending.get((tap.letter, index.column()), self._text(tap, index.column(), True))
        if str(value) != before:
            self.offered.emit(tap.letter, index.column(), str(value))
        return True


class TappingsTable(QTableView):
    """Tab goes down the column; Delete takes the tapping away; Esc gives up what was refused."""

    remove = Signal()
    give_up = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Delete:
            self.remove.emit()
        elif event.key() == Qt.Key.Key_Escape and self.model().pending:  # type: ignore[attr-defined]
            self.give_up.emit()
        else:
            super().keyPressEvent(event)

    def moveCursor(self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier) -> QModelIndex:
        at = self.currentIndex()
        step = {QAbstractItemView.CursorAction.MoveNext: 1, QAbstractItemView.CursorAction.MovePrevious: -1}.get(action)
        if step is not None and at.isValid():
            row = at.row() + step
            while 0 <= row < self.model().rowCount():
                index = self.model().index(row, at.column())
                if self.model().flags(index) & Qt.ItemFlag.ItemIsEditable:
                    return index
                row += step
            return at
        return super().moveCursor(action, modifiers)
