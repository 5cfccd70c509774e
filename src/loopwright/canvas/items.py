"""The things of a sheet as scene items: a part, a pipe, a pipe's hops, a store, a control link, a dimension.

Items own no truth. Each is given a plan and compiles it for the scene's look when it is first painted at it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QGraphicsRectItem, QStyleOptionGraphicsItem, QWidget

from loopwright.canvas.painter import NO_PEN, QtPlotter
from loopwright.drawing.dimensions import draw_dimension
from loopwright.drawing.ink import draw_hops, draw_link, draw_part, draw_pipe
from loopwright.drawing.look import Look, Point
from loopwright.drawing.plan import DimensionPlan, LinkPlan, PartPlan, PipePlan, StorePlan
from loopwright.drawing.plans import moved
from loopwright.drawing.store import draw_store

if TYPE_CHECKING:
    from loopwright.canvas.scene import SheetScene

Z_FLOOR, Z_HALO, Z_LINK, Z_PIPE, Z_HOP, Z_PART, Z_STORE, Z_MEASURE, Z_LABEL, Z_FLAG, Z_TOOL = range(11)
PIPE_ROOM, FITTING_ROOM, STORE_ROOM = 20.0, 60.0, 24.0
"""Room round a plan's own points that ink may take at the smallest zoom, drawing units."""
STILL: Point = (0.0, 0.0)


class PlanItem(QGraphicsRectItem):
    """An item that shows one plan. Its box is fixed for the smallest zoom, so zooming never changes
    geometry.

    The rectangle of the base class is that box: Qt asks for it many times a frame, and so without calling Python.
    """

    level = Z_PART

    def __init__(self, plan: Any) -> None:
        super().__init__(self.box_of(plan))
        self.setPen(NO_PEN)  # or the box would be wider by half a pen
        self.setZValue(self.level)
        self.rest = plan
        """The plan as it was given, wherever it has been moved since."""
        self.drift: Point = STILL
        """How far it has been moved from there, drawing units."""
        self.state = ""
        self._plot: QtPlotter | None = None
        self._look: Look | None = None
        self._former: tuple[Any, QtPlotter, str, Look | None] | None = None
        """The plan before, what was compiled of it, and for which state and look: an undo asks for it again."""

    @property
    def plan(self) -> Any:
        """The plan as it is shown."""
        return self.rest if self.drift == STILL else moved(self.rest, *self.drift)

    def box_of(self, plan: Any) -> QRectF:
        """The box that the item may paint in."""
        raise NotImplementedError

    def draw(self, plot: QtPlotter, look: Look) -> None:
        """Draw the plan."""
        raise NotImplementedError

    def show_plan(self, plan: Any, drift: Point = STILL) -> None:
        """Show a plan of the same thing, moved by `drift`. What was compiled for the plan serves wherever it is."""
        if plan is not self.rest and plan != self.rest:
            self.setRect(self.box_of(plan))
            former = self._former
            self._former = None if self._plot is None else (self.rest, self._plot, self.state, self._look)
            self.rest, self._plot = plan, None
            if former is not None and former[2] == self.state and former[0] == plan:
                _, self._plot, _, self._look = former
            self.update()
        self.move_to(drift)

    def move_to(self, drift: Point) -> None:
        """Show the same plan elsewhere."""
        if drift != self.drift:
            self.drift = drift
            self.setPos(*drift)

    def show_state(self, state: str) -> None:
        """Show it idle, moving or plain."""
        if state != self.state:
            self.state = state
            self._plot = None
            self.update()

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        scene: SheetScene = self.scene()  # type: ignore[assignment]
        look = scene.look
        if self._plot is None or (self._look is not look and self._look != look):
            self._plot = QtPlotter(look)
            self.draw(self._plot, look)
        self._look = look
        self._plot.paint(painter)


class PipeItem(PlanItem):
    """A pipe without its hops."""

    level = Z_PIPE
    rest: PipePlan

    def box_of(self, plan: PipePlan) -> QRectF:
        xs, ys = zip(*plan.points)
        x0, y0 = min(xs) - PIPE_ROOM, min(ys) - PIPE_ROOM
        return QRectF(x0, y0, max(xs) + PIPE_ROOM - x0, max(ys) + PIPE_ROOM - y0)

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_pipe(plot, look, self.rest, self.state)


class HopItem(PipeItem):
    """The hops of a pipe, above all pipes."""

    level = Z_HOP

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_hops(plot, look, self.rest, self.state)


class PartItem(PlanItem):
    """A part by its symbol."""

    level = Z_PART
    rest: PartPlan

    def box_of(self, plan: PartPlan) -> QRectF:
        x0, y0, x1, y1 = plan.box
        room = STORE_ROOM if plan.large else FITTING_ROOM
        return QRectF(x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_part(plot, look, self.rest, self.state)


class StoreItem(PlanItem):
    """A store or cylinder with everything inside it."""

    level = Z_STORE
    rest: StorePlan

    def box_of(self, plan: StorePlan) -> QRectF:
        x0, y0, x1, y1 = plan.box
        return QRectF(x0 - STORE_ROOM, y0 - STORE_ROOM, x1 - x0 + 2 * STORE_ROOM, y1 - y0 + 2 * STORE_ROOM)

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_store(plot, look, self.rest, self.state)


class LinkItem(PlanItem):
    """A control link."""

    level = Z_LINK
    rest: LinkPlan

    def box_of(self, plan: LinkPlan) -> QRectF:
        xs, ys = zip(*plan.points)
        return QRectF(min(xs) - 4, min(ys) - 4, max(xs) - min(xs) + 8, max(ys) - min(ys) + 8)

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_link(plot, look, self.rest)


class MeasureItem(PlanItem):
    """A dimension without its figure, which is a label."""

    level = Z_MEASURE
    rest: DimensionPlan

    def box_of(self, plan: DimensionPlan) -> QRectF:
        x0, y0, x1, y1 = plan.box
        room = FITTING_ROOM  # its ticks keep their size at every zoom
        return QRectF(x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)

    def draw(self, plot: QtPlotter, look: Look) -> None:
        draw_dimension(plot, look, self.rest)
