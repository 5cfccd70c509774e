"""A run under way: begun beside the window, stopped at a person's wish with what is done kept, and told of as it goes.

Owns the work and its clocks. Refuses to know how any of it is shown.
"""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from loopwright.errors import LoopwrightError
from loopwright.window.run.wish import Wish, carry_out, progress_words

if TYPE_CHECKING:
    from loopwright.engineering.runs.result import Run
    from loopwright.sheet.values import Sheet
    from loopwright.window.desk import Desk
    from loopwright.window.jobs import Task

BAR_MS, WORDS_MS = 400, 2000
"""A run that takes longer shows a bar, and then words and a way to stop it."""
TELL_S = 0.1
"""How far it is, is told no more often than that: a day has more steps than anybody sees."""
SHARE = 5.0
"""Between two looks at what there is so far, so many times as long as a look takes: it holds the run up."""


class Runner(QObject):
    """One run at a time, on one sheet or on several for the same wish."""

    ran = Signal(object, object)
    """The runs in the order of the sheets, and the sheets."""
    failed = Signal(str)
    """A sentence: what is missing on the sheet."""
    grew = Signal(object, object)
    """What there is so far of the one run that is under way, and its sheet; now and then, and not of several."""
    began = Signal()
    over = Signal()
    moved = Signal(float)
    """Part of the work that is done; only while a bar is due."""
    _peeked = Signal(object, object, object)
    told = Signal(str)
    """How far it is, in words; only once words are due."""

    def __init__(self, desk: Desk, parent: QObject) -> None:
        super().__init__(parent)
        self._desk = desk
        self._task: Task | None = None
        self._stop = False
        self._began = 0.0
        self._part = 0.0
        self._quiet_until = self._told_at = 0.0
        self.wish = Wish()
        self.took_s = 0.0
        self._peeked.connect(self._peek)
        self._bar_due, self._words_due = QTimer(self), QTimer(self)
        for timer, ms in ((self._bar_due, BAR_MS), (self._words_due, WORDS_MS)):
            timer.setSingleShot(True)
            timer.setInterval(ms)
            timer.timeout.connect(self._tell)

    @property
    def busy(self) -> bool:
        """Whether a run is under way."""
        return self._task is not None

    def start(self, wish: Wish, sheets: tuple[Sheet, ...]) -> None:
        """Run, in place of what is under way. A cancelled run counts as one."""
        if self._task is not None:
            self._task.cancel()
            self._end()
        catalogue = self._desk.catalogue
        self.wish, self._began, self._stop, self._part = wish, monotonic(), False, 0.0

        def work(task: Task) -> list[Run]:
            import pyqtgraph  # noqa: F401  (slow to load, and this is the thread that may wait)

            found: list[Run] = []
            for sheet in sheets:
                done, count = len(found), len(sheets)

                def step(part: float, done: int = done, count: int = count) -> None:
                    task.progress((done + min(1.0, part)) / count)

                def so_far(run: Run, sheet: Sheet = sheet) -> None:
                    self._peeked.emit(task, run, sheet)

                given_up = lambda: self._stop or task.cancelled()  # noqa: E731
                found.append(
                    carry_out(wish.on(sheet), sheet, catalogue, step, given_up, so_far if count == 1 else None)
                )
            return found

        def done(found: list[Run]) -> None:
            self.took_s = monotonic() - self._began
            self._end()
            self.ran.emit(found, sheets)

        def failed(bad: LoopwrightError) -> None:
            self._end()
            self.failed.emit(bad.sentence)

        self.began.emit()
        self._bar_due.start()
        self._words_due.start()
        self._task = self._desk.work(work, done, failed)
        if self._task.over:
            self._end()
        else:
            self._task.moved.connect(self._moved)

    def stop(self) -> None:
        """Stop what is under way, and keep what is done so far."""
        self._stop = True

    def _end(self) -> None:
        if self._task is not None or self._bar_due.isActive() or self._words_due.isActive():
            self._task = None
            for timer in (self._bar_due, self._words_due):
                timer.stop()
            self.over.emit()

    def _moved(self, part: float) -> None:
        self._part = part
        if monotonic() - self._told_at >= TELL_S:
            self._tell()

    def _peek(self, task: Task, run: Run, sheet: Sheet) -> None:
        """What a task has so far, in the window's own thread; one that was overtaken has nothing to say."""
        began = monotonic()
        if task is self._task and not self._stop and began >= self._quiet_until:
            self.grew.emit(run, sheet)
            now = monotonic()
            self._quiet_until = now + SHARE * (now - began)

    def _tell(self) -> None:
        if self._task is None:
            return
        self._told_at = monotonic()
        if not self._bar_due.isActive():
            self.moved.emit(self._part)
        if not self._words_due.isActive():
            self.told.emit(progress_words(self.wish, self._part, monotonic() - self._began))
