"""Every figure of a sheet: those that need no flow, and those of its flow under a condition."""

from __future__ import annotations

import msgspec

from loopwright.engineering.figures.balance import balance_figures
from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.engineering.figures.flow_figures import flow_figures
from loopwright.engineering.figures.hot_water import hot_water_figures
from loopwright.engineering.figures.relief import relief_figures
from loopwright.engineering.figures.stores import store_figures
from loopwright.engineering.figures.waters import water_figures
from loopwright.engineering.pages import page
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import Condition

STILL = (store_figures, hot_water_figures, water_figures, relief_figures, balance_figures)
DUST = 1e-9
"""Less than this, in the unit of any figure, is the rounding of a difference."""


def figures(ways: Waterways, condition: Condition | None = None, *, lossy: bool = False) -> tuple[Figure | Gap, ...]:
    """Every figure of the sheet, in the order people read them. A figure that cannot be made says what is missing.

    With a condition also those of the flow under it, which take seconds; `lossy`: with the heat that pipes lose.
    """
    found = [figure for maker in STILL for figure in maker(ways)]
    if condition is not None:
        found += flow_figures(ways, condition, lossy)
    return tuple(_finished(figure) for figure in found)


def _finished(found: Figure | Gap) -> Figure | Gap:
    """A figure in plain floats, with the limits of its computation as its page states them."""
    if isinstance(found, Gap):
        return found
    inputs = tuple(msgspec.structs.replace(i, value=float(i.value)) for i in found.inputs)
    valid = found.valid or (page(found.page).validity if found.page else "")
    value = 0.0 if abs(found.value) < DUST else float(found.value)
    return msgspec.structs.replace(found, value=value, inputs=inputs, valid=valid)
