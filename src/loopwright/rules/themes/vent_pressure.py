"""Rules of vents and air that ask for solved pressures: pumping over the vent, and drawing air in.

Owns the judgement. The pressures are the engineering's; sources count as unlit, since pumps and friction decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

from loopwright.catalogue import Behaviour
from loopwright.engineering.drawn_parts import Heat
from loopwright.engineering.pressures import COLD_KG_M3, Neutral, Pressures
from loopwright.engineering.water import GRAVITY
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import UNSETTLED, solved
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import VentRun, feed_outlets, fires_in, joint_of, line_m, runs, vented_waters
from loopwright.waterways.graph import Place
from loopwright.waterways.waters import Water, waters

PA_M = COLD_KG_M3 * GRAVITY
"""Pascals of a metre of cold water."""
TOLERANCE_M = 0.02
"""Nearer than this the pressures are not known: arithmetic of friction."""


class Known:
    """A running water with its pressures and the place where the pressure is fixed."""

    def __init__(self, pressures: Pressures, neutral: Neutral, culprits: tuple[str, ...]) -> None:
        self.pressures, self.neutral, self.culprits = pressures, neutral, culprits

    def head_m(self, place: Place) -> float | None:
        """Gauge pressure as metres of cold water."""
        gauge = self.pressures.gauge_Pa(place, self.neutral)
        return None if gauge is None else gauge / PA_M


def known(case: Case, water: Water) -> Known | Missing | None:
    """The pressures of a water with its pumps running; None where no pump runs in it. Kept by the sheet."""
    memo = ("pressures of", water.number)
    if memo not in case.ways.cache:
        case.ways.cache[memo] = _known(case, water)
    return cast(Known | Missing | None, case.ways.cache[memo])


def _known(case: Case, water: Water) -> Known | Missing | None:
    ways = case.ways
    pumps = sorted(k[1] for k in water.elements if ways.elements[k].does is Behaviour.PUMP)
    if not pumps:
        return None
    subject = water.sources[0].part if water.sources else pumps[0]
    got = solved(case, water, subject, heats={s.part: Heat() for s in water.sources})
    if got is None or isinstance(got, Missing):
        return got
    if not any(ways.elements[k].does is Behaviour.PUMP for run in got.drawn.runs.values() for k, _ in run.steps):
        return None
    if got.answer.outcome in ("swings", "drifting", "boils"):
        return Missing(subject, UNSETTLED[got.answer.outcome])
    neutral = _neutral(case, water, subject)
    if isinstance(neutral, Missing):
        return neutral
    moving = tuple(dict.fromkeys(k[1] for run in got.drawn.runs.values() for k, _ in run.steps))
    on = tuple(p for p in pumps if p in moving)
    return Known(Pressures(ways, got), neutral, on)


def _neutral(case: Case, water: Water, subject: str) -> Neutral | Missing:
    """A feed's outlet under its cold line, else a vessel at its gas pressure, the least it is filled to."""
    ways = case.ways
    for body in water.feeds:
        line = line_m(case, body[1])
        outlets = sorted(feed_outlets(case, water, body[1]))
        if line is None:
            return Missing(subject, f"{case.name(body[1])}: cold water line is missing", body[1], "water_line_m")
        if outlets:
            return Neutral(outlets[0], PA_M * (line - ways.at[outlets[0]][1]))
    for vessel in water.vessels:
        gas = ways.number(vessel, "precharge_bar")
        if gas is None:
            return Missing(subject, f"{case.name(vessel)}: gas pressure is missing", vessel, "precharge_bar")
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
    found = known(case, water)
    if found is None:
        return Sound(run.owner, "No pump runs in its water")
    if isinstance(found, Missing):
        return Missing(run.owner, found.what, found.part, found.prop)
    line = line_m(case, run.cistern)
    joint = joint_of(case, run)
    head = found.head_m(joint)
    if line is None:
        return Missing(run.owner, f"{case.name(run.cistern)}: cold water line is missing", run.cistern, "water_line_m")
    if head is None:
        return Sound(run.owner, "Its vent hangs on no water that a pump moves")
    stands, free = case.ways.at[joint][1] + head - line, run.turn_over_m - line
    if stands <= free + TOLERANCE_M:
        return Sound(run.owner, f"With the pumps on water stands {stands:.2f} m over the cold line, {free:.2f} m free")
    danger = bool(fires_in(case, water))
    return Finding(
        severity=Severity.DANGER if danger else Severity.FAULT,
        subject=run.owner,
        culprits=found.culprits or (run.pipe,),
        path=(*found.culprits, *run.ids, run.cistern),
        message=f"With the pumps on water stands {stands:.1f} m over the cold water in {case.name(run.pipe)},"
        f" which turns over at {free:.1f} m: it pumps over.",
        todo="Move the pump beyond the joints of vent and feed.",
        measured=stands,
        limit=free,
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
        if water.fluid == "domestic" or water.regime == "drain-down" or not (water.feeds or water.vessels):
            continue
        yield from _standing(case, water)
        found = known(case, water)
        if found is not None:
            yield _sucks(case, water, found)


def _sucks(case: Case, water: Water, found: Known | Missing) -> Said:
    subject = water.sources[0].part if water.sources else min(water.parts)
    if isinstance(found, Missing):
        return Missing(subject, found.what, found.part, found.prop)
    worst: tuple[float, str, str] | None = None
    for head, ident, words in _places(case, water, found):
        if worst is None or head < worst[0]:
            worst = (head, ident, words)
    if worst is None:
        return Sound(subject, "Nothing in it hangs on water that a pump moves")
    head, ident, words = worst
    if head >= -TOLERANCE_M:
        return Sound(subject, f"The least pressure with the pumps on is {head:.1f} m of water, at {words}")
    return Finding(
        severity=Severity.FAULT,
        subject=subject,
        culprits=(*found.culprits, ident),
        path=(*found.culprits, ident, found.neutral.place[1]),
        message=f"With the pumps on the pressure at {words} is {-head:.1f} m of water below the air: air comes in.",
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
