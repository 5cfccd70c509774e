"""Rules of what stands in the gravity loops of a fire: valves, pumps, checks and flaps."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import Shedding, light, shedders, shedding
from loopwright.waterways.graph import Source
from loopwright.waterways.loops import blockers, loops
from loopwright.waterways.views import Ask, gravity_ok

SAME_QUESTION = ("solid-fuel/no-heat-leak", "solid-fuel/heat-leak-needs-power", "solid-fuel/heat-leak-can-be-shut")


def _answered(case: Case, slug: str) -> Iterator[tuple[Source, Shedding, bool]]:
    for source in shedders(case):
        answer = shedding(case, source)
        yield source, answer, answer.slug == slug


def _step(case: Case, source: Source, answer: Shedding) -> Said:
    if answer.missing:
        part, prop, words = answer.missing
        return Missing(source.part, f"{case.name(part)}: {words} is missing", part, prop)
    return Sound(source.part, f"Step {answer.step}: {answer.because or 'another rule answers for this fire'}")


def _leak_finding(
    case: Case,
    source: Source,
    answer: Shedding,
    message: str,
    todo: str,
    sources: tuple[str, ...],
) -> Finding:
    return Finding(
        severity=Severity.FAULT if answer.softened else Severity.DANGER,
        subject=source.part,
        culprits=answer.culprits,
        path=light(case, answer.loop),
        message=message,
        todo=todo,
        measured=answer.fixed_kw,
        limit=answer.least_kw,
        unit="kW",
        sources=sources,
        step="5",
    )


@rule(
    "gravity-loop/isolating-valve",
    about="one fire and the valves on its loops",
    yields_to=("solid-fuel/vent-can-close", "solid-fuel/feed-can-close", *SAME_QUESTION[:2]),
)
def isolating_valve(case: Case) -> Iterator[Said]:
    """A hand valve that can shut a fire off from what takes its heat."""
    ways = case.ways
    for source, answer, mine in _answered(case, "gravity-loop/isolating-valve"):
        said = False
        named: set[str] = set()
        if mine and answer.worst is not None:
            named = set(answer.culprits)
            valve = case.name(answer.worst.part)
            yield _leak_finding(
                case,
                source,
                answer,
                f"{valve} can cut {case.name(source.part)} off from its heat leak"
                f" ({answer.fixed_kw:.2g} kW is left, {answer.least_kw:.3g} kW is needed).",
                "Take it out of the gravity loop.",
                ("sf.leak.valves",),
            )
            said = True
        unasked = source.stops == "residual" and answer.missing is not None
        for loop in loops(ways, source, Ask.OPEN) if not unasked else ():
            if loop.sink.sort not in ("body", "coil"):
                continue
            stop = blockers(ways, loop)
            hands = [e for e in stop if e.does is Behaviour.HAND and not ways.has_tag(e.part, "emitter_valve")]
            if not hands or len(hands) != len(stop):
                continue
            for hand in hands:
                if hand.part in named:
                    continue
                named.add(hand.part)
                locked = bool(ways.value(hand.part, "locked_open"))
                yield Finding(
                    severity=Severity.ADVICE if locked else Severity.FAULT,
                    subject=source.part,
                    culprits=(hand.part,),
                    path=light(case, loop),
                    message=f"{case.name(hand.part)} can shut the gravity loop between {case.name(source.part)}"
                    f" and {case.name(loop.sink.part)}.",
                    todo="Take it out, or put it outside the loop.",
                    sources=("sf.leak.valves", "sf.isolate.stove"),
                )
                said = True
        if not said:
            yield _step(case, source, answer)


@rule("gravity-loop/pump-in-line", about="one fire", yields_to=("solid-fuel/heat-leak-needs-power",))
def pump_in_line(case: Case) -> Iterator[Said]:
    """A pump with no free way round it, in the loop that would shed enough."""
    for source, answer, mine in _answered(case, "gravity-loop/pump-in-line"):
        if not mine or answer.worst is None:
            yield _step(case, source, answer)
            continue
        yield _leak_finding(
            case,
            source,
            answer,
            f"{case.name(answer.worst.part)} stands in the heat leak of {case.name(source.part)};"
            " in a power cut it blocks the only loop that sheds enough.",
            "Move the pump to a pumped branch.",
            ("sf.leak.power",),
        )


@rule(
    "gravity-loop/spring-check",
    about="one fire and the check valves on its loops",
    yields_to=(
        *SAME_QUESTION,
        "gravity-loop/pump-in-line",
        "gravity-loop/isolating-valve",
        "solid-fuel/vent-can-close",
        "solid-fuel/feed-can-close",
        "circuit/pump-backwards",
        "order/loading-unit-sides",
    ),
)
def spring_check(case: Case) -> Iterator[Said]:
    """A check valve that buoyancy cannot open, or that faces the wrong way."""
    ways = case.ways
    for source, answer, mine in _answered(case, "gravity-loop/spring-check"):
        named: set[str] = set()
        if mine and answer.worst is not None:
            named = set(answer.culprits)
            yield _leak_finding(
                case,
                source,
                answer,
                f"{case.name(answer.worst.part)} holds the heat leak of {case.name(source.part)} shut;"
                " buoyancy cannot open it.",
                "Take it out, or fit a light flap that opens towards the stove.",
                ("sf.primary.drive", "sf.link.nrv"),
            )
        unasked = source.stops == "residual" and answer.missing is not None
        for loop in loops(ways, source, Ask.OPEN) if not unasked else ():
            stop = blockers(ways, loop)
            alone = all(e.does is Behaviour.ONE_WAY for e in stop)
            if any(e.does is Behaviour.PUMP for e in stop):
                continue
            directions = dict(loop.steps)
            for check in (e for e in stop if e.does is Behaviour.ONE_WAY):
                wrong_way = not directions[check.key]
                # where something else can shut the loop, only what faces back is wrong once that is open
                if check.part in named or (not wrong_way and (gravity_ok(ways, check) or not alone)):
                    continue
                named.add(check.part)
                yield Finding(
                    severity=Severity.FAULT,
                    subject=source.part,
                    culprits=(check.part,),
                    path=light(case, loop),
                    message=f"{case.name(check.part)} "
                    + ("faces against" if wrong_way else "holds shut")
                    + f" the gravity loop of {case.name(source.part)}.",
                    todo="Turn it round." if wrong_way else "Take it out, or fit a light flap.",
                    sources=("sf.primary.drive", "sf.link.nrv"),
                )
        if not named:
            yield _step(case, source, answer)


@rule(
    "gravity-loop/flap-only-way",
    about="one fire",
    yields_to=(
        *SAME_QUESTION,
        "gravity-loop/pump-in-line",
        "gravity-loop/isolating-valve",
        "gravity-loop/spring-check",
        "solid-fuel/sealed-water",
    ),
)
def flap_only_way(case: Case) -> Iterator[Said]:
    """A moving part in the last way out."""
    for source, answer, mine in _answered(case, "gravity-loop/flap-only-way"):
        if not mine or answer.worst is None:
            yield _step(case, source, answer)
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=answer.culprits,
            path=light(case, answer.loop),
            message=f"{case.name(answer.worst.part)} stands with its flap in the last way out of"
            f" {case.name(source.part)}.",
            todo="Add a heat leak without valves, or a cooling coil with its discharge valve.",
            step="5",
        )
