"""Starting sheets of the course "the store"."""

from __future__ import annotations

import bases
from pen import Pen
from starts import starts

from loopwright.sheet.values import Sheet


@starts("T1")
def t1() -> Sheet:
    """The boiler's flow low, its return high."""
    taps = {
        "boiler flow": {"height_m": 0.45, "purpose": "any"},
        "boiler return": {"height_m": 1.44, "purpose": "any"},
    }
    pen = Pen(bases.oil_and_store("Osier Yard, the bath is lukewarm", more=taps).b.done())
    pen.tap("store", "boiler flow", name="low")
    pen.tap("store", "boiler return", name="high")
    return pen.done()
