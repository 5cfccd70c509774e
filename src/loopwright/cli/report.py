"""`loopwright report`: the report of one sheet, or of many, as PDF or as a page of HTML; and every table of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.reports.batch import Done, Form, Task
    from loopwright.reports.model import Paper


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("-o", "--out", type=click.Path(path_type=Path), required=True, help="NAME.pdf, NAME.html or a folder.")
@click.option("--format", "form", type=click.Choice(["pdf", "html"]), default="pdf", help="What to write in a folder.")
@click.option("--paper", type=click.Choice(["A4", "A3"]), default="A4", help="Size of the paper.")
@click.option("--computed", is_flag=True, help="Also what needs the flow worked out, which takes some seconds.")
@click.option("--run", "runs", multiple=True, metavar="NAME", help="Also a run: power-cut, or a day such as winter.")
@click.option("--tables", type=click.Path(path_type=Path), help="A folder for every table of the report.")
@click.option("--table-format", type=click.Choice(["csv", "json"]), default="csv", help="How to write the tables.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, help="So many sheets at once.")
def report(
    files: tuple[Path, ...],
    out: Path,
    form: str,
    paper: str,
    computed: bool,
    runs: tuple[str, ...],
    tables: Path | None,
    table_format: str,
    jobs: int,
) -> int:
    """Write the reports of sheets, or of every sheet in a folder.

    \b
    Examples:
      loopwright report barn.loopwright -o barn.pdf
      loopwright report jobs -o reports --jobs 2
    """
    from loopwright.files.folders import sheets_in
    from loopwright.reports.batch import Task, make_folder, many, one, targets
    from loopwright.reports.stop import Cancelled

    sheets = sheets_in(files)
    single = _is_single(out, sheets, files)
    kinds = common.kinds_folder()
    own = "" if kinds is None else str(kinds)
    wanted = cast("Form", out.suffix.lower()[1:] if single else form)
    if not single:
        make_folder(out)
    named = [out] if single else targets(sheets, out, wanted)

    def task(sheet: Path, target: Path) -> Task:
        place = "" if tables is None else str(tables if single else tables / target.stem)
        return Task(
            source=str(sheet),
            target=str(target),
            form=wanted,
            paper=cast("Paper", paper),
            computed=computed,
            runs=runs,
            tables=place,
            table_form="json" if table_format == "json" else "csv",
            kinds=own,
        )

    tasks = [task(s, t) for s, t in zip(sheets, named)]
    done: list[Done] = []
    try:
        if single:
            done.append(one(tasks[0], common.progress))
            common.progress("")
            _tell(done[0])
            return common.CLEAR
        for result in many(tasks, jobs):
            done.append(result)
            common.progress(f"{len(done)} of {len(tasks)}: {Path(result.source).name}")
    except (KeyboardInterrupt, Cancelled):
        common.progress("")
        written = sum(not d.refused for d in done)
        whole = f" {written} reports are whole." if written else ""
        click.echo(f"loopwright: Stopped; nothing is half written.{whole}", err=True)
        return common.BAD
    common.progress("")
    _summary(done, [t.source for t in tasks])
    return common.BAD if any(d.refused for d in done) else common.CLEAR


def _is_single(out: Path, sheets: list[Path], files: tuple[Path, ...]) -> bool:
    """Whether `out` is the one file to write, not a folder. Raises LoopwrightError where it can be neither."""
    single = out.suffix.lower() in (".pdf", ".html") and not out.is_dir()
    if single and (len(sheets) > 1 or any(f.is_dir() for f in files)):
        raise LoopwrightError(
            f"{out.name} is one file, and {len(sheets)} sheets are named", do="Name a folder: -o reports"
        )
    if not single and len(sheets) == 1 and out.suffix and not out.is_dir():
        raise LoopwrightError(f"{out.name} ends in no known form", do="End it in .pdf or .html, or name a folder")
    if single and not out.parent.is_dir():
        raise LoopwrightError(f"There is no folder {out.parent}", do="Make it first, or name another")
    return single


def _tell(done: Done) -> None:
    said = ", ".join(common.many(done.counts[w], w) for w in ("danger", "fault", "advice"))
    pages = f", {done.pages} pages" if done.pages else ""
    click.echo(f"Wrote {done.target}{pages}: {said}, {done.counts['not assessed']} not assessed.")


def _summary(done: list[Done], order: list[str]) -> None:
    """One table of all sheets, in the order they were named."""
    done = sorted(done, key=lambda d: order.index(d.source))
    wide = max(len("Sheet"), *(len(Path(d.source).name) for d in done))
    counts = f"{'Danger':>6}  {'Fault':>5}  {'Advice':>6}  {'Open':>4}  {'Pages':>5}"
    click.secho(f"{'Sheet':<{wide}}  {'Worst':<7}  {counts}  Report", bold=True)
    for d in done:
        name = Path(d.source).name
        if d.refused:
            click.echo(f"{name:<{wide}}  {'refused':<7}")
            continue
        c = d.counts
        pages = "" if d.pages is None else str(d.pages)
        worst = click.style(f"{d.worst or 'none':<7}", fg=common.COLOURS.get(d.worst))
        click.echo(
            f"{name:<{wide}}  {worst}  {c['danger']:>6}  {c['fault']:>5}  {c['advice']:>6}  {c['not assessed']:>4}"
            f"  {pages:>5}  {d.target}"
        )
    for d in done:
        if d.refused:
            click.echo(f"loopwright: {d.source}: {d.refused}", err=True)
    written = sum(not d.refused for d in done)
    click.echo(f"\n{written} of {len(done)} reports written.")
