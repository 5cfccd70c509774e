"""Writes the starting sheets of the lessons and one answer each.

`python tests/lessons/make.py`, or with ids to write those alone.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopwright.sheet.values import Sheet

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
FOLDER = ROOT / "resources" / "lessons"
sys.path[:0] = [str(HERE), str(ROOT / "samples"), str(HERE.parent / "systems"), str(HERE.parent / "rules")]


def main() -> None:
    """Write them."""
    from starts import every

    from loopwright.files.writer import save

    asked = sys.argv[1:]
    strange = [name for name in asked if name not in every()]
    if strange:
        sys.exit(
            f'No starting sheet of {strange[0]}: draw it under @starts("{strange[0]}") in tests/lessons/starts_*.py'
        )
    for lesson, draw in every().items():
        if not asked or lesson in asked:
            save(draw(), FOLDER / f"{lesson}.loopwright")
            print(f"Wrote {lesson}")
    for lesson, sheet in one_answer_each().items():
        if not asked or lesson in asked:
            save(sheet, FOLDER / f"{lesson}.right-1.loopwright")


def one_answer_each() -> dict[str, Sheet]:
    """The first right answer of each lesson, to be shown to whoever asks; not of sheets with hidden faults."""
    from answers import every
    from pen import Pen

    from loopwright.lessons import lesson_named, start

    out: dict[str, Sheet] = {}
    for answer in every():
        if answer.right and answer.lesson not in out and lesson_named(answer.lesson).sort != "faults":
            pen = Pen(start(lesson_named(answer.lesson)).sheet)
            answer.edit(pen)
            out[answer.lesson] = pen.done()
    return out


if __name__ == "__main__":
    main()
