"""Which sheet each lesson starts from. `python tests/lessons/make.py` writes them beside the lesson files.

Owns the registry. The sheets of each course are drawn in `starts_*.py`.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable

from loopwright.sheet.values import Sheet

STARTS: dict[str, Callable[[], Sheet]] = {}
Draw = Callable[[], Sheet]


def starts(lesson: str) -> Callable[[Draw], Draw]:
    """Register the starting sheet of a lesson."""

    def register(make: Draw) -> Draw:
        if lesson in STARTS:
            raise ValueError(f"lesson {lesson} starts twice")
        STARTS[lesson] = make
        return make

    return register


def every() -> dict[str, Draw]:
    """All of them."""
    for course in ("up", "store", "run", "safety", "faults", "brief"):
        importlib.import_module(f"starts_{course}")
    return STARTS
