"""`loopwright conditions`: what each fire does when the power fails, a pump stops or a valve is left shut."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common

if TYPE_CHECKING:
    from loopwright.rules.trials import Trial


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--all", "every", is_flag=True, help="Also pairs that only repeat what one of their halves does.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def conditions(file: Path, every: bool, form: str) -> int:
    """Try every plausible condition: a power cut, each pump stopped, each valve shut, and pairs of them.

    Exits with 1 when some condition leaves a source without flow, or shut off from its vent and relief valves.

    Example: loopwright conditions house.loopwright
    """
    from loopwright.rules.registry import Case
    from loopwright.rules.trials import telling, trials
    from loopwright.waterways import Waterways

    kinds = common.catalogue()
    sheet = common.load(file, kinds)
    found = trials(Case(Waterways(sheet, kinds)))
    shown = found if every else telling(found)
    if form == "json":
        click.echo(common.as_json([trial_json(t) for t in shown]))
    else:
        click.secho(f"{sheet.title}  ({file})", bold=True)
        for trial in sorted(shown, key=lambda t: (t.holds, not t.filling)):
            sign, colour = ("!", "red") if not trial.holds else ("~", "yellow") if trial.filling else (" ", None)
            click.secho(f" {sign} {trial.words}", fg=colour, bold=not trial.holds)
            for sentence in trial.says:
                click.echo(f"     {sentence}")
        bad = sum(not t.holds for t in found)
        click.echo(
            f"\n{len(found)} conditions tried: "
            + (
                f"{bad} {'leaves' if bad == 1 else 'leave'} a source in danger (!)."
                if bad
                else "none leaves a source in danger."
            )
        )
        if any(t.filling for t in shown):
            click.echo("In those marked ~ a fire has only a store to heat, which ends when the store is full.")
        click.secho(common.CAUTION + "\n", dim=True)
    return common.FOUND if any(not t.holds for t in found) else common.CLEAR


def trial_json(trial: Trial) -> dict[str, object]:
    """A trial for scripts."""
    condition = trial.condition
    return {
        "condition": trial.words,
        "power": condition.power,
        "stopped": sorted(condition.stopped),
        "shut": sorted(condition.shut),
        "lost": list(trial.lost),
        "filling": list(trial.filling),
        "says": list(trial.says),
    }
