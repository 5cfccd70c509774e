"""`loopwright compare`: two revisions of a sheet held against each other; also as a diff driver for git."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.reports.comparison import Comparison


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
@click.option("--computed", is_flag=True, help="Also the rules that work out the flow, which take some seconds.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="NAME.html or NAME.pdf to write.")
@click.option("--git", "driver", is_flag=True, help="Take the seven words that git gives to a diff command.")
def compare(files: tuple[Path, ...], form: str, computed: bool, out: Path | None, driver: bool) -> int:
    """Hold a newer sheet against an older one: OLD NEW.

    Exits with 1 when the newer sheet has a danger or fault that the older one has not.

    Example: loopwright compare before.loopwright after.loopwright

    For readable differences in git: `*.loopwright diff=loopwright` in .gitattributes, and
    `git config diff.loopwright.command "loopwright compare --git"`.
    """
    from loopwright.reports.comparison import held_against, lines
    from loopwright.rules import Severity
    from loopwright.sheet.values import Sheet

    if driver:
        if len(files) < 7:
            raise LoopwrightError(
                "Git gives seven words to a diff command", do="Set diff.loopwright.command, and let git call it"
            )
        name, old, new = files[0], files[1], files[4]
        click.echo(f"loopwright {name}")
    elif len(files) == 2:
        old, new = files
    else:
        raise LoopwrightError("Comparing takes two sheets, the older first", do="loopwright compare OLD NEW")
    if out is not None and out.suffix.lower() not in (".html", ".pdf"):
        raise LoopwrightError(f"{out.name} ends in no known form", do="End it in .html or .pdf")
    kinds = common.catalogue()
    sheets = [Sheet() if driver and not _there(path) else common.load(path, kinds) for path in (old, new)]
    found = held_against(sheets[0], sheets[1], kinds, computed=computed)
    if out is not None:
        from loopwright.reports.comparison_report import write

        write(found, kinds, out)
        click.echo(f"Wrote {out}: {found.verdict}")
    elif form == "json":
        click.echo(common.as_json(comparison_json(found)))
    else:
        for line in lines(found):
            sign = line[1:2] if line.startswith(" ") else ""
            click.secho(line, fg={"+": "green", "-": "red", "~": "yellow", ">": "blue"}.get(sign))
    if driver:
        return common.CLEAR
    return common.FOUND if any(f.severity > Severity.ADVICE for f in found.appeared) else common.CLEAR


def _there(path: Path) -> bool:
    """Whether git names a real file: an added or removed sheet has /dev/null on one side."""
    return path.is_file() and path.stat().st_size > 0


def comparison_json(found: Comparison) -> dict[str, object]:
    """A comparison for scripts."""
    return {
        "verdict": found.verdict,
        "changes": found.differences.changes,
        "findings_new": [common.finding_json(f) for f in found.appeared],
        "findings_gone": [common.finding_json(f) for f in found.gone],
        "findings_kept": [common.finding_json(f) for _, f in found.kept],
    }
