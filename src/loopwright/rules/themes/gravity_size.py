"""Rules of how wide, how long and how level the gravity loops of a fire are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from loopwright.rules.bores import Narrow, narrow, unsized
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import emitter_kw, light
from loopwright.rules.themes.gravity_loop import examined
from loopwright.waterways.graph import Key
from loopwright.waterways.profile import level_runs, stops

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
                    path = path or light(case, loop)
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
            yield Missing(source.part, f"{case.name(unknown)}: its size is in no table", unknown, "size")
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
            metres = sum(_length(case, key) for key in loop.keys)
            if metres > case.limit("sf.primary.len.max"):
                reasons.append(f"is {metres:.1f} m long")
            done |= {s.key for s, _ in runs}
            if reasons and (long or level > 3.0):
                spot, _ = max(runs, key=lambda pair: pair[1])
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=source.part,
                    culprits=tuple(dict.fromkeys(s.key[1] for s, _ in (long or runs))),
                    path=light(case, loop),
                    spot=spot.at,
                    message=f"Gravity loop through {case.name(loop.sink.part)} {', '.join(reasons)}.",
                    todo="Mark it graded if it is laid to rise 1 in 120 towards the vent; keep it short.",
                    measured=round(max(m for _, m in runs), 2),
                    limit=0.5,
                    unit="m",
                    sources=("sf.primary.slope", "sf.primary.horiz", "sf.primary.len.max"),
                )
            else:
                yield Sound(source.part, f"Loop through {case.name(loop.sink.part)}")


def _length(case: Case, key: Key) -> float:
    if key[0] != "pipe":
        return 0.0
    pipe = case.ways.sheet.pipes[key[1]]
    element = case.ways.elements[key]
    points = [case.ways.at[element.a], *pipe.points, case.ways.at[element.b]]
    return pipe.extra_length_m + sum(abs(x1 - x0) + abs(z1 - z0) for (x0, z0), (x1, z1) in pairwise(points))
