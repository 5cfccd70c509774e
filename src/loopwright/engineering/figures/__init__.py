"""Figures of a drawn sheet: each number with its equation, inputs and source. Nothing is typed twice."""

from loopwright.engineering.figures.every import figures
from loopwright.engineering.figures.figure import TOPICS, Figure, Gap, Input

__all__ = ["TOPICS", "Figure", "Gap", "Input", "figures"]
