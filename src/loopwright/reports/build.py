"""Builds the report of a sheet: asks each section in turn.

Owns the order of the sections. Refuses to know how they are written down.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from loopwright import __version__
from loopwright.catalogue import Catalogue
from loopwright.engineering.runs.result import Run
from loopwright.reports.matter import Asked, Matter
from loopwright.reports.model import Paper, Report, Section
from loopwright.reports.sections import (
    answers,
    closing,
    conditions,
    drawing,
    figures,
    findings,
    schedule,
    summary,
    timed,
)
from loopwright.reports.words import day, fours
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey
from loopwright.survey import survey as ask
from loopwright.waterways.views import Condition


def build(
    sheet: Sheet,
    catalogue: Catalogue,
    survey: Survey | None = None,
    *,
    paper: Paper = "A4",
    computed: bool = False,
    tried: Sequence[Condition] = (),
    runs: Sequence[Run] = (),
    revision: str = "",
    today: date | None = None,
    progress: Callable[[str], None] | None = None,
) -> Report:
    """The report of a sheet. `computed` also works out flows, which takes seconds; `tried` are conditions looked at.

    `progress` is told what is being done and may raise to stop it.
    """
    step = progress or (lambda words: None)
    step("the survey")
    found = survey if survey is not None else ask(sheet, catalogue, computed=computed)
    revision = revision or sheet.block.revision
    asked = Asked(paper=paper, computed=computed, tried=tuple(tried), runs=tuple(runs), revision=revision, today=today)
    matter = Matter(sheet, catalogue, found, asked, step)
    printed = day(today or date.today())
    sections: list[Section] = []
    for maker in (
        summary.summary,
        drawing.drawing,
        findings.findings,
        findings.decisions,
        summary.open_points,
        conditions.conditions,
        timed.timed,
        closing.limits,
        schedule.stores,
        figures.figures,
        schedule.parts,
        answers.answers,
        closing.sources,
        closing.site,
    ):
        step(maker.__name__.replace("_", " "))
        sections += maker(matter)
    sections += closing.last(matter, __version__, printed)
    worst = found.worst()
    return Report(
        title=sheet.title or "Untitled",
        subtitle="Survey of a heat-store system" + (f", revision {revision}" if revision else ""),
        date=printed,
        version=__version__,
        fingerprint=fours(matter.fingerprint),
        verdict=" ".join(summary.verdict(matter)),
        worst=worst.word if worst else "",
        counts=found.counts(),
        paper=paper,
        sections=tuple(sections),
        tables=tuple(matter.tables),
    )
