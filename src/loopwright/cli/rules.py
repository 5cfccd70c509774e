"""`loopwright rules`: the list of rules, or the page of one."""

from __future__ import annotations

import click

from loopwright.cli import common


@click.command()
@click.argument("slug", required=False)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def rules(slug: str | None, form: str) -> int:
    """List the rules, or explain one.

    \b
    Examples:
      loopwright rules
      loopwright rules solid-fuel/no-heat-leak
    """
    from loopwright.rules import all_rules, page
    from loopwright.rules.registry import facts

    known = all_rules(computed=True)
    if slug:
        found = page(slug)
        if slug not in known:
            click.echo("This rule is described but not answered yet.\n", err=True)
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
        return common.CLEAR
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
