"""When the program itself goes wrong: a log, a recovery copy and one message, not fifty.

Owns the exception hook and the copies of unsaved drawings. Refuses to hide anything: the log holds the whole trace.
"""

from __future__ import annotations

import itertools
import logging
import os
import sys
import threading
import time
import traceback
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType

from platformdirs import user_data_path, user_log_path
from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet.values import Sheet
from loopwright.window import questions
from loopwright.window.document import Document

log = logging.getLogger("loopwright")
REST_MS = 400
"""How soon a copy that the disk kept waiting is asked for again."""
WAIT_S = 0.5
"""How long a change waits for the copy of the change before it."""
_NUMBERS = itertools.count(1)


def start_log(folder: Path | None = None) -> Path | None:
    """Write warnings and worse to a file in the person's log folder. None when that is not possible."""
    folder = folder if folder is not None else user_log_path("loopwright", appauthor=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(folder / "loopwright.log", maxBytes=500_000, backupCount=2, encoding="utf-8")
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    log.addHandler(handler)
    return folder / "loopwright.log"


class CrashHook:
    """Takes what nothing else caught: writes it down, keeps the drawing, says so once."""

    def __init__(self, keep: Callable[[], Path | None], say: Callable[[str, str], None], log_path: Path | None) -> None:
        self._keep, self._say, self._log_path = keep, say, log_path
        self._said = False
        self._before = sys.excepthook

    def install(self) -> None:
        """Become the exception hook."""
        sys.excepthook = self

    def remove(self) -> None:
        """Put the former hook back."""
        if sys.excepthook is self:
            sys.excepthook = self._before

    def __call__(self, sort: type[BaseException], bad: BaseException, trace: TracebackType | None) -> None:
        if issubclass(sort, KeyboardInterrupt):
            self._before(sort, bad, trace)
            return
        self.report(bad, trace)

    def report(self, bad: BaseException, trace: TracebackType | None = None) -> None:
        """Write a failure down and tell the person, the first time."""
        text = "".join(traceback.format_exception(type(bad), bad, trace or bad.__traceback__))
        log.error("unexpected failure\n%s", text)
        print(text, file=sys.stderr)
        if self._said:
            return
        self._said = True
        try:
            kept = self._keep()
        except Exception:  # a hook that fails would take the first message with it
            log.exception("the recovery copy could not be written")
            kept = None
        more = f"A copy of your drawing is kept: {kept}. " if kept else "Your drawing is still here. "
        more += "Save it under another name now."
        if self._log_path:
            more += f" What happened is written in {self._log_path}."
        self._say("Something went wrong inside loopwright.", more)


class Failures:
    """The hook of one window: installed once the window runs for a person, never in a test."""

    def __init__(self, window: QWidget, recovery: Recovery) -> None:
        self._window, self._recovery = window, recovery
        self._hook: CrashHook | None = None

    def install(self, log_path: Path | None = None) -> None:
        """Take what nothing else caught."""
        self._hook = CrashHook(self._recovery.keep, self._say, log_path)
        self._hook.install()

    def share(self, hook: CrashHook | None) -> None:
        """Report through a hook that several windows share."""
        self._hook = hook

    def report(self, bad: BaseException) -> bool:
        """Report a failure that was caught elsewhere. False when no hook is installed."""
        if self._hook is None:
            return False
        self._hook.report(bad)
        return True

    def remove(self) -> None:
        """Put the former hook back."""
        if self._hook is not None:
            self._hook.remove()

    def _say(self, text: str, more: str) -> None:
        questions.tell(self._window, "Something went wrong", text, more)


class Recovery(QObject):
    """Keeps a copy of the unsaved drawing, beside the window, until it is saved or let go.

    Every change is written in a thread of its own, since waiting for the disk takes longer than a frame; the next
    change waits a moment for the one before to be on the disk. Whatever ends the program, at most the last change is
    lost, unless changes come faster than the disk takes them: then the newest is written next.
    """

    failed = Signal(str)
    """No copy can be kept; a sentence, said once until a copy succeeds again."""

    def __init__(
        self,
        document: Document,
        catalogue: Catalogue,
        folder: Path | None = None,
        *,
        rest_ms: int = REST_MS,
        parent: QObject | None = None,
    ) -> None:
        """`rest_ms` is how soon a copy that the disk kept waiting is asked for again."""
        super().__init__(parent)
        self._document, self._catalogue = document, catalogue
        self.folder = folder if folder is not None else user_data_path("loopwright", appauthor=False) / "unsaved"
        self._path = self.folder / f"{os.getpid()}-{next(_NUMBERS)}.loopwright"
        self._lock = threading.Lock()
        self._wanted: Sheet | None = None
        self._kept: Sheet | None = None
        self._said = False
        self._writing: Future[None] | None = None
        self._executor: ThreadPoolExecutor | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(rest_ms)
        self._timer.timeout.connect(self._keep_beside)
        document.history_changed.connect(self._changed)

    def _changed(self) -> None:
        if self._document.clean:
            self.forget()
            return
        if self._document.sheet is not self._wanted:
            self._keep_beside()

    def _keep_beside(self) -> None:
        """Have the drawing as it is now written in the thread."""
        if self._document.clean:
            return
        if self._writing is not None:
            wait([self._writing], WAIT_S)
        self._wanted = self._document.sheet
        if self._executor is None:
            self._executor = ThreadPoolExecutor(1, "copy")
        if self._writing is None or self._writing.done():
            self._writing = self._executor.submit(self._write_all)
        else:  # a slow disk: the thread takes the newest when it is done, and this asks whether it did
            self._timer.start()

    def _write_all(self) -> None:
        while (sheet := self._wanted) is not None and sheet is not self._kept:
            if self._write(sheet) is None and sheet is self._wanted:
                return

    def keep(self) -> Path | None:
        """Write the copy now. None when there is nothing unsaved or it cannot be written."""
        if self._document.clean:
            return None
        self._wanted = sheet = self._document.sheet
        return self._write(sheet)

    def _write(self, sheet: Sheet) -> Path | None:
        from loopwright import files

        with self._lock:
            if sheet is not self._wanted:  # saved or let go meanwhile
                return None
            if sheet is self._kept and self._path.exists():
                return self._path
            try:
                self.folder.mkdir(parents=True, exist_ok=True)
                files.save(sheet, self._path)
            except Exception as bad:  # whatever it is, nobody else hears of it: this runs in a thread
                defect = None if isinstance(bad, OSError | RuntimeError | LoopwrightError) else bad
                log.warning("the copy of the unsaved drawing could not be written: %s", bad, exc_info=defect)
                if not self._said:
                    self._said = True
                    why = _reason(bad)
                    self.failed.emit(f"No copy of unsaved work can be kept in {self.folder} ({why}): save often.")
                return None
            self._kept, self._said = sheet, False
            return self._path

    def forget(self) -> None:
        """Let this run's copy go: the drawing was saved, or its changes were dropped."""
        self._timer.stop()
        self._wanted = None
        with self._lock:
            self._kept = None
            try:
                self._path.unlink(missing_ok=True)
            except OSError as bad:
                log.warning("the copy of a saved drawing could not be taken away: %s", bad)

    def close(self) -> None:
        """Let the copy go and end the thread."""
        self.forget()
        if self._executor is not None:
            self._executor.shutdown(wait=True)
            self._executor = None

    def left_over(self) -> list[Path]:
        """Copies of runs that ended without saving, newest first."""
        try:
            found = [p for p in self.folder.glob("*.loopwright") if p != self._path and not _alive(p.stem)]
        except OSError:
            return []
        return sorted(found, key=_written_at, reverse=True)

    def read(self, path: Path) -> Sheet:
        """The drawing of a copy. Raises LoopwrightError."""
        from loopwright import files

        return files.load(path, self._catalogue)

    @staticmethod
    def when(path: Path) -> str:
        """When a copy was written, in words."""
        return time.strftime("%d %B, %H:%M", time.localtime(_written_at(path))).lstrip("0")


def _reason(bad: Exception) -> str:
    """Why something could not be written, in the system's few words."""
    words = bad.strerror if isinstance(bad, OSError) else bad.where if isinstance(bad, LoopwrightError) else ""
    return (words or str(bad)).rstrip(".")


def _written_at(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _alive(stem: str) -> bool:
    """True while the process that a copy is named for runs, as far as can be told."""
    pid = stem.partition("-")[0]
    if not (pid.isascii() and pid.isdigit() and len(pid) < 12):
        return False
    if sys.platform == "win32":
        return False
    try:
        os.kill(int(pid), 0)
    except ProcessLookupError:
        return False
    except OverflowError:
        return False
    except OSError:
        return True
    return True
