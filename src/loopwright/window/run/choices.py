"""The row of choices over a run: what runs, in which condition, with which valves shut; run, stop, compare.

Owns these widgets and the wish they make. Refuses to run anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QButtonGroup, QComboBox, QHBoxLayout, QLabel, QMenu, QPushButton, QSizePolicy, QWidget

from loopwright.catalogue import Behaviour, Catalogue
from loopwright.sheet.values import Sheet
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.conditions import called, with_way
from loopwright.window.run.wish import What, Wish, conditions, replace_valves

if TYPE_CHECKING:
    from loopwright.engineering.runs.day import Day

OWN = "own"


class Choices(QWidget):
    """The row."""

    run_wanted = Signal()
    stop_wanted = Signal()
    edit_wanted = Signal()
    """The schedule of the chosen day is to be edited."""
    shown_wanted = Signal(str)
    """`charts` or `sheet`."""
    compare_wanted = Signal(str)
    """`saved`, `file`, `hold` or `alone`."""

    def __init__(self, catalogue: Catalogue, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        from loopwright.engineering.runs.day import days

        self._catalogue, self._sheet = catalogue, Sheet()
        self._shown: Condition = NORMAL
        self._shut: frozenset[str] = frozenset()
        self._offered: list[tuple[str, Condition]] = []
        self._days: dict[str, Day] = dict(days())
        self.own: Day | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        self._add_what(row)
        self._add_running(row)
        self._add_compare(row)
        row.addStretch(1)
        self._add_shown(row)
        row.addSpacing(10)
        self.show_sheet(self._sheet, NORMAL)

    # ---- building

    def _add_what(self, row: QHBoxLayout) -> None:
        """What runs, and under which condition."""
        self.what = QComboBox(self)
        self.what.setAccessibleName("What runs")
        self.what.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.what.setMinimumWidth(116)
        self.what.addItem("Power cut during a fire", "cut")
        self.what.addItem("Power cut with the store full", "full")
        for name, day in self._days.items():
            self.what.addItem(day.title, name)
        self.what.addItem("A day of your own", OWN)
        self.what.currentIndexChanged.connect(self._what_changed)
        row.addWidget(self.what, 3)
        self.edit = QPushButton("Edit…", self)
        self.edit.setToolTip(
            "Change when the fire is lit, the sun, the boiler, the clock and the hot water of this day"
        )
        self.edit.setAccessibleName("Edit the day")
        self.edit.clicked.connect(self.edit_wanted)
        row.addWidget(self.edit)
        self.condition = QComboBox(self)
        self.condition.setAccessibleName("Condition")
        self.condition.setMinimumWidth(84)
        self.condition.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        row.addWidget(self.condition, 2)
        self.valves = QPushButton("No valve shut", self)
        self.valves.setToolTip("Which valves somebody left shut")
        self._valve_menu = QMenu(self.valves)
        self._valve_menu.aboutToShow.connect(self._list_valves)
        self._valve_menu.triggered.connect(self._valve)
        self.valves.setMenu(self._valve_menu)
        row.addWidget(self.valves)

    def _add_running(self, row: QHBoxLayout) -> None:
        """The button that runs it, and what stands in its place meanwhile."""
        self.run = QPushButton("Run", self)
        self.run.setProperty("primary", True)
        self.run.clicked.connect(self.run_wanted)
        row.addWidget(self.run)
        self.said = QLabel("", self)
        self.said.setMinimumWidth(60)
        self.said.hide()
        row.addWidget(self.said)
        self.cancel = QPushButton("Cancel", self)
        self.cancel.setToolTip("Stop here, and keep what is done so far")
        self.cancel.clicked.connect(self.stop_wanted)
        self.cancel.hide()
        row.addWidget(self.cancel)

    def _add_compare(self, row: QHBoxLayout) -> None:
        """What the run is held against."""
        self.compare = QPushButton("Compare with…", self)
        menu = QMenu(self.compare)
        self._compares: dict[str, QAction] = {}
        for name, words in (
            ("saved", "The sheet as it was saved"),
            ("file", "Another sheet…"),
            ("hold", "This run: keep it beside the next"),
            ("alone", "Nothing: show one run alone"),
        ):
            action = menu.addAction(words)
            action.setData(name)
            self._compares[name] = action
        menu.triggered.connect(self._compare)
        self.compare.setMenu(menu)
        row.addWidget(self.compare)

    def _add_shown(self, row: QHBoxLayout) -> None:
        """Whether curves or the sheet are in front."""
        self.shown = QButtonGroup(self)
        segments = QHBoxLayout()
        segments.setSpacing(0)
        for k, (name, words, part) in enumerate((("charts", "Charts", "first"), ("sheet", "Sheet", "last"))):
            button = QPushButton(words, self)
            button.setCheckable(True)
            button.setProperty("part", part)
            button.setProperty("shows", name)
            button.setMinimumWidth(54)
            self.shown.addButton(button, k)
            segments.addWidget(button)
        row.addLayout(segments)
        self.shown.button(0).setChecked(True)
        self.shown.idClicked.connect(self._show)

    # ---- what there is to choose

    def show_sheet(self, sheet: Sheet, shown: Condition) -> None:
        """Offer what can stand still and be shut on this sheet; `shown` is the condition the sheet is shown in."""
        self._sheet, self._shown = sheet, shown
        hand = {p.id for p in with_way(sheet, self._catalogue, Behaviour.HAND)}
        self._shut &= frozenset(hand)
        self.valves.setEnabled(bool(hand))
        self._fill_conditions()
        self._say_valves()

    def choose(self, what: str) -> None:
        """Choose what runs by its name."""
        self.what.setCurrentIndex(max(0, self.what.findData(what)))

    def wish(self) -> Wish:
        """What the person wants."""
        condition = self._offered[max(0, self.condition.currentIndex())][1]
        return Wish(self._sort(), self.day(), replace_valves(condition, self._shut))

    def day(self) -> Day | None:
        """The chosen day."""
        name = str(self.what.currentData())
        return self.own if name == OWN else self._days.get(name)

    def use_own(self, day: Day) -> None:
        """A day of the person's own, and choose it."""
        self.own = day
        self.choose(OWN)

    def may_compare(self, *, saved: bool, has_run: bool, beside: bool) -> None:
        """Which comparisons can be asked for."""
        self._compares["saved"].setEnabled(saved)
        self._compares["hold"].setEnabled(has_run)
        self._compares["alone"].setEnabled(beside)

    def show_busy(self, busy: bool) -> None:
        """While it runs there is nothing else to start."""
        self.run.setEnabled(not busy)
        self.compare.setEnabled(not busy)
        if not busy:
            self.say("")

    def say(self, words: str) -> None:
        """Words about how far it is, with Cancel beside; an empty string puts both away."""
        self.said.setText(words)
        self.said.setVisible(bool(words))
        self.cancel.setVisible(bool(words))
        self.run.setVisible(not words)
        self.compare.setVisible(not words)

    def ran(self) -> None:
        """There is a run now."""
        self.run.setText("Run again")

    # ---- inside

    def _compare(self, action: QAction) -> None:
        self.compare_wanted.emit(str(action.data()))

    def _show(self, number: int) -> None:
        self.shown_wanted.emit(str(self.shown.button(number).property("shows")))

    def _sort(self) -> What:
        name = str(self.what.currentData())
        return "cut" if name == "cut" else "full" if name == "full" else "day"

    def _what_changed(self) -> None:
        self._fill_conditions()
        if self.what.currentData() == OWN and self.own is None:
            self.edit_wanted.emit()

    def _fill_conditions(self) -> None:
        self.edit.setVisible(self._sort() == "day")
        before = self._offered[self.condition.currentIndex()][1] if self._offered else None
        offered = conditions(self._sheet, self._catalogue, self._sort(), self._shown)
        if offered == self._offered:
            return
        self._offered = offered
        self.condition.blockSignals(True)
        self.condition.clear()
        for words, condition in offered:
            self.condition.addItem(words)
            if condition == before and condition not in (NORMAL, POWER_CUT):
                self.condition.setCurrentIndex(self.condition.count() - 1)
        self.condition.blockSignals(False)

    def _list_valves(self) -> None:
        self._valve_menu.clear()
        for part in with_way(self._sheet, self._catalogue, Behaviour.HAND):
            action = self._valve_menu.addAction(called(part, self._catalogue))
            action.setData(part.id)
            action.setCheckable(True)
            action.setChecked(part.id in self._shut)

    def _valve(self, action: QAction) -> None:
        self._shut ^= {str(action.data())}
        self._say_valves()

    def _say_valves(self) -> None:
        names = [called(self._sheet.parts[v], self._catalogue) for v in sorted(self._shut) if v in self._sheet.parts]
        words = f"{len(names)} valves shut" if names else "No valve shut"
        if len(names) == 1:
            words = f"{names[0].split(',')[0]} shut"
        short = self.valves.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, 130)
        self.valves.setText(short)
        self.valves.setAccessibleName(f"Valves left shut: {', '.join(names) or 'none'}")
