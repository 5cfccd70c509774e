"""What a rule answers: pass, finding, not applicable, not assessed, covered.

Owns the values. Knows no rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum, StrEnum

import msgspec

from loopwright.sheet.values import Point


class Severity(IntEnum):
    """How bad. Greater is worse."""

    ADVICE = 1
    FAULT = 2
    DANGER = 3

    @property
    def word(self) -> str:
        """The word people read."""
        return self.name.lower()


class Outcome(StrEnum):
    """One answer of a rule for one subject."""

    PASS = "pass"
    FINDING = "finding"
    NOT_APPLICABLE = "not applicable"
    NOT_ASSESSED = "not assessed"
    COVERED = "covered"


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """A fact, its place and its remedy.

    `subject` and `culprits` are ids of parts and pipes; `path` what to light; `spot` where the flag stands.
    `message` is one sentence with the numbers, `todo` an order. `sources` are keys of resources/sources.toml.
    """

    severity: Severity
    subject: str
    culprits: tuple[str, ...]
    message: str
    todo: str
    path: tuple[str, ...] = ()
    spot: Point | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    sources: tuple[str, ...] = ()
    condition: str = ""
    rule: str = ""
    number: int = 0
    also: tuple[str, ...] = ()
    """Slugs of rules this finding covers: the same cause, seen by them too."""
    cause: int = 0
    """Number of the finding that blames the same part or pipe and stands above this one; 0 where there is none."""
    shared: str = ""
    """What it and its cause both blame, as it stands in a sentence."""
    step: str = ""
    """Where a procedure of several steps stopped."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A rule's answer for a subject. `because` says what is missing, or what covers it, or why it passes."""

    rule: str
    outcome: Outcome
    subject: str = ""
    because: str = ""
    finding: Finding | None = None
    part: str = ""
    prop: str = ""
    """Where a missing datum is asked for: a part and its property."""


class Missing(msgspec.Struct, frozen=True):
    """A datum that the answer needs: part and property, in words."""

    subject: str
    what: str
    part: str = ""
    prop: str = ""


class Sound(msgspec.Struct, frozen=True):
    """A subject that was looked at and is right."""

    subject: str
    because: str = ""


def grouped(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in the order of their numbers, each followed by those that name it as their cause.

    A cause that is not among them leads nothing: what names it stands by its own number.
    """
    ordered = sorted(findings, key=lambda f: f.number)
    there = {f.number for f in ordered}
    under: dict[int, list[Finding]] = {}
    for finding in ordered:
        under.setdefault(finding.cause if finding.cause in there else 0, []).append(finding)
    return tuple(one for head in under.get(0, ()) for one in (head, *under.get(head.number, ())))


def told(name: str, because: str) -> str:
    """Why a rule said what it said, with the name of what it is about in front, unless that stands there already."""
    first = because.partition(":")[0].lower().removeprefix("the ")
    said = because if not name or first == name.lower() else f"{name}: {because}"
    return f"{said[:1].upper()}{said[1:]}"
