"""Rules of how wide, how long and how level the gravity loops of a fire are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import fsum

from loopwright.rules.bores import Narrow, narrow, no_size, unsized
from loopwright.rules.examined import examined
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import emitter_kw
from loopwright.waterways.graph import Key
from loopwright.waterways.profile import LEVEL_M, Stop, length_m, level_runs, stops

BORE_MM = 25.0
"""Least bore of a gravity loop in metal other than copper, as 28 mm copper is in copper."""
BRANCH_KW, BRANCH_MM, BRANCH_BORE_MM = 3.0, 22.0, 19.5
"""The branch to one emitter of no more than that heat may be 22 mm copper, or other metal of about its bore."""


@rule("gravity-loop/small-bore", about="one gravity loop")
def small_bore(case: Case) -> Iterator[Said]:
    """A gravity loop in pipe, or through a tapping, that is too thin."""
    ways = case.ways
    limit = case.limit("sf.primary.od.min")
    for source in ways.fires:
        found = examined(case, source)
        shared = Counter(key for loop in found for key in loop.keys)
        thin: dict[str, Narrow] = {}
        path: tuple[str, ...] = ()
        for loop in found:
            kw = emitter_kw(case, loop.sink.part) if loop.sink.sort == "emitter" else None
            for key in loop.keys:
                element = ways.elements[key]
                if ways.has_tag(element.part, "emitter"):
                    continue  # its own tappings are judged by what flows through it
                own_branch = kw is not None and kw <= BRANCH_KW and shared[key] == 1
                least = (BRANCH_MM, BRANCH_BORE_MM) if own_branch else (limit, BORE_MM)
                small = narrow(case, element, *least)
                if small is not None:
                    thin.setdefault(small.id, small)
                    path = path or loop.ids
        unknown = next((u for u in (unsized(case, loop.steps) for loop in found) if u), None)
        if thin:
            worst = min(thin.values(), key=lambda n: n.size_mm)
            yield Finding(
                severity=Severity.FAULT,
                subject=source.part,
                culprits=tuple(sorted(thin)),
                path=path,
                message=f"Gravity loop of {case.name(source.part)} runs in {worst.words}; it needs {limit:g} mm.",
                todo=f"Draw it in {limit:g} mm from the stove to the store and back.",
                measured=worst.size_mm,
                limit=limit,
                unit="mm",
                sources=("sf.primary.od.min",),
            )
        elif unknown:
            yield no_size(case, source.part, unknown)
        elif found:
            yield Sound(source.part)


@rule("gravity-loop/level-run", about="one gravity loop", yields_to=("gravity-loop/dips",))
def level_run(case: Case) -> Iterator[Said]:
    """A gravity loop that runs level, long or bare."""
    ways = case.ways
    for source in ways.fires:
        done: set[Key] = set()
        for loop in examined(case, source):
            walk = [*stops(ways, loop.flow_leg), *stops(ways, loop.return_leg)]
            runs = [(s, m) for s, m in level_runs(walk) if s.key not in done]
            long = [(s, m) for s, m in runs if m > 0.5 + 1e-6]
            reasons = []
            if long:
                reasons.append(f"runs level for {max(m for _, m in long):.1f} m")
            level = sum(m for _, m in runs)
            if level > 3.0:
                reasons.append(f"{level:.1f} m of it is level")
            flat = _flat(walk, case.limit("sf.primary.slope")) if not {s.key for s, _ in runs} & done else []
            if flat:
                reasons.append(f"rises by only 1 in {1 / min(slope for _, slope in flat):.0f} in places")
            tops = [s for s, _ in (*long, *flat)]
            unlagged: tuple[str, ...] = ()
            if loop.sink.sort in ("body", "coil"):  # the pipes of a heat leak may well shed heat themselves
                metres = _metres(case, loop.keys)
                if metres > case.limit("sf.primary.len.max"):
                    reasons.append(f"is {metres:.1f} m long")
                bare = [k for k in loop.keys if k[0] == "pipe" and ways.pipe(k).insulation_mm == 0]
                unlagged = tuple(sorted(k[1] for k in loop.keys if k[0] == "pipe" and _unknown(case, k)))
                open_m = _metres(case, bare)
                if open_m > case.limit("sf.primary.len.lag"):
                    reasons.append(f"has {open_m:.1f} m of pipe without insulation")
            done |= {s.key for s, _ in runs}
            if reasons:
                spot = max(runs, key=lambda pair: pair[1])[0].at if runs else None
                own = tuple(dict.fromkeys(s.key[1] for s in (tops or [s for s, _ in runs])))
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=source.part,
                    culprits=own or tuple(sorted(k[1] for k in loop.keys if k[0] == "pipe")),
                    path=loop.ids,
                    spot=spot,
                    message=f"Gravity loop through {case.name(loop.sink.part)} {', '.join(reasons)}.",
                    todo="Mark it graded if it is laid to rise 1 in 120 towards the vent; keep it short, and lag it.",
                    measured=round(max((m for _, m in runs), default=0.0), 2),
                    limit=0.5,
                    unit="m",
                    sources=("sf.primary.slope", "sf.primary.horiz", "sf.primary.len.max", "sf.primary.len.lag"),
                )
            elif _metres(case, [("pipe", p) for p in unlagged]) > case.limit("sf.primary.len.lag"):
                first = unlagged[0]
                yield case.lacks(source.part, first, "insulation_mm", "its insulation")
            else:
                yield Sound(source.part, f"Loop through {case.name(loop.sink.part)}")


def _flat(walk: list[Stop], least: float) -> list[tuple[Stop, float]]:
    """Where a drawn slope is less than it should be, and that slope. Level runs are no slopes."""
    out = []
    for before, here in pairwise(walk):
        along, up = abs(here.at[0] - before.at[0]), abs(here.at[1] - before.at[1])
        if up > LEVEL_M and along > LEVEL_M and up / along < least - 1e-9:
            out.append((here, up / along))
    return out


def _unknown(case: Case, key: Key) -> bool:
    """Whether nobody has said how thickly a pipe is lagged."""
    pipe = case.ways.pipe(key)
    return pipe.insulation_mm is None and not pipe.joint


def _metres(case: Case, keys: Iterable[Key]) -> float:
    """Developed length of some pipes together, m; the same to the last figure in any order."""
    return fsum(length_m(case.ways, case.ways.elements[key]) for key in keys if key[0] == "pipe")
