"""Lets the tests use the scripts that draw the samples, and the small sheets of the rules' own tests.

Says at the end of a run how many mistakes of the mutation test were found.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "rules"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """The kill rate of the mutation test, whichever process ran its cases."""
    fates: Counter[str] = Counter()
    by_kind: dict[str, Counter[str]] = {}
    for reports in (terminalreporter.stats.get(word, ()) for word in ("passed", "failed")):
        for report in reports:
            for name, value in getattr(report, "user_properties", ()):
                if name == "mutation":
                    kind, fate = value.split()
                    fates[fate] += 1
                    by_kind.setdefault(kind, Counter())[fate] += 1
    asked = fates["killed"] + fates["survived"]
    if not asked:
        return
    terminalreporter.section("mutations")
    terminalreporter.line(
        f"{fates['killed']} of {asked} mistakes found ({fates['killed'] / asked:.1%}), {fates['survived']} survive;"
        f" {fates['harmless']} harmless edits"
    )
    for kind, own in sorted(by_kind.items()):
        if own["survived"]:
            terminalreporter.line(f"  {kind}: {own['survived']} of {own['killed'] + own['survived']} survive")
