"""Safe edits that clear a finding: what may be tried for each rule, and the trial that every one has to pass.

Owns the registry and the trial. A repair is offered only when the sheet it gives, judged by every rule again, no longer
has the finding and has no new danger or fault. Judging comes from outside (`survey`), since rules know no survey.
Nothing is computed until somebody asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.rules.findings import Answer, Finding, Outcome, Severity
from loopwright.sheet.values import Sheet

Edit = Callable[[Sheet], Sheet]
MOST_TRIED = 16
"""Sheets judged for one set of alternatives; the likeliest come first."""


class Repair(msgspec.Struct, frozen=True):
    """An edit that clears a finding: `label` is an order in words, `edit` a pure function of the sheet."""

    label: str
    edit: Edit


Proposal = Repair | tuple[Repair, ...]
"""One edit, or alternatives of which the first that works is offered."""
Propose = Callable[[Sheet, Catalogue, Finding], Iterator[Proposal]]


class Judged(Protocol):
    """A survey, as far as a trial looks at it."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What stands."""

    @property
    def answers(self) -> tuple[Answer, ...]:
        """Every answer."""


Judge = Callable[[Sheet, Catalogue], Judged]

_PROPOSALS: dict[str, list[Propose]] = {}


def repair(*slugs: str) -> Callable[[Propose], Propose]:
    """Register what may be tried for the findings of these rules."""

    def register(propose: Propose) -> Propose:
        for slug in slugs:
            _PROPOSALS.setdefault(slug, []).append(propose)
        return propose

    return register


def repairable() -> tuple[str, ...]:
    """Slugs of the rules for whose findings something may be tried, sorted."""
    _load()
    return tuple(sorted(_PROPOSALS))


def repairs(
    sheet: Sheet, catalogue: Catalogue, finding: Finding, survey: Judge, *, most: int = 0, before: Judged | None = None
) -> tuple[Repair, ...]:
    """The edits that clear the finding and bring no danger and no fault, best first; `most` 0 means all of them.

    `before` is the survey of this sheet, if it is at hand. Raises nothing on its own account: an edit that the sheet
    refuses is not offered.
    """
    _load()
    if finding.rule not in _PROPOSALS:
        return ()
    trial = _Trial(sheet, catalogue, finding, survey, before)
    out: list[Repair] = []
    for propose in _PROPOSALS[finding.rule]:
        for proposal in _said(propose, sheet, catalogue, finding):
            found = trial.first((proposal,) if isinstance(proposal, Repair) else proposal)
            if found is not None and found.label not in {r.label for r in out}:
                out.append(found)
                if most and len(out) >= most:
                    return tuple(out)
    return tuple(out)


def tried(sheet: Sheet, catalogue: Catalogue, finding: Finding, survey: Judge) -> tuple[tuple[str, str], ...]:
    """Every edit that is proposed for the finding by its label, and why it is not offered; nothing where it is.

    For whoever writes a repair: a refusal is silent everywhere else.
    """
    _load()
    trial = _Trial(sheet, catalogue, finding, survey, None)
    return tuple(
        (one.label, trial.refused(one))
        for propose in _PROPOSALS.get(finding.rule, ())
        for proposal in _said(propose, sheet, catalogue, finding)
        for one in ((proposal,) if isinstance(proposal, Repair) else proposal)
    )


def repair_all(sheet: Sheet, catalogue: Catalogue, survey: Judge) -> tuple[Sheet, tuple[tuple[Finding, Repair], ...]]:
    """The sheet with the first repair of each finding applied, worst first, until none is left; and what was done.

    Every step leaves fewer dangers, or as many with fewer faults, or as many of both with less advice, so it ends.
    """
    done: list[tuple[Finding, Repair]] = []
    now = survey(sheet, catalogue)
    while True:
        for finding in sorted(now.findings, key=lambda f: -f.severity):
            step = next(iter(repairs(sheet, catalogue, finding, survey, most=1, before=now)), None)
            if step is None:
                continue
            after = step.edit(sheet)
            judged = survey(after, catalogue)
            if _weight(judged) < _weight(now):
                done.append((finding, step))
                sheet, now = after, judged
                break
        else:
            return sheet, tuple(done)


def _weight(judged: Judged) -> tuple[int, ...]:
    return tuple(sum(f.severity is s for f in judged.findings) for s in reversed(Severity))


def _load() -> None:
    import loopwright.rules.mending  # noqa: F401  (registers them)


def _said(propose: Propose, sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    try:
        yield from propose(sheet, catalogue, finding)
    except SheetError:
        return  # the sheet refuses the very thing the proposal would begin with


Named = tuple[str, str]


def _list(named: Iterable[Named]) -> str:
    return ", ".join(f"{rule} of {subject}" for rule, subject in sorted(named))


class _Trial:
    """Judges edits of one sheet against one finding."""

    def __init__(
        self, sheet: Sheet, catalogue: Catalogue, finding: Finding, survey: Judge, before: Judged | None
    ) -> None:
        self.sheet, self.catalogue, self.finding, self.survey = sheet, catalogue, finding, survey
        self._before = before

    def first(self, alternatives: Iterable[Repair]) -> Repair | None:
        """The first that works."""
        judged = 0
        for one in alternatives:
            try:
                after = one.edit(self.sheet)
            except SheetError:
                continue
            if after == self.sheet:
                continue
            judged += 1
            if not self._against(after):
                return one
            if judged >= MOST_TRIED:
                return None
        return None

    def refused(self, one: Repair) -> str:
        """Why an edit is not offered; nothing where it is."""
        try:
            after = one.edit(self.sheet)
        except SheetError as bad:
            return f"the sheet refuses it: {bad.sentence}"
        return "it changes nothing" if after == self.sheet else self._against(after)

    def _against(self, after: Sheet) -> str:
        """What speaks against a sheet that an edit has made; nothing if it is offered."""
        before = self._before = self._before or self.survey(self.sheet, self.catalogue)
        judged = self.survey(after, self.catalogue)
        mine = (self.finding.rule, self.finding.subject)
        same = [f for f in judged.findings if (f.rule, f.subject) == mine]
        if any(set(f.culprits) & set(self.finding.culprits) or f.message == self.finding.message for f in same):
            return "the finding stands as before"
        if len(same) >= sum((f.rule, f.subject) == mine for f in before.findings):
            return "the rule finds another fault in the same subject"
        unknown = self._unknown(judged)
        if lost := ({mine} & unknown) | (unknown - self._unknown(before)):
            return f"not to know is no repair: {_list(lost)} not assessed"
        worse = self._bad(judged) - self._known(before)
        return f"it brings {_list(worse)}" if worse else ""

    def _known(self, before: Judged) -> set[Named]:
        """Dangers and faults already there, and those that other findings cover: they may come to light."""
        mine = f"Covered by no. {self.finding.number}"
        covered = {(a.rule, a.subject) for a in before.answers if a.outcome is Outcome.COVERED and a.because != mine}
        return self._bad(before) | covered

    @staticmethod
    def _unknown(judged: Judged) -> set[Named]:
        return {(a.rule, a.subject) for a in judged.answers if a.outcome is Outcome.NOT_ASSESSED}

    @staticmethod
    def _bad(judged: Judged) -> set[Named]:
        return {(f.rule, f.subject) for f in judged.findings if f.severity > Severity.ADVICE}
