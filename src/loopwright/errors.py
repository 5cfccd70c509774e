"""What a user can cause: one family of errors, each saying what happened, where, and what to do.

Anything raised outside this family is a defect of the program, never of the sheet.
"""

from __future__ import annotations


class LoopwrightError(Exception):
    """Something a person can put right. `what` happened, `where`, and what to `do`."""

    def __init__(self, what: str, *, where: str = "", do: str = "") -> None:
        self.what, self.where, self.do = what, where, do
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """The whole message as one line of plain sentences."""
        parts = [self.what.rstrip(".") + "."]
        if self.where:
            parts.append(self.where.rstrip(".") + ".")
        if self.do:
            parts.append(self.do.rstrip(".") + ".")
        return " ".join(parts)


class KindError(LoopwrightError):
    """A kind file, a kind or a property of a kind is wrong or unknown."""


class ValueRefused(LoopwrightError):
    """A typed value is not a quantity, has the wrong unit, or is out of range."""


class SheetError(LoopwrightError):
    """An edit would make a sheet that cannot exist. The sheet is left as it was."""


class FileError(LoopwrightError):
    """A file cannot be read or written. Nothing was changed."""


class FigureError(LoopwrightError):
    """A computation cannot be made: a datum is missing or outside its range of validity."""


class LessonError(LoopwrightError):
    """A lesson file is broken, or there is no such lesson."""
