"""Marks of hidden faults: set on what is chosen, flagged on the sheet, listed beside it.

Owns setting and showing them. A mark is a fact of the sheet, so it is saved with it and can be undone; whether it is
right is judged by `lessons.findfaults` or `lessons.practice`.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QListWidget, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from loopwright.window.badges import badge_pixmap
from loopwright.window.desk import Desk
from loopwright.window.lesson.words import called

if TYPE_CHECKING:
    from loopwright.drawing.plans import Flag
    from loopwright.sheet.values import Point, Sheet
    from loopwright.window.lesson.reasons import ReasonDialog

NO_REASON = "marked"
"""The reason of a mark where none is asked for."""
ID = Qt.ItemDataRole.UserRole


class Marking(QObject):
    """The marks on the sheet of one window while its task asks for them."""

    changed = Signal()

    def __init__(self, desk: Desk, parent: QObject, *, reasons: bool) -> None:
        """`reasons`: a mark names the rule that is broken; else it only says where."""
        super().__init__(parent)
        self._desk, self.reasons = desk, reasons
        self.dialog: ReasonDialog | None = None
        self._asked = ""
        desk.sheet_changed.connect(self._show)

    def begin(self) -> None:
        """Take marks from now on."""
        self._desk.lessons.marking = self
        self._desk.refresh()
        self._show()

    def end(self) -> None:
        """Take no more marks, and show none."""
        if self._desk.lessons.marking is self:
            self._desk.lessons.marking = None
            self._desk.show_marks(())
            self._desk.refresh()

    def marks(self) -> dict[str, str]:
        """What is marked, and the rule given as the reason."""
        from loopwright.lessons.findfaults import marks_in

        sheet = self._desk.sheet
        return {i: rule for i, rule in marks_in(sheet).items() if i in sheet.parts or i in sheet.pipes}

    def ask(self, ids: Collection[str]) -> None:
        """Mark what is chosen, and ask why; without reasons a second time takes the mark away."""
        sheet = self._desk.sheet
        chosen = [i for i in ids if i in sheet.parts or i in sheet.pipes]
        if len(chosen) != 1:
            self._desk.say("Choose the one part or pipe that is at fault.")
            return
        one = chosen[0]
        if not self.reasons:
            self.put(one, "" if one in self.marks() else NO_REASON)
            return
        from loopwright.window.lesson.reasons import ReasonDialog

        self.dialog = ReasonDialog(self._desk, called(sheet, self._desk.catalogue, one), self.marks().get(one, ""))
        self._asked = one
        self.dialog.given.connect(self._given)
        self.dialog.open()

    def _given(self, rule: str) -> None:
        self.put(self._asked, rule)

    def put(self, part: str, rule: str) -> None:
        """Mark a part or pipe for a reason; an empty one takes the mark away."""
        from loopwright.lessons.findfaults import with_mark

        label = "Mark a fault" if rule else "Take a mark away"
        self._desk.apply(label, lambda s: with_mark(s, part, rule))

    def _show(self, _sheet: object = None) -> None:
        if self._desk.lessons.marking is self:
            self._desk.show_marks(self._flags())
            self.changed.emit()

    def _flags(self) -> list[Flag]:
        from loopwright.drawing.plans import Flag

        sheet = self._desk.sheet
        return [Flag(n, "fault", self._middle(sheet, i), (i,)) for n, i in enumerate(self.marks(), 1)]

    def _middle(self, sheet: Sheet, name: str) -> Point:
        """Where a mark stands: the middle of a part, or of a pipe's longest run."""
        from loopwright.sheet.geometry import polyline
        from loopwright.sheet.ports import box_of

        if name in sheet.parts:
            x0, z0, x1, z1 = box_of(sheet.parts[name], self._desk.catalogue)
            return ((x0 + x1) / 2, (z0 + z1) / 2)
        points = polyline(sheet, sheet.pipes[name], self._desk.catalogue)
        runs = list(pairwise(points))
        (x0, z0), (x1, z1) = max(runs, key=lambda run: abs(run[0][0] - run[1][0]) + abs(run[0][1] - run[1][1]))
        return ((x0 + x1) / 2, (z0 + z1) / 2)


class _List(QListWidget):
    """A list in which Delete takes a mark away and Enter asks for its reason."""

    taken = Signal(str)
    opened = Signal(str)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        item = self.currentItem()
        if item is not None and event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.taken.emit(item.data(ID))
        elif item is not None and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit(item.data(ID))
        else:
            super().keyPressEvent(event)


class MarkList(QWidget):
    """The marks so far, each with its reason; choosing one lights it on the sheet."""

    def __init__(self, desk: Desk, marking: Marking, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk, self._marking = desk, marking
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self.head = QLabel("Marks", self)
        self.head.setObjectName("group-heading")
        column.addWidget(self.head)
        self.none = QLabel("Choose a part or pipe on the sheet that is at fault, then press M.", self)
        self.none.setObjectName("hint")
        self.none.setWordWrap(True)
        column.addWidget(self.none)
        self.list = _List(self)
        self.list.setAccessibleName("Marked as faults")
        self.list.setWordWrap(True)
        self.list.setSpacing(2)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        column.addWidget(self.list)
        row = QHBoxLayout()
        self.mark = QPushButton("Mark as a fault…", self)
        self.mark.setToolTip("What is chosen on the sheet is at fault (M)")
        self.mark.clicked.connect(self._mark_chosen)
        self.take = QPushButton("Take away", self)
        self.take.clicked.connect(self._take_current)
        row.addWidget(self.mark)
        row.addWidget(self.take)
        row.addStretch(1)
        column.addLayout(row)
        self.list.currentItemChanged.connect(self._light)
        self.list.itemActivated.connect(self._activated)
        self.list.taken.connect(self._take_away)
        self.list.opened.connect(self._reason)
        marking.changed.connect(self.fill)
        desk.selection_changed.connect(self._refresh)
        self.fill()

    def fill(self) -> None:
        """Show the marks as they are now."""
        marks = self._marking.marks()
        now = self.list.currentItem()
        kept = now.data(ID) if now is not None else ""
        self.list.blockSignals(True)
        self.list.clear()
        for number, (part, rule) in enumerate(marks.items(), 1):
            words = called(self._desk.sheet, self._desk.catalogue, part)
            item = QListWidgetItem(
                badge_pixmap("fault", str(number), self._desk.look, size=9.0),
                f"{words[:1].upper()}{words[1:]}{self._reason_words(rule)}",
            )
            item.setData(ID, part)
            item.setToolTip(item.text())
            self.list.addItem(item)
            if part == kept:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        self.none.setVisible(not marks)
        self.list.setVisible(bool(marks))
        self.take.setVisible(bool(marks))
        self.head.setText(f"Marks: {len(marks)}" if marks else "Marks")
        self._fit()
        self._refresh()

    def _fit(self) -> None:
        """As high as its rows: the panel scrolls, not the list."""
        rows = sum(max(self.list.sizeHintForRow(n), 30) + 5 for n in range(self.list.count()))
        self.list.setFixedHeight(rows + 6)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _reason_words(self, rule: str) -> str:
        from loopwright.rules.registry import all_rules, page

        return f": {page(rule).title.lower()}" if rule in all_rules(computed=True) else ""

    def _refresh(self, _chosen: object = None) -> None:
        self.mark.setEnabled(self._desk.lessons.marking is self._marking and bool(self._desk.document.chosen))
        self.take.setEnabled(self.list.currentItem() is not None)

    def _light(self, item: QListWidgetItem | None) -> None:
        self._desk.light([item.data(ID)] if item is not None else [], "fault")
        self._refresh()

    def _mark_chosen(self) -> None:
        self._marking.ask(self._desk.document.chosen)

    def _take_away(self, part: str) -> None:
        self._marking.put(part, "")

    def _activated(self, item: QListWidgetItem) -> None:
        self._reason(item.data(ID))

    def _reason(self, part: str) -> None:
        if self._marking.reasons:
            self._marking.ask([part])

    def _take_current(self) -> None:
        item = self.list.currentItem()
        if item is not None:
            self._marking.put(item.data(ID), "")
            self._desk.light(())
