"""What is pinned over the sheet: the key of lines, and a small map of the whole.

Owns the two widgets. They are no part of the scene, and the view leaves them in place when it scrolls.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPaintDevice, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QWidget

from loopwright.canvas.fonts import sheet_font
from loopwright.canvas.painter import QtPlotter
from loopwright.drawing.frame import services_used
from loopwright.drawing.look import Look, ServiceLook, service_look, to_metres
from loopwright.drawing.widths import width_px

if TYPE_CHECKING:
    from loopwright.canvas.view import SheetView

EDGE, GAP = 12, 10
ROW, SAMPLE, HEAD = 18, 52, 26
"""A sample is as long as the longest dash with what follows it, so that each reads as it does on the sheet."""
MAP_WIDE, MAP_HIGH = 200, 150


class _Pinned(QWidget):
    """A card in a corner of the view, out of the way of a view too small for it."""

    right = True
    top = True

    def __init__(self, view: SheetView) -> None:
        super().__init__(view.viewport())  # over the viewport as its sibling, it would have every pan painted anew
        self.view = view
        self.wanted = False
        view.pin(self)
        view.viewport().installEventFilter(self)
        self.hide()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize:
            self.settle()
        return False

    def set_shown(self, shown: bool) -> None:
        """Show it or put it away."""
        self.wanted = shown
        self.settle()

    def settle(self) -> None:
        """Take the corner, if there is room."""
        room = self.view.viewport().rect()
        self.setVisible(self.wanted and room.width() > 2 * self.width() and room.height() > self.height() + 4 * EDGE)
        x = room.width() - self.width() - EDGE if self.right else EDGE
        y = EDGE if self.top else room.height() - self.height() - EDGE
        self.move(room.left() + x, room.top() + y)
        self.raise_()

    def card(self, on: QPaintDevice | None = None) -> QPainter:
        """A painter on the card's ground."""
        look = self.view.sheet_scene.look
        painter = QPainter(on or self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(look.colour("line")), 1))
        painter.setBrush(QColor(look.colour("panel")))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
        return painter


class Legend(_Pinned):
    """The services on the sheet with their lines, in the corner where it covers least, or where it was dragged."""

    dragged = Signal(str)
    """Its new place, to be kept for `put_back`."""

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self.setAccessibleName("Key of lines")
        self.setCursor(Qt.CursorShape.SizeAllCursor)
        self.setToolTip("Drag it where it is out of the way; double click puts it back in a corner")
        self.rows: list[ServiceLook] = []
        self._place: tuple[float, float] | None = None
        """Where it was dragged: shares of the room beside it and above it."""
        self._corner: tuple[bool, bool] | None = None
        self._held: QPointF | None = None

    def put_back(self, place: str) -> None:
        """Take a place that `dragged` gave; any other words mean a corner of its own choice."""
        parts = place.split()
        try:
            x, y = (min(max(float(part), 0.0), 1.0) for part in parts)
            self._place = (x, y)
        except ValueError:
            self._place = None

    def _room(self) -> tuple[int, int, int, int]:
        """Left, top, and how far it can go right and down."""
        room = self.view.viewport().rect()
        wide, high = room.width() - self.width() - 2 * EDGE, room.height() - self.height() - 2 * EDGE
        return room.left() + EDGE, room.top() + EDGE, max(wide, 1), max(high, 1)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._held = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._held is not None:
            left, top, wide, high = self._room()
            at = self.mapToParent(event.position()) - self._held
            self._place = (min(max((at.x() - left) / wide, 0.0), 1.0), min(max((at.y() - top) / high, 0.0), 1.0))
            self.settle()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._held is not None and self._place is not None:
            self.dragged.emit(f"{self._place[0]:.4f} {self._place[1]:.4f}")
        self._held = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._place = self._corner = self._held = None
        self.settle()
        self.dragged.emit("")

    def seek_corner(self) -> None:
        """The view shows something else: choose a corner anew."""
        self._corner = None
        if self.wanted:
            self.settle()

    def _free_corner(self) -> tuple[bool, bool]:
        """(right, top) of the corner where it covers least; the one it has while that covers nothing."""
        view = self.view
        left, top, wide, high = self._room()
        corners = [(True, True), (False, True), (True, False), (False, False)]

        def cost(corner: tuple[bool, bool]) -> int:
            spot = QPoint(left + (wide if corner[0] else 0), top + (0 if corner[1] else high))
            seen = view.mapToScene(QRect(spot, self.size())).boundingRect()
            return view.sheet_scene.count_in(seen.left(), seen.top(), seen.right(), seen.bottom())

        return min(corners, key=cost)

    def refresh(self) -> None:
        """Take the services of the sheet as it is shown."""
        scene = self.view.sheet_scene
        rows = services_used(scene.plan())
        if rows != self.rows:
            self.rows = rows
            wide = max((width_px(row.words, 11.5) for row in rows), default=40.0)
            self.resize(round(GAP * 3 + SAMPLE + wide + 6), HEAD + ROW * len(rows) + 8)
            self.setAccessibleDescription(", ".join(row.words for row in rows))
        self.settle()
        self.update()

    def settle(self) -> None:
        left, top, wide, high = self._room()
        if self._place is None and self._corner is None and self.rows and self.wanted:
            self._corner = self._free_corner()
        right, above = self._corner or (True, True)
        x, y = self._place or (float(right), float(not above))
        super().settle()
        self.move(round(left + x * wide), round(top + y * high))
        if not self.rows:
            self.hide()

    def paintEvent(self, event: QPaintEvent) -> None:
        look = Look(1.0, self.view.sheet_scene.look.palette)
        with self.card() as painter:
            painter.setFont(sheet_font(12, 600))
            painter.setPen(QColor(look.colour("ink")))
            painter.drawText(QPointF(GAP, 18), "Services")
            plot = QtPlotter(look)
            for k, row in enumerate(self.rows):
                y = HEAD + ROW * (k + 0.5)
                plot.line([(GAP, y), (GAP + SAMPLE, y)], row.token, row.mm, row.dash)
                if row.cased:
                    dash = tuple(d / 0.32 for d in row.dash)
                    plot.line([(GAP, y), (GAP + SAMPLE, y)], "paper", row.mm * 0.32, dash)
                plot.text(2 * GAP + SAMPLE, y, row.words, 11.5, 400, "ink2", 0, "start")
            plot.paint(painter)


class Overview(_Pinned):
    """The whole sheet small, with a frame round what is seen. Click or drag to go there."""

    right = False
    top = False

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self.resize(MAP_WIDE, MAP_HIGH)
        self.setAccessibleName("Map of the sheet")
        self._bounds = (0.0, 0.0, 0.0, 0.0)
        self._drawn: tuple[Look, tuple[float, float, float], QPixmap] | None = None
        """The card with the sheet on it, for a look and a place; the frame round what is seen comes over it."""
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        view.horizontalScrollBar().valueChanged.connect(self._moved)
        view.verticalScrollBar().valueChanged.connect(self._moved)
        view.zoom_changed.connect(self._moved)

    def _moved(self, _value: object) -> None:
        if self.isVisible():
            self.update()

    def refresh(self) -> None:
        """The sheet has changed."""
        self._drawn = None
        self._moved(None)

    def _frame(self) -> tuple[float, float, float]:
        """Scale, and the offsets of the map in its own pixels."""
        if self._drawn is None:
            self._bounds = self.view.sheet_scene.plan().bounds()
        x0, y0, x1, y1 = self._bounds
        seen = self._seen()
        x0, x1 = min(x0, seen.left()), max(x1, seen.right())
        y0, y1 = min(y0, seen.top()), max(y1, seen.bottom())
        scale = min((MAP_WIDE - 2 * EDGE) / max(x1 - x0, 1.0), (MAP_HIGH - 2 * EDGE) / max(y1 - y0, 1.0))
        return scale, MAP_WIDE / 2 - (x0 + x1) / 2 * scale, MAP_HIGH / 2 - (y0 + y1) / 2 * scale

    def _seen(self) -> QRectF:
        """What the view shows, in drawing units."""
        view = self.view
        return view.mapToScene(view.viewport().rect()).boundingRect()

    def paintEvent(self, event: QPaintEvent) -> None:
        look, frame = Look(1.0, self.view.sheet_scene.look.palette), self._frame()
        if self._drawn is None or self._drawn[:2] != (look, frame):
            self._drawn = (look, frame, self._picture(look, frame))
        scale, dx, dy = frame
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.drawPixmap(0, 0, self._drawn[2])
            seen = self._seen()
            fill = QColor(look.colour("accent"))
            fill.setAlphaF(0.10)
            painter.setBrush(fill)
            painter.setPen(QPen(QColor(look.colour("accent")), 1.5))
            painter.drawRect(
                QRectF(seen.left() * scale + dx, seen.top() * scale + dy, seen.width() * scale, seen.height() * scale)
            )

    def _picture(self, look: Look, frame: tuple[float, float, float]) -> QPixmap:
        scale, dx, dy = frame
        plan, ratio = self.view.sheet_scene.plan(), self.devicePixelRatioF()
        picture = QPixmap(round(self.width() * ratio), round(self.height() * ratio))
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        with self.card(picture) as painter:
            for pipe in plan.pipes.values():
                painter.setPen(QPen(QColor(look.colour(service_look(pipe.service).token)), 1.2))
                painter.drawPolyline(QPolygonF([QPointF(x * scale + dx, y * scale + dy) for x, y in pipe.points]))
            painter.setPen(QPen(QColor(look.colour("ink2")), 1))
            painter.setBrush(QColor(look.colour("field")))
            for x0, y0, x1, y1 in [p.box for p in plan.parts.values()] + [p.box for p in plan.stores.values()]:
                painter.drawRect(QRectF(x0 * scale + dx, y0 * scale + dy, (x1 - x0) * scale, (y1 - y0) * scale))
        return picture

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._go(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._go(event.position())

    def _go(self, spot: QPointF) -> None:
        scale, dx, dy = self._frame()
        self.view.centre_on(to_metres(((spot.x() - dx) / scale, (spot.y() - dy) / scale)))
        self.update()
