"""The runs of an open drawing that the report is to print.

Owns which runs, and of which sheet each is: a run of a sheet that has changed since is not printed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:
    from loopwright.engineering.runs.result import Run
    from loopwright.sheet.values import Sheet

MOST = 12
"""The oldest runs give way to newer ones."""


class KeptRuns(QObject):
    """Runs by the sheet they are of."""

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._kept: list[tuple[Sheet, Run]] = []

    def keep(self, sheet: Sheet, run: Run) -> None:
        """Keep a run for the report; one kept already stays where it is."""
        if not any(one is run for _, one in self._kept):
            self._kept = [*self._kept, (sheet, run)][-MOST:]
            self.changed.emit()

    def drop(self, run: Run) -> None:
        """Print this run no more."""
        self._kept = [(sheet, one) for sheet, one in self._kept if one is not run]
        self.changed.emit()

    def of(self, sheet: Sheet) -> tuple[Run, ...]:
        """The runs of a sheet as it is, in the order they were kept."""
        return tuple(run for one, run in self._kept if one is sheet)

    def holds(self, run: Run) -> bool:
        """Whether a run is kept."""
        return any(one is run for _, one in self._kept)
