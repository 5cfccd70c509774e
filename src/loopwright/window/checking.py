"""The window's one door to the survey: findings, services and what moves in a condition.

Owns the lazy import (the survey's libraries load after the window shows) and the plain views the panels read. Refuses
to decide anything about water.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import Sheet


def checker(catalogue: Catalogue) -> Callable[[Sheet], Any]:
    """A function from a sheet to its survey."""

    def check(sheet: Sheet) -> Any:
        from loopwright.survey import survey

        return survey(sheet, catalogue)

    return check


def condition_view(sheet: Sheet, catalogue: Catalogue, condition: Any) -> Any:
    """What moves and what stands in a condition, as the survey's module answers it."""
    from loopwright import survey

    return survey.condition_view(sheet, catalogue, condition)
