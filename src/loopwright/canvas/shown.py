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
    SheetPlan,
    StorePlan,
)
from loopwright.sheet.values import Sheet


def sheet_plan(
    sheet: Sheet, plans: Mapping[str, Any], notes: Mapping[str, NotePlan], floors: tuple[FloorPlan, ...]
) -> SheetPlan:
    """One plan of these plans by id, in the order of the sheet."""
    parts: dict[str, PartPlan] = {}
    stores: dict[str, StorePlan] = {}
    for key in sheet.parts:
        plan = plans[key]
        if isinstance(plan, StorePlan):
            stores[key] = plan
        else:
            parts[key] = plan
    return SheetPlan(
        sheet.title,
        {key: plans[key] for key in sheet.pipes},
        parts,
        stores,
        {key: plans[key] for key in sheet.links if key in plans},
        notes,
        floors,
        {one.id: plans[one.id] for one in sheet.dimensions if one.id in plans},
        sheet.block,
    )


def thin_lines(plans: Iterable[Any]) -> dict[str, tuple[HitKind, tuple[Point, ...]]]:
    """Lines of control links and dimensions by id, metres."""
    out: dict[str, tuple[HitKind, tuple[Point, ...]]] = {}
    for plan in plans:
        if isinstance(plan, LinkPlan):
            out[plan.id] = ("link", tuple(to_metres(p) for p in plan.points))
        elif isinstance(plan, DimensionPlan):
            out[plan.id] = ("dimension", tuple(to_metres(end) for end in plan.line))
    return out
