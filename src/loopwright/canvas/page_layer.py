"""The page under a sheet: its frame with title block and scale as it is printed, or the title block alone.

Owns where these lie and their painting. Refuses to know windows and printers.
"""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from loopwright.canvas.items import Z_FLOOR
from loopwright.canvas.layers import Layer
from loopwright.canvas.marks import words_box
from loopwright.canvas.painter import QtPlotter, pen
from loopwright.drawing.frame import STRIP_MM, TITLE_MM, draw_frame, draw_title_card
from loopwright.drawing.ink import FLOOR_UNITS
from loopwright.drawing.labels import Labels
from loopwright.drawing.look import Look, Point
from loopwright.drawing.page import page_box, scale_of
from loopwright.drawing.plan import SheetPlan

WORDS_FROM = 0.35
"""Below this zoom the title block could not be read."""
GAP_PX = 14.0
NEAR_FLOOR_UNITS = 60.0

UnitBox = tuple[float, float, float, float]


class PageLayer(Layer):
    """Shows the page of the plan last given."""

    def __init__(self) -> None:
        super().__init__(Z_FLOOR)
        self.framed = False
        self.box: UnitBox | None = None
        """The page, or the title block alone; None while neither is shown."""
        self._plan: SheetPlan | None = None
        self._scale = 0.0
        self._said: object = None

    def show_page(self, plan: SheetPlan, labels: Labels) -> None:
        """Take a plan with its words; the title block stands below both, at the right."""
        look, before = self.look, self.box
        self._plan, self.box = plan, None
        if plan.parts or plan.stores or plan.pipes:
            self._scale = scale_of(plan)
            if self.framed:
                self.box = page_box(plan, plan.block.page, self._scale)
            elif look.zoom >= WORDS_FROM:
                self.box = self._card(plan, labels, look)
        said = (plan.title, plan.block, self._scale, self.framed)
        if self.framed or before != self.box or said != self._said:
            for box in (before, self.box):
                if box is not None:  # a block of an earlier zoom was painted as large as it is at this one
                    wide, high = max(box[2] - box[0], TITLE_MM * look.mm), max(box[3] - box[1], STRIP_MM * look.mm)
                    self.update(QRectF(box[0], box[1], wide, high).adjusted(-20, -20, 20, 20))
        self._said = said

    @staticmethod
    def _card(plan: SheetPlan, labels: Labels, look: Look) -> UnitBox:
        left, _, right, foot = plan.bounds()
        words = words_box(labels, look)
        feet = [foot, *(f.y + FLOOR_UNITS for f in plan.floors if abs(f.y - foot) < NEAR_FLOOR_UNITS)]
        if words is not None:
            feet.append(words[3])
        y = max(feet) + GAP_PX * look.px
        for floor in sorted(f.y for f in plan.floors):  # y grows downwards: never over a floor that lies below
            if floor - GAP_PX * look.px < y + STRIP_MM * look.mm and floor + FLOOR_UNITS > y:
                y = floor + FLOOR_UNITS + GAP_PX * look.px
        x = max(right - TITLE_MM * look.mm, left)
        return x, y, x + TITLE_MM * look.mm, y + STRIP_MM * look.mm

    def title_at(self, at: Point) -> bool:
        """Whether a place in drawing units lies in the title block."""
        box = self.title_box
        return box is not None and box[0] <= at[0] <= box[2] and box[1] <= at[1] <= box[3]

    @property
    def title_box(self) -> UnitBox | None:
        """The title block, alone or in the frame."""
        if self.box is None or not self.framed:
            return self.box
        mm = Look.on_paper(self._scale).mm
        right, foot = self.box[2] - 8.0 * mm, self.box[3] - 8.0 * mm
        return right - TITLE_MM * mm, foot - STRIP_MM * mm, right, foot

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, plan, box = self.look, self._plan, self.box
        if plan is None or box is None:
            return
        page = QRectF(box[0], box[1], box[2] - box[0], box[3] - box[1])
        if not option.exposedRect.intersects(page):
            return
        if self.framed:
            painter.setPen(pen(look.colour("line2"), look.px))
            painter.setBrush(QColor(0, 0, 0, 0))
            painter.drawRect(page)
            paper = Look.on_paper(self._scale, look.palette)
            plot = QtPlotter(paper)
            draw_frame(plot, paper, plan, box, self._scale, plan.block.page)
        else:
            plot = QtPlotter(look)
            draw_title_card(plot, look, plan, box[:2], self._scale)
        plot.paint(painter)
