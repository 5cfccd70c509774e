"""The frame on the desktop: it shows at once, and holds the window of each open sheet, as tabs where there are several.

Owns which sheets are open, which is in front, and the end of them all. Refuses to know what a sheet's window does. The
module loads nothing but the window library, so that the frame stands before the rest is read.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QObject, QRect, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QColor, QKeySequence, QPainter, QPaintEvent, QShortcut
from PySide6.QtWidgets import QApplication, QStackedWidget, QTabBar, QVBoxLayout, QWidget

from loopwright.window.recent import Memory

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.window.crash import CrashHook
    from loopwright.window.filing import Filing
    from loopwright.window.main import MainWindow
    from loopwright.window.theme import Theme

ROWS = 70
"""Height of the menu row and the tool row, pixels: what the empty frame shows of them."""
SHADES = {"light": ("#F1EFEA", "#CFCBC1", "#FCFBF8"), "dark": ("#1B2024", "#39424A", "#14181B")}
"""Chrome, line and paper of the frame before its theme is loaded; a test holds them to the theme."""


def _one_file(a: Path, b: Path) -> bool:
    """Whether two names lead to one file. Links in a ring lead nowhere."""
    try:
        return a.resolve() == b.resolve()
    except (OSError, RuntimeError):
        return a == b


class Sheets(QWidget):
    """The frame round the open sheets."""

    painted = Signal()
    """The empty frame is on the screen."""

    def __init__(self, memory: Memory, **making: Any) -> None:
        """`making` goes to each `MainWindow`."""
        super().__init__()
        self.memory, self._making = memory, making
        self._catalogue: Catalogue | None = None
        self._hook: CrashHook | None = None
        self._windows: list[MainWindow] = []
        self._drawn = False
        self._leaving = False
        self.setWindowTitle("loopwright")
        self.setMinimumSize(1000, 640)
        self.resize(1440, 900)
        state = memory.layout("window")
        if not state.isEmpty():
            self.restoreGeometry(state)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)

    # ---- the empty frame

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._windows:
            return
        chrome, line, paper = SHADES[self._mode()]
        with QPainter(self) as painter:
            painter.fillRect(event.rect(), QColor(paper))
            painter.fillRect(QRect(0, 0, self.width(), ROWS), QColor(chrome))
            painter.fillRect(QRect(0, ROWS, self.width(), 1), QColor(line))
        if not self._drawn:
            self._drawn = True
            QTimer.singleShot(0, self.painted.emit)

    def _mode(self) -> str:
        if self.memory.mode:
            return self.memory.mode
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        return "dark" if app.styleHints().colorScheme() == Qt.ColorScheme.Dark else "light"

    # ---- furnishing

    def furnish(self, catalogue: Catalogue, log_path: Path | None = None) -> MainWindow:
        """Make the tabs and the window of the first sheet."""
        from loopwright.window import questions
        from loopwright.window.crash import CrashHook

        self._catalogue = catalogue
        if log_path is not None:
            self._hook = CrashHook(
                self._keep_all, lambda text, more: questions.tell(self, "Something went wrong", text, more), log_path
            )
            self._hook.install()
        self.tabs = QTabBar(self)
        self.tabs.setObjectName("sheet-tabs")
        self.tabs.setAccessibleName("Open sheets")
        self.tabs.setDocumentMode(True)
        self.tabs.setTabsClosable(True)
        self.tabs.setExpanding(False)
        self.tabs.setElideMode(Qt.TextElideMode.ElideMiddle)
        self.tabs.setVisible(False)
        self.stack = QStackedWidget(self)
        self._column.addWidget(self.tabs)
        self._column.addWidget(self.stack, 1)
        self.stack.show()
        self.tabs.currentChanged.connect(self._turned_to)
        self.tabs.tabCloseRequested.connect(self._close_tab)
        for keys, step in (("Ctrl+PgDown", 1), ("Ctrl+Tab", 1), ("Ctrl+PgUp", -1), ("Ctrl+Shift+Tab", -1)):
            short = QShortcut(QKeySequence(keys), self)
            short.setProperty("step", step)
            short.activated.connect(self._step)
        return self.add()

    def add(self) -> MainWindow:
        """The window of one more sheet, in front."""
        from loopwright.window.main import MainWindow

        assert self._catalogue is not None
        window = MainWindow(self._catalogue, self.memory, **self._making)
        window.setWindowFlags(Qt.WindowType.Widget)
        window.failed.share(self._hook)
        window.filing.room = self._room
        window.filing.taken = lambda path: self._in_another(window, path)
        window.closed.connect(self._closed)
        window.windowTitleChanged.connect(self._retitle)
        window.document.history_changed.connect(self._retitle)
        window.desk.looked.connect(self._looked)
        window.installEventFilter(self)
        self._windows.append(window)
        self.stack.addWidget(window)
        self.tabs.addTab(window.document.name)
        self.tabs.setVisible(len(self._windows) > 1)
        self.tabs.setCurrentIndex(len(self._windows) - 1)
        self._retitle()
        window.show()
        window.stage.take_focus()
        return window

    @property
    def current(self) -> MainWindow:
        """The window in front."""
        return self._windows[max(0, self.tabs.currentIndex())]

    def windows(self) -> tuple[MainWindow, ...]:
        """The windows of the open sheets, in the order of their tabs."""
        return tuple(self._windows)

    def bring(self, path: Path) -> bool:
        """Bring the sheet of a file to the front. False when it is not open."""
        for number, window in enumerate(self._windows):
            if window.document.path is not None and _one_file(window.document.path, path):
                self.tabs.setCurrentIndex(number)
                return True
        return False

    # ---- what the windows ask and tell

    def _room(self, path: Path | None) -> Filing | None:
        """Where another sheet goes: a new tab; None when the file is open and now in front."""
        if path is not None and self.bring(path):
            return None
        return self.add().filing

    def _in_another(self, window: MainWindow, path: Path) -> bool:
        """Whether a file is open in another tab than this one."""
        others = [w.document.path for w in self._windows if w is not window]
        return any(p is not None and _one_file(p, path) for p in others)

    def _looked(self, look: Theme) -> None:
        for window in self._windows:
            window.adopt(look)

    def _keep_all(self) -> Path | None:
        kept = [window.recovery.keep() for window in self._windows]
        return next((path for path in kept if path is not None), None)

    def _retitle(self, *_: object) -> None:
        from loopwright.window.as_typed import tip

        for number, window in enumerate(self._windows):
            doc = window.document
            self.tabs.setTabText(number, doc.name if doc.clean else f"{doc.name} •")
            self.tabs.setTabToolTip(number, tip(str(doc.path or "Not saved yet")))
        if self._windows:
            self.setWindowTitle(self.current.windowTitle())
            self.setWindowModified(not self.current.document.clean)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ModifiedChange:
            self._retitle()
        return False

    def _turned_to(self, number: int) -> None:
        if 0 <= number < len(self._windows):
            self.stack.setCurrentWidget(self._windows[number])
            self._retitle()
            self._windows[number].stage.take_focus()

    def _step(self) -> None:
        if self._windows:
            step = int(self.sender().property("step"))
            self.tabs.setCurrentIndex((self.tabs.currentIndex() + step) % len(self._windows))

    def _close_tab(self, number: int) -> None:
        self._windows[number].close()

    def _closed(self, window: MainWindow) -> None:
        number = self._windows.index(window)
        doc = window.document
        if len(self._windows) == 1 and not self._leaving and (doc.path is not None or doc.sheet.parts):
            self.add()  # the sheet is closed, not the program: an empty one takes its place
        self._windows.pop(number)
        self.tabs.removeTab(number)
        self.stack.removeWidget(window)
        window.deleteLater()
        self.tabs.setVisible(len(self._windows) > 1)
        if not self._windows and not self._leaving:
            self.close()
        self._retitle()

    # ---- the end

    def closeEvent(self, event: QCloseEvent) -> None:
        for number, window in enumerate(self._windows):  # all are asked before any goes
            if not window.document.clean and not window.down:
                self.tabs.setCurrentIndex(number)
            if not window.down and not window.filing.guard():
                event.ignore()
                return
        self._leaving = True
        for window in list(self._windows):
            window.shut_down()
            window.close()
        self.memory.keep_layout("window", self.saveGeometry())
        if self._hook is not None:
            self._hook.remove()
        event.accept()

    def shut_down(self) -> None:
        """Stop what runs; safe to call twice."""
        for window in self._windows:
            window.shut_down()
        if self._hook is not None:
            self._hook.remove()
