"""The shedding question: how a fire loses its heat when nobody and nothing helps it.

One procedure for several rules; at most one finding a fire. Every answer carries the step at which it stopped.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering.store import heat_between_J
from loopwright.rules.cooling import sound_cooling
from loopwright.rules.findings import Missing, Sound
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Key, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.loops import Loop, blocker_cost, blockers, loops
from loopwright.waterways.views import Ask, gravity_ok


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

    @property
    def path(self) -> tuple[str, ...]:
        """The parts and pipes of the loop it stopped at; nothing without one."""
        return self.loop.ids if self.loop is not None else ()


def shedding(case: Case, source: Source) -> Shedding:
    """The answer for a fire."""
    return _shedding(case, source.part)


@kept
def _shedding(case: Case, part: str) -> Shedding:
    return _Procedure(case, case.ways.source_of[part]).answer()


def answers(case: Case) -> Iterator[tuple[Source, Shedding]]:
    """Each fire, or source with heat left over, with its answer."""
    for source in shedders(case):
        yield source, shedding(case, source)


def elsewhere(case: Case, answer: Shedding) -> Missing | Sound:
    """What a rule of this question says of a fire where the procedure stopped at another's step."""
    if answer.missing:
        return case.lacks(answer.source.part, *answer.missing)
    return Sound(answer.source.part, f"Step {answer.step}: {answer.because or 'another rule answers for this fire'}")


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
    output left out."""
    return _fixed_emitters(case, source.part)


@kept
def _fixed_emitters(case: Case, fire: str) -> dict[str, Loop]:
    out: dict[str, Loop] = {}
    for loop in fixed_loops(case, case.ways.source_of[fire]):
        for part in carried(case, loop):
            out.setdefault(part, loop)
    return out


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
    sharing = _fires_by_emitter(case)
    others = {fire.part: fire for part in fixed_emitters(case, source) for fire in sharing.get(part, ())}
    others.pop(source.part, None)
    return least_kw(case, source) + sum(least_kw(case, fire) for fire in others.values())


@kept
def _fires_by_emitter(case: Case) -> dict[str, list[Source]]:
    out: dict[str, list[Source]] = {}
    for fire in shedders(case):
        for part in fixed_emitters(case, fire):
            out.setdefault(part, []).append(fire)
    return out


def relied_on(case: Case, source: Source, loop: Loop) -> bool:
    """Whether without this fixed loop the emitters left fall below the least leak, or no sink is left."""
    found = fixed_loops(case, source)
    if loop not in found:
        return False
    others = [other for other in found if other.sink.key != loop.sink.key]
    left = {p for other in others for p in carried(case, other)}
    return not others or sum(emitter_kw(case, p) or 0.0 for p in left) < needed_kw(case, source) - 1e-9


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


class _Procedure:
    """The steps for one fire, asked in order; the first that can answer does, and the last always does."""

    def __init__(self, case: Case, source: Source) -> None:
        self.case, self.source, self.ways = case, source, case.ways

    def answer(self) -> Shedding:
        """Where the procedure stops."""
        steps = (self._cooling, self._emitters, self._any_sink, self._power, self._shut)
        for step in steps:
            if (found := step()) is not None:
                return found
        return self._room_in_the_store()

    @cached_property
    def emitters(self) -> dict[str, Loop]:
        """Emitters that nothing can shut, with the loop of each."""
        return fixed_emitters(self.case, self.source)

    @cached_property
    def least(self) -> float:
        """What has to be shed, kW."""
        return needed_kw(self.case, self.source)

    @cached_property
    def outputs(self) -> dict[str, float | None]:
        """What each of these emitters sheds, kW; None where it is not stated."""
        return {part: emitter_kw(self.case, part) for part in self.emitters}

    @cached_property
    def fixed_kw(self) -> float:
        """What they shed together, kW."""
        return sum(kw or 0.0 for kw in self.outputs.values())

    @cached_property
    def would(self) -> list[Loop]:
        """Loops there would be if all that can shut stood open."""
        return [
            loop
            for loop in loops(self.ways, self.source, Ask.OPEN)
            if loop.sink.sort != "plate" and (loop.sink.sort != "emitter" or emitter_kw(self.case, loop.sink.part) != 0)
        ]

    @cached_property
    def fixed(self) -> list[Loop]:
        """Loops that nothing can shut."""
        return [loop for loop in fixed_loops(self.case, self.source) if loop.sink.sort != "plate"]

    @cached_property
    def room(self) -> tuple[float | None, tuple[str, str, str] | None]:
        """Heat that the vessels on fixed loops still take, kWh, or what is missing."""
        return store_room_kwh(self.case, self.source, _bodies(self.case, self.fixed))

    @cached_property
    def charge(self) -> tuple[float | None, str]:
        """Heat of one charge of all fires that lean on these sinks, kWh; or None, and the fire without one."""
        return _charges(self.case, self.source, {loop.sink.key for loop in self.fixed})

    def _cooling(self) -> Shedding | None:
        """1: water from the main carries the heat."""
        if sound_cooling(self.case, self.source):
            return Shedding(source=self.source, step=1, because="The cooling coil carries the heat")
        return None

    def _emitters(self) -> Shedding | None:
        """2: emitters that nothing can shut shed enough."""
        if self.source.stops == "residual" and self.ways.number(self.source.part, "residual_kw") is None:
            lacks = (self.source.part, "residual_kw", "heat left over once it is stopped")
            return Shedding(source=self.source, step=2, missing=lacks)
        if self.fixed_kw >= self.least - 1e-9:
            because = f"Emitters that nothing can shut give {self.fixed_kw:.2g} kW of {self.least:.3g} kW needed"
            return Shedding(source=self.source, step=2, least_kw=self.least, fixed_kw=self.fixed_kw, because=because)
        unknown = next((part for part, kw in self.outputs.items() if kw is None), None)
        return Shedding(source=self.source, step=2, missing=(unknown, "output_w", "output")) if unknown else None

    def _any_sink(self) -> Shedding | None:
        """3: nothing is there to take the heat."""
        return None if self.would else Shedding(source=self.source, step=3, slug="solid-fuel/no-heat-leak")

    def _power(self) -> Shedding | None:
        """4: whatever would take it needs electricity."""
        if self.fixed or not all(_needs_power(self.case, loop) for loop in self.would):
            return None
        cheapest = min(self.would, key=lambda loop: loop.cost)
        stop = [e for e in blockers(self.ways, cheapest) if _powered_block(self.case, e)]
        return Shedding(
            source=self.source,
            step=4,
            slug="solid-fuel/heat-leak-needs-power",
            loop=cheapest,
            worst=stop[0] if stop else None,
            culprits=_ids(stop),
        )

    def _shut(self) -> Shedding | None:
        """5: one that would take it by gravity can be shut, or opens one way only."""
        relied = self._relied_on()
        if not relied:
            return None
        short = self.least - self.fixed_kw
        loop = min(relied, key=lambda one: (not _meets(self.case, one, short), one.cost))
        stop = [e for e in blockers(self.ways, loop) if _blocks(self.case, e)] or blockers(self.ways, loop)
        if not stop:
            return None
        worst = min(stop, key=lambda e: _sort(self.case, e, loop))
        room, charge = self.room[0], self.charge[0]
        return Shedding(
            source=self.source,
            step=5,
            slug=SLUG_OF.get(_sort(self.case, worst, loop), "solid-fuel/heat-leak-can-be-shut"),
            loop=loop,
            worst=worst,
            culprits=_ids(stop),
            least_kw=self.least,
            fixed_kw=self.fixed_kw,
            softened=room is not None and charge is not None and room >= charge,
            room_kwh=room,
            charge_kwh=charge,
        )

    def _relied_on(self) -> list[Loop]:
        """Would-be gravity loops meant to shed what the fixed ones do not."""
        done = {loop.sink.key for loop in self.fixed}
        left = [loop for loop in self.would if loop.sink.key not in done and _by_gravity(self.case, loop)]
        if not self.fixed:
            return left
        emitters = [loop for loop in left if loop.sink.sort == "emitter"]
        parts = {loop.sink.part: emitter_kw(self.case, loop.sink.part) or 0.0 for loop in emitters}
        enough = sum(parts.values()) >= self.least - self.fixed_kw - 1e-9
        return [loop for loop in emitters if parts[loop.sink.part] > 0.0] if enough else []

    def _room_in_the_store(self) -> Shedding:
        """6: whether the store takes a whole charge, with what the emitters shed while it burns."""
        found = Shedding(source=self.source, step=6, least_kw=self.least, fixed_kw=self.fixed_kw)
        (room, missing), (charge, uncharged) = self.room, self.charge
        if missing:
            return msgspec.structs.replace(found, missing=missing)
        if charge is None:
            residual = self.ways.source_of[uncharged].stops == "residual"
            lacks = (
                ("overrun_min", "minutes for which heat is left") if residual else ("charge_kwh", "heat of one charge")
            )
            return msgspec.structs.replace(found, missing=(uncharged, *lacks))
        own = charge_kwh(self.case, self.source) or 0.0
        hours = self.ways.number(self.source.part, "burn_time_h") or _hours(self.case, self.source, own)
        room = (room or 0.0) + self.fixed_kw * hours
        short = "solid-fuel/heat-leak-too-small" if self.emitters else "solid-fuel/store-is-only-leak"
        return msgspec.structs.replace(
            found,
            slug="" if room >= charge else short,
            room_kwh=room,
            charge_kwh=charge,
            culprits=tuple(self.emitters) or tuple(_bodies(self.case, self.fixed)),
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


def _by_gravity(case: Case, loop: Loop) -> bool:
    """Whether a loop is meant to run with no electricity: no pump without a flap, or a heat leak at its end."""
    return _gravity_face(case, loop) or case.ways.has_tag(loop.sink.part, "heat_leak")


def _blocks(case: Case, element: Element) -> bool:
    """Not a tied way whose part always leaves another way round on the same loop."""
    return blocker_cost(case.ways, element) > 0


def _powered_block(case: Case, element: Element) -> bool:
    return blocker_cost(case.ways, element) >= 100.0


def _needs_power(case: Case, loop: Loop) -> bool:
    return any(_powered_block(case, e) for e in blockers(case.ways, loop))


def _ids(elements: list[Element]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(e.id for e in elements))
