"""`loopwright check`: sheets against every rule, and their repair."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.sheet.values import Sheet
    from loopwright.survey import Survey


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
@click.option(
    "--fail-on",
    type=click.Choice(["danger", "fault", "advice", "never"]),
    default="fault",
    help="Least severity that makes the exit code 1.",
)
@click.option("--computed", is_flag=True, help="Also the rules that work out the flow, which take some seconds.")
@click.option("--repair", is_flag=True, help="Put right what safely can be, and judge the repaired sheet.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write the repaired sheet.")
def check(files: tuple[Path, ...], form: str, fail_on: str, computed: bool, repair: bool, out: Path | None) -> int:
    """Check sheets against every rule."""
    catalogue = common.catalogue()
    if repair or out is not None:
        sheet, steps = _repaired(files, repair, out, catalogue)
        result = common.survey_of(sheet, catalogue, computed)
        if form == "json":
            answer = [{**common.survey_json(files[0], result), "written": str(out), "repaired": steps}]
            click.echo(common.as_json(answer))
        else:
            for step in steps:
                click.echo(f"{step['did']}.")
                click.secho(f"     {step['rule']}: {step['message']}", dim=True)
            click.echo(f"{len(steps)} {'repair' if len(steps) == 1 else 'repairs'} made; wrote {out}\n")
            common.print_survey(str(out), sheet, result)
        return _verdict([result], fail_on)
    results: list[tuple[Path, Survey]] = []
    refused = False
    for file in files:
        try:
            sheet = common.load(file, catalogue)
        except LoopwrightError as bad:
            common.complain(bad)
            refused = True
            continue
        result = common.survey_of(sheet, catalogue, computed)
        results.append((file, result))
        if form == "text":
            common.print_survey(str(file), sheet, result)
    if form == "json":
        click.echo(common.as_json([common.survey_json(f, s) for f, s in results]))
    if refused:
        return common.BAD
    return _verdict([s for _, s in results], fail_on)


def _verdict(results: list[Survey], fail_on: str) -> int:
    from loopwright.rules import Severity

    if fail_on == "never":
        return common.CLEAR
    least = Severity[fail_on.upper()]
    return common.FOUND if any((s.worst() or 0) >= least for s in results) else common.CLEAR


def _repaired(
    files: tuple[Path, ...], repair: bool, out: Path | None, catalogue: Catalogue
) -> tuple[Sheet, list[dict[str, str]]]:
    """One sheet repaired and written to another file, and what was done to it."""
    from loopwright.files.writer import save
    from loopwright.rules.repairs import repair_all
    from loopwright.survey import survey

    if not repair:
        raise LoopwrightError("A file to write was named, and nothing to do to it", do="Add --repair")
    if out is None or len(files) != 1:
        raise LoopwrightError(
            "Repairing takes one sheet and writes one new file",
            do="Try: loopwright check job.loopwright --repair -o repaired.loopwright",
        )
    if out.exists():
        raise LoopwrightError(f"{out} is there already", do="Name another file")
    sheet, done = repair_all(common.load(files[0], catalogue), catalogue, survey)
    save(sheet, out)
    return sheet, [{"rule": f.rule, "subject": f.subject, "message": f.message, "did": r.label} for f, r in done]
