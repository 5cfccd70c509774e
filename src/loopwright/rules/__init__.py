"""The rules: what is unsafe or will not work, each answered for every subject it applies to.

`registry` is the list, `findings` the answers, `themes/` the rules, `families` who speaks of one cause, `limits` what a
sheet may set. Questions that rules share, none of which knows right and wrong: `circuits`, `pumped`, `examined` and
`warmth` (what goes round, and what it warms), `vents`, `relief`, `cuts` and `discharge` (ways out), `shedding` and
`cooling` (a fire's heat), `heaters`, `links`, `bores`, `flows` (the solved flow). About findings: `repairs` with
`mending/`, `replay`, `review`, `trials`; `heights` are measures worth drawing.
"""

from loopwright.rules.findings import Answer, Finding, Missing, Outcome, Severity, Sound
from loopwright.rules.registry import Case, all_rules, page, rule

__all__ = ["Answer", "Case", "Finding", "Missing", "Outcome", "Severity", "Sound", "all_rules", "page", "rule"]
