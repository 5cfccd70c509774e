"""Marks a folder of learners' answers to one lesson: a row a file.

Owns the rows and their text and CSV. The file's name is the only name; nothing leaves the machine.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import LoopwrightError
from loopwright.files.reader import load
from loopwright.lessons.attempt import start
from loopwright.lessons.lesson import Lesson
from loopwright.rules.registry import page
from loopwright.sheet.values import Sheet


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One answer marked. `refused` says why a file could not be read; the rest is empty then."""

    name: str
    passed: bool = False
    score: int = 0
    missed: tuple[str, ...] = ()
    harm: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    another_start: bool = False
    refused: str = ""


def mark(lesson: Lesson, files: Iterable[str | Path], catalogue: Catalogue | None = None) -> list[Row]:
    """A row for each file, in their order; a folder stands for the sheets in it. Unreadable files are told, not raised.

    The score is that of a first check without hints and without the reason question.
    """
    kinds = catalogue or standard_catalogue()
    return [_row(lesson, path, kinds) for path in _sheets(files)]


def _sheets(files: Iterable[str | Path]) -> list[Path]:
    out: list[Path] = []
    for name in files:
        path = Path(name)
        out += sorted(path.glob("*.loopwright")) if path.is_dir() else [path]
    return out


def _row(lesson: Lesson, path: Path, kinds: Catalogue) -> Row:
    try:
        sheet = load(path, kinds)
    except LoopwrightError as bad:
        return Row(name=path.name, refused=bad.sentence)
    attempt = start(lesson, kinds)
    verdict = attempt.check(sheet)
    full = 80 if verdict.passed and lesson.sort != "faults" else verdict.score
    return Row(
        name=path.name,
        passed=verdict.passed,
        score=full,
        missed=tuple(c.said for c in verdict.conditions if not c.met),
        harm=tuple(t.said for t in verdict.harm),
        outside=tuple(o.said for o in verdict.outside),
        rules=tuple(dict.fromkeys(c.rule for c in verdict.conditions if not c.met and c.rule)),
        another_start=_another_start(lesson.sheet, sheet),
    )


def _another_start(start_sheet: Sheet, sheet: Sheet) -> bool:
    """Whether less than half of the starting sheet's parts are there under their names."""
    kept = sum(1 for p in start_sheet.parts.values() if p.id in sheet.parts and sheet.parts[p.id].kind == p.kind)
    return bool(start_sheet.parts) and 2 * kept < len(start_sheet.parts)


def as_text(lesson: Lesson, rows: Sequence[Row]) -> str:
    """Rows for people."""
    wide = max((len(r.name) for r in rows), default=0)
    lines = [f"Lesson {lesson.id}, {lesson.title}"]
    for row in rows:
        word = "unreadable" if row.refused else "passed" if row.passed else "not yet"
        lines.append(f"{row.name:<{wide}}  {word:<10}  {row.score:>3}")
        said = [row.refused] if row.refused else [*row.missed, *row.outside, *(f"New harm: {h}" for h in row.harm)]
        if row.another_start:
            said.append("Begun from another sheet.")
        lines += [f"{'':<{wide}}    {s}" for s in said]
    done = sum(r.passed for r in rows)
    lines.append(f"{done} of {len(rows)} passed.")
    missed = [(rule, count) for rule, count in common_misses(rows) if count > 1]
    lines += [f"Missed by {count}: {page(rule).title} ({rule})" for rule, count in missed]
    return "\n".join(lines)


def as_csv(rows: Sequence[Row]) -> str:
    """Rows as comma separated values, lists joined by " | ". A name that a spreadsheet would run is made text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(Row.__struct_fields__)
    for row in rows:
        cells = []
        for field in Row.__struct_fields__:
            value = getattr(row, field)
            text = (
                " | ".join(value)
                if isinstance(value, tuple)
                else str(value).lower()
                if isinstance(value, bool)
                else str(value)
            )
            cells.append(f"'{text}" if text.startswith(("=", "+", "-", "@")) else text)
        writer.writerow(cells)
    return out.getvalue()


def common_misses(rows: Sequence[Row]) -> list[tuple[str, int]]:
    """Rules behind misses by how many answers had them, most first: what a class should hear about."""
    counts: dict[str, int] = {}
    for row in rows:
        for rule in row.rules:
            counts[rule] = counts.get(rule, 0) + 1
    return sorted(counts.items(), key=lambda item: (-item[1], item[0]))
