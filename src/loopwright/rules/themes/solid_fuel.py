"""Rules of the fire itself: where its heat goes when nobody helps it, and what stands too near it."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.bores import METALS
from loopwright.rules.families import SHEDDING
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import answers, charge_kwh, elsewhere, fixed_loops, relied_on
from loopwright.waterways.graph import Key, Place, Source
from loopwright.waterways.loops import RESTS_SHUT_COST, blocker_cost, blockers, loops
from loopwright.waterways.paths import reach, shortest
from loopwright.waterways.profile import length_m
from loopwright.waterways.services import feed_runs
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of


@rule("solid-fuel/no-heat-leak", about="one fire", yields_to=("circuit/no-return",))
def no_heat_leak(case: Case) -> Iterator[Said]:
    """A fire that reaches nothing to give its heat to, whatever is opened."""
    for source, answer in answers(case):
        if answer.slug != "solid-fuel/no-heat-leak":
            yield elsewhere(case, answer)
            continue
        yield Finding(
            severity=Severity.DANGER,
            subject=source.part,
            culprits=(source.part,),
            step="3",
            message=f"{case.name(source.part)} has no loop to anything that takes its heat.",
            todo="Pipe a radiator without valves above it, in 28 mm, so that it circulates without a pump.",
            sources=("sf.leak.power", "sf.leak.valves"),
        )


@rule("solid-fuel/heat-leak-needs-power", about="one fire", yields_to=("solid-fuel/no-heat-leak",))
def heat_leak_needs_power(case: Case) -> Iterator[Said]:
    """A fire all of whose loops need a pump or a motor valve."""
    for source, answer in answers(case):
        if answer.slug != "solid-fuel/heat-leak-needs-power":
            yield elsewhere(case, answer)
            continue
        names = ", ".join(case.name(c) for c in answer.culprits)
        yield Finding(
            severity=Severity.DANGER,
            subject=source.part,
            culprits=answer.culprits,
            path=answer.path,
            message=f"With the power off, no water moves through {case.name(source.part)}: every loop needs {names}.",
            todo="Give it a loop that rises to a radiator without valves or pump.",
            condition="Power cut",
            step="4",
            sources=("sf.leak.power", "sf.valve.failpos"),
        )


@rule(
    "solid-fuel/heat-leak-can-be-shut",
    about="one fire",
    yields_to=("solid-fuel/no-heat-leak", "solid-fuel/heat-leak-needs-power"),
)
def heat_leak_can_be_shut(case: Case) -> Iterator[Said]:
    """A heat leak with a radiator, thermostatic or motor valve on it."""
    for source, answer in answers(case):
        if answer.slug != "solid-fuel/heat-leak-can-be-shut" or answer.loop is None:
            yield elsewhere(case, answer)
            continue
        ways = case.ways
        only_springs = all(
            e.does is Behaviour.POWERED and blocker_cost(ways, e) < RESTS_SHUT_COST for e in blockers(ways, answer.loop)
        )
        mild = only_springs or answer.softened
        names = ", ".join(case.name(c) for c in answer.culprits)
        yield Finding(
            severity=Severity.FAULT if mild else Severity.DANGER,
            subject=source.part,
            culprits=answer.culprits,
            path=answer.path,
            message=f"{names} can shut the heat leak of {case.name(source.part)}"
            f" ({answer.fixed_kw:.2g} kW is left without it, {answer.least_kw:.3g} kW is needed).",
            todo=f"Put plain unions in place of {names}.",
            measured=answer.fixed_kw,
            limit=answer.least_kw,
            unit="kW",
            sources=("sf.leak.valves", "sf.valve.failpos"),
            step="5",
        )


@rule("solid-fuel/heat-leak-too-small", about="one fire", yields_to=SHEDDING[:-1])
def heat_leak_too_small(case: Case) -> Iterator[Said]:
    """Emitters that nothing can shut, but too small for the fire."""
    for source, answer in answers(case):
        if answer.slug == "solid-fuel/heat-leak-too-small":
            yield Finding(
                severity=Severity.FAULT,
                subject=source.part,
                culprits=answer.culprits,
                message=f"Heat leak of {case.name(source.part)} gives {answer.fixed_kw:.2g} kW;"
                f" it needs {answer.least_kw:.3g} kW.",
                todo="Fit a larger radiator without valves, or a further one.",
                measured=answer.fixed_kw,
                limit=answer.least_kw,
                unit="kW",
                path=answer.path,
                step="6",
                sources=("sf.leak.kw.min_dhw", "sf.leak.kw.min_nodhw"),
            )
            continue
        power = case.ways.number(source.part, "power_kw")
        share = case.limit("sf.leak.pct") / 100
        if answer.step == 2 and not answer.missing and power is None:
            yield case.lacks(source.part, source.part, "power_kw", "power to water")
        elif answer.step == 2 and power is not None and answer.fixed_kw < share * power - 1e-9:
            yield Finding(
                severity=Severity.ADVICE,
                subject=source.part,
                culprits=(source.part,),
                message=f"Heat leak of {case.name(source.part)} gives {answer.fixed_kw:.2g} kW,"
                f" less than a tenth of its {power:g} kW.",
                todo="A tenth of the power to water is usual: consider a larger radiator.",
                measured=answer.fixed_kw,
                limit=share * power,
                unit="kW",
                sources=("sf.leak.pct",),
                step="2",
            )
        else:
            yield elsewhere(case, answer)


@rule("solid-fuel/store-is-only-leak", about="one fire")
def store_is_only_leak(case: Case) -> Iterator[Said]:
    """A fire whose only way out is a store that may be full."""
    for source, answer in answers(case):
        if answer.slug != "solid-fuel/store-is-only-leak":
            yield elsewhere(case, answer)
            continue
        paths = [loop for loop in fixed_loops(case, source) if loop.sink.sort in ("body", "coil")]
        alone = answer.charge_kwh == charge_kwh(case, source)
        burnt = "one charge gives" if alone else "a charge of each fire on it gives"
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=answer.culprits or (source.part,),
            path=paths[0].ids if paths else (),
            message=f"The store is the only heat leak of {case.name(source.part)}: it has room for"
            f" {answer.room_kwh or 0:.1f} kWh, {burnt} {answer.charge_kwh or 0:.1f} kWh.",
            todo="Add a radiator without valves, or lower the limit of the other sources.",
            measured=answer.room_kwh,
            limit=answer.charge_kwh,
            unit="kWh",
            sources=("sf.store.as_leak", "store.t.log"),
            step="6",
        )


@rule("solid-fuel/plastic-pipe", about="one fire")
def plastic_pipe(case: Case) -> Iterator[Said]:
    """Plastic on the vent, the feed, a relied-on loop, or within a metre of the fire."""
    ways = case.ways
    for source in ways.fires:
        water = water_of(ways, source.hot)
        if water is None:
            continue
        if all(k[0] != "pipe" or ways.pipe(k).joint or ways.pipe(k).material in METALS for k in water.elements):
            yield Sound(source.part, "Every pipe of its water is metal")
            continue
        soft = {k for k in water.elements if k[0] == "pipe" and not ways.pipe(k).joint}
        soft -= {k for k in soft if ways.pipe(k).material in METALS}
        near = _distance(case, source)
        limit = case.limit("sf.plastic.copper_first")
        mine = (loop for loop in fixed_loops(case, source) if soft & loop.keys)
        relied = {k for loop in mine if relied_on(case, source, loop) for k in loop.keys}
        fixed = passing(ways, Ask.FIXED)
        vent_keys = _vent_path_keys(case, source, fixed)
        feed_keys = {k for run in feed_runs(ways).values() for k in run}
        bad: list[tuple[str, bool]] = []
        for key in soft:
            pipe = ways.sheet.pipes[key[1]]
            element = ways.elements[key]
            distance = min(near.get(element.a, 1e9), near.get(element.b, 1e9))
            severe = key in relied or key in vent_keys or (key in feed_keys and distance < limit)
            if severe or distance < limit:
                bad.append((pipe.id, severe))
        if not bad:
            yield Sound(source.part)
            continue
        severe = any(s for _, s in bad)
        ids = tuple(sorted(i for i, _ in bad))
        names = " and ".join(map(case.name, ids)) if len(ids) < 4 else f"{len(ids)} pipes of its water"
        materials = ", ".join(sorted({ways.sheet.pipes[i].material for i in ids}))
        stands = "100 to 114 °C" if severe else "100 °C"
        yield Finding(
            severity=Severity.DANGER if severe else Severity.FAULT,
            subject=source.part,
            culprits=ids,
            path=ids,
            message=f"{names} {'is' if len(ids) == 1 else 'are'} {materials};"
            f" near {case.name(source.part)} water can boil, and plastic gives way at {stands}.",
            todo="Run it in copper or steel.",
            sources=("sf.plastic.class5.max", "sf.plastic.classS.max", "sf.plastic.copper_first"),
        )


def _distance(case: Case, source: Source) -> dict[Place, float]:
    """Shortest developed distance in metres of each place from a port of the source."""
    ways = case.ways
    best: dict[Place, float] = dict.fromkeys((*source.flow_ports, *source.return_ports), 0.0)
    heap = [(0.0, i, p) for i, p in enumerate(best)]
    heapq.heapify(heap)
    count = len(heap)
    every = passing(ways, Ask.OPEN)
    while heap:
        so_far, _, here = heapq.heappop(heap)
        if so_far > best[here] or so_far > 3.0:
            continue
        for element in ways.links[here]:
            if element.key == source.key or not every[element.key]:
                continue
            length = length_m(ways, element) if element.pipe else 0.0
            there = element.other(here)
            if so_far + length < best.get(there, 1e9):
                best[there] = so_far + length
                count += 1
                heapq.heappush(heap, (so_far + length, count, there))
    return best


def _vent_path_keys(case: Case, source: Source, fixed: dict[Key, int]) -> set[Key]:
    """Elements of the shortest vent path in what can never be shut."""
    ways = case.ways
    water = water_of(ways, source.hot)
    if water is None:
        return set()
    ends = {e.a if e.a in water.places else e.b for e in water.vent_ends}
    path = shortest(ways, fixed, [source.hot], ends, drop={source.key}) if ends else None
    return {k for k, _ in path} if path else set()


@rule("solid-fuel/feeds-unvented-cylinder", about="one fire")
def feeds_unvented_cylinder(case: Case) -> Iterator[Said]:
    """A fire's own water in the coil of a mains-fed cylinder."""
    ways = case.ways
    for source in ways.fires:
        fed = []
        for loop in loops(ways, source, Ask.OPEN):
            if loop.sink.sort != "coil" or ways.kind(loop.sink.part).body != "cylinder":
                continue
            body_water = water_of(ways, ("body", loop.sink.part))
            if body_water is not None and body_water.regime == "mains":
                fed.append(loop)
        for loop in fed:
            yield Finding(
                severity=Severity.DANGER,
                subject=source.part,
                culprits=(loop.sink.part,),
                path=loop.ids,
                message=f"{case.name(source.part)} heats the unvented cylinder {case.name(loop.sink.part)} directly;"
                " a fire cannot be shut off.",
                todo="Heat the store with the fire, and the cylinder from the store.",
                sources=("sf.sealed.unvented_dhw",),
            )
        if not fed and any(ways.kind(s.part).body == "cylinder" for s in ways.sinks):
            yield Sound(source.part)


@rule("solid-fuel/store-too-small", about="one fire")
def store_too_small(case: Case) -> Iterator[Said]:
    """Too little store for a batch of logs."""
    for source in case.ways.fires:
        stores = _stores_of(case, source)
        litres = [case.ways.number(store, "volume_l") for store in stores]
        power = case.ways.number(source.part, "power_kw")
        if power is None or any(one is None for one in litres):
            yield Missing(source.part, "power or store volume is missing", source.part, "power_kw")
            continue
        total = sum(one or 0.0 for one in litres)
        about: dict[str, Any] = {
            "subject": source.part,
            "culprits": tuple(stores) or (source.part,),
            "path": (source.part, *stores),
            "measured": total,
            "unit": "l",
        }
        if case.sheet.parts[source.part].kind == "log_boiler":
            yield _for_a_charge(case, source, power, total, about)
        elif stores:
            yield _for_hand_firing(case, source, power, total, about)


def _stores_of(case: Case, source: Source) -> list[str]:
    """Stores that a fire heats, and those joined to them in series or side by side."""
    ways = case.ways
    heated = {loop.sink.part for loop in loops(ways, source, Ask.OPEN) if loop.sink.sort in ("body", "coil")}
    stores = {part for part in heated if ways.kind(part).body == "store"}
    if stores:
        joined = reach(ways, passing(ways, Ask.OPEN), [("body", store) for store in stores])
        stores |= {body[1] for body in ways.bodies("store") if body in joined}
    return sorted(stores)


def _for_a_charge(case: Case, source: Source, power: float, total: float, about: dict[str, Any]) -> Said:
    """The store of a log boiler against what EN 303-5 asks for one charge, in litres."""
    burn = case.ways.number(source.part, "burn_time_h")
    least = case.ways.number(source.part, "min_output_kw")
    load = case.sheet.facts.get("house_load_kw")
    if burn is None or not least or not isinstance(load, int | float):
        return Missing(source.part, "burn time, least output or house load is missing", source.part, "burn_time_h")
    needed = max(15 * burn * power * (1 - 0.3 * load / least), case.limit("store.en303_5.min"))
    if total >= needed:
        return Sound(source.part)
    return Finding(
        **about,
        severity=Severity.FAULT,
        limit=needed,
        message=f"Stores of {case.name(source.part)} hold {total:.0f} l; one charge needs {needed:.0f} l.",
        todo=f"Add {needed - total:.0f} l of store.",
        sources=("store.en303_5", "store.en303_5.min"),
    )


def _for_hand_firing(case: Case, source: Source, power: float, total: float, about: dict[str, Any]) -> Said:
    """The store of a stove against what is usual a kilowatt, in litres."""
    usual = case.limit("store.log.55")
    needed = usual * power
    if total >= needed:
        return Sound(source.part)
    return Finding(
        **about,
        severity=Severity.ADVICE,
        limit=needed,
        message=f"Stores of {case.name(source.part)} hold {total:.0f} l, {total / power:.0f} l a kilowatt;"
        f" {usual:g} l is usual for hand-fired wood.",
        todo=f"Consider {needed:.0f} l of store.",
        sources=("store.log.55",),
    )
