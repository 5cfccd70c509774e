"""Severity as a shape with a number in it: octagon, diamond, ring, square. Never colour alone."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPixmap, QPolygonF

from loopwright.window.theme import Theme


def _octagon(middle: QPointF, radius: float) -> QPolygonF:
    return QPolygonF(
        [
            QPointF(
                middle.x() + radius * math.cos(math.radians(22.5 + 45 * i)),
                middle.y() + radius * math.sin(math.radians(22.5 + 45 * i)),
            )
            for i in range(8)
        ]
    )


def _diamond(middle: QPointF, half: float) -> QPolygonF:
    x, y = middle.x(), middle.y()
    return QPolygonF([QPointF(x, y - half), QPointF(x + half, y), QPointF(x, y + half), QPointF(x - half, y)])


def paint_badge(painter: QPainter, middle: QPointF, severity: str, text: str, look: Theme, size: float = 12.0) -> None:
    """Draw the shape of a severity about `middle`; `size` is the octagon's radius in pixels."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = look.colour(severity if severity in ("danger", "fault", "advice") else "ink3")
    number = look.colour("on_severity")
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    if severity == "danger":
        painter.drawPolygon(_octagon(middle, size))
    elif severity == "fault":
        painter.drawPolygon(_diamond(middle, size * 1.2))
    else:
        painter.setPen(QPen(colour, max(1.4, size / 7)))
        painter.setBrush(look.colour("paper"))
        if severity == "advice":
            painter.drawEllipse(middle, size * 0.92, size * 0.92)
        else:
            painter.drawRect(QRectF(middle.x() - size * 0.8, middle.y() - size * 0.8, size * 1.6, size * 1.6))
            text = text or "?"
        number = colour
    if text:
        font = QFont(painter.font())
        font.setPixelSize(max(9, round(size * (1.0 if len(text) < 3 else 0.8))))
        font.setWeight(QFont.Weight.DemiBold)
        painter.setFont(font)
        painter.setPen(QColor(number))
        box = QRectF(middle.x() - size * 1.4, middle.y() - size, size * 2.8, size * 2)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
    painter.restore()


def badge_pixmap(severity: str, text: str, look: Theme, size: float = 12.0, ratio: float = 2.0) -> QPixmap:
    """The shape as a picture, for labels."""
    side = size * 2.6
    picture = QPixmap(round(side * ratio), round(side * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    with QPainter(picture) as painter:
        paint_badge(painter, QPointF(side / 2, side / 2), severity, text, look, size)
    return picture
