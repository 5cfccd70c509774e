"""What a scene shows put together again: one plan of the whole sheet, and its thin lines as they are hit.

Owns sorting plans by what they are plans of. Refuses to know items.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from loopwright.canvas.tools.base import HitKind
from loopwright.drawing.look import Point, to_metres
from loopwright.drawing.plan import (
    DimensionPlan,
    FloorPlan,
    LinkPlan,
    NotePlan,
    PartPlan,
    PipePlan,
    SheetPlan,
    StorePlan,
)
from loopwright.sheet.values import Sheet


def sheet_plan(
    sheet: Sheet, plans: Iterable[Any], notes: Mapping[str, NotePlan], floors: tuple[FloorPlan, ...]
) -> SheetPlan:
    """One plan of these plans, in their order."""
    sorts: dict[type, dict[str, Any]] = {sort: {} for sort in (PipePlan, PartPlan, StorePlan, LinkPlan, DimensionPlan)}
    for plan in plans:
        sorts[type(plan)][plan.id] = plan
    return SheetPlan(
        sheet.title,
        sorts[PipePlan],
        sorts[PartPlan],
        sorts[StorePlan],
        sorts[LinkPlan],
        notes,
        floors,
        sorts[DimensionPlan],
        sheet.block,
    )


def thin_lines(plan: SheetPlan) -> dict[str, tuple[HitKind, tuple[Point, ...]]]:
    """Lines of control links and dimensions by id, metres."""
    out: dict[str, tuple[HitKind, tuple[Point, ...]]] = {
        key: ("link", tuple(to_metres(p) for p in link.points)) for key, link in plan.links.items()
    }
    for key, one in plan.dimensions.items():
        out[key] = ("dimension", tuple(to_metres(end) for end in one.line))
    return out
