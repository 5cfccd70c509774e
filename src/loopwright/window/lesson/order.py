"""The order of work beside the sheet: a checklist that is ticked and printed, and the same jobs to be put in order.

Owns which of the two is in front and the order they share. What comes before what is found by `lessons.order`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QPushButton, QStackedWidget, QWidget

from loopwright.window.desk import Desk
from loopwright.window.lesson.arrange import ArrangePage
from loopwright.window.lesson.checklist import ChecklistPage
from loopwright.window.panel import Panel
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.order import WorkOrder
    from loopwright.sheet.values import Sheet

NOTHING = (
    "Nothing is drawn yet, so there is no work to put in order. Draw a system, or open one: every job is derived from "
    "what is on the sheet, and each comes with the reason why it stands where it does."
)


class OrderPanel(Panel):
    """The order of work of the sheet."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__("Order of work", parent)
        self._desk = desk
        self._of: Sheet | None = None
        self._in_front = False
        self.order: WorkOrder | None = None
        done = QPushButton("Done", self)
        done.setToolTip("Back to the properties and findings (Esc)")
        done.clicked.connect(self._close)
        self.head.addWidget(done)
        row = QHBoxLayout()
        row.setSpacing(0)
        self.pages = QButtonGroup(self)
        for number, (words, part) in enumerate((("Checklist", "first"), ("Arrange it yourself", "last"))):
            button = QPushButton(words, self)
            button.setCheckable(True)
            button.setProperty("part", part)
            self.pages.addButton(button, number)
            row.addWidget(button, 1)
        self.pages.button(0).setChecked(True)
        self.pages.idClicked.connect(self.show_page)
        self.body.addLayout(row)
        self.nothing = QLabel(NOTHING, self)
        self.nothing.setWordWrap(True)
        self.nothing.setObjectName("hint")
        self.nothing.hide()
        self.body.addWidget(self.nothing)
        self.stack = QStackedWidget(self)
        self.checklist = ChecklistPage(desk, self)
        self.arrange = ArrangePage(desk, self)
        self.stack.addWidget(self.checklist)
        self.stack.addWidget(self.arrange)
        self.body.addWidget(self.stack, 1)
        desk.sheet_changed.connect(self._changed)

    # ---- coming and going

    def _close(self) -> None:
        self._desk.close("order")

    def enter(self) -> None:
        """Put the sheet's work in order as it is now."""
        self._in_front = True
        self._ask()
        self._front_list().setFocus()

    def leave(self) -> None:
        """Put the light out."""
        self._in_front = False
        self._desk.light(())

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        if self.order is not None:
            self.checklist.show_order(self.order)
            self.arrange.refresh()

    def show_page(self, number: int) -> None:
        """The checklist (0) or the jobs to arrange (1)."""
        self.pages.button(number).setChecked(True)
        self.stack.setCurrentIndex(number)
        self._desk.light(())
        self._front_list().setFocus()

    def _front_list(self) -> QWidget:
        return self.checklist.list if self.stack.currentIndex() == 0 else self.arrange.list

    # ---- the order

    def _changed(self, sheet: Sheet) -> None:
        if not self._in_front:
            return
        was = self._of
        if was is not None and (was.parts is sheet.parts and was.pipes is sheet.pipes and was.links is sheet.links):
            self._of = sheet  # a tick, a note, a title: the jobs are the same
            if self.order is not None:
                self.checklist.show_order(self.order)
            return
        self._ask()

    def _ask(self) -> None:
        sheet, catalogue = self._desk.sheet, self._desk.catalogue
        if sheet is self._of and self.order is not None:
            self.checklist.show_order(self.order)
            return
        self._of = sheet

        def work(_task: object) -> Any:
            from loopwright.lessons.order import order_of_sheet

            return order_of_sheet(sheet, catalogue)

        def done(found: WorkOrder) -> None:
            if self._of is not None and self._of.parts is sheet.parts and self._of.pipes is sheet.pipes:
                self._show(found)

        self._desk.work(work, done)

    def _show(self, found: WorkOrder) -> None:
        fresh = self.order is None or {t.key for t in self.order.tasks} != {t.key for t in found.tasks}
        self.order = found
        self.nothing.setVisible(not found.tasks)
        self.stack.setVisible(bool(found.tasks))
        self.checklist.show_order(found)
        if fresh:
            self.arrange.show_order(found)
