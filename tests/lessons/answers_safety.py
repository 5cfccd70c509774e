"""Answers to the course "safety first"."""

from __future__ import annotations

from answers import right, wrong
from pen import Pen

# -- S1 ---------------------------------------------------------------------------------------------------------------


@right("S1")
def s1_plain_unions(pen: Pen) -> None:
    """Both valves out, unions in their place."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "union", "U1", (1.45, 3.552))
    pen.put("leak_return", "union", "U2", (2.4, 3.048))


@right("S1")
def s1_second_radiator(pen: Pen) -> None:
    """The valved radiator stays; one of 1.2 kW without valves beside it."""
    out = pen.tee("riser", (1.7, 3.3), "T5", towards="right")
    home = pen.tee("return_3", (4.2, 0.2), "T6", towards="up")
    rad = pen.add("radiator", "R9", x_m=7.0, height_m=3.0, output_w=1200.0, name="Landing radiator")
    pen.pipe(out["branch"], rad["flow"], "28", via=[(5.9, 3.3), (5.9, 3.552)])
    pen.pipe(rad["return"], home["branch"], "28", via=[(4.2, 3.048)])


@wrong("S1", "gravity-loop/isolating-valve")
def s1_lever_valve_locked_open(pen: Pen) -> None:
    """One lever valve, its handle wired."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "isolating_valve", "V3", (1.45, 3.552), locked_open=True)


@wrong("S1", "solid-fuel/heat-leak-can-be-shut")
def s1_normally_open_motor_valve(pen: Pen) -> None:
    """A motorised valve that springs open."""
    pen.cut("V1", "V2")
    pen.put("leak_flow", "motorised_2port", "M1", (1.45, 3.552), rest="open")


@wrong("S1", "solid-fuel/heat-leak-can-be-shut")
def s1_only_the_lockshield(pen: Pen) -> None:
    """The wheelhead out, the lockshield left."""
    pen.cut("V1")
