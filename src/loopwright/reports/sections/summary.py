"""The first page: the counts, what was found in one line each, what was not assessed, and who looked at it.

Owns the verdict in words. Refuses to accept anything: it says what stands in the way, never that all is well.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.reports.matter import Matter, wording
from loopwright.reports.model import (
    Block,
    Cell,
    Column,
    Count,
    Facts,
    Heading,
    Mark,
    Pair,
    Section,
    Table,
    Tally,
    Words,
)
from loopwright.reports.pictures import MARGIN_MM, PAGE_MM, overview
from loopwright.reports.words import listed
from loopwright.rules.findings import Outcome, Severity, told
from loopwright.rules.registry import page

OVERVIEW_MM = {"A4": 128.0, "A3": 200.0}
WORST_FIRST = (Severity.DANGER, Severity.FAULT, Severity.ADVICE)


def verdict(matter: Matter) -> tuple[str, str]:
    """Whether something stands in the way, and what; a signature on this state of the drawing has the last word."""
    signed = matter.signed
    if signed is not None:
        return signed.verdict.capitalize(), f"by {signed.by}, {signed.date}" if signed.date else f"by {signed.by}"
    open_ = matter.decisions.open(matter.survey.findings)
    if open_:
        numbers = [str(f.number) for f in open_]
        many = "finding" if len(numbers) == 1 else "findings"
        verb = "is" if len(numbers) == 1 else "are"
        return "Not accepted", f"until {many} {listed(numbers, 6)} {verb} put right"
    if any(f.severity > Severity.ADVICE for f in matter.survey.findings):
        return "Settled", "for the reasons given"
    return "No danger, no fault", "found in what was assessed"


def tally(matter: Matter) -> Tally:
    """Counts by severity, rules that pass, and the verdict."""
    survey, meaning = matter.survey, wording("words")["severity"]
    counts = survey.counts()
    rows = []
    for severity in WORST_FIRST:
        many = counts[severity.word]
        word = severity.word if many == 1 or severity is Severity.ADVICE else f"{severity.word}s"
        rows.append(Count(word if many else f"No {severity.word}", meaning[severity.word],
                          Mark(severity.word, str(many), open=not many)))  # fmt: skip
    rules = {a.rule for a in survey.answers}
    bad = {a.rule for a in survey.answers if a.outcome in (Outcome.FINDING, Outcome.NOT_ASSESSED)}
    missing = counts["not assessed"]
    rows.append(Count(f"{len(rules - bad)} rules raise nothing", f"of {len(rules)}; {missing or 'none'} not assessed"))
    word, why = verdict(matter)
    rows.append(Count(word, why, tone="danger" if word in ("Not accepted", "Refused") else "end"))
    return Tally(tuple(rows))


def summary(matter: Matter) -> Iterator[Section]:
    """The first page."""
    blocks: list[Block] = [tally(matter), *_job(matter), *_overview(matter)]
    if matter.plan.parts or matter.plan.stores:
        drawn = overview(
            matter.plan, matter.flags, (PAGE_MM[matter.asked.paper][0] - 2 * MARGIN_MM, OVERVIEW_MM[matter.asked.paper])
        )
        blocks.append(msgspec.structs.replace(drawn, settled=matter.settled))
    blocks.append(Pair((*_missing(matter),), (*_inspection(matter),), 0.46))
    yield Section(key="summary", title="Summary", blocks=tuple(blocks))


def _job(matter: Matter) -> Iterator[Block]:
    """What the sheet's title block says beside the title."""
    block = matter.sheet.block
    pairs = (("Drawing", block.drawing), ("Sheet", block.sheet), ("Revision", matter.asked.revision),
             ("Drawn by", block.drawn_by), ("Drawn on", block.date))  # fmt: skip
    given = tuple((name, value) for name, value in pairs if value)
    if given:
        yield Facts(given)


def _overview(matter: Matter) -> Iterator[Block]:
    findings = matter.survey.findings
    if not findings:
        yield Words("No rule found anything on this sheet.")
        return
    rows: list[tuple[Cell, ...]] = []
    for f in findings:
        decided = matter.decisions.of(f)
        said = "" if decided is None else decided.verdict.capitalize() + (", stale" if decided.stale else "")
        mark = Mark(f.severity.word, str(f.number), open=f.number in matter.settled)
        rows.append((mark, f.severity.word, f.message, said or "Not decided"))
    yield Table(
        columns=(
            Column(key="number", title="No.", share=0.55),
            Column(key="severity", title="Severity", share=0.8),
            Column(key="message", title="What was found", share=6.0, tone="strong"),
            Column(key="decision", title="Decision", share=1.3, tone="quiet"),
        ),
        rows=tuple(rows),
    )


def _missing(matter: Matter) -> Iterator[Block]:
    yield Heading("Not assessed")
    missing = [a for a in matter.survey.answers if a.outcome is Outcome.NOT_ASSESSED]
    if not missing:
        yield Words("Every rule could be answered.", "quiet")
        return
    shown = list(dict.fromkeys(told(matter.name(a.subject) if a.subject else "", a.because) for a in missing))
    for said in shown[:6]:
        yield Words(f"{said.rstrip('.')}.", "quiet")
    if len(shown) > 6:
        yield Words(f"{len(shown) - 6} more stand under “Open points”.", "quiet")


def _inspection(matter: Matter) -> Iterator[Block]:
    yield Heading("Inspection")
    by = list(dict.fromkeys(d.by for d in matter.decisions.all if d.by))
    days = sorted({d.date for d in matter.decisions.all if d.date})
    signatures = matter.sheet.signatures
    if signatures:
        last = signatures[-1]
        by, days = [last.by], [last.date]
        said = last.verdict.capitalize() + ("" if matter.signed else ", but the drawing has changed since")
        yield Words(f"{said}. {last.remark}".strip(), "strong")
    pairs = (("Inspected by", listed(by)), ("Competence", ""), ("Date", days[-1] if days else ""), ("Signed", ""))
    yield Facts(pairs, lines=True)


def open_points(matter: Matter) -> Iterator[Section]:
    """Everything that was not assessed, with what is missing."""
    missing = [a for a in matter.survey.answers if a.outcome is Outcome.NOT_ASSESSED]
    if not missing:
        return
    yield Section(
        key="open-points",
        title="Open points",
        aside=f"{len(missing)} not assessed",
        blocks=(
            Words("These could not be answered. Give what is missing and survey the sheet again.", "quiet"),
            Table(
                columns=(
                    Column(key="about", title="About", share=1.4, tone="strong"),
                    Column(key="missing", title="What is missing", share=3.2),
                    Column(key="rule", title="Rule", share=2.2, tone="quiet"),
                ),
                rows=tuple((matter.name(a.subject), a.because, page(a.rule).title) for a in missing),
            ),
        ),
    )
