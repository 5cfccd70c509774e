"""Repairs of the chosen finding, worked out beside the window and made as one step that can be undone.

Owns when repairs are asked for and whether they still fit the sheet. Refuses to know what a repair does.
"""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QObject, Signal

from loopwright.catalogue import Catalogue
from loopwright.rules.findings import Finding
from loopwright.sheet.values import Sheet
from loopwright.window.document import Document
from loopwright.window.worker import Surveyor

REST_MS = 60
"""A finding must stay chosen this long, so that stepping through the list asks for nothing."""


class Mender(QObject):
    """Asks for the repairs of one finding at a time; an answer that the sheet has overtaken is dropped."""

    offered = Signal(object, object)
    """The finding and its repairs, or None and nothing when none are at hand."""

    def __init__(
        self,
        document: Document,
        catalogue: Catalogue,
        *,
        rest_ms: int = REST_MS,
        inline: bool = False,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document, self._catalogue = document, catalogue
        self._finding: Finding | None = None
        self._survey: Any = None
        self._work = Surveyor(self._find, rest_ms=rest_ms, inline=inline, parent=self)
        self._work.answered.connect(self._answered)
        document.changed.connect(self._let_go)

    def ask(self, finding: Finding | None, survey: Any) -> None:
        """Work out the repairs of a finding of this survey of the sheet as it is now; None asks for nothing."""
        self._let_go()
        if finding is not None and survey is not None and finding in survey.findings:
            self._finding, self._survey = finding, survey
            self._work.ask(self._document.sheet)

    def close(self) -> None:
        """Ask for nothing more and wait for what runs."""
        self._work.close()

    def _let_go(self, *_: object) -> None:
        self._finding = self._survey = None
        self.offered.emit(None, ())

    def _find(self, sheet: Sheet) -> tuple[Finding | None, tuple[Any, ...]]:
        from loopwright.rules.repairs import repairs
        from loopwright.survey import survey

        finding, before = self._finding, self._survey
        if finding is None:
            return None, ()
        return finding, repairs(sheet, self._catalogue, finding, survey, before=before)

    def _answered(self, sheet: Sheet, answer: tuple[Finding | None, tuple[Any, ...]]) -> None:
        finding, found = answer
        if finding is not None and finding is self._finding and sheet is self._document.sheet:
            self.offered.emit(finding, found)
