"""What lies in one layer over or under the things of a sheet: halos, labels, flags, and what a tool shows.

Owns the four layer items. Refuses to know documents and tools: it paints what it is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from loopwright.canvas.items import Z_FLAG, Z_HALO, Z_LABEL, Z_TOOL
from loopwright.canvas.painter import QtPlotter, pen
from loopwright.canvas.tools.base import Overlay
from loopwright.drawing.ink import circle, draw_part, draw_pipe
from loopwright.drawing.labels import FlagPlace, Label, Labels
from loopwright.drawing.look import PX_A_MM, Look, Point, to_units
from loopwright.drawing.plan import PartPlan, PipePlan, StorePlan
from loopwright.drawing.store import draw_store
from loopwright.drawing.widths import width_px
from loopwright.drawing.writing import draw_flag, draw_label

if TYPE_CHECKING:
    from loopwright.canvas.scene import SheetScene

HALO_PX, HANDLE_PX, PORT_PX, SWOLLEN_PX = 15.0, 8.0, 4.0, 5.0
EVERYWHERE = QRectF(-110_000.0, -110_000.0, 220_000.0, 220_000.0)


class Layer(QGraphicsItem):
    """An item as large as the sheet that paints only what meets the exposed rectangle."""

    def __init__(self, level: int) -> None:
        super().__init__()
        self.setZValue(level)
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemUsesExtendedStyleOption)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def boundingRect(self) -> QRectF:
        return EVERYWHERE

    @property
    def look(self) -> Look:
        """The scene's look."""
        scene: SheetScene = self.scene()  # type: ignore[assignment]
        return scene.look


class LabelLayer(Layer):
    """All words of the sheet."""

    def __init__(self) -> None:
        super().__init__(Z_LABEL)
        self.labels: tuple[Label, ...] = ()
        self.idle: frozenset[str] = frozenset()
        self._plots: dict[Label, tuple[Look, QtPlotter, QRectF]] = {}

    def show_labels(self, labels: Labels, idle: frozenset[str] = frozenset()) -> None:
        """Show these words; what belongs to an id in `idle` is faint."""
        if idle != self.idle:
            self._plots.clear()
            self.update()
        old, keep = set(self.labels), set(labels.words)
        for label in old ^ keep:  # only where words come or go is painted anew
            self.update(self._box(label))
        self.labels, self.idle = labels.words, idle
        self._plots = {label: made for label, made in self._plots.items() if label in keep}

    def _box(self, label: Label) -> QRectF:
        px = self.look.px
        w, h = (label.size[0] + 8) * px, (label.size[1] + 8) * px
        box = QRectF(label.at[0] - w / 2, label.at[1] - h / 2, w, h)
        for x, y in label.leader:
            box |= QRectF(x - px, y - px, 2 * px, 2 * px)
        return box

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, seen = self.look, option.exposedRect
        for label in self.labels:
            made = self._plots.get(label)
            if made is None or made[0] != look:
                plot = QtPlotter(look)
                draw_label(plot, look, label, label.owner.partition("/")[0] in self.idle)
                made = self._plots[label] = (look, plot, self._box(label))
            if made[2].intersects(seen):
                made[1].paint(painter)


class FlagLayer(Layer):
    """The flags of the findings."""

    def __init__(self) -> None:
        super().__init__(Z_FLAG)
        self.places: tuple[FlagPlace, ...] = ()

    def show_flags(self, places: tuple[FlagPlace, ...]) -> None:
        """Show these flags."""
        if places != self.places:
            self.places = places
            self.update()

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look = self.look
        plot = QtPlotter(look)
        for place in self.places:
            draw_flag(plot, look, place, place.flag.severity == "accepted")
        plot.paint(painter)


class HaloLayer(Layer):
    """Broad soft lines under pipes: chosen, lit by a finding, or moving in a condition."""

    def __init__(self) -> None:
        super().__init__(Z_HALO)
        self.lines: list[tuple[Sequence[Point], str, float]] = []
        self.boxes: list[tuple[tuple[float, float, float, float], str]] = []

    def show_halos(
        self,
        lines: list[tuple[Sequence[Point], str, float]],
        boxes: list[tuple[tuple[float, float, float, float], str]],
    ) -> None:
        """Lines (points, token, opacity) and boxes (left, top, right, bottom; token)."""
        if (lines, boxes) == (self.lines, self.boxes):
            return
        room = (HALO_PX + 8.0) * self.look.px
        for points, _, _ in [v for v in (*lines, *self.lines) if not (v in lines and v in self.lines)]:
            self.update(_around(points, room))
        for box, _ in [v for v in (*boxes, *self.boxes) if not (v in boxes and v in self.boxes)]:
            self.update(_grown(box, room))
        self.lines, self.boxes = lines, boxes

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look = self.look
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for points, token, opacity in self.lines:
            colour = QColor(look.colour(token))
            colour.setAlphaF(opacity)
            stroke = QPen(colour, HALO_PX * look.px)
            stroke.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            stroke.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(stroke)
            path = QPainterPath(QPointF(*points[0]))
            for x, y in points[1:]:
                path.lineTo(x, y)
            painter.drawPath(path)
        painter.setPen(Qt.PenStyle.NoPen)
        for (x0, y0, x1, y1), token in self.boxes:
            colour = QColor(look.colour(token))
            colour.setAlphaF(0.16)
            painter.setBrush(colour)
            room = 7.0 * look.px
            painter.drawRoundedRect(QRectF(x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room), room, room)


class OverlayLayer(Layer):
    """Selection marks, hover marks and what the tool in hand shows."""

    def __init__(self) -> None:
        super().__init__(Z_TOOL)
        self.overlay = Overlay()
        self.ghosts: list[PartPlan | StorePlan | PipePlan] = []
        self.boxes: list[tuple[float, float, float, float]] = []
        self.handles: list[Point] = []
        self.hover: tuple[float, float, float, float] | None = None
        self.hover_line: Sequence[Point] = ()
        self.focus: tuple[float, float, float, float] | None = None

    def show_chosen(self, boxes: list[tuple[float, float, float, float]], handles: list[Point]) -> None:
        """Boxes of the chosen parts and vertices of the chosen pipes."""
        if (boxes, handles) == (self.boxes, self.handles):
            return
        room = (HANDLE_PX + 8.0) * self.look.px
        for box in [b for b in (*boxes, *self.boxes) if not (b in boxes and b in self.boxes)]:
            self.update(_grown(box, room))
        for point in set(handles) ^ set(self.handles):
            self.update(_around([point], room))
        self.boxes, self.handles = boxes, handles

    def show_hover(self, box: tuple[float, float, float, float] | None, line: Sequence[Point] = ()) -> None:
        """An outline round what the pointer is on."""
        if (box, tuple(line)) == (self.hover, tuple(self.hover_line)):
            return
        room = 12.0 * self.look.px
        for old_box, old_line in ((self.hover, self.hover_line), (box, line)):
            if old_box:
                self.update(_grown(old_box, room))
            if len(old_line) > 1:
                self.update(_around(old_line, room))
        self.hover, self.hover_line = box, line

    def show_overlay(self, overlay: Overlay, ghosts: list[PartPlan | StorePlan | PipePlan]) -> None:
        """What the tool shows."""
        if overlay == self.overlay and not ghosts and not self.ghosts:
            return
        for region in (*self._regions(), *self._regions(overlay, ghosts)):
            self.update(region)
        self.overlay, self.ghosts = overlay, ghosts

    def _regions(
        self, overlay: Overlay | None = None, ghosts: list[PartPlan | StorePlan | PipePlan] | None = None
    ) -> list[QRectF]:
        """Where an overlay paints."""
        overlay = self.overlay if overlay is None else overlay
        ghosts = self.ghosts if ghosts is None else ghosts
        px = self.look.px
        out = [_around([to_units(p) for p in line.points], 8 * px) for line in overlay.lines if line.points]
        out += [_around([to_units(ring.at)], 12 * px) for ring in overlay.rings]
        if overlay.frame is not None:
            out.append(_around([to_units(p) for p in overlay.frame], 4 * px))
        if overlay.words:
            x, y = to_units(overlay.words_at)
            lines = overlay.words.splitlines()
            wide = max(width_px(line, 12.0, 500) for line in lines) + 30
            out.append(QRectF(x, y, wide * px, (32 + 15 * len(lines)) * px))
        for ghost in ghosts:
            if isinstance(ghost, PipePlan):
                out.append(_around(ghost.points, 30.0))
            else:
                out.append(_grown(ghost.box, 40.0 + 12 * px))
        return out

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, px = self.look, self.look.px
        accent = look.colour("accent")
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if self.hover:
            painter.setPen(pen(accent, 1.4 * px))
            painter.drawRoundedRect(_grown(self.hover, 3.0 * px), 3 * px, 3 * px)
        if len(self.hover_line) > 1:
            glow = QColor(accent)
            glow.setAlphaF(0.22)
            painter.setPen(QPen(glow, 9.0 * px, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawPolyline(QPolygonF([QPointF(*p) for p in self.hover_line]))
        self._chosen(painter, px, accent, look.colour("paper"))
        if self.ghosts:
            plot = QtPlotter(look)
            for ghost in self.ghosts:
                if isinstance(ghost, StorePlan):
                    draw_store(plot, look, ghost)
                elif isinstance(ghost, PipePlan):
                    draw_pipe(plot, look, ghost)
                else:
                    draw_part(plot, look, ghost)
            plot.paint(painter)
        self._tool(painter, px)

    def _chosen(self, painter: QPainter, px: float, accent: str, paper: str) -> None:
        for box in self.boxes:
            frame = _grown(box, 5.0 * px)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(pen(accent, 1.6 * px, (4.0, 2.5)))
            painter.drawRect(frame)
            for corner in (frame.topLeft(), frame.topRight(), frame.bottomLeft(), frame.bottomRight()):
                _square(painter, corner, HANDLE_PX * px, accent, paper, px)
        for point in self.handles:
            _square(painter, QPointF(*point), 6.5 * px, accent, paper, px)

    def _tool(self, painter: QPainter, px: float) -> None:
        look, overlay = self.look, self.overlay
        for line in overlay.lines:
            points = [to_units(p) for p in line.points]
            if len(points) > 1:
                width = line.mm * PX_A_MM * px
                painter.setPen(pen(look.colour(line.token), width, (3.0, 2.0) if line.dashed else (), not line.dashed))
                painter.drawPolyline(QPolygonF([QPointF(*p) for p in points]))
        for ring in overlay.rings:
            at = to_units(ring.at)
            radius = (SWOLLEN_PX if ring.state in ("takes", "refuses") else PORT_PX) * px
            token = "fault" if ring.state == "refuses" else "accent"
            painter.setPen(pen(look.colour(token), 1.5 * px))
            painter.setBrush(QColor(look.colour(token if ring.state == "takes" else "paper")))
            painter.drawPolygon(QPolygonF([QPointF(*p) for p in circle(at, radius)]))
            if ring.state == "refuses":
                painter.drawLine(QPointF(at[0] - radius * 1.4, at[1]), QPointF(at[0] + radius * 1.4, at[1]))
        if overlay.frame is not None:
            (xa, za), (xb, zb) = overlay.frame
            a, b = to_units((xa, za)), to_units((xb, zb))
            fill = QColor(look.colour("accent"))
            fill.setAlphaF(0.08)
            painter.setBrush(fill)
            painter.setPen(pen(look.colour("accent"), 1.0 * px, (4.0, 3.0) if xb < xa else ()))
            painter.drawRect(QRectF(QPointF(*a), QPointF(*b)).normalized())
        if overlay.words:
            plot = QtPlotter(look)
            at = to_units(overlay.words_at)
            for k, words in enumerate(overlay.words.splitlines()):
                plot.text(
                    at[0] + 16 * px,
                    at[1] + (22 + 15 * k) * px,
                    words,
                    12.0,
                    500,
                    "ink",
                    0,
                    "start",
                    "accent_soft",
                )
            plot.paint(painter)


def _square(painter: QPainter, at: QPointF, size: float, edge: str, fill: str, px: float) -> None:
    painter.setPen(pen(edge, 1.4 * px))
    painter.setBrush(QColor(fill))
    painter.drawRect(QRectF(at.x() - size / 2, at.y() - size / 2, size, size))


def _around(points: Sequence[Point], room: float) -> QRectF:
    xs, ys = zip(*points)
    x0, y0 = min(xs) - room, min(ys) - room
    return QRectF(x0, y0, max(xs) + room - x0, max(ys) + room - y0)


def _grown(box: tuple[float, float, float, float], by: float) -> QRectF:
    x0, y0, x1, y1 = box
    return QRectF(x0 - by, y0 - by, x1 - x0 + 2 * by, y1 - y0 + 2 * by)
