"""`loopwright figures`: what the sheet computes, with equation, inputs, source; and the pages of the computations."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common

if TYPE_CHECKING:
    from loopwright.engineering.figures import Figure, Gap
    from loopwright.units import System
    from loopwright.waterways import Waterways
    from loopwright.waterways.views import Condition

NAME = {"pump-stopped": "stopped", "shut": "shut", "out": "out"}
"""Conditions that name a part, and the field of the condition."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", help="How to answer.")
@click.option(
    "--condition",
    "conditions",
    multiple=True,
    metavar="CONDITION",
    help="What the flow is worked out for: normal, power-cut, pump-stopped:ID, shut:ID, out:ID; may be repeated.",
)
@click.option("--units", type=click.Choice(["metric", "imperial"]), default="metric", help="Units of the text.")
@click.option("--pipe-loss", is_flag=True, help="Let pipes lose heat to the room, lagged as drawn, else as is usual.")
@click.option("--explain", metavar="NAME", help="Show the page of a computation instead; “list” names them all.")
def figures(
    file: Path | None, form: str, conditions: tuple[str, ...], units: System, pipe_loss: bool, explain: str | None
) -> int:
    """Compute the figures of a sheet, each with its equation, inputs and source.

    \b
    Examples:
      loopwright figures barn.loopwright
      loopwright figures barn.loopwright --condition power-cut --condition shut:V3
      loopwright figures --explain vessel
    """
    if explain:
        return _explain(explain, form)
    if file is None:
        raise click.UsageError("Missing argument 'FILE'.")
    from loopwright.engineering.figures import figures as compute
    from loopwright.waterways import Waterways

    kinds = common.catalogue()
    ways = Waterways(common.load(file, kinds), kinds)
    found = compute(ways, _condition(ways, conditions), lossy=pipe_loss)
    if form == "json":
        click.echo(common.as_json(found))
    elif form == "csv":
        _csv(found)
    else:
        _text(found, units)
    return common.CLEAR


def _condition(ways: Waterways, said: tuple[str, ...]) -> Condition:
    """One condition from all that was said. Raises LoopwrightError for words or ids that there are not."""
    from loopwright.errors import ValueRefused
    from loopwright.waterways.views import Condition

    power, parts = True, {field: set[str]() for field in NAME.values()}
    for words in said:
        name, _, ident = words.partition(":")
        if words == "power-cut":
            power = False
        elif name in NAME and ident:
            if ident not in ways.sheet.parts:
                raise ValueRefused(
                    f"There is no part “{ident}” on the sheet", where=f"condition {words}", do="Give its id"
                )
            parts[NAME[name]].add(ident)
        elif words != "normal":
            raise ValueRefused(
                f"“{words}” is no condition", do="Say normal, power-cut, pump-stopped:ID, shut:ID or out:ID"
            )
    return Condition(power, *(frozenset(parts[field]) for field in ("stopped", "shut", "out")))


def _csv(found: Iterable[Figure | Gap]) -> None:
    import csv

    from loopwright.engineering.figures import Figure

    out = csv.writer(sys.stdout)
    out.writerow(["topic", "group", "name", "value", "unit", "equation", "inputs", "valid", "source", "note", "about"])
    for f in found:
        about = " ".join(f.about)
        if isinstance(f, Figure):
            inputs = "; ".join(f"{i.name} {i.value:g} {i.unit}".strip() for i in f.inputs)
            row = [f"{f.value:.6g}", f.unit, f.equation, inputs, f.valid, f.source, f.note, about]
        else:
            row = ["", "", "", "", "", "", f"not assessed: {f.missing} is missing", about]
        out.writerow([f.topic, f.group, f.name, *row])


def _text(found: Iterable[Figure | Gap], system: System) -> None:
    from loopwright import units
    from loopwright.engineering.figures import Figure

    group = ""
    for f in found:
        if f.group != group:
            group = f.group
            click.secho(f"\n{group}", bold=True)
        if isinstance(f, Figure):
            note = f"  ({f.note})" if f.note else ""
            click.echo(f"  {f.name:<56} {units.show(f.value, f.unit, system, 4)}{note}")
            inputs = ", ".join(
                f"{i.name} {units.show(i.value, i.unit, system, 4)}" + (" assumed" if i.assumed else "")
                for i in f.inputs
            )
            click.secho(f"      {f.equation}; {inputs}; {f.source}; see {f.page}", dim=True)
        else:
            click.echo(f"  {f.name:<56} not assessed: {f.missing} is missing")
    click.echo()


def _explain(name: str, form: str) -> int:
    from loopwright.engineering.pages import names, page

    if name == "list":
        pages = [page(n) for n in names()]
        if form == "json":
            click.echo(common.as_json(pages))
        else:
            for found in pages:
                click.echo(f"  {found.name:<16} {found.title}")
        return common.CLEAR
    found = page(name)
    if form == "json":
        click.echo(common.as_json(found))
    else:
        click.secho(found.title, bold=True)
        click.echo(f"\n{found.text}")
    return common.CLEAR
