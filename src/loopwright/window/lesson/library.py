"""The lessons there are: those that ship by course, a teacher's own in a folder, and how each stands.

Owns where own lessons are kept and that one broken file hides no other.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.lessons.lesson import Course, Lesson
    from loopwright.window.recent import Memory

FOLDER = "lessons folder"
OWN = "own"


def own_folder(memory: Memory) -> Path:
    """Where a teacher's own lessons are kept."""
    kept = memory.words(FOLDER)
    return Path(kept) if kept else Path(platformdirs.user_data_dir("loopwright")) / "lessons"


def keep_folder(memory: Memory, folder: Path) -> None:
    """Remember another folder for own lessons."""
    memory.keep_words(FOLDER, str(folder))


def own_lessons(folder: Path) -> tuple[list[Lesson], list[str]]:
    """Lessons of a folder, and a sentence for each file that is none."""
    from loopwright.lessons import read_lesson

    found, refused = [], []
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        if path.name in ("courses.toml", "misconceptions.toml"):
            continue
        try:
            found.append(read_lesson(path))
        except LoopwrightError as bad:
            refused.append(bad.sentence)
    found.sort(key=lambda lesson: (lesson.course, lesson.number, lesson.title))
    return found, refused


def shipped() -> tuple[Course, ...]:
    """The courses that ship; read once."""
    global _SHIPPED
    if _SHIPPED is None:
        from loopwright.lessons import load_lessons

        _SHIPPED = load_lessons()
    return _SHIPPED


_SHIPPED: tuple[Course, ...] | None = None


def next_lesson(lesson: Lesson) -> Lesson | None:
    """The lesson after one, in its course or at the start of the next; None after the last, and for own lessons."""
    every = [other for course in shipped() for other in course.lessons]
    ids = [other.path for other in every]
    if lesson.path not in ids or lesson.path == ids[-1]:
        return None
    return every[ids.index(lesson.path) + 1]
