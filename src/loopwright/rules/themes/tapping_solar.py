"""Rules of tappings where the sun heats too: the solar circuit lowest, and nothing that steals from it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loopwright.rules.circuits import (
    APART_F,
    SWITCHED,
    Circuit,
    coil_span,
    immersions,
    load_circuits,
    source_circuits,
)
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.themes.tapping import metres, pipes_at
from loopwright.rules.warmth import tap_coils


def solar_at(case: Case, store: str) -> Circuit | None:
    """The lowest solar circuit of a store."""
    found = [c for c in source_circuits(case) if c.store == store and c.source and c.source.stops == "sun"]
    return min(found, key=lambda c: c.leave_f, default=None)


def switched_at(case: Case, store: str) -> list[Circuit]:
    """Circuits of switched sources at a store."""
    return [c for c in source_circuits(case) if c.store == store and c.source and c.source.stops in SWITCHED]


@rule("tapping/solar-not-lowest", about="the lowest solar circuit of a store")
def solar_not_lowest(case: Case) -> Iterator[Said]:
    """Solar coil not the lowest."""
    for store in (b[1] for b in case.ways.bodies("store", "cylinder")):
        solar = solar_at(case, store)
        if solar is None:
            continue
        below = min(
            (c for c in switched_at(case, store) if c.leave_f < solar.leave_f - APART_F),
            key=lambda c: c.leave_f,
            default=None,
        )
        low = metres(case, store, solar.leave_f)
        if below is not None:
            yield Finding(
                severity=Severity.FAULT,
                subject=solar.subject,
                path=solar.ids,
                culprits=tuple(dict.fromkeys((*pipes_at(case, solar), *pipes_at(case, below)))),
                sources=("pos.solar.coil",),
                measured=low,
                limit=metres(case, store, below.leave_f),
                unit="m",
                message=f"The solar circuit of {case.name(solar.subject)} begins at {low:.2f} m in {case.name(store)}, "
                f"above {case.name(below.subject)}, which heats from {metres(case, store, below.leave_f):.2f} m up.",
                todo="Exchange the coils, or bring the solar circuit in lowest.",
            )
        elif solar.coil is not None and solar.enter_f > case.limit("pos.solar.coil", last=True) + 1e-6:
            top = metres(case, store, solar.enter_f)
            limit = metres(case, store, case.limit("pos.solar.coil", last=True))
            yield Finding(
                severity=Severity.ADVICE,
                subject=solar.subject,
                path=solar.ids,
                culprits=(store,),
                sources=("pos.solar.coil",),
                measured=top,
                limit=limit,
                unit="m",
                message=f"The solar coil in {case.name(store)} ends {top:.2f} m above its base; the sun works "
                f"best below {limit:.2f} m.",
                todo="Use a coil that lies lower.",
            )
        else:
            yield Sound(solar.subject, "Nothing that can be switched heats below the solar circuit")


@rule(
    "tapping/steals-from-solar",
    about="one switched source or immersion at a store with solar",
    yields_to=("tapping/solar-not-lowest",),
)
def steals_from_solar(case: Case) -> Iterator[Said]:
    """Boiler heating the part the sun needs."""
    for store in (b[1] for b in case.ways.bodies("store", "cylinder")):
        solar = solar_at(case, store)
        zone = solar.enter_f if solar is not None else None
        for circuit in switched_at(case, store) if zone is not None and solar is not None else ():
            assert zone is not None
            low, top = metres(case, store, circuit.leave_f), metres(case, store, zone)
            if circuit.leave_f >= zone - APART_F:
                yield Sound(circuit.subject, f"It heats from {low:.2f} m up, above the solar part")
                continue
            yield Finding(
                severity=Severity.FAULT,
                subject=circuit.subject,
                culprits=pipes_at(case, circuit),
                path=circuit.ids,
                sources=("pos.boiler.return",),
                measured=low,
                limit=top,
                unit="m",
                message=f"{case.name(circuit.subject)} heats {case.name(store)} from {low:.2f} m up, and the sun needs "
                f"what lies below {top:.2f} m.",
                todo=f"Bring its return in above {top:.2f} m.",
            )
        yield from _immersions(case, store, zone)


def _immersions(case: Case, store: str, zone: float | None) -> Iterator[Said]:
    draws = [c.leave_f for c in load_circuits(case) if c.store == store]
    for element, _cold, _hot in tap_coils(case):
        coil = case.ways.coil_of(element) if element.part == store else None
        if coil is not None:
            draws.append(sum(coil_span(case, store, coil)) / 2)
    for heater in (i for i in immersions(case) if i.store == store):
        if not case.ways.typed(heater.part, "immersion_use"):
            if (zone is not None and heater.at_f < zone - APART_F) or (draws and heater.at_f < min(draws) - APART_F):
                yield Missing(
                    heater.part,
                    f"{case.name(heater.part)}: whether it heats the whole store is not said",
                    heater.part,
                    "immersion_use",
                )
            continue
        boost = case.ways.value(heater.part, "immersion_use") == "boost_only"
        at = metres(case, store, heater.at_f)
        said: dict[str, Any] = {
            "severity": Severity.ADVICE,
            "subject": heater.part,
            "culprits": (heater.part,),
            "path": (heater.part, store),
            "sources": ("pos.immersion",),
            "measured": at,
            "unit": "m",
        }
        if boost and zone is not None and heater.at_f < zone - APART_F:
            top = metres(case, store, zone)
            yield Finding(
                **said,
                limit=top,
                message=f"{case.name(heater.part)} at {at:.2f} m heats the part of "
                f"{case.name(store)} below {top:.2f} m that the sun needs.",
                todo=f"Put it above {top:.2f} m.",
            )
        elif boost and draws and heater.at_f < min(draws) - APART_F:
            low = metres(case, store, min(draws))
            yield Finding(
                **said,
                limit=low,
                message=f"{case.name(heater.part)} is for boost only and stands at {at:.2f} m, "
                f"below all that draws from {case.name(store)} ({low:.2f} m).",
                todo=f"Put it at {low:.2f} m or say that it heats the whole store.",
            )
        else:
            yield Sound(heater.part, "It heats what it is meant to")
