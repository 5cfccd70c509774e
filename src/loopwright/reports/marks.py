"""How a severity is marked: a shape with a number in it, the same in tables, cards and on the sheet.

Owns the ink of marks and of the program's own sign. Refuses to know back ends.
"""

from __future__ import annotations

from math import cos, pi, sin

from loopwright.drawing.look import PX_A_MM, Look, Point
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.writing import flag_shape
from loopwright.reports.model import Mark

LOOK = Look.on_paper(10.0)
"""One drawing unit is a millimetre."""
_PX_IN_SHAPE = 14.0


def draw_mark(plot: Plotter, mark: Mark, at: Point, radius_mm: float) -> None:
    """A mark about a point, in millimetres. Danger and fault are filled; advice, open and settled ones are outlines."""
    known = mark.severity in ("danger", "fault", "advice")
    token = mark.severity if known else "ink3"
    shape = flag_shape(mark.severity, at, radius_mm / _PX_IN_SHAPE)
    filled = mark.severity in ("danger", "fault") and not mark.open
    plot.area(shape, token if filled else "#FFFFFF", token, 0.3)
    words = mark.number
    size = radius_mm * (1.05 if len(words) < 2 else 0.88 if len(words) == 2 else 0.66)
    if words:
        plot.text(*at, words, size * PX_A_MM, 600, "#FFFFFF" if filled else token)


def draw_sign(plot: Plotter, at: Point, size_mm: float) -> None:
    """The program's sign: a loop on a base, `size_mm` wide, its lower left corner at a point."""
    k = size_mm / 12.0

    def on(x: float, y: float) -> Point:
        return at[0] + (x - 4.0) * k, at[1] + (y - 17.0) * k

    arch = [on(10.0 - 6.0 * cos(pi * i / 16), 9.0 - 6.0 * sin(pi * i / 16)) for i in range(17)]
    plot.line([on(4.0, 17.0), *arch, on(16.0, 17.0)], "ink", 2.0 * k)
    plot.line([on(16.9, 17.0), on(8.5, 17.0)], "ink", 2.0 * k)
    plot.line([on(11.0, 14.2), on(8.2, 17.0), on(11.0, 19.6)], "ink", 1.5 * k)
