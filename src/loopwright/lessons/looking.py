"""One look at an answer: the sheet, its waterways and its survey, made once for all conditions.

Owns what is shared while a sheet is judged. Knows no condition.
"""

from __future__ import annotations

from functools import cached_property

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.rules.findings import Answer, Finding, Missing, Outcome, Severity, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey, survey_of
from loopwright.waterways import Waterways
from loopwright.waterways.systems import Systems

Harm = tuple[str, str]


class Look:
    """A sheet under judgement. Rules that solve the flow are asked one by one, only when a condition names them."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue) -> None:
        self.sheet, self.catalogue = sheet, catalogue

    @cached_property
    def systems(self) -> Systems:
        """The systems of the sheet, read as water."""
        return Systems(self.sheet, self.catalogue)

    @property
    def ways(self) -> Waterways:
        """The whole sheet read as water."""
        return self.systems.whole

    @cached_property
    def case(self) -> Case:
        """What rules look at."""
        return Case(self.ways)

    @cached_property
    def survey(self) -> Survey:
        """Every plain rule's answer."""
        return survey_of(self.systems)

    @cached_property
    def _computed(self) -> dict[str, list[Answer]]:
        return {}

    def answers(self, rule: str) -> list[Answer]:
        """A rule's answers, one a subject."""
        found = all_rules(computed=True)[rule]
        if not found.computed:
            return [a for a in self.survey.answers if a.rule == rule]
        if rule not in self._computed:
            self._computed[rule] = [_answer(rule, said) for said in found.check(self.case)] or [
                Answer(rule=rule, outcome=Outcome.NOT_APPLICABLE)
            ]
        return self._computed[rule]

    def covering(self, rule: str) -> list[Finding]:
        """Findings that cover one of this rule."""
        return [f for f in self.survey.findings if rule in f.also]

    @cached_property
    def harms(self) -> dict[Harm, Finding]:
        """Dangers and faults by rule and subject, those they cover included."""
        out: dict[Harm, Finding] = {}
        for finding in self.survey.findings:
            if finding.severity > Severity.ADVICE:
                for slug in (finding.rule, *finding.also):
                    out.setdefault((slug, finding.subject), finding)
        return out


def _answer(rule: str, said: Finding | Missing | Sound) -> Answer:
    match said:
        case Finding():
            found = msgspec.structs.replace(said, rule=rule)
            return Answer(rule=rule, outcome=Outcome.FINDING, subject=said.subject, finding=found)
        case Missing():
            return Answer(rule=rule, outcome=Outcome.NOT_ASSESSED, subject=said.subject, because=said.what)
    return Answer(rule=rule, outcome=Outcome.PASS, subject=said.subject, because=said.because)
