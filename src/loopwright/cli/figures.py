"""`loopwright figures`: what the sheet computes, with equation, inputs and source."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from loopwright.cli import common


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", help="How to answer.")
@click.option(
    "--condition",
    type=click.Choice(["normal", "power-cut"]),
    default="normal",
    help="What the figures of the flow are worked out for.",
)
def figures(file: Path, form: str, condition: str) -> int:
    """Compute the figures of a sheet, each with its equation, inputs and source.

    Example: loopwright figures barn.loopwright
    """
    import csv

    from loopwright.engineering.figures import Figure
    from loopwright.engineering.figures import figures as compute
    from loopwright.waterways import Waterways
    from loopwright.waterways.views import NORMAL, POWER_CUT

    catalogue = common.catalogue()
    chosen = POWER_CUT if condition == "power-cut" else NORMAL
    found = compute(Waterways(common.load(file, catalogue), catalogue), chosen)
    if form == "json":
        click.echo(common.as_json(found))
        return common.CLEAR
    if form == "csv":
        out = csv.writer(sys.stdout)
        out.writerow(["group", "name", "value", "unit", "equation", "inputs", "source", "about"])
        for f in found:
            if isinstance(f, Figure):
                inputs = "; ".join(f"{i.name} {i.value:g} {i.unit}".strip() for i in f.inputs)
                out.writerow(
                    [f.group, f.name, f"{f.value:.6g}", f.unit, f.equation, inputs, f.source, " ".join(f.about)]
                )
        return common.CLEAR
    group = ""
    for f in found:
        if f.group != group:
            group = f.group
            click.secho(f"\n{group}", bold=True)
        if isinstance(f, Figure):
            click.echo(f"  {f.name:<52} {f.value:>9.4g} {f.unit}{'  (' + f.note + ')' if f.note else ''}")
            inputs = ", ".join(
                f"{i.name} {i.value:.4g} {i.unit}".strip() + (" assumed" if i.assumed else "") for i in f.inputs
            )
            click.secho(f"      {f.equation}; {inputs}; {f.source}", dim=True)
        else:
            click.echo(f"  {f.name:<52} not assessed: {f.missing} is missing")
    click.echo()
    return common.CLEAR
