"""Conditions worth trying on a sheet, and what each does to the fires: the what-if that a rule cannot leave to chance.

Owns which conditions are plausible and the verdict in each. The verdict looks at what moves (the trace) and at what is
open (a search), never at the rules, so that it is a second opinion on them. Refuses to know amounts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.cooling import sound_cooling
from loopwright.rules.registry import Case
from loopwright.rules.replay import named
from loopwright.rules.vents import vent_targets
from loopwright.waterways.graph import Key, Place, Source, Waterways
from loopwright.waterways.paths import reach
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL, POWER_CUT, Ask, Condition, closable, passing
from loopwright.waterways.waters import water_of
from loopwright.words import listed


class Trial(msgspec.Struct, frozen=True, kw_only=True):
    """A condition and what it does. `lost` are the sources that lose their flow or their opening; empty is good."""

    condition: Condition
    words: str
    """The condition with the names of the parts."""
    lost: tuple[str, ...] = ()
    filling: tuple[str, ...] = ()
    """Fires whose heat has only a store to go to, which ends when it is full."""
    says: tuple[str, ...] = ()
    """One sentence a source that matters in it, the worst first."""

    @property
    def holds(self) -> bool:
        """True when no source is left in danger."""
        return not self.lost


def hand_valves(ways: Waterways) -> list[str]:
    """Parts that a hand can shut and that nothing locks open, in the sheet's order."""
    return [
        part
        for part in ways.sheet.parts
        if any(e.does is Behaviour.HAND and closable(ways, e) for e in ways.by_part.get(part, ()))
        and not ways.value(part, "locked_open")
        and ways.value(part, "open") is not False
    ]


def conditions(ways: Waterways) -> Iterator[Condition]:
    """What may plausibly happen: all runs, a power cut, each pump stopped, each valve shut, and of the pairs those of
    one standing state and one event: a valve left shut when the power fails, or when a pump stops on it.

    Two valves left shut at once, or two pumps failing at once, take two mistakes and are left to a person to try.
    """
    pumps = [p for p in ways.sheet.parts if any(e.does is Behaviour.PUMP for e in ways.by_part.get(p, ()))]
    valves = hand_valves(ways)
    yield NORMAL
    yield POWER_CUT
    for pump in pumps:
        yield Condition(stopped=frozenset({pump}))
    for valve in valves:
        yield Condition(shut=frozenset({valve}))
    for valve in valves:
        yield Condition(power=False, shut=frozenset({valve}))
        for pump in pumps:
            yield Condition(stopped=frozenset({pump}), shut=frozenset({valve}))


def try_out(case: Case, condition: Condition) -> Trial:
    """What a condition does to each source that burns in it."""
    ways = case.ways
    flow = moving(ways, condition)
    lost: list[str] = []
    bad: list[str] = []
    good: list[str] = []
    filling: list[str] = []
    for source in ways.sources:
        fires = source.stays_hot
        if source.part in condition.out or (not fires and not condition.power):
            continue
        name = ways.name(source.part)
        if not _open(case, source, condition):
            lost.append(source.part)
            bad.append(f"{name} is shut off from its vent and from every relief valve.")
        if not fires:
            continue
        if source.key in flow:
            stores, emitters = heated(ways, source, flow)
            to = listed(ways.name(p) for p in (*stores, *emitters))
            how = "" if condition.power else " by gravity"
            good.append(f"{name} keeps its water moving{how}{f', to {to}' if to else ''}.")
            if not emitters and not condition.power:
                filling.append(source.part)
        elif sound_cooling(case, source):
            good.append(f"No water moves through {name}; its cooling coil carries the heat.")
        else:
            lost.append(source.part)
            bad.append(f"No water moves through {name}.")
    return Trial(
        condition=condition,
        words=named(ways, condition),
        lost=tuple(dict.fromkeys(lost)),
        filling=tuple(filling),
        says=(*bad, *good),
    )


def heated(ways: Waterways, source: Source, flow: Mapping[Key, float]) -> tuple[list[str], list[str]]:
    """Stores and emitters that the moving water of a source comes to, following it downstream."""
    outwards: dict[Place, list[tuple[Key, Place]]] = {}
    for key, rate in flow.items():
        element = ways.elements[key]
        start, end = (element.a, element.b) if rate > 0 else (element.b, element.a)
        outwards.setdefault(start, []).append((key, end))
    element = ways.elements[source.key]
    todo = [element.b if flow[source.key] > 0 else element.a]
    seen, stores, emitters = set(todo), [], []
    bodies = set(ways.bodies("store", "cylinder"))
    while todo:
        place = todo.pop()
        if place in bodies:
            stores.append(place[1])
            continue  # what leaves a store again is the store's heat
        for key, end in outwards.get(place, ()):
            if ways.elements[key].does is Behaviour.EMITTER:
                emitters.append(ways.elements[key].part)
            if ways.elements[key].does is Behaviour.COIL:
                stores.append(ways.elements[key].part)
            if end not in seen:
                seen.add(end)
                todo.append(end)
    return sorted(set(stores)), sorted(set(emitters))


def trials(
    case: Case, *, progress: Callable[[float], object] | None = None, wanted: list[Condition] | None = None
) -> tuple[Trial, ...]:
    """Every condition worth trying, in the order of `conditions`; or those `wanted`. `progress` hears 0 to 1."""
    todo = list(conditions(case.ways)) if wanted is None else wanted
    out = []
    for number, condition in enumerate(todo):
        out.append(try_out(case, condition))
        if progress is not None:
            progress((number + 1) / len(todo))
    return tuple(out)


def telling(found: tuple[Trial, ...]) -> tuple[Trial, ...]:
    """The trials that say something of their own: a pair that only repeats what one of its halves does is left out."""
    worst = {t.condition: {*t.lost, *((p, "filling") for p in t.filling)} for t in found}
    out = []
    for trial in found:
        condition = trial.condition
        halves = []
        if condition.shut and (condition.stopped or not condition.power):
            halves = [Condition(shut=condition.shut), Condition(power=condition.power, stopped=condition.stopped)]
        if not any(worst[condition] <= worst.get(half, set()) for half in halves):
            out.append(trial)
    return tuple(out)


def _open(case: Case, source: Source, condition: Condition) -> bool:
    """Whether a source still reaches the air or a relief valve of its own water. One that never did is not judged."""
    ways = case.ways
    water = water_of(ways, source.hot)
    if water is None:
        return True
    seats = {e.a for e in ways.doing(Behaviour.RELIEF)} | {e.b for e in ways.doing(Behaviour.RELIEF)}
    targets: set[Place] = (vent_targets(case, water) | seats) & (set(water.places) | vent_targets(case, water))
    if not targets:
        return True
    return bool(targets & reach(ways, passing(ways, Ask.OPEN, condition), [source.hot, source.cold]))
