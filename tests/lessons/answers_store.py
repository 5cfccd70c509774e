"""Answers to the course "the store"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

# -- T1 ---------------------------------------------------------------------------------------------------------------


@right("T1")
def t1_pipes_exchanged(pen: Pen) -> None:
    """Flow to the high stub, return to the low one."""
    pen.swap_ends("boiler_flow", "boiler_return_1", "store")


@right("T1")
def t1_stubs_dragged(pen: Pen) -> None:
    """Flow to 0.85, return to 0.45 of the store's height."""
    pen.tap("store", "high", 0.81)
    pen.tap("store", "low", 1.53)


@right("T1")
def t1_flow_at_the_very_top(pen: Pen) -> None:
    """Flow at 0.9, return near the floor: no sun here."""
    pen.tap("store", "high", 0.13)
    pen.tap("store", "low", 1.60)


@wrong("T1", "tapping/flow-below-return")
def t1_both_at_half_height(pen: Pen) -> None:
    """Side by side."""
    pen.tap("store", "high", 0.93)
    pen.tap("store", "low", 0.88)


@wrong("T1", "tapping/flow-below-return")
def t1_purposes_renamed(pen: Pen) -> None:
    """New names on the same stubs."""
    pen.tap("store", "high", purpose="source_flow")
    pen.tap("store", "low", purpose="source_return")
