"""The figures that a lesson's goal may bound, each by name: one plain number of a sheet, or why there is none.

Owns the names and their arithmetic on what rules and engineering answer. Knows no lesson.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise

import msgspec

from loopwright.engineering.circulation import circulation
from loopwright.engineering.drawn_parts import Charge
from loopwright.engineering.store import usable_litres
from loopwright.errors import FigureError
from loopwright.lessons.blackout import minutes_to_boil, peak_c
from loopwright.lessons.choice import chosen, sinks_of, sources_of
from loopwright.lessons.filling import fill
from loopwright.lessons.goals import Within
from loopwright.rules.circuits import SWITCHED, share_of, source_circuits
from loopwright.rules.flows import water_of_source
from loopwright.rules.registry import Case
from loopwright.rules.shedding import emitter_kw, fixed_emitters
from loopwright.sheet.ports import size_of
from loopwright.waterways.loops import loop_to
from loopwright.waterways.views import POWER_CUT, Ask


class Measured(msgspec.Struct, frozen=True):
    """A figure, or what it lacks."""

    value: float | None
    lacks: str = ""


class Measure(msgspec.Struct, frozen=True):
    """A figure's name for people, its unit and how it is found."""

    name: str
    unit: str
    find: Callable[[Case, Within], Measured]
    slow: bool = False


def _circulating_height(case: Case, asked: Within) -> Measured:
    """Least height of a sink's middle above a fire's thermal centre, over its open loops to that sink, m."""
    ways = case.ways
    found = []
    for source in sources_of(ways, asked.of):
        for sink in sinks_of(ways, asked.sink):
            loop = loop_to(ways, source, sink, Ask.FIXED)
            if loop is None:
                continue
            middle = sink.height_m
            if sink.sort == "body":
                circuits = [c for c in source_circuits(case) if c.subject == source.part and c.store == sink.part]
                if circuits:
                    base, top = ways.body_range(sink.part)
                    middle = base + circuits[0].enter_f * (top - base)
            found.append(middle - source.height_m)
    return Measured(min(found)) if found else Measured(None, "an open loop between the two")


def _charged(case: Case, asked: Within) -> Measured:
    """Litres of store above the lowest place from which a source draws."""
    total = 0.0
    for source in sources_of(case.ways, asked.of):
        for circuit in source_circuits(case):
            if circuit.subject == source.part and circuit.enter_f > circuit.leave_f:
                total += (case.ways.number(circuit.store, "volume_l") or 0.0) * (1.0 - circuit.leave_f)
    return Measured(total) if total else Measured(None, "a circuit between source and store")


def _cold(case: Case, asked: Within) -> Measured:
    """Litres of store below the lowest place from which a switched source draws: what is left to the sun."""
    found = []
    for store in chosen(case.ways.sheet, case.ways.catalogue, asked.of):
        lowest = [
            c.leave_f
            for c in source_circuits(case)
            if c.store == store and c.source is not None and c.source.stops in SWITCHED
        ]
        found.append((case.ways.number(store, "volume_l") or 0.0) * min(lowest, default=1.0))
    return Measured(max(found)) if found else Measured(None, "a store")


def _leak(case: Case, asked: Within) -> Measured:
    """Output of all emitters that a fire reaches with nothing to shut between, kW at 50 K."""
    fires = sources_of(case.ways, asked.of)
    if not fires:
        return Measured(None, "a fire")
    return Measured(min(sum(emitter_kw(case, p) or 0.0 for p in fixed_emitters(case, f)) for f in fires))


def _flow_temperature(case: Case, asked: Within) -> Measured:
    """Flow temperature of a fire by gravity alone, full fire into a working store, degC."""
    worst: float | None = None
    for source in sources_of(case.ways, asked.of):
        try:
            got = circulation(case.ways, water_of_source(case, source), POWER_CUT, Charge.WORKING)
        except FigureError as bad:
            return Measured(None, bad.what)
        if got is None or source.part not in got.drawn.at_cell:
            return Measured(None, "a loop in which water goes round")
        if got.answer.ending.boils:
            return Measured(110.0)
        worst = max(worst or 0.0, got.through(source.part).outlet_C)
    return Measured(worst) if worst is not None else Measured(None, "a fire")


def _hot_litres(case: Case, asked: Within) -> Measured:
    """Litres at 40 degC that the store's layers hold after a source has run for so long from cold."""
    for store in chosen(case.ways.sheet, case.ways.catalogue, asked.sink or "kind:heat_store"):
        only = [s.part for s in sources_of(case.ways, asked.of)] if asked.of else []
        filled = fill(case, store, minutes=asked.minutes, only=only)
        if filled is not None:
            litres = case.ways.number(store, "volume_l") or 0.0
            return Measured(usable_litres(filled.layers_c[-1], litres / 1000.0).plug_L)
    return Measured(None, "a store with its volume")


def _top(case: Case, asked: Within) -> Measured:
    """Temperature of the store's top layer after a source has run for so long from cold, degC."""
    for store in chosen(case.ways.sheet, case.ways.catalogue, asked.sink or "kind:heat_store"):
        only = [s.part for s in sources_of(case.ways, asked.of)] if asked.of else []
        filled = fill(case, store, minutes=asked.minutes, only=only)
        if filled is not None:
            return Measured(filled.layers_c[-1][-1])
    return Measured(None, "a store with its volume")


def _peak(case: Case, asked: Within) -> Measured:
    """Hottest water of a fire in a power cut, degC."""
    found = []
    for fire in sources_of(case.ways, asked.of):
        peak = peak_c(case, fire)
        if isinstance(peak, FigureError):
            return Measured(None, peak.what)
        found.append(peak)
    return Measured(max(found)) if found else Measured(None, "a fire")


def _boils(case: Case, asked: Within) -> Measured:
    """Minutes to the boil in a power cut with the store charged throughout; ten hours stand for never."""
    found = []
    for fire in sources_of(case.ways, asked.of):
        minutes = minutes_to_boil(case, fire, full=True)
        if isinstance(minutes, FigureError):
            return Measured(None, minutes.what)
        found.append(minutes)
    return Measured(min(found)) if found else Measured(None, "a fire")


def _stubs(case: Case, asked: Within) -> Measured:
    """Least distance between two stubs on one side of a vessel, m."""
    gaps = []
    for store in chosen(case.ways.sheet, case.ways.catalogue, asked.of):
        part = case.ways.sheet.parts[store]
        for side in ("left", "right"):
            heights = sorted(t.height_m for t in part.tappings if t.side == side)
            gaps += [b - a for a, b in pairwise(heights)]
    return Measured(min(gaps, default=1.0))


def _span(case: Case, asked: Within) -> Measured:
    """Height of a tapping named "store/name" as a share of the vessel's height."""
    part, _, name = asked.of.partition("/")
    for store in chosen(case.ways.sheet, case.ways.catalogue, part):
        for tap in case.ways.sheet.parts[store].tappings:
            if name in (tap.letter, tap.name):
                return Measured(share_of(case, store, tap.letter))
    return Measured(None, f"the tapping {name}")


def _volume(case: Case, asked: Within) -> Measured:
    """Volume of all stores of a choice, l."""
    stores = chosen(case.ways.sheet, case.ways.catalogue, asked.of)
    return Measured(sum(case.ways.number(s, "volume_l") or 0.0 for s in stores))


def _body_height(case: Case, asked: Within) -> Measured:
    """Height of the base of a large part above the ground floor, m."""
    found = chosen(case.ways.sheet, case.ways.catalogue, asked.of)
    if not found:
        return Measured(None, "the part")
    part = case.ways.sheet.parts[found[0]]
    return Measured(part.height_m + size_of(part, case.ways.kind(part.id))[1] / 2.0)


MEASURES: Mapping[str, Measure] = {
    "circulating_height_m": Measure("Circulating height", "m", _circulating_height),
    "charged_l": Measure("Water that the source can charge", "l", _charged),
    "cold_l": Measure("Cold water left to the sun", "l", _cold),
    "leak_kw": Measure("Heat leak that nothing can shut", "kW", _leak),
    "flow_c": Measure("Flow temperature by gravity", "°C", _flow_temperature, slow=True),
    "litres_at_40": Measure("Hot water at 40 °C", "l", _hot_litres),
    "top_c": Measure("Top of the store", "°C", _top),
    "peak_c": Measure("Hottest water in a power cut", "°C", _peak, slow=True),
    "minutes_to_boil_full": Measure("Minutes to the boil, the store full", "min", _boils, slow=True),
    "stub_gap_m": Measure("Least distance between two stubs", "m", _stubs),
    "tapping_f": Measure("Height of the tapping as a share of the store", "", _span),
    "volume_l": Measure("Volume of the store", "l", _volume),
    "middle_m": Measure("Height of its middle", "m", _body_height),
}


def measured(case: Case, asked: Within) -> Measured:
    """The figure that a condition asks for."""
    return MEASURES[asked.name].find(case, asked)
