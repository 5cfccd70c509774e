"""Starting the window: the application, its frame at once, the sheet in it, and an orderly end.

Owns the order of starting. Refuses to do anything at import.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.errors import KindError
    from loopwright.window.sheets import Sheets

MOST_SAID = 5
"""Refusals of one's own kinds in one box."""


def run(path: Path | None = None, arguments: list[str] | None = None) -> int:
    """Show the window, with the drawing of `path` if one is given. Gives the exit code."""
    # sheets are small: threads for large matrices would only cost a twentieth of a second at every start
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.disable()  # what is loaded now stays to the end, so that there is nothing to collect until it is
    from PySide6.QtWidgets import QApplication

    from loopwright.window.recent import Memory
    from loopwright.window.sheets import Sheets

    app = QApplication.instance() or QApplication(arguments if arguments is not None else sys.argv[:1])
    assert isinstance(app, QApplication)
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl C in the terminal; the copy of what is unsaved stays
    app.setApplicationName("loopwright")
    app.setApplicationDisplayName("loopwright")
    app.setDesktopFileName("loopwright")
    frame = Sheets(Memory())
    # absolute: the folder we were started in may go while we run
    starting = Starting(frame, None if path is None else Path(os.path.abspath(path)))
    frame.painted.connect(starting.go)
    frame.show()
    try:
        return app.exec()
    finally:
        gc.enable()
        frame.shut_down()
        from loopwright.window import clipboard

        clipboard.let_go()


class Starting:
    """What happens once the frame shows: its furniture, the cautions, then the drawing asked for or left unsaved."""

    def __init__(self, frame: Sheets, path: Path | None) -> None:
        self._frame, self._path = frame, path

    def go(self) -> None:
        """Do it all, in order."""
        from PySide6.QtGui import QIcon

        import loopwright.window.main  # noqa: F401
        from loopwright.drawing.own import own_kinds_here
        from loopwright.resources import resource_root
        from loopwright.window.crash import start_log
        from loopwright.window.sweeping import Sweeper

        gc.freeze()  # and no collection need look at it until the first sweep
        Sweeper(self._frame).begin()
        self._frame.setWindowIcon(QIcon(str(resource_root() / "desktop" / "loopwright.svg")))
        kinds, refused = own_kinds_here()
        self._frame.furnish(kinds, start_log())
        self.first_run_note()
        self.own_kinds_note(refused)
        if self._path is not None:
            self._frame.current.filing.open(self._path)
        else:
            self.offer_recovery()

    def first_run_note(self) -> None:
        """Show the cautions until they have been read once."""
        memory = self._frame.memory
        if not memory.caution_read:
            self._frame.current.commands.cautions()
            memory.caution_read = True

    def own_kinds_note(self, refused: tuple[KindError, ...]) -> None:
        """Say which of the person's own kinds were left out, and why; the first few, since a box has an end."""
        from loopwright.window import questions

        if refused:
            said = [bad.sentence for bad in refused[:MOST_SAID]]
            if len(refused) > MOST_SAID:
                said.append(f"And {len(refused) - MOST_SAID} more.")
            questions.tell(
                self._frame,
                "Kinds of your own",
                "Not everything in the folder of your own kinds can be used. The rest works as usual.",
                "\n\n".join(said),
            )

    def offer_recovery(self) -> None:
        """Offer the drawings that were left unsaved, newest first."""
        from loopwright.window import questions

        recovery = self._frame.current.recovery
        for path in recovery.left_over():
            try:
                sheet = recovery.read(path)
            except (LoopwrightError, OSError):
                continue
            if questions.ask_recover(self._frame, sheet.title, recovery.when(path)):
                window = self._frame.current
                if window.document.sheet.parts:
                    window = self._frame.add()
                window.document.open(sheet, None, saved=False)
                if window.recovery.keep() is not None:  # else the old copy is the only one
                    with suppress(OSError):  # offered once more next time, which is better than lost
                        path.unlink(missing_ok=True)
