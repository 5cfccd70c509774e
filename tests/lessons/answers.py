"""Answers to the lessons: right ones, which differ, and plausible wrong ones, each a few edits of the starting sheet.

Owns the registry. What must be found is written down from the trade, not from what the program says.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable

import msgspec
from pen import Pen

Edit = Callable[[Pen], None]


class Answer(msgspec.Struct, frozen=True):
    """One answer: its lesson, whether it is right; of a wrong one the rule it misses or a word of the miss."""

    lesson: str
    right: bool
    name: str
    edit: Edit
    misses: str = ""


ANSWERS: list[Answer] = []


def right(lesson: str) -> Callable[[Edit], Edit]:
    """Register a right answer."""

    def register(edit: Edit) -> Edit:
        ANSWERS.append(Answer(lesson, True, edit.__name__, edit))
        return edit

    return register


def wrong(lesson: str, misses: str) -> Callable[[Edit], Edit]:
    """Register a wrong answer and what it misses."""

    def register(edit: Edit) -> Edit:
        ANSWERS.append(Answer(lesson, False, edit.__name__, edit, misses))
        return edit

    return register


def every() -> list[Answer]:
    """All of them."""
    for course in ("up", "store", "run", "safety", "faults", "brief"):
        importlib.import_module(f"answers_{course}")
    return ANSWERS
