"""Findings while something is being dragged: when the pointer rests, the sheet it would make is checked.

Owns the survey of what is not yet drawn. Refuses to touch the list of findings, which is about the drawing itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from loopwright.drawing.flags import flags_of
from loopwright.rules.findings import Finding
from loopwright.rules.registry import all_rules
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey
from loopwright.window.checking import Kept, checker
from loopwright.window.worker import Surveyor

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow

REST_MS = 250


class WhileDragging(QObject):
    """Shows the flags of a preview, and says what it would bring or settle."""

    def __init__(self, window: MainWindow, *, rest_ms: int = REST_MS, inline: bool = False) -> None:
        super().__init__(window)
        self._window = window
        self._preview: Sheet | None = None
        self._flagged = False
        self._surveyor = Surveyor(checker(Kept(window.catalogue)), rest_ms=rest_ms, inline=inline, parent=self)
        self._surveyor.answered.connect(self._answered)
        window.stage.host.previewed.connect(self._previewed)

    def close(self) -> None:
        """Ask for nothing more and wait for what runs."""
        self._surveyor.close()

    def _previewed(self, sheet: Sheet | None) -> None:
        self._preview = sheet
        if sheet is not None and self._window.survey is not None and self._window.desk.sieve is None:
            self._surveyor.ask(sheet)
            return
        self._surveyor.drop()
        if self._flagged:
            self._flagged = False
            self._window.stage.show_pinned()

    def _answered(self, sheet: Sheet, survey: Survey) -> None:
        now = self._window.survey
        if sheet is not self._preview or now is None:
            return
        self._flagged = True
        self._window.stage.scene.show_findings(flags_of(survey.findings))
        self._window.status.say(words_between(now.findings, survey.findings))


def words_between(before: Sequence[Finding], after: Sequence[Finding]) -> str:
    """What a change brings and settles, the gravest first, in a sentence for the status line."""
    old, new = ({(f.rule, f.subject): f for f in some} for some in (before, after))
    brings = sorted((f for key, f in new.items() if key not in old), key=lambda f: f.number)
    asked = set(all_rules())  # those that solve the flow answer once the drag is over
    settles = [f for key, f in old.items() if key not in new and f.rule in asked]
    if brings:
        more = f" and {len(brings) - 1} more" if len(brings) > 1 else ""
        return f"Here: {brings[0].severity.word}{more}. {brings[0].message}"
    if settles:
        more = f" and {len(settles) - 1} more" if len(settles) > 1 else ""
        return f"Here this is settled{more}: {settles[0].message}"
    return "No other finding here than before."
