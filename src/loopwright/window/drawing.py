"""Commands of drawing by id: copy and paste, align and distribute, pipes, views of the sheet.

Owns the small functions behind these menus and keys. Refuses to know how they are called, and what an edit does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.pieces import cut_out, middle_of, put_in
from loopwright.sheet.values import Point, Sheet
from loopwright.window import clipboard
from loopwright.window.host import SNAP_M

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow

ON_CHOSEN = ("cut", "copy", "copy_picture")
"""Commands that need something chosen."""


class DrawingCommands:
    """Commands of one window that bear on what is drawn."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        names = ("cut", "copy", "paste", "copy_picture")
        return {name: getattr(self, name) for name in names}

    def refresh(self) -> None:
        """Which commands can be used now."""
        doc, actions = self._window.document, self._window.actions_
        for name in ON_CHOSEN:
            actions[name].setEnabled(bool(doc.chosen))

    # ---- the clipboard

    def copy(self) -> None:
        """Put what is chosen on the clipboard."""
        piece = self._piece()
        if piece is not None:
            window = self._window
            clipboard.copy(piece, window.catalogue, self._services())
            window.status.say(f"{_count(piece)} copied.")

    def cut(self) -> None:
        """Copy what is chosen and take it off the sheet, one undo step."""
        piece = self._piece()
        if piece is None:
            return
        window = self._window
        clipboard.copy(piece, window.catalogue, self._services())
        ids, catalogue = window.document.chosen, window.catalogue
        if window.commands.apply(f"Cut {_count(piece)}", lambda s: edits.delete(s, ids, catalogue), ()):
            window.status.say(f"{_count(piece)} cut. Paste puts it at the pointer.")

    def paste(self) -> None:
        """Put the clipboard's piece on the sheet with its middle at the pointer, and choose it."""
        window = self._window
        try:
            piece = clipboard.piece(window.catalogue)
        except LoopwrightError as bad:
            window.status.say(bad.sentence)
            return
        dx, dz = self._shift(piece)
        new = put_in(window.document.sheet, piece, dx, dz)[1]
        if window.commands.apply(f"Paste {_count(piece)}", lambda s: put_in(s, piece, dx, dz)[0], new):
            window.status.say(f"{_count(piece)} pasted. Drag or use the arrow keys to move it.")
            window.stage.take_focus()

    def copy_picture(self) -> None:
        """Put a picture of what is chosen on the clipboard, for a letter or a report."""
        piece = self._piece()
        if piece is not None:
            window = self._window
            clipboard.copy_picture(piece, window.catalogue, self._services())
            window.status.say(f"Picture of {_count(piece)} copied.")

    def _piece(self) -> Sheet | None:
        doc = self._window.document
        try:
            return cut_out(doc.sheet, doc.chosen)
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)
            return None

    def _shift(self, piece: Sheet) -> Point:
        """From the piece's middle to the pointer, in steps of the snap, so that what stood on it stays on it."""
        stage = self._window.stage
        at, middle = stage.pointer(), middle_of(piece, self._window.catalogue)
        return tuple(round(round((a - m) / SNAP_M) * SNAP_M, 4) for a, m in zip(at, middle))  # type: ignore[return-value]

    def _services(self) -> dict[str, str]:
        return dict(self._window.stage.scene.services)


def _count(piece: Sheet) -> str:
    number = len(piece.parts) or len(piece.notes)
    noun = "part" if piece.parts else "note"
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
