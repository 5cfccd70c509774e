"""`loopwright new`: a sheet from a starter system."""

from __future__ import annotations

from pathlib import Path

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError


@click.command()
@click.argument("starter", required=False)
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write the new sheet.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def new(starter: str | None, out: Path | None, force: bool) -> int:
    """Start a sheet from a starter system; without a name, list them.

    \b
    Examples:
      loopwright new
      loopwright new three-source -o barn.loopwright
    """
    from loopwright.files.writer import save
    from loopwright.resources import resource_root

    there = {p.stem: p for p in sorted((resource_root() / "starters").glob("*.loopwright"))}
    if not starter:
        catalogue = common.catalogue()
        for stem, path in there.items():
            click.echo(f"  {stem:<28} {common.load(path, catalogue).title}")
        return common.CLEAR
    if starter not in there:
        raise LoopwrightError(f"There is no starter “{starter}”", do=f"Choose one of {', '.join(there)}")
    if out is None:
        raise LoopwrightError(
            "No file was named for the new sheet", do=f"Try: loopwright new {starter} -o job.loopwright"
        )
    if out.exists() and not force:
        raise LoopwrightError(f"{out} is there already", do="Name another file, or add --force")
    save(common.load(there[starter], common.catalogue()), out)
    click.echo(f"Wrote {out}")
    return common.CLEAR
