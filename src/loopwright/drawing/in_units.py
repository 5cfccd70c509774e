"""What a drawing says of heights and contents, in the units a person prefers.

Owns the words alone: plans are made in metric units, and these functions give them with other words. Pipe sizes stay
as they are sold.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import msgspec

from loopwright.drawing.plans import DimensionPlan, FloorPlan, PartPlan, SheetPlan, StorePlan
from loopwright.units import System, height, restated, show

_CONTENT = re.compile(r"([\d.]+) l")


def plan_in(plan: Any, system: System) -> Any:
    """A plan with its figure in other units: a dimension's height, a vessel's content, heights of tappings."""
    if system == "metric":
        return plan
    if isinstance(plan, DimensionPlan):
        return msgspec.structs.replace(plan, words=restated(plan.words, system))
    if isinstance(plan, StorePlan) and any(tap.level for tap in plan.tappings):
        taps = tuple(
            msgspec.structs.replace(tap, level=height(tap.height_m, system)) if tap.level else tap
            for tap in plan.tappings
        )
        plan = msgspec.structs.replace(plan, tappings=taps)
    if isinstance(plan, PartPlan | StorePlan):
        content = _CONTENT.fullmatch(plan.detail)
        if content:
            return msgspec.structs.replace(plan, detail=show(float(content[1]), "l", system, 3))
    return plan


def sheet_in(plan: SheetPlan, system: System) -> SheetPlan:
    """A whole sheet's plan in other units, as the screen shows it."""
    if system == "metric":
        return plan
    return msgspec.structs.replace(
        plan,
        floors=floors_in(plan.floors, system),
        **{
            sort: {key: plan_in(one, system) for key, one in getattr(plan, sort).items()}
            for sort in ("parts", "stores", "dimensions")
        },
    )


def floors_in(floors: Iterable[FloorPlan], system: System) -> tuple[FloorPlan, ...]:
    """Floors with their heights in other units."""
    if system == "metric":
        return tuple(floors)
    return tuple(msgspec.structs.replace(one, words=f"{one.name} {height(-one.y / 100.0, system)}") for one in floors)
