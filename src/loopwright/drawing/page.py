"""The page a sheet is printed on: its size, the scale that fits it, and where it lies round the drawing.

Owns usual papers and scales. Refuses to know what is drawn on a page.
"""

from __future__ import annotations

from loopwright.drawing.frame import STRIP_MM, drawing_room_mm
from loopwright.drawing.look import Look
from loopwright.drawing.plans import SheetPlan
from loopwright.drawing.scene import frame_of

SCALES = (20.0, 25.0, 50.0, 100.0, 200.0, 500.0)
PAGES_MM: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
}
"""Width and height, landscape (ISO 216)."""


def fitting_scale(plan: SheetPlan, page_mm: tuple[float, float]) -> float:
    """The largest usual scale at which a sheet fits a page (width, height in mm), at 1 : 500 at least."""
    wide, high = drawing_room_mm(page_mm)
    bounds = plan.bounds()
    for scale in SCALES:
        x0, y0, x1, y1 = frame_of(plan, Look.on_paper(scale), bounds)
        if (x1 - x0) * 10.0 / scale <= wide and (y1 - y0) * 10.0 / scale <= high:
            return scale
    return SCALES[-1]


def scale_of(plan: SheetPlan, page: str = "") -> float:
    """The scale of the title block, else the largest that fits its page, or the one given."""
    return plan.block.scale or fitting_scale(plan, PAGES_MM[page or plan.block.page])


def page_box(plan: SheetPlan, page: str, scale: float) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) of a page in drawing units, with the drawing in the middle of its room."""
    look = Look.on_paper(scale)
    x0, y0, x1, y1 = frame_of(plan, look)
    wide, high = (side * look.mm for side in PAGES_MM[page])
    left = (x0 + x1 - wide) / 2
    top = (y0 + y1 - high + STRIP_MM * look.mm) / 2  # the strip at the foot is not part of the room
    return left, top, left + wide, top + high
