"""The findings, gravest first: each with where it is, what was measured, the limit, the repair and the source.

Owns the cards. Refuses to judge.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from loopwright.reports.decisions import strip
from loopwright.reports.matter import Matter, cautions, wording
from loopwright.reports.model import Block, Card, Caution, Cell, Column, Data, Mark, Picture, Section, Table, Words
from loopwright.reports.pictures import MARGIN_MM, PAGE_MM, window
from loopwright.reports.words import fours, listed, quantity
from loopwright.rules.findings import Finding, Severity, grouped
from loopwright.rules.registry import facts, page

PICTURE_MM = (70.0, 92.0)
WIDE_MM = 66.0
SMALL_FROM = 75.0


def findings(matter: Matter) -> Iterator[Section]:
    """A card a finding."""
    found = matter.survey.findings
    blocks: list[Block] = []
    if any(f.severity is Severity.DANGER for f in found):
        blocks.append(Caution("Take care", cautions()[1][-2:]))
    for finding in grouped(found):
        matter.step(f"finding {finding.number}")
        blocks.append(card(matter, finding))
    if not found:
        blocks.append(
            Words("No rule found anything on this sheet. What no rule can see stands under “To see on site”.")
        )
    matter.record(
        Data(
            "findings",
            ("number", "severity", "rule", "subject", "culprits", "message", "repair", "measured", "limit", "unit",
             "condition", "also", "cause", "shared", "sources", "decision", "reason", "by", "date", "stale"),
            tuple(_row(matter, f) for f in found),
        )
    )  # fmt: skip
    yield Section(
        key="findings",
        title="Findings",
        aside="gravest first; under each, what is about the same part",
        blocks=tuple(blocks),
        fresh=True,
    )


def _row(matter: Matter, f: Finding) -> tuple[str | int | float | bool | None, ...]:
    d = matter.decisions.of(f)
    decided = (d.verdict, d.reason, d.by, d.date, d.stale) if d else ("", "", "", "", None)
    return (
        f.number, f.severity.word, f.rule, f.subject, " ".join(f.culprits), f.message, f.todo, f.measured, f.limit,
        f.unit, f.condition, " ".join(f.also), f.cause or None, f.shared, " ".join(f.sources), *decided,
    )  # fmt: skip


def card(matter: Matter, finding: Finding) -> Card:
    """One finding."""
    decided = matter.decisions.of(finding)
    lit = tuple(dict.fromkeys((finding.subject, *finding.culprits, *finding.path)))
    lit = tuple(key.partition("/")[0] for key in lit)
    spots = [f for f in matter.flags if f.number == finding.number]

    def shown(room: tuple[float, float]) -> Picture | None:
        flag = spots[0] if spots else None
        picture = window(matter.plan, lit, finding.spot, flag, room, finding.severity.word, _caption(finding))
        return picture and msgspec.structs.replace(picture, settled=matter.settled)

    picture = shown(PICTURE_MM)
    if picture is not None and picture.scale > SMALL_FROM:  # what lies far apart wants the width of the page
        wide = shown((PAGE_MM[matter.asked.paper][0] - 2 * MARGIN_MM, WIDE_MM))
        picture = wide if wide is not None and wide.scale <= picture.scale * 0.7 else picture
    return Card(
        key=f"finding-{finding.number}",
        mark=Mark(finding.severity.word, str(finding.number), open=finding.number in matter.settled),
        title=finding.message,
        facts=tuple(_facts(matter, finding)),
        strips=(strip(decided),) if decided else (),
        picture=picture,
    )


def _caption(finding: Finding) -> str:
    if len(finding.path) > 1:
        return f"What finding {finding.number} is about is shaded"
    return f"Where finding {finding.number} is"


def _facts(matter: Matter, finding: Finding) -> Iterator[tuple[str, str]]:
    yield "Severity", f"{finding.severity.word.capitalize()}, {wording('words')['severity'][finding.severity.word]}"
    about = matter.named((finding.subject, *finding.culprits))
    yield "About", listed(about, 6)
    if finding.cause:
        yield "Belongs to", f"finding {finding.cause}, which is about {finding.shared} too"
    under = [str(f.number) for f in matter.survey.findings if f.cause == finding.number]
    if under:
        yield "With it", f"finding{'s' if len(under) > 1 else ''} {listed(under)}"
    if finding.measured is not None:
        yield "Measured", quantity(finding.measured, finding.unit)
    if finding.limit is not None:
        yield "Limit", quantity(finding.limit, finding.unit)
    if finding.condition:
        yield "Shown in", finding.condition
    if finding.step and not finding.step.isdigit():
        yield "Stopped at", finding.step
    why = section_of(page(finding.rule).text, "Why it matters")
    if why:
        yield "Why", why
    yield "Do", finding.todo
    rule = page(finding.rule)
    yield "Rule", f"{rule.title} ({finding.rule})"
    if finding.also:
        yield "Also", f"the same cause, seen by {listed([page(s).title.lower() for s in finding.also])}"
    known = facts()
    keys = [k for k in dict.fromkeys(finding.sources or rule.sources) if k in known]
    if keys:
        yield "Source", "; ".join(dict.fromkeys(f"{known[k].source}" for k in keys))


def section_of(text: str, heading: str) -> str:
    """The first paragraph under a heading of a rule's page, without its marks."""
    found = re.search(rf"^## {re.escape(heading)}\n+(.+?)(?:\n\n|\n## |\Z)", text, re.MULTILINE | re.DOTALL)
    return re.sub(r"[*`_]", "", " ".join(found[1].split())) if found else ""


def decisions(matter: Matter) -> Iterator[Section]:
    """Every decision and signature that the sheet holds, those whose finding is gone too."""
    signed = matter.sheet.signatures
    if not matter.decisions.all and not signed:
        return
    number = {(f.rule, f.subject): f for f in matter.survey.findings}
    rows: list[tuple[Cell, ...]] = []
    for d in matter.decisions.all:
        now = number.get((d.rule, d.subject))
        state = "nothing found there now" if d.gone else "stale: changed since" if d.stale else "holds"
        mark: Cell = Mark(now.severity.word, str(now.number), open=d.settles) if now else ""
        rows.append((mark, page_title(d.rule), matter.name(d.subject), d.verdict.capitalize(), d.reason, d.by, d.date,
                     state))  # fmt: skip
    yield Section(
        key="decisions",
        title="Decisions",
        blocks=(
            Table(
                columns=(
                    Column(key="number", title="No.", share=0.6),
                    Column(key="rule", title="Rule", share=2.0),
                    Column(key="subject", title="About", share=1.2),
                    Column(key="verdict", title="Decision", share=1.1, tone="strong"),
                    Column(key="reason", title="Reason", share=2.4),
                    Column(key="by", title="By", share=1.0),
                    Column(key="date", title="Date", share=1.15),
                    Column(key="state", title="Today", share=1.2, tone="quiet"),
                ),
                rows=tuple(rows),
            ),
            *_signatures(matter),
        ),
    )


def _signatures(matter: Matter) -> Iterator[Block]:
    """Who had the last word, and on which state of the drawing."""
    signed = matter.sheet.signatures
    rows = tuple(
        (s.verdict.capitalize(), s.remark, s.by, s.date, fours(s.fingerprint),
         "holds" if s.fingerprint == matter.fingerprint else "changed since")
        for s in signed
    )  # fmt: skip
    matter.record(
        Data(
            "signatures",
            ("verdict", "remark", "by", "date", "fingerprint"),
            tuple((s.verdict, s.remark, s.by, s.date, s.fingerprint) for s in signed),
        )
    )
    if rows:
        yield Table(
            columns=(
                Column(key="verdict", title="Signed as", share=1.1, tone="strong"),
                Column(key="remark", title="Remark", share=3.0),
                Column(key="by", title="By", share=1.2),
                Column(key="date", title="Date", share=1.15),
                Column(key="fingerprint", title="Fingerprint then", share=2.0),
                Column(key="state", title="Today", share=1.2, tone="quiet"),
            ),
            rows=rows,
        )


def page_title(slug: str) -> str:
    """The title of a rule; its slug where it has no page (a sheet may name a rule that is gone)."""
    from loopwright.errors import LoopwrightError

    try:
        return page(slug).title
    except LoopwrightError:
        return slug
