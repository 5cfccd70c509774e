"""Relief valves: which of them a source or a vessel reaches, and whether it has one inside.

Shared by the rules of sealed water, of fires and of vents. Owns no limits and yields no findings.
"""

from __future__ import annotations

from collections.abc import Collection

from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Place, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Passing
from loopwright.waterways.waters import Water


def reliefs_reached(case: Case, water: Water, begin: Collection[Place], passes: Passing) -> list[Element]:
    """Relief seats of a water that are reached from somewhere in a view."""
    seen = reach(case.ways, passes, begin, walls=case.ways.bodies("cistern"))
    return [e for e in water.reliefs if e.a in seen]


def built_in_relief(case: Case, source: Source) -> bool | None:
    """Whether a source has a relief valve inside it; None when nobody has said."""
    spec = case.ways.kind(source.part).prop("relief_built_in")
    found = case.ways.value(source.part, "relief_built_in")
    return None if spec is not None and found is None else bool(found)
