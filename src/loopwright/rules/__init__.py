"""The rules: what is unsafe or will not work, each answered for every subject it applies to."""

from loopwright.rules.findings import Answer, Finding, Missing, Outcome, Severity, Sound
from loopwright.rules.registry import Case, all_rules, page, rule

__all__ = ["Answer", "Case", "Finding", "Missing", "Outcome", "Severity", "Sound", "all_rules", "page", "rule"]
