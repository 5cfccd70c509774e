"""The waterways: the drawing read as water, and what can be asked of it."""

from loopwright.waterways.graph import Element, Waterways
from loopwright.waterways.views import Ask, Condition

__all__ = ["Ask", "Condition", "Element", "Waterways"]
