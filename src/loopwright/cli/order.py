"""`loopwright order`: the order of work of a sheet, as a checklist, a page to print, or JSON; ticks; arrangements."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.lessons.order import WorkOrder
    from loopwright.sheet.values import Sheet


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["text", "json", "html"]), default="text", help="How to answer.")
@click.option("--why", is_flag=True, help="In text, give the reason and the source of each precedence.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Write to this file instead.")
@click.option("--tick", "ticks", multiple=True, metavar="JOB", help="Tick a job, by number or key, and save the sheet.")
@click.option("--untick", "unticks", multiple=True, metavar="JOB", help="Take a tick away, and save the sheet.")
@click.option(
    "--judge",
    type=click.Path(path_type=Path),
    metavar="LIST",
    help="Judge an order of your own: a text file with one number or key a line.",
)
def order(
    file: Path,
    form: str,
    why: bool,
    out: Path | None,
    ticks: tuple[str, ...],
    unticks: tuple[str, ...],
    judge: Path | None,
) -> int:
    """The order of work for a sheet: what to do on site, what comes before what, and why.

    \b
    Examples:
      loopwright order barn.loopwright
      loopwright order barn.loopwright --why
      loopwright order barn.loopwright --format html -o order.html
      loopwright order barn.loopwright --tick 12
      loopwright order barn.loopwright --judge mine.txt
    """
    from loopwright.files.writer import save
    from loopwright.lessons import order_print
    from loopwright.lessons.order import order_of_sheet, tick, ticked

    kinds = common.catalogue()
    sheet = common.load(file, kinds)
    found = order_of_sheet(sheet, kinds)
    if judge is not None:
        return _judged(found, judge)
    if ticks or unticks:
        new = sheet
        for word in ticks:
            new = tick(new, _key(found, word))
        for word in unticks:
            new = tick(new, _key(found, word, sheet), False)
        sheet = new
        save(sheet, file)
    done = ticked(sheet)
    if form == "json":
        answer = common.as_json(order_print.plain(found, done))
    elif form == "html":
        answer = order_print.html(found, done).rstrip("\n")
    else:
        answer = order_print.text(found, done, reasons=why)
    if out is None:
        click.echo(answer)
    else:
        _write(out, answer + "\n")
        click.echo(f"Wrote {out}")
    return common.CLEAR


def _key(found: WorkOrder, word: str, sheet: Sheet | None = None) -> str:
    """The key of a job by its number or key; an old tick of the sheet may be named too."""
    from loopwright.lessons.order import ticked

    if word in found.by_key or (sheet is not None and word in ticked(sheet)):
        return word
    if word.isdigit() and 1 <= int(word) <= len(found.tasks):
        return found.tasks[int(word) - 1].key
    raise LoopwrightError(
        f"There is no job “{word}” in this order of work",
        do=f"Give a number from 1 to {len(found.tasks)}, or a key as `--format json` lists it",
    )


def _judged(found: WorkOrder, path: Path) -> int:
    from loopwright.lessons import order_print
    from loopwright.lessons.order import broken

    try:
        words = path.read_text(encoding="utf-8").split("\n")
    except (OSError, UnicodeDecodeError):
        raise LoopwrightError(f"{path} cannot be read as text", do="Write one number or key a line") from None
    named = [_key(found, word.strip()) for word in words if word.strip() and not word.lstrip().startswith("#")]
    faults = broken(found, named)
    missing = len(found.tasks) - len(named)
    for fault in faults:
        click.echo(order_print.broken_words(found, fault))
    left = f" {missing} of the {len(found.tasks)} jobs are not in the list." if missing else ""
    click.echo(f"{len(faults) or 'No'} {'precedence' if len(faults) == 1 else 'precedences'} broken.{left}")
    return common.FOUND if faults else common.CLEAR


def _write(path: Path, words: str) -> None:
    try:
        path.write_text(words, encoding="utf-8")
    except OSError as bad:
        raise LoopwrightError(
            f"{path} cannot be written", where=bad.strerror or "", do="Choose another folder or name"
        ) from None
