"""A person's hand: mouse and keys sent to the window's widgets as events, and nothing else.

Places on the sheet are metres; the hand turns them into pixels as an eye does. It reads the window but never calls it.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from loopwright.drawing.look import to_units
from loopwright.sheet.ports import ports_of
from loopwright.window.fields import TextField
from loopwright.window.main import MainWindow

LEFT, NO_BUTTON, PLAIN = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier


class Hand:
    """Works one window."""

    def __init__(self, window: MainWindow) -> None:
        self.window = window

    @staticmethod
    def breathe() -> None:
        """Let the window do what it put off until after the event, as it does between two moves of a person."""
        QApplication.processEvents()

    # ---- keys

    @property
    def focus(self) -> QWidget:
        """The widget that has the keys."""
        focus = QApplication.focusWidget()
        assert focus is not None, "no widget has the keys"
        return focus

    def key(self, key: Qt.Key, mods: Qt.KeyboardModifier = PLAIN) -> None:
        """Press and let go of a key, wherever the focus is."""
        QTest.keyClick(self.focus, key, mods)
        self.breathe()

    def type(self, text: str) -> None:
        """Type a text, wherever the focus is."""
        QTest.keyClicks(self.focus, text)
        self.breathe()

    def undo(self) -> None:
        """Ctrl Z."""
        self.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)

    def redo(self) -> None:
        """Ctrl Shift Z."""
        self.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)

    # ---- pointer

    def spot(self, at: tuple[float, float]) -> QPoint:
        """The pixel of the view that shows a place of the sheet; the view must show it."""
        view = self.window.stage.view
        spot = view.mapFromScene(QPointF(*to_units(at)))
        assert view.viewport().rect().contains(spot), f"{at} is outside the view"
        return spot

    def point(self, at: tuple[float, float]) -> None:
        """Move the pointer to a place of the sheet with no button down."""
        self._mouse(QEvent.Type.MouseMove, self.spot(at), NO_BUTTON, NO_BUTTON)

    def click(self, at: tuple[float, float], mods: Qt.KeyboardModifier = PLAIN) -> None:
        """Go to a place of the sheet and click it."""
        spot = self.spot(at)
        self._mouse(QEvent.Type.MouseMove, spot, NO_BUTTON, NO_BUTTON, mods)
        QTest.mouseClick(self.window.stage.view.viewport(), LEFT, mods, spot)
        self.breathe()

    def press(self, at: tuple[float, float]) -> None:
        """Go to a place and press the button there."""
        spot = self.spot(at)
        self._mouse(QEvent.Type.MouseMove, spot, NO_BUTTON, NO_BUTTON)
        QTest.mousePress(self.window.stage.view.viewport(), LEFT, PLAIN, spot)

    def move(self, at: tuple[float, float]) -> None:
        """Go on with the button held."""
        self._mouse(QEvent.Type.MouseMove, self.spot(at), NO_BUTTON, LEFT)
        self.breathe()

    def release(self, at: tuple[float, float]) -> None:
        """Let the button go."""
        QTest.mouseRelease(self.window.stage.view.viewport(), LEFT, PLAIN, self.spot(at))
        self.breathe()

    def drag(self, a: tuple[float, float], b: tuple[float, float]) -> None:
        """Press at one place, go to another by way of the middle, and let go."""
        start, end = self.spot(a), self.spot(b)
        self._mouse(QEvent.Type.MouseMove, start, NO_BUTTON, NO_BUTTON)
        QTest.mousePress(self.window.stage.view.viewport(), LEFT, PLAIN, start)
        for share in (0.3, 0.7, 1.0):
            self._mouse(QEvent.Type.MouseMove, start + (end - start) * share, NO_BUTTON, LEFT)
        QTest.mouseRelease(self.window.stage.view.viewport(), LEFT, PLAIN, end)

    def _mouse(
        self,
        sort: QEvent.Type,
        spot: QPoint,
        button: Qt.MouseButton,
        held: Qt.MouseButton,
        mods: Qt.KeyboardModifier = PLAIN,
    ) -> None:
        # QTest.mouseMove carries no held button, so a drag is made of whole events
        port = self.window.stage.view.viewport()
        there = QPointF(port.mapToGlobal(spot))
        QApplication.sendEvent(port, QMouseEvent(sort, QPointF(spot), there, button, held, mods))

    # ---- what a person does with them

    def port(self, part: str, port: str) -> tuple[float, float]:
        """Where a port is, in metres."""
        window = self.window
        return ports_of(window.document.sheet.parts[part], window.catalogue)[port].at

    def choose_kind(self, words: str) -> None:
        """Find a part by words in the parts list and pick it with Enter."""
        search = self.window.parts.search
        QTest.mouseClick(search, LEFT)
        assert search.hasFocus()
        QTest.keyClick(search, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClicks(search, words)
        QTest.keyClick(search, Qt.Key.Key_Return)

    def place(self, words: str, at: tuple[float, float]) -> str:
        """Find a part, click where it goes. Gives its id."""
        before = set(self.window.document.sheet.parts)
        self.choose_kind(words)
        self.click(at)
        new = set(self.window.document.sheet.parts) - before
        assert len(new) == 1, f"{words}: {sorted(new)} are new"
        return new.pop()

    def pipe(self, *places: tuple[float, float]) -> str:
        """Take the pipe tool, click these places, put the tool down. Gives the id of the newest pipe."""
        before = set(self.window.document.sheet.pipes)
        self.key(Qt.Key.Key_P)
        for at in places:
            self.click(at)
        self.key(Qt.Key.Key_Escape)
        new = [p for p in self.window.document.sheet.pipes if p not in before]
        assert new, f"no pipe along {places}: {self.window.status.words.text()}"
        return new[-1]

    def fill(self, name: str, text: str) -> TextField:
        """Click into a field of the properties panel, replace what stands there, and press Enter."""
        field = self.window.properties.fields()[name]
        assert isinstance(field, TextField)
        self.window.properties.area.ensureWidgetVisible(field)
        QTest.mouseClick(field.entry, LEFT)
        QTest.keyClick(field.entry, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClicks(field.entry, text)
        QTest.keyClick(field.entry, Qt.Key.Key_Return)
        return field
