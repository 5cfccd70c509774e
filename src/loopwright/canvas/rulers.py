"""The rulers beside the sheet and the names of its floors, as widgets of the view.

Owns their ticks and figures. They scroll with the sheet but never with the view's blit, so they are no part
of the scene.
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QContextMenuEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from loopwright.canvas.fonts import sheet_font
from loopwright.drawing.widths import width_px

if TYPE_CHECKING:
    from loopwright.canvas.view import SheetView

RULER_WIDTH, RULER_HEIGHT = 44, 20
FIGURE_PX = 11
FIGURE_ROOM_PX = 7
"""A figure nearer to the end of a ruler than this would be cut."""
UNIT_ROOM_PX = 20
"""The unit stands above the figures."""
NAMED_FROM_PX = 8.5
"""A thinner slab has no room for its name: below the zoom from which parts have theirs."""
FLOOR_REACH_PX, FLOOR_SNAP_M = 8.0, 0.05
FOOT_M = 0.3048


class _Ruler(QWidget):
    """What both rulers share: steps by zoom, the pointer's tick, colours."""

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self.view = view
        self.pointer: float | None = None

    def point_at(self, place: float | None) -> None:
        """Show the pointer's tick at a pixel, or none."""
        if place != self.pointer:
            self.pointer = place
            self.update()

    @property
    def imperial(self) -> bool:
        """Whether the ruler is in feet."""
        return self.view.sheet_scene.system == "imperial"

    @property
    def unit_m(self) -> float:
        """Metres to a unit of the ruler."""
        return FOOT_M if self.imperial else 1.0

    def steps(self) -> tuple[float, float, float]:
        """Units between short ticks, long ticks and figures."""
        zoom = self.view.zoom
        if self.imperial:
            if zoom >= 1.0:
                return (1 / 12 if zoom >= 2.5 else 0.25), 0.5, 1.0
            if zoom >= 0.4:
                return 0.5, 1.0, 2.0
            return (1.0, 5.0, 5.0) if zoom >= 0.25 else (5.0, 10.0, 10.0)
        if zoom >= 2.5:
            return 0.05, 0.1, 0.5
        if zoom >= 0.4:
            return 0.1, 0.5, 1.0
        return (0.5, 1.0, 1.0) if zoom >= 0.25 else (1.0, 5.0, 5.0)

    def colour(self, token: str) -> QColor:
        """A token's colour in the scene's palette."""
        return QColor(self.view.sheet_scene.look.colour(token))

    def begin(self) -> QPainter:
        """A painter on the ruler's ground."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), self.colour("chrome"))
        painter.setFont(sheet_font(FIGURE_PX, 400))
        return painter


class HeightRuler(_Ruler):
    """Heights at the left, with a triangle at each floor that can be dragged."""

    floor_moved = Signal(str, float)
    """A floor is being dragged: its name and the height it would have."""
    floor_dropped = Signal(str, float)
    menu_wanted = Signal(str, float, QPoint)
    """The floor at the pointer or nothing, the height there, and the place on the screen."""

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self._held = ""
        self.setMouseTracking(True)
        self.setAccessibleName("Heights and floors")
        self.setToolTip("Drag a floor's mark to move it; right click to add, rename or remove a floor")

    def height_at(self, y: float, free: bool = False) -> float:
        """The height at a pixel, on the snap unless `free`."""
        height = self.view.metres(QPointF(0.0, y))[1]
        return round(height, 3) if free else round(round(height / FLOOR_SNAP_M) * FLOOR_SNAP_M, 3)

    def floor_at(self, y: float) -> str:
        """The floor whose mark is at a pixel, or nothing."""
        near = [
            (abs(self.view.viewportTransform().map(QPointF(0.0, level.y)).y() - y), level.name)
            for level in self.view.sheet_scene.floors
        ]
        return min(near)[1] if near and min(near)[0] <= FLOOR_REACH_PX else ""

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._held = self.floor_at(event.position().y())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        y = event.position().y()
        self.point_at(y)
        if self._held:
            self.floor_moved.emit(self._held, self.height_at(y, _free(event)))
        else:
            over = bool(self.floor_at(y))
            self.setCursor(Qt.CursorShape.SizeVerCursor if over else Qt.CursorShape.ArrowCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        held, self._held = self._held, ""
        if held:
            self.floor_dropped.emit(held, self.height_at(event.position().y(), _free(event)))

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        y = float(event.pos().y())
        self.menu_wanted.emit(self.floor_at(y), self.height_at(y), event.globalPos())

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.begin() as painter:
            short, long, figures = self.steps()
            top = self.view.metres(QPointF(0, 0))[1] / self.unit_m
            foot = self.view.metres(QPointF(0, self.height()))[1] / self.unit_m
            scale = self.height() / max(top - foot, 1e-9)
            edge = self.width() - 1
            painter.setPen(QPen(self.colour("line"), 1))
            painter.drawLine(edge, 0, edge, self.height())
            ink, faint = self.colour("ink2"), self.colour("line2")
            for k in range(floor(foot / short), ceil(top / short) + 1):
                height = k * short
                y = round((top - height) * scale) + 0.5
                of_long = abs(height / long - round(height / long)) < 1e-6
                of_figure = abs(height / figures - round(height / figures)) < 1e-6
                painter.setPen(QPen(faint, 1))
                painter.drawLine(QPointF(edge - (12 if of_figure else 8 if of_long else 4), y), QPointF(edge, y))
                if of_figure:
                    words = f"{height:g}" if abs(height) > 1e-9 else "0"
                    painter.setPen(ink)
                    if UNIT_ROOM_PX < y < self.height() - FIGURE_ROOM_PX:  # never half a figure
                        painter.drawText(QPointF(edge - 16 - width_px(words, FIGURE_PX), y + 4), words)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setBrush(ink)
            for level in self.view.sheet_scene.floors:
                y = (top + level.y / 100.0 / self.unit_m) * scale
                painter.drawPolygon(QPolygonF([QPointF(edge, y), QPointF(edge - 6, y - 4), QPointF(edge - 6, y + 4)]))
            if self.pointer is not None:
                painter.setPen(QPen(self.colour("accent"), 2))
                painter.drawLine(QPointF(edge - 18, self.pointer), QPointF(edge, self.pointer))
            painter.setPen(self.colour("ink3"))
            painter.drawText(QPointF(6, 13), "ft" if self.imperial else "m")


class LengthRuler(_Ruler):
    """Lengths below."""

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.begin() as painter:
            short, long, figures = self.steps()
            left = self.view.metres(QPointF(0, 0))[0] / self.unit_m
            right = self.view.metres(QPointF(self.width(), 0))[0] / self.unit_m
            scale = self.width() / max(right - left, 1e-9)
            painter.setPen(QPen(self.colour("line"), 1))
            painter.drawLine(0, 0, self.width(), 0)
            ink, faint = self.colour("ink2"), self.colour("line2")
            for k in range(floor(left / short), ceil(right / short) + 1):
                at = k * short
                x = round((at - left) * scale) + 0.5
                of_long = abs(at / long - round(at / long)) < 1e-6
                of_figure = abs(at / figures - round(at / figures)) < 1e-6
                painter.setPen(QPen(faint, 1))
                painter.drawLine(QPointF(x, 0), QPointF(x, 9 if of_figure else 6 if of_long else 3))
                if of_figure:
                    painter.setPen(ink)
                    words = f"{at:g}" if abs(at) > 1e-9 else "0"
                    if x > -3 and x + 4 + width_px(words, FIGURE_PX) < self.width():
                        painter.drawText(QPointF(x + 3, 15), words)
            if self.pointer is not None:
                painter.setPen(QPen(self.colour("accent"), 2))
                painter.drawLine(QPointF(self.pointer, 0), QPointF(self.pointer, 14))


def _free(event: QMouseEvent) -> bool:
    return bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)


class Corner(QWidget):
    """The corner between the rulers."""

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self.view = view

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), QColor(self.view.sheet_scene.look.colour("chrome")))


class FloorNames:
    """Names and heights of the floors, pinned to the left edge of the view: part of its foreground.

    They are no widget: over any other, Qt paints the whole sheet anew at every step of a pan rather than moving it.
    """

    def __init__(self, view: SheetView) -> None:
        self.view = view

    def places(self) -> list[tuple[QRectF, str]]:
        """The plate of each name that is in view, in pixels of the viewport, and the name."""
        view, out = self.view, []
        thick = 20.0 * view.transform().m11()
        if thick < NAMED_FROM_PX:
            return []
        for level in view.sheet_scene.floors:
            y = view.viewportTransform().map(QPointF(0.0, level.y)).y()
            if -thick < y < view.viewport().height():
                plate = QRectF(5, y + thick / 2 - 6, width_px(level.words, FIGURE_PX, 600) + 8, 12)
                out.append((plate, level.words))
        return out

    def scrolled(self, dx: int) -> None:
        """The sheet has been moved under the names, and a picture of them along with it: paint both places anew."""
        if dx:
            for plate, _ in self.places():
                room = plate.adjusted(-2, -3, 2, 3).toAlignedRect()
                self.view.viewport().update(room)
                self.view.viewport().update(room.translated(dx, 0))

    def paint(self, painter: QPainter) -> None:
        """Paint them with a painter of the viewport, in its pixels."""
        look = self.view.sheet_scene.look
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # plates end on whole pixels
        painter.setFont(sheet_font(FIGURE_PX, 600))
        for plate, words in self.places():
            painter.fillRect(plate, QColor(look.colour("floorfill")))
            painter.setPen(QColor(look.colour("ink2")))
            painter.drawText(QPointF(9, plate.center().y() + FIGURE_PX * 0.35), words)
