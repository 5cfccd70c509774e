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


def summary(survey: Any, sheet: Sheet) -> str:
    """The closing sentence under the findings: how many rules answered, and what could not be."""
    if not sheet.parts:
        return "Nothing is drawn yet, so there is nothing to check."
    answered = len({a.rule for a in survey.answers})
    open_ = survey.counts().get("not assessed", 0)
    words = f"{answered} rules answered"
    if open_:
        words += f", {open_} not assessed"
    if not survey.findings:
        words += ". No danger, no fault, no advice" if not open_ else ". Nothing found in what was assessed"
    return words + "."


def condition_words(sheet: Sheet, catalogue: Catalogue, condition: Any) -> tuple[dict[str, int], frozenset[str], str]:
    """Moving pipes with their direction, idle pipes, and a sentence: how much moves, and whether fires keep theirs.

    A sheet without pipes has nothing to say.
    """
    if not sheet.pipes:
        return {}, frozenset(), ""
    view = condition_view(sheet, catalogue, condition)
    count = len(view.moving)
    words = [f"Water moves in {count} of {len(sheet.pipes)} pipes." if count else "No water moves."]
    for part in sheet.parts.values():
        source = catalogue[part.kind].source if part.kind in catalogue else None
        if source is None or source.stops != "fire" or part.id in condition.out:
            continue
        name = part.name or part.id
        if not any(p.id in view.moving for p in sheet.pipes_of(part.id)):
            words.insert(0, f"No water moves through {name}.")
        elif not condition.power:
            words.insert(0, f"{name} keeps its water moving by gravity.")
    return dict(view.moving), frozenset(view.idle), " ".join(words)
