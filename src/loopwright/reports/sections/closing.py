"""What ends a report: changed limits, what to see on site, sources, and the cautions on the last page.

Owns their tables and lists.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.reports.matter import Matter, cautions, wording
from loopwright.reports.model import Block, Caution, Cell, Column, Data, Facts, Section, Table, Ticks, Words
from loopwright.reports.words import figure, fours, quantity
from loopwright.rules.findings import Outcome
from loopwright.rules.registry import Fact, facts, page


def limits(matter: Matter) -> Iterator[Section]:
    """Limits that the sheet sets for itself, beside those published."""
    changed = matter.sheet.limits
    known = facts()
    rows: list[tuple[Cell, ...]] = []
    data = []
    for key in sorted(changed):
        fact = known.get(key)
        unit = fact.unit if fact else ""
        usual = _value(fact) if fact else ""
        rows.append((fact.says if fact else key, usual, quantity(changed[key], unit), fact.source if fact else ""))
        data.append((key, usual, changed[key], unit, fact.source if fact else ""))
    matter.record(Data("limits", ("key", "published", "this_sheet", "unit", "source"), tuple(data)))
    block: Block = (
        Table(
            columns=(
                Column(key="says", title="Limit", share=3.6),
                Column(key="usual", title="Published", share=1.2),
                Column(key="own", title="This sheet", share=1.2, tone="strong"),
                Column(key="source", title="Source", share=2.4, tone="quiet"),
            ),
            rows=tuple(rows),
        )
        if rows
        else Words("None. Every limit is the published one.", "quiet")
    )
    yield Section(key="limits", title="Changed limits", blocks=(block,))


def _value(fact: Fact) -> str:
    if isinstance(fact.value, list):
        return f"{' to '.join(figure(float(v)) for v in fact.value)} {fact.unit}".strip()
    if isinstance(fact.value, int | float):
        return quantity(float(fact.value), fact.unit)
    return str(fact.value or "")


def site(matter: Matter) -> Iterator[Section]:
    """What no drawing shows, to tick on site."""
    words = wording("site")
    lines = list(words["always"])
    if matter.ways.fires:
        lines = [*words["fire"], *lines]
    bodies = {matter.kind(p).body for p in matter.sheet.parts.values()}
    tags = {tag for p in matter.sheet.parts.values() for tag in matter.kind(p).tags}
    if "cistern" in bodies:
        lines += words["open_vented"]
    if "tundish" in tags:
        lines += words["unvented"]
    yield Section(key="site", title=words["heading"], blocks=(Words(words["lead"], "quiet"), Ticks(tuple(lines))))


def sources(matter: Matter) -> Iterator[Section]:
    """The published figures behind the findings, the open points and the changed limits, and behind the figures."""
    known, trust = facts(), wording("words")["trust"]
    asked = [a for a in matter.survey.answers if a.outcome in (Outcome.FINDING, Outcome.COVERED, Outcome.NOT_ASSESSED)]
    keys: dict[str, None] = dict.fromkeys(matter.sheet.limits)
    for answer in asked:
        of_finding = answer.finding.sources if answer.finding else ()
        keys |= dict.fromkeys((*of_finding, *page(answer.rule).sources))
    chosen = [known[k] for k in keys if k in known]
    every = {k for a in matter.survey.answers if a.outcome is not Outcome.NOT_APPLICABLE for k in page(a.rule).sources}
    matter.record(
        Data(
            "sources",
            ("key", "says", "value", "unit", "source", "trust", "doubt"),
            tuple((f.key, f.says, _value(f), f.unit, f.source, f.confidence, f.doubt)
                  for f in known.values() if f.key in every or f.key in keys),
        )
    )  # fmt: skip
    blocks: list[Block] = []
    if chosen:
        blocks.append(
            Table(
                columns=(
                    Column(key="says", title="What is published", share=4.2),
                    Column(key="source", title="Where", share=3.0, tone="quiet"),
                    Column(key="trust", title="How far to trust it", share=1.8, tone="quiet"),
                ),
                rows=tuple(
                    (f.says, f.source, trust[f.confidence] + ("; sources differ" if f.doubt else "")) for f in chosen
                ),
            )
        )
    passed = len(every - set(keys))
    if passed:
        blocks.append(
            Words(f"{passed} more stand behind rules that raised nothing; “loopwright rules NAME” shows them.", "quiet")
        )
    yield Section(
        key="sources", title="Sources", aside="of findings, open points and changed limits", blocks=tuple(blocks)
    )


def last(matter: Matter, version: str, printed: str) -> Iterator[Section]:
    """The cautions, and which program and which drawing this report is of."""
    heading, lines = cautions()
    computed = (
        "with the rules that work out the flow" if matter.asked.computed else "without the rules that work out the flow"
    )
    yield Section(
        key="cautions",
        title=heading,
        blocks=(
            Caution("Take care", lines),
            Facts(
                (
                    ("Drawing", matter.sheet.title),
                    ("Fingerprint", fours(matter.fingerprint)),
                    ("Program", f"loopwright {version}, {computed}"),
                    ("Printed", printed),
                )
            ),
            Words(
                "The fingerprint is taken of everything drawn and given, decisions left out. Any change to the drawing "
                "changes it.",
                "quiet",
            ),
        ),
    )
