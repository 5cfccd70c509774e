"""What an empty sheet offers: a system to start from, a store to place, a sheet to open.

Owns the card in the middle of the empty section. Refuses to open or place anything itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QAction, QShowEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QMenu, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from loopwright.resources import resource_root
from loopwright.window.as_typed import tip
from loopwright.window.icons import icon
from loopwright.window.theme import Theme

SENTENCE = "An empty section. Place the store first: everything else takes its height from it."


def starters() -> list[tuple[str, Path]]:
    """Name and file of each system to start from, in the order of their file names."""
    out = []
    for path in sorted((resource_root() / "starters").glob("*.loopwright")):
        name = path.stem.lstrip("0123456789-_").replace("-", " ").replace("_", " ")
        out.append((name[:1].upper() + name[1:], path))
    return out


class StartCard(QFrame):
    """Three buttons and one sentence, kept in the middle of the widget it stands on."""

    system = Signal(object)
    """The file of the system to start from."""
    store = Signal()
    open = Signal()
    recent = Signal(object)

    def __init__(self, look: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("start-card")
        self._systems = starters()
        page = QVBoxLayout(self)
        page.setContentsMargins(20, 18, 20, 16)
        page.setSpacing(12)
        words = QLabel(SENTENCE, self)
        words.setWordWrap(True)
        words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        page.addWidget(words)
        row = QHBoxLayout()
        row.setSpacing(8)
        self.from_system = QPushButton("Start from a system", self)
        self.place_store = QPushButton("Place a store", self)
        self.place_store.setProperty("primary", True)
        self.open_sheet = QPushButton("Open a sheet", self)
        for button in (self.from_system, self.place_store, self.open_sheet):
            button.setIconSize(QSize(18, 18))
            button.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Fixed)
            row.addWidget(button)
        page.addLayout(row)
        menu = QMenu(self.from_system)
        for name, path in self._systems:
            menu.addAction(name).setData(path)
        menu.triggered.connect(self._system)
        self.from_system.setMenu(menu)
        self.from_system.setEnabled(bool(self._systems))
        self.place_store.clicked.connect(self.store)
        self.open_sheet.clicked.connect(self.open)
        self._recent = QVBoxLayout()
        self._recent.setSpacing(0)
        page.addLayout(self._recent)
        parent.installEventFilter(self)
        self.set_look(look)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.from_system.setIcon(icon("start", look["ink"], faint=look["ink3"]))
        self.place_store.setIcon(icon("store", look["on_accent"]))
        self.open_sheet.setIcon(icon("open", look["ink"]))

    def show_recent(self, paths: Sequence[Path]) -> None:
        """Offer the drawings that were open lately."""
        while self._recent.count():
            item = self._recent.takeAt(0)
            button = item.widget() if item is not None else None
            if button is not None:
                button.deleteLater()
        for path in list(paths)[:4]:
            button = QPushButton(f"{path.stem}  in {path.parent.name or path.parent}", self)
            button.setProperty("link", True)
            button.setProperty("path", str(path))
            button.setToolTip(tip(str(path)))
            button.clicked.connect(self._open_recent)
            self._recent.addWidget(button, 0, Qt.AlignmentFlag.AlignCenter)
        self.centre()

    def _open_recent(self) -> None:
        self.recent.emit(Path(str(self.sender().property("path"))))

    def _system(self, action: QAction) -> None:
        self.system.emit(action.data())

    def centre(self) -> None:
        """Stand in the middle again."""
        parent = self.parentWidget()
        if parent is None:
            return
        self.setFixedWidth(min(520, max(260, parent.width() - 60)))
        self.adjustSize()
        self.move((parent.width() - self.width()) // 2, max(10, (parent.height() - self.height()) // 2 - 20))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and watched is self.parentWidget():
            self.centre()
        return False

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.centre()
        self.raise_()
