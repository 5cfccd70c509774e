"""The sheet while a run plays: pipes and layers by temperature, marks that creep along moving water, figures at parts.

Owns its own scene, so that nothing on the drawing's own changes. Refuses to know how time moves on.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import hypot

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPainterPath, QPen, QPolygonF, QShowEvent
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QVBoxLayout, QWidget

from loopwright.canvas.items import Z_HOP, Z_LABEL
from loopwright.canvas.layers import Layer
from loopwright.canvas.scene import SheetScene
from loopwright.canvas.view import SheetView
from loopwright.catalogue import Catalogue
from loopwright.drawing.look import SHEET_FAMILY, Point, to_units
from loopwright.drawing.store import layer_colour
from loopwright.sheet.ports import box_of
from loopwright.window.run.reading import Reading
from loopwright.window.run.store_now import letters_on
from loopwright.window.theme import Theme

WIDE_PX, EDGE_PX = 5.0, 1.2
MARK_APART_PX, MARK_PX = 46.0, 5.0
CREEP_PX = 1.1
"""How far the marks of fast water go in one frame; slow water creeps at a third of it."""
FAST_KG_S = 0.1


class WarmLayer(Layer):
    """Pipes in the colour of their water, over the pipes themselves, with marks where it moves."""

    def __init__(self) -> None:
        super().__init__(Z_HOP)
        self.setZValue(Z_HOP + 0.5)
        self.lines: Mapping[str, tuple[Point, ...]] = {}
        self.warm: Mapping[str, float] = {}
        self.moving: Mapping[str, float] = {}
        self.creep: dict[str, float] = {}

    def show_now(self, warm: Mapping[str, float], moving: Mapping[str, float]) -> None:
        """Temperatures and flows (kg/s towards end b) by pipe."""
        self.warm, self.moving = warm, moving
        self.update()

    def advance_marks(self) -> None:
        """One frame on: the marks creep the way the water goes."""
        for pipe, kg_s in self.moving.items():
            pace = CREEP_PX * (0.35 + 0.65 * min(1.0, abs(kg_s) / FAST_KG_S))
            self.creep[pipe] = (self.creep.get(pipe, 0.0) + (pace if kg_s > 0 else -pace)) % MARK_APART_PX

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look = self.look
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pipe, celsius in self.warm.items():
            points = self.lines.get(pipe)
            if not points:
                continue
            path = QPainterPath(QPointF(*points[0]))
            for point in points[1:]:
                path.lineTo(*point)
            still = pipe not in self.moving
            wide = (WIDE_PX - 1.5 if still else WIDE_PX) * look.px
            painter.setPen(_pen(QColor(look.colour("ink3" if still else "ink")), wide + 2.0 * EDGE_PX * look.px))
            painter.drawPath(path)
            painter.setPen(_pen(QColor(layer_colour(celsius)), wide))
            painter.drawPath(path)
        painter.setPen(QPen(QColor(look.colour("ink")), 0.8 * look.px))
        painter.setBrush(QColor(look.colour("paper")))
        for pipe, kg_s in self.moving.items():
            if pipe in self.lines and pipe in self.warm:
                self._marks(painter, self.lines[pipe], self.creep.get(pipe, 0.0), 1.0 if kg_s > 0 else -1.0)

    def _marks(self, painter: QPainter, points: tuple[Point, ...], creep_px: float, way: float) -> None:
        px = self.look.px
        apart, size = MARK_APART_PX * px, MARK_PX * px
        run = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points))
        at = creep_px * px if run > apart else run / 2.0
        done = 0.0
        for (x0, y0), (x1, y1) in pairwise(points):
            long = hypot(x1 - x0, y1 - y0)
            while long > 0.0 and at < done + long:
                share = (at - done) / long
                ux, uy = way * (x1 - x0) / long, way * (y1 - y0) / long
                x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
                painter.drawPolygon(
                    QPolygonF(
                        [
                            QPointF(x + ux * size, y + uy * size),
                            QPointF(x - ux * size - uy * size * 0.8, y - uy * size + ux * size * 0.8),
                            QPointF(x - ux * size + uy * size * 0.8, y - uy * size - ux * size * 0.8),
                        ]
                    )
                )
                at += apart
            done += long


class FigureLayer(Layer):
    """Temperatures of parts, on small plates in their middle."""

    def __init__(self) -> None:
        super().__init__(Z_LABEL)
        self.setZValue(Z_LABEL + 0.5)
        self.boxes: dict[str, tuple[float, float, float, float]] = {}
        self.warm: Mapping[str, float] = {}

    def show_now(self, warm: Mapping[str, float]) -> None:
        """Temperatures by part."""
        self.warm = warm
        self.update()

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        px = self.look.px
        font = QFont([SHEET_FAMILY, "DejaVu Sans Condensed"])
        font.setPixelSize(12)
        font.setWeight(QFont.Weight.DemiBold)
        for part, celsius in self.warm.items():
            box = self.boxes.get(part)
            if box is None:
                continue
            painter.save()
            painter.translate((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0)
            painter.scale(px, px)
            painter.setFont(font)
            words = f"{celsius:.0f} °C"
            wide = painter.fontMetrics().horizontalAdvance(words) + 10.0
            plate = QRectF(-wide / 2.0, -9.0, wide, 18.0)
            painter.setPen(QPen(QColor(self.look.colour("ink")), 1.0))
            painter.setBrush(QColor(layer_colour(celsius)))
            painter.drawRoundedRect(plate, 4.0, 4.0)
            painter.setPen(letters_on(celsius))
            painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, words)
            painter.restore()


class SheetPlay(QWidget):
    """The sheet of a run."""

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._catalogue = catalogue
        self._reading: Reading | None = None
        self._fitted = False
        self._layers: dict[str, list[float]] = {}
        self.scene = SheetScene(catalogue, look.mode)
        self.scene.setParent(self)
        self.view = SheetView(self.scene, self)
        self.view.setAccessibleName("The sheet in the run")
        self.view.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.warm, self.figures = WarmLayer(), FigureLayer()
        for layer in (self.warm, self.figures):
            self.scene.addItem(layer)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(self.view)

    def set_look(self, look: Theme) -> None:
        """Light or dark."""
        self.view.set_palette(look.mode)

    def show_reading(self, reading: Reading, services: Mapping[str, str] | None) -> None:
        """Show the sheet of a run."""
        anew = self._reading is None or reading.sheet is not self._reading.sheet
        self._reading = reading
        self.scene.show(reading.sheet, services)
        lines = self.scene.lines
        self.warm.lines = {pipe: tuple(to_units(p) for p in points) for pipe, points in lines.items()}
        self.figures.boxes = {}
        for part in reading.run.parts:
            if part in reading.sheet.parts:
                x0, z0, x1, z1 = box_of(reading.sheet.parts[part], self._catalogue)
                self.figures.boxes[part] = (*to_units((x0, z1)), *to_units((x1, z0)))
        self.scene.show_condition(None, {p for p in reading.sheet.pipes if p not in reading.run.pipes})
        if anew:
            self._fitted = False
        if self.isVisible():
            self._fit()

    def show_time(self, time_s: float) -> None:
        """Show how things are at a time."""
        reading = self._reading
        if reading is None:
            return
        moving = reading.moving_at(time_s)
        layers = {s: [float(round(v)) for v in reading.layers_at(s, time_s)] for s in reading.stores}
        if layers != self._layers:  # a store is planned anew each time
            self._layers = layers
            self.scene.show_layers(layers)
        self.warm.show_now(reading.pipes_at(time_s), moving)
        self.figures.show_now(reading.warm_parts_at(time_s))

    def creep(self) -> None:
        """One frame on while it plays."""
        self.warm.advance_marks()
        self.warm.update()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._fit()

    def _fit(self) -> None:
        if not self._fitted and self._reading is not None:
            self._fitted = True
            self.scene.place_labels()  # so that names are within the view
            self.view.fit()

    def close_down(self) -> None:
        """Let the scene go."""
        self.scene.blockSignals(True)


def _pen(colour: QColor, width: float) -> QPen:
    pen = QPen(colour, width)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen
