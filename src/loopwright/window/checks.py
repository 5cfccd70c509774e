"""The survey in two stages: the rules of the graph a little after each edit, those that solve the flow after them.

Owns the order of the stages, their threads, and that an edit drops what is under way. Refuses to show anything.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, Signal

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey
from loopwright.window.checking import Kept, checker, computed_rules, second_stage
from loopwright.window.worker import REST_MS, Surveyor


class Checks(QObject):
    """Asks for both stages of the survey of a sheet; whichever way it was reached, the last answer is the whole one."""

    started = Signal()
    answered = Signal(object, object, int)
    """The sheet, its survey, and how many rules have still to answer."""
    refused = Signal(str)
    broke = Signal(object)

    def __init__(
        self,
        catalogue: Catalogue,
        *,
        rest_ms: int = REST_MS,
        inline: bool = False,
        staged: bool | None = None,
        parent: QObject | None = None,
    ) -> None:
        """`inline` does all work in the caller's own thread. `staged` asks for the second stage; as usual only where
        there is a thread for it."""
        super().__init__(parent)
        self.staged = not inline if staged is None else staged
        self.kept = Kept(catalogue)
        self.graph = Surveyor(checker(self.kept), rest_ms=rest_ms, inline=inline, parent=self)
        self.flow_thread = None if inline else ThreadPoolExecutor(1, "flow")
        """For all that solves the flow of the open sheet, one piece after another."""
        self.flow = Surveyor(self._compute, rest_ms=0, inline=inline, executor=self.flow_thread, parent=self)
        self.graph.started.connect(self.started)
        self.graph.answered.connect(self._first)
        self.graph.refused.connect(self.refused)
        self.graph.broke.connect(self.broke)
        self.flow.answered.connect(self._second)
        self.flow.broke.connect(self.broke)

    def ask(self, sheet: Sheet) -> None:
        """Have a sheet checked; what runs for another is dropped."""
        self.flow.drop()
        self.graph.ask(sheet)

    def worker(self, work: Callable[[Any], object], parent: QObject) -> Surveyor:
        """A worker on the thread of the flow, behind the second stage; it answers the last thing asked and no other."""
        return Surveyor(work, rest_ms=0, inline=self.flow_thread is None, executor=self.flow_thread, parent=parent)

    def close(self) -> None:
        """Ask for nothing more and wait for what runs."""
        self.graph.close()
        self.flow.close()

    def _first(self, sheet: Sheet, survey: Survey) -> None:
        more = computed_rules() if self.staged and sheet.pipes else 0
        if more:
            self.flow.ask(sheet)
        self.answered.emit(sheet, survey, more)

    def _compute(self, sheet: Sheet) -> Survey:
        return second_stage(self.kept, self.flow.overtaken)(sheet)

    def _second(self, sheet: Sheet, survey: Survey) -> None:
        self.answered.emit(sheet, survey, 0)
