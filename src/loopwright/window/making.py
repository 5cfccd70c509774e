"""What a view that makes pages shares: a row of choices, the pages, how far the work is, and a way to stop it.

Owns the states: nothing yet, being made, made, old. Refuses to know what is made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window.as_typed import as_typed
from loopwright.window.desk import Desk

if TYPE_CHECKING:
    from loopwright.window.jobs import Task, Work
    from loopwright.window.paper_view import Pages


class PagesView(QWidget):
    """A view that shows pages; a subclass says how they are made (`_make`, in the other thread). `place` is its name on
    the desk; its choices stand in the tool row while it is in front."""

    def __init__(self, desk: Desk, parent: QWidget | None, place: str, name: str) -> None:
        from loopwright.window.paper_view import PaperView

        super().__init__(parent)
        self._desk = desk
        self._task: Task | None = None
        self._made_of: object = None
        self._in_front = False
        self.pages: Pages | None = None
        self.setAccessibleName(name)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self._place = place
        self.choices = QWidget(self)
        self.row = QHBoxLayout(self.choices)
        self.row.setContentsMargins(4, 0, 12, 0)
        self.row.setSpacing(6)
        column.addWidget(self.choices)
        self.states = QStackedWidget(self)
        column.addWidget(self.states, 1)
        self.paper = PaperView(self)
        self.states.addWidget(self.paper)
        self._waiting = QWidget(self)
        middle = QVBoxLayout(self._waiting)
        middle.addStretch(2)
        self.heading = QLabel("", self._waiting)
        self.heading.setObjectName("page-heading")
        self.said = QLabel("", self._waiting)
        as_typed(self.said)
        self.said.setWordWrap(True)
        self.said.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.bar = QProgressBar(self._waiting)
        self.bar.setRange(0, 100)
        self.bar.setFixedWidth(320)
        self.cancel = QPushButton("Cancel", self._waiting)
        self.cancel.clicked.connect(self.stop)
        middle.addWidget(self.heading, 0, Qt.AlignmentFlag.AlignHCenter)
        across = QHBoxLayout()  # so that the lines of the words have their height
        across.addStretch(1)
        across.addWidget(self.said)
        across.addStretch(1)
        middle.addLayout(across)
        for widget in (self.bar, self.cancel):
            middle.addWidget(widget, 0, Qt.AlignmentFlag.AlignHCenter)
        middle.addStretch(3)
        self.states.addWidget(self._waiting)
        self.said.setFixedWidth(460)
        desk.sheet_changed.connect(self._old)

    def add_zoom(self) -> None:
        """Put the two buttons that make the pages smaller and larger into the row of choices."""
        for words, step, name in (("−", -1, "Smaller"), ("+", 1, "Larger")):
            button = QPushButton(words, self)
            button.setAccessibleName(name)
            button.setToolTip(f"{name} pages; Ctrl and the wheel do the same")
            button.setProperty("step", step)
            button.clicked.connect(self._zoom)
            self.row.addWidget(button)

    def _zoom(self) -> None:
        self.paper.zoom_by(int(self.sender().property("step")))

    # ---- coming and going

    def enter(self) -> None:
        """Make the pages anew if what they are of has changed."""
        self.come_to_front()
        if self._made_of is not self._of():
            self.make()

    def come_to_front(self) -> None:
        """Put the choices in the tool row."""
        self._in_front = True
        self._desk.lend_row(self._place, self.choices)

    def leave(self) -> None:
        """Stop what is being made."""
        self._in_front = False
        self.stop()

    def _of(self) -> object:
        return self._desk.sheet

    def _old(self, _sheet: object) -> None:
        if self._in_front:
            self.make()

    # ---- making

    def make(self) -> None:
        """Begin anew, in place of what is under way."""
        if self._task is not None:
            self._task.cancel()
        of = self._of()
        work = self._work()
        if work is None:
            return
        self._say("Making the pages…", busy=True)

        def done(pages: Pages) -> None:
            self._task = None
            self.pages, self._made_of = pages, of
            self.paper.show_pages(pages)
            self.states.setCurrentWidget(self.paper)
            self._shown()

        self._task = self._desk.work(work, done, self._failed)
        if not self._task.over:
            self._task.moved.connect(lambda part: self.bar.setValue(round(100 * part)))

    def stop(self) -> None:
        """Stop what is under way; the pages before stay."""
        if self._task is not None:
            self._task.cancel()
            self._task = None
            if self.pages is not None:
                self.states.setCurrentWidget(self.paper)
            else:
                self._say("Stopped. Nothing was written.", busy=False)

    def _failed(self, bad: LoopwrightError) -> None:
        self._task = None
        self._say(bad.sentence, busy=False)

    def _say(self, words: str, *, busy: bool, heading: str = "") -> None:
        self.heading.setText(heading)
        self.heading.setVisible(bool(heading))
        self.said.setText(words)
        self.said.setFixedHeight(self.said.heightForWidth(self.said.width()))
        self.bar.setVisible(busy)
        self.bar.setValue(0)
        self.cancel.setVisible(busy)
        self.states.setCurrentWidget(self._waiting)

    def _work(self) -> Work | None:
        """A function of a task that gives `Pages`; None when there is nothing to make yet."""
        raise NotImplementedError

    def _shown(self) -> None:
        """Called when pages are shown."""
