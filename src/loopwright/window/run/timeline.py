"""The time line of a run: a handle to move through it, diamonds where something happened, and the clock beneath.

Owns the picture and the drag. Refuses to know runs: it is given a span and moments, and tells a time.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from loopwright.window.run.story import Moment, clock, when
from loopwright.window.theme import Theme

TRACK_Y = 36.0
HANDLE_PX, DIAMOND_PX, REACH_PX = 9.0, 5.5, 9.0
STEPS_S = (2.0, 10.0, 20.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10800.0, 14400.0)
NAMED = ("cut", "boils", "lit", "out", "peak", "limit", "overheat", "end")
"""What gets a name beside its diamond while there is room, the first first."""


class TimeLine(QWidget):
    """The time line."""

    wanted = Signal(float)
    """A time to go to, seconds."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._kind, self._end_s, self._time_s = "day", 0.0, 0.0
        self._done_s = 0.0
        self._moments: list[Moment] = []
        self._span: tuple[float, float] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMouseTracking(True)
        self.setAccessibleName("Time of the run")

    def sizeHint(self) -> QSize:
        return QSize(640, 76)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 76)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def show_run(self, kind: str, end_s: float, moments: list[Moment], done_s: float | None = None) -> None:
        """A run of this length with these moments, so much of it done; nothing for a length of 0."""
        self._kind, self._end_s, self._moments = kind, end_s, moments
        self._done_s = end_s if done_s is None else done_s
        self.setEnabled(end_s > 0.0)
        self.show_time(0.0)

    def show_time(self, time_s: float) -> None:
        """Move the handle."""
        self._time_s = time_s
        self.setAccessibleDescription(f"{when(self._kind, time_s)}, of {clock(self._kind, self._end_s)}")
        self.update()

    # ---- geometry

    def _track(self) -> tuple[float, float]:
        if self._span is not None and self._span[1] - self._span[0] > 200.0:
            return max(14.0, self._span[0]), min(self.width() - 22.0, self._span[1])
        return 14.0, self.width() - 22.0

    def set_span(self, span: tuple[float, float] | None) -> None:
        """Where the track begins and ends, pixels, so that it lies under the time axis of a chart; None: anywhere."""
        if span != self._span:
            self._span = span
            self.update()

    def _x(self, time_s: float) -> float:
        left, right = self._track()
        return left + (right - left) * time_s / max(self._end_s, 1.0)

    def _time(self, x: float) -> float:
        left, right = self._track()
        return min(self._done_s, min(1.0, max(0.0, (x - left) / max(right - left, 1.0))) * self._end_s)

    def _at(self, spot: QPointF) -> Moment | None:
        """The moment whose diamond is under the pointer."""
        if abs(spot.y() - TRACK_Y) > 2.0 * REACH_PX:
            return None
        near = [m for m in self._moments if abs(self._x(m.time_s) - spot.x()) <= REACH_PX]
        return min(near, key=lambda m: abs(self._x(m.time_s) - spot.x())) if near else None

    # ---- painting

    def paintEvent(self, _event: QPaintEvent) -> None:
        if self._end_s <= 0.0:
            return
        look = self._look
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            left, right = self._track()
            now = self._x(self._time_s)
            if self._done_s < self._end_s:  # what is still to come is a thin line
                painter.setPen(QPen(look.colour("line2"), 1.5))
                painter.drawLine(QPointF(left, TRACK_Y), QPointF(right, TRACK_Y))
            painter.setPen(QPen(look.colour("line2"), 5.0, c=Qt.PenCapStyle.RoundCap))
            painter.drawLine(QPointF(left, TRACK_Y), QPointF(self._x(self._done_s), TRACK_Y))
            painter.setPen(QPen(look.colour("accent"), 5.0, c=Qt.PenCapStyle.RoundCap))
            painter.drawLine(QPointF(left, TRACK_Y), QPointF(now, TRACK_Y))
            self._paint_ticks(painter, left, right)
            self._paint_moments(painter)
            painter.setBrush(look.colour("paper"))
            painter.setPen(QPen(look.colour("accent"), 3.0))
            painter.drawEllipse(QPointF(now, TRACK_Y), HANDLE_PX, HANDLE_PX)
            painter.setPen(QPen(look.colour("accent"), 1.8))
            for dx in (-2.5, 2.5):
                painter.drawLine(QPointF(now + dx, TRACK_Y - 3.5), QPointF(now + dx, TRACK_Y + 3.5))
            if self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(look.colour("accent"), 2.0))
                painter.drawEllipse(QPointF(now, TRACK_Y), HANDLE_PX + 4.0, HANDLE_PX + 4.0)

    def _paint_ticks(self, painter: QPainter, left: float, right: float) -> None:
        step = next((s for s in STEPS_S if (right - left) * s / self._end_s >= 64.0), STEPS_S[-1])
        painter.setFont(self._font())
        k = 0
        while k * step / 2.0 <= self._end_s + 0.01:
            at = k * step / 2.0
            x, whole = self._x(at), k % 2 == 0
            painter.setPen(QPen(self._look.colour("line2"), 1.0))
            painter.drawLine(QPointF(x, TRACK_Y + 10.0), QPointF(x, TRACK_Y + (16.0 if whole else 13.0)))
            if whole:
                painter.setPen(self._look.colour("ink2"))
                painter.drawText(
                    QRectF(x - 30.0, TRACK_Y + 18.0, 60.0, 16.0), Qt.AlignmentFlag.AlignCenter, clock(self._kind, at)
                )
            k += 1

    def _paint_moments(self, painter: QPainter) -> None:
        look, taken = self._look, []
        painter.setFont(self._font())
        metrics = painter.fontMetrics()
        for m in self._moments:
            x = self._x(m.time_s)
            hot = m.what in ("boils", "overheat", "limit")
            painter.setPen(QPen(look.colour("danger" if m.what == "boils" else "fault" if hot else "ink"), 1.5))
            painter.setBrush(look.colour("paper"))
            y = TRACK_Y - 17.0
            size = DIAMOND_PX
            painter.drawLine(QPointF(x, y + size), QPointF(x, TRACK_Y - 3.0))
            painter.drawPolygon(
                QPolygonF([QPointF(x, y - size), QPointF(x + size, y), QPointF(x, y + size), QPointF(x - size, y)])
            )
            taken.append((x - size - 1.0, x + size + 1.0))
        order = {what: k for k, what in enumerate(NAMED)}
        for m in sorted((m for m in self._moments if m.what in order), key=lambda m: order[m.what]):
            words = metrics.elidedText(m.words.split(" (")[0].split(",")[0], Qt.TextElideMode.ElideRight, 200)
            wide, x = metrics.horizontalAdvance(words), self._x(m.time_s)
            for start in (x + DIAMOND_PX + 4.0, x - DIAMOND_PX - 4.0 - wide):
                span = (start, start + wide)
                inside = span[0] >= 2.0 and span[1] <= self.width() - 2.0
                if inside and all(span[1] < a or span[0] > b for a, b in taken):
                    painter.setPen(look.colour("ink2"))
                    painter.drawText(QPointF(start, TRACK_Y - 13.0), words)
                    taken.append((span[0] - 4.0, span[1] + 4.0))
                    break

    def _font(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(11)
        return font

    # ---- pointer and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self._end_s > 0.0:
            moment = self._at(event.position())
            above = event.position().y() < TRACK_Y - 8.0
            self.wanted.emit(moment.time_s if moment is not None and above else self._time(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton and self._end_s > 0.0:
            self.wanted.emit(self._time(event.position().x()))
            return
        moment = self._at(event.position())
        if moment is not None:
            words = f"{clock(self._kind, moment.time_s)}  {moment.words}"
            QToolTip.showText(event.globalPosition().toPoint(), words, self)
        else:
            QToolTip.hideText()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        event.ignore()  # the view moves, whatever of it has the focus
