"""Python's own tidying of memory, done while nobody moves anything: in the midst of a drag it costs several frames.

Owns when that is. Refuses to know what there is to be tidied away.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from time import monotonic

from PySide6.QtCore import QObject, QPoint, Qt, QTimer
from PySide6.QtGui import QCursor, QGuiApplication

LOOK_MS = 2000
APART_S = 20.0
"""Seconds from one sweep to the next, at least."""
THRESHOLDS = (10_000, 50, 1000)
"""How many more objects there are before Python tidies up by itself among the young, so many times that before it does
among the older, and so on: seldom enough to leave all but the young to a sweep."""


def _hand() -> tuple[QPoint, bool]:
    """Where the pointer is, and whether a button is held."""
    return QCursor.pos(), QGuiApplication.mouseButtons() != Qt.MouseButton.NoButton


class Sweeper(QObject):
    """Looks every other second whether the hand has rested, and then collects what is no longer used.

    What is left after that is of use, and no collection looks at it until the next sweep.
    """

    def __init__(self, parent: QObject | None = None, hand: Callable[[], tuple[QPoint, bool]] = _hand) -> None:
        super().__init__(parent)
        self._hand, self._last, self._swept_at = hand, hand(), monotonic()
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)

    def begin(self) -> None:
        """Take the collections over from now on."""
        gc.set_threshold(*THRESHOLDS)
        gc.enable()
        self._timer.start()

    def look(self) -> bool:
        """Sweep if the hand rests and there may be something to sweep; whether that was done."""
        before, self._last = self._last, self._hand()
        rests = self._last == before and not self._last[1]
        if not rests or not any(gc.get_count()[1:]) or monotonic() - self._swept_at < APART_S:
            return False
        self.sweep()
        return True

    def sweep(self) -> None:
        """Collect all there is, and set aside what stays."""
        gc.unfreeze()
        gc.collect()
        gc.freeze()
        self._swept_at = monotonic()
