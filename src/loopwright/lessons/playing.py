"""What follows from an answer, in one sentence and as data that a view can play.

Owns the choice of what to play: the layers of the store, the stove in a power cut, the loop that stalls. Knows no
colours and no time of its own.
"""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np

from loopwright.catalogue import Behaviour, Catalogue, standard_catalogue
from loopwright.errors import FigureError
from loopwright.lessons.attempt import Verdict, start, watched_rules
from loopwright.lessons.blackout import cut, picked
from loopwright.lessons.choice import chosen
from loopwright.lessons.filling import fill
from loopwright.lessons.lesson import Lesson
from loopwright.lessons.looking import Look
from loopwright.rules.findings import Finding
from loopwright.rules.registry import page
from loopwright.sheet.values import Sheet
from loopwright.waterways.loops import blockers, loops
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL, POWER_CUT, Ask


class Consequence(msgspec.Struct, frozen=True, kw_only=True):
    """A consequence to play. `show` says which of the rest is filled; `rule` is what it follows from, if from one.

    layers: `store`, `minutes`, `layers_c` (one row a time, bottom to top, degC). cut: `fire`, `minutes`, `water_c`,
    `boils_at_min`, `verdict` in numbers, `blocked` valves shut with the power, `store` and `layers_c` too. loop: `path`
    to light, `blocked` by what, `still` when nothing moves in it. flow: `moving` pipes, +1 towards their end b, -1
    towards a; cut and loop fill it as well.
    """

    sentence: str
    show: Literal["layers", "cut", "loop", "flow", "none"] = "none"
    rule: str = ""
    minutes: tuple[float, ...] = ()
    store: str = ""
    layers_c: tuple[tuple[float, ...], ...] = ()
    fire: str = ""
    water_c: tuple[float, ...] = ()
    boils_at_min: float | None = None
    path: tuple[str, ...] = ()
    blocked: tuple[str, ...] = ()
    still: bool = False
    moving: dict[str, int] = {}
    verdict: str = ""


def consequence(
    lesson: Lesson,
    sheet: Sheet,
    catalogue: Catalogue | None = None,
    verdict: Verdict | None = None,
    *,
    play: bool = True,
) -> Consequence:
    """What follows from a sheet in this lesson. A `verdict` already made saves judging it again.

    With `play` off it is the sentence alone, at once; a power cut takes about a second to run.
    """
    kinds = catalogue or standard_catalogue()
    told = verdict if verdict is not None else start(lesson, kinds).look(sheet)
    look = Look(sheet, kinds)
    finding = _worst(lesson, look, told)
    sentence = _sentence(lesson, told, finding)
    out = Consequence(sentence=sentence, rule=finding.rule if finding else "")
    if not play:
        return out
    match lesson.play.show:
        case "layers":
            return _layers(lesson, look, out)
        case "cut":
            return _cut(lesson, look, out, finding)
        case "loop":
            return _loop(lesson, look, out, finding)
        case "flow":
            return _flow(look, out)
    return out


def _worst(lesson: Lesson, look: Look, told: Verdict) -> Finding | None:
    """The finding of the first condition that is not met; else the worst about the lesson's subject."""
    miss = told.first_miss
    watched = watched_rules(lesson)
    about = [f for f in look.survey.findings if {f.rule, *f.also} & watched]
    if miss is not None and miss.rule:
        return next((f for f in look.survey.findings if f.rule == miss.rule), None)
    return None if told.passed or miss is None else next(iter(about), None)


def _sentence(lesson: Lesson, told: Verdict, finding: Finding | None) -> str:
    play = lesson.play
    if told.passed:
        return play.right or lesson.reason
    for slug in (finding.rule, *finding.also) if finding else ():
        if slug in play.by_rule:
            return play.by_rule[slug]
    miss = told.first_miss
    if miss is not None and miss.state == "not yet":
        return "Nothing can be played yet: the sheet is not finished."
    if finding is not None and not play.otherwise:
        return why_of(finding.rule)
    return play.otherwise or told.say


def why_of(rule: str) -> str:
    """Why a rule matters, from its page."""
    return page(rule).text.partition("## Why it matters")[2].partition("##")[0].strip()


def _layers(lesson: Lesson, look: Look, out: Consequence) -> Consequence:
    store = next(iter(chosen(look.sheet, look.catalogue, lesson.play.of or "kind:heat_store")), "")
    filled = fill(look.case, store, minutes=lesson.play.minutes) if store else None
    if filled is None:
        return out
    return msgspec.structs.replace(
        out, show="layers", store=store, minutes=filled.minutes, layers_c=filled.layers_c
    )  # fmt: skip


def _cut(lesson: Lesson, look: Look, out: Consequence, finding: Finding | None) -> Consequence:
    """The power cut as it runs, with the valves shut that the finding names: what can be shut will be, on that day."""
    fires = [s for s in look.ways.fires if not lesson.play.of or s.part == lesson.play.of]
    if not fires:
        return out
    valves = {e.part for e in look.ways.doing(Behaviour.HAND, Behaviour.POWERED, Behaviour.THERMAL)}
    shut = frozenset(valves & set(finding.culprits)) if finding is not None else frozenset()
    run = cut(look.case, full=lesson.play.full, shut=shut)
    if isinstance(run, FigureError):
        return out
    at = picked(run)
    fire = max((f.part for f in fires), key=lambda part: float(run.parts[part].max()))
    store = next(iter(run.layers), "")
    layers = run.layers[store][at] if store else np.empty((0, 0))
    boils = next((e.time_s / 60.0 for e in run.events if e.what == "boils"), None)
    return msgspec.structs.replace(
        out,
        show="cut",
        fire=fire,
        minutes=tuple(round(float(t) / 60.0, 2) for t in run.times_s[at]),
        water_c=tuple(round(float(t), 2) for t in run.parts[fire][at]),
        boils_at_min=boils,
        store=store,
        layers_c=tuple(tuple(round(float(t), 2) for t in row) for row in layers),
        moving=_moving(look, power=False),
        blocked=tuple(sorted(shut)),
        verdict=run.verdict,
    )


def _loop(lesson: Lesson, look: Look, out: Consequence, finding: Finding | None) -> Consequence:
    path = finding.path if finding is not None else ()
    blocked = finding.culprits if finding is not None else ()
    if not path:
        sources = [s for s in look.ways.sources if not lesson.play.of or s.part == lesson.play.of]
        found = [loop for s in sources for loop in loops(look.ways, s, Ask.OPEN)]
        if found:
            path = tuple(dict.fromkeys((found[0].source.part, *(k[1] for k in found[0].keys), found[0].sink.part)))
            blocked = tuple(e.part for e in blockers(look.ways, found[0]))
    flow = _moving(look, power=False)
    still = not any(name in flow for name in path if name in look.sheet.pipes)
    return msgspec.structs.replace(out, show="loop", path=path, blocked=blocked, still=still, moving=flow)


def _flow(look: Look, out: Consequence) -> Consequence:
    return msgspec.structs.replace(out, show="flow", moving=_moving(look, power=True))


def _moving(look: Look, *, power: bool) -> dict[str, int]:
    flow = moving(look.ways, NORMAL if power else POWER_CUT)
    return {k[1]: 1 if q > 0 else -1 for k, q in flow.items() if k[0] == "pipe"}
