"""Starting sheets of the course "up is up"."""

from __future__ import annotations

import bases
from pen import Pen
from starts import starts

from loopwright.sheet.values import Sheet


@starts("U3")
def u3() -> Sheet:
    """Under a beam, where somebody let the flow dip."""
    pen = Pen(bases.stove_and_store("Lantern cottage, a beam in the way").b.done())
    pen.lay("store_flow", points=((2.1, 1.72), (2.1, 1.42), (2.9, 1.42), (2.9, 1.72)), graded="")
    pen.note("Beam: x 2.3 to 2.6 m, height 1.55 to 1.85 m", x_m=2.3, height_m=1.85)
    return pen.done()
