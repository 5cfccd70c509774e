"""Rules of open vents: where they end, over which cistern, what can shut them, and who shares them."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.rules.cuts import least_cut, to_change
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.relief import built_in_relief, reliefs_reached
from loopwright.rules.vents import (
    VentPath,
    bare,
    cut_pipes,
    feed_outlets,
    feed_pipes,
    fires_in,
    is_domestic,
    is_piped,
    lines_m,
    open_tops,
    runs,
    vent_ends,
    vent_paths,
    vent_targets,
    vented_waters,
)
from loopwright.rules.warmth import coil_heats, immersions_in
from loopwright.waterways.graph import Place, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.profile import LEVEL_M, points_of
from loopwright.waterways.services import run_from
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, water_of


def _lost_fire(case: Case, water: Water) -> Source | None:
    """A fire of the water that no vent path leads away from."""
    return next((s for s in fires_in(case, water) if not vent_paths(case, s)), None)


@rule("vent-and-feed/no-discharge-over-cistern", about="one pipe that rises above the cistern")
def no_discharge_over_cistern(case: Case) -> Iterator[Said]:
    """A vent that ends anywhere but over the cistern, above its water."""
    ways = case.ways
    for water in vented_waters(case):
        lines = lines_m(case, water)
        if not lines:
            continue
        lost = _lost_fire(case, water)
        found: list[tuple[str, str, tuple[str, ...]]] = []
        ports = (p for p in water.places if p[0] == "port" and len(ways.links[p]) == 1)
        for tip in sorted(p for p in ports if ways.links[p][0].pipe):
            tags = ways.kind(tip[1]).tags
            words = (
                "a cap"
                if "cap" in tags
                else "an open end"
                if "open_end" in tags
                else "an air vent"
                if "air_vent" in tags
                else ""
            )
            run = run_from(ways, tip, ()) if words else ()
            if not run:
                continue
            ids = tuple(dict.fromkeys(k[1] for k in run))
            top = max(z for key in run for _, z in points_of(ways, ways.elements[key]))
            marked = any(ways.sheet.pipes[k[1]].service == "vent" for k in run if k[0] == "pipe")
            if marked or top > max(lines) + LEVEL_M:
                found.append((words, tip[1], ids))
        for end in water.vent_ends:
            if end not in vent_ends(case, water):
                joined = ways.links[end.port]
                found.append(
                    (f"{case.name(end.part)} below its water line", end.part, tuple(e.pipe for e in joined if e.pipe))
                )
        for pipe_id, cistern in sorted(feed_pipes(case, water).items()):
            if ways.sheet.pipes[pipe_id].service == "vent":
                found.append((f"{case.name(cistern)} below its water line", pipe_id, (pipe_id,)))
        for words, culprit, ids in found:
            pipe = next((i for i in ids if i in ways.sheet.pipes), culprit)
            yield Finding(
                severity=Severity.DANGER if lost else Severity.FAULT,
                subject=pipe,
                culprits=tuple(dict.fromkeys((pipe, culprit))),
                path=ids,
                message=f"{case.name(pipe)} rises like a vent and ends in {words}"
                + (f"; {case.name(lost.part)} has no other vent." if lost else ", not over the cistern."),
                todo="Turn it over the cistern, above the water line.",
                sources=("vent.end",),
            )
        if not found:
            yield from (Sound(run.owner) for run in runs(case, water))


@rule("vent-and-feed/vent-over-wrong-cistern", about="one vent")
def vent_over_wrong_cistern(case: Case) -> Iterator[Said]:
    """A vent over a cistern that does not feed the same water."""
    for water in vented_waters(case):
        feeding = {b[1] for b in water.feeds}
        if not feeding and fires_in(case, water):
            continue  # a fire without a feed is for its own rule
        for run in runs(case, water):
            if run.cistern in feeding:
                yield Sound(run.owner)
                continue
            foul = water.fluid != "domestic" and is_domestic(case, run.cistern)
            over = "tap water" if is_domestic(case, run.cistern) else "other water"
            fed = f"its feed comes from {_names(case, feeding)}" if feeding else "it has no feed from there"
            yield Finding(
                severity=Severity.DANGER if foul else Severity.FAULT,
                subject=run.owner,
                culprits=(run.pipe,),
                path=(*run.ids, run.cistern),
                message=f"{case.name(run.pipe)} ends over {case.name(run.cistern)}, which holds {over}; {fed}."
                if feeding or foul
                else f"{case.name(run.pipe)} ends over {case.name(run.cistern)}, but {fed}.",
                todo="Take the vent to the cistern that feeds the same water, or give it one of its own.",
                sources=("fe.vent.sep",),
            )


def _names(case: Case, parts: set[str]) -> str:
    return " and ".join(case.name(p) for p in sorted(parts))


@rule(
    "vent-and-feed/vent-can-close",
    about="one boiler, store or cylinder in vented water",
    yields_to=("solid-fuel/vent-can-close",),
)
def vent_can_close(case: Case) -> Iterator[Said]:
    """A boiler or a heated vessel that valves can shut off from its vent."""
    ways = case.ways
    for water in vented_waters(case):
        ends = vent_targets(case, water)
        # one pipe that is feed and vent is judged by the rule on combined pipes: here it lets pressure out
        ends = ends or feed_outlets(case, water)
        for source in water.sources:
            if not source.stays_hot and source.stops != "sun" and is_piped(case, source.part):
                begin = {source.hot, source.cold}
                yield _can_close(case, water, source.part, begin, ends, built_in_relief(case, source))
        for body in ways.bodies("store", "cylinder"):
            vessel = body[1]
            if body not in water.places or not (
                coil_heats(case, vessel) or immersions_in(case, vessel) or _plate_heated(case, water)
            ):
                continue
            base, top = ways.body_range(vessel)
            upper = {e.other(body) for e in ways.links[body] if ways.at[e.other(body)][1] >= (base + top) / 2}
            begin = {body} if body in open_tops(case, water) else upper
            yield _can_close(case, water, vessel, begin, ends, False, walls=[body])


def _plate_heated(case: Case, water: Water) -> bool:
    """Whether a source beyond a plate exchanger heats this water."""
    for sink in case.ways.sinks:
        if sink.sort == "plate" and sink.ends[0] in water.places:
            for other in case.ways.sinks:
                if other.part == sink.part and other.key != sink.key:
                    far = water_of(case.ways, other.ends[0])
                    if far is not None and far is not water and far.sources:
                        return True
    return False


def _can_close(
    case: Case,
    water: Water,
    part: str,
    begin: set[Place],
    ends: set[Place],
    built_in: bool | None,
    *,
    walls: list[Place] | None = None,
) -> Said:
    ways = case.ways
    stop = [*ways.bodies("cistern"), *(w for w in walls or () if w not in begin)]
    if reach(ways, bare(case), begin, walls=stop) & ends:
        return Sound(part)
    # nobody has said whether a relief valve is built in: a gap is no ground for a danger
    mild = built_in is not False or bool(reliefs_reached(case, water, begin, passing(ways, Ask.FIXED)))
    cut = to_change(case, least_cut(case, bare(case), begin, ends)) if ends else ()
    names = _names(case, set(cut))
    return Finding(
        severity=Severity.FAULT if mild else Severity.DANGER,
        subject=part,
        culprits=cut or (part,),
        path=(part, *cut),
        message=f"{names} can shut {case.name(part)} off from its vent."
        if cut
        else f"{case.name(part)} is on vented water and no way leads from it to a vent.",
        todo="Bring the vent or a relief valve inside the valves."
        if cut
        else "Draw a vent from it, rising all the way, over its cistern.",
        sources=("sf.vent.valves",),
    )


@rule("vent-and-feed/vent-shared", about="two sources on one vented water")
def vent_shared(case: Case) -> Iterator[Said]:
    """A fire whose vent pipe another source uses too."""
    for water in vented_waters(case):
        sources = [s for s in water.sources if s.stops != "sun" and vent_paths(case, s)]
        for i, one in enumerate(sources):
            for other in sources[i + 1 :]:
                if one.stays_hot or other.stays_hot:
                    yield _shared(case, one, other)


def _shared(case: Case, one: Source, other: Source) -> Said:
    both = cut_pipes(case, one) & cut_pipes(case, other)
    subject = one.part if one.stays_hot else other.part
    if not both:
        return Sound(subject)
    bodies = set(case.ways.bodies())
    by_body = [_through_body(case, vent_paths(case, s, opened=True)[0], both, bodies) for s in (one, other)]
    ids = tuple(sorted(both))
    names = f"{case.name(one.part)} and {case.name(other.part)}"
    if all(by_body):
        if one.stays_hot and other.stays_hot:
            return Finding(
                severity=Severity.ADVICE,
                subject=subject,
                culprits=ids,
                path=(one.part, other.part, *ids),
                message=f"{names} have only the store's vent between them.",
                todo="Consider a vent of its own for each.",
                sources=("sf.vent.each_boiler",),
            )
        return Sound(subject, "They share the store's body, not a vent pipe of their own")
    return Finding(
        severity=Severity.FAULT,
        subject=subject,
        culprits=ids,
        path=(one.part, other.part, *ids),
        message=f"{names} share {' and '.join(map(case.name, ids))}; each needs an open vent of its own.",
        todo="Give each its own vent pipe to the cistern.",
        sources=("sf.vent.each_boiler",),
    )


def _through_body(case: Case, path: VentPath, pipes: set[str], bodies: set[Place]) -> bool:
    """Whether a path crosses a vessel's body before the first of these pipes."""
    for key, _ in path.steps:
        if key[1] in pipes and key[0] == "pipe":
            return False
        element = case.ways.elements[key]
        if element.a in bodies or element.b in bodies:
            return True
    return False
