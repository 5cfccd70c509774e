"""What was decided about findings: to repair, accepted or not applicable with a reason, and whether that still holds.

Owns how a disposition of a sheet is matched to a finding and written out. Refuses to decide anything.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from loopwright.reports.model import Strip
from loopwright.rules.findings import Finding, Severity
from loopwright.rules.review import is_stale
from loopwright.sheet.values import Sheet

SETTLING = ("accepted", "not applicable")


class Decision(msgspec.Struct, frozen=True, kw_only=True):
    """One disposition: what was decided, why, by whom and when, on which state of the sheet, and if it is stale."""

    rule: str
    subject: str
    verdict: str
    reason: str = ""
    by: str = ""
    date: str = ""
    fingerprint: str = ""
    stale: bool = False
    gone: bool = False
    """Nothing is found there any more."""

    @property
    def settles(self) -> bool:
        """Whether the finding need not be put right: a reason was given and nothing changed since."""
        return self.verdict in SETTLING and bool(self.reason.strip()) and not self.stale

    @property
    def words(self) -> str:
        """The reason, by whom and when."""
        said = "; ".join(w for w in (self.reason.strip(), ", ".join(w for w in (self.by, self.date) if w)) if w)
        return said or "no reason given"


def strip(decision: Decision) -> Strip:
    """A decision as it stands under its finding."""
    words = decision.words
    if decision.stale:
        words += "; the drawing has changed since, so look again"
    label = {"to repair": "To put right", "to put right": "To put right"}.get(decision.verdict, decision.verdict)
    return Strip(label[:1].upper() + label[1:], words, decision.stale)


class Decisions:
    """The decisions of a sheet by finding."""

    def __init__(self, decisions: Iterable[Decision]) -> None:
        self.all = tuple(decisions)
        self._by: dict[tuple[str, str], Decision] = {(d.rule, d.subject): d for d in self.all}

    def of(self, finding: Finding) -> Decision | None:
        """The decision on a finding, if there is one."""
        return self._by.get((finding.rule, finding.subject))

    def settled(self, finding: Finding) -> bool:
        """Whether somebody settled it for a reason that still holds."""
        found = self.of(finding)
        return found is not None and found.settles

    def open(self, findings: Iterable[Finding]) -> list[Finding]:
        """Dangers and faults that nobody has settled."""
        return [f for f in findings if f.severity > Severity.ADVICE and not self.settled(f)]


def read(sheet: Sheet, findings: Iterable[Finding]) -> Decisions:
    """The decisions that a sheet holds, each held against the findings of today."""
    found = {(f.rule, f.subject): f for f in findings}
    out = []
    for entry in sheet.dispositions:
        now = found.get((entry.rule, entry.subject))
        out.append(
            Decision(
                rule=entry.rule,
                subject=entry.subject,
                verdict=entry.verdict,
                reason=entry.reason,
                by=entry.by,
                date=entry.date,
                fingerprint=entry.fingerprint,
                stale=now is not None and is_stale(sheet, entry, now),
                gone=now is None,
            )
        )
    return Decisions(out)
