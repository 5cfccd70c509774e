"""`loopwright check`: sheets against every rule, and their repair."""

from __future__ import annotations

from collections.abc import Iterator
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
@click.option("--jobs", type=click.IntRange(1, 64), default=1, help="So many sheets at once.")
@click.option("--summary", is_flag=True, help="One line a sheet in place of its findings.")
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
def check(
    files: tuple[Path, ...],
    jobs: int,
    summary: bool,
    form: str,
    fail_on: str,
    computed: bool,
    repair: bool,
    out: Path | None,
) -> int:
    """Check sheets, or every sheet in a folder, against every rule.

    Example: loopwright check jobs --jobs 2 --summary
    """
    from loopwright.files.folders import sheets_in

    catalogue = common.catalogue()
    if repair or out is not None:
        sheet, steps = _repaired(files, repair, out, catalogue)
        result = common.survey_of(sheet, catalogue, computed)
        if form == "json":
            answered = {**common.survey_json(files[0], result), "written": str(out), "repaired": steps}
            click.echo(common.as_json([answered]))
        else:
            for step in steps:
                click.echo(f"{step['did']}.")
                click.secho(f"     {step['rule']}: {step['message']}", dim=True)
            click.echo(f"{len(steps)} {'repair' if len(steps) == 1 else 'repairs'} made; wrote {out}\n")
            common.print_survey(str(out), sheet.title, result)
        return _verdict([result], fail_on)
    sheets = sheets_in(files)
    results: list[tuple[Path, Survey]] = []
    refused: list[tuple[Path, LoopwrightError]] = []
    for file, answer in _checked(sheets, jobs, computed):
        if isinstance(answer, LoopwrightError):
            common.complain(answer)
            refused.append((file, answer))
            continue
        results.append((file, answer[1]))
        if form == "text" and not summary:
            common.print_survey(str(file), *answer)
    if form == "json":
        click.echo(common.as_json([common.survey_json(f, s) for f, s in results]))
    elif summary or len(sheets) > 1:
        _summary(results, refused)
    if refused:
        return common.BAD
    return _verdict([s for _, s in results], fail_on)


Checked = tuple[str, "Survey"] | LoopwrightError
"""The title of a sheet and its survey, or why it was refused."""


def _checked(sheets: list[Path], jobs: int, computed: bool) -> Iterator[tuple[Path, Checked]]:
    """Each sheet's title with its survey, or why it was refused, in the order they were named."""
    if jobs == 1 or len(sheets) == 1:
        for number, file in enumerate(sheets):
            common.progress(f"{number + 1} of {len(sheets)}: {file.name}" if len(sheets) > 1 else "")
            answer = _one(file, computed)
            common.progress("")
            yield file, answer
        return
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    pool = ProcessPoolExecutor(min(jobs, len(sheets)), multiprocessing.get_context("spawn"))
    try:
        work = [pool.submit(_one, file, computed) for file in sheets]
        for number, (file, future) in enumerate(zip(sheets, work, strict=True)):
            common.progress(f"{number + 1} of {len(sheets)}: {file.name}")
            answer = future.result()
            common.progress("")
            yield file, answer
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _one(file: Path, computed: bool) -> Checked:
    kinds = common.catalogue()
    try:
        sheet = common.load(file, kinds)
    except LoopwrightError as bad:
        return bad
    return sheet.title, common.survey_of(sheet, kinds, computed)


def _summary(results: list[tuple[Path, Survey]], refused: list[tuple[Path, LoopwrightError]]) -> None:
    """One line a sheet: its counts, the worst first."""
    wide = max(5, *(len(str(f)) for f, _ in (*results, *refused)))
    words = ("danger", "fault", "advice", "not assessed")
    click.secho(f"{'Sheet':<{wide}}  " + "  ".join(f"{w:>{len(w)}}" for w in words), bold=True)
    for file, _ in refused:
        click.secho(f"{file!s:<{wide}}  refused", fg="red")
    for file, result in sorted(results, key=lambda r: -(r[1].worst() or 0)):
        counts = result.counts()
        worst = result.worst()
        line = f"{file!s:<{wide}}  " + "  ".join(f"{counts[w] or '-':>{len(w)}}" for w in words)
        click.secho(line, fg=common.COLOURS[worst.word] if worst is not None else None)
    clear = sum(r.worst() is None for _, r in results)
    click.echo(f"\n{len(results)} checked, {clear} without a finding, {len(refused)} refused.")


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
