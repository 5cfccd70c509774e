"""The Figures panel: every figure of the sheet in the condition on show, worked out beside the window.

Owns when figures are worked out, which are old, and what is done with those that are chosen. Refuses to compute one.
"""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, QItemSelection, QItemSelectionModel, QModelIndex, QPoint, Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent, QKeySequence, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMenu,
    QTreeView,
    QWidget,
)

from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.sheet.values import Sheet
from loopwright.waterways.views import Condition
from loopwright.window.desk import Desk
from loopwright.window.figure_list import (
    FIGURE,
    NAME,
    PLACE,
    UNIT,
    VALUE,
    FigureModel,
    FigureOrder,
    Shown,
    as_csv,
    as_tabs,
)
from loopwright.window.jobs import Stopped, while_wanted
from loopwright.window.panel import Panel
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

FLOW_TOPICS = ("fires", "pumps", "pipes")
OPEN_TOPICS = ("pipes",)
"""Topics with so many rows that their groups start folded."""
GROUPINGS = (("subject", "By part"), ("quantity", "By quantity"))
WORKING = "working out…"


class FiguresPanel(Panel):
    """The list of figures, in groups."""

    _early = Signal(object, object)
    """What was asked, and the figures that need no flow, from the other thread."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__("Figures", parent, margin=0)
        self._desk = desk
        self._shown_for: tuple[Sheet, Condition] | None = None
        self._wanted: tuple[Sheet, Condition] | None = None
        self._folded: dict[str, bool] = {}
        self._chosen: Shown | None = None
        self.model = FigureModel(desk.look, self)
        self.model.units = desk.units
        self.order = FigureOrder(self)
        self.order.setSourceModel(self.model)
        self._make_head()
        self.tree = _Tree(self)
        self._make_tree()
        middle = QHBoxLayout()
        middle.setContentsMargins(8, 0, 0, 0)
        middle.addWidget(self.tree)
        self.body.addLayout(middle, 1)
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        self.said.setAccessibleName("How far the figures are")
        closing = QHBoxLayout()
        closing.setContentsMargins(14, 0, 14, 2)
        closing.addWidget(self.said)
        self.body.addLayout(closing)
        self._work = desk.flow_worker(self._find, self)
        self._work.answered.connect(self._answered)
        self._work.refused.connect(self._say)
        self._work.broke.connect(self._broke)
        self._early.connect(self._take_early)
        desk.sheet_changed.connect(self._grey)
        desk.surveyed.connect(self._ask)
        desk.condition_changed.connect(self._ask)
        desk.units_changed.connect(self._take_units)
        desk.closing.connect(self._work.close)
        self._ask()

    # ---- building

    def _make_head(self) -> None:
        self.search = QLineEdit(self)
        self.search.setPlaceholderText("Find a figure")
        self.search.setAccessibleName("Find a figure")
        self.search.setClearButtonEnabled(True)
        self.search.setMinimumWidth(90)
        self.search.textChanged.connect(self._filter)
        self.search.returnPressed.connect(self._into_list)
        self.by = QComboBox(self)
        self.by.setAccessibleName("How the figures are grouped")
        for key, words in GROUPINGS:
            self.by.addItem(words, key)
        self.by.setFixedWidth(108)
        self.by.activated.connect(self._regroup)
        self.head.removeWidget(self.aside)
        self.aside.hide()
        self.head.setSpacing(8)
        self.head.addWidget(self.search, 1)
        self.head.addWidget(self.by)
        self.head.setStretch(1, 0)

    def _make_tree(self) -> None:
        tree = self.tree
        tree.setObjectName("figures")
        tree.setModel(self.order)
        tree.setAccessibleName("Figures of the sheet")
        tree.setRootIsDecorated(True)
        tree.setIndentation(12)
        tree.setUniformRowHeights(True)
        tree.setAllColumnsShowFocus(True)
        tree.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        tree.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        tree.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        tree.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        tree.customContextMenuRequested.connect(self._menu)
        columns = tree.header()
        columns.setSectionsClickable(True)
        columns.setStretchLastSection(False)
        columns.setFixedHeight(22)
        columns.setMinimumSectionSize(30)
        columns.sectionClicked.connect(self._sort)
        tree.selectionModel().selectionChanged.connect(self._selected)
        tree.opened.connect(self.open_current)
        tree.jump.connect(self.jump)
        tree.copy.connect(self.copy)
        tree.copy_all.connect(self.copy_all)
        tree.let_go.connect(self.let_go)
        tree.doubleClicked.connect(self._double)
        tree.expanded.connect(self._expanded)
        tree.collapsed.connect(self._collapsed)

    def _size_columns(self) -> None:
        columns = self.tree.header()
        wide = 60 if self.model.units.system == "metric" else 76  # feet and inches stand in the number
        for column, width in ((VALUE, wide), (UNIT, 66)):
            columns.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            columns.resizeSection(column, width)
        columns.setSectionResizeMode(NAME, QHeaderView.ResizeMode.Stretch)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.model.look = look
        self._rebuild()

    def _take_units(self, units: Units) -> None:
        self.model.units = units
        self._rebuild()

    # ---- working out

    def enter(self) -> None:
        """The panel was asked for: the keys go to its list, and nothing is chosen that was not."""
        if not self.tree.currentIndex().isValid():
            first = self.order.index(0, NAME, self.order.index(0, NAME))
            self.tree.selectionModel().setCurrentIndex(first, QItemSelectionModel.SelectionFlag.NoUpdate)
        self.tree.setFocus()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._ask()

    def _now(self) -> tuple[Sheet, Condition]:
        return (self._desk.sheet, self._desk.condition)

    def _is_shown(self, asked: tuple[Sheet, Condition] | None) -> bool:
        """Whether this was asked about the sheet and condition as they are now."""
        now = self._now()
        return asked is not None and asked[0] is now[0] and asked[1] == now[1]

    def _grey(self, _sheet: object = None) -> None:
        """The sheet has changed: what stands here is old until it is checked and worked out again."""
        if self._is_shown(self._wanted):
            return
        self._wanted = None
        self._work.drop()
        if self._desk.sheet.parts:
            self.model.show(self.model.figures, range(len(self.model.figures)))
            self._settle()
            self._say(WORKING)
        else:
            self._take(self._now(), ())

    def _ask(self, _what: object = None) -> None:
        """Work out what is on show now, unless that is done or under way. Hidden, the panel waits."""
        if self._is_shown(self._wanted) or self.isHidden():
            return
        if self._desk.checking:  # the survey goes first; it tells when it is there
            self._grey()
            return
        self._grey()
        if self._desk.sheet.parts:
            self._wanted = self._now()
            self._work.ask(self._wanted)

    def _find(self, asked: tuple[Sheet, Condition]) -> tuple[Shown, ...]:
        """In the thread of the flow: the figures that need no flow at once, then all."""
        from loopwright.engineering.figures import figures

        sheet, condition = asked
        if self._work.overtaken():
            raise Stopped
        ways = self._desk.waterways(sheet)
        self._early.emit(asked, figures(ways))
        with while_wanted(self._work.overtaken):
            return figures(ways, condition)

    def _take_early(self, asked: tuple[Sheet, Condition], found: tuple[Shown, ...]) -> None:
        if asked is self._wanted and self._is_shown(asked) and self._shown_for is not asked:
            new = {(f.group, f.name) for f in found}
            old = [f for f in self.model.figures if f.topic in FLOW_TOPICS and (f.group, f.name) not in new]
            self.model.show((*found, *old), range(len(found), len(found) + len(old)))
            self._settle()

    def _answered(self, asked: Any, found: Any) -> None:
        if self._is_shown(asked):
            self._take(asked, found)

    def _take(self, asked: tuple[Sheet, Condition], found: tuple[Shown, ...]) -> None:
        self._shown_for = self._wanted = asked
        self.model.show(found)
        self._settle()
        gaps = sum(isinstance(f, Gap) for f in found)
        words = f"{len(found) - gaps} figures" + (f", {gaps} not assessed" if gaps else "")
        self._say(words + "." if found else "Nothing is drawn yet, so there is nothing to work out.")

    def _say(self, words: str) -> None:
        self.said.setText(words)

    def _broke(self, bad: Exception) -> None:
        self._say("The figures stopped on a fault of loopwright itself. Your drawing is not harmed.")
        self._desk.report(bad)

    # ---- showing

    def _rebuild(self) -> None:
        self.model.rebuild()
        self._settle()

    def _settle(self) -> None:
        """After the rows were made again: widths, what is folded, and what was chosen."""
        chosen = self._chosen
        self._size_columns()
        searching = bool(self.search.text().strip())
        self.tree.blockSignals(True)
        for row in range(self.order.rowCount()):
            index = self.order.index(row, NAME)
            self.tree.setFirstColumnSpanned(row, QModelIndex(), True)
            first = self.order.index(0, NAME, index).data(FIGURE)
            folded = first is not None and first.topic in OPEN_TOPICS and self.model.grouping == "subject"
            self.tree.setExpanded(index, searching or not self._folded.get(str(index.data()), folded))
        self.tree.blockSignals(False)
        if chosen is not None:
            again = self._row_of(chosen)
            if again.isValid():
                self._chosen = again.data(FIGURE)
                flags = QItemSelectionModel.SelectionFlag
                self.tree.selectionModel().setCurrentIndex(again, flags.ClearAndSelect | flags.Rows)
            else:
                self._chosen = None
                self._desk.light(())
        page = self._desk.front("right")
        if page is not None and hasattr(page, "show_figure") and self._chosen is not None:
            page.show_figure(self._chosen)

    def _row_of(self, figure: Shown) -> QModelIndex:
        for row in range(self.order.rowCount()):
            group = self.order.index(row, NAME)
            for child in range(self.order.rowCount(group)):
                index = self.order.index(child, NAME, group)
                other = index.data(FIGURE)
                if (other.group, other.name) == (figure.group, figure.name):
                    return index
        return QModelIndex()

    def _filter(self, text: str) -> None:
        self.order.look_for(text)
        self._settle()

    def _into_list(self) -> None:
        first = self.order.index(0, NAME, self.order.index(0, NAME))
        if first.isValid():
            self.tree.setFocus()
            self.tree.setCurrentIndex(first)

    def _regroup(self, _number: int) -> None:
        self.model.grouping = self.by.currentData()
        self._rebuild()

    def _sort(self, column: int) -> None:
        """Up, down, and back to the order in which the figures come."""
        header, up, down = self.tree.header(), Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder
        column = VALUE if column == UNIT else column
        if self.order.sortColumn() != column:
            self.order.sort(column, up)
        elif self.order.sortOrder() == up:
            self.order.sort(column, down)
        else:
            self.order.sort(-1)
        header.setSortIndicatorShown(self.order.sortColumn() >= 0)
        header.setSortIndicator(self.order.sortColumn(), self.order.sortOrder())
        self._settle()

    def _expanded(self, index: QModelIndex) -> None:
        self._folded[str(index.data())] = False

    def _collapsed(self, index: QModelIndex) -> None:
        self._folded[str(index.data())] = True

    # ---- what is chosen

    def chosen(self) -> list[Shown]:
        """The figures that are chosen, in the order of the list; a chosen group stands for all it holds."""
        found: dict[int, Shown] = {}
        for index in self.tree.selectionModel().selectedRows(NAME):
            rows = (
                [index]
                if index.data(FIGURE) is not None
                else [self.order.index(r, NAME, index) for r in range(self.order.rowCount(index))]
            )
            found.update((row.data(PLACE), row.data(FIGURE)) for row in rows)
        return list(found.values())

    @property
    def current(self) -> Shown | None:
        """The figure that has the cursor."""
        found = self.tree.currentIndex().siblingAtColumn(NAME).data(FIGURE)
        return found if isinstance(found, Figure | Gap) else None

    def _selected(self, _now: QItemSelection, _before: QItemSelection) -> None:
        found = self.chosen()
        if found:
            self._chosen = found[0]
            self._desk.light(dict.fromkeys(i for one in found for i in one.about))

    def let_go(self) -> None:
        """Choose no figure."""
        if self._chosen is not None:
            self._chosen = None
            self.tree.clearSelection()
            self._desk.light(())

    def open_current(self) -> None:
        """Show what stands behind the figure that has the cursor."""
        figure = self.current
        if figure is None:
            index = self.tree.currentIndex().siblingAtColumn(NAME)
            self.tree.setExpanded(index, not self.tree.isExpanded(index))
            return
        page = self._desk.open("figure")
        if page is not None:
            page.show_figure(figure)  # type: ignore[attr-defined]

    def _double(self, index: QModelIndex) -> None:
        if index.data(FIGURE) is not None:
            self.open_current()

    def jump(self) -> None:
        """Go to the field that the current figure lacks, or to the part it is about."""
        figure = self.current
        if figure is not None and figure.about:
            self._desk.jump(figure.about[0], figure.prop if isinstance(figure, Gap) else "")

    # ---- copying

    def copy(self) -> None:
        """Put the chosen figures on the clipboard, one a line with tabs between."""
        found = self.chosen()
        if found:
            QGuiApplication.clipboard().setText(as_tabs(found, self.model.units))
            self._desk.say(f"{len(found)} figure{'s' if len(found) > 1 else ''} copied.")

    def copy_all(self) -> None:
        """Put all figures on the clipboard as a table with equation, inputs and source."""
        if self.model.figures:
            QGuiApplication.clipboard().setText(as_csv(self.model.figures, self.model.units))
            self._desk.say(f"All {len(self.model.figures)} figures copied as CSV.")

    def _menu(self, at: QPoint) -> None:
        figure = self.current
        menu = QMenu(self)
        for words, keys, slot, on in (
            ("Open", "Return", self.open_current, figure is not None),
            ("Go to the field" if isinstance(figure, Gap) else "Go to the part", "Ctrl+Return", self.jump, figure),
            ("", "", None, None),
            ("Copy", "Ctrl+C", self.copy, bool(self.chosen())),
            ("Copy all as CSV", "Ctrl+Shift+C", self.copy_all, bool(self.model.figures)),
        ):
            if slot is None:
                menu.addSeparator()
                continue
            action = QAction(words, menu)
            action.setShortcut(QKeySequence(keys))
            action.setEnabled(bool(on))
            action.triggered.connect(slot)
            menu.addAction(action)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(self.tree.viewport().mapToGlobal(at))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Find):
            self.search.setFocus()
            self.search.selectAll()
        else:
            super().keyPressEvent(event)


class _Tree(QTreeView):
    """A list in which Enter opens, Ctrl Enter goes to the field, Ctrl C copies and Esc lets go."""

    opened = Signal()
    jump = Signal()
    copy = Signal()
    copy_all = Signal()
    let_go = Signal()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._mine(event):
            event.accept()
            return True
        return super().event(event)

    def _mine(self, event: QKeyEvent) -> bool:
        keys = QKeySequence.StandardKey
        return any(event.matches(key) for key in (keys.Copy, keys.Find)) or (
            event.key() == Qt.Key.Key_Escape and self.selectionModel().hasSelection()
        )

    def keyPressEvent(self, event: QKeyEvent) -> None:
        held = event.modifiers()
        control, shift = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            (self.jump if held & control else self.opened).emit()
        elif event.key() == Qt.Key.Key_C and held == control | shift:
            self.copy_all.emit()
        elif event.matches(QKeySequence.StandardKey.Copy):
            self.copy.emit()
        elif event.key() == Qt.Key.Key_Escape and self.selectionModel().hasSelection():
            self.let_go.emit()
        else:
            super().keyPressEvent(event)
