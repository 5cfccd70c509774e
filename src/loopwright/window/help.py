"""The Help: a window of its own with contents and search at the left, the page at the right, back and forward.

Owns what is shown and where one has been. Refuses to write a page: those come from `help_pages`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape

from PySide6.QtCore import QModelIndex, QSize, Qt, QUrl
from PySide6.QtGui import QCloseEvent, QKeyEvent, QKeySequence, QShortcut, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSplitter,
    QTreeView,
    QVBoxLayout,
    QWidget,
)

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.window.desk import Desk
from loopwright.window.example_pictures import PageBrowser
from loopwright.window.help_pages import HOME, Entry, HelpPages
from loopwright.window.icons import icon, symbol_icon
from loopwright.window.lesson.words import with_words
from loopwright.window.pages import page_of_link, sheet_of_page
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

PAGE = Qt.ItemDataRole.UserRole + 1
PLAIN = ("glossary", "keys", "sources", "about")
"""Pages whose trade words are not explained under the pointer."""
SYMBOL_PX = 64
LEAST_PX, USUAL_PX, MOST_PX = 11, 14, 24


class _Browser(PageBrowser):
    """A text browser that draws the symbol of a kind where a page names it."""

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget) -> None:
        super().__init__(catalogue, parent)
        self.look = look

    def loadResource(self, sort: int, name: QUrl | str) -> object:
        name = QUrl(name)
        if name.scheme() == "symbol" and name.path() in self._catalogue:
            kind = self._catalogue[name.path()]
            shape = kind.width_m / kind.height_m if kind.height_m else 1.0
            drawn = symbol_icon(kind.symbol, self.look["ink"], self.look["panel"], shape, SYMBOL_PX)
            return drawn.pixmap(QSize(SYMBOL_PX, SYMBOL_PX), 2.0)
        return super().loadResource(sort, name)


class HelpWindow(QWidget):
    """The Help of a window; it closes with it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window, Qt.WindowType.Window)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setWindowTitle("Help - loopwright")
        self.resize(960, 680)
        self._desk = desk
        self.pages = HelpPages(desk.catalogue, desk.units)
        self._been: list[tuple[str, int]] = []
        self._at = -1
        self._size = min(max(desk.memory.text_size or USUAL_PX, LEAST_PX), MOST_PX)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._make_bar())
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.split.setHandleWidth(1)
        self.split.setChildrenCollapsible(False)
        self.split.addWidget(self._make_side())
        self.text = _Browser(desk.catalogue, desk.look, self)
        self.text.setAccessibleName("Page of the Help")
        self.text.setOpenLinks(False)
        self.text.document().setDocumentMargin(20)
        self.text.document().setIndentWidth(18)
        self.text.anchorClicked.connect(self._follow)
        self.split.addWidget(self.text)
        self.split.setSizes([270, 690])
        self.split.setStretchFactor(1, 1)
        column.addWidget(self.split, 1)
        for keys, slot in (
            (QKeySequence(QKeySequence.StandardKey.Back), self.back),
            (QKeySequence(QKeySequence.StandardKey.Forward), self.forward),
            (QKeySequence(QKeySequence.StandardKey.ZoomIn), self.larger),
            (QKeySequence("Ctrl+="), self.larger),
            (QKeySequence(QKeySequence.StandardKey.ZoomOut), self.smaller),
            (QKeySequence(QKeySequence.StandardKey.Find), self._into_search),
            (QKeySequence("Alt+Home"), self.home),
        ):
            QShortcut(keys, self).activated.connect(slot)
        desk.looked.connect(self.set_look)
        desk.units_changed.connect(self._take_units)
        desk.closing.connect(self.close)
        state = desk.memory.layout("help")
        if not state.isEmpty():
            self.restoreGeometry(state)
        self._fill(self.pages.contents)
        self.set_look(desk.look)

    # ---- building

    def _make_bar(self) -> QWidget:
        bar = QWidget(self)
        bar.setObjectName("tool-row")
        bar.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        bar.setFixedHeight(44)
        row = QHBoxLayout(bar)
        row.setContentsMargins(10, 0, 12, 0)
        row.setSpacing(6)
        self.back_button = self._button("Back", "Alt+Left", self.back)
        self.forward_button = self._button("Forward", "Alt+Right", self.forward)
        self.home_button = self._button("Tour", "Alt+Home", self.home)
        self.smaller_button = self._button("A−", "Ctrl+-", self.smaller, "Smaller text")
        self.larger_button = self._button("A+", "Ctrl++", self.larger, "Larger text")
        for button in (self.back_button, self.forward_button, self.home_button):
            row.addWidget(button)
        row.addStretch(1)
        self.where = QLabel("", bar)
        row.addWidget(self.where)
        row.addStretch(1)
        row.addWidget(self.smaller_button)
        row.addWidget(self.larger_button)
        return bar

    def _button(self, words: str, keys: str, slot: Callable[[], object], name: str = "") -> QPushButton:
        button = QPushButton(words, self)
        button.setToolTip(f"{name or words}, {keys.replace('+', ' ', 1)}")
        button.setAccessibleName(name or words)
        button.clicked.connect(slot)
        return button

    def _make_side(self) -> QWidget:
        side = QWidget(self)
        column = QVBoxLayout(side)
        column.setContentsMargins(10, 10, 4, 6)
        column.setSpacing(6)
        self.search = QLineEdit(side)
        self.search.setPlaceholderText("Search the Help")
        self.search.setAccessibleName("Search the Help")
        self.search.setClearButtonEnabled(True)
        self._glass = self.search.addAction(
            icon("find", self._desk.look["ink3"]), QLineEdit.ActionPosition.LeadingPosition
        )
        self.search.textChanged.connect(self._search)
        self.search.returnPressed.connect(self._first_hit)
        self.tree = QTreeView(side)
        self.tree.setAccessibleName("Contents of the Help")
        self.tree.setHeaderHidden(True)
        self.tree.setIndentation(14)
        self.tree.setEditTriggers(QTreeView.EditTrigger.NoEditTriggers)
        self.model = QStandardItemModel(self)
        self.tree.setModel(self.model)
        self.tree.selectionModel().currentChanged.connect(self._chosen)
        self.said = QLabel("", side)
        self.said.setObjectName("hint")
        column.addWidget(self.search)
        column.addWidget(self.tree, 1)
        column.addWidget(self.said)
        return side

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._glass.setIcon(icon("find", look["ink3"]))
        self.back_button.setIcon(icon("back", look["ink"], faint=look["ink3"], size=16))
        self.back_button.setIconSize(QSize(16, 16))
        self.text.look = look
        self.text.palette_name = look.mode
        self._again()

    def _take_units(self, units: Units) -> None:
        self.pages.units = units
        self._again()

    # ---- contents and search

    def _fill(self, entries: Iterable[Entry]) -> None:
        self.model.clear()
        for entry in entries:
            self.model.appendRow(self._item(entry))
        self.tree.setExpanded(self.model.index(0, 0), True)

    def _item(self, entry: Entry) -> QStandardItem:
        item = QStandardItem(entry.title)
        item.setData(entry.page, PAGE)
        item.setToolTip(entry.title)
        if entry.under:
            item.appendRows([self._item(one) for one in entry.under])
        return item

    def _search(self, text: str) -> None:
        if not text.strip():
            self.said.setText("")
            self._fill(self.pages.contents)
            self._mark()
            return
        found = self.pages.search(text)
        self._fill(Entry(self.pages.title_with_sort(name), name) for name in found)
        self.said.setText(
            f"{len(found)} page{'' if len(found) == 1 else 's'}" if found else "No page has all of these words."
        )

    def _first_hit(self) -> None:
        first = self.model.index(0, 0)
        if self.search.text().strip() and first.isValid():
            self.tree.setFocus()
            self.tree.setCurrentIndex(first)

    def _into_search(self) -> None:
        self.search.setFocus()
        self.search.selectAll()

    def _chosen(self, index: QModelIndex, _before: QModelIndex) -> None:
        page = str(index.data(PAGE) or "")
        if page and page != self.page:
            self.show_page(page)

    def _mark(self) -> None:
        """Choose the page on show in the contents."""
        if self.search.text().strip():
            return
        found = self.model.match(
            self.model.index(0, 0), PAGE, self.page, 1, Qt.MatchFlag.MatchExactly | Qt.MatchFlag.MatchRecursive
        )
        if found:
            self.tree.selectionModel().blockSignals(True)
            self.tree.setCurrentIndex(found[0])
            self.tree.selectionModel().blockSignals(False)
            self.tree.scrollTo(found[0])
            self.tree.viewport().update()

    # ---- pages

    @property
    def page(self) -> str:
        """The page on show."""
        return self._been[self._at][0] if self._at >= 0 else ""

    def show_page(self, name: str) -> None:
        """Show a page, or a place in one: `kind/pump#head_m`."""
        name, _, place = name.partition("#")
        if self._at >= 0:
            self._been[self._at] = (self.page, self.text.verticalScrollBar().value())
        if name != self.page:
            self._been = [*self._been[: self._at + 1], (name, 0)]
            self._at = len(self._been) - 1
        self._put(place)
        self.text.setFocus()

    def home(self) -> None:
        """The first page."""
        self.show_page(HOME)

    def back(self) -> None:
        """The page before."""
        self._go(-1)

    def forward(self) -> None:
        """The page one came back from."""
        self._go(1)

    def _go(self, by: int) -> None:
        if 0 <= self._at + by < len(self._been):
            self._been[self._at] = (self.page, self.text.verticalScrollBar().value())
            self._at += by
            self._put()

    def _put(self, place: str = "") -> None:
        """Set the page on show, at a place in it or where one left it."""
        try:
            html = self.pages.html(self.page)
        except LoopwrightError as bad:
            html = f'<p class="title">No such page</p><p>{escape(bad.sentence)}</p>'
        self.text.document().setDefaultStyleSheet(sheet_of_page(self._desk.look, self._size))
        self.text.setHtml(html if self.page in PLAIN else with_words(html))
        self.where.setText(self.pages.title(self.page))
        self.back_button.setEnabled(self._at > 0)
        self.forward_button.setEnabled(self._at + 1 < len(self._been))
        self.smaller_button.setEnabled(self._size > LEAST_PX)
        self.larger_button.setEnabled(self._size < MOST_PX)
        self._mark()
        if place:
            self.text.scrollToAnchor(place)
        else:
            self.text.verticalScrollBar().setValue(self._been[self._at][1])

    def _again(self) -> None:
        if self._at >= 0:
            self._been[self._at] = (self.page, self.text.verticalScrollBar().value())
            self._put()

    def _follow(self, url: QUrl) -> None:
        page = page_of_link(url)
        if page:
            self.show_page(page)

    # ---- text size

    def larger(self) -> None:
        """Larger text, from now on."""
        self._resize(1)

    def smaller(self) -> None:
        """Smaller text, from now on."""
        self._resize(-1)

    def _resize(self, by: int) -> None:
        self._size = min(max(self._size + by, LEAST_PX), MOST_PX)
        self._desk.memory.text_size = self._size
        self._again()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if self.search.text():
                self.search.clear()
            else:
                self.close()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._desk.memory.keep_layout("help", self.saveGeometry())
        super().closeEvent(event)
