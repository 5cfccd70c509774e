"""The waterways: the drawing read as water, and what can be asked of it.

`graph` is the reading, `systems` a sheet a system at a time, `keeping` how answers are kept. `views` say what passes
by the question asked, `paths` and `skeleton` search, `loops` are what goes round, `trace` which way it moves, `bound`
which way it would once called on. `waters` are what is one water, `services` what each pipe carries, `profile` the
heights along a walk, `naming` what people call it.
"""

from loopwright.waterways.graph import Element, Waterways
from loopwright.waterways.views import Ask, Condition

__all__ = ["Ask", "Condition", "Element", "Waterways"]
