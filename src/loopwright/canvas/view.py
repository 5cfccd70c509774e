"""The window onto a sheet: zoom at the pointer, pan, grid, floors, rulers, and pointer events for the tool in
hand.

Owns the transform and the translation of Qt events into tool events. Refuses to know what a tool does with
them.
"""

from __future__ import annotations

from math import floor

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QEnterEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QFrame, QGraphicsView, QWidget

from loopwright.canvas.ground import draw_ground
from loopwright.canvas.rulers import RULER_HEIGHT, RULER_WIDTH, Corner, FloorNames, HeightRuler, LengthRuler
from loopwright.canvas.scene import REST_MS, SheetScene
from loopwright.canvas.tools.base import Button, Event, EventKind, Hit, Tool
from loopwright.drawing.look import PX_AT_FULL, Look, Point, to_metres, to_units

LEAST_ZOOM, MOST_ZOOM = 0.08, 8.0
LOOK_BAND = 0.13
"""While zooming the look is kept within this band and pens scale with the view; the exact look follows at
rest."""
WORDS_FROM = 0.35
"""From this zoom on names are written."""
FIT_ROOM_PX, WORDS_ROOM_PX, CLEAR_PX = 48, 16, 8
"""Room round the outermost part, and round the outermost words."""
BLANK_LEFT_M, BLANK_BELOW = 0.3, 0.12
"""Of an empty sheet: how much lies left of nought, and the share of the view that lies below the ground."""
FRAME_MS = 16
"""Within a gesture moves of the pointer wait for the frame of the last one, this long at most, and count as one."""
HAND_RESTS_MS = 80
"""So long after a move within a gesture the tool is told that the hand rests."""
_KEYS = {
    Qt.Key.Key_Escape: "escape",
    Qt.Key.Key_Return: "enter",
    Qt.Key.Key_Enter: "enter",
    Qt.Key.Key_Backspace: "backspace",
    Qt.Key.Key_Delete: "delete",
    Qt.Key.Key_Left: "left",
    Qt.Key.Key_Right: "right",
    Qt.Key.Key_Up: "up",
    Qt.Key.Key_Down: "down",
    Qt.Key.Key_Tab: "tab",
    Qt.Key.Key_Backtab: "backtab",
}
_BUTTONS: dict[Qt.MouseButton, Button] = {
    Qt.MouseButton.LeftButton: "left",
    Qt.MouseButton.RightButton: "right",
    Qt.MouseButton.MiddleButton: "middle",
}


class SheetView(QGraphicsView):
    """Shows a `SheetScene`. Set `tool` to the tool that gets the events."""

    pointer_moved = Signal(float, float)
    """x_m, height_m under the pointer."""
    zoom_changed = Signal(float)
    """1.0 is 100 %."""
    menu_wanted = Signal(object, QPoint)
    """The Hit under the pointer or None, and the place on the screen."""
    key_pressed = Signal(str)
    """A key that the tool may want and that is no command of the window, for those who watch."""

    def __init__(self, scene: SheetScene, parent: QWidget | None = None) -> None:
        super().__init__(scene, parent)
        self.sheet_scene = scene
        self.tool: Tool | None = None
        self._panning: QPoint | None = None
        self._painted = True
        """Whether what the last move within a gesture made has been painted."""
        self._late: tuple[QPointF, Qt.KeyboardModifier] | None = None
        self._space = False
        self._last_pointer: QPointF | None = None
        self._pinned: list[QWidget] = []
        self.floor_names = FloorNames(self)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setInteractive(False)
        self.setMouseTracking(True)
        self.viewport().setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.BoundingRectViewportUpdate)
        self.setOptimizationFlags(
            QGraphicsView.OptimizationFlag.DontSavePainterState
            | QGraphicsView.OptimizationFlag.DontAdjustForAntialiasing
        )
        self.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setResizeAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Sheet")
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._exact_look)
        self._catch_up, self._still = QTimer(self), QTimer(self)
        for timer, wait_ms, then in (
            (self._catch_up, FRAME_MS, self._take_late_move),
            (self._still, HAND_RESTS_MS, self._hand_rests),
        ):
            timer.setSingleShot(True)
            timer.setInterval(wait_ms)
            timer.timeout.connect(then)
        self.heights = HeightRuler(self)
        self.lengths = LengthRuler(self)
        self.corner = Corner(self)
        self.setViewportMargins(RULER_WIDTH, 0, 0, RULER_HEIGHT)
        self.horizontalScrollBar().valueChanged.connect(self._scrolled)
        self.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.set_zoom(1.0)
        self.centerOn(*to_units((4.0, 2.5)))

    # ---- zoom and pan

    @property
    def zoom(self) -> float:
        """1.0 at 100 %."""
        return self.transform().m11() / PX_AT_FULL

    @property
    def metres_a_px(self) -> float:
        """Length of a pixel on the sheet."""
        return 0.01 / self.transform().m11()

    def set_zoom(self, zoom: float, about: QPointF | None = None) -> None:
        """Zoom, keeping the place under `about` (viewport pixels; the middle if None) where it is."""
        zoom = min(max(zoom, LEAST_ZOOM), MOST_ZOOM)
        spot = about if about is not None else QPointF(self.viewport().width() / 2, self.viewport().height() / 2)
        before = self._scene_at(spot)
        scale = zoom * PX_AT_FULL
        self.setTransform(QTransform.fromScale(scale, scale))
        after = self._scene_at(spot)
        moved = before - after
        self._scroll(moved.x() * scale, moved.y() * scale)
        look = self.sheet_scene.look
        if abs(scale / look.px_a_unit - 1.0) > LOOK_BAND or look.paper:
            self.sheet_scene.set_look(Look(scale, look.palette), resting=False)
        self._rest.start()
        self._scrolled()
        self.zoom_changed.emit(self.zoom)

    def _exact_look(self) -> None:
        self._rest.stop()
        self.sheet_scene.set_look(Look(self.transform().m11(), self.sheet_scene.look.palette))

    def _scene_at(self, spot: QPointF) -> QPointF:
        inverse, _ = self.viewportTransform().inverted()
        return inverse.map(spot)

    def _scroll(self, dx: float, dy: float) -> None:
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        across.setValue(across.value() + round(dx))
        down.setValue(down.value() + round(dy))

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Move the sheet under the view by pixels."""
        self._scroll(-dx_px, -dy_px)

    def fit(self) -> None:
        """Show the whole sheet, at 200 % at most; of an empty one, the ground and a storey or two above
        it."""
        sheet = self.sheet_scene.sheet
        if not (sheet.parts or sheet.pipes or sheet.notes):
            self._show_ground()
            return
        bounds = self.sheet_scene.plan().bounds()
        self._fit_to(bounds, FIT_ROOM_PX)
        paged = self.sheet_scene.page_layer.framed  # all of the page is worth more than words on the sheet
        least = LEAST_ZOOM if paged or self.zoom < WORDS_FROM - 1e-6 else WORDS_FROM
        for room in (
            FIT_ROOM_PX - WORDS_ROOM_PX,
            0,
        ):  # how far words reach is known only at a zoom, and they find other places at another
            words = self.sheet_scene.words_bounds()
            if words is None:
                break
            scale = self.transform().m11()
            more, clear = room / scale, CLEAR_PX / scale
            ends = tuple(min(a - more, b) for a, b in zip(bounds[:2], words[:2]))
            ends += tuple(max(a + more, b) for a, b in zip(bounds[2:], words[2:]))
            if self._shows((words[0] - clear, words[1] - clear, words[2] + clear, words[3] + clear)):
                break
            self._fit_to(ends, WORDS_ROOM_PX, least, most=self.zoom)
        self._scrolled()

    def _shows(self, bounds: tuple[float, ...]) -> bool:
        """Whether all of a box of drawing units is in the view."""
        seen = self.mapToScene(self.viewport().rect()).boundingRect()
        return seen.contains(QRectF(bounds[0], bounds[1], bounds[2] - bounds[0], bounds[3] - bounds[1]))

    def show_box(self, bounds: tuple[float, float, float, float] | None) -> None:
        """Bring a box of drawing units as near as it goes, at 200 % at most; nothing for None."""
        if bounds is not None:
            self._fit_to(bounds, FIT_ROOM_PX)
            self._scrolled()

    def _fit_to(self, bounds: tuple[float, ...], room_px: float, least: float = LEAST_ZOOM, most: float = 2.0) -> None:
        x0, y0, x1, y1 = bounds
        width = max(self.viewport().width() - 2 * room_px, 50)
        height = max(self.viewport().height() - 2 * room_px, 50)
        scale = min(width / max(x1 - x0, 1.0), height / max(y1 - y0, 1.0), most * PX_AT_FULL)
        self.set_zoom(max(floor(scale / PX_AT_FULL * 100) / 100, least))  # a whole per cent, as it is shown
        self.centerOn(QPointF((x0 + x1) / 2, (y0 + y1) / 2))
        self._exact_look()

    def _show_ground(self) -> None:
        self.set_zoom(1.0)
        wide, high = (side * self.metres_a_px for side in (self.viewport().width(), self.viewport().height()))
        self.centre_on((wide / 2 - BLANK_LEFT_M, high * (0.5 - BLANK_BELOW)))
        self._exact_look()
        self._scrolled()

    def centre_on(self, at: Point) -> None:
        """Bring a place (metres) to the middle of the view."""
        self.centerOn(QPointF(*to_units(at)))

    def reveal(self, at: Point) -> None:
        """Scroll by the least that shows a place (metres)."""
        x, y = to_units(at)
        self.ensureVisible(QRectF(x - 20, y - 20, 40, 40), 60, 60)

    def set_palette(self, palette: str) -> None:
        """Light or dark."""
        self.sheet_scene.set_palette("dark" if palette == "dark" else "light")
        for widget in (self.heights, self.lengths, self.corner):
            widget.update()
        self.viewport().update()

    def _scrolled(self) -> None:
        self.heights.update()
        self.lengths.update()

    def scrollContentsBy(self, dx: int, dy: int) -> None:
        places = [widget.pos() for widget in self._pinned]
        super().scrollContentsBy(dx, dy)  # moves what is painted, and the children of the viewport too
        for widget, place in zip(self._pinned, places):
            widget.move(place)
        self.floor_names.scrolled(dx)

    def pin(self, widget: QWidget) -> None:
        """Leave a child of the viewport where it is when the sheet moves under it."""
        self._pinned.append(widget)

    def paintEvent(self, event: QPaintEvent) -> None:
        region = event.region()
        self.sheet_scene.exposed = [self.mapToScene(rect).boundingRect() for rect in region]  # type: ignore[attr-defined]
        super().paintEvent(event)
        self.sheet_scene.exposed = []
        self._painted = True
        if self._late is not None:
            self._catch_up.start(0)

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        painter.save()
        painter.resetTransform()
        self.floor_names.paint(painter)
        painter.restore()

    def drawBackground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        scene = self.sheet_scene
        draw_ground(painter, QRectF(rect), scene.look, self.transform().m11(), scene.floors)

    # ---- events

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        port = self.viewport().geometry()
        self.heights.setGeometry(0, port.top(), RULER_WIDTH, port.height())
        self.lengths.setGeometry(port.left(), port.bottom() + 1, port.width(), RULER_HEIGHT)
        self.corner.setGeometry(0, port.bottom() + 1, RULER_WIDTH, RULER_HEIGHT)

    def wheelEvent(self, event: QWheelEvent) -> None:
        steps, mods = event.angleDelta(), event.modifiers()
        if mods & Qt.KeyboardModifier.ShiftModifier:
            self._scroll(-(steps.y() or steps.x()) / 2, 0.0)
        elif event.pixelDelta().y() and not mods & Qt.KeyboardModifier.ControlModifier:
            self._scroll(-event.pixelDelta().x(), -event.pixelDelta().y())
        elif steps.y():
            self.set_zoom(self.zoom * 1.0015 ** steps.y(), event.position())
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton or (
            event.button() == Qt.MouseButton.LeftButton and self._space
        ):
            self._panning = event.position().toPoint()
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            return
        self._feed("press", event.position(), event.modifiers(), event.button())
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        spot = event.position().toPoint()
        if self._panning is not None:
            self.pan(spot.x() - self._panning.x(), spot.y() - self._panning.y())
            self._panning = spot
            return
        self._point(event.position())
        if self.tool is not None and self.tool.busy and not self._painted and self.isVisible():
            self._late = (event.position(), event.modifiers())
            if not self._catch_up.isActive():
                self._catch_up.start(FRAME_MS)
        else:
            self._late = None
            self._feed("move", event.position(), event.modifiers())
        event.accept()

    def _take_late_move(self) -> None:
        """The last of the moves that waited for a frame; the others are passed over."""
        self._catch_up.stop()
        if self._late is not None:
            late, self._late = self._late, None
            self._feed("move", *late)

    def _hand_rests(self) -> None:
        if self.tool is not None and self.tool.busy and self._last_pointer is not None:
            self.tool.feed(Event("rest", self.metres(self._last_pointer)))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._panning is not None:
            self._panning = None
            self._cursor()
            return
        self._feed("release", event.position(), event.modifiers(), event.button())
        event.accept()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._feed("double", event.position(), event.modifiers(), event.button())
        event.accept()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        at = self.metres(QPointF(event.pos()))
        self.menu_wanted.emit(self.hit(at), event.globalPos())

    def leaveEvent(self, event: QEvent) -> None:
        self._take_late_move()
        self._point(None)
        if self.tool is not None:
            self.tool.feed(Event("leave"))
        super().leaveEvent(event)

    def enterEvent(self, event: QEnterEvent) -> None:
        self._cursor()
        super().enterEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self._space = False
        self._take_late_move()
        if self.tool is not None and event.reason() != Qt.FocusReason.PopupFocusReason:
            self.tool.lost_focus()
        super().focusOutEvent(event)

    def event(self, event: QEvent) -> bool:
        """A key that the tool in hand wants is not taken from it by a command of the same letter."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride:
            name = _KEYS.get(Qt.Key(event.key())) or event.text()
            tool = self.tool
            plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
            if tool is not None and not tool.flags and plain and name and tool.wants(name):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space:
            if not event.isAutoRepeat():
                self._space = True
                self.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
            return
        name = _KEYS.get(Qt.Key(event.key())) or event.text()
        if self.tool is None or not name or not self.tool.wants(name):
            super().keyPressEvent(event)
            return
        self._take_late_move()
        spot = self._last_pointer
        at = self.metres(spot) if spot is not None else self.metres(QPointF(self.viewport().rect().center()))
        px = (spot.x(), spot.y()) if spot is not None else None
        self.tool.feed(Event("key", at, px, None, _modifiers(event.modifiers()), "", name))
        self.key_pressed.emit(name)
        event.accept()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._cursor()
            return
        super().keyReleaseEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab goes to the next part while the sheet has one and the tool wants it; else on to the next
        field."""
        if self.tool is not None and self.tool.wants("tab" if forward else "backtab"):
            return False
        return super().focusNextPrevChild(forward)

    def set_tool(self, tool: Tool | None) -> None:
        """Take another tool in hand; the one put down lets go of its gesture."""
        if self.tool is not None and self.tool is not tool:
            self.tool.abandon()
        self.tool = tool
        self._cursor()

    @property
    def pointer(self) -> Point | None:
        """The place under the pointer in metres, or None while it is elsewhere."""
        return None if self._last_pointer is None else self.metres(self._last_pointer)

    def metres(self, spot: QPointF) -> Point:
        """A place of the viewport as (x_m, height_m)."""
        at = self._scene_at(spot)
        return to_metres((at.x(), at.y()))

    def hit(self, at: Point, ignore: frozenset[str] = frozenset()) -> Hit | None:
        """What lies at a place in metres."""
        flags = self.tool is None or self.tool.flags
        return self.sheet_scene.hit(at, self.metres_a_px, ignore, flags)

    def _feed(
        self,
        kind: EventKind,
        spot: QPointF,
        modifiers: Qt.KeyboardModifier,
        button: Qt.MouseButton = Qt.MouseButton.NoButton,
    ) -> None:
        if kind != "move":
            self._take_late_move()
        if self.tool is None:
            return
        at = self.metres(spot)
        mods = _modifiers(modifiers)
        self.tool.feed(Event(kind, at, (spot.x(), spot.y()), self.hit(at), mods, _BUTTONS.get(button, "")))
        if kind == "move" and self.tool is not None and self.tool.busy:
            self._painted = False
            self._still.start()

    def _point(self, spot: QPointF | None) -> None:
        self._last_pointer = spot
        self.heights.point_at(None if spot is None else spot.y())
        self.lengths.point_at(None if spot is None else spot.x())
        if spot is not None:
            self.pointer_moved.emit(*self.metres(spot))

    def _cursor(self) -> None:
        shapes = {"cross": Qt.CursorShape.CrossCursor, "hand": Qt.CursorShape.OpenHandCursor}
        name = self.tool.cursor if self.tool is not None else "arrow"
        self.viewport().setCursor(shapes.get(name, Qt.CursorShape.ArrowCursor))


def _modifiers(mods: Qt.KeyboardModifier) -> frozenset[str]:
    names = (
        ("shift", Qt.KeyboardModifier.ShiftModifier),
        ("ctrl", Qt.KeyboardModifier.ControlModifier),
        ("alt", Qt.KeyboardModifier.AltModifier),
    )
    return frozenset(name for name, flag in names if mods & flag)
