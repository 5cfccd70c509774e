"""`loopwright glossary`: the words of the trade, or the meaning of one."""

from __future__ import annotations

import textwrap

import click

from loopwright.cli import common

WIDTH = 100


@click.command()
@click.argument("term", nargs=-1)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def glossary(term: tuple[str, ...], form: str) -> int:
    """Explain the words of the trade: one of them, or all.

    \b
    Examples:
      loopwright glossary
      loopwright glossary heat leak
      loopwright glossary --format json
    """
    from loopwright.lessons.glossary import meaning, terms

    if not term:
        if form == "json":
            click.echo(common.as_json(terms()))
            return common.CLEAR
        for each in terms():
            click.secho(" / ".join(each.words), bold=True)
            click.echo(textwrap.fill(each.says, WIDTH, initial_indent="  ", subsequent_indent="  "))
        return common.CLEAR
    kinds = common.catalogue()
    found = meaning(" ".join(term), kinds)
    if form == "json":
        click.echo(common.as_json(found))
        return common.CLEAR
    click.secho(found.name, bold=True)
    click.echo(textwrap.fill(found.says, WIDTH))
    if found.words[1:]:
        click.echo(textwrap.fill(f"Also called: {', '.join(found.words[1:])}", WIDTH))
    if found.kinds:
        named = ", ".join(kinds[k].name for k in found.kinds if k in kinds)
        click.echo(textwrap.fill(f"On a sheet: {named}", WIDTH))
    if found.page:
        click.echo(f"Read on: loopwright rules {found.page}")
    return common.CLEAR
