"""A task beside its sheet: the panel that takes the left side over while it is in front, and gives all of it back.

Owns coming and going, for lessons and exercises alike. What a task asks and how it is judged is its own panel's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from loopwright.window.desk import Desk
from loopwright.window.frame import Side
from loopwright.window.lesson.marking import Marking, MarkList
from loopwright.window.lesson.said import FoundList
from loopwright.window.panel import Panel, scrolled
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.sheet.values import Sheet

WIDTH, USUAL_WIDTH = 336, 236
"""How wide the left side is for a task, and without one, px."""


class TaskPanel(QWidget):
    """The task of a sheet. `heading`, `marks` and `found` are made here; the task lays them out in `column`."""

    stays = True
    place: ClassVar[str]
    """Its place on the desk."""
    title: ClassVar[str]

    def __init__(self, desk: Desk, parent: QWidget | None = None, *, reasons: bool) -> None:
        """`reasons`: a mark of a fault names the rule that is broken."""
        super().__init__(parent)
        self._desk = desk
        self._width = 0
        self.marking = Marking(desk, self, reasons=reasons)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        self.split = Side("left-side", self)
        whole.addWidget(self.split)
        self.panel = Panel(self.title, self, margin=0)
        leave = QPushButton("Close", self)
        leave.setToolTip(f"Put the {self.place} away; Lessons, The lesson of this sheet brings it back")
        leave.clicked.connect(self._close)
        self.panel.head.addWidget(leave)
        body = QWidget(self)
        body.setObjectName("panel-body")
        self.column = QVBoxLayout(body)
        self.column.setContentsMargins(14, 0, 10, 8)
        self.column.setSpacing(8)
        self.heading = QLabel("", self)
        self.heading.setObjectName("page-heading")
        self.heading.setWordWrap(True)
        self.marks = MarkList(desk, self.marking, self)
        self.found = FoundList(desk.look, self)
        self.found.wanted.connect(desk.light)
        self.found.help_wanted.connect(desk.help)
        self.area = scrolled(body, self)
        self.area.setAccessibleName(self.title)
        self.panel.body.addWidget(self.area, 1)
        self.split.addWidget(self.panel)
        self.split.setStretchFactor(0, 1)
        desk.document.opened.connect(self._replaced)
        desk.looked.connect(self.set_look)

    # ---- what a task says of itself

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        raise NotImplementedError

    def _begun_on(self) -> Sheet | None:
        """The sheet that the task began on; None without a task."""
        raise NotImplementedError

    def _forget(self) -> None:
        """Let the task go."""
        raise NotImplementedError

    def _take_over(self) -> None:
        """Show the task's own parts, marks and findings."""
        raise NotImplementedError

    # ---- coming and going

    def _begin(self) -> None:
        """The task is the sheet's from now on."""
        self._desk.lessons.task = self.place
        self._desk.hold(True)
        if self._desk.front("left") is self:
            self._take_over()
            self._desk.fit()

    def _close(self) -> None:
        self._desk.close(self.place)

    def enter(self) -> None:
        """Take over the left side and the findings."""
        self._width = self._desk.left_width(WIDTH)
        self._take_over()

    def leave(self) -> None:
        """Give everything back."""
        self._desk.take_parts_back()
        self._desk.left_width(self._width or USUAL_WIDTH)
        self._desk.light(())
        self.marking.end()
        self._desk.sift(None)

    def _lend(self, kinds: frozenset[str] | None, low: int) -> None:
        """Bring the parts that may be placed, all of them for None, below the task; they get a height of `low` px."""
        self._desk.lend_parts(self.split, kinds)
        self.split.setSizes([max(400, self.height()) - low, low])

    def _replaced(self) -> None:
        """Another drawing may have taken the place of the task's."""
        begun = self._begun_on()
        if begun is not None and self._desk.sheet is not begun:
            self._forget()
            self._desk.lessons.task = ""
            self._desk.hold(False)
            self._desk.close(self.place)
            self._desk.refresh()
