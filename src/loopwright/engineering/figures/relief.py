"""Figures of discharge pipes: the size that the statutory table asks for, by length and bends as drawn.

Owns which relief valves are asked: those guarding hot water under pressure, and plain ones whose pipe is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.engineering import discharge
from loopwright.engineering.discharge_walk import bends, length_m, onward
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, small
from loopwright.errors import FigureError
from loopwright.waterways.graph import Element, Waterways

OUTLET = {"15": "1/2", "22": "3/4", "28": "1"}
"""Nominal thread of a relief valve's outlet by its tube size."""
SOURCE = "statutory guidance on hot water safety, discharge pipe table"


def relief_figures(ways: Waterways) -> Iterator[Figure | Gap]:
    """Figures of every relief valve with a discharge pipe, and a gap for those that must have one."""
    for element in ways.elements.values():
        if element.does is Behaviour.RELIEF:
            yield from _of_valve(ways, element)


def _of_valve(ways: Waterways, valve: Element) -> Iterator[Figure | Gap]:
    part = valve.part
    before, after = onward(ways, valve)
    must = ways.has_tag(part, "tp_relief")

    of = Subject(group=ways.name(part), about=(part,), topic="discharge", page="discharge")
    title = "Discharge pipe after the tundish"
    if not before and not after:
        if must:
            yield of.gap(title, "a tundish and pipe after it")
        return
    outlet = str(ways.value(part, "outlet_size") or "")
    if not outlet:
        yield of.gap(title, "outlet size", "outlet_size")
        return
    outlet_input = Input("valve outlet, tube", float(outlet), "mm", not ways.typed(part, "outlet_size"))
    run = after or before
    about = (part, *(k[1] for k, _ in run))
    metres, turns = length_m(ways, run), bends(ways, run)
    inputs = (outlet_input, Input("length", metres, "m"), Input("bends", turns, ""))
    try:
        row = discharge.pipe_for(OUTLET.get(outlet, outlet), metres, turns)
    except FigureError as bad:
        yield of.gap(title, f"a row of the table: {small(bad.what)}", about=about)
        return

    def figure(name: str, value: float, unit: str, equation: str, note: str = "") -> Figure:
        return of.figure(name, value, unit, equation, inputs, SOURCE, note, about=about)

    sizes = sorted({ways.sheet.pipes[k[1]].size for k, _ in run})
    drawn = f"{' and '.join(sizes)} is drawn" + ("" if after else "; no tundish is drawn, so the whole run counts")
    yield figure(
        title if after else "Discharge pipe, least",
        float(row.d2),
        "mm",
        "length + bends × allowance ≤ the row's longest",
        drawn,
    )
    yield figure(
        "Discharge pipe, length with its bends",
        row.equivalent_m(metres, turns),
        "m",
        "length + bends × allowance",
        f"{row.bend_m:g} m a bend; up to {row.longest_m:g} m",
    )
    if after and before:
        yield figure(
            "Pipe from valve to tundish",
            1000 * length_m(ways, before),
            "mm",
            "drawn length",
            f"at least {row.d1} mm and up to {1000 * discharge.longest_to_tundish_m():g} mm long",
        )
