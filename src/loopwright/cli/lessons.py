"""`loopwright lessons`: the lessons and how they stand, or one lesson."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import click

from loopwright.cli import common


@click.command()
@click.argument("name", required=False)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
@click.option("--folder", type=click.Path(path_type=Path), help="Lessons of your own, in place of those that ship.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Write the starting sheet of the lesson there.")
def lessons(name: str | None, form: str, folder: Path | None, out: Path | None) -> int:
    """List the lessons, or show one: its task, its hints and what its goal asks.

    \b
    Examples:
      loopwright lessons
      loopwright lessons S1
    """
    from loopwright.errors import LoopwrightError
    from loopwright.lessons import Progress, lesson_named, load_lessons

    if name is None:
        if out is not None:
            raise LoopwrightError(
                "A file to write was named, and no lesson", do="Try: loopwright lessons S1 -o s1.loopwright"
            )
        courses, kept = load_lessons(folder), Progress()
        if form == "json":
            click.echo(
                common.as_json([{**_course(c), "lessons": [_short(x, kept) for x in c.lessons]} for c in courses])
            )
            return common.CLEAR
        for course in courses:
            click.secho(f"{course.title}", bold=True)
            click.echo(f"  {course.about}")
            for lesson in course.lessons:
                best = kept.of(lesson.id).best
                stands = f"best {best}" if kept.of(lesson.id).passed else ""
                click.echo(f"  {lesson.id:<4} {lesson.title:<44} {lesson.minutes:>3} min  {stands}".rstrip())
            click.echo()
        return common.CLEAR
    lesson = lesson_named(name, folder)
    if out is not None:
        from loopwright.files.writer import save

        if out.exists():
            raise LoopwrightError(f"{out} is there already", do="Name another file")
        save(lesson.sheet, out)
        click.echo(f"Wrote the starting sheet of {lesson.id} to {out}")
        return common.CLEAR
    if form == "json":
        click.echo(common.as_json(_long(lesson)))
        return common.CLEAR
    click.secho(f"{lesson.id}  {lesson.title}  ({lesson.minutes} min)", bold=True)
    click.echo(f"Afterwards you can {lesson.able_to}.\n")
    click.echo(textwrap.fill(lesson.task, 96))
    click.echo("\nHints")
    for n, hint in enumerate(lesson.hints, 1):
        click.echo(textwrap.fill(f"{n}  {hint}", 96, initial_indent="  ", subsequent_indent="     "))
    click.echo("\nWhy")
    click.echo(textwrap.fill(lesson.reason, 96))
    for sort, key in lesson.next:
        click.secho(f"  read next: {sort} {key}", dim=True)
    return common.CLEAR


def _course(course: Any) -> dict[str, Any]:
    return {"id": course.id, "title": course.title, "about": course.about}


def _short(lesson: Any, kept: Any) -> dict[str, Any]:
    standing = kept.of(lesson.id)
    return {
        "id": lesson.id, "title": lesson.title, "sort": lesson.sort, "minutes": lesson.minutes,
        "able_to": lesson.able_to, "best": standing.best, "passed": standing.passed,
    }  # fmt: skip


def _long(lesson: Any) -> dict[str, Any]:
    return {
        "id": lesson.id, "course": lesson.course, "number": lesson.number, "title": lesson.title, "sort": lesson.sort,
        "minutes": lesson.minutes, "able_to": lesson.able_to, "task": lesson.task, "hints": list(lesson.hints),
        "reason": lesson.reason, "misconceptions": list(lesson.misconceptions), "next": [list(n) for n in lesson.next],
        "allowed": lesson.allowed, "goal": lesson.goal,
    }  # fmt: skip
