"""Where one rule speaks among all mutations, in seconds: `python tests/systems/one_rule.py theme/name`.

The quick half of `pytest tests/systems/test_mutations.py --every-mutation`: it asks that rule alone of every mutant,
and the whole survey only where the rule says what nobody has reasoned. Prints what it said by kind of mutation, and
each mutant on which it is not expected. Exit status 1 if there is one.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "samples"), str(ROOT / "tests" / "rules"), str(ROOT / "tests" / "systems")]

from mutations import CATALOGUE, Mutant, cases  # noqa: E402
from sheets import NAMES, sound_sheet  # noqa: E402
from test_mutations import besides  # noqa: E402

from loopwright.rules.findings import Finding, Severity  # noqa: E402
from loopwright.rules.registry import Case, Rule, all_rules  # noqa: E402
from loopwright.sheet.values import Sheet  # noqa: E402
from loopwright.survey import survey  # noqa: E402
from loopwright.waterways import Waterways  # noqa: E402


def found(rule: Rule, sheet: Sheet) -> list[Finding]:
    """What the rule alone finds."""
    return [s for s in rule.check(Case(Waterways(sheet, CATALOGUE))) if isinstance(s, Finding)]


def bad(said: list[Finding]) -> bool:
    """Whether it is a danger or a fault: advice may stand anywhere."""
    return any(s.severity > Severity.ADVICE for s in said)


def unreasoned(rule: Rule, mutant: Mutant, sheet: Sheet) -> bool:
    """Whether what the rule says of a mutant is neither asked for nor allowed, and no other rule covers it."""
    verdict = mutant.verdict()
    allowed = verdict.may.union(*(m.rules for m in verdict.must)) | besides().get(mutant.id, set())
    if rule.slug in allowed or "*" in allowed:
        return False
    return bad([f for f in survey(sheet, CATALOGUE).findings if f.rule == rule.slug])


def main(slug: str) -> int:
    """Asks the rule of every sound sheet and of every mutant."""
    rule = all_rules().get(slug)
    if rule is None:
        print(f"There is no rule {slug} that the graph answers: `loopwright rules` lists them")
        return 2
    wrong = [f"{name}: a sound sheet" for name in NAMES if bad(found(rule, sound_sheet(name)))]
    spoken: Counter[str] = Counter()
    for mutant in cases():
        sheet = mutant.edit()
        said = found(rule, sheet)
        if said:
            spoken[mutant.kind] += 1
            if bad(said) and unreasoned(rule, mutant, sheet):
                wrong.append(mutant.id)
    print(
        f"{slug} speaks on {spoken.total()} of {len(cases())} mutants" + (":" if spoken else "; none is of its sort.")
    )
    for kind, count in spoken.most_common():
        print(f"  {kind}: {count}")
    if not spoken:
        print("Add a kind of mutation that breaks it in tests/systems/mutations_of_parts.py, _of_fires or _of_stores.")
    if wrong:
        print(f"{len(wrong)} times nobody expects it: mend the rule, or the reason in mutations*.py or reasons.py.")
        print("\n".join(f"  {one}" for one in wrong[:40]))
    return int(bool(wrong))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
