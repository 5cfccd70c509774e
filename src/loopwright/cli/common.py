"""What every command needs: the catalogue, a sheet, the words of a survey, and how a refusal is said.

Owns the exit codes. Heavy imports wait until they are needed.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.rules import Finding
    from loopwright.sheet.values import Sheet
    from loopwright.survey import Survey

CLEAR, FOUND, BAD = 0, 1, 2
"""Exit codes: nothing found; something at or above the asked severity; bad input or usage."""
COLOURS = {"danger": "red", "fault": "yellow", "advice": "blue"}
CAUTION = (
    "loopwright supports a competent person and never replaces one. Local codes, the appliance maker's instructions "
    "and licensed practice take precedence. Never light a fire on a system that is not filled and vented."
)


def complain(bad: LoopwrightError) -> None:
    """Say on the error stream what was wrong, where, and what to do."""
    click.echo(f"loopwright: {bad.sentence}", err=True)


def progress(words: str) -> None:
    """Show on a terminal's error stream how far the work is; no words wipe the line."""
    if sys.stderr.isatty():
        click.echo(f"\r\033[K{words}", nl=False, err=True)


def catalogue() -> Catalogue:
    """The kinds that ship, with a person's own beside them. Raises KindError for one that cannot be used."""
    from loopwright.catalogue import standard_catalogue

    folder = kinds_folder()
    if folder is None:
        return standard_catalogue()
    from loopwright.drawing.own import own_kinds_or_raise  # what draws is not needed without

    return own_kinds_or_raise(folder)


def kinds_folder() -> Path | None:
    """Where a person keeps kinds of their own; None when there are none."""
    from loopwright.catalogue.own import kinds_folder as folder_of

    folder = folder_of()
    return folder if folder is not None and folder.is_dir() and any(folder.glob("*.toml")) else None


def load(path: Path, kinds: Catalogue) -> Sheet:
    """The sheet in a file."""
    from loopwright.files.reader import load as read

    return read(path, kinds)


def as_json(value: Any) -> str:
    """Any value the project knows, as indented JSON."""
    return msgspec.json.format(msgspec.json.encode(value)).decode()


def survey_of(sheet: Sheet, kinds: Catalogue, computed: bool = False) -> Survey:
    """Every rule's answer."""
    from loopwright.survey import survey

    return survey(sheet, kinds, computed=computed)


def finding_json(finding: Finding) -> dict[str, Any]:
    """A finding for scripts."""
    return {
        "rule": finding.rule,
        "severity": finding.severity.word,
        "number": finding.number,
        "about": [finding.subject, *[c for c in finding.culprits if c != finding.subject]],
        "subject": finding.subject,
        "culprits": list(finding.culprits),
        "message": finding.message,
        "measured": finding.measured,
        "limit": finding.limit,
        "unit": finding.unit,
        "repair": finding.todo,
        "sources": list(finding.sources),
        "condition": finding.condition,
        "also": list(finding.also),
        "cause": finding.cause or None,
        "shared": finding.shared,
        "path": list(finding.path),
    }


def survey_json(file: Path, result: Survey) -> dict[str, Any]:
    """A survey for scripts."""
    return {
        "file": str(file),
        "counts": result.counts(),
        "findings": [finding_json(f) for f in result.findings],
        "answers": [
            {"rule": a.rule, "outcome": str(a.outcome), "subject": a.subject, "because": a.because}
            for a in result.answers
        ],
    }


def print_survey(name: str, title: str, result: Survey) -> None:
    """A survey for people."""
    from loopwright.rules import Outcome
    from loopwright.rules.findings import grouped

    click.secho(f"{title}  ({name})", bold=True)
    heading = None
    for finding in grouped(result.findings):
        word = finding.severity.word
        if not finding.cause and finding.severity is not heading:
            heading = finding.severity
            click.secho(f"\n{word.capitalize()}", fg=COLOURS[word], bold=True)
        inset = "     " if finding.cause else ""
        if finding.cause:
            click.secho(f"{inset} {word.capitalize()}, also about {finding.shared}", fg=COLOURS[word])
        click.echo(f"{inset} {finding.number:>2}. {finding.message}")
        click.echo(f"{inset}     {finding.todo}")
        about = ", ".join(dict.fromkeys((finding.subject, *finding.culprits)))
        under = f"; under: {finding.condition}" if finding.condition else ""
        click.secho(f"{inset}     {finding.rule}; about {about}{under}", dim=True)
        if finding.also:
            click.secho(f"{inset}     also: {', '.join(finding.also)}", dim=True)
    missing = [a for a in result.answers if a.outcome is Outcome.NOT_ASSESSED]
    if missing:
        click.echo("\nNot assessed")
        for answer in missing:
            click.echo(f"  ?  {answer.rule}: {answer.because}")
    counts = result.counts()
    ruled = len({a.rule for a in result.answers})
    said = ", ".join(f"{many(counts[w], w)}" for w in ("danger", "fault", "advice"))
    click.echo(f"\nAll {ruled} rules answered: {said}, {counts['not assessed']} not assessed.")
    click.secho(CAUTION + "\n", dim=True)


def many(count: int, word: str) -> str:
    """A count with its word: "no danger", "2 faults"."""
    plural = word if word == "advice" else word + "s"
    return f"no {word}" if count == 0 else f"{count} {word if count == 1 else plural}"
