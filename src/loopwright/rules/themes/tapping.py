"""Rules of tappings, the side of the sources: where a source and its coil enter and leave a store.

The sun's part is judged in `tapping_solar`; loads, vents and sensors in `tapping_loads`.
Heights compared are shares of the body's height.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import (
    APART_F,
    Circuit,
    culprit,
    flow_c,
    height_of,
    load_circuits,
    share_of,
    source_circuits,
    tapping_name,
)
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import relied_on
from loopwright.rules.warmth import tap_coils
from loopwright.waterways.loops import loop_to
from loopwright.waterways.views import Ask
from loopwright.waterways.waters import water_of

HOTTER_K = 5.0


def direct(case: Case) -> list[Circuit]:
    """Source circuits that enter a store's own water."""
    return [c for c in source_circuits(case) if c.coil is None]


def drain_down(case: Case, circuit: Circuit) -> bool:
    """Whether the circuit's water drains down."""
    water = water_of(case.ways, circuit.source.hot) if circuit.source else None
    return water is not None and water.regime == "drain-down"


def is_relied_on(case: Case, circuit: Circuit) -> bool:
    """Whether the circuit is a fixed loop a fire relies on."""
    if circuit.source is None or circuit.source.stops != "fire" or circuit.sink is None:
        return False
    fixed = loop_to(case.ways, circuit.source, circuit.sink, Ask.FIXED)
    return fixed is not None and relied_on(case, circuit.source, fixed)


def pipes_at(case: Case, circuit: Circuit) -> tuple[str, ...]:
    """The two pipes (or the parts) one would change."""
    return tuple(
        dict.fromkeys((culprit(case, circuit.store, circuit.enter), culprit(case, circuit.store, circuit.leave)))
    )


def up_words(case: Case, store: str, letter: str) -> str:
    """A tapping's height in words."""
    return f"{height_of(case, store, letter):.2f} m"


def metres(case: Case, store: str, share: float) -> float:
    """A share of the body's height in metres above its base."""
    base, top = case.ways.body_range(store)
    return share * (top - base)


@rule("tapping/flow-below-return", about="one source at one store")
def flow_below_return(case: Case) -> Iterator[Said]:
    """Flow entering the store below its return."""
    for circuit in direct(case):
        tap = case.ways.sheet.parts[circuit.store].tapping(circuit.enter)
        if drain_down(case, circuit) or (tap is not None and tap.layering):
            continue
        if circuit.enter_f > circuit.leave_f + APART_F:
            yield Sound(circuit.subject, "The flow enters above the return")
            continue
        danger = is_relied_on(case, circuit)
        flow, back = up_words(case, circuit.store, circuit.enter), up_words(case, circuit.store, circuit.leave)
        yield Finding(
            severity=Severity.DANGER if danger else Severity.FAULT,
            subject=circuit.subject,
            culprits=pipes_at(case, circuit),
            path=circuit.ids,
            sources=("pos.hot_in",),
            measured=height_of(case, circuit.store, circuit.enter),
            limit=height_of(case, circuit.store, circuit.leave),
            unit="m",
            message=f"Flow of {case.name(circuit.subject)} enters {case.name(circuit.store)} at {flow}; "
            f"its return leaves at {back}, and the flow must enter higher.",
            todo="Swap the two pipes or the two tappings.",
        )


INLETS, OUTLETS = ("source_flow", "load_return"), ("source_return", "load_flow")


@rule("tapping/swapped", about="one circuit at one store", yields_to=("tapping/flow-below-return",))
def swapped(case: Case) -> Iterator[Said]:
    """Flow and return on each other's tappings."""
    for circuit in (*direct(case), *load_circuits(case)):
        part = case.ways.sheet.parts[circuit.store]
        into, out = part.tapping(circuit.enter), part.tapping(circuit.leave)
        if into is None or out is None:
            continue
        if into.purpose == out.purpose == "any":
            yield Missing(
                circuit.subject,
                f"{case.name(circuit.store)}: what tappings {circuit.enter} and {circuit.leave} are for is not said",
                circuit.store,
                "purpose",
            )
            continue
        own_in, own_out = (INLETS[0], OUTLETS[0]) if circuit.source else (INLETS[1], OUTLETS[1])
        said: dict[str, Any] = {"subject": circuit.subject, "culprits": pipes_at(case, circuit), "path": circuit.ids}
        said["sources"] = ("pos.hot_in",)
        name = case.name(circuit.subject)
        if into.purpose == own_out and out.purpose == own_in:
            yield Finding(
                severity=Severity.FAULT,
                **said,
                message=f"{name} is joined the wrong way round to {case.name(circuit.store)}: it enters by "
                f"{tapping_name(case, circuit.store, circuit.enter)}, which is meant for going out.",
                todo="Exchange the two pipes, or change what the tappings are for.",
            )
        elif _foreign(into.purpose, own_in) or _foreign(out.purpose, own_out):
            wrong = circuit.enter if _foreign(into.purpose, own_in) else circuit.leave
            yield Finding(
                severity=Severity.ADVICE,
                **{**said, "culprits": (culprit(case, circuit.store, wrong),)},
                message=f"{name} uses tapping {tapping_name(case, circuit.store, wrong)} of "
                f"{case.name(circuit.store)}, which is meant for something else.",
                todo="Use the tapping made for it, or change what the tapping is for.",
            )
        else:
            yield Sound(circuit.subject, "Each pipe is on a tapping made for it")


def _foreign(purpose: str, own: str) -> bool:
    return purpose not in ("any", own)


@rule(
    "tapping/hotter-below-cooler",
    about="two sources at one store",
    yields_to=("tapping/flow-below-return", "tapping/swapped"),
)
def hotter_below_cooler(case: Case) -> Iterator[Said]:
    """Hotter source entering below a cooler one."""
    entries = [c for c in direct(case) if c.source and c.source.stops != "sun" and not _layers(case, c)]
    for one in entries:
        rivals = [
            c
            for c in entries
            if c.store == one.store
            and c.subject != one.subject
            and c.enter != one.enter
            and one.enter_f < c.enter_f - APART_F
        ]
        if not rivals:
            if any(c.store == one.store and c.subject != one.subject for c in entries):
                yield Sound(one.subject, "Nothing cooler enters above it")
            continue
        mine = flow_c(case, one.subject)
        for other in rivals:
            theirs = flow_c(case, other.subject)
            unknown = one.subject if mine is None else other.subject if theirs is None else None
            if mine is None or theirs is None:
                yield Missing(
                    one.subject, f"{case.name(unknown or '')}: flow temperature is missing", unknown or "", "t_flow_c"
                )
            elif mine >= theirs + HOTTER_K:
                yield Finding(
                    severity=Severity.FAULT,
                    subject=one.subject,
                    culprits=(culprit(case, one.store, one.enter), culprit(case, other.store, other.enter)),
                    path=one.ids,
                    sources=("pos.hot_in",),
                    measured=height_of(case, one.store, one.enter),
                    limit=height_of(case, other.store, other.enter),
                    unit="m",
                    message=f"{case.name(one.subject)} at {mine:g} °C enters {case.name(one.store)} at "
                    f"{up_words(case, one.store, one.enter)}, below {case.name(other.subject)} at {theirs:g} °C, which "
                    f"enters at {up_words(case, other.store, other.enter)}.",
                    todo="Exchange the two heights: the hotter water enters higher.",
                )
            else:
                yield Sound(one.subject, f"No hotter by {HOTTER_K:g} K than what enters above it")


def _layers(case: Case, circuit: Circuit) -> bool:
    tap = case.ways.sheet.parts[circuit.store].tapping(circuit.enter)
    return tap is not None and tap.layering


@rule(
    "tapping/fire-return-too-high",
    about="one fire joined straight to a store",
    yields_to=("tapping/flow-below-return", "tapping/swapped"),
)
def fire_return_too_high(case: Case) -> Iterator[Said]:
    """Stove return too high in the store."""
    for circuit in direct(case):
        if circuit.source is None or circuit.source.stops != "fire":
            continue
        store = circuit.store
        limit = case.limit("pos.stove.return", last=True) + APART_F
        lower = any(
            c.subject != circuit.subject
            and c.store == store
            and c.leave_f <= limit
            and c.source
            and c.source.stops != "sun"
            for c in source_circuits(case)
        )
        if circuit.leave_f <= limit + 1e-6 or lower or case.ways.value(store, "keep_cold_zone"):
            yield Sound(circuit.subject, "The whole store takes charge, or its lowest part is meant to stay cold")
            continue
        litres = case.ways.number(store, "volume_l")
        if litres is None:
            yield case.lacks(circuit.subject, store, "volume_l", "volume")
            continue
        at, low = height_of(case, store, circuit.leave), metres(case, store, limit)
        yield Finding(
            severity=Severity.ADVICE,
            subject=circuit.subject,
            culprits=(culprit(case, store, circuit.leave),),
            path=circuit.ids,
            sources=("pos.stove.return",),
            measured=at,
            limit=low,
            unit="m",
            message=f"Return of {case.name(circuit.subject)} leaves {case.name(store)} at {at:.2f} m: "
            f"{litres * (1 - circuit.leave_f):.0f} l take charge, {litres * circuit.leave_f:.0f} l stay cold.",
            todo=f"Lower the return to {low:.2f} m or less.",
        )


@rule("tapping/coil-upside-down", about="one coil")
def coil_upside_down(case: Case) -> Iterator[Said]:
    """Coil joined upside down."""
    for circuit in source_circuits(case):
        if circuit.coil is None or drain_down(case, circuit):
            continue
        low, high = circuit.coil.lower, circuit.coil.upper
        if _level(case, circuit.store, low, high):
            yield Sound(circuit.store, "The coil's ends are level")
        elif share_of(case, circuit.store, circuit.enter) > share_of(case, circuit.store, circuit.leave):
            yield Sound(circuit.store, f"Coil “{circuit.coil.name}” takes its flow at the upper end")
        else:
            danger = is_relied_on(case, circuit)
            yield Finding(
                severity=Severity.DANGER if danger else Severity.FAULT,
                subject=f"{circuit.store}",
                path=circuit.ids,
                culprits=pipes_at(case, circuit),
                sources=("pos.hot_in",),
                measured=height_of(case, circuit.store, circuit.enter),
                limit=height_of(case, circuit.store, circuit.leave),
                unit="m",
                message=f"Coil “{circuit.coil.name}” of {case.name(circuit.store)} takes the flow of "
                f"{case.name(circuit.subject)} at {up_words(case, circuit.store, circuit.enter)} and lets it out at "
                f"{up_words(case, circuit.store, circuit.leave)}.",
                todo="Exchange the ends of the coil, so that the flow enters above.",
            )
    for element, cold, hot in tap_coils(case):
        store = element.part
        if case.ways.kind(store).body not in ("store", "cylinder") or element.does is not Behaviour.COIL:
            continue
        if _level(case, store, cold[2], hot[2]):
            yield Sound(store, "The coil's ends are level")
        elif share_of(case, store, cold[2]) < share_of(case, store, hot[2]):
            yield Sound(store, "Cold water enters the coil below")
        else:
            name = element.key[2].removeprefix("coil ")
            yield Finding(
                severity=Severity.FAULT,
                subject=store,
                sources=("pos.hot_in",),
                unit="m",
                culprits=(culprit(case, store, cold[2]), culprit(case, store, hot[2])),
                path=(store,),
                measured=height_of(case, store, cold[2]),
                limit=height_of(case, store, hot[2]),
                message=f"Cold water enters coil “{name}” of {case.name(store)} at {up_words(case, store, cold[2])}, "
                f"above its hot end at {up_words(case, store, hot[2])}.",
                todo="Exchange the ends of the coil, so that the cold water enters below.",
            )


def _level(case: Case, store: str, one: str, two: str) -> bool:
    return abs(share_of(case, store, one) - share_of(case, store, two)) <= APART_F
