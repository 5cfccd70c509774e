"""Rules of vents and air that ask for solved pressures: pumping over the vent, and drawing air in.

Owns the judgement. The pressures are the engineering's; sources count as unlit, since pumps and friction decide.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.engineering.circulation import Question
from loopwright.engineering.drawn_parts import Heat
from loopwright.engineering.pressures import COLD_KG_M3, Neutral, Pressures
from loopwright.engineering.water import GRAVITY
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import UNSETTLED, foreseen, solved
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import VentRun, feed_outlets, fires_in, joint_of, line_m, runs, vented_waters
from loopwright.waterways.graph import Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.views import Condition
from loopwright.waterways.waters import Water, waters

PA_M = COLD_KG_M3 * GRAVITY
"""Pascals of a metre of cold water."""
MOST_PUMPS = 6
"""More pumps than that are solved all on only: each alone would take too long."""
TOLERANCE_M = 0.02
"""Nearer than this the pressures are not known: arithmetic of friction."""


class Known:
    """A running water with its pressures, the place where the pressure is fixed, and which pumps run."""

    def __init__(self, pressures: Pressures, neutral: Neutral, culprits: tuple[str, ...], words: str) -> None:
        self.pressures, self.neutral, self.culprits, self.words = pressures, neutral, culprits, words

    def head_m(self, place: Place) -> float | None:
        """Gauge pressure as metres of cold water."""
        gauge = self.pressures.gauge_Pa(place, self.neutral)
        return None if gauge is None else gauge / PA_M


def known(case: Case, water: Water) -> Known | Missing | None:
    """The pressures of a water with all its pumps running; None where no pump runs in it."""
    return next(iter(each_known(case, water)), None)


def each_known(case: Case, water: Water) -> list[Known | Missing]:
    """The pressures of a water for every set of pumps that may run together: all of them, and each alone.

    Empty where no pump runs in it.
    """
    return _each_known(case, water.number)


@kept
def _each_known(case: Case, number: int) -> list[Known | Missing]:
    water = next(w for w in waters(case.ways) if w.number == number)
    sets = _sets(case, water)
    found = (_known(case, water, on, len(sets) > 1) for on in sets)
    return [one for one in found if one is not None]


def pumps_of(case: Case, water: Water) -> list[str]:
    """The pumps of a water, by id."""
    return sorted({k[1] for k in water.elements if case.ways.elements[k].does is Behaviour.PUMP})


@foreseen
def _questions(case: Case) -> Iterator[Question]:
    """Every water that is vented or under pressure, with every set of its pumps that may run together."""
    for water in waters(case.ways):
        if _filled(water):
            yield from (_running(case, water, on) for on in _sets(case, water))


def _filled(water: Water) -> bool:
    """Whether a water of heating has a place where its pressure is fixed."""
    return water.fluid != "domestic" and water.regime != "drain-down" and bool(water.feeds or water.vessels)


def _sets(case: Case, water: Water) -> list[frozenset[str]]:
    """All pumps but those that stand by, and each pump alone."""
    pumps = pumps_of(case, water)
    spare = {p for p in pumps if case.ways.value(p, "standby_of")}
    sets = [frozenset(p for p in pumps if p not in spare)]
    if 1 < len(pumps) <= MOST_PUMPS:
        sets += [frozenset({p}) for p in pumps if frozenset({p}) not in sets]
    return [on for on in sets if on]


def _running(case: Case, water: Water, on: frozenset[str]) -> Question:
    """A water driven by these pumps, its sources cold."""
    stopped = frozenset(pumps_of(case, water)) - on
    return Question(water, Condition(stopped=stopped), heats={s.part: Heat() for s in water.sources})


def _known(case: Case, water: Water, running: frozenset[str], several: bool) -> Known | Missing | None:
    ways = case.ways
    pumps = pumps_of(case, water)
    subject = water.sources[0].part if water.sources else pumps[0]
    question = _running(case, water, running)
    got = solved(case, water, subject, question.condition, heats=question.heats)
    if got is None or isinstance(got, Missing):
        return got
    moving = tuple(dict.fromkeys(k[1] for run in got.drawn.runs.values() for k, _ in run.steps))
    on = tuple(p for p in pumps if p in moving and p in running)
    if not on:
        return None
    if got.answer.outcome in ("swings", "drifting", "boils"):
        return Missing(subject, UNSETTLED[got.answer.outcome])
    neutral = _neutral(case, water, subject)
    if isinstance(neutral, Missing):
        return neutral
    alone = several and len(on) == 1
    words = f"With {case.name(on[0])} running alone" if alone else "With the pumps on"
    return Known(Pressures(ways, got), neutral, on, words)


def _neutral(case: Case, water: Water, subject: str) -> Neutral | Missing:
    """A feed's outlet under its cold line, else a vessel at its gas pressure, the least it is filled to."""
    ways = case.ways
    for body in water.feeds:
        line = line_m(case, body[1])
        outlets = sorted(feed_outlets(case, water, body[1]))
        if line is None:
            return case.lacks(subject, body[1], "water_line_m", "cold water line")
        if outlets:
            return Neutral(outlets[0], PA_M * (line - ways.at[outlets[0]][1]))
    for vessel in water.vessels:
        gas = ways.number(vessel, "precharge_bar")
        if gas is None:
            return case.lacks(subject, vessel, "precharge_bar", "gas pressure")
        return Neutral(("port", vessel, "a"), 1e5 * gas)
    return Missing(subject, "The pressure of its water is fixed nowhere: no feed and no vessel is drawn")


@rule("vent-and-feed/pumps-over", about="one vent", computed=True, yields_to=("order/vent-feed-pump",))
def pumps_over(case: Case) -> Iterator[Said]:
    """A pump that pushes water over the vent."""
    for water in vented_waters(case):
        if not water.feeds:
            continue
        for run in runs(case, water):
            yield _over(case, water, run)


def _over(case: Case, water: Water, run: VentRun) -> Said:
    """What a vent meets: the worst of all sets of pumps that run together."""
    found = each_known(case, water)
    if not found:
        return Sound(run.owner, "No pump runs in its water")
    line = line_m(case, run.cistern)
    if line is None:
        return case.lacks(run.owner, run.cistern, "water_line_m", "cold water line")
    free = run.turn_over_m - line
    joint = joint_of(case, run)
    solved_sets = [(head, x) for x in found if isinstance(x, Known) and (head := x.head_m(joint)) is not None]
    lacks = next((x for x in found if isinstance(x, Missing)), None)
    if solved_sets:
        head, worst = max(solved_sets, key=lambda pair: pair[0])
        stands = case.ways.at[joint][1] + head - line
        if stands > free + TOLERANCE_M:
            return _pumped_over(case, water, run, worst, stands, free)
        if lacks is None:
            told = f"{worst.words} water stands {stands:.2f} m over the cold line, {free:.2f} m free"
            return Sound(run.owner, told)
    if lacks is not None:
        return _by_head(case, water, run, free) or Missing(run.owner, lacks.what, lacks.part, lacks.prop)
    return Sound(run.owner, "Its vent hangs on no water that a pump moves")


def _pumped_over(case: Case, water: Water, run: VentRun, worst: Known, stands: float, free: float) -> Finding:
    stated = all(case.ways.typed(p, prop) for p in worst.culprits for prop in ("head_m", "flow_max_m3h"))
    return Finding(
        severity=Severity.DANGER if fires_in(case, water) and stated else Severity.FAULT,  # no danger by a default
        subject=run.owner,
        culprits=worst.culprits or (run.pipe,),
        path=(*worst.culprits, *run.ids, run.cistern),
        message=f"{worst.words} water stands {stands:.1f} m over the cold water in {case.name(run.pipe)},"
        f" which turns over at {free:.1f} m: it pumps over.",
        todo="Move the pump beyond the joints of vent and feed.",
        measured=stands,
        limit=free,
        unit="m",
        sources=("pump.head.cistern.gravity",),
    )


def _by_head(case: Case, water: Water, run: VentRun, free: float) -> Finding | None:
    """Advice where no flow can be solved but a pump's head is stated: the turn-over lies below a third of it."""
    ways = case.ways
    heads = [(ways.number(p, "head_m") or 0.0, p) for p in pumps_of(case, water) if ways.typed(p, "head_m")]
    if not heads:
        return None
    head, pump = max(heads)
    third = case.limit("pump.head.cistern.gravity") * head
    if free >= third - TOLERANCE_M:
        return None
    return Finding(
        severity=Severity.ADVICE,
        subject=run.owner,
        culprits=(pump,),
        path=(pump, *run.ids, run.cistern),
        message=f"{case.name(run.pipe)} turns over {free:.1f} m above the cold water, less than a third of the"
        f" {head:g} m that {case.name(pump)} lifts; the pressures cannot be worked out.",
        todo="State what is missing, or let the vent turn over higher.",
        measured=free,
        limit=third,
        unit="m",
        sources=("pump.head.cistern.gravity",),
    )


@rule(
    "vent-and-feed/sucks-air",
    about="one pumped water",
    computed=True,
    yields_to=("order/vent-feed-pump", "vent-and-feed/cistern-too-low"),
)
def sucks_air(case: Case) -> Iterator[Said]:
    """A pump that draws air in at a vent, an air vent, a radiator or the highest place."""
    for water in waters(case.ways):
        if not _filled(water):
            continue
        yield from _standing(case, water)
        if sets := each_known(case, water):
            yield _sucks(case, water, sets)


def _sucks(case: Case, water: Water, sets: list[Known | Missing]) -> Said:
    """The least pressure of all sets of pumps that run together."""
    subject = water.sources[0].part if water.sources else min(water.parts)
    worst: tuple[float, str, str, Known] | None = None
    for each in sets:
        if isinstance(each, Missing):
            continue
        for head, ident, words in _places(case, water, each):
            if worst is None or head < worst[0]:
                worst = (head, ident, words, each)
    lacks = next((x for x in sets if isinstance(x, Missing)), None)
    if lacks is not None and (worst is None or worst[0] >= -TOLERANCE_M):
        return Missing(subject, lacks.what, lacks.part, lacks.prop)
    if worst is None:
        return Sound(subject, "Nothing in it hangs on water that a pump moves")
    head, ident, words, found = worst
    if head >= -TOLERANCE_M:
        return Sound(subject, f"The least pressure with the pumps on is {head:.1f} m of water, at {words}")
    return Finding(
        severity=Severity.FAULT,
        subject=subject,
        culprits=(*found.culprits, ident),
        path=(*found.culprits, ident, found.neutral.place[1]),
        message=f"{found.words} the pressure at {words} is {-head:.1f} m of water below the air: air comes in.",
        todo="Move the pump, or the joint of the feed or vessel, so that the pump pushes towards the high parts.",
        measured=head,
        limit=0.0,
        unit="m",
        sources=("pump.static.min",),
    )


def _places(case: Case, water: Water, found: Known) -> Iterator[tuple[float, str, str]]:
    """Where air could come in: metres of water there, the part or pipe, and words for it."""
    ways = case.ways
    for run in runs(case, water) if water.feeds else ():
        head = found.head_m(joint_of(case, run))
        if head is not None:
            yield head, run.pipe, f"the joint of {case.name(run.pipe)}"
    tops: dict[str, Place] = {}
    for place in water.places:
        if place[0] == "port" and (
            ways.has_tag(place[1], "air_vent") or (ways.has_tag(place[1], "emitter") and ways.kind(place[1]).large)
        ):
            best = tops.get(place[1])
            if best is None or ways.at[place][1] > ways.at[best][1]:
                tops[place[1]] = place
    for part, place in sorted(tops.items()):
        head = found.head_m(place)
        if head is not None:
            yield head, part, case.name(part)
    keys = [k for run in found.pressures.got.drawn.runs.values() for k, _ in run.steps if k[0] == "pipe"]
    for key, point, gauge in found.pressures.highest(dict.fromkeys(keys), found.neutral):
        yield gauge / PA_M, key[1], f"{case.name(key[1])}, {point[1]:.2f} m up"


def _standing(case: Case, water: Water) -> Iterator[Said]:
    """A source whose maker asks for more water over it than the cistern gives: advice."""
    ways = case.ways
    for source in water.sources:
        least = ways.number(source.part, "static_min_m")
        if least is None or not ways.typed(source.part, "static_min_m") or not water.feeds:
            continue
        line = line_m(case, water.feeds[0][1])
        if line is None:
            continue
        over = line - ways.body_range(source.part)[1]
        if over < least - 1e-3:
            yield Finding(
                severity=Severity.ADVICE,
                subject=source.part,
                culprits=(water.feeds[0][1],),
                path=(source.part, water.feeds[0][1]),
                message=f"The cold water stands {over:.1f} m over {case.name(source.part)};"
                f" its maker asks for {least:g} m.",
                todo="Raise the cistern.",
                measured=over,
                limit=least,
                unit="m",
                sources=("pump.static.min",),
            )
