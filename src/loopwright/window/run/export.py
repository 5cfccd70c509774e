"""What of a run leaves the program: the table, the charts, numbered pictures.

Owns asking where, and writing. Refuses to know how a run is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QRectF, QSize, QTimer
from PySide6.QtGui import QAction, QPainter, QPixmap
from PySide6.QtWidgets import QWidget

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.theme import FAMILY

if TYPE_CHECKING:
    from loopwright.window.desk import Desk
    from loopwright.window.run.view import RunView

FAMILIES = f"{FAMILY}, IBM Plex Sans, DejaVu Sans, sans-serif"
"""The window's own face is not found elsewhere by its name."""
FRAME_S = {"day": 300.0, "power cut": 30.0}
"""Time between two numbered pictures."""


class Exports(QObject):
    """Saves what a view shows."""

    def __init__(self, desk: Desk, view: RunView) -> None:
        super().__init__(view)
        self._desk, self._view = desk, view
        self._frames: Iterator[tuple[int, float]] | None = None
        self._folder = Path()
        self._count = 0
        self._next = QTimer(self)
        self._next.setInterval(0)
        self._next.timeout.connect(self._frame)

    def save_csv(self) -> None:
        """The whole run, one line an instant."""
        if self._view.reading is not None:
            self._write(".csv", self._csv, "Save the run")

    def save(self, action: QAction) -> None:
        """What an entry of the menu names."""
        {"csv": self.save_csv, "png": self.save_png, "svg": self.save_svg, "frames": self.save_frames}[action.data()]()

    def save_png(self) -> None:
        """The charts as a picture, at twice the pixels of the screen."""
        self._write(".png", self._charts_png, "Save the charts")

    def save_svg(self) -> None:
        """The charts as SVG."""
        self._write(".svg", self._charts_svg, "Save the charts")

    def _write(self, suffix: str, make: Callable[[], bytes], words: str) -> None:
        from loopwright.files.writer import write_bytes

        path = questions.ask_save_path(self._desk.window, self._start(suffix), words, suffix)
        if path is None:
            return
        try:
            write_bytes(path, make())
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} saved.")

    def _start(self, suffix: str) -> Path:
        doc, reading = self._desk.document, self._view.reading
        kind = "run" if reading is None else reading.run.kind
        return self._desk.memory.offered(doc.path, doc.name, f" {kind}{suffix}")

    def _csv(self) -> bytes:
        assert self._view.reading is not None
        return self._view.reading.run.as_csv().encode("utf-8")

    # ---- charts

    def _shown(self) -> QWidget:
        centre = self._view.centre
        if not centre.charts or not centre.charts[0].isVisible():
            self._view.choices.shown.button(0).click()
        return centre.charts[0].parentWidget()

    def _charts_png(self) -> bytes:
        widget = self._shown()
        picture = QPixmap(widget.size() * 2)
        picture.setDevicePixelRatio(2.0)
        picture.fill(self._desk.look.colour("paper"))
        widget.render(picture)
        return png_bytes(picture)

    def _charts_svg(self) -> bytes:
        from PySide6.QtSvg import QSvgGenerator

        self._shown()
        charts = [c for c in self._view.centre.charts if c.isVisible()]
        sizes = [c.size() for c in charts]
        whole = QSize(sum(s.width() for s in sizes), max(s.height() for s in sizes))
        data = QByteArray()
        buffer = QBuffer(data)
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        made = QSvgGenerator()
        made.setOutputDevice(buffer)
        made.setResolution(charts[0].logicalDpiX())  # axes are kept as pictures, which follow the resolution
        made.setSize(whole)
        made.setViewBox(QRectF(0, 0, whole.width(), whole.height()))
        made.setTitle(f"{self._desk.document.name}: charts of a run")
        with QPainter(made) as painter:
            painter.fillRect(QRectF(0, 0, whole.width(), whole.height()), self._desk.look.colour("paper"))
            at = 0.0
            for chart in charts:
                target = QRectF(at, 0.0, chart.width(), chart.height())
                chart.scene().render(painter, target, QRectF(0.0, 0.0, chart.width(), chart.height()))
                at += chart.width()
        buffer.close()
        text = bytes(data.data()).decode("utf-8")
        return text.replace(f'font-family="{FAMILY}"', f'font-family="{FAMILIES}"').encode("utf-8")

    # ---- numbered pictures

    def save_frames(self) -> None:
        """The store and what is in the middle, time after time, as numbered pictures into a folder."""
        reading = self._view.reading
        if reading is None:
            return
        folder = questions.ask_folder(self._desk.window, self._desk.memory.folder(), "Save the pictures in")
        if folder is None:
            return
        self._view.player.stop()
        step, end = FRAME_S.get(reading.run.kind, 60.0), reading.end_s
        count = int(end // step) + 1
        self._folder, self._count = folder, count
        self._frames = iter([(k + 1, k * step) for k in range(count)])
        self._next.start()

    @property
    def busy(self) -> bool:
        """Whether pictures are still being written."""
        return self._next.isActive()

    def _frame(self) -> None:
        from loopwright.files.writer import write_bytes

        now = next(self._frames, None) if self._frames is not None else None
        if now is None or not self._view.isVisible():
            self._next.stop()
            self._frames = None
            if now is None:
                self._desk.say(f"{self._count} picture{'' if self._count == 1 else 's'} saved in {self._folder}.")
            return
        number, time_s = now
        self._view.player.go(time_s)
        try:
            write_bytes(self._folder / f"run-{number:04d}.png", png_bytes(self._view.picture()))
        except LoopwrightError as bad:
            self._next.stop()
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"Picture {number} of {self._count}.")


def png_bytes(picture: QPixmap) -> bytes:
    """A picture as PNG."""
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    picture.save(buffer, "PNG")
    buffer.close()
    return bytes(data.data())
