"""Conditions that were tried, with the verdict in words: what each fire does, what moves and what stands still.

Owns which conditions are printed. What happens in them is asked of the trials and of the waterways.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loopwright.reports.matter import Matter
from loopwright.reports.model import Block, Cell, Column, Data, Mark, Section, Table, Words
from loopwright.reports.words import listed
from loopwright.rules.registry import Case
from loopwright.rules.review import conditions_tried
from loopwright.rules.trials import Trial, telling, trials, try_out
from loopwright.rules.trials import conditions as plausible_conditions
from loopwright.waterways.graph import Key, Sink, Waterways
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition

NOTHING_BURNS = "Nothing burns in it that could not be switched off."
ALL = "a power cut, each pump stopped, each hand valve shut, pairs of these"
SINGLE = "a power cut, each pump stopped, each hand valve shut; no pairs, for there are too many"
QUICK = 15000
"""Conditions times parts that are tried for a report: about a second."""
ONLY_A_STORE = "It has only a store to heat, which ends when that is full."


def conditions(matter: Matter) -> Iterator[Section]:
    """Normal running, a power cut, what the sheet says was looked at, and each plausible one that leaves a danger."""
    case = Case(matter.ways)
    sort, todo = worth_trying(matter.ways)
    plausible = trials(case, wanted=todo, progress=lambda _: matter.step("conditions"))
    asked = (NORMAL, POWER_CUT, *conditions_tried(matter.sheet), *matter.asked.tried)
    found = {c: try_out(case, c) for c in dict.fromkeys(asked)}
    found |= {t.condition: t for t in telling(plausible) if not t.holds and t.condition not in found}
    bad = sum(not t.holds for t in plausible)
    rows: list[tuple[Cell, ...]] = []
    data: list[tuple[str | int | float | bool | None, ...]] = []
    for condition, trial in found.items():
        moves, stands = sinks(matter.ways, condition)
        said = _said(trial)
        mark: Cell = "✓ holds" if trial.holds else Mark("danger", "!")
        rows.append((trial.words, mark, said, listed(moves) or "nothing", listed(stands) or "nothing"))
        data.append((trial.words, said, ", ".join(moves), ", ".join(stands), trial.holds))
    matter.record(Data("conditions", ("condition", "verdict", "moves", "stands_still", "holds"), tuple(data)))
    blocks: tuple[Block, ...] = (
        Table(
            columns=(
                Column(key="condition", title="Condition", share=1.3, tone="strong"),
                Column(key="mark", title="Verdict", share=1.05, worded=True),
                Column(key="verdict", title="What happens", share=2.7),
                Column(key="moves", title="Water moves through", share=2.0, tone="quiet"),
                Column(key="stands", title="Stands still", share=2.0, tone="quiet"),
            ),
            rows=tuple(rows),
        ),
        Words(_summed(sort, len(plausible), bad), "quiet"),
    )
    yield Section(key="conditions", title="Conditions tried", aside="whether water moves, not how much", blocks=blocks)


def worth_trying(ways: Waterways) -> tuple[str, list[Condition]]:
    """Which plausible conditions to try, and in words: all where that is quick, else those of one event, else none."""
    every = list(plausible_conditions(ways))
    single = [c for c in every if (not c.power) + len(c.stopped) + len(c.shut) <= 1]
    for sort, todo in ((ALL, every), (SINGLE, single)):
        if len(todo) * len(ways.sheet.parts) <= QUICK:
            return sort, todo
    return "", []


def _summed(sort: str, count: int, bad: int) -> str:
    if not sort:
        return "The sheet is too large to try every plausible condition here; “loopwright conditions” tries them."
    left = f"{bad} leave{'s' if bad == 1 else ''} a source in danger" if bad else "none leaves a source in danger"
    return f"Of {count} plausible conditions ({sort}) {left}."


def _said(trial: Trial) -> str:
    said = " ".join(trial.says) or NOTHING_BURNS
    return f"{said} {ONLY_A_STORE}" if trial.filling else said


def sinks(ways: Waterways, condition: Condition) -> tuple[list[str], list[str]]:
    """Emitters, coils and stores that water moves through in a condition, and those that stand still."""
    flow = moving(ways, condition)
    named: dict[bool, dict[str, None]] = {True: {}, False: {}}
    for sink in ways.sinks:
        named[_reached(sink, flow)][_sink(ways, sink)] = None
    return list(named[True]), list(named[False])


def _sink(ways: Waterways, sink: Sink) -> str:
    if sink.coil is None:
        return ways.name(sink.part)
    coil = sink.coil.name if "coil" in sink.coil.name.lower() else f"{sink.coil.name} coil"
    return f"{coil} of {ways.name(sink.part)}"


def _reached(sink: Sink, flow: Mapping[Key, float]) -> bool:
    if sink.sort != "body":
        return sink.key in flow
    return any(key[0] != "pipe" and key[1] == sink.part and not str(key[-1]).startswith("coil") for key in flow)
