"""Long work beside the window: the survey of the sheet, a little after the last change.

Owns when to check and which answer is still current. Refuses to know what a survey holds.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from loopwright.errors import LoopwrightError

REST_MS = 120
Check = Callable[[Any], object]


class Surveyor(QObject):
    """Runs a check `rest_ms` after the last call of `ask`, and drops answers that a later sheet has overtaken.

    Sheets are frozen, so a check may read one in another thread while the next is drawn. What is asked about may be any
    other frozen thing with a sheet in it.
    """

    started = Signal()
    answered = Signal(object, object)
    """The sheet that was checked, and its survey."""
    refused = Signal(str)
    """The sheet cannot be checked; a sentence that says why and what to do."""
    broke = Signal(object)
    """The check raised what it should never raise: a defect of the program."""
    _finished = Signal(int, object, object)

    def __init__(
        self,
        check: Check,
        *,
        rest_ms: int = REST_MS,
        inline: bool = False,
        executor: Executor | None = None,
        parent: QObject | None = None,
    ) -> None:
        """`executor` is a thread shared with others, so that they wait for each other; else it has one of its own."""
        super().__init__(parent)
        self._check = check
        self._executor: Executor | None = None if inline else executor or ThreadPoolExecutor(1, "survey")
        self._sheet: Any = None
        self._revision = self._started = 0
        self._running = False
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(rest_ms)
        self._timer.timeout.connect(self._start)
        self._finished.connect(self._take)

    def ask(self, sheet: Any) -> None:
        """Have this sheet checked, in place of any that still waits."""
        self._sheet = sheet
        self._revision += 1
        self._timer.start()

    def drop(self) -> None:
        """Want no answer any more, neither of what waits nor of what runs."""
        self._timer.stop()
        self._sheet = None
        self._revision += 1

    def overtaken(self) -> bool:
        """True, asked by a check under way, when nobody waits for its answer any more."""
        return self._started != self._revision

    @property
    def wanted(self) -> bool:
        """True while an answer for the last sheet is still to come; after `drop`, none is."""
        return self._sheet is not None and self.busy

    @property
    def busy(self) -> bool:
        """True while an answer for the last sheet is still to come."""
        return self._timer.isActive() or self._running

    def close(self) -> None:
        """Ask for nothing more and wait for what runs."""
        self._timer.stop()
        self._revision += 1
        if self._executor is not None:
            self._executor.shutdown(wait=True, cancel_futures=True)
            self._executor = None

    def _start(self) -> None:
        sheet, revision = self._sheet, self._revision
        if sheet is None:
            return
        if self._running:  # one check at a time: the newest sheet is started when this one ends
            return
        self._running = True
        self._started = revision
        self.started.emit()
        if self._executor is None:
            self._done(revision, sheet, None)
            return
        future = self._executor.submit(self._check, sheet)
        future.add_done_callback(_Report(self, revision, sheet))

    def _done(self, revision: int, sheet: Any, future: Future[object] | None) -> None:
        answer: object
        try:
            answer = self._check(sheet) if future is None else future.result()
        except Exception as bad:  # every failure must reach the window's own thread
            answer = bad
        self._finished.emit(revision, sheet, answer)

    def _take(self, revision: int, sheet: Any, answer: object) -> None:
        self._running = False
        if revision != self._revision:
            if not self._timer.isActive() and self._sheet is not None and self._executor is not None:
                self._timer.start()
            return
        if isinstance(answer, LoopwrightError):
            self.refused.emit(answer.sentence)
        elif isinstance(answer, Exception):
            self.broke.emit(answer)
        else:
            self.answered.emit(sheet, answer)


class _Report:
    """Brings a finished check home; a small object, so that no closure keeps the surveyor alive."""

    def __init__(self, surveyor: Surveyor, revision: int, sheet: Any) -> None:
        self._surveyor, self._revision, self._sheet = surveyor, revision, sheet

    def __call__(self, future: Future[object]) -> None:
        if not future.cancelled():
            self._surveyor._done(self._revision, self._sheet, future)
