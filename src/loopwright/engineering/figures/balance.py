"""The heat balance of a sheet: what its sources give and its emitters take, at rated and at working temperatures.

Owns the sums at rest. Where each watt goes in a solved circulation is in `flow_figures`.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering import emitters
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, stated
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways

FLOW_C, RETURN_C, ROOM_C = 55.0, 45.0, 20.0


def balance_figures(ways: Waterways) -> Iterator[Figure | Gap]:
    """Power of the sources against output of the emitters."""

    of = Subject(group="Heat balance", about=(), topic="heat balance", page="heat-balance")
    supply = [
        (s.part, stated(ways, s.part, "power_kw", ways.name(s.part), "kW")) for s in ways.sources if s.stops != "sun"
    ]
    taken = [
        (s.part, stated(ways, s.part, "output_w", ways.name(s.part), "W")) for s in ways.sinks if s.sort == "emitter"
    ]
    for (part, known), prop, words in [
        *((x, "power_kw", "power to water") for x in supply),
        *((x, "output_w", "rated output") for x in taken),
    ]:
        if known is None:
            missing = f"{ways.name(part)}: {words}"
            yield of.gap(f"Share of {ways.name(part)}", missing, prop, about=(part,))
    given = [(p, i) for p, i in supply if i is not None]
    stated_out = [(p, i) for p, i in taken if i is not None]
    if given:
        yield of.figure(
            "Power of all sources",
            sum(i.value for _, i in given),
            "kW",
            "Σ Q",
            tuple(i for _, i in given),
            "makers' figures; the sun is left out",
            about=tuple(p for p, _ in given),
        )
    if not stated_out:
        return
    about, inputs = tuple(p for p, _ in stated_out), tuple(i for _, i in stated_out)
    rated = sum(i.value for _, i in stated_out) / 1000
    of = msgspec.structs.replace(of, about=about)
    yield of.figure("Rated output of all emitters", rated, "kW", "Σ Qn", inputs, "EN 442 at 50 K; floors as designed")
    try:
        working = sum(_at(ways, p, i.value) for p, i in stated_out) / 1000
    except FigureError as bad:
        yield of.gap("Output at 55/45 °C", bad.what)
        return
    warm = (*inputs, Input("flow", FLOW_C, "°C"), Input("return", RETURN_C, "°C"), Input("room", ROOM_C, "°C", True))
    yield of.figure(
        f"Output of all emitters at {FLOW_C:g}/{RETURN_C:g} °C",
        working,
        "kW",
        "Σ Qn (ΔT / 50 K)^n, ΔT = (flow + return)/2 - room; floors as designed",
        warm,
        "EN 442",
    )
    if given:
        fires = sum(i.value for _, i in given)
        yield of.figure(
            "Sources over emitters",
            fires - rated,
            "kW",
            "Σ Q - Σ Qn",
            (Input("sources", fires, "kW"), Input("emitters, rated", rated, "kW")),
            "heat balance; what is over goes to the store, what lacks comes from it",
        )


def _at(ways: Waterways, part: str, rated_w: float) -> float:
    """Watts of an emitter at the working temperatures; a floor keeps its design output, for its own set mixes."""
    if ways.has_tag(part, "underfloor"):
        return rated_w
    return emitters.output_W(rated_w, FLOW_C, RETURN_C, ROOM_C, ways.number(part, "exponent") or emitters.EXPONENT)
