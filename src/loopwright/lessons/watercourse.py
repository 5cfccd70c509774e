"""The conditions of a goal that ask how water goes: loops, circuits, vents, waters, order along a run.

Owns their meaning on the waterways, and the value that every condition is answered with. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Any, Literal

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.lessons import goals
from loopwright.lessons.choice import called, chosen, is_choice, places_of, sinks_of, sources_of, ways_of
from loopwright.lessons.looking import Look
from loopwright.rules.circuits import load_circuits, source_circuits
from loopwright.rules.shedding import fixed_emitters
from loopwright.rules.vents import vents_reached
from loopwright.rules.warmth import tap_coils
from loopwright.waterways.graph import Place
from loopwright.waterways.loops import loop_to
from loopwright.waterways.paths import places_along, reach, shortest
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL, POWER_CUT, Ask, passing
from loopwright.waterways.waters import water_of
from loopwright.words import capital


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """A condition's answer, in a learner's words. `ids` are what to light first, `path` the loop or way it is about.

    `state` is met, unmet, or not yet: unfinished is never a miss. `later`: not yet worked out, since it takes a run and
    the rest is not right. `near`: little is lacking.
    """

    met: bool
    said: str
    state: Literal["met", "unmet", "not yet"] = "unmet"
    near: bool = False
    later: bool = False
    ids: tuple[str, ...] = ()
    path: tuple[str, ...] = ()
    rule: str = ""
    todo: str = ""
    severity: str = ""
    value: float | None = None
    limit: float | None = None


def met(said: str) -> Judged:
    """A condition that holds."""
    return Judged(met=True, state="met", said=said)


def unmet(said: str, **more: Any) -> Judged:
    """A condition that does not hold."""
    return Judged(met=False, state="unmet", said=said, **more)


def _names(look: Look, ids: Iterable[str]) -> str:
    return ", ".join(look.case.name(i) for i in dict.fromkeys(ids))


def _missing(look: Look, *names: str) -> Judged | None:
    for name in names:
        if not chosen(look.sheet, look.catalogue, name.partition("/")[0]):
            said = f"{capital(called(look.ways, name))} is not on the sheet."
            return Judged(met=False, state="not yet" if is_choice(name) else "unmet", said=said)
    return None


def _fixed_loop(look: Look, asked: goals.FixedLoop) -> Judged:
    lost = _missing(look, asked.source, asked.sink)
    if lost is not None:
        return lost
    ways = look.ways
    for source in sources_of(ways, asked.source):
        sinks = sinks_of(ways, asked.sink)
        series = fixed_emitters(look.case, source)  # one that the water passes on its way to another sink counts too
        if any(s.part in series or loop_to(ways, source, s, Ask.FIXED) is not None for s in sinks):
            continue
        would = next((w for w in (loop_to(ways, source, s, Ask.OPEN) for s in sinks) if w is not None), None)
        names = f"{ways.name(source.part)} and {_names(look, (s.part for s in sinks))}"
        if would is None:
            return unmet(f"No loop goes from {names} and back.", ids=(source.part, *(s.part for s in sinks)))
        stop = [ways.elements[k].part for k, _ in would.steps if not passing(ways, Ask.FIXED)[k]]
        return unmet(
            f"The loop of {names} passes {_names(look, stop)}, which can stand shut.",
            ids=tuple(dict.fromkeys(stop)),
            path=tuple(dict.fromkeys((source.part, *(k[1] for k, _ in would.steps)))),
        )
    return met(f"An open loop joins {called(look.ways, asked.source)} and {called(look.ways, asked.sink)}.")


def _circuit(look: Look, asked: goals.CircuitMoves) -> Judged:
    lost = _missing(look, asked.source, asked.sink)
    if lost is not None:
        return lost
    ways = look.ways
    flow = moving(ways, NORMAL)
    for source in sources_of(ways, asked.source):
        loops = [loop_to(ways, source, s, Ask.RUNNING) for s in sinks_of(ways, asked.sink)]
        alive = [w for w in loops if w is not None]
        names = f"{ways.name(source.part)} and {called(ways, asked.sink)}"
        if not alive:
            return unmet(f"Water cannot go round between {names}.", ids=(source.part,))
        if source.key not in flow:
            return unmet(f"Nothing drives water round between {names}.", ids=(source.part,))
    return met(f"Water goes round between {called(ways, asked.source)} and {called(ways, asked.sink)}.")


def _vent_path(look: Look, asked: goals.VentPath) -> Judged:
    ways = look.ways
    for source in sources_of(ways, asked.source):
        if not vents_reached(look.case, source, passing(ways, Ask.FIXED)):
            return unmet(f"No open pipe leads from {ways.name(source.part)} to the air.", ids=(source.part,))
    if not sources_of(ways, asked.source):
        return unmet(f"{capital(called(ways, asked.source))} is not on the sheet.")
    return met(f"{capital(called(ways, asked.source))} can vent.")


def _waters_of(look: Look, name: str) -> set[int]:
    found = (water_of(look.ways, p) for p in places_of(look.ways, name))
    return {w.number for w in found if w is not None}


def _heating_waters(look: Look, name: str) -> set[int]:
    """Waters of a part, those of its coils left out: a coil is a wall."""
    ways = look.ways
    if "/" in name:
        return _waters_of(look, name)
    out: set[int] = set()
    for part in chosen(look.sheet, look.catalogue, name):
        coils = {p for e in ways.by_part.get(part, ()) if e.does is Behaviour.COIL for p in (e.a, e.b)}
        for place in ways.at:
            if place[1] == part and place not in coils:
                water = water_of(ways, place)
                if water is not None:
                    out.add(water.number)
    return out


def _same_water(look: Look, asked: goals.SameWater) -> Judged:
    lost = _missing(look, asked.a, asked.b)
    if lost is not None:
        return lost
    if _heating_waters(look, asked.a) & _heating_waters(look, asked.b):
        return met("They share one water.")
    return unmet(f"{called(look.ways, asked.a)} and {called(look.ways, asked.b)} do not share their water.")


def _parted(look: Look, asked: goals.Parted) -> Judged:
    lost = _missing(look, asked.a, asked.b)
    if lost is not None:
        return met("Nothing to part.") if asked.or_absent else lost
    if _heating_waters(look, asked.a) & _heating_waters(look, asked.b):
        ids = (*chosen(look.sheet, look.catalogue, asked.a), *chosen(look.sheet, look.catalogue, asked.b))
        return unmet(f"{_names(look, ids)} still share one water.", ids=ids)
    return met("The two waters are kept apart.")


def _reached(look: Look, asked: goals.Reached) -> Judged:
    lost = _missing(look, asked.a, asked.b)
    if lost is not None:
        return lost
    ways = look.ways
    ask = {"open": Ask.OPEN, "fixed": Ask.FIXED, "self_acting": Ask.SELF_ACTING, "rest": Ask.REST}.get(asked.view)
    seen = reach(ways, passing(ways, ask or Ask.RUNNING), places_of(ways, asked.a))
    there = bool(seen & set(places_of(ways, asked.b)))
    names = f"{called(ways, asked.a)} to {called(ways, asked.b)}"
    if asked.view == "fixed" and not asked.not_reached:
        return met(f"Nothing can shut the way from {names}.") if there else unmet(f"The way from {names} can be shut.")
    if there is not asked.not_reached:
        return met(f"Water gets from {names}." if there else f"No water gets from {names}.")
    return unmet(f"No water gets from {names}." if asked.not_reached is False else f"Water still gets from {names}.")


def between(look: Look, a: str, b: str) -> list[str]:
    """Parts on the shortest way from a to b that passes no source, ends included, in order."""
    ways = look.ways
    starts, ends = places_of(ways, a), places_of(ways, b)
    way = shortest(ways, passing(ways, Ask.OPEN), starts, ends, drop=ways.keys_doing(Behaviour.SOURCE))
    if not way:
        return []
    first = ways.elements[way[0][0]]
    places = places_along(ways, first.a if way[0][1] else first.b, way)
    return list(dict.fromkeys(p[1] for p in places))


def _along(look: Look, asked: goals.Along) -> Judged:
    lost = _missing(look, *asked.parts)
    if lost is not None:
        return lost
    walked = between(look, asked.parts[0], asked.parts[-1])
    at = -1
    for name in asked.parts:
        ids = chosen(look.sheet, look.catalogue, name.partition("/")[0])
        spots = [n for n, p in enumerate(walked) if p in ids and n > at]
        if not spots:
            order = ", ".join(called(look.ways, n) for n in asked.parts)
            return unmet(f"Along this run the order is to be: {order}.", ids=tuple(ids))
        at = spots[0]
    return met("The parts stand in the right order along the run.")


def _heights(look: Look, words: str, store: str) -> float | None:
    subject, _, side = words.rpartition(" ")
    stores = chosen(look.sheet, look.catalogue, store)
    subjects = chosen(look.sheet, look.catalogue, subject)
    for source in source_circuits(look.case):
        if source.subject in subjects and source.store in stores:
            return source.enter_f if side == "flow" else source.leave_f
    for load in load_circuits(look.case):
        if load.subject in subjects and load.store in stores:
            return load.leave_f if side == "flow" else load.enter_f
    return None


def _above(look: Look, asked: goals.Above) -> Judged:
    high, low = _heights(look, asked.upper, asked.store), _heights(look, asked.lower, asked.store)
    if high is None or low is None:
        return unmet(f"{_side(look, asked.upper if high is None else asked.lower)} is not joined to the store.")
    store = chosen(look.sheet, look.catalogue, asked.store)[0]
    base, top = look.ways.body_range(store)
    gap = (high - low) * (top - base)
    if gap > asked.by_m + 1e-6:
        return met(f"{_side(look, asked.upper)} lies {gap:.2f} m above {_side(look, asked.lower)}.")
    word = "above" if gap >= 0 else "below"
    said = f"{_side(look, asked.upper)} lies {abs(gap):.2f} m {word} {_side(look, asked.lower)}."
    return unmet(said, near=abs(gap) < 0.05)


def _side(look: Look, words: str) -> str:
    """A circuit's flow or return for people: "Hall radiator's return"."""
    subject, _, side = words.rpartition(" ")
    return f"{called(look.ways, subject)}'s {side}"


def _valved(look: Look, asked: goals.ValvedBothSides) -> Judged:
    lost = _missing(look, asked.part)
    if lost is not None:
        return lost
    ways = look.ways
    for part in chosen(look.sheet, look.catalogue, asked.part):
        for element in ways.by_part.get(part, ()):
            chain = ways.skeleton.chains[ways.skeleton.chain_of[element.key]]
            keys = [k for k, _ in chain.steps]
            at = keys.index(element.key)
            sides = [any(ways.elements[k].does is Behaviour.HAND for k in side) for side in (keys[:at], keys[at + 1 :])]
            if not all(sides):
                which = "either side" if not any(sides) else "one side"
                return unmet(f"{ways.name(part)} has no hand valve on {which}.", ids=(part,), near=any(sides))
    return met(f"{called(ways, asked.part)} can be taken out without draining the house.")


def _moves(look: Look, asked: goals.Moves) -> Judged:
    lost = _missing(look, asked.part) if asked.part not in look.sheet.pipes else None
    if lost is not None:
        return lost
    flow = moving(look.ways, NORMAL if asked.power else POWER_CUT)
    goes = any(k in flow for k in ways_of(look.ways, asked.part))
    when = "with the power on" if asked.power else "in a power cut"
    name = called(look.ways, asked.part)
    if goes is not asked.still:
        return met(f"Water moves in {name} {when}." if goes else f"Water stands still in {name} {when}.")
    said = f"Water moves in {name} {when}." if goes else f"No water moves in {name} {when}."
    return unmet(said, ids=tuple(chosen(look.sheet, look.catalogue, asked.part)))


def _clear_of(look: Look, asked: goals.ClearOf) -> Judged:
    from loopwright.sheet.geometry import polyline

    for pipe in look.sheet.pipes.values():
        line = polyline(look.sheet, pipe, look.catalogue)
        for (x0, z0), (x1, z1) in pairwise(line):
            if (
                max(x0, x1) > asked.left_m + 1e-6
                and min(x0, x1) < asked.right_m - 1e-6
                and max(z0, z1) > asked.low_m + 1e-6
                and min(z0, z1) < asked.high_m - 1e-6
            ):
                return unmet(f"Pipe {pipe.id} runs through {asked.name}.", ids=(pipe.id,))
    return met(f"All pipes are clear of {asked.name}.")


def _heated_by(look: Look, asked: goals.HeatedBy) -> Judged:
    lost = _missing(look, asked.outlet, asked.source)
    if lost is not None:
        return lost
    ways = look.ways
    heated: set[str] = set()
    subjects = chosen(look.sheet, look.catalogue, asked.source)
    for circuit in source_circuits(look.case):
        if circuit.subject in subjects:
            heated.add(circuit.store)
    for load in load_circuits(look.case):  # a store may heat another vessel
        if load.store in heated and ways.kind(load.subject).body == "cylinder":
            heated.add(load.subject)
    drop = ways.keys_doing(Behaviour.SOURCE, Behaviour.EMITTER, Behaviour.COIL)
    ends: set[Place] = {b for b in ways.bodies("cylinder") if b[1] in heated}
    for element, cold, hot in tap_coils(look.case):
        if element.part in heated:
            ends |= {cold, hot}
    starts = [
        ("port", p, n) for p in chosen(look.sheet, look.catalogue, asked.outlet) for n in ways.ports[p] if "hot" in n
    ]
    seen = reach(ways, passing(ways, Ask.OPEN), starts, drop=drop)
    if seen & ends:
        return met(f"{capital(called(ways, asked.source))} heats the water at {called(ways, asked.outlet)}.")
    return unmet(f"{capital(called(ways, asked.source))} does not heat the water at {called(ways, asked.outlet)}.")


JUDGES: dict[type, Callable[[Look, Any], Judged]] = {
    goals.FixedLoop: _fixed_loop,
    goals.CircuitMoves: _circuit,
    goals.VentPath: _vent_path,
    goals.SameWater: _same_water,
    goals.Parted: _parted,
    goals.Reached: _reached,
    goals.Along: _along,
    goals.Above: _above,
    goals.ValvedBothSides: _valved,
    goals.Moves: _moves,
    goals.ClearOf: _clear_of,
    goals.HeatedBy: _heated_by,
}
