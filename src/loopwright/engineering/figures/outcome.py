"""How a solved water ends, in words, with one true number beside them.

Owns the wording of outcomes. Knows nothing of how they are reached.
"""

from __future__ import annotations

from loopwright.engineering.circulation import Circulation
from loopwright.engineering.figures.figure import Figure, Input
from loopwright.engineering.figures.making import Subject
from loopwright.waterways.graph import Waterways

SOLVER = "flow and heat solved together; water by Kell and IAPWS, friction by Darcy-Weisbach and Colebrook"

FINER = {
    "steady": "it is steady",
    "boils": "it boils",
    "swings": "it swings",
    "drifting": "it drifts",
    "stalled": "it stalls",
}


def outcome_words(got: Circulation) -> str:
    """How a water ends, in words."""
    answer = got.answer
    ending, where = answer.ending, answer.branch or ""
    if answer.outcome == "steady" and not got.known:
        return "it gets hotter than 110 °C, beyond which the figures of water are not known here"
    match answer.outcome:
        case "steady":
            return "steady"
        case "boils":
            return f"it boils in {where}"
        case "two states":
            edge = f"; on the edge: reckoned more finely {FINER[answer.finer]}" if answer.on_the_edge else ""
            return f"two states: what {where} carries depends on how it was started{edge}"
        case "swings" | "drifting" if ending.swing is not None:
            swing = ending.swing
            if answer.outcome == "drifting":
                return f"still drifting after hours in {swing.branch}"
            every = f" every {swing.period_s / 60:.0f} minutes" if swing.period_s else ""
            return f"it swings in {swing.branch}{every}"
        case "stalled":
            stall = ending.stalls[0]
            return f"it stalls in {stall.branch}" + (", held by its check valve" if stall.by_check else "")
    return answer.outcome


def how_not(got: Circulation) -> str:
    """What is missing where a water is not steady."""
    return f"a steady flow ({outcome_words(got)})"


def outcome_figure(ways: Waterways, of: Subject, got: Circulation) -> Figure:
    """What can be said of a water however it ends: one true number and the words."""
    answer, ending = got.answer, got.answer.ending
    heats = tuple(
        Input(f"{ways.name(p)}: heat given", h.watts, "W")
        if h.held_C is None
        else Input(f"{ways.name(p)}: flow held at", h.held_C, "°C")
        for p, h in got.drawn.heats.items()
        if h.watts > 0
    )
    stores = tuple(
        Input(
            f"{ways.name(s.name)}: {'top' if s.layers_C[0] != s.layers_C[-1] else 'throughout'}", s.layers_C[-1], "°C"
        )
        for s in got.drawn.net.stores
        if s.name in ways.sheet.parts and not s.evolving
    )
    note = "; ".join([outcome_words(got), *(f"{ways.name(p)} stays off" for p in got.off), *got.drawn.assumed])
    name, value, unit = "Heat unaccounted for", ending.balance.gap_W, "W"
    if answer.outcome == "boils" or (answer.outcome == "two states" and ending.boils):
        name, value = "Heat that boils away", sum(ending.boil_W.values())
    elif answer.outcome == "two states" and answer.branch:
        rows = [b.name for b in got.drawn.net.branches]
        row = rows.index(answer.branch)
        apart = abs(float(answer.rest.state.m[row] - answer.kick.state.m[row]))
        name, value, unit = "Difference between the two states", 3600 * apart, "kg/h"
    elif answer.outcome == "swings" and ending.swing:
        name, value, unit = "Range of the swing", ending.swing.range_K, "K"
    elif answer.outcome == "drifting" and ending.swing:
        name, value, unit = "Drift in the last hour", ending.swing.net_K, "K"
    elif answer.outcome == "stalled":
        name, value, unit = "Flow where it should carry", 3600 * abs(ending.stalls[0].flow_kg_s), "kg/h"
    return of.figure(
        name,
        0.0 if abs(value) < 1e-6 else float(value),
        unit,
        "continuity, momentum and heat of every branch at rest in time",
        heats + stores,
        SOLVER,
        note,
        about=tuple(dict.fromkeys(got.drawn.pipes)),
    )
