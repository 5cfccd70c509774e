"""Two revisions of a sheet held against each other: what differs, and which findings are new, gone or still there.

Owns the matching of findings. What differs on the drawing is asked of `files.compare`, what is found of the survey.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.files.compare import Change, Differences, compare
from loopwright.rules.findings import Finding
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey, survey


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """An older and a newer revision."""

    old: Sheet
    new: Sheet
    differences: Differences
    old_survey: Survey
    new_survey: Survey
    appeared: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    kept: tuple[tuple[Finding, Finding], ...]
    """Findings that are in both, older first."""

    @property
    def verdict(self) -> str:
        """One sentence."""
        changes = self.differences.changes
        if not changes:
            return "Nothing differs."
        found = f"{_many(len(self.appeared), 'finding')} new, {len(self.gone)} gone, {len(self.kept)} as before"
        return f"{_many(len(changes), 'thing')} {'differs' if len(changes) == 1 else 'differ'}; {found}."


def held_against(old: Sheet, new: Sheet, catalogue: Catalogue, *, computed: bool = False) -> Comparison:
    """A newer sheet held against an older one; with the rules that solve the flow only if `computed`."""
    differences = compare(old, new, catalogue)
    before, after = (survey(sheet, catalogue, computed=computed) for sheet in (old, new))
    appeared, gone, kept = match_findings(before.findings, after.findings, differences.same)
    return Comparison(
        old=old,
        new=new,
        differences=differences,
        old_survey=before,
        new_survey=after,
        appeared=appeared,
        gone=gone,
        kept=kept,
    )


def match_findings(
    old: tuple[Finding, ...], new: tuple[Finding, ...], same: Mapping[str, str]
) -> tuple[tuple[Finding, ...], tuple[Finding, ...], tuple[tuple[Finding, Finding], ...]]:
    """Findings new, gone and kept: the same rule about the same thing is the same finding, whatever its number."""

    def about(finding: Finding, names: Mapping[str, str]) -> tuple[str, str]:
        owner, slash, rest = finding.subject.partition("/")
        return finding.rule, f"{names.get(owner, owner)}{slash}{rest}"

    left = {about(f, {}): f for f in new}
    kept, gone = [], []
    for finding in old:
        twin = left.pop(about(finding, same), None)
        if twin is None:
            gone.append(finding)
        else:
            kept.append((finding, twin))
    appeared = [f for f in new if about(f, {}) in left]
    return tuple(appeared), tuple(gone), tuple(kept)


SIGNS = {"added": "+", "removed": "-", "changed": "~", "moved": ">"}


def lines(comparison: Comparison) -> Iterator[str]:
    """The comparison as text, one change a line, in an order that does not hang on the order of drawing."""
    yield f"{comparison.old.title} -> {comparison.new.title}"
    yield comparison.verdict
    for title, findings, sign in (
        ("Findings that are new", comparison.appeared, "+"),
        ("Findings that are gone", comparison.gone, "-"),
    ):
        if findings:
            yield f"\n{title}"
            yield from (f" {sign} {f.severity.word}: {f.message}  ({f.rule})" for f in findings)
    for word, changes in grouped(comparison.differences.changes):
        yield f"\n{word}"
        yield from (f" {SIGNS[c.sort]} {c.words}" for c in changes)


GROUPS = {
    "sheet": "Title block",
    "floor": "Floors",
    "part": "Parts",
    "tapping": "Tappings",
    "coil": "Coils",
    "pipe": "Pipes",
    "control link": "Control links",
    "limit": "Limits of this sheet",
    "fact": "Facts",
    "note": "Notes",
    "dimension": "Dimensions",
}


def grouped(changes: tuple[Change, ...]) -> Iterator[tuple[str, list[Change]]]:
    """Changes by what they are about; within it by sort, then by name."""
    order = list(SIGNS)
    for what, word in GROUPS.items():
        found = [c for c in changes if c.what == what]
        if found:
            yield word, sorted(found, key=lambda c: (order.index(c.sort), c.name, c.before, c.after))


def _many(count: int, word: str) -> str:
    return f"{count} {word if count == 1 else word + 's'}"
