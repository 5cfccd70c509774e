"""The shedding question: how a fire loses its heat when nobody and nothing helps it.

One procedure for several rules; at most one finding a fire. Every answer carries the step at which it stopped.
"""

from __future__ import annotations

from typing import cast

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering.store import heat_between_J
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Key, Place, Source
from loopwright.waterways.loops import Loop, blocker_cost, blockers, loops
from loopwright.waterways.paths import reach
from loopwright.waterways.views import FORWARD, SHUT, Ask, Passing, gravity_ok, passing


class Shedding(msgspec.Struct, frozen=True, kw_only=True):
    """Where the procedure stopped for one fire, and why. `slug` is empty when the fire sheds its heat."""

    source: Source
    step: int
    slug: str = ""
    worst: Element | None = None
    culprits: tuple[str, ...] = ()
    loop: Loop | None = None
    least_kw: float = 0.0
    fixed_kw: float = 0.0
    room_kwh: float | None = None
    charge_kwh: float | None = None
    missing: tuple[str, str, str] | None = None
    """Part, property and words of a datum the answer needs."""
    softened: bool = False
    """The store's room alone would pass, so a danger is a fault."""
    because: str = ""


def shedding(case: Case, source: Source) -> Shedding:
    """The answer for a fire, cached."""
    memo = cast(dict[str, Shedding], case.ways.cache.setdefault("shedding", {}))
    if source.part not in memo:
        memo[source.part] = _ask(case, source)
    return memo[source.part]


def shedders(case: Case) -> list[Source]:
    """Sources that have to shed heat with nobody's help: fires, and those with heat left over once they are stopped.

    One whose maker says that it needs no heat leak, or that has none left, is not asked.
    """
    ways = case.ways
    return [
        s
        for s in ways.sources
        if s.stops == "fire"
        or (
            s.stops == "residual"
            and ways.value(s.part, "leak_not_needed") is not True
            and ways.number(s.part, "residual_kw") != 0.0
        )
    ]


def emitter_kw(case: Case, part: str) -> float | None:
    """What an emitter sheds with no electricity, at 50 K, or None when it is not stated. Floors shed nothing."""
    ways = case.ways
    if ways.has_tag(part, "underfloor") or ways.has_tag(part, "plate"):
        return 0.0
    if ways.has_tag(part, "fan"):
        watts = ways.number(part, "output_without_fan_w")
        return 0.0 if watts is None else watts / 1000
    watts = ways.number(part, "output_w")
    return None if watts is None else watts / 1000


def fixed_loops(case: Case, source: Source) -> list[Loop]:
    """Loops of a fire that nothing can shut."""
    return loops(case.ways, source, Ask.FIXED)


def fixed_emitters(case: Case, source: Source) -> dict[str, Loop]:
    """Emitters on fixed loops of a fire, those in series before another sink included; floors and fans without stated
    output left out. Kept."""
    memo = cast(dict[str, dict[str, Loop]], case.ways.cache.setdefault("fixed emitters", {}))
    if source.part not in memo:
        out: dict[str, Loop] = {}
        for loop in fixed_loops(case, source):
            for part in carried(case, loop):
                out.setdefault(part, loop)
        memo[source.part] = out
    return memo[source.part]


def carried(case: Case, loop: Loop) -> list[str]:
    """Emitters that a loop serves: its sink, and those its legs pass on the way."""
    ways = case.ways
    parts = [loop.sink.part] if loop.sink.sort == "emitter" else []
    parts += [ways.elements[k].part for k, _ in loop.steps if ways.elements[k].does is Behaviour.EMITTER]
    return [p for p in dict.fromkeys(parts) if emitter_kw(case, p) != 0.0]


def least_kw(case: Case, source: Source) -> float:
    """The heat leak a fire needs: the maker's own figure, else by whether a store shares its fixed loops.

    Of a source that can be stopped, the heat left over.
    """
    if source.stops == "residual":
        return case.ways.number(source.part, "residual_kw") or 0.0
    stated = case.ways.number(source.part, "leak_kw")
    if stated is not None:
        return stated
    has_body = any(loop.sink.sort in ("body", "coil") for loop in fixed_loops(case, source))
    return case.limit("sf.leak.kw.min_dhw" if has_body else "sf.leak.kw.min_nodhw")


def needed_kw(case: Case, source: Source) -> float:
    """`least_kw`, with that of every other fire sharing an emitter on a fixed loop."""
    cache = case.ways.cache
    if "fires by emitter" not in cache:
        by_emitter: dict[str, list[Source]] = {}
        for fire in shedders(case):
            for part in fixed_emitters(case, fire):
                by_emitter.setdefault(part, []).append(fire)
        cache["fires by emitter"] = by_emitter
    sharing = cast(dict[str, list[Source]], cache["fires by emitter"])
    others = {fire.part: fire for part in fixed_emitters(case, source) for fire in sharing.get(part, ())}
    others.pop(source.part, None)
    return least_kw(case, source) + sum(least_kw(case, fire) for fire in others.values())


def relied_on(case: Case, source: Source, loop: Loop) -> bool:
    """Whether without this fixed loop the emitters left fall below the least leak, or no sink is left."""
    found = fixed_loops(case, source)
    if loop not in found:
        return False
    others = [other for other in found if other.sink.key != loop.sink.key]
    left = {p for other in others for p in carried(case, other)}
    return not others or sum(emitter_kw(case, p) or 0.0 for p in left) < needed_kw(case, source) - 1e-9


def sound_cooling(case: Case, source: Source) -> bool:
    """A cooling coil with a thermal discharge valve whose supply cannot fail (rules of the sealed fire, b and c)."""
    return cooling_lacks(case, source) is None


def cooling_lacks(case: Case, source: Source) -> str | None:
    """What a cooling arrangement lacks, in words, or None when it is sound."""
    ways = case.ways
    coil = next((e for e in ways.by_part[source.part] if e.does is Behaviour.COIL), None)
    if coil is None:
        return "no cooling coil"
    near = reach(ways, passing(ways, Ask.OPEN), [coil.a, coil.b], drop={coil.key})
    valves = [e for e in ways.elements.values() if ways.has_tag(e.part, "thermal_discharge") and {e.a, e.b} & near]
    if not valves:
        return "no thermal discharge valve on the cooling coil"
    if any(_quenches(case, coil, valve) for valve in valves):
        return None
    return "its water can be shut off, or needs a pump"


def _quenches(case: Case, coil: Element, valve: Element) -> bool:
    """Whether cold water is sure to run through the coil once the valve opens: coil before the valve, or after it."""
    ways = case.ways
    passes = _cooling_view(case)
    walls = set(ways.bodies("cistern"))
    supplies: set[Place] = {("port", p.id, name) for p in ways.tagged("mains") for name in ways.ports[p.id]} | walls
    fed = reach(ways, passes, supplies, drop={valve.key})
    if valve.a not in fed:
        return False
    if {coil.a, coil.b} & reach(ways, passes, [valve.b], drop={valve.key}, walls=walls):
        return True
    return valve.a not in reach(ways, passes, supplies, drop={valve.key, coil.key})


def _cooling_view(case: Case) -> Passing:
    """How water may run in a cooling supply: whatever may stand there, checks with their arrow alone."""
    ways = case.ways
    if "cooling view" not in ways.cache:
        every = passing(ways, Ask.OPEN)
        out: Passing = {}
        for key, element in ways.elements.items():
            stands = _may_stand(case, element) or element.does is Behaviour.COIL
            out[key] = SHUT if not stands else FORWARD if element.does is Behaviour.ONE_WAY else every[key]
        ways.cache["cooling view"] = out
    return cast(Passing, ways.cache["cooling view"])


def _may_stand(case: Case, element: Element) -> bool:
    """What may stand in a cooling supply: pipes, fittings, forward checks, and hand valves locked open."""
    if element.does in (Behaviour.PIPE, Behaviour.FREE, Behaviour.ONE_WAY):
        return True
    if element.does is Behaviour.THERMAL:
        return case.ways.has_tag(element.part, "thermal_discharge")
    return element.does is Behaviour.HAND and bool(case.ways.value(element.part, "locked_open"))


def store_room_kwh(case: Case, source: Source, bodies: list[str]) -> tuple[float | None, tuple[str, str, str] | None]:
    """Heat that vessels still take from their design temperature to what logs may charge a store to, in kWh; or what
    is missing."""
    total, full = 0.0, case.limit("store.t.log")
    for part in bodies:
        litres = case.ways.number(part, "volume_l")
        design = case.ways.number(part, "design_temp_c")
        if litres is None:
            return None, (part, "volume_l", "volume")
        if design is None:
            return None, (part, "design_temp_c", "design temperature")
        total += heat_between_J(litres / 1000, min(max(design, 0.0), full), full) / 3.6e6
    return total, None


def charge_kwh(case: Case, source: Source) -> float | None:
    """Heat of one charge of fuel, as stated, else power times burn time."""
    stated = case.ways.number(source.part, "charge_kwh")
    if stated is not None:
        return stated
    if source.stops == "residual":
        left, minutes = case.ways.number(source.part, "residual_kw"), case.ways.number(source.part, "overrun_min")
        return left * minutes / 60 if left is not None and minutes is not None else None
    power, hours = case.ways.number(source.part, "power_kw"), case.ways.number(source.part, "burn_time_h")
    return power * hours if power is not None and hours is not None else None


def _gravity_face(case: Case, loop: Loop) -> bool:
    """No pump on the loop, or each pump has a flap beside it."""
    ways = case.ways
    pumps = [ways.elements[k] for k in loop.keys if ways.elements[k].does is Behaviour.PUMP]
    return all(_flap_beside(case, pump) for pump in pumps)


def _flap_beside(case: Case, pump: Element) -> bool:
    if not pump.part:
        return False
    return any(
        e.part == pump.part and e.does is Behaviour.ONE_WAY and e.way is not None and e.way.gravity_ok
        for e in case.ways.elements.values()
    )


def _sort(case: Case, element: Element, loop: Loop) -> int:
    """How bad a blocker is, worst lowest."""
    ways = case.ways
    match element.does:
        case Behaviour.PUMP:
            return 0
        case Behaviour.HAND if not ways.has_tag(element.part, "emitter_valve"):
            return 1
        case Behaviour.HAND | Behaviour.THERMAL | Behaviour.POWERED:
            return 2
        case Behaviour.ONE_WAY:
            forward = next((f for k, f in loop.steps if k == element.key), True)
            return 4 if gravity_ok(ways, element) and forward else 3
    return 5


SLUG_OF = {
    0: "gravity-loop/pump-in-line",
    1: "gravity-loop/isolating-valve",
    2: "solid-fuel/heat-leak-can-be-shut",
    3: "gravity-loop/spring-check",
    4: "gravity-loop/flap-only-way",
}


def _ask(case: Case, source: Source) -> Shedding:
    ways = case.ways
    if sound_cooling(case, source):
        return Shedding(source=source, step=1, because="The cooling coil carries the heat")
    if source.stops == "residual" and ways.number(source.part, "residual_kw") is None:
        return Shedding(
            source=source, step=2, missing=(source.part, "residual_kw", "heat left over once it is stopped")
        )
    emitters = fixed_emitters(case, source)
    least = needed_kw(case, source)
    outputs = {p: emitter_kw(case, p) for p in emitters}
    fixed_kw = sum(v or 0.0 for v in outputs.values())
    if fixed_kw >= least - 1e-9:
        return Shedding(
            source=source,
            step=2,
            least_kw=least,
            fixed_kw=fixed_kw,
            because=f"Emitters that nothing can shut give {fixed_kw:.2g} kW of {least:.3g} kW needed",
        )
    unknown = next((p for p, v in outputs.items() if v is None), None)
    if unknown:
        return Shedding(source=source, step=2, missing=(unknown, "output_w", "output"))
    would = [
        w
        for w in loops(ways, source, Ask.OPEN)
        if w.sink.sort != "plate" and (w.sink.sort != "emitter" or emitter_kw(case, w.sink.part) != 0.0)
    ]
    if not would:
        return Shedding(source=source, step=3, slug="solid-fuel/no-heat-leak")
    fixed = [w for w in fixed_loops(case, source) if w.sink.sort != "plate"]
    if not fixed and all(_needs_power(case, w) for w in would):
        cheapest = min(would, key=lambda w: w.cost)
        stop = [e for e in blockers(ways, cheapest) if _powered_block(case, e)]
        return Shedding(
            source=source,
            step=4,
            slug="solid-fuel/heat-leak-needs-power",
            loop=cheapest,
            worst=stop[0] if stop else None,
            culprits=_ids(stop),
        )
    room, missing = store_room_kwh(case, source, _bodies(case, fixed))
    charge, uncharged = _charges(case, source, {w.sink.key for w in fixed})
    short = least - fixed_kw
    candidates = []
    for loop in would:
        if any(f.sink.key == loop.sink.key for f in fixed):
            continue
        if not (_gravity_face(case, loop) or ways.has_tag(loop.sink.part, "heat_leak")):
            continue
        adds = emitter_kw(case, loop.sink.part) or 0.0 if loop.sink.sort == "emitter" else 0.0
        if not fixed or (loop.sink.sort == "emitter" and adds > 0 and _together(case, would, fixed) >= short - 1e-9):
            candidates.append(loop)
    if candidates:
        loop = min(candidates, key=lambda w: (not _meets(case, w, short), w.cost))
        stop = [e for e in blockers(ways, loop) if _blocks(case, e, loop)] or blockers(ways, loop)
        worst = min(stop, key=lambda e: _sort(case, e, loop)) if stop else None
        if worst is not None:
            slug = SLUG_OF.get(_sort(case, worst, loop), "solid-fuel/heat-leak-can-be-shut")
            if slug == "gravity-loop/flap-only-way" and fixed_kw >= least:
                slug = ""
            softened = room is not None and charge is not None and room >= charge
            return Shedding(
                source=source,
                step=5,
                slug=slug,
                loop=loop,
                worst=worst,
                culprits=_ids(stop),
                least_kw=least,
                fixed_kw=fixed_kw,
                softened=softened,
                room_kwh=room,
                charge_kwh=charge,
            )
    if missing:
        return Shedding(source=source, step=6, missing=missing, least_kw=least, fixed_kw=fixed_kw)
    if charge is None:
        return Shedding(
            source=source,
            step=6,
            missing=(uncharged, "overrun_min", "minutes for which heat is left")
            if case.ways.source_of[uncharged].stops == "residual"
            else (uncharged, "charge_kwh", "heat of one charge"),
            least_kw=least,
            fixed_kw=fixed_kw,
        )
    own = charge_kwh(case, source) or 0.0
    hours = case.ways.number(source.part, "burn_time_h") or _hours(case, source, own)
    room = (room or 0.0) + fixed_kw * hours
    slug = "" if room >= charge else ("solid-fuel/heat-leak-too-small" if emitters else "solid-fuel/store-is-only-leak")
    return Shedding(
        source=source,
        step=6,
        slug=slug,
        least_kw=least,
        fixed_kw=fixed_kw,
        room_kwh=room,
        charge_kwh=charge,
        culprits=tuple(emitters) or tuple(_bodies(case, fixed)),
        because=f"The store has room for {room:.1f} kWh of a {charge:.1f} kWh charge",
    )


def _charges(case: Case, source: Source, sinks: set[Key]) -> tuple[float | None, str]:
    """Heat of one charge of a fire and of all others that lean on its sinks; or None, and the fire without one."""
    total = 0.0
    for fire in shedders(case):
        shares = sinks & {w.sink.key for w in fixed_loops(case, fire)}
        if fire.part != source.part and not shares:
            continue
        own = charge_kwh(case, fire)
        if own is None:
            return None, fire.part
        total += own
    return total, ""


def _hours(case: Case, source: Source, charge: float) -> float:
    power = case.ways.number(source.part, "power_kw")
    return charge / power if power else 0.0


def _bodies(case: Case, found: list[Loop]) -> list[str]:
    """Vessels whose water takes heat on these loops, each once."""
    return list(dict.fromkeys(w.sink.part for w in found if w.sink.sort in ("body", "coil")))


def _meets(case: Case, loop: Loop, short: float) -> bool:
    return loop.sink.sort == "emitter" and (emitter_kw(case, loop.sink.part) or 0.0) >= short - 1e-9


def _together(case: Case, would: list[Loop], fixed: list[Loop]) -> float:
    done = {f.sink.key for f in fixed}
    parts = {
        w.sink.part
        for w in would
        if w.sink.sort == "emitter"
        and w.sink.key not in done
        and (_gravity_face(case, w) or case.ways.has_tag(w.sink.part, "heat_leak"))
    }
    return sum(emitter_kw(case, p) or 0.0 for p in parts)


def _blocks(case: Case, element: Element, loop: Loop) -> bool:
    """Not a tied way whose part always leaves another way round on the same loop."""
    return blocker_cost(case.ways, element) > 0


def _powered_block(case: Case, element: Element) -> bool:
    return blocker_cost(case.ways, element) >= 100.0


def _needs_power(case: Case, loop: Loop) -> bool:
    return any(_powered_block(case, e) for e in blockers(case.ways, loop))


def _ids(elements: list[Element]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(e.part or e.pipe for e in elements))


def light(case: Case, loop: Loop | None) -> tuple[str, ...]:
    """Ids of parts and pipes on a loop, its source and sink included."""
    if loop is None:
        return ()
    keys: list[Key] = [k for k, _ in loop.steps]
    ids = [loop.source.part, loop.sink.part] + [k[1] for k in keys]
    return tuple(dict.fromkeys(ids))
