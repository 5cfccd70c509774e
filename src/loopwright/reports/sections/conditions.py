"""Conditions that were tried, with the verdict in words: what moves, what stands still, and what a fire then does.

Owns the words. Which way water moves is asked of the waterways.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from loopwright.reports.matter import Matter
from loopwright.reports.model import Cell, Column, Data, Section, Table
from loopwright.reports.words import listed
from loopwright.rules.review import conditions_tried
from loopwright.waterways.graph import Key, Sink, Waterways
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition


class Verdict(msgspec.Struct, frozen=True):
    """A condition in words: what happens, what moves, what stands still; `safe`: every fire has water going round."""

    condition: str
    words: str
    moves: tuple[str, ...]
    stands: tuple[str, ...]
    safe: bool


def conditions(matter: Matter) -> Iterator[Section]:
    """Normal running, a power cut, what the sheet says was looked at, and whatever else was tried."""
    tried = list(dict.fromkeys((NORMAL, POWER_CUT, *conditions_tried(matter.sheet), *matter.asked.tried)))
    found = [verdict(matter.ways, condition) for condition in tried]
    matter.record(
        Data(
            "conditions",
            ("condition", "verdict", "moves", "stands_still", "every_fire_circulates"),
            tuple((v.condition, v.words, ", ".join(v.moves), ", ".join(v.stands), v.safe) for v in found),
        )
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (v.condition, v.words, listed(v.moves) or "nothing", listed(v.stands) or "nothing") for v in found
    )
    yield Section(
        key="conditions",
        title="Conditions tried",
        blocks=(
            Table(
                columns=(
                    Column(key="condition", title="Condition", share=1.4, tone="strong"),
                    Column(key="verdict", title="What happens", share=3.2),
                    Column(key="moves", title="Water moves through", share=2.2, tone="quiet"),
                    Column(key="stands", title="Stands still", share=2.2, tone="quiet"),
                ),
                rows=rows,
            ),
        ),
    )


def verdict(ways: Waterways, condition: Condition) -> Verdict:
    """What happens in a condition. It says whether water goes round, never how much."""
    flow = moving(ways, condition)
    said, safe = [], True
    for source in ways.sources:
        goes = source.key in flow
        name = ways.name(source.part)
        if source.part in condition.out:
            said.append(f"{name} is out.")
        elif source.stops == "fire" and not goes:
            said.append(f"{name} cannot be switched off and no water goes round through it: it boils.")
            safe = False
        elif source.stops == "fire":
            way = "" if condition.power else " by gravity alone"
            said.append(f"Water goes round through {name}{way}.")
        elif not condition.power and source.stops in ("switched", "residual"):
            rest = "; its last heat is still carried off" if goes else ""
            said.append(f"{name} stops for want of power{rest}.")
        elif source.stops == "sun" and not goes:
            said.append(f"{name} stands still in the sun and gets hot.")
        else:
            said.append(f"{name} has {'water going round' if goes else 'no water going round'}.")
    if not ways.sources:
        said.append("Nothing on the sheet makes heat.")
    moves = [_sink(ways, s) for s in ways.sinks if _reached(s, flow)]
    stands = [_sink(ways, s) for s in ways.sinks if not _reached(s, flow)]
    return Verdict(condition.words, " ".join(said), tuple(dict.fromkeys(moves)), tuple(dict.fromkeys(stands)), safe)


def _sink(ways: Waterways, sink: Sink) -> str:
    if sink.coil is None:
        return ways.name(sink.part)
    coil = sink.coil.name if "coil" in sink.coil.name.lower() else f"{sink.coil.name} coil"
    return f"{coil} of {ways.name(sink.part)}"


def _reached(sink: Sink, flow: Mapping[Key, float]) -> bool:
    if sink.sort != "body":
        return sink.key in flow
    return any(key[0] != "pipe" and key[1] == sink.part and not str(key[-1]).startswith("coil") for key in flow)
