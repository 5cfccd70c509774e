"""The condition in which a finding tells, so that a person can play it on the sheet.

A rule's page says what sort of condition that is (`when`); the finding says which valve or pump. Refuses to judge.
"""

from __future__ import annotations

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding
from loopwright.rules.registry import page
from loopwright.waterways.graph import Waterways
from loopwright.waterways.naming import called
from loopwright.waterways.views import NORMAL, Condition, closable
from loopwright.words import capital

POWER_CUT, VALVE_SHUT, ONE_PUMP, IDLE = "power cut", "valve shut", "one pump alone", "all idle"
SORTS = frozenset({POWER_CUT, VALVE_SHUT, ONE_PUMP, IDLE})


def replay(ways: Waterways, finding: Finding) -> Condition:
    """The condition to show a finding in: normal running where it tells at all times."""
    sorts = {word.strip() for word in page(finding.rule).when.split(",") if word.strip()}
    if not sorts:
        return NORMAL
    pumps = {p for p in ways.sheet.parts if any(e.does is Behaviour.PUMP for e in ways.by_part.get(p, ()))}
    blamed = (finding.subject, *finding.culprits)
    if IDLE in sorts:
        return Condition(power=False, out=frozenset(s.part for s in ways.sources))
    if ONE_PUMP in sorts:
        runs = next((p for p in blamed if p in pumps), None)
        return Condition(stopped=frozenset(pumps - {runs})) if runs is not None else NORMAL
    shut = {
        p
        for p in blamed
        if VALVE_SHUT in sorts
        and any(e.does is not Behaviour.PUMP and closable(ways, e) for e in ways.by_part.get(p, ()))
    }
    return Condition(power=POWER_CUT not in sorts, shut=frozenset(shut))


def named(ways: Waterways, condition: Condition) -> str:
    """A condition in words, with the names of the parts in place of their ids."""
    if condition == NORMAL:
        return "Normal running"
    if not condition.power and condition.out >= {s.part for s in ways.sources}:
        return "Nothing running"
    said = [] if condition.power else ["Power cut"]
    for ids, word in ((condition.stopped, "stopped"), (condition.shut, "shut"), (condition.out, "out")):
        said += sorted(f"{called(ways, part)} {word}" for part in ids)
    return capital(", ".join(said))
