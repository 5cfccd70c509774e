"""Sheet -> Survey: every rule's answer, findings numbered, services: the whole answer in one value.

A pure function. All rules are evaluated first; then yields are resolved, strongest first, so that one cause is one
finding.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import cast

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.rules.findings import Answer, Finding, Missing, Outcome, Severity, Sound
from loopwright.rules.registry import Case, Check, Rule, Said, all_rules
from loopwright.rules.replay import named, replay
from loopwright.sheet.values import Point, Sheet
from loopwright.waterways import Condition, Waterways
from loopwright.waterways.bound import bound
from loopwright.waterways.keeping import kept
from loopwright.waterways.naming import called
from loopwright.waterways.services import services
from loopwright.waterways.systems import Systems
from loopwright.waterways.trace import moving
from loopwright.waterways.views import NORMAL
from loopwright.words import capital

log = logging.getLogger(__name__)
BROKEN = "This rule has a defect and could not be answered"
"""Starts the reason of a rule that failed; tests hold that no sheet brings it about."""
NOT_LOOKED_AT = "Nothing on the sheet for this rule to look at"


class Survey(msgspec.Struct, frozen=True):
    """The whole answer of a sheet."""

    findings: tuple[Finding, ...]
    answers: tuple[Answer, ...]
    services: Mapping[str, str]

    def worst(self) -> Severity | None:
        """The greatest severity found, or None."""
        return max((f.severity for f in self.findings), default=None)

    def counts(self) -> dict[str, int]:
        """Findings by severity word, and answers not assessed."""
        out = {s.word: sum(f.severity is s for f in self.findings) for s in reversed(Severity)}
        out["not assessed"] = sum(a.outcome is Outcome.NOT_ASSESSED for a in self.answers)
        return out


def survey(sheet: Sheet, catalogue: Catalogue, *, computed: bool = False) -> Survey:
    """Every rule's answer for a sheet; those of the rules that solve the flow, seconds later, only if `computed`."""
    return survey_of(Systems(sheet, catalogue), computed=computed)


def survey_of(systems: Systems, *, computed: bool = False) -> Survey:
    """Every rule's answer for systems already read as water.

    A rule is asked once for the same waterways: the survey of the graph's rules first, and with `computed` later, is
    the same value as all of them at once, and costs no more; nor does a system that an edit left as it was.
    """
    rules = all_rules(computed=computed)
    heard = [_heard(ways, computed) for ways in systems.each]
    answers = [answer for one in heard for answer in one.answers]
    spoken = {slug for one in heard for slug in one.spoken}
    answers += [
        Answer(rule=slug, outcome=Outcome.NOT_APPLICABLE, because=NOT_LOOKED_AT) for slug in rules if slug not in spoken
    ]
    standing, covered = _resolve([finding for one in heard for finding in one.found], rules)
    standing.sort(key=lambda f: (-f.severity, -(f.spot or (0.0, 0.0))[1], f.rule, f.subject))
    named = {part: ways for ways in systems.each for part in (*ways.sheet.parts, *ways.sheet.pipes)}
    numbered = _with_causes(named, [msgspec.structs.replace(f, number=i) for i, f in enumerate(standing, 1)])
    number_of = {(f.rule, f.subject, f.culprits): f.number for f in numbered}
    for finding in numbered:
        answers.append(Answer(rule=finding.rule, outcome=Outcome.FINDING, subject=finding.subject, finding=finding))
    for finding, by in covered:
        number = number_of.get((by.rule, by.subject, by.culprits), 0)
        answers.append(
            Answer(
                rule=finding.rule,
                outcome=Outcome.COVERED,
                subject=finding.subject,
                because=f"Covered by no. {number}",
                finding=None,
            )
        )
    order = {slug: i for i, slug in enumerate(rules)}
    answers.sort(key=lambda a: (order[a.rule], a.subject, a.because))
    carried = {pipe: service for ways in systems.each for pipe, service in services(ways).items()}
    return Survey(numbered, tuple(answers), carried)


class _Heard(msgspec.Struct, frozen=True):
    """What the rules said of one system: findings with their places, and what was sound or could not be assessed."""

    found: tuple[Finding, ...]
    answers: tuple[Answer, ...]
    spoken: frozenset[str]


@kept
def _heard(ways: Waterways, computed: bool) -> _Heard:
    """What the rules say of one system."""
    if computed:
        from loopwright.rules.flows import answer_ahead  # the solver is heavy, and the graph does without it

        answer_ahead(Case(ways))
    return _ask(ways, all_rules(computed=computed))


def _ask(ways: Waterways, rules: Mapping[str, Rule]) -> _Heard:
    found: list[Finding] = []
    answers: list[Answer] = []
    spoken: set[str] = set()
    for rule in rules.values():
        said = said_by(ways, rule)
        if isinstance(said, Exception):
            spoken.add(rule.slug)
            answers.append(Answer(rule=rule.slug, outcome=Outcome.NOT_ASSESSED, because=f"{BROKEN}: {said!r}"))
            continue
        if said:
            spoken.add(rule.slug)
        for item in said:
            match item:
                case Finding():
                    said_so = {"message": capital(item.message), "todo": capital(item.todo)}
                    found.append(placed(ways, msgspec.structs.replace(item, rule=rule.slug, **said_so)))
                case Missing():
                    why = capital(item.what)
                    answers.append(
                        Answer(
                            rule=rule.slug,
                            outcome=Outcome.NOT_ASSESSED,
                            subject=item.subject,
                            because=why,
                            part=item.part,
                            prop=item.prop,
                        )
                    )
                case Sound():
                    why = capital(item.because)
                    answers.append(Answer(rule=rule.slug, outcome=Outcome.PASS, subject=item.subject, because=why))
    return _Heard(tuple(found), tuple(answers), frozenset(spoken))


def said_by(ways: Waterways, rule: Rule) -> tuple[Said, ...] | Exception:
    """What one rule says of waterways, kept by them; or the defect it stopped on."""
    memo = cast(dict[Check, tuple[Said, ...] | Exception], ways.cache.setdefault("said", {}))
    if rule.check not in memo:  # by its function: the solved flow answers some rules anew
        try:
            memo[rule.check] = tuple(rule.check(Case(ways)))
        except Exception as defect:  # one broken rule must not take the others, or the drawing, with it
            log.exception("rule %s failed", rule.slug)
            memo[rule.check] = defect
    return memo[rule.check]


def _with_causes(of: Mapping[str, Waterways], findings: list[Finding]) -> tuple[Finding, ...]:
    """Findings that blame the same part or pipe, grouped under the first and worst of them.

    `of` gives the waterways of the system that a part or a pipe belongs to.
    """
    first: dict[str, int] = {}
    out = []
    for finding in findings:
        cause, shared = min(((first[c], c) for c in finding.culprits if c in first), default=(0, ""))
        if cause:
            name = shared.partition("/")[0]
            finding = msgspec.structs.replace(finding, cause=cause, shared=called(of[name], name))
        out.append(finding)
        for culprit in finding.culprits:
            first.setdefault(culprit, cause or finding.number)
    return tuple(out)


def _resolve(found: list[Finding], rules: Mapping[str, Rule]) -> tuple[list[Finding], list[tuple[Finding, Finding]]]:
    """Silence findings whose cause another rule names. Strongest rule first; yields form no cycle (tested)."""
    depth: dict[str, int] = {}

    def rank(slug: str) -> int:
        if slug not in depth:
            depth[slug] = 0
            rule = rules.get(slug)
            depth[slug] = 1 + max((rank(s) for s in rule.yields_to), default=-1) if rule else 0
        return depth[slug]

    standing: list[Finding] = []
    covered: list[tuple[Finding, Finding]] = []
    about: dict[tuple[str, str, str], list[int]] = {}  # rule, subject or culprit, id -> numbers of standing findings
    for finding in sorted(found, key=lambda f: rank(f.rule)):
        marks = [("subject", finding.subject), *(("culprit", name) for name in finding.culprits)]
        over_at = [n for slug in rules[finding.rule].yields_to for mark in marks for n in about.get((slug, *mark), ())]
        if not over_at:
            for mark in marks:
                about.setdefault((finding.rule, *mark), []).append(len(standing))
            standing.append(finding)
            continue
        at = min(over_at)
        over = standing[at]
        standing[at] = msgspec.structs.replace(
            over, severity=max(over.severity, finding.severity), also=tuple(dict.fromkeys((*over.also, finding.rule)))
        )
        covered.append((finding, standing[at]))
    return standing, covered


def placed(ways: Waterways, finding: Finding) -> Finding:
    """A finding with the place of its flag, and the condition in which it tells in words."""
    when = finding.condition
    if not when:
        condition = replay(ways, finding)
        when = named(ways, condition) if condition != NORMAL else ""
    return msgspec.structs.replace(finding, spot=finding.spot or _spot(ways, finding), condition=when)


def _spot(ways: Waterways, finding: Finding) -> Point | None:
    """Where the flag stands: the first culprit, else the subject."""
    for name in (*finding.culprits, finding.subject):
        part = ways.sheet.parts.get(name)
        if part is not None:
            lift = ways.catalogue[part.kind].height_m / 2 if ways.catalogue[part.kind].large else 0.0
            return (part.x_m, part.height_m + lift)
        pipe = ways.sheet.pipes.get(name)
        if pipe is not None:
            points = [ways.at["port", *pipe.a_key], *pipe.points, ways.at["port", *pipe.b_key]]
            longest = max(
                range(len(points) - 1),
                key=lambda i: abs(points[i + 1][0] - points[i][0]) + abs(points[i + 1][1] - points[i][1]),
            )
            (x0, z0), (x1, z1) = points[longest], points[longest + 1]
            return ((x0 + x1) / 2, (z0 + z1) / 2)
    return None


class ConditionView(msgspec.Struct, frozen=True):
    """What moves under a condition: +1 towards pipe end b, -1 towards a; and what stands still."""

    moving: Mapping[str, int]
    idle: frozenset[str]
    words: str
    bound: Mapping[str, int] = {}
    """Which way water goes that stands until it is called on: tap water, vents and feeds."""


def condition_view(sheet: Sheet, catalogue: Catalogue, condition: Condition) -> ConditionView:
    """Which pipes still carry water under a condition, and which way."""
    return view_of(Systems(sheet, catalogue), condition)


def against(sheet: Sheet, catalogue: Catalogue) -> frozenset[str]:
    """Pipes whose water runs from end b to end a in normal running, or once it is called on: where arrows turn."""
    view = condition_view(sheet, catalogue, NORMAL)
    return frozenset(pipe for pipe, way in {**view.bound, **view.moving}.items() if way < 0)


def view_of(systems: Systems, condition: Condition) -> ConditionView:
    """Which pipes still carry water under a condition, of systems already read; each is asked once for a condition."""
    going = {pipe: way for ways in systems.each for pipe, way in _going(ways, condition).items()}
    called_on = {pipe: way for ways in systems.each for pipe, way in bound(ways).items()}
    return ConditionView(going, frozenset(systems.sheet.pipes) - frozenset(going), condition.words, called_on)


@kept
def _going(ways: Waterways, condition: Condition) -> Mapping[str, int]:
    """The pipes of one system that carry water under a condition, and which way."""
    return {key[1]: 1 if q > 0 else -1 for key, q in moving(ways, condition).items() if key[0] == "pipe"}
