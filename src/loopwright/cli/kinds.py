"""`loopwright kinds`: the kinds of part, or one with its ports and properties."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loopwright.cli import common

if TYPE_CHECKING:
    from loopwright.catalogue import Kind


@click.command()
@click.argument("name", required=False)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def kinds(name: str | None, form: str) -> int:
    """List kinds of part, or show one with its ports and properties.

    \b
    Examples:
      loopwright kinds
      loopwright kinds loading_unit_4
    """
    catalogue = common.catalogue()
    if form == "json":
        chosen = [catalogue[name]] if name else list(catalogue)
        click.echo(common.as_json(chosen))
        return common.CLEAR
    if name:
        _print_kind(catalogue[name])
        return common.CLEAR
    for group, members in catalogue.groups().items():
        click.secho(f"\n{group}", bold=True)
        for kind in members:
            ports = ", ".join(p.name for p in kind.ports) or ("tappings" if kind.body else "none")
            click.echo(f"  {kind.id:<28} {kind.name:<36} ports: {ports}")
    return common.CLEAR


def _print_kind(kind: Kind) -> None:
    click.secho(f"{kind.name}  ({kind.id}, {kind.group})", bold=True)
    click.echo(kind.help)
    if kind.synonyms:
        click.echo(f"Also called: {', '.join(kind.synonyms)}")
    click.echo("\nPorts")
    for port in kind.ports:
        click.echo(
            f"  {port.name:<16} leaves {port.side:<6} {port.role}{' (may stand unused)' if port.optional else ''}"
        )
    if kind.body in ("store", "cylinder"):
        click.echo("  tappings, by letter or name")
    click.echo("\nWays")
    for way in kind.ways:
        click.echo(f"  {way.name:<16} {way.a} -> {way.b}: {way.does.value.replace('_', ' ')}")
    if kind.props:
        click.echo("\nProperties")
    for prop in kind.props:
        default = "asked for" if prop.default is None else f"{prop.default} {prop.unit}".strip()
        usual = f"; usual {prop.usual[0]:g} to {prop.usual[1]:g}" if prop.usual else ""
        click.echo(f"  {prop.name:<22} {default}{usual}\n      {prop.help}")
