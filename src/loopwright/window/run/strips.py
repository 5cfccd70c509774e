"""The strips of a day: hours as bars, fires and draws as marks, sun and cold as curves; each can be dragged.

Owns the picture of one strip and its drag. Refuses to know days: it is given figures and tells of new ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from loopwright.window.run.day_text import clock_of
from loopwright.window.theme import Theme

DAY_S = 86400.0
SNAP_S = 900.0
REACH_PX = 8.0
LEFT_PX, RIGHT_PX = 8.0, 12.0
HOST_PX = (18.0, 24.0)
"""What the page leaves beside its strips, with the scroll bar at the right."""
Sort = Literal["hours", "marks", "curve"]


@dataclass(frozen=True)
class Mark:
    """Something at a time: seconds, how much of it (for its height), its words."""

    time_s: float
    size: float = 1.0
    words: str = ""


class Hours(QWidget):
    """The hours of the day over the strips."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self.setFixedHeight(18)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            font = QFont(self.font())
            font.setPixelSize(11)
            painter.setFont(font)
            painter.setPen(self._look.colour("ink2"))
            left, right = HOST_PX[0] + LEFT_PX, self.width() - HOST_PX[1] - RIGHT_PX
            for hour in range(0, 25, 3):
                x = left + (right - left) * hour / 24.0
                painter.drawText(QRectF(x - 24.0, 0.0, 48.0, 16.0), Qt.AlignmentFlag.AlignCenter, f"{hour:02d}:00")


class Strip(QWidget):
    """One strip from midnight to midnight."""

    hours_changed = Signal(object)
    """Stretches (start, end) in seconds."""
    mark_moved = Signal(int, float)
    mark_added = Signal(float)
    mark_removed = Signal(int)
    values_changed = Signal(object)
    """24 figures."""

    def __init__(self, sort: Sort, token: str, name: str, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sort, self._token, self._look = sort, token, look
        self._hours: list[tuple[float, float]] = []
        self._marks: list[Mark] = []
        self._values: list[float] = []
        self._span = (0.0, 1.0)
        self._drag: tuple[int, str] | None = None
        self._grip_s = 0.0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(56 if sort == "curve" else 34)
        self.setAccessibleName(f"{name}, as a strip; the field beneath holds the same in words")
        self.setMouseTracking(True)
        hints = {
            "hours": "Drag an end or a bar. Double click adds a stretch, or takes one away.",
            "marks": "Drag a mark. Double click adds one, or takes one away.",
            "curve": "Drag up and down across the hours.",
        }
        self.setToolTip(hints[sort])

    def sizeHint(self) -> QSize:
        return QSize(560, self.height())

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def show_hours(self, hours: list[tuple[float, float]]) -> None:
        """Stretches in seconds."""
        self._hours = hours
        self.update()

    def show_marks(self, marks: list[Mark]) -> None:
        """Marks in the order of their words."""
        self._marks = marks
        self.update()

    def show_values(self, values: list[float], low: float, high: float) -> None:
        """24 figures at the full hours, and the bounds of the picture."""
        self._values, self._span = values, (low, high)
        self.update()

    # ---- geometry

    def _x(self, time_s: float) -> float:
        return LEFT_PX + (self.width() - LEFT_PX - RIGHT_PX) * time_s / DAY_S

    def _time(self, x: float, snap: bool = True) -> float:
        time_s = (x - LEFT_PX) / max(1.0, self.width() - LEFT_PX - RIGHT_PX) * DAY_S
        time_s = min(DAY_S, max(0.0, time_s))
        return round(time_s / SNAP_S) * SNAP_S if snap else time_s

    def _y(self, value: float) -> float:
        low, high = self._span
        return self.height() - 6.0 - (self.height() - 14.0) * (value - low) / max(high - low, 1e-9)

    def _value(self, y: float) -> float:
        low, high = self._span
        value = low + (high - low) * (self.height() - 6.0 - y) / max(1.0, self.height() - 14.0)
        return min(high, max(low, value))

    # ---- painting

    def paintEvent(self, _event: QPaintEvent) -> None:
        look = self._look
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            box = QRectF(LEFT_PX, 1.0, self.width() - LEFT_PX - RIGHT_PX, self.height() - 2.0)
            painter.fillRect(box, look.colour("paper"))
            for hour in range(25):
                painter.setPen(QPen(look.colour("grid2" if hour % 6 == 0 else "grid"), 1.0))
                x = self._x(hour * 3600.0)
                painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            painter.setPen(QPen(look.colour("line"), 1.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(box)
            font = QFont(self.font())
            font.setPixelSize(11)
            painter.setFont(font)
            {"hours": self._paint_hours, "marks": self._paint_marks, "curve": self._paint_curve}[self._sort](
                painter, box
            )

    def _paint_hours(self, painter: QPainter, box: QRectF) -> None:
        soft = QColor(self._look[self._token])
        soft.setAlpha(90)
        for a, b in self._hours:
            bar = QRectF(self._x(a), box.top() + 6.0, max(3.0, self._x(b) - self._x(a)), box.height() - 12.0)
            painter.setPen(QPen(self._look.colour(self._token), 1.4))
            painter.setBrush(soft)
            painter.drawRoundedRect(bar, 3.0, 3.0)
            painter.setPen(self._look.colour("ink"))
            words = f"{clock_of(a)} to {clock_of(b)}"
            if painter.fontMetrics().horizontalAdvance(words) < bar.width() - 8.0:
                painter.drawText(bar, Qt.AlignmentFlag.AlignCenter, words)

    def _paint_marks(self, painter: QPainter, box: QRectF) -> None:
        most = max((m.size for m in self._marks), default=1.0)
        free = 0.0
        for mark in sorted(self._marks, key=lambda m: m.time_s):
            x, y = self._x(mark.time_s), box.center().y()
            size = 5.0 + 5.0 * (mark.size / max(most, 1e-9))
            painter.setPen(QPen(self._look.colour(self._token), 1.4))
            painter.setBrush(self._look.colour(self._token))
            painter.drawPolygon(
                QPolygonF([QPointF(x, y - size), QPointF(x + size, y), QPointF(x, y + size), QPointF(x - size, y)])
            )
            wide = painter.fontMetrics().horizontalAdvance(mark.words)
            start = x + size + 4.0
            if start > free and start + wide < self._next(x) and start + wide < self.width():
                painter.setPen(self._look.colour("ink"))
                painter.drawText(QPointF(start, y + 4.0), mark.words)
                free = start + wide + 6.0

    def _next(self, x: float) -> float:
        """Where the next mark begins."""
        return min((self._x(m.time_s) - 11.0 for m in self._marks if self._x(m.time_s) > x + 1.0), default=1e9)

    def _paint_curve(self, painter: QPainter, box: QRectF) -> None:
        if len(self._values) != 24:
            return
        points = [QPointF(self._x(k * 3600.0), self._y(v)) for k, v in enumerate([*self._values, self._values[0]])]
        base = self._y(min(max(0.0, self._span[0]), self._span[1]))
        soft = QColor(self._look[self._token])
        soft.setAlpha(60)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(soft)
        painter.drawPolygon(QPolygonF([QPointF(points[0].x(), base), *points, QPointF(points[-1].x(), base)]))
        painter.setPen(QPen(self._look.colour(self._token), 1.8))
        painter.drawPolyline(QPolygonF(points))
        painter.setPen(self._look.colour("ink2"))
        low, high = min(self._values), max(self._values)
        painter.drawText(QPointF(box.left() + 5.0, box.top() + 13.0), f"{low:g} to {high:g}")

    # ---- dragging

    def _grip(self, spot: QPointF) -> tuple[int, str] | None:
        x = spot.x()
        if self._sort == "hours":
            for k, (a, b) in enumerate(self._hours):
                for end, t in (("start", a), ("end", b)):
                    if abs(self._x(t) - x) <= REACH_PX:
                        return k, end
            return next(((k, "all") for k, (a, b) in enumerate(self._hours) if self._x(a) < x < self._x(b)), None)
        if self._sort == "marks":
            near = [(abs(self._x(m.time_s) - x), k) for k, m in enumerate(self._marks)]
            gap, k = min(near, default=(99.0, 0))
            return (k, "mark") if gap <= REACH_PX + 3.0 else None
        return (0, "curve")

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self._drag = self._grip(event.position())
        if self._drag is not None and self._drag[1] == "all":
            self._grip_s = self._time(event.position().x()) - self._hours[self._drag[0]][0]
        if self._drag is not None and self._drag[1] == "curve":
            self.mouseMoveEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._drag is None:
            over = self._grip(event.position())
            shape = {None: Qt.CursorShape.ArrowCursor, "curve": Qt.CursorShape.SizeVerCursor}
            sort = over[1] if over is not None else None
            self.setCursor(shape.get(sort, Qt.CursorShape.SizeHorCursor))
            return
        k, what = self._drag
        now = self._time(event.position().x())
        if what == "curve":
            hour = min(23, round(self._time(event.position().x(), snap=False) / 3600.0) % 24)
            self._values[hour] = round(self._value(event.position().y()), 1 if self._span[1] < 100 else 0)
        elif what == "mark":
            self._marks[k] = replace(self._marks[k], time_s=min(now, DAY_S - SNAP_S))
        else:
            a, b = self._hours[k]
            if what == "start":
                a = min(now, b - SNAP_S)
            elif what == "end":
                b = max(now, a + SNAP_S)
            else:
                start = min(max(0.0, now - self._grip_s), DAY_S - (b - a))
                a, b = start, start + (b - a)
            self._hours[k] = (a, b)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        drag, self._drag = self._drag, None
        if drag is None:
            return
        if drag[1] == "curve":
            self.values_changed.emit(list(self._values))
        elif drag[1] == "mark":
            self.mark_moved.emit(drag[0], self._marks[drag[0]].time_s)
        else:
            self.hours_changed.emit(merged(self._hours))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        grip, now = self._grip(event.position()), self._time(event.position().x())
        self._drag = None
        if self._sort == "hours":
            hours = [h for k, h in enumerate(self._hours) if grip is None or k != grip[0]]
            if grip is None:
                start = min(now, DAY_S - 3600.0)
                hours.append((start, start + 3600.0))
            self.hours_changed.emit(merged(hours))
        elif self._sort == "marks":
            if grip is None:
                self.mark_added.emit(min(now, DAY_S - SNAP_S))
            else:
                self.mark_removed.emit(grip[0])


def merged(hours: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches in order, those that overlap made one."""
    out: list[tuple[float, float]] = []
    for a, b in sorted(hours):
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out
