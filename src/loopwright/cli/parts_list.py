"""`loopwright parts`: what to buy for a sheet, as text, CSV or JSON."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.reports.buying import Order

FORMS = {".csv": "csv", ".json": "json", ".txt": "text"}


@click.command("parts")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path), help="NAME.csv, .json or .txt; else it is printed.")
@click.option("--format", "form", type=click.Choice(["text", "csv", "json"]), help="How to print it.")
@click.option(
    "--allowance", type=click.FloatRange(0, 100), default=10.0, help="Per cent of pipe on top of what is drawn."
)
def parts_list(file: Path, out: Path | None, form: str | None, allowance: float) -> int:
    """List the parts and the pipe to buy for a sheet.

    Example: loopwright parts barn.loopwright -o barn.csv
    """
    from loopwright.files.writer import write_bytes
    from loopwright.reports.buying import order

    if out is not None and out.suffix.lower() not in FORMS:
        raise LoopwrightError(f"{out.name} ends in no known form", do="End it in .csv, .json or .txt")
    catalogue = common.catalogue()
    sheet = common.load(file, catalogue)
    bought = order(sheet, catalogue, allowance_percent=allowance)
    wanted = form or (FORMS[out.suffix.lower()] if out is not None else "text")
    said = {"text": _text, "csv": _csv, "json": common.as_json}[wanted](bought)
    if out is None:
        click.echo(said, nl=not said.endswith("\n"))
    else:
        write_bytes(out, (said if said.endswith("\n") else said + "\n").encode())
        click.echo(f"Wrote {out}")
    return common.CLEAR


def _text(bought: Order) -> str:
    lines = []
    group = ""
    for line in bought.parts:
        if line.group != group:
            group = line.group
            lines += ["", group]
        given = f"  ({'; '.join(line.given)})" if line.given else ""
        lines.append(f"  {line.count:>3}  {line.name}{given}")
    lines += ["", f"Pipe, with {bought.allowance_percent:g} % on top"]
    for pipe in bought.pipes:
        lines.append(
            f"  {pipe.order_m:>6.1f} m  {pipe.size} {pipe.material}  ({pipe.drawn_m:.2f} m drawn, {pipe.title})"
        )
    if bought.existing:
        lines += ["", f"{bought.existing} parts are there already and are left out."]
    return "\n".join(lines).lstrip("\n") + "\n"


def _csv(bought: Order) -> str:
    """One line an item; pipe in metres. Words that a spreadsheet would run are quoted with an apostrophe."""
    from loopwright.reports.exports import plain

    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["group", "item", "as_given", "quantity", "unit", "drawn_m", "on_the_sheet"])
    for line in bought.parts:
        row: list[str | int] = [
            line.group,
            line.name,
            "; ".join(line.given),
            line.count,
            "pieces",
            "",
            " ".join(line.ids),
        ]
        writer.writerow([plain(v) for v in row])
    for pipe in bought.pipes:
        writer.writerow(
            ["Pipe", f"{pipe.size} {pipe.material}", pipe.title, pipe.order_m, "m", pipe.drawn_m, pipe.count]
        )
    return out.getvalue()
