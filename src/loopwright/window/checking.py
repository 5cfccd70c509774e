"""The window's one door to the survey: findings, services and what moves in a condition.

Owns the lazy import (the survey's libraries load after the window shows) and the plain views the panels read. Refuses
to decide anything about water.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import TYPE_CHECKING, Any

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import Sheet
from loopwright.window.jobs import Stopped, while_wanted

if TYPE_CHECKING:
    from loopwright.waterways import Waterways
    from loopwright.waterways.systems import Systems


class Kept:
    """The systems of the sheet asked about last: what one worker found out the next need not find again, and what an
    edit left as it was is not asked again."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._lock = Lock()
        self._last: Systems | None = None

    def systems(self, sheet: Sheet) -> Systems:
        """The systems of a sheet, read as water."""
        from loopwright.waterways.systems import Systems

        with self._lock:
            if self._last is None or self._last.sheet is not sheet:
                self._last = Systems(sheet, self.catalogue, self._last)
            return self._last

    def of(self, sheet: Sheet) -> Waterways:
        """The waterways of the whole sheet."""
        return self.systems(sheet).whole


def checker(kept: Kept) -> Callable[[Sheet], Any]:
    """A function from a sheet to its survey by the rules of the graph."""

    def check(sheet: Sheet) -> Any:
        from loopwright.survey import survey_of

        return survey_of(kept.systems(sheet))

    return check


def computed_rules() -> int:
    """How many rules answer in the second stage: those that solve the flow, and those that the solved flow sharpens."""
    from loopwright.rules.registry import all_rules

    first = {rule.check for rule in all_rules().values()}
    return sum(rule.check not in first for rule in all_rules(computed=True).values())


def second_stage(kept: Kept, overtaken: Callable[[], bool]) -> Callable[[Sheet], Any]:
    """A function from a sheet to its whole survey, that of the rules which solve the flow too.

    It stops at the next step once `overtaken` says that nobody waits for it.
    """

    def check(sheet: Sheet) -> Any:
        from loopwright.rules.registry import all_rules
        from loopwright.survey import said_by, survey_of

        systems = kept.systems(sheet)
        with while_wanted(overtaken):
            for rule in all_rules(computed=True).values():
                for ways in systems.each:
                    if overtaken():
                        raise Stopped
                    said_by(ways, rule)
            return survey_of(systems, computed=True)

    return check


def summary(survey: Any, sheet: Sheet, pending: int = 0) -> str:
    """The closing sentence under the findings: how many rules answered, what could not be, and what is still to come.

    `pending` counts the rules that have not answered yet.
    """
    if not sheet.parts:
        return "Nothing is drawn yet, so there is nothing to check."
    answered = len({a.rule for a in survey.answers})
    open_ = survey.counts().get("not assessed", 0)
    words = f"{answered} rules answered"
    if open_:
        words += f", {open_} not assessed"
    if not survey.findings:
        words += ". No danger, no fault, no advice" if not open_ else ". Nothing found in what was assessed"
        words += " so far" if pending else ""
    words += "."
    if survey.counts().get("danger"):
        words += " While a danger stands, nothing here may be lit or heated."
    if pending:
        words += f" {pending} rule{'s' if pending > 1 else ''} still working out the flow."
    return words


def condition_words(kept: Kept, sheet: Sheet, condition: Any) -> tuple[dict[str, int], frozenset[str], str]:
    """Moving pipes with their direction, idle pipes, and a sentence: how much moves, and whether fires keep theirs.

    In normal running the directions are those in which water goes once it is called on, too. A sheet without pipes has
    nothing to say.
    """
    if not sheet.pipes:
        return {}, frozenset(), ""
    from loopwright.survey import view_of
    from loopwright.waterways.views import NORMAL

    view = view_of(kept.systems(sheet), condition)
    count = len(view.moving)
    words = [f"Water moves in {count} of {len(sheet.pipes)} pipes." if count else "No water moves."]
    for part in sheet.parts.values():
        source = kept.catalogue[part.kind].source
        if source is None or source.stops != "fire" or part.id in condition.out:
            continue
        name = part.name or part.id
        if not any(p.id in view.moving for p in sheet.pipes_of(part.id)):
            words.insert(0, f"No water moves through {name}.")
        elif not condition.power:
            words.insert(0, f"{name} keeps its water moving by gravity.")
    ways = {**view.bound, **view.moving} if condition == NORMAL else dict(view.moving)
    return ways, frozenset(view.idle), " ".join(words)
