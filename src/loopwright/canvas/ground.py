"""What lies under everything on screen: paper, grid and floors.

Owns the steps of the grid. Refuses to know the view: it is given a painter and what is seen.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from loopwright.canvas.painter import QtPlotter
from loopwright.drawing.ink import draw_floors
from loopwright.drawing.look import PX_AT_FULL, Look
from loopwright.drawing.plan import FloorPlan


def draw_ground(painter: QPainter, seen: QRectF, look: Look, scale: float, floors: Iterable[FloorPlan]) -> None:
    """Paper, grid and floor slabs in the rectangle seen; `scale` is pixels a unit."""
    painter.fillRect(seen, QColor(look.colour("paper")))
    _grid(painter, seen, look, scale)
    plot = QtPlotter(Look(scale, look.palette))
    draw_floors(plot, look, floors, seen.left() - 10, seen.right() + 10, names=False)
    plot.paint(painter)


def _grid(painter: QPainter, seen: QRectF, look: Look, scale: float) -> None:
    zoom = scale / PX_AT_FULL
    steps = [(100.0, "grid2")] if zoom >= 0.15 else [(1000.0, "grid2")]
    if zoom >= 0.75:
        steps.insert(0, (10.0, "grid"))
    elif zoom >= 0.3:
        steps.insert(0, (50.0, "grid"))
    for step, token in steps:
        lines = [
            QLineF(k * step, seen.top(), k * step, seen.bottom())
            for k in range(floor(seen.left() / step), ceil(seen.right() / step) + 1)
        ]
        lines += [
            QLineF(seen.left(), k * step, seen.right(), k * step)
            for k in range(floor(seen.top() / step), ceil(seen.bottom() / step) + 1)
        ]
        stroke = painter.pen()
        stroke.setColor(QColor(look.colour(token)))
        stroke.setWidthF(1.0 / scale)
        stroke.setStyle(Qt.PenStyle.SolidLine)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(stroke)
        painter.drawLines(lines)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
