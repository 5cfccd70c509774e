"""`loopwright practice`: a sound sheet with faults hidden in it, the answers, and the judging of marks."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.lessons.practice import Exercise, Grade, Hidden


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--seed", type=click.IntRange(0), help="The same number gives the same faults again.")
@click.option("--faults", type=click.IntRange(1, 10), default=3, show_default=True, help="How many to hide.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write the faulty sheet.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@click.option("--answers", is_flag=True, help="Print what is hidden; name the seed of the exercise.")
@click.option("--marked", metavar="IDS", help="Judge marks: ids of the faulty sheet, with commas between.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
def practice(
    file: Path,
    seed: int | None,
    faults: int,
    out: Path | None,
    force: bool,
    answers: bool,
    marked: str | None,
    form: str,
) -> int:
    """Hide faults in a sound sheet, to be found without the survey.

    Exit code 1 when marks leave a fault unfound or name something sound.

    \b
    Examples:
      loopwright practice barn.loopwright --seed 7 -o find.loopwright
      loopwright practice barn.loopwright --seed 7 --marked V2,pipe10
      loopwright practice barn.loopwright --seed 7 --answers
    """
    from loopwright.files.writer import save
    from loopwright.lessons.practice import grade
    from loopwright.lessons.practice import practice as hide

    if out is None and not answers and marked is None:
        raise LoopwrightError(
            "No file was named for the faulty sheet", do=f"Try: loopwright practice {file} --seed 7 -o find.loopwright"
        )
    if seed is None and out is None:
        raise LoopwrightError("Answers belong to one exercise", do="Name the seed it was made with: --seed N")
    if out is not None and out.exists() and not force:
        raise LoopwrightError(f"{out} is there already", do="Name another file, or add --force")
    kinds = common.catalogue()
    chosen = random.SystemRandom().randrange(1, 100_000) if seed is None else seed
    exercise = hide(common.load(file, kinds), kinds, chosen, faults)
    judged = None if marked is None else grade(exercise, _known(exercise, marked))
    if out is not None:
        save(exercise.sheet, out)
    if form == "json":
        click.echo(common.as_json(_plain(exercise, judged, answers, out)))
    else:
        _say(exercise, judged, answers, out)
    return common.FOUND if judged is not None and (judged.missed or judged.wrong) else common.CLEAR


def _known(exercise: Exercise, marked: str) -> list[str]:
    marks = [word.strip() for word in marked.split(",") if word.strip()]
    for mark in marks:
        if mark not in exercise.sheet.parts and mark not in exercise.sheet.pipes:
            raise LoopwrightError(
                f"There is no part or pipe “{mark}” on the faulty sheet", do="Take the ids from that sheet"
            )
    return marks


def _say(exercise: Exercise, judged: Grade | None, answers: bool, out: Path | None) -> None:
    count = len(exercise.hidden)
    if out is not None:
        hidden = "1 fault is" if count == 1 else f"{count} faults are"
        click.echo(f"Wrote {out}: {hidden} hidden in it. Seed {exercise.seed}, difficulty {exercise.difficulty}.")
    if count < exercise.asked:
        click.echo(f"{exercise.asked} were asked for; no more could be told apart on this sheet.")
    if judged is not None:
        click.echo(f"Found {len(judged.found)} of {count}; {len(judged.wrong)} marked where nothing is wrong.")
        for hidden_fault in judged.found:
            click.echo(f"  found   {hidden_fault.reason}")
        for hidden_fault in judged.missed:
            click.echo(
                f"  missed  {hidden_fault.reason if answers else 'one fault of the rules on ' + _theme(hidden_fault)}"
            )
        for mark in judged.wrong:
            click.echo(f"  sound   {mark}")
    elif answers:
        for number, hidden_fault in enumerate(exercise.hidden, 1):
            click.echo(f"{number}. {hidden_fault.reason}")
            click.echo(f"   {hidden_fault.edit}. {hidden_fault.repair}")
            click.secho(f"   {hidden_fault.rule} ({hidden_fault.severity}); at {', '.join(hidden_fault.at)}", dim=True)


def _theme(fault: Hidden) -> str:
    return fault.rule.split("/")[0].replace("-", " ")


def _plain(exercise: Exercise, judged: Grade | None, answers: bool, out: Path | None) -> dict[str, Any]:
    told: dict[str, Any] = {
        "written": None if out is None else str(out),
        "seed": exercise.seed,
        "faults": len(exercise.hidden),
        "asked": exercise.asked,
        "difficulty": exercise.difficulty,
    }
    if answers:
        told["answers"] = list(exercise.hidden)
    if judged is not None:
        told["found"] = [h.rule for h in judged.found]
        told["missed"] = len(judged.missed)
        told["wrong"] = list(judged.wrong)
    return told
