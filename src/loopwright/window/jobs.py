"""Long work beside the window: a run, a report, a batch; with progress, and a way to stop.

Owns the threads and the way home. Refuses to know what the work is: a function that is given a `Task` to report to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from PySide6.QtCore import QObject, Signal

from loopwright.errors import LoopwrightError

Work = Callable[["Task"], Any]
Done = Callable[[Any], object]
Failed = Callable[[Exception], object]


class Stopped(LoopwrightError):
    """The work was stopped by the person; nothing is to be said about it."""

    def __init__(self) -> None:
        super().__init__("Stopped")


@contextmanager
def while_wanted(overtaken: Callable[[], bool]) -> Iterator[None]:
    """Work within that solves a flow raises `Stopped` soon after `overtaken` says that nobody waits for it."""
    from loopwright.engineering import patience

    try:
        with patience.while_wanted(overtaken):
            yield
    except patience.GivenUp:
        raise Stopped from None


class Task(QObject):
    """One piece of work under way. The work calls `progress` and asks `cancelled`; the window calls `cancel`."""

    moved = Signal(float)
    """Part of the work that is done, 0 to 1; reaches the window's own thread."""
    finished = Signal()
    """Done, failed or stopped."""
    _home = Signal(object, object)

    def __init__(self, done: Done, failed: Failed, parent: QObject) -> None:
        super().__init__(parent)
        self._done, self._failed = done, failed
        self._stop = False
        self.over = False
        self._home.connect(self._take)

    def progress(self, fraction: float) -> None:
        """Say how far the work is. Raises `Stopped` when the person wants no more of it."""
        if self._stop:
            raise Stopped
        self.moved.emit(fraction)

    def cancelled(self) -> bool:
        """True when the person wants no more of it."""
        return self._stop

    def cancel(self) -> None:
        """Ask the work to stop at its next step; its answer is dropped."""
        self._stop = True

    def _take(self, answer: object, bad: object) -> None:
        if self.over:
            return
        self.over = True
        if not self._stop and not isinstance(bad, Stopped):
            if isinstance(bad, Exception):
                self._failed(bad)
            else:
                self._done(answer)
        self.finished.emit()
        self.deleteLater()


class Jobs(QObject):
    """Runs work in a thread of its own, one piece after another. `inline` runs it at once, for tests."""

    def __init__(self, *, inline: bool = False, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._inline = inline
        self._executor: Executor | None = None
        self._tasks: list[Task] = []

    def start(self, work: Work, done: Done, failed: Failed) -> Task:
        """Begin a piece of work. `done` gets its answer, `failed` its error, both in the window's own thread."""
        task = Task(done, failed, self)
        self._tasks = [t for t in self._tasks if not t.over] + [task]
        if self._inline:
            _carry_out(task, work)
            return task
        if self._executor is None:
            self._executor = ThreadPoolExecutor(1, "job")
        self._executor.submit(_carry_out, task, work)
        return task

    def close(self) -> None:
        """Stop everything and wait for it."""
        for task in self._tasks:
            if not task.over:
                task.cancel()
                task.over = True
        if self._executor is not None:
            self._executor.shutdown(wait=True, cancel_futures=True)
            self._executor = None


def _carry_out(task: Task, work: Work) -> None:
    answer: object = None
    bad: Exception | None = None
    try:
        with while_wanted(task.cancelled):
            answer = work(task)
    except Exception as caught:  # every failure must reach the window's own thread
        bad = caught
    task._home.emit(answer, bad)
