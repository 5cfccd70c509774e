"""A reviewer's work on a sheet: what is decided about each finding, which conditions were looked at, and the last word.

Everything is kept in the sheet itself, as edits that can be undone, and outlives later edits: a decision whose finding
changed is stale, never gone. Owns what may be decided and when it still holds. Refuses to know files: the fingerprint
of the drawing is given.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

import msgspec

from loopwright.errors import SheetError
from loopwright.rules.findings import Finding, Severity
from loopwright.sheet.change import LONGEST_TEXT
from loopwright.sheet.values import Disposition, Sheet, Signature, Tried, Verdict
from loopwright.waterways.views import Condition

SETTLING: tuple[Verdict, ...] = ("accepted", "not applicable")
"""Verdicts that leave a finding as it is, and so need a reason."""


def mark(sheet: Sheet, finding: Finding) -> str:
    """A digest of a finding and of the parts and pipes it blames, places left out: moving a part that is not wrong for
    its place is no change, while the measured value catches one that is."""
    about: list[object] = [finding.severity.word, finding.limit, tuple(sorted(finding.culprits))]
    about.append(None if finding.measured is None else format(finding.measured, ".4g"))
    for name in sorted({finding.subject.partition("/")[0], *finding.culprits}):
        part, pipe = sheet.parts.get(name), sheet.pipes.get(name)
        if part is not None:
            about.append((part.kind, tuple(sorted(part.props.items()))))
        elif pipe is not None:
            about.append((pipe.size, pipe.material, pipe.a.part, pipe.b.part))
    return hashlib.sha256(repr(about).encode()).hexdigest()[:12]


def is_stale(sheet: Sheet, disposition: Disposition, finding: Finding) -> bool:
    """Whether the finding, or what it is about, has changed since it was decided on."""
    return disposition.mark != mark(sheet, finding)


def disposition_of(sheet: Sheet, finding: Finding) -> Disposition | None:
    """What was decided about a finding, or None."""
    return next((d for d in sheet.dispositions if (d.rule, d.subject) == (finding.rule, finding.subject)), None)


def decide(
    sheet: Sheet, finding: Finding, verdict: Verdict, *, by: str, date: str, fingerprint: str, reason: str = ""
) -> Sheet:
    """The sheet with a decision about a finding in place of any before. Raises SheetError without a name, or without
    a reason where the finding is left as it is."""
    if not by.strip():
        raise SheetError("A decision needs the name of who decides", do="Give a name")
    _not_too_long(by, reason)
    if verdict in SETTLING and not reason.strip():
        raise SheetError(
            f"“{finding.rule}” cannot be {verdict} without a reason", do="Say why it may stay as it is on this sheet"
        )
    new = Disposition(
        rule=finding.rule,
        subject=finding.subject,
        verdict=verdict,
        reason=reason.strip(),
        by=by.strip(),
        date=date,
        fingerprint=fingerprint,
        mark=mark(sheet, finding),
        measured=finding.measured,
    )
    return msgspec.structs.replace(sheet, dispositions=(*_others(sheet, finding.rule, finding.subject), new))


def _not_too_long(*words: str) -> None:
    """Refuse what the sheet's file would not take."""
    if max(map(len, words)) > LONGEST_TEXT:
        raise SheetError(f"That is longer than {LONGEST_TEXT} letters", do="Shorten it")


def withdraw(sheet: Sheet, rule: str, subject: str) -> Sheet:
    """The sheet without the decision about a finding."""
    return msgspec.structs.replace(sheet, dispositions=_others(sheet, rule, subject))


def _others(sheet: Sheet, rule: str, subject: str) -> tuple[Disposition, ...]:
    return tuple(d for d in sheet.dispositions if (d.rule, d.subject) != (rule, subject))


def unsettled(sheet: Sheet, findings: Iterable[Finding]) -> list[Finding]:
    """Dangers and faults that nobody has settled for a reason that still holds."""
    out = []
    for finding in findings:
        found = disposition_of(sheet, finding)
        settled = found is not None and found.verdict in SETTLING and not is_stale(sheet, found, finding)
        if finding.severity > Severity.ADVICE and not settled:
            out.append(finding)
    return out


def note_tried(sheet: Sheet, condition: Condition) -> Sheet:
    """The sheet with a condition among those looked at; one that is there already changes nothing."""
    new = _tried(condition)
    return sheet if new in sheet.tried else msgspec.structs.replace(sheet, tried=(*sheet.tried, new))


def forget_tried(sheet: Sheet, condition: Condition) -> Sheet:
    """The sheet without a condition among those looked at."""
    gone = _tried(condition)
    return msgspec.structs.replace(sheet, tried=tuple(t for t in sheet.tried if t != gone))


def _tried(condition: Condition) -> Tried:
    return Tried(
        power=condition.power,
        stopped=tuple(sorted(condition.stopped)),
        shut=tuple(sorted(condition.shut)),
        out=tuple(sorted(condition.out)),
    )


def conditions_tried(sheet: Sheet) -> list[Condition]:
    """The conditions looked at, without parts that are gone."""
    out = []
    for tried in sheet.tried:
        kept = {
            name: frozenset(part for part in getattr(tried, name) if part in sheet.parts)
            for name in ("stopped", "shut", "out")
        }
        out.append(Condition(power=tried.power, **kept))
    return list(dict.fromkeys(out))


def sign(
    sheet: Sheet, findings: Iterable[Finding], *, accepted: bool, by: str, date: str, fingerprint: str, remark: str = ""
) -> Sheet:
    """The sheet with a reviewer's last word. Raises SheetError without a name, and when a sheet is accepted while a
    danger or fault is neither put right nor settled."""
    if not by.strip():
        raise SheetError("A signature needs a name", do="Give the name of who signs")
    _not_too_long(by, remark)
    left = unsettled(sheet, findings) if accepted else []
    if left:
        one = "No. {} is" if len(left) == 1 else "Nos. {} are"
        raise SheetError(
            one.format(", ".join(str(f.number) for f in left)) + " neither put right nor settled",
            do="Decide about each first, or refuse the sheet",
        )
    if not accepted and not remark.strip():
        raise SheetError("A refusal needs a remark", do="Say what has to change")
    new = Signature(
        verdict="accepted" if accepted else "refused",
        by=by.strip(),
        date=date,
        fingerprint=fingerprint,
        remark=remark.strip(),
    )
    return msgspec.structs.replace(sheet, signatures=(*sheet.signatures, new))
