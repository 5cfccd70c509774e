"""When the program itself goes wrong: a log, a recovery copy and one message, not fifty.

Owns the exception hook and the copies of unsaved drawings. Refuses to hide anything: the log holds the whole trace.
"""

from __future__ import annotations

import itertools
import logging
import os
import sys
import time
import traceback
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType

from platformdirs import user_data_path, user_log_path
from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet.values import Sheet
from loopwright.window import questions
from loopwright.window.document import Document

log = logging.getLogger("loopwright")
REST_MS = 400
"""From the first change that no copy has yet to its copy: what a kill may take."""
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
    """Keeps a copy of the unsaved drawing, a moment after it changes, until it is saved or let go.

    Written in a thread of its own, since waiting for the disk takes longer than a frame: a sheet never changes.
    """

    def __init__(
        self,
        document: Document,
        catalogue: Catalogue,
        folder: Path | None = None,
        *,
        rest_ms: int = REST_MS,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document, self._catalogue = document, catalogue
        self.folder = folder if folder is not None else user_data_path("loopwright", appauthor=False) / "unsaved"
        self._path = self.folder / f"{os.getpid()}-{next(_NUMBERS)}.loopwright"
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(rest_ms)
        self._timer.timeout.connect(self._keep_beside)
        self._writer: ThreadPoolExecutor | None = None
        self._writing: Future[Path | None] | None = None
        document.history_changed.connect(self._changed)

    def _changed(self) -> None:
        if self._document.clean:
            self.forget()
        elif not self._timer.isActive():  # never put off by edits that follow each other
            self._timer.start()

    def _keep_beside(self) -> None:
        """Write the copy without holding up the window; while the disk is slow the next one waits."""
        if self._document.clean:
            return
        if self._writing is not None and not self._writing.done():
            self._timer.start()
            return
        if self._writer is None:
            self._writer = ThreadPoolExecutor(1, "recovery")
        self._writing = self._writer.submit(self._write, self._document.sheet)

    def keep(self) -> Path | None:
        """Write the copy now. None when there is nothing unsaved or it cannot be written."""
        if self._document.clean:
            return None
        self._wait()
        return self._write(self._document.sheet)

    def _write(self, sheet: Sheet) -> Path | None:
        from loopwright import files

        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            files.save(sheet, self._path)
        except (OSError, LoopwrightError) as bad:
            log.warning("the copy of the unsaved drawing could not be written: %s", bad)
            return None
        return self._path

    def _wait(self) -> None:
        """Until no copy is being written, so that an older one never lands on a newer."""
        if self._writing is not None:
            self._writing.exception()
            self._writing = None

    def forget(self) -> None:
        """Let this run's copy go: the drawing was saved, or its changes were dropped."""
        self._timer.stop()
        self._wait()
        self._path.unlink(missing_ok=True)
        if self._writer is not None:
            self._writer.shutdown()
            self._writer = None

    def left_over(self) -> list[Path]:
        """Copies of runs that ended without saving, newest first."""
        if not self.folder.is_dir():
            return []
        found = [p for p in self.folder.glob("*.loopwright") if p != self._path and not _alive(p.stem)]
        return sorted(found, key=lambda p: -p.stat().st_mtime)

    def read(self, path: Path) -> Sheet:
        """The drawing of a copy. Raises LoopwrightError."""
        from loopwright import files

        return files.load(path, self._catalogue)

    @staticmethod
    def when(path: Path) -> str:
        """When a copy was written, in words."""
        return time.strftime("%d %B, %H:%M", time.localtime(path.stat().st_mtime)).lstrip("0")


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
