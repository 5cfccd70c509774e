"""Rules of discharge pipes: an open end over a tundish, near the valve, wide enough, and falling all the way."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from loopwright.engineering import discharge as table
from loopwright.engineering.discharge_walk import bends, length_m
from loopwright.errors import FigureError
from loopwright.rules.bores import METALS, Narrow, narrow, tube_of
from loopwright.rules.discharge import Discharge, can_shut, discharges, drop_m, pipes_of
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways.profile import LEVEL_M, stops

THREAD = {"15": "1/2", "22": "3/4", "28": "1"}
"""Nominal thread of a relief valve's outlet by the size of its pipe."""
BORE_SHARE = 0.85
"""Bore of pipe other than copper against the copper size's number: 15 mm copper has 13.6, so a 12.8 mm bore will do."""


def _bad(found: Discharge) -> Severity:
    """A danger where hot water stands under mains pressure."""
    return Severity.DANGER if found.unvented else Severity.FAULT


@rule("discharge/no-tundish", about="one relief or discharge valve", yields_to=("solid-fuel/cooling-supply-can-fail",))
def no_tundish(case: Case) -> Iterator[Said]:
    """Relief without an open end, or an unvented vessel's without a tundish."""
    for found in discharges(case):
        name = case.name(found.valve)
        if found.thermal and not found.steps:
            continue  # the rule on cooling water looks at whether it has an end at all

        def wrong(message: str, todo: str, culprits: tuple[str, ...], found: Discharge = found) -> Finding:
            return Finding(
                severity=_bad(found),
                subject=found.valve,
                culprits=culprits,
                path=(found.valve, *found.run),
                message=message,
                todo=todo,
                sources=("tdv.discharge",)
                if found.thermal
                else ("g3.tundish",)
                if found.unvented
                else ("sv.discharge",),
            )

        shut = can_shut(case, found)
        if not found.piped:
            yield wrong(
                f"{name} has no discharge pipe.", "Lead it to a discharge point where it hurts nobody.", (found.valve,)
            )
        elif not found.steps:
            yield wrong(
                f"The discharge pipe of {name} leads to no discharge point.",
                "Lead it to a discharge point where it hurts nobody.",
                (found.run or (found.valve,))[-1:],
            )
        elif shut:
            yield wrong(
                f"{' and '.join(map(case.name, shut))} can shut the discharge pipe of {name}.",
                "Take the valve out.",
                shut,
            )
        elif not found.tundish and (found.unvented or found.thermal):
            yield wrong(
                f"{name} discharges without a tundish.", "Put a tundish below the valve, in sight.", (found.valve,)
            )
        else:
            yield Sound(found.valve, "It runs out over a tundish" if found.tundish else "It runs out at an open end")


@rule("discharge/tundish-misplaced", about="one relief valve with a tundish", yields_to=("discharge/no-tundish",))
def tundish_misplaced(case: Case) -> Iterator[Said]:
    """A tundish too far from its valve, or not below it, or with a bend close under it."""
    ways = case.ways
    for found in discharges(case):
        if not found.tundish or found.thermal:
            continue
        severity = Severity.FAULT if found.unvented else Severity.ADVICE
        name, tundish = case.name(found.valve), case.name(found.tundish)
        longest, least = case.limit("g3.d1.len.max"), case.limit("g3.d2.drop")
        long = length_m(case.ways, found.before) * 1000
        drop, turns = drop_m(case, found.after)
        below = ways.at[found.outlet][1] - ways.at["port", found.tundish, "in"][1]
        said: dict[str, Any] = {
            "severity": severity,
            "subject": found.valve,
            "culprits": (found.tundish,),
            "path": (found.valve, *found.run),
            "unit": "mm",
        }
        if below <= LEVEL_M:
            yield Finding(
                **said,
                message=f"{tundish} stands no lower than {name}.",
                todo="Put the tundish below the valve.",
                measured=below * 1000,
                limit=0.0,
                sources=("g3.tundish",),
            )
        elif long > longest + 1000 * LEVEL_M:
            yield Finding(
                **said,
                message=f"{tundish} is {long:.0f} mm of pipe from {name}; at most {longest:.0f} mm is right.",
                todo="Move the tundish nearer to the valve.",
                measured=long,
                limit=longest,
                sources=("g3.d1.len.max",),
            )
        elif turns and drop * 1000 < least - 1000 * LEVEL_M:
            yield Finding(
                **said,
                message=f"The pipe under {tundish} bends after {drop * 1000:.0f} mm; it drops straight "
                f"for {least:.0f} mm or more.",
                todo="Lengthen the straight drop under the tundish.",
                measured=drop * 1000,
                limit=least,
                sources=("g3.d2.drop",),
            )
        else:
            yield Sound(found.valve)


@rule("discharge/undersized", about="one relief valve", yields_to=("discharge/no-tundish",))
def undersized(case: Case) -> Iterator[Said]:
    """A discharge pipe smaller than its valve's outlet, or too long for its size beyond the tundish."""
    ways = case.ways
    for found in discharges(case):
        if not found.steps or found.thermal:
            continue
        outlet = str(ways.value(found.valve, "outlet_size") or "")
        if outlet not in THREAD:
            yield case.lacks(found.valve, found.valve, "outlet_size", "outlet size")
            continue
        unknown = next((p for p in pipes_of(case, found.steps) if tube_of(case, p) is None), None)
        if unknown:
            yield Missing(found.valve, f"The size of {unknown} is in no table", unknown, "size")
            continue
        thin = _thinner(case, found, float(outlet))
        if thin:
            yield Finding(
                severity=Severity.FAULT,
                subject=found.valve,
                culprits=tuple(dict.fromkeys(n.id for n in thin)),
                path=(found.valve, *found.run),
                measured=min(n.size_mm for n in thin),
                limit=float(outlet),
                unit="mm",
                message=f"The discharge pipe of {case.name(found.valve)} is {thin[0].words}; its outlet "
                f"is {outlet} mm.",
                todo=f"Use {outlet} mm or larger.",
                sources=("g3.d1.size",) if found.unvented else ("sv.discharge",),
            )
        elif found.unvented and found.tundish:
            yield _beyond(case, found, THREAD[outlet])
        else:
            yield Sound(found.valve)


def _thinner(case: Case, found: Discharge, outlet_mm: float) -> list[Narrow]:
    """Pipes thinner than the outlet: to the tundish, or to the end without one."""
    ways = case.ways
    every = (
        narrow(case, ways.elements[k], outlet_mm, BORE_SHARE * outlet_mm) for k, _ in found.before if k[0] == "pipe"
    )
    return [n for n in every if n is not None]


def _beyond(case: Case, found: Discharge, thread: str) -> Said:
    pipes = pipes_of(case, found.after)
    tubes = [t for t in (tube_of(case, p) for p in pipes) if t is not None]
    if not tubes:
        return Sound(found.valve, "It ends at the tundish")
    if any(t.material != "copper" for t in tubes):
        return Missing(
            found.valve,
            "The table of discharge pipes is for copper; other pipe needs its own calculation",
            pipes[0],
            "material",
        )
    size = min(t.outside_m for t in tubes) * 1000
    length, turns = length_m(case.ways, found.after), bends(case.ways, found.after)
    passes, equivalent, longest = table.judge(thread, f"{size:g}", length, turns)
    if passes:
        return Sound(found.valve, f"{equivalent:.1f} m of {longest:g} m")
    try:
        row = table.pipe_for(thread, length, turns)
        todo = (
            f"Use {row.d2} mm: it may run {row.longest_m:g} m, and this comes to "
            f"{row.equivalent_m(length, turns):.1f} m."
        )
    except FigureError:
        todo = "Shorten the run or take out bends; no size in the table will do."
    words = (
        f"comes to {equivalent:.1f} m with its bends; {size:g} mm may run {longest:g} m"
        if longest
        else f"is {size:g} mm beyond the tundish, which is too thin at any length"
    )
    rows = {"1/2": ("g3.d2.h9", "g3.d2.h18"), "3/4": ("g3.d2.t9", "g3.d2.t18"), "1": ("g3.d2.o9", "g3.d2.o18")}
    return Finding(
        severity=Severity.FAULT,
        subject=found.valve,
        culprits=tuple(dict.fromkeys(pipes)),
        path=(found.valve, *found.run),
        measured=equivalent,
        limit=longest or None,
        unit="m",
        message=f"The discharge pipe of {case.name(found.valve)} {words}.",
        todo=todo,
        sources=rows[thread],
    )


@rule("discharge/rises", about="one relief or discharge valve", yields_to=("discharge/no-tundish",))
def rises(case: Case) -> Iterator[Said]:
    """A discharge pipe that rises, runs level beyond its tundish, or is of plastic before it."""
    for found in discharges(case):
        if found.steps:
            yield _climbing(case, found) or _level(case, found) or _plastic(case, found) or Sound(found.valve)


def _of_pipe(found: Discharge, severity: Severity, culprits: tuple[str, ...]) -> dict[str, Any]:
    """What every finding on how a discharge pipe lies has in common."""
    return {
        "subject": found.valve,
        "path": (found.valve, *found.run),
        "severity": severity,
        "culprits": tuple(dict.fromkeys(culprits)),
    }


def _climbing(case: Case, found: Discharge) -> Finding | None:
    steps = found.after if found.thermal else found.steps  # the main drives cooling water as far as its tundish
    climbs = [
        (here, here.z - before.z)
        for before, here in pairwise(stops(case.ways, steps))
        if here.z > before.z + LEVEL_M and here.at[1] > before.at[1]
    ]
    if not climbs:
        return None
    bad = found.unvented or (found.fire is not None and not found.thermal)
    rise = sum(z for _, z in climbs) * 1000
    return Finding(
        **_of_pipe(found, Severity.DANGER if bad else Severity.FAULT, tuple(s.key[1] for s, _ in climbs)),
        spot=climbs[0][0].at,
        measured=rise,
        limit=0.0,
        unit="mm",
        message=f"The discharge pipe of {case.name(found.valve)} rises by {rise:.0f} mm, so water stands in it.",
        todo="Lay it to fall all the way.",
        sources=("g3.d2.fall",) if found.unvented else ("sv.discharge",),
    )


def _level(case: Case, found: Discharge) -> Finding | None:
    least = case.limit("g3.d2.fall")
    level = _too_flat(case, found, least)
    if not level:
        return None
    return Finding(
        **_of_pipe(found, Severity.FAULT, level),
        limit=least * 1000,
        unit="mm/m",
        message=f"Beyond {case.name(found.tundish)} the discharge pipe of {case.name(found.valve)} runs level; it "
        f"falls {least * 1000:g} mm a metre or more.",
        todo="Lay it to fall, or mark it as graded towards the tundish.",
        sources=("g3.d2.fall",),
    )


def _plastic(case: Case, found: Discharge) -> Finding | None:
    pipes = [] if found.thermal else pipes_of(case, found.before)
    plastic = tuple(p for p in pipes if case.sheet.pipes[p].material not in METALS)
    if not plastic:
        return None
    where = "before" if found.tundish else "without"
    return Finding(
        **_of_pipe(found, Severity.FAULT, plastic),
        message=f"The discharge pipe of {case.name(found.valve)} is plastic {where} a tundish; it is metal.",
        todo="Use copper.",
        sources=("g3.d1.size",) if found.unvented else ("sv.discharge",),
    )


def _too_flat(case: Case, found: Discharge, least: float) -> tuple[str, ...]:
    """Pipes beyond a tundish, for an unvented vessel, that fall less than they should."""
    if not found.tundish or not found.unvented:
        return ()
    out: list[str] = []
    for before, here in pairwise(stops(case.ways, found.after)):
        across = abs(here.at[0] - before.at[0])
        if across > LEVEL_M and before.z - here.z < least * across - 1e-6 and here.key[0] == "pipe":
            out.append(here.key[1])
    return tuple(dict.fromkeys(out))
