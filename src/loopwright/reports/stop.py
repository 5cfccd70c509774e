"""How a report is stopped and what can go wrong with it. Owns its errors and the question whether to stop."""

from __future__ import annotations

from collections.abc import Callable

from loopwright.errors import LoopwrightError

Cancel = Callable[[], bool]
"""Asked again and again while a report is written; True stops it."""


class ReportError(LoopwrightError):
    """A report cannot be written. Nothing was changed."""


class Cancelled(ReportError):
    """Somebody stopped a report. Nothing was written."""

    def __init__(
        self, what: str = "The report was stopped", *, where: str = "", do: str = "Nothing was written"
    ) -> None:
        super().__init__(what, where=where, do=do)


def ask(cancel: Cancel | None) -> None:
    """Raise Cancelled if somebody wants to stop."""
    if cancel is not None and cancel():
        raise Cancelled
