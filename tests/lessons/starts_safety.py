"""Starting sheets of the course "safety first"."""

from __future__ import annotations

import bases
from pen import Pen
from starts import starts

from loopwright.sheet.values import Sheet


@starts("S1")
def s1() -> Sheet:
    """Two valves on the heat leak."""
    pen = Pen(bases.stove_and_store("Lantern cottage, the decorator was here").b.done())
    pen.put("leak_flow", "wheelhead_valve", "V1", (1.45, 3.552))
    pen.put("leak_return", "lockshield_valve", "V2", (2.4, 3.048))
    return pen.done()
