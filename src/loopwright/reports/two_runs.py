"""Two runs side by side in words: what differs between their sheets, and what came of it.

Owns the joining of the two. Knows neither how sheets are compared nor how runs are.
"""

from __future__ import annotations

from loopwright.catalogue import Catalogue
from loopwright.engineering.runs.day_words import compare as compared
from loopwright.engineering.runs.result import Run
from loopwright.files.compare import Change, compare
from loopwright.sheet.values import Part, Sheet

FOLLOWS = ("corners", "runs from", "x")
"""Fields of a pipe or part that only follow what was changed elsewhere."""
MOST = 3
"""Differences named before the rest are only counted."""


def differing(old: Sheet, new: Sheet, catalogue: Catalogue) -> tuple[str, ...]:
    """What differs between two sheets, in short words: moved tappings first, then the rest; redrawn pipes left out."""
    found = compare(old, new, catalogue)
    moved: list[str] = []
    rest: list[str] = []
    for change in found.changes:
        if change.what == "sheet" or (all(f.name in FOLLOWS for f in change.fields) and change.fields):
            continue
        words = _moved(change, old, new)
        (moved if words else rest).append(words or _said(change))
    return (*moved, *rest)


def _moved(change: Change, old: Sheet, new: Sheet) -> str:
    """A tapping higher or lower, or "" for any other change."""
    if change.what != "tapping" or change.sort not in ("changed", "moved"):
        return ""
    if any(f.name != "height" for f in change.fields):
        return ""
    was, now = _tapping(old.parts, change.before), _tapping(new.parts, change.after)
    if was is None or now is None:
        return ""
    by = round(1000.0 * (now[1] - was[1]))
    return f"{now[0]} {abs(by)} mm {'higher' if by > 0 else 'lower'}"


def _tapping(parts: dict[str, Part], ident: str) -> tuple[str, float] | None:
    part, _, letter = ident.partition("/")
    found = parts[part].tapping(letter) if part in parts else None
    if found is None:
        return None
    name = found.name or found.letter
    return name[:1].upper() + name[1:], found.height_m


def _said(change: Change) -> str:
    if change.sort in ("added", "removed"):
        return f"{change.name} {change.sort}"
    return change.words


def beside(first: Run, second: Run, old: Sheet, new: Sheet, catalogue: Catalogue) -> tuple[str, ...]:
    """What differs between the sheets with the largest change it made, then every other change of the run."""
    changes = compared(first, second)
    told = differing(old, new, catalogue)
    if not told:
        return changes
    more = f" and {len(told) - MOST} more" if len(told) > MOST else ""
    return (f"{', '.join(told[:MOST])}{more}: {changes[0]}", *changes[1:])


__all__ = ["beside", "differing"]
