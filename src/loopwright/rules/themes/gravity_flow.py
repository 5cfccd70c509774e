"""The rule of the gravity loop that asks for the solved flow."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.engineering.circulation import Circulation, Question, enlarged, lowered, once_running
from loopwright.engineering.drawn import drawn
from loopwright.engineering.drawn_parts import Charge, Heat
from loopwright.engineering.steady import STILL_KG_S
from loopwright.errors import FigureError
from loopwright.rules.cooling import sound_cooling
from loopwright.rules.families import LOOP_SHAPE, SHUTS_IN, WRONG_TAPPINGS
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import UNSETTLED, foreseen, missing, solved, water_of_source
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import fixed_emitters, needed_kw
from loopwright.waterways.graph import Source
from loopwright.waterways.loops import loops
from loopwright.waterways.views import POWER_CUT, Ask
from loopwright.waterways.waters import waters

MOST_RISE_K = 40.0  # a limit of this check: common practice, no source
HIGHER_M = 0.5


@rule(
    "gravity-loop/too-weak",
    about="one fire",
    computed=True,
    yields_to=("solid-fuel/no-heat-leak", *SHUTS_IN, *LOOP_SHAPE, *WRONG_TAPPINGS),
)
def too_weak(case: Case) -> Iterator[Said]:
    """Gravity does not carry a fire's heat, with the power off."""
    for source in case.ways.fires:
        if sound_cooling(case, source):
            yield Sound(source.part, "The cooling coil carries the heat")
            continue
        said = False
        for answer in (x for firing in _firings(case, source) for x in _judged(case, source, *firing)):
            said = True
            yield answer
            if not isinstance(answer, Sound):
                break
        if not said:
            yield Sound(source.part, "Nothing can go round without power: other rules answer for that")


@foreseen
def _questions(case: Case) -> Iterator[Question]:
    """Every firing of every fire that no sound coil cools."""
    for source in case.ways.fires:
        if not sound_cooling(case, source):
            yield from (question for question, _ in _firings(case, source))


def _firings(case: Case, source: Source) -> Iterator[tuple[Question, str]]:
    """Full fire into a working store, then the heat leak alone with the store full."""
    of = water_of_source(case, source)
    sinks = {loop.sink.sort for loop in loops(case.ways, source, Ask.REST)}
    if sinks & {"body", "coil"}:
        yield Question(of, POWER_CUT, Charge.WORKING), "at full fire"
    if fixed_emitters(case, source):
        least = needed_kw(case, source)
        heats = {source.part: Heat(1000.0 * least)}
        yield Question(of, POWER_CUT, Charge.FULL, heats), f"at the {least:.2g} kW that its heat leak must take"


def _judged(case: Case, source: Source, question: Question, when: str) -> Iterator[Said]:
    got = solved(case, question.of, source.part, question.condition, question.charge, question.heats)
    if isinstance(got, Missing):
        yield got
        return
    if got is None or source.part not in got.drawn.at_cell:
        return
    answer = got.answer
    through, limit = got.through(source.part), case.limit("store.t.log")
    if answer.outcome in ("swings", "drifting"):
        yield Missing(source.part, f"{case.name(source.part)} {when}: {UNSETTLED[answer.outcome]}")
        return
    rise = through.outlet_C - through.inlet_C
    stands = through.flow_kg_s < STILL_KG_S
    what = ""
    if answer.ending.boils:
        what = f"its water boils {when}: gravity carries too little of the heat"
    elif stands:
        what = f"the water stands still {when}"
    elif _backwards(case, got, source):
        what = f"the water runs backwards {when}"
    elif through.outlet_C > limit:
        what = f"the flow reaches {through.outlet_C:.0f} °C {when}"
    elif rise > MOST_RISE_K:
        what = f"the flow runs {rise:.0f} K hotter than the return {when}"
    if not what:
        yield Sound(
            source.part,
            f"{3600 * through.flow_kg_s:.0f} kg/h {when}: flow {through.outlet_C:.0f} °C,"
            f" return {through.inlet_C:.0f} °C",
        )
        return
    on_loop = got.pipes_on(source.part)
    worst = max(on_loop, key=got.loss_Pa, default=None)
    two = " Depending on how it was started it may also run well." if answer.outcome == "two states" else ""
    culprits = tuple(x for x in (worst, source.part) if x is not None)[:1]
    try:
        todo = _repair(case, got, source, on_loop)
    except FigureError as bad:
        yield missing(source.part, bad)
        return
    yield Finding(
        severity=Severity.FAULT,
        subject=source.part,
        culprits=culprits,
        path=(source.part, *on_loop),
        message=f"With the power off, {case.name(source.part)}: {what}.{two}",
        todo=todo,
        measured=round(through.outlet_C, 1),
        limit=limit,
        unit="°C",
        sources=("store.t.log", "dp.gravity"),
        condition=POWER_CUT.words,
    )


def _backwards(case: Case, got: Circulation, source: Source) -> bool:
    """Whether water passes a source from its hot end to its cold one."""
    held = got.drawn.at_cell[source.part]
    ahead = next(ahead for key, ahead in got.drawn.runs[held.branch].steps if key == source.key)
    upwards = case.ways.elements[source.key].b == source.hot
    return (got.answer.flow_kg_s(held.branch) > 0.0) != (ahead == upwards)


def _repair(case: Case, got: Circulation, source: Source, on_loop: list[str]) -> str:
    """What one size larger and half a metre more height would give, worked out."""
    said = []
    if on_loop:
        larger = enlarged(case.ways, on_loop)
        of = next(w for w in waters(larger) if w.number == got.drawn.water.number)
        wide = drawn(larger, of, POWER_CUT, heats=got.drawn.heats, charge=got.drawn.charge)
        if wide is not None:
            ending, through = once_running(wide, source.part)
            said.append(f"one size larger gives {_gives(ending.boils, through.outlet_C)}")
    ending, through = once_running(lowered(got.drawn, source.part, HIGHER_M), source.part)
    said.append(f"{HIGHER_M:g} m more height gives {_gives(ending.boils, through.outlet_C)}")
    return f"Let more water round: {', '.join(said)}."


def _gives(boils: bool, flow_c: float) -> str:
    return "water that still boils" if boils else f"a flow of {flow_c:.0f} °C"
