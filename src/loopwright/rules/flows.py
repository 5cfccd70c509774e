"""The solved flow as rules ask for it: which water, which condition, and what cannot be answered.

Owns no rule. Every answer is kept by the waterways, so that rules share it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping

from loopwright.engineering.circulation import Circulation, Question, answer_together, circulation
from loopwright.engineering.drawn_parts import Charge, Heat
from loopwright.errors import FigureError
from loopwright.rules.findings import Missing
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Source
from loopwright.waterways.views import NORMAL, Condition
from loopwright.waterways.waters import Water, waters

log = logging.getLogger(__name__)
UNSETTLED = {
    "swings": "the flow swings and has no steady figure",
    "drifting": "the flow does not settle",
    "boils": "water boils somewhere, and a fire's own rules answer for that",
    "two states": "the flow depends on how it was started",
}
"""Why figures of a water cannot be judged, by outcome."""


Foresight = Callable[[Case], Iterator[Question]]
_FORESEEN: list[Foresight] = []


def foreseen(questions: Foresight) -> Foresight:
    """Registers what the rules of a theme will ask of the flow, so that all of it can be answered at once."""
    _FORESEEN.append(questions)
    return questions


def answer_ahead(case: Case) -> None:
    """Answer abreast what all the rules are going to ask. Nothing hangs on it but the time it takes."""
    try:
        answer_together(case.ways, [question for questions in _FORESEEN for question in questions(case)])
    except Exception:  # the rule that asks will meet the defect again, and say so
        log.exception("the flow could not be answered ahead")


def water_of_source(case: Case, source: Source) -> Water:
    """The water a source heats."""
    return next(w for w in waters(case.ways) if source in w.sources)


def missing(subject: str, bad: FigureError) -> Missing:
    """What a computation lacked, as an answer."""
    part, _, prop = bad.where.partition(", ")
    return Missing(subject, bad.what, part, prop)


def solved(
    case: Case,
    of: Water,
    subject: str,
    condition: Condition = NORMAL,
    charge: Charge = Charge.FULL,
    heats: Mapping[str, Heat] | None = None,
) -> Circulation | Missing | None:
    """A solved water; None if nothing can go round in it; what is missing otherwise."""
    try:
        return circulation(case.ways, of, condition, charge, heats)
    except FigureError as bad:
        return missing(subject, bad)


def running_waters(case: Case) -> Iterator[tuple[Water, Circulation | Missing]]:
    """Every water that moves in normal running."""
    for of in waters(case.ways):
        found = solved(case, of, min(of.parts, default=""))
        if found is not None:
            yield of, found
