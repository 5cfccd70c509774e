"""Rules of what stands in the gravity loops of a fire: valves, pumps, checks and flaps."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Severity
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import Shedding, answers, elsewhere
from loopwright.waterways.loops import blockers, loops
from loopwright.waterways.views import Ask, gravity_ok

NO_LEAK = ("solid-fuel/no-heat-leak", "solid-fuel/heat-leak-needs-power")
SAME_QUESTION = (*NO_LEAK, "solid-fuel/heat-leak-can-be-shut")
"""What the shedding question finds before it comes to the parts in a loop."""


def _leak_finding(answer: Shedding, message: str, todo: str, sources: tuple[str, ...]) -> Finding:
    """What stands in a heat leak, whichever rule names it."""
    return Finding(
        severity=Severity.FAULT if answer.softened else Severity.DANGER,
        subject=answer.source.part,
        culprits=answer.culprits,
        path=answer.path,
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
    yields_to=("solid-fuel/vent-can-close", "solid-fuel/feed-can-close", *NO_LEAK),
)
def isolating_valve(case: Case) -> Iterator[Said]:
    """A hand valve that can shut a fire off from what takes its heat."""
    ways = case.ways
    for source, answer in answers(case):
        said = False
        named: set[str] = set()
        if answer.slug == "gravity-loop/isolating-valve" and answer.worst is not None:
            named = set(answer.culprits)
            valve = case.name(answer.worst.part)
            yield _leak_finding(
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
                    path=loop.ids,
                    message=f"{case.name(hand.part)} can shut the gravity loop between {case.name(source.part)}"
                    f" and {case.name(loop.sink.part)}.",
                    todo="Take it out, or put it outside the loop.",
                    sources=("sf.leak.valves", "sf.isolate.stove"),
                )
                said = True
        if not said:
            yield elsewhere(case, answer)


@rule("gravity-loop/pump-in-line", about="one fire", yields_to=("solid-fuel/heat-leak-needs-power",))
def pump_in_line(case: Case) -> Iterator[Said]:
    """A pump with no free way round it, in the loop that would shed enough."""
    for source, answer in answers(case):
        if answer.slug != "gravity-loop/pump-in-line" or answer.worst is None:
            yield elsewhere(case, answer)
            continue
        yield _leak_finding(
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
    for source, answer in answers(case):
        named: set[str] = set()
        if answer.slug == "gravity-loop/spring-check" and answer.worst is not None:
            named = set(answer.culprits)
            yield _leak_finding(
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
                    path=loop.ids,
                    message=f"{case.name(check.part)} "
                    + ("faces against" if wrong_way else "holds shut")
                    + f" the gravity loop of {case.name(source.part)}.",
                    todo="Turn it round." if wrong_way else "Take it out, or fit a light flap.",
                    sources=("sf.primary.drive", "sf.link.nrv"),
                )
        if not named:
            yield elsewhere(case, answer)


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
    for source, answer in answers(case):
        if answer.slug != "gravity-loop/flap-only-way" or answer.worst is None:
            yield elsewhere(case, answer)
            continue
        yield Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=answer.culprits,
            path=answer.path,
            message=f"{case.name(answer.worst.part)} stands with its flap in the last way out of"
            f" {case.name(source.part)}.",
            todo="Add a heat leak without valves, or a cooling coil with its discharge valve.",
            step="5",
        )
