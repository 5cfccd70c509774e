"""Where a mistake to practise on is used: `python tests/lessons/practised.py SORT`.

For each sound sample it prints how many places are proposed, in how many the survey answers with one fault of the rules
meant, and what it says of the others.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files.reader import load
from loopwright.lessons.practice import mistakes
from loopwright.lessons.practice_places import Ground, places
from loopwright.rules.findings import Severity
from loopwright.survey import survey

ROOT = Path(__file__).resolve().parents[2]


def main(sort: str) -> int:
    """Makes the mistake at each of its places on each sample."""
    if sort not in mistakes():
        print(f"There is no mistake “{sort}” in resources/practice.toml")
        return 2
    catalogue, used = standard_catalogue(), 0
    for path in sorted((ROOT / "samples" / "sound").glob("*.loopwright")):
        sheet, said = load(path, catalogue), Counter[str]()
        for place in places(Ground(sheet, catalogue), sort):
            try:
                found = survey(place.edit(sheet)[0], catalogue).findings
            except SheetError as bad:
                said[f"refused: {bad.sentence}"] += 1
                continue
            rules = [f.rule for f in found if f.severity > Severity.ADVICE]
            fits = len(rules) == 1 and rules[0] in mistakes()[sort].rules
            used += fits
            said["used" if fits else f"not used: {', '.join(rules) or 'nothing is found'}"] += 1
        print(f"{path.stem}: " + ("; ".join(f"{n} {words}" for words, n in said.most_common()) or "no place"))
    return int(not used)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
