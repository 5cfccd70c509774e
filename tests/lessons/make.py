"""Writes the starting sheets of the lessons: `python tests/lessons/make.py`, or with ids to write those alone."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE), str(ROOT / "samples"), str(HERE.parent / "systems"), str(HERE.parent / "rules")]


def main() -> None:
    """Write them."""
    from starts import every

    from loopwright.files.writer import save

    asked = sys.argv[1:]
    for lesson, draw in every().items():
        if not asked or lesson in asked:
            save(draw(), ROOT / "resources" / "lessons" / f"{lesson}.loopwright")
            print(f"Wrote {lesson}")


if __name__ == "__main__":
    main()
