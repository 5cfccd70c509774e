"""Starting sheets of the course "up is up"."""

from __future__ import annotations

import bases
from pen import Pen
from starts import starts

from loopwright.sheet.values import Sheet

PAIR = ("stove_flow", "store_flow", "return_1", "return_2", "return_3")


@starts("U1")
def u1() -> Sheet:
    """The heat leak unpiped, beside the stove."""
    pen = Pen(bases.stove_and_store("Lantern cottage, a radiator to place").b.done())
    pen.cut("leak_flow", "leak_return")
    pen.cap(pen.at("VJ", "left"))
    pen.cap(pen.at("R", "up"))
    pen.move("leak", -0.6, 0.15)
    return pen.done()


@starts("U2")
def u2() -> Sheet:
    """A larger stove, a low tapping and a detour."""
    low = {"stove flow": {"height_m": 0.90}}
    pen = Pen(bases.stove_and_store("Lantern cottage, the stove runs hot", low).b.done())
    pen.set("stove", power_kw=12.0, charge_kwh=15.0)
    pen.lay("store_flow", "return_3", extra_length_m=6.0, extra_bends=6)
    return pen.done()


@starts("U3")
def u3() -> Sheet:
    """Under a beam, where somebody let the flow dip."""
    pen = Pen(bases.stove_and_store("Lantern cottage, a beam in the way").b.done())
    pen.lay("store_flow", points=((2.1, 1.72), (2.1, 1.42), (2.9, 1.42), (2.9, 1.72)), graded="")
    pen.note("Beam: x 2.3 to 2.6 m, height 1.55 to 1.85 m", x_m=2.3, height_m=1.85)
    return pen.done()


@starts("U4")
def u4() -> Sheet:
    """The return taken over a hatch."""
    pen = Pen(bases.stove_and_store("Lantern cottage, a hatch in the wall").b.done())
    pen.lay("return_3", points=((4.4, 0.2), (4.4, 1.3), (3.45, 1.3), (3.45, 0.2)), graded="")
    pen.note("Hatch: x 3.6 to 4.2 m, head at 1.2 m", x_m=3.6, height_m=1.15)
    return pen.done()


@starts("U5")
def u5() -> Sheet:
    """All gravity pipes in 22 mm, and one tapping."""
    pen = Pen(bases.stove_and_store("Lantern cottage, piped thin").b.done())
    pen.lay(*PAIR, "riser", "leak_flow", "leak_return", size="22")
    pen.tap("store", "stove flow", size="22")
    return pen.done()


@starts("U6")
def u6() -> Sheet:
    """Stove, store and radiator, and no pipe between them."""
    pen = Pen(bases.stove_and_store("Lantern cottage, to be piped").b.done())
    pen.cut("store_flow", "leak_flow", "leak_return", "return_3", "return_2", "R")
    for part, way in (("T", "right"), ("VJ", "left"), ("F", "right")):
        pen.cap(pen.at(part, way))
    for part, name in (("store", "stove flow"), ("store", "stove return"), ("leak", "flow"), ("leak", "return")):
        pen.cap(pen[part][name])
    return pen.done()


@starts("U7")
def u7() -> Sheet:
    """The store in the cellar, its pair run down to it."""
    house = bases.stove_and_store("Lantern cottage, the store in the cellar")
    pen = Pen(house.b.done())
    pen.cut("drain")
    pen.move("store", 5.0, -2.3)
    pen.set("stove", power_kw=3.0, charge_kwh=4.0, burn_time_h=1.35)
    pen.set("leak", output_w=2000.0)
    pen.lay("store_flow", points=((4.2, 1.72), (4.2, -0.68)), graded="")
    pen.lay("return_3", points=((3.9, -2.2), (3.9, 0.2)), graded="")
    cock = pen.add("drain_cock", "drain", x_m=5.75, height_m=-2.24, turn=1)
    pen.pipe(pen["store"]["drain"], cock["a"], "15")
    from loopwright.sheet import edits

    pen.sheet = edits.set_levels(pen.sheet, {"Cellar": -2.4, "Ground floor": 0.0, "First floor": 2.6, "Loft": 5.0})
    return pen.done()
