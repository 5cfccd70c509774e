"""Which drawings were open lately, and what the window remembers between runs.

Owns the settings keys. Refuses to open anything.
"""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from loopwright.units import System

KEEP = 8
LONGEST_STEM = 60
"""Letters of a file's name that are taken from a title: with four bytes each and an ending, what any disk takes."""


def is_file(path: Path) -> bool:
    """Whether there is a file; not where one may not look, or the disk does not answer."""
    try:
        return path.is_file()
    except OSError:
        return False


def file_name(title: str) -> str:
    """A title as the stem of a file's name."""
    kept = "".join(c if c.isalnum() or c in " -_" else "-" for c in title).strip(" -")
    return kept[:LONGEST_STEM].strip(" -") or "sheet"


class Memory:
    """What is kept between runs, in the person's own settings folder."""

    def __init__(self, settings: QSettings | None = None) -> None:
        self._settings = settings if settings is not None else QSettings("loopwright", "loopwright")

    def recent(self) -> list[Path]:
        """Drawings opened or saved lately, newest first; files that are gone are left out."""
        kept = self._settings.value("recent", [])
        names = [kept] if isinstance(kept, str) else kept if isinstance(kept, list) else []
        return [Path(name) for name in names if is_file(Path(name))]

    def add(self, path: Path) -> None:
        """Put a drawing at the head of the list."""
        path = path.resolve()
        names = [str(path)] + [str(p) for p in self.recent() if p != path]
        self._settings.setValue("recent", names[:KEEP])

    def forget(self) -> None:
        """Empty the list."""
        self._settings.setValue("recent", [])

    @property
    def mode(self) -> str:
        """`light`, `dark`, or an empty string: as the desktop."""
        found = str(self._settings.value("mode", ""))
        return found if found in ("light", "dark") else ""

    @mode.setter
    def mode(self, mode: str) -> None:
        self._settings.setValue("mode", mode)

    @property
    def system(self) -> System:
        """The units a person prefers: metric unless imperial was chosen."""
        return "imperial" if self._settings.value("system", "") == "imperial" else "metric"

    @system.setter
    def system(self, system: System) -> None:
        self._settings.setValue("system", system)

    @property
    def text_size(self) -> int:
        """Size of the Help's text, pixels; 0 while nobody has chosen one."""
        found = str(self._settings.value("text_size", "0"))
        return int(found) if found.isdecimal() else 0

    @text_size.setter
    def text_size(self, size: int) -> None:
        self._settings.setValue("text_size", str(size))

    @property
    def caution_read(self) -> bool:
        """True when the first-run caution was put away by the person."""
        return str(self._settings.value("caution_read", "false")) == "true"

    @caution_read.setter
    def caution_read(self, read: bool) -> None:
        self._settings.setValue("caution_read", "true" if read else "false")

    def words(self, name: str) -> str:
        """Words a person gave once and need not give again; empty when there are none."""
        return str(self._settings.value(f"words/{name}", ""))

    def keep_words(self, name: str, words: str) -> None:
        """Remember words a person gave."""
        self._settings.setValue(f"words/{name}", words)

    def shown(self, name: str) -> bool:
        """Whether a thing that can be shown or put away was shown last."""
        return str(self._settings.value(f"shown/{name}", "false")) == "true"

    def keep_shown(self, name: str, shown: bool) -> None:
        """Remember that it is shown, or put away."""
        self._settings.setValue(f"shown/{name}", "true" if shown else "false")

    def layout(self, name: str) -> QByteArray:
        """The remembered state of a splitter or window; empty when there is none."""
        found = self._settings.value(f"layout/{name}")
        return found if isinstance(found, QByteArray) else QByteArray()

    def keep_layout(self, name: str, state: QByteArray) -> None:
        """Remember the state of a splitter or window."""
        self._settings.setValue(f"layout/{name}", state)

    def folder(self) -> Path:
        """Where file dialogs start."""
        recent = self.recent()
        return recent[0].parent if recent else Path(os.path.expanduser("~"))

    def offered(self, path: Path | None, title: str, ending: str) -> Path:
        """Where a file made from a drawing is offered: beside the drawing's own, else where the dialogs start, under
        its title. `ending` may begin with words."""
        folder, stem = (path.parent, path.stem) if path is not None else (self.folder(), file_name(title))
        return folder / f"{stem}{ending}"


class RecentMenu(QMenu):
    """The menu of drawings that were open lately."""

    wanted = Signal(object)
    """The path of the one to open."""

    def __init__(self, memory: Memory, parent: QWidget | None = None) -> None:
        super().__init__("Open recent", parent)
        self._memory = memory
        self.aboutToShow.connect(self.fill)
        self.triggered.connect(self._chosen)

    def fill(self) -> None:
        """List what there is now."""
        self.clear()
        for path in self._memory.recent():
            self.addAction(f"{path.stem}  ({path.parent})").setData(str(path))
        if self.isEmpty():
            self.addAction("None yet").setEnabled(False)

    def _chosen(self, action: QAction) -> None:
        if action.data():
            self.wanted.emit(Path(str(action.data())))
