"""The axes of the charts: time by the clock, values, and the names of lines at their ends; and the tag of the cursor.

Owns ticks and names. Refuses to know runs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from loopwright.window.run.story import clock
from loopwright.window.section import spread
from loopwright.window.theme import Theme, base_font

STEPS_S = (
    1.0,
    2.0,
    5.0,
    10.0,
    30.0,
    60.0,
    120.0,
    300.0,
    600.0,
    900.0,
    1800.0,
    3600.0,
    7200.0,
    10800.0,
    14400.0,
    21600.0,
)
APART_PX = 74.0


@dataclass(frozen=True)
class Named:
    """A name that stands at a level."""

    value: float
    words: str
    colour: QColor


def _font(px: int = 11, weight: QFont.Weight = QFont.Weight.Normal) -> QFont:
    font = base_font()
    font.setPixelSize(px)
    font.setWeight(weight)
    return font


class ValueAxis(pg.AxisItem):
    """Figures at the left, with faint lines across."""

    def __init__(self, look: Theme) -> None:
        super().__init__("left", pen=pg.mkPen(look.colour("grid2")), textPen=pg.mkPen(look.colour("ink2")))
        self.setStyle(tickLength=-1, tickFont=_font(), tickTextOffset=6, maxTickLevel=0)
        self.setGrid(255)

    def boundingRect(self) -> QRectF:
        return QRectF(super().boundingRect()).adjusted(0.0, -9.0, 0.0, 9.0)  # room for figures at both ends


class TimeAxis(pg.AxisItem):
    """Time by the clock, in steps of a clock."""

    def __init__(self, look: Theme, kind: str) -> None:
        super().__init__("bottom", pen=pg.mkPen(look.colour("grid2")), textPen=pg.mkPen(look.colour("ink2")))
        self._kind = kind
        self.setStyle(tickLength=-1, tickFont=_font(), tickTextOffset=5, maxTickLevel=0)
        self.setGrid(255)

    def boundingRect(self) -> QRectF:
        return QRectF(super().boundingRect()).adjusted(-24.0, 0.0, 24.0, 0.0)

    def tickValues(self, low: float, high: float, size: float) -> list[tuple[float, list[float]]]:
        return [(step := time_step(high - low, size), time_ticks(low, high, step))]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        return [clock(self._kind, v) for v in values]


def time_step(span_s: float, px: float) -> float:
    """The step between marks of time that leaves them far enough apart to be read."""
    return next((s for s in STEPS_S if px * s / max(span_s, 1.0) >= APART_PX), STEPS_S[-1])


def time_ticks(low: float, high: float, step: float) -> list[float]:
    """Whole steps within a span."""
    first = int(-(-low // step))
    return [k * step for k in range(first, int(high // step) + 1)]


class EndAxis(pg.AxisItem):
    """In place of the right axis: the names of the lines, each at the height where its line ends."""

    def __init__(self, look: Theme, wide: int) -> None:
        super().__init__("right", pen=pg.mkPen(None), textPen=pg.mkPen(None), showValues=False)
        self._look = look
        self._named: list[Named] = []
        self.setWidth(wide)

    def show_names(self, named: list[Named]) -> None:
        """Names at levels."""
        self._named = named
        self.update()

    def boundingRect(self) -> QRectF:
        return QRectF(self.rect())

    def paint(self, painter: QPainter, _option: QStyleOptionGraphicsItem, _widget: QWidget | None = None) -> None:
        view = self.linkedView()
        if view is None or not self._named:
            return
        low, high = view.viewRange()[1]
        area = self.rect()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(_font(11, QFont.Weight.DemiBold))

        def level(value: float) -> float:
            share = (value - low) / max(high - low, 1e-9)
            return float(area.bottom() - min(1.0, max(0.0, share)) * area.height())

        names = sorted(self._named, key=lambda n: level(n.value))
        ys = [level(n.value) for n in names]
        room = area.width() - 16.0
        for name, y, label in zip(names, ys, spread(ys, 14.0, area.top() + 2.0, area.bottom() - 2.0)):
            painter.setPen(QPen(name.colour, 1.2))
            painter.drawLine(QPointF(area.left() + 2.0, y), QPointF(area.left() + 9.0, label))
            words = painter.fontMetrics().elidedText(name.words, Qt.TextElideMode.ElideRight, int(room))
            painter.drawText(
                QRectF(area.left() + 12.0, label - 8.0, room + 4.0, 16.0), Qt.AlignmentFlag.AlignVCenter, words
            )


class Tag(QGraphicsItem):
    """The time of the cursor, over the time axis."""

    def __init__(self, look: Theme) -> None:
        super().__init__()
        self._look, self._words = look, ""
        self.setZValue(1000)

    def show_words(self, words: str, x: float, top: float, left: float, right: float) -> None:
        """The words under a place in scene coordinates, kept near two edges."""
        self.prepareGeometryChange()
        self._words = words
        self.setPos(min(max(x, left - 12.0), right + 12.0), top + 6.0)  # clear of the lowest figure
        self.update()

    def boundingRect(self) -> QRectF:
        return QRectF(-25.0, -1.0, 50.0, 22.0)

    def paint(self, painter: QPainter, _option: QStyleOptionGraphicsItem, _widget: QWidget | None = None) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._look.colour("ink"))
        box = QRectF(-23.0, 0.0, 46.0, 19.0)
        painter.drawRoundedRect(box, 3.0, 3.0)
        painter.setPen(self._look.colour("paper"))
        painter.setFont(_font(12, QFont.Weight.DemiBold))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._words)
