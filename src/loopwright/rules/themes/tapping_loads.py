"""Rules of tappings, the side of the loads: where they draw and come back, where air leaves, where sensors sit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import (
    APART_F,
    Circuit,
    culprit,
    flow_c,
    height_of,
    load_circuits,
    need_c,
    pipe_at,
    share_of,
    source_circuits,
)
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.themes.tapping import direct, metres, pipes_at, up_words
from loopwright.rules.themes.tapping_solar import solar_at, switched_at
from loopwright.sheet.values import Point
from loopwright.waterways.graph import Key, Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.profile import GRADE, LEVEL_M, points_of
from loopwright.waterways.services import feed_runs, vent_runs
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import is_vent_end

FIRE_DRAW_F = 0.3
"""Common practice, no source: below this a load on a store heated by fire or sun alone mostly finds cold water."""


@rule(
    "tapping/return-mixes-hot",
    about="one load at one store",
    yields_to=("tapping/flow-below-return", "tapping/swapped"),
)
def return_mixes_hot(case: Case) -> Iterator[Said]:
    """Load return stirring the hot part."""
    for load, name in _once(case):
        need = need_c(case, load.subject)
        said: dict[str, Any] = {
            "subject": load.subject,
            "culprits": pipes_at(case, load),
            "path": load.ids,
            "sources": ("pos.return.low",),
            "measured": height_of(case, load.store, load.enter),
            "unit": "m",
        }
        back = up_words(case, load.store, load.enter)
        if load.enter_f >= load.leave_f - APART_F:
            yield Finding(
                **said,
                severity=Severity.FAULT,
                limit=height_of(case, load.store, load.leave),
                message=f"Return of {name} comes back into {case.name(load.store)} at {back}, not below its own "
                f"supply at {up_words(case, load.store, load.leave)}.",
                todo="Bring the return in below the supply.",
            )
            continue
        hotter = next(
            (
                o
                for o in load_circuits(case)
                if o.store == load.store
                and need is not None
                and (need_c(case, o.subject) or 0.0) > need
                and load.enter_f > o.leave_f + APART_F
            ),
            None,
        )
        if hotter is not None:
            yield Finding(
                **said,
                severity=Severity.FAULT,
                limit=height_of(case, load.store, hotter.leave),
                message=f"Return of {name} comes back into {case.name(load.store)} at {back}, above the supply of "
                f"{case.name(hotter.subject)} at {up_words(case, load.store, hotter.leave)}.",
                todo=f"Bring the return in below {up_words(case, load.store, hotter.leave)}.",
            )
        else:
            yield Sound(load.subject, f"It comes back at {back}, below its supply")
    yield from _heat_pumps(case)


def _once(case: Case) -> list[tuple[Circuit, str]]:
    """One load a pair of tappings, the hottest of those that share it, and the names of them all."""
    pairs: dict[tuple[str, str, str], list[Circuit]] = {}
    for load in load_circuits(case):
        pairs.setdefault((load.store, load.leave, load.enter), []).append(load)
    out = []
    for loads in pairs.values():
        hottest = max(loads, key=lambda load: need_c(case, load.subject) or 0.0)
        names = sorted({case.name(load.subject) for load in loads})
        out.append((hottest, " and ".join(names) if len(names) < 4 else f"{names[0]} and {len(names) - 1} others"))
    return out


def _heat_pumps(case: Case) -> Iterator[Said]:
    for pump in direct(case):
        if not case.ways.has_tag(pump.subject, "heat_pump"):
            continue
        most = case.ways.number(pump.subject, "max_return_c") or case.limit("hp.return.max", last=True)
        for other in direct(case):
            hot = flow_c(case, other.subject)
            if (
                other.store == pump.store
                and other.subject != pump.subject
                and hot is not None
                and hot > most
                and pump.leave_f >= other.enter_f - APART_F
            ):
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=pump.subject,
                    culprits=(culprit(case, pump.store, pump.leave),),
                    path=pump.ids,
                    sources=("hp.return.max",),
                    measured=hot,
                    limit=most,
                    unit="°C",
                    message=f"{case.name(pump.subject)} draws at {up_words(case, pump.store, pump.leave)}, where "
                    f"{case.name(other.subject)} brings in {hot:g} °C; it takes at most {most:g} °C.",
                    todo=f"Lower its return below {up_words(case, other.store, other.enter)}.",
                )


@rule(
    "tapping/load-draws-cold", about="one load at one store", yields_to=("tapping/swapped", "tapping/return-mixes-hot")
)
def load_draws_cold(case: Case) -> Iterator[Said]:
    """Load drawing below the heated part."""
    for load, name in _once(case):
        yield _draws_cold(case, load, name)


def _draws_cold(case: Case, load: Circuit, name: str) -> Said:
    """Where one load draws, against what can heat it, then against fire and sun, then against cooler loads."""
    need, switched = need_c(case, load.subject), switched_at(case, load.store)
    at, store = height_of(case, load.store, load.leave), case.name(load.store)
    said: dict[str, Any] = {
        "subject": load.subject,
        "culprits": (culprit(case, load.store, load.leave),),
        "path": load.ids,
        "measured": at,
        "unit": "m",
        "sources": ("pos.ufh.flow" if case.ways.has_tag(load.subject, "underfloor") else "pos.rad.flow",),
    }
    above = [c for c in switched if load.leave_f < c.leave_f - APART_F]
    if switched and len(above) == len(switched):  # no source heats where it draws: temperatures decide
        if need is None:
            return case.lacks(load.subject, load.subject, "t_need_c", "temperature")
        unknown = next((c.subject for c in above if flow_c(case, c.subject) is None), None)
        if unknown is not None:
            return case.lacks(load.subject, unknown, "t_flow_c", "temperature")
    able = [c for c in switched if need is not None and (flow_c(case, c.subject) or 0.0) >= need]
    if able and all(c in above for c in able):
        low = metres(case, load.store, min(c.leave_f for c in able))
        return Finding(
            **said,
            severity=Severity.FAULT,
            limit=low,
            message=f"{name} draws from {store} at {at:.2f} m; what can heat it "
            f"({', '.join(case.name(c.subject) for c in able)}) heats only from {low:.2f} m up.",
            todo=f"Raise its supply above {low:.2f} m.",
        )
    warmed = any(c.store == load.store for c in source_circuits(case))
    if not switched and warmed and load.leave_f < FIRE_DRAW_F:
        low = metres(case, load.store, FIRE_DRAW_F)
        return Finding(
            **said,
            severity=Severity.ADVICE,
            limit=low,
            message=f"{name} draws from {store} at {at:.2f} m, in the lowest third, which fire and sun warm last.",
            todo=f"Raise its supply above {low:.2f} m.",
        )
    cooler = _cooler_above(case, load, need) if need is not None else None
    if cooler is None:
        return Sound(load.subject, f"It draws at {at:.2f} m, in the heated part")
    high = height_of(case, load.store, cooler.leave)
    return Finding(
        **said,
        severity=Severity.ADVICE,
        limit=high,
        message=f"{name} needs {need:g} °C and draws at {at:.2f} m, below {case.name(cooler.subject)}, which "
        f"needs less and draws at {high:.2f} m.",
        todo="Exchange the two supplies.",
    )


def _cooler_above(case: Case, load: Circuit, need: float) -> Circuit | None:
    """A load of the same store that needs less and draws higher."""
    return next(
        (
            other
            for other in load_circuits(case)
            if other.store == load.store
            and other.leave_f > load.leave_f + APART_F
            and (need_c(case, other.subject) or need) < need
        ),
        None,
    )


@rule("tapping/vent-not-top", about="one store with a vent or air vent", yields_to=("vent-and-feed/vent-dips",))
def vent_not_top(case: Case) -> Iterator[Said]:
    """Store vent not at the top."""
    ways = case.ways
    for body in ways.bodies("store", "cylinder"):
        store = body[1]
        part = ways.sheet.parts[store]
        wet = {
            t.letter: share_of(case, store, t.letter)
            for t in part.tappings
            if t.purpose != "sensor" and ("port", store, t.letter) in ways.at
        }
        own = {e.other(body)[2] for e in ways.links[body] if e.other(body)[0] == "port"}  # a coil's ends are not
        vents = {x: _lets_air_out(case, store, x) for x in wet if x in own and pipe_at(case, store, x)}
        vents = {letter: how for letter, how in vents.items() if how}
        if vents:
            yield from _pocket(case, store, wet, vents)
        yield from _high_feed(case, store)


def _lets_air_out(case: Case, store: str, letter: str) -> str:
    """“vent” or “air” if an open vent or an air vent is reached from a tapping without crossing the body."""
    ways, sinks = case.ways, _air_stops(case)
    body: Place = ("body", store)
    begin: Place = ("port", store, letter)
    near = reach(ways, passing(ways, Ask.OPEN), [begin], drop=sinks, walls={body, *ways.bodies()})
    near.discard(body)
    got = _rising(case, begin, near, sinks)
    for place in got:
        if place[0] == "port" and any(is_vent_end(ways, e) for e in ways.links[place] if e.does is Behaviour.AIR_GAP):
            return "vent"
    return "air" if any(ways.has_tag(p[1], "air_vent") for p in got) else ""


@kept
def _air_stops(case: Case) -> frozenset[Key]:
    """What air does not pass. What can shut a vent is for other rules."""
    stops = case.ways.keys_doing(Behaviour.EMITTER, Behaviour.SOURCE, Behaviour.PUMP, Behaviour.ONE_WAY)
    return stops - _vents(case)


@kept
def _vents(case: Case) -> frozenset[Key]:
    """Elements of every vent run."""
    return frozenset(key for run in vent_runs(case.ways).values() for key in run)


def _rising(case: Case, begin: Place, near: set[Place], drop: frozenset[Key]) -> set[Place]:
    """Places that air gets to from a tapping: only along what does not fall, within `near`."""
    ways = case.ways
    seen, todo = {begin}, [begin]
    while todo:
        here = todo.pop()
        for element in ways.links[here]:
            there = element.other(here)
            if there not in near or there in seen or element.key in drop:
                continue
            if element.key in _vents(case):  # how a vent rises is for the rule on vents
                seen.add(there)
                todo.append(there)
                continue
            points = points_of(ways, element)
            points = points if element.a == here else points[::-1]
            mark = ways.sheet.pipes[element.pipe].graded if element.pipe else ""
            falls = bool(mark) and (mark == "b") != (element.a == here)
            if any(q[1] < p[1] - LEVEL_M for p, q in pairwise(points)) or (falls and GRADE * level_m(points) > LEVEL_M):
                continue
            seen.add(there)
            todo.append(there)
    return seen


def level_m(points: list[Point]) -> float:
    """Length of the level pieces of a line, in metres."""
    return sum(abs(q[0] - p[0]) for p, q in pairwise(points) if abs(q[1] - p[1]) <= LEVEL_M)


def _pocket(case: Case, store: str, wet: dict[str, float], vents: dict[str, str]) -> Iterator[Said]:
    ways = case.ways
    base, top = ways.body_range(store)
    coils = [c.top_m / (top - base) for c in ways.sheet.parts[store].coils]
    highest = max([*wet.values(), *coils])
    best = max(vents, key=lambda letter: wet[letter])
    if wet[best] >= highest - APART_F - 1e-9:
        yield Sound(store, "Air leaves from the highest point")
        return
    danger = vents[best] == "vent" and any(
        _only_vent(case, c, store) and wet[best] < c.enter_f - 1e-9
        for c in direct(case)
        if c.store == store and c.source and c.source.stops == "fire"
    )
    yield Finding(
        severity=Severity.DANGER if danger else Severity.FAULT,
        subject=store,
        path=(store,),
        sources=("pos.vent", "air.store"),
        culprits=(culprit(case, store, best),),
        measured=metres(case, store, wet[best]),
        limit=metres(case, store, highest),
        unit="m",
        message=f"{case.name(store)} lets its air out at {metres(case, store, wet[best]):.2f} m; its highest wet point "
        f"is at {metres(case, store, highest):.2f} m.",
        todo="Take the vent from the top boss.",
    )


def _only_vent(case: Case, circuit: Circuit, store: str) -> bool:
    """Whether the fire reaches no open vent without passing this store."""
    ways = case.ways
    assert circuit.source is not None
    walls = {("body", store), *ways.bodies("cistern")}
    got = reach(ways, passing(ways, Ask.FIXED), [circuit.source.hot], drop={circuit.source.key}, walls=walls)
    return not any(
        is_vent_end(ways, e) for p in got if p[0] == "port" for e in ways.links[p] if e.does is Behaviour.AIR_GAP
    )


def _high_feed(case: Case, store: str) -> Iterator[Said]:
    ways = case.ways
    for run in feed_runs(ways).values():
        last = ways.elements[run[-1]]
        for place in (last.a, last.b):
            if place[0] == "port" and place[1] == store and ways.sheet.parts[store].tapping(place[2]) is not None:
                at = share_of(case, store, place[2])
                if at > 0.5 and not any(place[2] in (c.lower, c.upper) for c in ways.sheet.parts[store].coils):
                    yield Finding(
                        severity=Severity.ADVICE,
                        subject=store,
                        culprits=(culprit(case, store, place[2]),),
                        path=tuple(dict.fromkeys(k[1] for k in run)),
                        sources=("pos.hot_in",),
                        measured=metres(case, store, at),
                        limit=metres(case, store, 0.5),
                        unit="m",
                        message=f"Cold feed enters {case.name(store)} at {metres(case, store, at):.2f} m, above "
                        "half its height.",
                        todo="Bring the feed in at the bottom.",
                    )


@rule(
    "tapping/sensor-in-wrong-zone",
    about="one circuit with a linked sensor in a store",
    yields_to=(
        "tapping/flow-below-return",
        "tapping/swapped",
        "tapping/hotter-below-cooler",
        "tapping/solar-not-lowest",
        "tapping/steals-from-solar",
        "tapping/load-draws-cold",
        "tapping/return-mixes-hot",
        "tapping/fire-return-too-high",
        "tapping/coil-upside-down",
    ),
)
def sensor_in_wrong_zone(case: Case) -> Iterator[Said]:
    """Sensor in the wrong part of the store."""
    sheet = case.ways.sheet
    by_target: dict[str, list[tuple[str, str]]] = {}
    for link in sheet.links.values():
        for place in (link.sensor, link.second):
            store, slash, letter = place.partition("/")
            if slash and store in sheet.parts and sheet.parts[store].tapping(letter) is not None:
                by_target.setdefault(link.target, []).append((store, letter))
    sensed: dict[tuple[str, str, str, str], tuple[Circuit, list[str]]] = {}
    # all that drives one circuit, by its source, pump or valve, counts together
    for target, pockets in by_target.items():
        for circuit in _driven_by(case, target):
            mine = [letter for store, letter in pockets if store == circuit.store]
            if mine:
                key = (circuit.subject, circuit.store, circuit.enter, circuit.leave)
                sensed.setdefault(key, (circuit, []))[1].extend(mine)
    for circuit, letters in sensed.values():
        yield _sensor(case, circuit, letters)


def _driven_by(case: Case, target: str) -> list[Circuit]:
    """Circuits whose source, pump or valve the target is; those of sources first, else of loads."""
    mine = [
        c for c in source_circuits(case) if c.subject == target or any(k[1] == target and k[0] == "way" for k in c.keys)
    ]
    return mine or [
        c for c in load_circuits(case) if c.subject == target or any(k[1] == target and k[0] == "way" for k in c.keys)
    ]


def _sensor(case: Case, circuit: Circuit, letters: list[str]) -> Said:
    store = circuit.store
    low, high = circuit.leave_f, 1.0
    sources: tuple[str, ...] = ()
    if circuit.source is None:
        low = circuit.leave_f - 0.1
    elif circuit.source.stops == "sun":
        solar = solar_at(case, store)
        low, high, sources = 0.0, max(circuit.enter_f, solar.enter_f if solar else 0.0), ("pos.stat.solar",)
    else:
        low, high = sorted((circuit.leave_f, circuit.enter_f))
        sources = ("pos.stat.dhw",)
    inside = [x for x in letters if low - APART_F <= share_of(case, store, x) <= high + APART_F]
    if inside:
        return Sound(circuit.subject, "Its sensor sits in the part it moves")
    letter = letters[0]
    at, bottom, top = height_of(case, store, letter), metres(case, store, low), metres(case, store, high)
    nearest = top if at > top else bottom
    return Finding(
        severity=Severity.FAULT,
        subject=circuit.subject,
        culprits=(store, *pipes_at(case, circuit)),
        path=circuit.ids,
        sources=sources,
        measured=at,
        limit=nearest,
        unit="m",
        message=f"Sensor of {case.name(circuit.subject)} is at {at:.2f} m in {case.name(store)}; its circuit works "
        f"from {bottom:.2f} m to {top:.2f} m.",
        todo=f"Move the pocket to between {bottom:.2f} m and {top:.2f} m.",
    )
