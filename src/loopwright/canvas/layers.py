"""What lies in one layer over or under the things of a sheet: halos, selection marks, and what a tool shows.

Owns these layer items. Refuses to know documents and tools: it paints what it is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from loopwright.canvas.items import STILL, Z_HALO, Z_TOOL
from loopwright.canvas.marks import Halo, UnitBox
from loopwright.canvas.painter import NO_BRUSH, NO_PEN, QtPlotter, brush, pen
from loopwright.canvas.tools.base import Overlay
from loopwright.drawing.ink import circle, draw_part, draw_pipe
from loopwright.drawing.look import PX_A_MM, Look, Point, to_units
from loopwright.drawing.plan import PartPlan, PipePlan, StorePlan
from loopwright.drawing.store import draw_store
from loopwright.drawing.widths import width_px

if TYPE_CHECKING:
    from loopwright.canvas.scene import SheetScene

HALO_PX, HANDLE_PX, PORT_PX, SWOLLEN_PX = 15.0, 8.0, 4.0, 5.0
MANY = 200
"""Where more marks or words than this move at once, all is painted anew rather than their places looked up."""
SMOOTH = QPainter.RenderHint.Antialiasing
"""Left out of marks while they drift: it is more than half of what they cost, and not seen in what moves."""
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

    def exposed(self, option: QStyleOptionGraphicsItem) -> list[QRectF]:
        """What is to be painted: after a pan that is a strip and a few places, not all that lies between them."""
        scene: SheetScene = self.scene()  # type: ignore[assignment]
        return scene.exposed or [option.exposedRect]

    @property
    def look(self) -> Look:
        """The scene's look."""
        scene: SheetScene = self.scene()  # type: ignore[assignment]
        return scene.look


class HaloLayer(Layer):
    """Broad soft lines under pipes: chosen, lit by a finding, or moving in a condition."""

    def __init__(self) -> None:
        super().__init__(Z_HALO)
        self._halos: dict[str, Halo] = {}
        self._rects: dict[str, QRectF] = {}
        self._paths: dict[str, QPainterPath] = {}
        self._look: Look | None = None
        self._drift: Mapping[str, Point] = {}

    def show_halos(self, halos: dict[str, Halo]) -> None:
        """Lines and boxes by the id of what they mark."""
        before, self._halos, look = self._halos, halos, self.look
        if halos == before and look == self._look:
            return
        self._look, room = look, (HALO_PX + 8.0) * look.px
        self._rects = {key: around(halo.points, room) for key, halo in halos.items()}
        self._paths = {key: _path(halo.points) for key, halo in halos.items() if not halo.box}
        changed = {key for key in before.keys() | halos.keys() if before.get(key) != halos.get(key)}
        if len(changed) > MANY:
            self.update()
            return
        dirty = QRectF()
        for key in changed:
            for halo in (before.get(key), halos.get(key)):
                if halo is not None:
                    dirty |= around(halo.points, room).translated(*self._drift.get(key, STILL))
        self.update(dirty)

    def show_drift(self, drift: Mapping[str, Point]) -> None:
        """How far some of what is marked has been dragged."""
        before, self._drift = self._drift, drift
        _update_adrift(self, before, drift, self._rects)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, seen = self.look, self.exposed(option)
        painter.setRenderHint(SMOOTH, not self._drift)
        for shown in (False, True):  # boxes over lines
            for key, halo in self._halos.items():
                if halo.box is not shown:
                    continue
                way = self._drift.get(key, STILL)
                rect = self._rects[key]
                if not meets(rect if way is STILL else rect.translated(*way), seen):
                    continue
                painter.translate(*way)
                self._paint(painter, look, key, halo)
                painter.translate(-way[0], -way[1])
        painter.setRenderHint(SMOOTH)

    def _paint(self, painter: QPainter, look: Look, key: str, halo: Halo) -> None:
        colour = QColor(look.colour(halo.token))
        colour.setAlphaF(halo.opacity)
        if halo.box:
            room = 7.0 * look.px
            painter.setPen(NO_PEN)
            painter.setBrush(colour)
            painter.drawRoundedRect(around(halo.points, room), room, room)
            return
        stroke = QPen(colour, HALO_PX * look.px)
        stroke.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        stroke.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(stroke)
        painter.setBrush(NO_BRUSH)
        painter.drawPath(self._paths[key])


class OverlayLayer(Layer):
    """Selection marks, hover marks and what the tool in hand shows."""

    def __init__(self) -> None:
        super().__init__(Z_TOOL)
        self.overlay = Overlay()
        self.ghosts: list[PartPlan | StorePlan | PipePlan] = []
        self._boxes: dict[str, UnitBox] = {}
        self._handles: dict[str, Sequence[Point]] = {}
        self._look: Look | None = None
        self._rects: dict[str, QRectF] = {}
        self._drift: Mapping[str, Point] = {}
        self.hover: UnitBox | None = None
        self.hover_line: Sequence[Point] = ()
        self.focus: UnitBox | None = None

    def show_chosen(self, boxes: dict[str, UnitBox], handles: dict[str, Sequence[Point]]) -> None:
        """Boxes of the chosen parts and vertices of the chosen pipes, by id."""
        before = {**self._boxes, **self._handles}
        self._boxes, self._handles = boxes, handles
        now = {**boxes, **handles}
        look = self.look
        if now == before and look == self._look:
            return
        self._look = look
        room, dirty = (HANDLE_PX + 8.0) * look.px, QRectF()
        self._rects = {key: self._reach(mark, room) for key, mark in now.items()}
        changed = {key for key in before.keys() | now.keys() if before.get(key) != now.get(key)}
        if len(changed) > MANY:
            self.update()
            return
        for key in changed:
            way = self._drift.get(key, STILL)
            for rect in (self._reach(mark, room) for mark in (before.get(key), now.get(key)) if mark):
                dirty |= rect.translated(*way)
        if not dirty.isEmpty():
            self.update(dirty)

    @staticmethod
    def _reach(mark: Any, room: float) -> QRectF:
        return around(mark, room) if isinstance(mark[0], tuple) else grown(mark, room)

    def show_drift(self, drift: Mapping[str, Point]) -> None:
        """How far some of what is marked has been dragged."""
        before, self._drift = self._drift, drift
        _update_adrift(self, before, drift, self._rects)

    def show_hover(self, box: UnitBox | None, line: Sequence[Point] = ()) -> None:
        """An outline round what the pointer is on."""
        if (box, tuple(line)) == (self.hover, tuple(self.hover_line)):
            return
        room = 12.0 * self.look.px
        for old_box, old_line in ((self.hover, self.hover_line), (box, line)):
            if old_box:
                self.update(grown(old_box, room))
            if len(old_line) > 1:
                self.update(around(old_line, room))
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
        out = [around([to_units(p) for p in line.points], 8 * px) for line in overlay.lines if line.points]
        out += [around([to_units(ring.at)], 12 * px) for ring in overlay.rings]
        if overlay.frame is not None:
            out.append(around([to_units(p) for p in overlay.frame], 4 * px))
        if overlay.words:
            x, y = to_units(overlay.words_at)
            lines = overlay.words.splitlines()
            wide = max(width_px(line, 12.0, 500) for line in lines) + 30
            out.append(QRectF(x, y, wide * px, (32 + 15 * len(lines)) * px))
        for ghost in ghosts:
            if isinstance(ghost, PipePlan):
                out.append(around(ghost.points, 30.0))
            else:
                out.append(grown(ghost.box, 40.0 + 12 * px))
        return out

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, px = self.look, self.look.px
        accent = look.colour("accent")
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if self.hover:
            painter.setPen(pen(accent, 1.4 * px))
            painter.drawRoundedRect(grown(self.hover, 3.0 * px), 3 * px, 3 * px)
        if len(self.hover_line) > 1:
            glow = QColor(accent)
            glow.setAlphaF(0.22)
            painter.setPen(QPen(glow, 9.0 * px, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawPolyline(QPolygonF([QPointF(*p) for p in self.hover_line]))
        self._chosen(painter, self.exposed(option), px, accent, look.colour("paper"))
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

    def _chosen(self, painter: QPainter, seen: Sequence[QRectF], px: float, accent: str, paper: str) -> None:
        painter.setRenderHint(SMOOTH, not self._drift)
        for key, rect in self._rects.items():
            way = self._drift.get(key, STILL)
            if not meets(rect if way is STILL else rect.translated(*way), seen):
                continue
            painter.translate(*way)
            if key in self._boxes:
                self._frame(painter, self._boxes[key], px, accent, paper)
            else:
                _squares(painter, self._handles[key], 6.5 * px, accent, paper, px)
            painter.translate(-way[0], -way[1])
        painter.setRenderHint(SMOOTH)

    @staticmethod
    def _frame(painter: QPainter, box: UnitBox, px: float, accent: str, paper: str) -> None:
        frame = grown(box, 5.0 * px)
        painter.setBrush(NO_BRUSH)
        painter.setPen(pen(accent, 1.6 * px, (4.0, 2.5)))
        painter.drawRect(frame)
        corners = [(x, y) for y in (frame.top(), frame.bottom()) for x in (frame.left(), frame.right())]
        _squares(painter, corners, HANDLE_PX * px, accent, paper, px)

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


def _update_adrift(
    layer: Layer, before: Mapping[str, Point], now: Mapping[str, Point], rects: Mapping[str, QRectF]
) -> None:
    """Have a layer painted anew where marks were and where they have got to."""
    if len(rects) > MANY:
        if before != now:
            layer.update()
        return
    dirty = QRectF()
    for key, rect in rects.items():
        old, new = before.get(key, STILL), now.get(key, STILL)
        if old != new:
            dirty |= rect.translated(*old) | rect.translated(*new)
    if not dirty.isEmpty():
        layer.update(dirty)


def meets(rect: QRectF, seen: Sequence[QRectF]) -> bool:
    """Whether a rectangle meets any of those exposed."""
    return any(map(rect.intersects, seen))


def _squares(painter: QPainter, places: Sequence[Point], size: float, edge: str, fill: str, px: float) -> None:
    painter.setPen(pen(edge, 1.4 * px))
    painter.setBrush(brush(fill))
    half = size / 2
    painter.drawRects([QRectF(x - half, y - half, size, size) for x, y in places])


def _path(points: Sequence[Point]) -> QPainterPath:
    path = QPainterPath(QPointF(*points[0]))
    for x, y in points[1:]:
        path.lineTo(x, y)
    return path


def around(points: Sequence[Point], room: float) -> QRectF:
    """The box round some points, with room on every side."""
    xs, ys = zip(*points)
    x0, y0 = min(xs) - room, min(ys) - room
    return QRectF(x0, y0, max(xs) + room - x0, max(ys) + room - y0)


def grown(box: UnitBox, by: float) -> QRectF:
    """A box with more room on every side."""
    x0, y0, x1, y1 = box
    return QRectF(x0 - by, y0 - by, x1 - x0 + 2 * by, y1 - y0 + 2 * by)
