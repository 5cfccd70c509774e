"""`loopwright rules`: the list of rules, or the page of one."""

from __future__ import annotations

from pathlib import Path

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError


@click.command()
@click.argument("slug", required=False)
@click.option("--picture", type=click.Path(path_type=Path), help="NAME.svg: the rule's examples, wrong and right.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def rules(slug: str | None, picture: Path | None, form: str) -> int:
    """List the rules, or explain one.

    \b
    Examples:
      loopwright rules
      loopwright rules solid-fuel/no-heat-leak
      loopwright rules solid-fuel/no-heat-leak --picture leak.svg
    """
    from loopwright.reports.examples import path_of
    from loopwright.rules import all_rules, page
    from loopwright.rules.registry import facts

    known = all_rules(computed=True)
    if slug:
        found = page(slug)
        if form == "json":
            click.echo(common.as_json(found))
            return common.CLEAR
        click.secho(f"{found.title}  ({found.severity})", bold=True)
        click.echo(found.text)
        if found.sources:
            click.echo("\nSources")
        for key in found.sources:
            fact = facts()[key]
            click.echo(f"  {key}: {fact.says} ({fact.source})")
        click.echo("\nDrawn examples, to open as sheets")
        for which in ("wrong", "right"):
            path = path_of(slug, which)
            click.echo(f"  {which}: {path}" + ("" if path.is_file() else " (not there yet)"))
        if picture is not None:
            _draw(slug, picture)
        return common.CLEAR
    if picture is not None:
        raise LoopwrightError("A picture is of one rule", do="Name the rule: loopwright rules RULE --picture NAME.svg")
    if form == "json":
        out = [
            {
                "slug": s,
                "title": page(s).title,
                "severity": page(s).severity,
                "about": r.kinds,
                "yields_to": list(r.yields_to),
            }
            for s, r in known.items()
        ]
        click.echo(common.as_json(out))
        return common.CLEAR
    theme = ""
    for known_slug, rule in known.items():
        if rule.theme != theme:
            theme = rule.theme
            click.secho(f"\n{theme}", bold=True)
        found = page(known_slug)
        click.echo(f"  {known_slug:<42} {found.severity:<7} {found.title}")
    return common.CLEAR


def _draw(slug: str, target: Path) -> None:
    """Both examples of a rule, each in a file of its own."""
    from loopwright.files.writer import write_bytes
    from loopwright.reports.examples import svg

    if target.suffix.lower() != ".svg":
        raise LoopwrightError(f"{target.name} ends in no known form", do="End it in .svg")
    kinds = common.catalogue()
    for which in ("wrong", "right"):
        path = target.with_name(f"{target.stem}-{which}.svg")
        write_bytes(path, svg(slug, which, kinds).encode("utf-8"))
        click.echo(f"Wrote {path}")
