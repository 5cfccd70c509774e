"""Starting the window: the application, its looks, its one window, and an orderly end.

Owns the order of starting. Refuses to do anything at import.
"""

from __future__ import annotations

import sys
from pathlib import Path


def run(path: Path | None = None, arguments: list[str] | None = None) -> int:
    """Show the window, with the drawing of `path` if one is given. Gives the exit code."""
    # what needs no window first: the window library slows every import that comes after it
    from loopwright.catalogue import standard_catalogue

    catalogue = standard_catalogue()

    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QApplication

    from loopwright.window.crash import start_log
    from loopwright.window.main import MainWindow
    from loopwright.window.recent import Memory

    app = QApplication.instance() or QApplication(arguments if arguments is not None else sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("loopwright")
    app.setApplicationDisplayName("loopwright")
    log_path = start_log()
    window = MainWindow(catalogue, Memory(), log_path=log_path)
    window.install_crash_hook()
    window.show()
    starting = _Starting(window, path)
    QTimer.singleShot(0, starting.go)
    try:
        return app.exec()
    finally:
        window.shut_down()


class _Starting:
    """What happens once the window shows."""

    def __init__(self, window, path: Path | None) -> None:
        self._window, self._path = window, path

    def go(self) -> None:
        self._window.first_run_note()
        if self._path is not None:
            self._window.filing.read(self._path)
        else:
            self._window.offer_recovery()
