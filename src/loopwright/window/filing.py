"""Opening and saving: the file a drawing lives in, the guard before it goes, and what was open lately.

Owns when to ask and what follows from the answer. Refuses to know the format and the words of the questions.
"""

from __future__ import annotations

import hashlib
import stat
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import FileError, LoopwrightError
from loopwright.files.reader import MOST_BYTES
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.window import questions
from loopwright.window.document import Document
from loopwright.window.questions import Choice
from loopwright.window.recent import Memory


def _mark(path: Path) -> str:
    """What tells one content of a file from another; empty when it cannot be read."""
    try:
        known = path.stat()
        if not stat.S_ISREG(known.st_mode) or known.st_size > MOST_BYTES:
            return "no sheet"  # a device has no end, and a pipe would have us wait
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _there(path: Path) -> bool:
    """Whether there is such a file. One that cannot be looked at may well be there: writing will tell."""
    try:
        return path.exists()
    except OSError:
        return True


def _pipe(path: Path) -> bool:
    try:
        return path.is_fifo()
    except OSError:
        return False


class Filing(QObject):
    """Files of one document."""

    refused = Signal(str, object)
    """Name of a file that was not opened, and the error."""
    failed = Signal(str)
    """A sentence: the drawing was not saved, and what to do."""
    filed = Signal(str)
    """A sentence: what was opened or saved."""

    def __init__(self, document: Document, catalogue: Catalogue, memory: Memory, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document, self._catalogue, self._memory = document, catalogue, memory
        self._window = parent
        self.room: Callable[[Path | None], Filing | None] | None = None
        """Where another sheet goes when this one is in use: the files of a new tab, or None when the file is open
        already. Without it the other sheet takes the place of this one, after the guard."""
        self._read_mark = ""
        self._mark_before = ""
        self.taken: Callable[[Path], bool] | None = None
        """Says whether a file is open in another tab, which would be written over behind its back."""
        self.saved_at: float | None = None
        self.held = False
        """In use though nothing may be drawn yet: another sheet goes elsewhere."""

    def guard(self) -> bool:
        """True when the drawing may go: it is clean, was saved now, or its changes may be dropped."""
        if self._document.clean:
            return True
        answer = questions.ask_save(self._window, self._document.name)
        if answer is Choice.SAVE:
            return self.save()
        return answer is Choice.DROP

    def _elsewhere(self, path: Path | None = None) -> Filing | None:
        """Where another sheet goes; None when it goes nowhere: the guard refused, or its file is open already."""
        used = bool(self._document.sheet.parts) or self._document.path is not None or not self._document.clean
        used = used or self.held
        if self.room is not None and used:
            return self.room(path)
        return self if self.guard() else None

    def new(self) -> bool:
        """An empty sheet."""
        place = self._elsewhere()
        return place is not None and place._begin()

    def _begin(self) -> bool:
        self.saved_at, self._read_mark = None, ""
        self._document.open(Sheet(), None)
        return True

    def ask_open(self) -> bool:
        """Ask for a file and open it."""
        if self.room is None and not self.guard():
            return False
        path = questions.ask_open_path(self._window, self._memory.folder())
        return path is not None and self._open(path, guarded=self.room is None)

    def open(self, path: Path) -> bool:
        """Open a file, in a tab of its own or after the guard."""
        return self._open(path)

    def _open(self, path: Path, guarded: bool = False) -> bool:
        sheet = self._load(path)
        place = None if sheet is None else self if guarded else self._elsewhere(path)
        if sheet is None or place is None:
            return False
        return place._take(path, sheet, self._mark_before)

    def read(self, path: Path) -> bool:
        """Put the drawing of a file in place of this one. A file that is refused changes nothing."""
        sheet = self._load(path)
        return sheet is not None and self._take(path, sheet)

    def _take(self, path: Path, sheet: Sheet, mark: str | None = None) -> bool:
        self._read_mark = self._mark_before if mark is None else mark
        try:
            self.saved_at = path.stat().st_mtime
        except OSError:  # gone since it was read
            self.saved_at = None
        self._document.open(sheet, path)
        self._memory.add(path)
        self.filed.emit(f"{path.name} opened.")
        return True

    def start_from(self, path: Path) -> bool:
        """Open a shipped system as a new drawing without a file."""
        sheet = self._load(path)
        place = self._elsewhere() if sheet is not None else None
        return sheet is not None and place is not None and place._take_unsaved(sheet)

    def _take_unsaved(self, sheet: Sheet) -> bool:
        self.saved_at, self._read_mark = None, ""
        self._document.open(sheet, None, saved=False)
        return True

    def begin_with(self, sheet: Sheet, *, here: bool = False) -> Filing | None:
        """Put a sheet without a file where another sheet goes; the files of that place, or None when it goes nowhere.

        `here`: in place of this one if nothing of it would be lost. Until it is changed there is nothing in it to save.
        """
        place = self if here and self._document.clean else self._elsewhere()
        if place is not None:
            place.saved_at, place._read_mark = None, ""
            place._document.open(sheet, None)
        return place

    def _load(self, path: Path) -> Sheet | None:
        from loopwright import files

        if _pipe(path):  # opening it would wait for somebody to write
            no_file = FileError(f"{path.name} is a pipe, not a file", do="Choose a file ending in .loopwright")
            self.refused.emit(path.name, no_file)
            return None
        self._mark_before = _mark(path)  # before it is read: a change in between is noticed rather than lost
        try:
            return files.load(path, self._catalogue)
        except LoopwrightError as bad:
            self.refused.emit(path.name, bad)
        except OSError as bad:
            self.refused.emit(
                path.name,
                FileError(
                    f"{path.name} cannot be read",
                    where=bad.strerror or str(path),
                    do="Check that it is there and that you may read it",
                ),
            )
        return None

    def save(self) -> bool:
        """Save to the drawing's own file, or ask for one."""
        path = self._document.path
        if path is None:
            return self.save_as()
        if (
            self._read_mark
            and _there(path)
            and _mark(path) not in ("", self._read_mark)
            and not questions.ask_overwrite_changed(self._window, path)
        ):
            return False
        return self._write(path)

    def save_as(self) -> bool:
        """Ask where to save, and save there."""
        start = self._document.path or self._memory.offered(None, self._document.name, questions.SUFFIX)
        path = questions.ask_save_path(self._window, start)
        if path is not None and self.taken is not None and self.taken(path):
            self.failed.emit(f"{path.name} is open in another tab. Close it there first, or choose another name.")
            return False
        return path is not None and self._write(path)

    def _write(self, path: Path) -> bool:
        from loopwright import files

        sheet = self._titled(path)
        gone = bool(self._read_mark) and path == self._document.path and not _there(path)
        try:
            files.save(sheet, path)
        except LoopwrightError as bad:
            self.failed.emit(bad.sentence)
            return False
        except OSError as bad:
            self.failed.emit(
                f"{path.name} was not saved: {bad.strerror or bad}. Your drawing is still here; save it somewhere else."
            )
            return False
        self._read_mark = _mark(path)
        self.saved_at = time.time()
        self._document.apply("Title the sheet as its file", lambda _: sheet)
        self._document.mark_saved(path, self._document.sheet)
        self._memory.add(path)
        self.filed.emit(f"{path.name} was gone and is written anew." if gone else f"{path.name} saved.")
        return True

    def _titled(self, path: Path) -> Sheet:
        """The sheet as it goes into a file: one that nobody has titled takes the file's name, as its page shows it."""
        sheet = self._document.sheet
        doc = self._document
        if doc.path is not None or doc.guard is not None or sheet.title != Sheet().title:
            return sheet
        try:
            return edits.set_title(sheet, path.stem)
        except LoopwrightError:  # no words for a title
            return sheet

    def state_words(self) -> str:
        """How the drawing stands with its file, in a few words."""
        if not self._document.clean:
            return "not saved" if self._document.path is None else "changes not saved"
        if self.saved_at is None or self._document.path is None:
            return ""
        minutes = int((time.time() - self.saved_at) / 60)
        if minutes < 1:
            return "saved just now"
        if minutes < 60:
            return f"saved {minutes} min ago"
        if minutes < 24 * 60:
            hours = minutes // 60
            return f"saved {hours} h ago"
        return "saved " + time.strftime("%d %B %Y", time.localtime(self.saved_at)).lstrip("0")
