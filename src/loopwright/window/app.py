"""Starting the window: the application, its looks, its one window, and an orderly end.

Owns the order of starting. Refuses to do anything at import.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow


def run(path: Path | None = None, arguments: list[str] | None = None) -> int:
    """Show the window, with the drawing of `path` if one is given. Gives the exit code."""
    # sheets are small: threads for large matrices would only cost a twentieth of a second at every start
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # what needs no window first: the window library slows every import that comes after it
    import loopwright.drawing.scene
    import loopwright.files
    import loopwright.survey
    import loopwright.units  # noqa: F401
    from loopwright.catalogue import standard_catalogue

    catalogue = standard_catalogue()

    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QApplication

    from loopwright.window.crash import start_log
    from loopwright.window.main import MainWindow
    from loopwright.window.recent import Memory

    app = QApplication.instance() or QApplication(arguments if arguments is not None else sys.argv[:1])
    assert isinstance(app, QApplication)
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl C in the terminal; the copy of what is unsaved stays
    app.setApplicationName("loopwright")
    app.setApplicationDisplayName("loopwright")
    log_path = start_log()
    window = MainWindow(catalogue, Memory())
    window.failed.install(log_path)
    window.show()
    starting = Starting(window, path)
    QTimer.singleShot(0, starting.go)
    try:
        return app.exec()
    finally:
        window.shut_down()


class Starting:
    """What happens once the window shows: the cautions, then the drawing that was asked for or left unsaved."""

    def __init__(self, window: MainWindow, path: Path | None) -> None:
        self._window, self._path = window, path

    def go(self) -> None:
        """Do it all, in order."""
        self.first_run_note()
        if self._path is not None:
            self._window.filing.read(self._path)
        else:
            self.offer_recovery()

    def first_run_note(self) -> None:
        """Show the cautions until they have been read once."""
        memory = self._window.memory
        if not memory.caution_read:
            self._window.commands.cautions()
            memory.caution_read = True

    def offer_recovery(self) -> None:
        """Offer the newest drawing that was left unsaved."""
        from loopwright.window import questions

        recovery = self._window.recovery
        for path in recovery.left_over()[:1]:
            try:
                sheet = recovery.read(path)
            except LoopwrightError:
                continue
            if questions.ask_recover(self._window, sheet.title, recovery.when(path)):
                self._window.document.open(sheet, None, saved=False)
                recovery.keep()
                path.unlink(missing_ok=True)
