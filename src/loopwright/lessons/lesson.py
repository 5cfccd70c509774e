"""What a lesson is: its words, its starting sheet, what may be edited, its goal. Plain values.

Owns the records. Reading and refusing them is `reader`'s; judging an answer is `attempt`'s.
"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Literal

import msgspec

from loopwright.lessons.goals import Condition
from loopwright.sheet.values import Sheet

EVERYTHING = "*"
Next = tuple[str, str]
"""What to read next: its sort (rule, fact, computation, word, step) and its key there."""


class Course(msgspec.Struct, frozen=True, kw_only=True):
    """A course and its lessons in order."""

    id: str
    title: str
    about: str
    lessons: tuple[Lesson, ...] = ()


class Misconception(msgspec.Struct, frozen=True, kw_only=True):
    """What is often believed, and what really follows."""

    key: str
    believed: str
    really: str


class Question(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A question with choices. `right` is the number of the right one, from 0."""

    ask: str
    choices: tuple[str, ...]
    right: int
    because: str = ""


class Allowed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a learner may do. "*" stands for everything. Tees, caps and new pipes are always allowed.

    `place` kinds that may be added; `remove` and `move` parts (small fittings may always be moved and turned);
    `change` properties by part; `tappings` vessels whose tappings and coils may change, or
    one of them as "store/flow"; `pipes` those whose size,
    material, lagging or extra length may change (their course is always free); `links` control links.
    """

    place: tuple[str, ...] = ()
    remove: tuple[str, ...] = ()
    move: tuple[str, ...] = ()
    change: dict[str, tuple[str, ...]] = {}
    tappings: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    links: bool = False
    anything: bool = False


class Fault(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A hidden fault: its rule, the parts or pipes that count as finding it, and why it is one."""

    rule: str
    at: tuple[str, ...]
    why: str


class Decoy(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A sound thing that looks wrong, and why it is sound."""

    at: tuple[str, ...]
    why: str


class Play(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a consequence is played: by the layers of a store, the stove in a power cut, or a loop that stalls.

    `full`: the power fails with the store charged throughout. `by_rule` are sentences for what follows from a finding,
    by rule; `otherwise` for any other miss, `right` when all is well.
    """

    show: Literal["layers", "cut", "loop", "flow", "none"] = "none"
    of: str = ""
    minutes: float = 60.0
    full: bool = False
    by_rule: dict[str, str] = {}
    otherwise: str = ""
    right: str = ""


class Lesson(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """One lesson. `sheet_path` is its starting sheet; `sheet` reads it when it is first asked for."""

    id: str
    course: str
    number: int
    title: str
    sort: Literal["lesson", "faults", "brief"] = "lesson"
    minutes: int
    able_to: str
    task: str
    hints: tuple[str, ...]
    reason: str
    misconceptions: tuple[str, ...] = ()
    next: tuple[Next, ...] = ()
    bet: Question | None = None
    why: Question | None = None
    allowed: Allowed
    goal: tuple[Condition, ...]
    play: Play = Play()
    faults: tuple[Fault, ...] = ()
    decoys: tuple[Decoy, ...] = ()
    path: Path
    sheet_path: Path
    draft: str = ""
    """Why a teacher's lesson is not finished yet; empty when it may be given out."""

    @cached_property
    def sheet(self) -> Sheet:
        """The starting sheet. Raises FileError if it cannot be read, LessonError if it lacks what the lesson names."""
        from loopwright.lessons.reader import starting_sheet

        return starting_sheet(self)
