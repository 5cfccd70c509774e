"""The open drawing: its sheet, file, history and selection, behind one door for changes.

Owns what is current and how it came to be. Refuses to know widgets, files' formats and what an edit does: an edit is a
function from a sheet to a sheet, and one that fails leaves everything as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from loopwright.sheet.values import Sheet

Edit = Callable[[Sheet], Sheet]
STEPS = 500


@dataclass(frozen=True)
class Step:
    """One entry of the history. Sheets share their unchanged records, so a step costs only its changes."""

    label: str
    before: Sheet
    after: Sheet
    chosen_before: frozenset[str]
    chosen_after: frozenset[str]


class Document(QObject):
    """The drawing that a window shows."""

    changed = Signal(object, object)
    """The sheet before and the sheet now; sent once for an edit, an undo, a redo or another drawing."""
    opened = Signal()
    """Another drawing took the place of this one; sent after `changed`."""
    selection_changed = Signal(object)
    history_changed = Signal()
    """The undo and redo labels, the path or whether there are unsaved changes may differ."""

    def __init__(self, sheet: Sheet | None = None, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._sheet = sheet if sheet is not None else Sheet()
        self._saved: Sheet | None = self._sheet
        self._path = path
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._chosen: frozenset[str] = frozenset()
        self.guard: Callable[[Sheet, Sheet], None] | None = None
        """Given the sheet before and after an edit, it refuses the edit by what it raises."""

    @property
    def sheet(self) -> Sheet:
        """The sheet as it is now."""
        return self._sheet

    @property
    def path(self) -> Path | None:
        """The file this drawing was read from or last saved to."""
        return self._path

    @property
    def chosen(self) -> frozenset[str]:
        """Ids of the chosen parts and pipes."""
        return self._chosen

    @property
    def clean(self) -> bool:
        """True when the sheet is the one that was last opened or saved; undoing back to it counts."""
        return self._sheet is self._saved

    @property
    def name(self) -> str:
        """What to call the drawing: its title, else its file's name."""
        if self._sheet.title and self._sheet.title != "Untitled":
            return self._sheet.title
        return self._path.stem if self._path else "Untitled"

    @property
    def undo_label(self) -> str:
        """What undo would take back, or an empty string."""
        return self._done[-1].label if self._done else ""

    @property
    def redo_label(self) -> str:
        """What redo would do again, or an empty string."""
        return self._undone[-1].label if self._undone else ""

    def apply(self, label: str, edit: Edit, choose: Iterable[str] | None = None) -> bool:
        """Make one undoable step. True when the sheet changed.

        `choose` is the selection afterwards; without it the selection stays, less what is gone. Whatever `edit` raises
        comes out of here with the sheet, history and selection untouched.
        """
        before = self._sheet
        after = edit(before)
        if not isinstance(after, Sheet):
            raise TypeError(f"Edit “{label}” gave {type(after).__name__} in place of a sheet")
        if after is before or after == before:
            if choose is not None:
                self.choose(choose)
            return False
        if self.guard is not None:
            self.guard(before, after)
        wanted = self._chosen if choose is None else frozenset(choose)
        chosen = self._present(wanted, after)
        self._done.append(Step(label, before, after, self._chosen, chosen))
        del self._done[:-STEPS]
        self._undone.clear()
        self._show(after, chosen)
        return True

    def undo(self) -> str:
        """Take the last step back. Gives its label, or an empty string when there is none."""
        if not self._done:
            return ""
        step = self._done.pop()
        self._undone.append(step)
        self._show(step.before, step.chosen_before)
        return step.label

    def redo(self) -> str:
        """Do the step again that was taken back last. Gives its label, or an empty string."""
        if not self._undone:
            return ""
        step = self._undone.pop()
        self._done.append(step)
        self._show(step.after, step.chosen_after)
        return step.label

    def choose(self, ids: Iterable[str]) -> None:
        """Make `ids` the selection; ids that are not on the sheet are dropped."""
        chosen = self._present(frozenset(ids), self._sheet)
        if chosen != self._chosen:
            self._chosen = chosen
            self.selection_changed.emit(chosen)

    def open(self, sheet: Sheet, path: Path | None, *, saved: bool = True) -> None:
        """Put another drawing in place of this one. `saved` False marks it as having unsaved changes."""
        self._path = path
        self._done.clear()
        self._undone.clear()
        self._saved = sheet if saved else None
        self._show(sheet, frozenset())
        self.opened.emit()

    def mark_saved(self, path: Path, sheet: Sheet | None = None) -> None:
        """Remember that `sheet` (the current one by default) is what the file at `path` holds."""
        self._path = path
        self._saved = self._sheet if sheet is None else sheet
        self.history_changed.emit()

    def _show(self, sheet: Sheet, chosen: frozenset[str]) -> None:
        before, self._sheet = self._sheet, sheet
        chosen = self._present(chosen, sheet)
        moved, self._chosen = chosen != self._chosen, chosen
        self.changed.emit(before, sheet)
        if moved:
            self.selection_changed.emit(chosen)
        self.history_changed.emit()

    @staticmethod
    def _present(ids: frozenset[str], sheet: Sheet) -> frozenset[str]:
        words = {note.id for note in sheet.notes} | {one.id for one in sheet.dimensions}
        return frozenset(i for i in ids if i in sheet.parts or i in sheet.pipes or i in sheet.links or i in words)
