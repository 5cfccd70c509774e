"""Where a new tapping or coil of a vessel may go. Owns the choice of a free place; knows no widget."""

from __future__ import annotations

from itertools import pairwise

from loopwright.catalogue import Catalogue
from loopwright.sheet import edits
from loopwright.sheet.values import Part, Point, TappingSide
from loopwright.window.document import Edit

SIDES_TRIED: tuple[TappingSide, ...] = ("right", "left")


def coil_edit(part: str, name: str, reach_m: Point, side: TappingSide, catalogue: Catalogue) -> Edit:
    """An edit that adds a coil between two heights, with its two tappings on a side."""
    return lambda sheet: edits.add_coil(
        sheet, part, catalogue, name=name, bottom_m=reach_m[0], top_m=reach_m[1], side=side
    )


def free_place(part: Part, tall: float) -> tuple[TappingSide, float]:
    """Side and height of the widest gap between stubs, in whole centimetres."""
    best: tuple[float, TappingSide, float] = (-1.0, "left", tall / 2)
    for side in SIDES_TRIED:
        at = sorted(t.height_m for t in part.tappings if t.side == side)
        marks = [0.0, *at, tall]
        for low, high in pairwise(marks):
            if high - low > best[0] + 1e-9:
                best = (high - low, side, round((low + high) / 2, 2))
    return best[1], best[2]
