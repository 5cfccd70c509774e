"""Findings as numbered flags: what the drawing needs of a finding and no more."""

from __future__ import annotations

from collections.abc import Iterable

from loopwright.drawing.plan import Flag
from loopwright.rules.findings import Finding


def flags_of(findings: Iterable[Finding]) -> tuple[Flag, ...]:
    """A flag for every finding that has a spot on the sheet."""
    return tuple(
        Flag(f.number, f.severity.word, f.spot, tuple(dict.fromkeys((f.subject, *f.culprits, *f.path))))
        for f in findings
        if f.spot is not None
    )
