"""Every figure of a sheet: those that need no flow, and those of its flow under a condition."""

from __future__ import annotations

from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.engineering.figures.flow_figures import flow_figures
from loopwright.engineering.figures.sheet_figures import sheet_figures
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import Condition


def figures(ways: Waterways, condition: Condition | None = None) -> tuple[Figure | Gap, ...]:
    """Every figure of the sheet, in the order people read them. A figure that cannot be made says what is missing.

    With a condition also those of the flow under it, which take seconds.
    """
    still = sheet_figures(ways)
    return still if condition is None else still + tuple(flow_figures(ways, condition))
