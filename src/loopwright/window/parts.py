"""The parts tree: every kind by group, found by trade name or synonym, picked by click, Enter or drag.

Owns the tree and its search. Refuses to know how a part gets on the sheet: it says which kind was picked.
"""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QByteArray, QMimeData, QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QToolButton,
    QTreeView,
    QWidget,
)

from loopwright.catalogue import Catalogue, Kind
from loopwright.window.as_typed import tip
from loopwright.window.icons import icon, symbol_icon
from loopwright.window.panel import Panel
from loopwright.window.theme import Theme

MIME = "application/x-loopwright-kind"
KIND = Qt.ItemDataRole.UserRole + 1


class _Kinds(QStandardItemModel):
    """The tree's model; a dragged row carries its kind's id. A symbol is drawn when its row is first seen."""

    def __init__(self, catalogue: Catalogue, parent: QWidget) -> None:
        super().__init__(parent)
        self._catalogue = catalogue
        self.look: Theme | None = None

    def data(self, index: QModelIndex | QPersistentModelIndex, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role == Qt.ItemDataRole.DecorationRole and index.column() == 0 and self.look is not None:
            found = super().data(index, KIND)
            if not found:
                return None
            kind = self._catalogue[found]
            shape = kind.width_m / kind.height_m if kind.height_m else 1.0
            return symbol_icon(kind.symbol, self.look["ink"], self.look["panel"], shape)
        return super().data(index, role)

    def mimeTypes(self) -> list[str]:
        return [MIME]

    def mimeData(self, indexes: Iterable[QModelIndex]) -> QMimeData:
        data = QMimeData()
        found = [i.data(KIND) for i in indexes if i.data(KIND)]
        if found:
            data.setData(MIME, QByteArray(str(found[0]).encode()))
        return data


class _Tree(QTreeView):
    """A tree in which Enter picks a kind and opens or shuts a group."""

    chosen = Signal(QModelIndex)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            index = self.currentIndex()
            if index.data(KIND):
                self.chosen.emit(index)
            elif index.isValid():
                self.setExpanded(index.siblingAtColumn(0), not self.isExpanded(index.siblingAtColumn(0)))
            return
        super().keyPressEvent(event)


class _Search(QLineEdit):
    """The search line: Down goes into the tree, Esc empties it."""

    down = Signal()
    left = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Down:
            self.down.emit()
        elif event.key() == Qt.Key.Key_Escape:
            if self.text():
                self.clear()
            else:
                self.left.emit()
        else:
            super().keyPressEvent(event)


class PartsPanel(Panel):
    """The searchable tree of kinds."""

    picked = Signal(str)
    """The id of the kind to place."""
    left = Signal()
    """Esc in the empty search line: the focus may go back to the sheet."""

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Parts", parent, margin=0)
        self._catalogue = catalogue
        self._look = look
        self._opened: set[str] = set()
        self._allowed: frozenset[str] | None = None
        self.aside.setText(f"{len(catalogue)} kinds")
        self.search = _Search(self)
        self.search.setPlaceholderText("Find a part")
        self.search.setClearButtonEnabled(True)
        self.search.setAccessibleName("Find a part")
        self.search.setAccessibleDescription("Type a trade name or another word for it; Enter picks the first")
        self.search.setFixedHeight(30)
        self._glass = self.search.addAction(icon("find", look["ink3"]), QLineEdit.ActionPosition.LeadingPosition)
        for button in self.search.findChildren(QToolButton):
            button.setAccessibleName("Find a part" if button.defaultAction() is self._glass else "Empty the search")
        self.body.addSpacing(2)
        inset = QWidget(self)
        row = QHBoxLayout(inset)
        row.setContentsMargins(12, 0, 12, 6)
        row.addWidget(self.search)
        self.body.addWidget(inset)
        self.tree = _Tree(self)
        self.tree.setAccessibleName("Kinds of part")
        self.model = _Kinds(catalogue, self)
        self.model.look = look
        self.model.setColumnCount(2)
        self.tree.setModel(self.model)
        self.tree.setHeaderHidden(True)
        self.tree.setIndentation(13)
        self.tree.setIconSize(QSize(24, 24))
        self.tree.setUniformRowHeights(True)
        self.tree.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.tree.setDragEnabled(True)
        self.tree.setDragDropMode(QAbstractItemView.DragDropMode.DragOnly)
        self.tree.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.tree.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.tree.setAllColumnsShowFocus(True)
        header = self.tree.header()
        header.setStretchLastSection(False)
        header.setMinimumSectionSize(28)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Fixed)
        header.resizeSection(1, 34)
        beside = QHBoxLayout()
        beside.setContentsMargins(6, 0, 4, 0)
        beside.addWidget(self.tree)
        self.body.addLayout(beside, 1)
        self.nothing = QLabel("No part is called that. Try another trade word.", self)
        self.nothing.setObjectName("hint")
        self.nothing.setWordWrap(True)
        self.nothing.setContentsMargins(14, 4, 14, 10)
        self.nothing.hide()
        self.body.addWidget(self.nothing, 1, Qt.AlignmentFlag.AlignTop)
        self.search.textChanged.connect(self._filter)
        self.search.returnPressed.connect(self._pick_first)
        self.search.down.connect(self._into_tree)
        self.search.left.connect(self.left)
        self.tree.clicked.connect(self._clicked)
        self.tree.chosen.connect(self._pick)
        self.tree.expanded.connect(self._expanded)
        self.tree.collapsed.connect(self._collapsed)
        self._fill(catalogue.groups(), opened=set())

    def set_look(self, look: Theme) -> None:
        """Redraw the symbols in another theme's ink."""
        self._look = self.model.look = look
        self._glass.setIcon(icon("find", look["ink3"]))
        self._filter(self.search.text())

    def allow(self, kinds: frozenset[str] | None) -> None:
        """Show only these kinds, all of them open, or every kind."""
        self._allowed = kinds
        groups = self._groups()
        self.aside.setText(f"{sum(map(len, groups.values()))} kinds")
        self._opened = set(groups) if kinds is not None else set()
        self._filter(self.search.text())

    def _groups(self) -> dict[str, list[Kind]]:
        found = {name: [k for k in kinds if self.lets(k)] for name, kinds in self._catalogue.groups().items()}
        return {name: kinds for name, kinds in found.items() if kinds}

    def lets(self, kind: Kind) -> bool:
        """Whether a kind may be placed: a lesson lends only some."""
        return self._allowed is None or kind.id in self._allowed

    def let_go(self) -> None:
        """Drop the highlight when the place tool was put down."""
        self.tree.clearSelection()

    def _fill(self, groups: dict[str, list[Kind]], opened: set[str]) -> None:
        self.tree.blockSignals(True)
        self.model.clear()
        self.model.setColumnCount(2)
        for name, kinds in groups.items():
            group = QStandardItem(name)
            font = group.font()
            font.setWeight(font.Weight.DemiBold)
            group.setFont(font)
            group.setSelectable(False)
            group.setDragEnabled(False)
            count = QStandardItem(str(len(kinds)))
            count.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            count.setForeground(self._look.colour("ink3"))
            count.setSelectable(False)
            count.setDragEnabled(False)
            for kind in kinds:
                row = QStandardItem(kind.name)
                row.setData(kind.id, KIND)
                row.setToolTip(tip(f"{kind.name}. {kind.help}"))
                row.setData(f"{kind.name}. {kind.help}", Qt.ItemDataRole.AccessibleTextRole)
                blank = QStandardItem("")
                blank.setData(kind.id, KIND)
                group.appendRow([row, blank])
            self.model.appendRow([group, count])
        header = self.tree.header()
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Fixed)
        header.resizeSection(1, 34)
        for i in range(self.model.rowCount()):
            index = self.model.index(i, 0)
            self.tree.setExpanded(index, index.data() in opened)
            for k in range(self.model.rowCount(index)):
                self.tree.setFirstColumnSpanned(k, index, True)
        self.tree.blockSignals(False)

    def _filter(self, words: str) -> None:
        words = words.strip()
        if not words:
            self._fill(self._groups(), self._opened)
            found = True
        else:
            from loopwright.lessons.glossary import search  # read when somebody types, not when the window opens

            groups: dict[str, list[Kind]] = {}
            for kind in filter(self.lets, search(self._catalogue, words)):
                groups.setdefault(kind.group, []).append(kind)
            self._fill(groups, set(groups))
            found = bool(groups)
            first = self._first()
            if first.isValid():
                self.tree.setCurrentIndex(first)
        self.tree.setVisible(found)
        self.nothing.setVisible(not found)

    def _first(self) -> QModelIndex:
        for i in range(self.model.rowCount()):
            child = self.model.index(0, 0, self.model.index(i, 0))
            if child.isValid():
                return child
        return QModelIndex()

    def _pick_first(self) -> None:
        if self.search.text().strip():
            index = self.tree.currentIndex()
            self._pick(index if index.data(KIND) else self._first())

    def _into_tree(self) -> None:
        self.tree.setFocus()
        if not self.tree.currentIndex().isValid():
            self.tree.setCurrentIndex(self.model.index(0, 0))

    def _clicked(self, index: QModelIndex) -> None:
        if index.data(KIND):
            self._pick(index)
        else:
            index = index.siblingAtColumn(0)
            self.tree.setExpanded(index, not self.tree.isExpanded(index))

    def _pick(self, index: QModelIndex) -> None:
        kind = index.data(KIND)
        if kind:
            self.tree.setCurrentIndex(index.siblingAtColumn(0))
            self.picked.emit(kind)

    def _expanded(self, index: QModelIndex) -> None:
        if not self.search.text().strip():
            self._opened.add(index.data())

    def _collapsed(self, index: QModelIndex) -> None:
        if not self.search.text().strip():
            self._opened.discard(index.data())
