"""Jobs shuffled, to be put in order: by dragging or Alt with the arrows, with the first broken precedence and its why.

Owns the list. What is broken is found by `lessons.order.broken`.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon, QKeyEvent, QPixmap
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from loopwright.window.badges import badge_pixmap
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.lesson.checklist import KEY, JobList
from loopwright.window.lesson.words import Words

if TYPE_CHECKING:
    from loopwright.lessons.order import WorkOrder
    from loopwright.lessons.precedence import Broken

FEW = 8
HOW = "Put the jobs in the order in which you would do them: drag them, or Alt with Up and Down. Then check."


class _Jobs(JobList):
    """A list whose rows are dragged, or moved by Alt and the arrows."""

    def __init__(self, page: ArrangePage) -> None:
        super().__init__(page)
        self._page = page
        self.setDragDropMode(JobList.DragDropMode.InternalMove)
        self.setDefaultDropAction(Qt.DropAction.MoveAction)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()), 0)
        if step and event.modifiers() & Qt.KeyboardModifier.AltModifier:
            self._page.shift(step)
        else:
            super().keyPressEvent(event)


class ArrangePage(QWidget):
    """The jobs to arrange."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self.order: WorkOrder | None = None
        self.faults: tuple[Broken, ...] = ()
        self.judged = False
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.setSpacing(6)
        row = QHBoxLayout()
        self.which = QComboBox(self)
        self.which.setAccessibleName("Which jobs to arrange")
        self.which.currentIndexChanged.connect(self._shuffle)
        again = QPushButton("Shuffle", self)
        again.clicked.connect(self._shuffle)
        row.addWidget(self.which, 1)
        row.addWidget(again)
        column.addLayout(row)
        self.how = QLabel(HOW, self)
        self.how.setObjectName("hint")
        self.how.setWordWrap(True)
        column.addWidget(self.how)
        self.list = _Jobs(self)
        self.list.setAccessibleName("Jobs to put in order")
        self.list.setIconSize(QSize(18, 18))
        self.list.setAccessibleDescription("Alt with Up or Down moves a job")
        self.list.model().rowsMoved.connect(self._moved)
        self.list.currentItemChanged.connect(self._light)
        column.addWidget(self.list, 1)
        self.said = Words(self)
        self.said.wanted.connect(desk.help)
        self.said.hide()
        column.addWidget(self.said)
        last = QHBoxLayout()
        self.check_button = QPushButton("Check the order", self)
        self.check_button.setProperty("primary", True)
        self.check_button.clicked.connect(self.check)
        self.solve_button = QPushButton("Show one order", self)
        self.solve_button.setToolTip("One of several that are right")
        self.solve_button.clicked.connect(self.solve)
        last.addWidget(self.check_button)
        last.addWidget(self.solve_button)
        last.addStretch(1)
        column.addLayout(last)

    def show_order(self, order: WorkOrder) -> None:
        """Take the jobs of an order of work, and shuffle some of them."""
        self.order = order
        self.which.blockSignals(True)
        self.which.clear()
        self.which.addItem(f"{min(FEW, len(order.tasks))} jobs from the whole", "")
        for stage in dict.fromkeys(t.stage for t in order.tasks):
            self.which.addItem(stage, stage)
        self.which.addItem("Every job", "*")
        self.which.blockSignals(False)
        self.shuffle()

    def shuffle(self, seed: int | None = None) -> None:
        """Lay the jobs out in another order; a seed always gives the same one."""
        order = self.order
        if order is None:
            return
        chance = random.Random(seed)
        stage = str(self.which.currentData() or "")
        keys = [t.key for t in order.tasks if stage in ("", "*", t.stage)]
        if not stage:
            keys = chance.sample(keys, min(FEW, len(keys)))
        chance.shuffle(keys)
        self.judged, self.faults = False, ()
        self.put(keys)
        self.said.hide()

    def _shuffle(self, _number: object = None) -> None:
        self.shuffle()

    def put(self, keys: list[str]) -> None:
        """Lay jobs out in this order."""
        order = self.order
        assert order is not None
        self.list.blockSignals(True)
        self.list.clear()
        for key in keys:
            task = order.by_key[key]
            item = QListWidgetItem(task.title + (f"  ({task.place})" if task.place else ""))
            item.setData(KEY, key)
            item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsDragEnabled)
            self.list.addItem(item)
        self.list.blockSignals(False)
        self.refresh()

    def keys(self) -> list[str]:
        """The jobs in the order in which they lie."""
        return [self.list.item(n).data(KEY) for n in range(self.list.count())]

    def shift(self, step: int) -> None:
        """Move the chosen job up (-1) or down (1)."""
        at = self.list.currentRow()
        if at < 0 or not 0 <= at + step < self.list.count():
            return
        item = self.list.takeItem(at)
        self.list.insertItem(at + step, item)
        self.list.setCurrentItem(item)
        self._moved()

    def _moved(self, *_: object) -> None:
        if self.judged:
            self.check()

    def check(self) -> None:
        """Find what is broken; from now on it is found after every move."""
        from loopwright.lessons.order import broken
        from loopwright.lessons.order_print import broken_words

        order = self.order
        if order is None:
            return
        self.judged = True
        self.faults = broken(order, self.keys())
        if not self.faults:
            self.said.say("No precedence is broken. Other orders are right too.", self._desk.look)
        else:
            left = len(self.faults) - 1
            more = f" {left} more {'is' if left == 1 else 'are'} broken." if left else ""
            self.said.say(f"{broken_words(order, self.faults[0])}{more}", self._desk.look, lit=False)
        self.said.show()
        self.refresh()
        self._desk.say(self.said.plain)

    def refresh(self) -> None:
        """Mark the two jobs of the first broken precedence."""
        look = self._desk.look
        first = self.faults[0] if self.faults else None
        empty = QPixmap(18, 18)
        empty.fill(Qt.GlobalColor.transparent)
        blank = QIcon(empty)
        for number in range(self.list.count()):
            item = self.list.item(number)
            key, picture = item.data(KEY), blank
            if first is not None and key == first.after:
                picture = QIcon(badge_pixmap("fault", "!", look, size=8.0))
            elif first is not None and key == first.before:
                picture = QIcon(badge_pixmap("advice", "", look, size=7.0))
            elif self.judged and not self.faults:
                picture = icon("tick", look["ok"], size=16)
            item.setIcon(picture)
            spoken = item.text()
            if first is not None and key in (first.after, first.before):
                spoken += ", too early" if key == first.after else ", has to come first"
            item.setData(Qt.ItemDataRole.AccessibleTextRole, spoken)
        self.list.doItemsLayout()

    def solve(self) -> None:
        """Lay the jobs out in one right order."""
        order = self.order
        if order is not None:
            self.put(sorted(self.keys(), key=lambda key: order.number[key]))
            self.check()

    def _light(self, item: QListWidgetItem | None) -> None:
        order = self.order
        if order is not None and item is not None and item.data(KEY) in order.by_key:
            task = order.by_key[item.data(KEY)]
            self._desk.light((*task.parts, *task.pipes), "accent")
