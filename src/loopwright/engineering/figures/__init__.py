"""Figures of a drawn sheet: each number with its equation, inputs and source. Nothing is typed twice."""

from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.engineering.figures.sheet_figures import figures

__all__ = ["Figure", "Gap", "figures"]
