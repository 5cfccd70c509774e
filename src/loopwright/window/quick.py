"""What the quick search for a part finds, and what is done with the row that is picked: it goes where the pointer was.

Owns joining a line of words to the place tool and to the vessel under the pointer. Refuses to read the words
(`sheet.asked`) and to know how the list is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtGui import QIcon

from loopwright.canvas.tools.base import Event, end_of
from loopwright.canvas.tools.piping import is_vessel
from loopwright.catalogue import Kind
from loopwright.errors import LoopwrightError, SheetError
from loopwright.sheet.asked import Asked, understood
from loopwright.sheet.fitting_out import fitted
from loopwright.sheet.values import Part, Point, Sheet, TappingSide
from loopwright.window.icons import symbol_icon
from loopwright.window.popup import Found
from loopwright.window.presets import new_part

if TYPE_CHECKING:
    from loopwright.window.stage import Stage

MOST_FOUND = 40


class QuickAdd:
    """One search, opened at a place of the sheet."""

    def __init__(self, stage: Stage, at: Point, lets: Callable[[Kind], bool]) -> None:
        self._stage, self._at, self._lets = stage, at, lets
        self._hit = stage.host.hit(at)
        self._rows: list[tuple[Asked, ...]] = []
        hit, sheet = self._hit, stage.document.sheet
        inside = hit is not None and hit.kind in ("part", "port") and is_vessel(sheet, hit.id, stage.catalogue)
        self._vessel = hit.id if hit is not None and inside else ""

    @property
    def where(self) -> str:
        """Where a part goes, as the end of a sentence; for the status line."""
        hit, taken = self._hit, self._stage.document.sheet.taken
        if hit is not None and hit.kind == "port":
            return "puts them into the pipe at this port" if end_of(hit) in taken else "pipes them to this port"
        if hit is not None and hit.kind == "pipe":
            return "puts them into this pipe"
        return "puts a coil or a pocket in, a fitting on the shell" if self._vessel else "places them here"

    def search(self, words: str) -> Sequence[Found]:
        """Rows for what is typed so far."""
        stage = self._stage
        rows = understood(words, stage.catalogue, stage.units.system, bool(self._vessel), self._find)
        self._rows = rows[:MOST_FOUND]
        return [
            Found(str(n), " + ".join(one.words for one in row), self._icon(row[0])) for n, row in enumerate(self._rows)
        ]

    def _find(self, words: str) -> list[Kind]:
        from loopwright.lessons.glossary import search  # read when somebody types, not when the window opens

        return [kind for kind in search(self._stage.catalogue, words) if self._lets(kind)]

    def _icon(self, one: Asked) -> QIcon:
        kind, look = one.kind, self._stage.look
        name = (kind.symbol or kind.id) if kind is not None else "heat_store"
        return symbol_icon(name, look["ink"], look["field"])

    def take(self, ident: str) -> None:
        """Put the row picked where the pointer was; refused, it hangs on the pointer."""
        stage, row = self._stage, self._rows[int(ident)]
        stage.take_focus()
        if row[0].extra is not None:
            self._fit_out(tuple(one for one in row if one.extra is not None))
            return
        try:
            parts = self._parts(row)
        except LoopwrightError as bad:
            stage.said.emit(bad.sentence)
            return
        stage.place_row(parts)
        tool = stage.view.tool
        if tool is not None:
            tool.feed(Event("move", self._at, None, self._hit))
            tool.feed(Event("press", self._at, None, self._hit, frozenset(), "left"))

    def _parts(self, row: tuple[Asked, ...]) -> tuple[Part, ...]:
        """The parts of a row; extras go into the vessel that stands before them in it."""
        parts: list[Part] = []
        for one in row:
            if one.kind is not None:
                parts.append(new_part(one.kind, one.props))
            elif one.extra is not None:
                if not parts:
                    raise SheetError(f"A {one.extra.name.lower()} goes into a vessel", do="Name the vessel before it")
                parts[-1] = self._fitted(parts[-1], one)
        return tuple(parts)

    def _fitted(self, part: Part, one: Asked) -> Part:
        assert one.extra is not None
        alone = Sheet(title="", parts={"vessel": msgspec.structs.replace(part, id="vessel")})
        made = fitted(alone, "vessel", one.extra, self._stage.catalogue, figures=one.props).parts["vessel"]
        return msgspec.structs.replace(made, id="")

    def _fit_out(self, row: tuple[Asked, ...]) -> None:
        """Put coils, pockets and tappings into the vessel under the pointer, one undo step."""
        stage, vessel = self._stage, self._vessel
        part = stage.document.sheet.parts[vessel]
        side: TappingSide = "left" if (self._at[0] < part.x_m) != part.mirror else "right"
        height = round(self._at[1] - part.height_m, 2)

        def edit(sheet: Sheet) -> Sheet:
            for one in row:
                if one.extra is not None:
                    sheet = fitted(sheet, vessel, one.extra, stage.catalogue, height, side, one.props)
            return sheet

        names = " and ".join(one.extra.name.lower() for one in row if one.extra is not None)
        try:
            stage.document.apply(f"Add a {names}", edit, {vessel})
        except LoopwrightError as bad:
            stage.said.emit(bad.sentence)
            return
        stage.said.emit(f"Added: {names}. Drag a stub or the end of a coil to move it.")
