"""The window's furniture: menu row, tool row, side panels, splitters and status line, without a thought of its own.

Owns where things stand and how wide they are. Refuses to know what they show.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenuBar, QSplitter, QStatusBar, QTabWidget, QVBoxLayout, QWidget

from loopwright.window.as_typed import as_typed, tip
from loopwright.window.icons import icon
from loopwright.window.panel import Panel
from loopwright.window.quantities import Units
from loopwright.window.recent import Memory
from loopwright.window.theme import Theme

SNAP_M = 0.05
FOR_NOW_MS = 6000
"""How long a sentence stands that only says what was done."""
LOW = 900
"""A window lower than this folds the conditions."""
ROOMY = 960
"""A window lower than this puts findings and figures behind tabs."""


def sides_for(width: int) -> tuple[int, int]:
    """Widths of the left and right side for a window's width."""
    if width < 1440:
        return 236, 336
    return (236, 364) if width < 1800 else (260, 400)


def order_tab(zones: Iterable[QWidget]) -> None:
    """Lead Tab through the zones in their order, and in each as it is read, whenever its widgets were made."""
    stops = [
        w
        for zone in zones
        for w in zone.findChildren(QWidget)
        if w.focusPolicy() & Qt.FocusPolicy.TabFocus and w.window() is zone.window()  # not the lists that drop down
    ]
    for before, after in pairwise(stops):
        QWidget.setTabOrder(before, after)


class MenuRow(QWidget):
    """Mark, menus, and the drawing's name with how it stands with its file."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("menu-row")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setFixedHeight(29)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 0, 12, 0)
        row.setSpacing(6)
        self._mark = QLabel(self)
        row.addWidget(self._mark)
        self.bar = QMenuBar(self)
        self.bar.setNativeMenuBar(False)
        self.bar.setSizePolicy(self.bar.sizePolicy().horizontalPolicy().Maximum, self.bar.sizePolicy().verticalPolicy())
        row.addWidget(self.bar)
        row.addStretch(1)
        self.name = QLabel("", self)
        as_typed(self.name)
        self.name.setObjectName("drawing-name")
        self.state = QLabel("", self)
        self.state.setObjectName("drawing-state")
        row.addWidget(self.name)
        row.addWidget(self.state)
        row.addStretch(2)
        self.set_look(look)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._mark.setPixmap(icon("mark", look["accent"], size=20).pixmap(QSize(20, 20)))


class Side(QSplitter):
    """A column of panels, one above the other."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self.setObjectName(name)
        self.setHandleWidth(1)
        self.setChildrenCollapsible(False)


class LowerRight(QWidget):
    """Findings, and what else belongs under the properties: stacked in a tall window, tabs in a low one."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._splitter = Side("lower-right", self)
        self._tabs = QTabWidget(self)
        self._tabs.setDocumentMode(True)
        self._tabs.setAccessibleName("Findings and figures")
        self._tabs.tabBar().setAccessibleName("Findings and figures")
        self._column.addWidget(self._splitter)
        self._column.addWidget(self._tabs)
        self._panels: list[tuple[str, QWidget]] = []
        self._tabbed = False
        self._tabs.hide()

    def add(self, title: str, panel: QWidget) -> None:
        """Put in a panel."""
        self._panels.append((title, panel))
        self._splitter.addWidget(panel)
        self.set_tabbed(self._tabbed, force=True)

    def set_tabbed(self, tabbed: bool, force: bool = False) -> None:
        """Tabs in place of a stack; a single panel never needs tabs, and under a tab none says its name again."""
        if tabbed == self._tabbed and not force:
            return
        self._tabbed = tabbed
        use_tabs = tabbed and len(self._panels) > 1
        while self._tabs.count():
            self._tabs.removeTab(0)
        for title, panel in self._panels:
            if use_tabs:
                self._tabs.addTab(panel, title)
            else:
                self._splitter.addWidget(panel)
                panel.show()
        for _, panel in self._panels:
            if isinstance(panel, Panel):
                panel.title.setVisible(not use_tabs)
        self._tabs.setVisible(use_tabs)
        self._splitter.setVisible(not use_tabs)

    def reveal(self, panel: QWidget) -> None:
        """Bring a panel to the front."""
        if self._tabs.indexOf(panel) >= 0:
            self._tabs.setCurrentWidget(panel)


class StatusLine(QStatusBar):
    """What a click will do, and where the pointer is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizeGripEnabled(False)
        self.setFixedHeight(25)
        self._said = ""
        self._then = ("", "")
        self._while = QTimer(self)
        self._while.setSingleShot(True)
        self._while.timeout.connect(self._next)
        self.words = QLabel("", self)
        as_typed(self.words)
        self.words.setAccessibleName("What a click will do")
        self.words.setMinimumWidth(60)
        self.addWidget(self.words, 1)
        self.across, self.up, self.snap, self.system = (QLabel("", self) for _ in range(4))
        self.system.setToolTip("Units of what is shown; View, Metric or Imperial. Any unit may be typed.")
        for label in (self.across, self.up, self.snap, self.system):
            font = QFont(label.font())
            label.setFont(font)
            self.addPermanentWidget(label)
        self.set_units(Units())

    def set_units(self, units: Units) -> None:
        """Show places in other units, from now on."""
        self._units = units
        self.leave()
        self.say(self._said)
        self.snap.setText(f"snap {units.height(SNAP_M)}" if units.system == "metric" else "snap 2 in")
        self.system.setText(units.system)
        self.across.setMinimumWidth(76 if units.system == "metric" else 96)
        self.up.setMinimumWidth(104 if units.system == "metric" else 130)

    def say_for_now(self, words: str, then: str) -> None:
        """A sentence at the left that gives way to another in a while, unless something else was said by then."""
        self.say(words)
        self._then = (words, then)
        self._while.start(FOR_NOW_MS)

    def _next(self) -> None:
        if self._said == self._then[0]:
            self.say(self._then[1])

    def say(self, words: str) -> None:
        """A sentence at the left."""
        self._said = words
        words = self._units.restated(words)
        self.words.setText(words)
        self.words.setToolTip(tip(words))

    def point(self, x_m: float, height_m: float) -> None:
        """Where the pointer is on the sheet."""
        self.across.setText(f"x {self._units.height(x_m)}")
        self.up.setText(f"height {self._units.height(height_m)}")

    def leave(self) -> None:
        """The pointer left the sheet."""
        self.across.clear()
        self.up.clear()


class Zones:
    """How large the zones of the window are: their usual sizes, and what the person made of them."""

    def __init__(self, window: QWidget, split: QSplitter, left: QSplitter, right: QSplitter) -> None:
        self._window = window
        self._splitters = {"split": split, "left": left, "panels": right}
        self._width = window.width()
        self._remembered = False

    def lay_out(self, width: int, height: int) -> None:
        """Usual sizes for a window's size."""
        self._width = width
        left, right = sides_for(width)
        self._splitters["split"].setSizes([left, max(200, width - left - right - 2), right])
        room, low = max(300, height - 94), height < LOW
        self.fold(low)
        upper = 400 if low else round(room * 0.62)
        self._splitters["panels"].setSizes([upper, room - upper])

    def follow(self, width: int) -> None:
        """Another width of the window: sides of the usual widths take those of the new one, others stay as they are."""
        sizes = self._splitters["split"].sizes()
        was, wanted = sides_for(self._width), sides_for(width)
        self._width = width
        usual = abs(sizes[0] - was[0]) <= 2 and abs(sizes[2] - was[1]) <= 2
        unseen = not self._window.isVisible() and not self._remembered  # nothing has its width before it shows
        if was != wanted and (usual or unseen):
            self._splitters["split"].setSizes([wanted[0], max(200, width - sum(wanted) - 2), wanted[1]])

    def fold(self, folded: bool) -> None:
        """Height of the conditions: one row of segments, or room for their switches too."""
        room = max(300, self._window.height() - 94)
        tall = 84 if folded else 356
        self._splitters["left"].setSizes([room - tall, tall])

    def restore(self, memory: Memory) -> None:
        """The sizes of the last run, else the usual ones."""
        state = memory.layout("window")
        if not state.isEmpty() and self._window.isWindow():
            self._window.restoreGeometry(state)
        self.lay_out(self._window.width(), self._window.height())
        for name, splitter in self._splitters.items():
            state = memory.layout(name)
            if not state.isEmpty():
                splitter.restoreState(state)
                self._remembered = True

    def keep(self, memory: Memory) -> None:
        """Remember the sizes."""
        if self._window.isWindow():
            memory.keep_layout("window", self._window.saveGeometry())
        for name, splitter in self._splitters.items():
            memory.keep_layout(name, splitter.saveState())
