"""Dimensions: heights and widths that matter, drawn as a line between two extension lines.

Owns their plans and their ink; the figure is a label and finds its place with the others. Refuses to know back ends.
"""

from __future__ import annotations

from math import hypot

from loopwright.catalogue import Catalogue
from loopwright.drawing.look import WEIGHTS_MM, Look, Point, to_units
from loopwright.drawing.plans import DimensionPlan
from loopwright.drawing.plotter import Plotter
from loopwright.sheet.dimensions import foot_at, measured_m
from loopwright.sheet.values import Dimension, Sheet

LINE = WEIGHTS_MM["dimension"]
TICK_PX, OVERRUN_PX, GAP_PX = 5.0, 4.0, 4.0
"""Half a tick, how far an extension line goes past the line, and its gap at the foot; nominal pixels."""


def plan_dimension(sheet: Sheet, dimension: Dimension, catalogue: Catalogue) -> DimensionPlan | None:
    """A dimension's plan; None where a part it stands on is gone."""
    a, b = foot_at(sheet, dimension.a, catalogue), foot_at(sheet, dimension.b, catalogue)
    measured = measured_m(sheet, dimension, catalogue)
    if a is None or b is None or measured is None:
        return None
    y = None if dimension.level_m is None else to_units((0.0, dimension.level_m))[1]
    return DimensionPlan(dimension.id, to_units(a), to_units(b), dimension.x_m * 100.0, f"{measured:.2f} m", y)


def plan_dimensions(sheet: Sheet, catalogue: Catalogue) -> dict[str, DimensionPlan]:
    """All that can be drawn, by id."""
    plans = (plan_dimension(sheet, one, catalogue) for one in sheet.dimensions)
    return {plan.id: plan for plan in plans if plan is not None}


def draw_dimension(plot: Plotter, look: Look, plan: DimensionPlan) -> None:
    """Extension lines, the line between them, and a tick at 45 degrees at each end."""
    px, line = look.px, plan.line
    for foot, end in zip((plan.a, plan.b), line):
        long = hypot(end[0] - foot[0], end[1] - foot[1])
        if long > GAP_PX * px:
            away = (end[0] - foot[0]) / long, (end[1] - foot[1]) / long
            start = foot[0] + away[0] * GAP_PX * px, foot[1] + away[1] * GAP_PX * px
            plot.line([start, (end[0] + away[0] * OVERRUN_PX * px, end[1] + away[1] * OVERRUN_PX * px)], "ink2", LINE)
    plot.line(list(line), "ink2", LINE)
    for end in line:
        plot.line(tick(end, TICK_PX * px), "ink", WEIGHTS_MM["tick"])


def tick(at: Point, half: float) -> list[Point]:
    """A stroke at 45 degrees through a point."""
    return [(at[0] - half, at[1] + half), (at[0] + half, at[1] - half)]
