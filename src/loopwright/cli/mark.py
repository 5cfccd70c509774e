"""`loopwright mark`: learners' answers to a lesson, a row a file."""

from __future__ import annotations

from pathlib import Path

import click

from loopwright.cli import common


@click.command()
@click.argument("lesson")
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", help="How to answer.")
@click.option("--folder", type=click.Path(path_type=Path), help="Lessons of your own, in place of those that ship.")
def mark(lesson: str, files: tuple[Path, ...], form: str, folder: Path | None) -> int:
    """Mark answers to LESSON (an id or a lesson file). A folder stands for the sheets in it.

    Exit code 0 when all passed, 1 when some did not, 2 when a file could not be read; the rest is still marked.

    Example: loopwright mark S1 answers
    """
    from loopwright.errors import LoopwrightError
    from loopwright.lessons.marking import as_csv, as_text
    from loopwright.lessons.marking import mark as marked
    from loopwright.lessons.reader import lesson_named

    asked = lesson_named(lesson, folder)
    rows = marked(asked, files, common.catalogue())
    if not rows:
        raise LoopwrightError("There is no sheet to mark", where=str(files[0]), do="Name the learners' files")
    if form == "json":
        click.echo(common.as_json({"lesson": asked.id, "rows": rows}))
    elif form == "csv":
        click.echo(as_csv(rows), nl=False)
    else:
        click.echo(as_text(asked, rows))
    if any(r.refused for r in rows):
        return common.BAD
    return common.CLEAR if all(r.passed for r in rows) else common.FOUND
