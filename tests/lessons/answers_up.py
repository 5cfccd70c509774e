"""Answers to the course "up is up"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

# -- U3 ---------------------------------------------------------------------------------------------------------------


@right("U3")
def u3_straight_under_the_beam(pen: Pen) -> None:
    """Tee and tapping both lowered to 1.50 m."""
    pen.move("T", 1.7, 1.5)
    pen.tap("store", "stove flow", 1.4)
    pen.lay("store_flow", points=(), graded="b")


@right("U3")
def u3_over_the_beam_from_a_higher_tee(pen: Pen) -> None:
    """The tee raised: the riser's vent lets the air out of the level run."""
    pen.move("T", 1.7, 1.95)
    pen.lay("store_flow", points=((4.2, 1.95), (4.2, 1.72)), graded="a")


@wrong("U3", "gravity-loop/dips")
def u3_hump_without_a_vent(pen: Pen) -> None:
    """Up over the beam and down again."""
    pen.lay("store_flow", points=((2.1, 1.72), (2.1, 1.95), (2.9, 1.95), (2.9, 1.72)))


@wrong("U3", "gravity-loop/dips")
def u3_a_shallower_dip(pen: Pen) -> None:
    """Tee and tapping lower, but not low enough."""
    pen.move("T", 1.7, 1.62)
    pen.tap("store", "stove flow", 1.52)
    pen.lay("store_flow", points=((2.1, 1.62), (2.1, 1.52), (2.9, 1.52), (2.9, 1.62)))


@wrong("U3", "beam")
def u3_through_the_beam(pen: Pen) -> None:
    """A hole in the beam."""
    pen.lay("store_flow", points=(), graded="b")
