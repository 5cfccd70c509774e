"""What becomes of the repairs of a rule on a sheet: `python tests/rules/tried.py theme/name [SHEET]`.

Prints every edit that is proposed, and why it is not offered where it is not. Without a sheet it takes the rule's own
wrong example.
"""

from __future__ import annotations

import sys
from pathlib import Path

from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.reports.examples import path_of
from loopwright.rules.repairs import tried
from loopwright.survey import survey


def said(slug: str, path: Path) -> list[str]:
    """One line a proposal, or one that says why there is none."""
    catalogue = standard_catalogue()
    sheet = load(path, catalogue)
    found = [f for f in survey(sheet, catalogue).findings if f.rule == slug]
    if not found:
        return [f"{slug} finds nothing on {path.name}"]
    every = [line for finding in found for line in tried(sheet, catalogue, finding, survey)]
    if not every:
        return [f"nothing is proposed: no @repair names {slug}, or what it looks for is not there"]
    return [f"{label}: {'not offered: ' + why if why else 'offered'}" for label, why in every]


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    rule = sys.argv[1]
    print("\n".join(said(rule, Path(sys.argv[2]) if len(sys.argv) == 3 else path_of(rule, "wrong"))))
