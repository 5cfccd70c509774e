"""Progress kept on this machine alone: per lesson the best score, checks, hints, and when it comes back.

Owns one small JSON file, written whole. A file that cannot be read is set aside under another name, never lost.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import msgspec
import platformdirs

from loopwright.errors import LessonError
from loopwright.lessons.attempt import Attempt, Verdict

COMES_BACK_DAYS = (1, 7, 30)
"""A sure lesson comes back as one short question after so many days of use."""


class Standing(msgspec.Struct, kw_only=True, omit_defaults=True):
    """How one lesson stands."""

    best: int = 0
    passed: bool = False
    sure: bool = False
    attempts: int = 0
    checks: int = 0
    hints: int = 0
    minutes: float = 0.0
    last: str = ""
    reviews: int = 0
    missed: dict[str, int] = {}
    """How often each rule was behind a miss."""


class _File(msgspec.Struct, kw_only=True):
    version: int = 1
    lessons: dict[str, Standing] = {}


def progress_file() -> Path:
    """Where progress is kept, unless the environment names another place."""
    own = os.environ.get("LOOPWRIGHT_PROGRESS")
    return Path(own) if own else Path(platformdirs.user_data_dir("loopwright")) / "progress.json"


class Progress:
    """The learner's progress. `path` may be injected; nothing is written until something changes."""

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or progress_file()
        self.set_aside: Path | None = None
        self._file = self._read()

    def _read(self) -> _File:
        if not self.path.is_file():
            return _File()
        try:
            return msgspec.json.decode(self.path.read_bytes(), type=_File)
        except msgspec.MsgspecError:
            aside = self.path.with_suffix(".unreadable.json")
            self.path.replace(aside)
            self.set_aside = aside
            return _File()
        except OSError as bad:
            raise LessonError("Progress cannot be read", where=str(bad), do="Check the rights of that file") from None

    @property
    def standings(self) -> Mapping[str, Standing]:
        """Every lesson begun, by id."""
        return self._file.lessons

    def of(self, lesson: str) -> Standing:
        """How a lesson stands; a new one when it was never begun."""
        return self._file.lessons.get(lesson, Standing())

    def keep(self, attempt: Attempt, verdict: Verdict, *, minutes: float = 0.0, on: date | None = None) -> Standing:
        """Keep what a check said, and write it down."""
        standing = self._file.lessons.setdefault(attempt.lesson.id, Standing())
        standing.attempts += attempt.checks == 1
        standing.checks += 1
        standing.hints = max(standing.hints, attempt.hints_taken)
        standing.best = max(standing.best, attempt.score(verdict))
        standing.passed = standing.passed or verdict.passed
        standing.sure = standing.sure or attempt.sure
        standing.minutes += minutes
        standing.last = (on or date.today()).isoformat()
        missed = dict(standing.missed)
        for condition in verdict.conditions:
            if condition.state == "unmet" and condition.rule:
                missed[condition.rule] = missed.get(condition.rule, 0) + 1
        standing.missed = missed
        self._write()
        return standing

    def scored(self, attempt: Attempt, verdict: Verdict) -> None:
        """Keep the points of an attempt once its reason question is answered: no check is counted for it."""
        standing = self._file.lessons.setdefault(attempt.lesson.id, Standing())
        standing.best = max(standing.best, attempt.score(verdict))
        standing.sure = standing.sure or attempt.sure
        self._write()

    def reviewed(self, lesson: str, *, on: date | None = None) -> None:
        """A short question about a sure lesson was answered rightly."""
        standing = self._file.lessons.setdefault(lesson, Standing())
        standing.reviews += 1
        standing.last = (on or date.today()).isoformat()
        self._write()

    def due(self, *, on: date | None = None) -> list[str]:
        """Lessons that come back today: sure ones after 1, 7 and 30 days, others that were passed at once."""
        today = on or date.today()
        out = []
        for name, standing in self._file.lessons.items():
            if not standing.passed or not standing.last:
                continue
            if not standing.sure:
                out.append(name)
            elif standing.reviews < len(COMES_BACK_DAYS):
                after = timedelta(days=COMES_BACK_DAYS[standing.reviews])
                if date.fromisoformat(standing.last) + after <= today:
                    out.append(name)
        return out

    def reset(self, lesson: str | None = None) -> None:
        """Forget one lesson, or everything."""
        if lesson is None:
            self._file.lessons.clear()
        else:
            self._file.lessons.pop(lesson, None)
        self._write()

    def _write(self) -> None:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            fresh = self.path.with_suffix(".tmp")
            fresh.write_bytes(msgspec.json.format(msgspec.json.encode(self._file)))
            fresh.replace(self.path)
        except OSError as bad:
            raise LessonError(
                "Progress cannot be written", where=str(bad), do="Check the rights of that folder"
            ) from None
