"""The plotter that paints with Qt: it compiles what it is told into pens, brushes and paths, and paints them
at any time.

Owns the back end for screen, PDF, PNG and print. Refuses to know sheets: `loopwright.drawing` says what is
drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF

from loopwright.canvas.fonts import sheet_font
from loopwright.drawing.look import Dash, Look, Point
from loopwright.drawing.plotter import Anchor
from loopwright.drawing.widths import width_px

NO_PEN, NO_BRUSH = QPen(Qt.PenStyle.NoPen), QBrush(Qt.BrushStyle.NoBrush)
"""Made once: an enumeration is slow to hand over in the midst of painting."""
Paint = Callable[[QPainter], None]
MIDDLE = 0.35
"""Base line below the middle of capitals, in the size of the text."""


@lru_cache(maxsize=1024)
def pen(colour: str, width: float, dash: Dash = (), round_caps: bool = False) -> QPen:
    """A pen in drawing units; flat caps, round joins."""
    out = QPen(QColor(colour), width)
    out.setCapStyle(Qt.PenCapStyle.RoundCap if round_caps else Qt.PenCapStyle.FlatCap)
    out.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash:
        out.setDashPattern([max(d, 0.05) for d in dash])
    return out


@lru_cache(maxsize=256)
def brush(colour: str) -> QBrush:
    """A plain brush."""
    return QBrush(QColor(colour))


class QtPlotter:
    """Compiles drawing calls for one look. `paint` paints them; a plotter can be painted as often as
    wished."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self._paints: list[Paint] = []
        self._rects: list[QRectF] = []
        self._rects_colour = ""

    def paint(self, painter: QPainter) -> None:
        """Paint everything, in order. The painter's transform maps drawing units to the device."""
        self._flush()
        for paint in self._paints:
            paint(painter)

    def line(self, points: Sequence[Point], token: str, mm: float, dash: Dash = (), closed: bool = False) -> None:
        colour, width = self.look.colour(token), self.look.pen(mm)
        if len(points) == 2 and not self.look.paper and _straight(points[0], points[1]):
            self._bars(points[0], points[1], width, dash, colour)
            return
        self._flush()
        shape = QPolygonF([QPointF(x, y) for x, y in points])
        stroke = pen(colour, width, dash, len(points) > 2 and not dash)

        def paint(painter: QPainter) -> None:
            painter.setPen(stroke)
            if closed:
                painter.setBrush(NO_BRUSH)
                painter.drawPolygon(shape)
            else:
                painter.drawPolyline(shape)

        self._paints.append(paint)

    def _bars(self, a: Point, b: Point, width: float, dash: Dash, colour: str) -> None:
        """A straight line as filled rectangles, one a dash: far cheaper to paint than a dashed stroke."""
        if colour != self._rects_colour:
            self._flush()
            self._rects_colour = colour
        upright = abs(a[0] - b[0]) < abs(a[1] - b[1])
        begin, end = (a[1], b[1]) if upright else (a[0], b[0])
        across = ((a[0] + b[0]) if upright else (a[1] + b[1])) / 2 - width / 2
        length, at = abs(end - begin), 0.0
        lengths = [d * width for d in dash] or [length]
        rects, rising, k, most = self._rects, end > begin, 0, len(lengths)
        while at < length:
            on = lengths[k % most]
            if k % 2 == 0:
                one, two = (at, min(at + on, length)) if rising else (-min(at + on, length), -at)
                low = begin + one
                size = begin + two - low
                rects.append(QRectF(across, low, width, size) if upright else QRectF(low, across, size, width))
            at += on if on > 0.01 else 0.01
            k += 1

    def _flush(self) -> None:
        if not self._rects:
            return
        rects, filled = self._rects, brush(self._rects_colour)
        self._rects = []

        def paint(painter: QPainter) -> None:
            painter.setPen(NO_PEN)
            painter.setBrush(filled)
            painter.drawRects(rects)

        self._paints.append(paint)

    def area(self, points: Sequence[Point], fill: str, edge: str = "", mm: float = 0.0) -> None:
        self._flush()
        shape = QPolygonF([QPointF(x, y) for x, y in points])
        filled = brush(self.look.colour(fill)) if fill else NO_BRUSH
        stroke = pen(self.look.colour(edge), self.look.pen(mm)) if edge else NO_PEN

        def paint(painter: QPainter) -> None:
            painter.setPen(stroke)
            painter.setBrush(filled)
            painter.drawPolygon(shape)

        self._paints.append(paint)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        px: float,
        weight: int = 400,
        token: str = "ink",
        turn: int = 0,
        anchor: Anchor = "middle",
        plate: str = "",
    ) -> None:
        self._flush()
        ground = self.look.colour(plate) if plate else ""
        self._paints.append(
            _words(x, y, words, px, self.look.px, weight, self.look.colour(token), turn, anchor, ground)
        )

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        self._flush()
        self._paints.append(_words(x, y, words, size, 1.0, 600, self.look.colour(token), 0, "middle", ""))

    def push(self, title: str = "", kind: str = "") -> None:
        """Groups mean nothing to a painter."""

    def pop(self) -> None:
        """Groups mean nothing to a painter."""


def _words(
    x: float,
    y: float,
    words: str,
    px: float,
    unit: float,
    weight: int,
    colour: str,
    turn: int,
    anchor: Anchor,
    ground: str,
) -> Paint:
    pixels = max(1, round(px * 2))  # fonts take whole pixels only; half sizes by scaling
    scale = px * unit / pixels
    font = sheet_font(pixels, weight)
    width = width_px(words, pixels, weight)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[anchor]
    base = MIDDLE * pixels
    plate = QRectF(left - pixels * 0.1, -pixels * 0.5, width + pixels * 0.2, pixels)
    ink = QColor(colour)

    def paint(painter: QPainter) -> None:
        painter.save()
        painter.translate(x, y)
        if turn:
            painter.rotate(-90)
        painter.scale(scale, scale)
        if ground:
            painter.fillRect(plate, QColor(ground))
        painter.setFont(font)
        painter.setPen(ink)
        painter.drawText(QPointF(left, base), words)
        painter.restore()

    return paint


def _straight(a: Point, b: Point) -> bool:
    """Level or upright; ports are not always on whole millimetres, so a millimetre aside is straight too."""
    return min(abs(a[0] - b[0]), abs(a[1] - b[1])) < 0.11
