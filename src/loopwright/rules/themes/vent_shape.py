"""Rules of a vent's shape: whether it rises all the way, is wide enough, and turns over high enough.

What pumps add at the vent joint is not judged here: it needs the solved flow network.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from loopwright.catalogue import Behaviour
from loopwright.rules.bores import Narrow, narrow, no_size, tube_of, unsized
from loopwright.rules.families import SHUTS_IN, VENT_CAN_CLOSE
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, published, rule
from loopwright.rules.vents import (
    LEVEL_STUB_M,
    VentPath,
    VentRun,
    can_block,
    fires_in,
    joint_of,
    line_m,
    runs,
    vent_paths,
    vented_waters,
)
from loopwright.waterways.graph import Place, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.profile import LEVEL_M, falls, level_runs, points_of
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water

LEVEL_RUN_M = 0.5  # a shorter level piece is a fitting: common practice, no source


def _without_rise(case: Case, water: Water) -> Source | None:
    """A fire whose every vent path falls somewhere."""
    for source in fires_in(case, water):
        paths = vent_paths(case, source)
        if paths and paths[0].fall_m > 0.0:
            return source
    return None


@rule(
    "vent-and-feed/vent-dips",
    about="one vent, or one source and its ways to a vent",
    yields_to=(*VENT_CAN_CLOSE, *SHUTS_IN),
)
def vent_dips(case: Case) -> Iterator[Said]:
    """A vent that falls on its way up."""
    for water in vented_waters(case):
        lost = _without_rise(case, water)
        severity = Severity.DANGER if lost else Severity.FAULT
        said: set[str] = set()
        for run in runs(case, water):
            rising = list(run.walk[: run.turn + 1])
            down = falls(rising)
            if down:
                ids = tuple(dict.fromkeys(s.key[1] for s, _ in down))
                said |= set(ids)
                depth = sum(d for _, d in down)
                at = down[0][0].at
                yield Finding(
                    severity=severity,
                    subject=run.owner,
                    culprits=ids,
                    path=run.ids,
                    spot=at,
                    message=f"{case.name(run.pipe)} falls {depth * 1000:.0f} mm"
                    f" at x {at[0]:.2f} m before it turns over.",
                    todo="Re-route it so that it climbs all the way to its turn-over.",
                    measured=depth * 1000,
                    limit=0.0,
                    unit="mm",
                    sources=("sf.primary.rise",),
                )
                continue
            level = [(s, length) for s, length in level_runs(rising) if length > LEVEL_RUN_M]
            if level:
                total = sum(length for _, length in level)
                yield Finding(
                    severity=Severity.ADVICE,
                    subject=run.owner,
                    culprits=tuple(dict.fromkeys(s.key[1] for s, _ in level)),
                    path=run.ids,
                    spot=level[0][0].at,
                    message=f"{case.name(run.pipe)} runs level for {total:.1f} m.",
                    todo="Lay it to rise, and mark it graded.",
                    measured=total,
                    limit=0.0,
                    unit="m",
                    sources=("sf.primary.rise",),
                )
                continue
            yield Sound(run.owner)
        for source in water.sources:
            paths = vent_paths(case, source)
            if not paths or source.stops == "sun":
                continue
            best = paths[0]
            if best.fall_m <= 0.0:
                yield Sound(source.part)
            elif not set(best.fall_ids) <= said:
                yield _no_way_climbs(case, source, best)


def _no_way_climbs(case: Case, source: Source, best: VentPath) -> Finding:
    """A source no vent path of which climbs all the way; or the only one that does can be shut."""
    name, mm = case.name(source.part), best.fall_m * 1000
    climbs = next((p for p in vent_paths(case, source, opened=True) if p.fall_m <= 0.0), None)
    shut = can_block(case, climbs) if climbs else ()
    names = " and ".join(case.name(p) for p in shut)
    return Finding(
        severity=Severity.DANGER if source.stays_hot else Severity.FAULT,
        subject=source.part,
        culprits=shut or best.fall_ids,
        path=(source.part, *(climbs or best).ids),
        message=f"{names} can shut the only way from {name} to its vent that climbs; the next best falls {mm:.0f} mm."
        if shut
        else f"Every way from {name} to its vent falls, the best one by {mm:.0f} mm.",
        todo=f"Take {names} out of that way."
        if shut
        else "Re-route one way so that it climbs all the way to the vent.",
        measured=mm,
        limit=0.0,
        unit="mm",
        sources=("sf.primary.rise",),
    )


def _sizes(case: Case) -> tuple[float, float]:
    return case.limit("sf.vent.od.min"), case.limit("vent.bore.min")


@rule("vent-and-feed/vent-too-small", about="one vent, or one source and its best way to a vent")
def vent_too_small(case: Case) -> Iterator[Said]:
    """A vent too narrow for steam."""
    ways = case.ways
    least = _sizes(case)
    for water in vented_waters(case):
        choked = next((s for s in fires_in(case, water) if vent_paths(case, s) and _all_thin(case, s)), None)
        said: set[str] = set()
        for run in runs(case, water):
            gap = unsized(case, run.steps)
            if gap:
                yield no_size(case, run.owner, gap)
                continue
            thin = [n for k, _ in run.steps if (n := narrow(case, ways.elements[k], *least))]
            if not thin:
                yield Sound(run.owner)
                continue
            said |= {n.id for n in thin}
            yield _too_thin(run.owner, run.ids, f"{case.name(run.pipe)} is", thin, least, choked is not None)
        for source in water.sources:
            if source.stops != "sun" and vent_paths(case, source):
                yield from _path_size(case, source, least, said)


def _too_thin(
    subject: str, path: tuple[str, ...], words: str, thin: list[Narrow], least: tuple[float, float], choked: bool
) -> Finding:
    """Narrow places of a vent; `choked` where a fire has no wider one."""
    worst = min(thin, key=lambda n: n.size_mm)
    wants = f"{least[0]:g} mm copper" if worst.copper else f"a bore of {least[1]:g} mm"
    return Finding(
        severity=Severity.DANGER if choked else Severity.FAULT,
        subject=subject,
        culprits=tuple(dict.fromkeys(n.id for n in thin)),
        path=path,
        message=f"{words} {worst.words}; it needs {wants}.",
        todo="Draw it in 22 mm from the boiler to the cistern.",
        measured=worst.size_mm,
        limit=least[0] if worst.copper else least[1],
        unit="mm",
        sources=("sf.vent.od.min",) if worst.copper else ("vent.bore.min",),
    )


def _all_thin(case: Case, source: Source) -> bool:
    """Whether every vent path passes copper thinner than the limit (other metal never makes a danger)."""
    least = (case.limit("sf.vent.od.min"), 0.0)
    if any(not _thin(case, p, least) for p in vent_paths(case, source)):
        return False
    return not vent_paths(case, source, least)


def _best(case: Case, source: Source) -> VentPath:
    """The path with the fewest findings, then the shortest."""
    least = _sizes(case)

    def flaws(p: VentPath) -> tuple[int, bool, float]:
        return (p.fall_m > 0.0) + bool(_thin(case, p, least)), _reduced(case, source, p) is not None, p.length_m

    best = min(vent_paths(case, source), key=flaws)
    if flaws(best)[:2] == (0, False):
        return best
    return min([*vent_paths(case, source, least), *vent_paths(case, source)], key=flaws)


def _thin(case: Case, path: VentPath, least: tuple[float, float]) -> list[Narrow]:
    return [n for k, _ in path.steps if (n := narrow(case, case.ways.elements[k], *least))]


def _reduced(case: Case, source: Source, path: VentPath) -> str | None:
    """The pipe at which a path becomes smaller than the source's flow tapping, if that pipe sets off level."""
    ways = case.ways
    ports = [ways.kind(source.part).port(p[2]) for p in source.flow_ports]
    bore = max((p.bore_mm for p in ports if p and p.bore_mm), default=None)
    if bore is None:
        return None
    for key, forward in path.steps:
        found = tube_of(case, key[1]) if key[0] == "pipe" and not ways.sheet.pipes[key[1]].joint else None
        if found is None or found.bore_m * 1e3 >= bore - 0.5:
            continue
        points = points_of(ways, ways.elements[key])
        points = points if forward else points[::-1]
        longer = ((p, q) for p, q in pairwise(points) if abs(q[0] - p[0]) + abs(q[1] - p[1]) > LEVEL_STUB_M)
        first = next(longer, None)
        return key[1] if first and abs(first[1][0] - first[0][0]) > LEVEL_M else None
    return None


def _path_size(case: Case, source: Source, least: tuple[float, float], said: set[str]) -> Iterator[Said]:
    best = _best(case, source)
    gap = unsized(case, best.steps)
    if gap:
        yield no_size(case, source.part, gap)
        return
    thin = _thin(case, best, least)
    if thin:
        if {n.id for n in thin} <= said:
            return
        choked = source.stays_hot and _all_thin(case, source)
        words = f"The way from {case.name(source.part)} to its vent narrows to"
        yield _too_thin(source.part, (source.part, *best.ids), words, thin, least, choked)
        return
    smaller = _reduced(case, source, best)
    if smaller:
        # seen in one stove manual only, so it does not make a fault
        yield Finding(
            severity=Severity.ADVICE,
            subject=source.part,
            culprits=(smaller,),
            path=(source.part, *best.ids),
            message=f"Vent of {case.name(source.part)} gets smaller in {case.name(smaller)},"
            " which does not stand upright.",
            todo="Keep the size of the tapping until the pipe stands upright.",
            sources=("sf.vent.reduce.place",),
        )
        return
    yield from _large(case, source, best)


def _large(case: Case, source: Source, best: VentPath) -> Iterator[Said]:
    """Vents of large boilers: advice only, the figures are recalled and sources differ."""
    power = case.ways.number(source.part, "power_kw")
    wanted = published("vent.feed.size.3")
    tubes = [t for k, _ in best.steps if k[0] == "pipe" and (t := tube_of(case, k[1]))]
    smallest = min((t.outside_m * 1e3 for t in tubes if t.material == "copper"), default=None)
    if power is not None and power > 45.0 and smallest is not None and smallest < wanted - 0.01:
        yield Finding(
            severity=Severity.ADVICE,
            subject=source.part,
            culprits=best.ids[-1:],
            path=(source.part, *best.ids),
            message=f"Vent of {case.name(source.part)} is {smallest:g} mm; above 45 kW {wanted:g} mm is usual.",
            todo=f"Consider {wanted:g} mm.",
            measured=smallest,
            limit=wanted,
            unit="mm",
            sources=("vent.feed.size.3",),
        )
    else:
        yield Sound(source.part)


@rule("vent-and-feed/vent-too-low", about="one vent", yields_to=("vent-and-feed/pumps-over",))
def vent_too_low(case: Case) -> Iterator[Said]:
    """A vent that turns over too little above the cold water."""
    for water in vented_waters(case):
        feeding = {b[1] for b in water.feeds}
        for run in runs(case, water):
            if feeding and run.cistern not in feeding:
                continue  # over the wrong cistern, which is another rule's
            yield _too_low(case, water, run)


def _too_low(case: Case, water: Water, run: VentRun) -> Said:
    line = line_m(case, run.cistern)
    if line is None:
        return case.lacks(run.owner, run.cistern, "water_line_m", "cold water line")
    base = _lowest(case, water)
    if base is None:
        return Sound(run.owner, "Nothing is heated on this water")
    stands = run.turn_over_m - line
    needed = case.limit("vent.rise.base") / 1000 + case.limit("vent.rise.per_m") / 1000 * max(0.0, line - base)
    if stands < needed - 1e-3:
        return Finding(
            severity=Severity.FAULT,
            subject=run.owner,
            culprits=(run.pipe,),
            path=(*run.ids, run.cistern),
            message=f"{case.name(run.pipe)} turns over {max(stands, 0.0) * 1000:.0f} mm above the cold water;"
            f" {needed * 1000:.0f} mm is needed with {line - base:.1f} m below.",
            todo=f"Raise the turn-over by {(needed - stands) * 1000:.0f} mm.",
            measured=stands * 1000,
            limit=needed * 1000,
            unit="mm",
            sources=("vent.rise.base", "vent.rise.per_m", "vent.rise.H"),
        )
    if not _pump_near(case, joint_of(case, run)):
        return Sound(run.owner)
    practice = case.limit("vent.rise.practice") / 1000
    if stands < practice - 1e-3:
        return Finding(
            severity=Severity.ADVICE,
            subject=run.owner,
            culprits=(run.pipe,),
            path=(*run.ids, run.cistern),
            message=f"{case.name(run.pipe)} turns over {stands * 1000:.0f} mm above the cold water;"
            f" with a pump {practice * 1000:.0f} mm is usual.",
            todo=f"Consider raising the turn-over to {practice * 1000:.0f} mm.",
            measured=stands * 1000,
            limit=practice * 1000,
            unit="mm",
            sources=("vent.rise.practice",),
        )
    # the pump's push at the vent joint comes on top and is not assessed yet
    return Missing(run.owner, f"The pump's push at the joint of {case.name(run.pipe)} needs the flow network")


def _lowest(case: Case, water: Water) -> float | None:
    """Base of the lowest source of a water; without one, the lowest connection of its lowest vessel."""
    sheet = case.sheet
    bases = [sheet.parts[s.part].height_m for s in water.sources]
    if bases:
        return min(bases)
    taps = [
        case.ways.at[e.other(b)][1]
        for b in case.ways.bodies("store", "cylinder")
        if b in water.places
        for e in case.ways.links[b]
    ]
    return min(taps, default=None)


def _pump_near(case: Case, joint: Place) -> bool:
    """Whether a pump moves water past a vent joint: one reached without crossing a body."""
    bodies = case.ways.bodies()
    if joint in bodies or any(e.other(joint) in bodies and e.part for e in case.ways.links[joint]):
        return False
    near = reach(case.ways, passing(case.ways, Ask.OPEN), [joint], walls=bodies)
    return any(e.does is Behaviour.PUMP for p in near for e in case.ways.links[p])
