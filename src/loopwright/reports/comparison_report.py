"""A comparison of two revisions as a report: what differs in tables, both sheets in one picture, findings new and gone.

Owns the sections. The same writers set it as HTML and PDF as set the report of a sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import msgspec

from loopwright import __version__
from loopwright.catalogue import Catalogue
from loopwright.drawing.flags import flags_of
from loopwright.drawing.plan import plan_sheet
from loopwright.files.compare import Change
from loopwright.files.fingerprint import fingerprint
from loopwright.files.writer import write_bytes
from loopwright.reports.comparison import Comparison, grouped
from loopwright.reports.matter import cautions
from loopwright.reports.model import (
    Block,
    Caution,
    Cell,
    Column,
    Count,
    Data,
    Facts,
    Mark,
    Paper,
    Report,
    Section,
    Table,
    Tally,
    Words,
)
from loopwright.reports.pictures import plate
from loopwright.reports.words import day, fours
from loopwright.rules.findings import Finding
from loopwright.survey import against

SORTS = {"added": "new", "removed": "gone", "changed": "changed", "moved": "moved"}


def report(found: Comparison, catalogue: Catalogue, *, paper: Paper = "A4", today: date | None = None) -> Report:
    """The report of a comparison."""
    printed = day(today or date.today())
    worst = max((f.severity for f in found.appeared), default=None)
    return Report(
        title=found.new.title or "Untitled",
        subtitle="What differs from the older revision",
        date=printed,
        version=__version__,
        fingerprint=fours(fingerprint(found.new)),
        verdict=found.verdict,
        worst=worst.word if worst is not None else "",
        counts=found.new_survey.counts(),
        paper=paper,
        sections=(
            _summary(found),
            *_findings(found),
            *_overlay(found, catalogue, paper),
            *_changes(found),
            _last(found, printed),
        ),
        tables=tuple(_tables(found)),
    )


def write(found: Comparison, catalogue: Catalogue, target: Path, *, paper: Paper = "A4") -> None:
    """Write a comparison as HTML or PDF, by the ending of the name. Raises FileError or ReportError."""
    from loopwright import reports

    made = report(found, catalogue, paper=paper)
    data = reports.pdf(made) if target.suffix.lower() == ".pdf" else reports.html(made).encode("utf-8")
    write_bytes(target, data)


def _summary(found: Comparison) -> Section:
    changes = found.differences.changes
    counts = [
        Count(str(len(found.appeared)), "findings new", tone="danger" if found.appeared else ""),
        Count(str(len(found.gone)), "findings gone"),
        *(
            Count(str(sum(c.sort == sort for c in changes)), f"{word} on the drawing")
            for sort, word in (("added", "things new"), ("removed", "things gone"))
        ),
        Count(str(sum(c.sort in ("changed", "moved") for c in changes)), "changed or moved", tone="end"),
    ]
    revisions = [
        (f"{sheet.title}{f', revision {sheet.block.revision}' if sheet.block.revision else ''}", sheet)
        for sheet in (found.old, found.new)
    ]
    return Section(
        key="comparison",
        title="Comparison",
        blocks=(
            Tally(tuple(counts)),
            Facts(
                tuple(
                    (word, f"{title}; fingerprint {fours(fingerprint(sheet))}")
                    for word, (title, sheet) in zip(("Older", "Newer"), revisions, strict=True)
                )
            ),
            Words(found.verdict, "strong"),
        ),
    )


def _findings(found: Comparison) -> Iterator[Section]:
    blocks: list[Block] = []
    rows: list[tuple[Cell, ...]] = []
    for title, findings in (("New", found.appeared), ("Gone", found.gone), ("As before", [n for _, n in found.kept])):
        if findings:
            rows.append((title,))
            rows += [_finding(f) for f in findings]
    if rows:
        blocks.append(
            Table(
                columns=(
                    Column(key="number", title="No.", share=0.6),
                    Column(key="severity", title="Severity", share=0.9),
                    Column(key="message", title="What was found", share=5.0, tone="strong"),
                    Column(key="todo", title="What to do", share=3.2, tone="quiet"),
                ),
                rows=tuple(rows),
                note="Numbers are those of the newer revision; those that are gone keep their older number.",
            )
        )
    else:
        blocks.append(Words("No rule found anything on either revision."))
    yield Section(key="findings", title="Findings", blocks=tuple(blocks))


def _finding(finding: Finding) -> tuple[Cell, ...]:
    word = finding.severity.word
    return Mark(word, str(finding.number)), word, finding.message, finding.todo


def _overlay(found: Comparison, catalogue: Catalogue, paper: Paper) -> Iterator[Section]:
    if not (found.new.parts or found.old.parts):
        return
    new = plan_sheet(found.new, catalogue, found.new_survey.services, against=against(found.new, catalogue))
    old = plan_sheet(found.old, catalogue, found.old_survey.services, against=against(found.old, catalogue))
    lit = frozenset(
        c.after.partition("/")[0]
        for c in found.differences.changes
        if c.after and c.what in _DRAWN and c.sort != "moved"
    )
    whole = plate(new, flags_of(found.new_survey.findings), paper)
    box, before = whole.picture.box, old.bounds() if found.old.parts else whole.picture.box
    wide = (min(box[0], before[0]), min(box[1], before[1]), max(box[2], before[2]), max(box[3], before[3]))
    picture = msgspec.structs.replace(whole.picture, under=old, lit=lit, box=wide if len(whole.tiles) == 1 else box)
    tiles = (picture.box,) if len(whole.tiles) == 1 else whole.tiles
    yield Section(
        key="drawing",
        title="Both revisions",
        aside=f"1 : {picture.scale:g}; the older pale and broken beneath, what is new or changed on a halo",
        blocks=(msgspec.structs.replace(whole, picture=picture, tiles=tiles),),
        fresh=True,
    )


_DRAWN = ("part", "tapping", "coil", "pipe")


def _changes(found: Comparison) -> Iterator[Section]:
    for word, changes in grouped(found.differences.changes):
        yield Section(
            key=f"changes-{word.lower().replace(' ', '-')}",
            title=word,
            blocks=(
                Table(
                    columns=(
                        Column(key="sort", title="Is", share=0.9, tone="quiet"),
                        Column(key="name", title="What", share=3.2, tone="strong"),
                        Column(key="field", title="Value", share=2.0),
                        Column(key="before", title="Before", share=2.2, tone="quiet"),
                        Column(key="after", title="Now", share=2.2),
                    ),
                    rows=tuple(row for change in changes for row in _rows(change)),
                ),
            ),
        )


def _rows(change: Change) -> Iterator[tuple[Cell, ...]]:
    whole = change.sort in ("added", "removed")
    if whole or not change.fields:
        yield SORTS[change.sort], change.name, ", ".join(f.name for f in change.fields), "", ""
        return
    for number, field in enumerate(change.fields):
        head = (SORTS[change.sort], change.name) if number == 0 else ("", "")
        yield *head, field.name, field.before or "none", field.after or "none"


def _tables(found: Comparison) -> Iterator[Data]:
    yield Data(
        "changes",
        ("sort", "what", "id_before", "id_after", "name", "field", "before", "after"),
        tuple(
            (c.sort, c.what, c.before, c.after, c.name, f.name, f.before, f.after)
            for c in found.differences.changes
            for f in (c.fields or (_NO_FIELD,))
        ),
    )
    yield Data(
        "findings",
        ("is", "rule", "severity", "subject", "message"),
        tuple(
            (word, f.rule, f.severity.word, f.subject, f.message)
            for word, findings in (
                ("new", found.appeared),
                ("gone", found.gone),
                ("as before", [n for _, n in found.kept]),
            )
            for f in findings
        ),
    )


class _NoField:
    name = before = after = ""


_NO_FIELD = _NoField()


def _last(found: Comparison, printed: str) -> Section:
    heading, lines = cautions()
    return Section(
        key="cautions",
        title=heading,
        blocks=(
            Caution("Take care", lines),
            Facts((("Program", f"loopwright {__version__}"), ("Printed", printed), ("Newer drawing", found.new.title))),
        ),
    )
