"""Which tests hold which rule: `python tests/rules/held.py` runs the rules' tests and writes `held.toml` beside it.

That takes a minute or two. `python tests/rules/held.py theme/name` takes seconds: it runs only the tests that name
the rule, and writes its entry alone, leaving the mutations as they are.

A rule is *violated* by a test in which it gave a finding, *sound* in one in which it looked and found nothing wrong,
and held by the *mutations* in which it gave a finding. Of many tests the most particular are named: those in which the
fewest rules had something to say. Owns the observation; `test_held` reads the table.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from loopwright.rules import registry
from loopwright.rules.findings import Finding, Sound
from loopwright.rules.registry import Case, Said

HERE = Path(__file__).resolve().parent
TABLE = HERE / "held.toml"
MUTATIONS = "test_mutations.py"
SYSTEMS = ("test_single_edits.py", "test_sound_systems.py", MUTATIONS)
OTHERS = (
    "test_held.py",
    "test_helping_scripts.py",
    "test_limits.py",
    "test_registering.py",
    "test_repairs.py",
    "test_review.py",
    "test_trials.py",
)
"""Tests of this folder that hold something else than a rule's judgement."""
NAMED = 3
"""So many tests of each sort are named in the table."""


class Recorder:
    """Notes what each rule says during each test."""

    def __init__(self) -> None:
        self.now = ""
        self.violated: dict[str, set[str]] = {}
        self.sound: dict[str, set[str]] = {}

    def watch(self) -> None:
        """Puts an ear to every registered rule, as the graph alone answers it."""
        registry.all_rules(computed=True)  # registers them
        for slug, rule in list(registry._RULES.items()):
            registry._RULES[slug] = msgspec.structs.replace(rule, check=self._heard(slug, rule.check))
        registry._SHARPENED.clear()

    def _heard(self, slug: str, check: registry.Check) -> registry.Check:
        def listening(case: Case) -> Iterator[Said]:
            said = list(check(case))
            if any(isinstance(a, Finding) for a in said):
                self.violated.setdefault(self.now, set()).add(slug)
            elif said and all(isinstance(a, Sound) for a in said):
                self.sound.setdefault(self.now, set()).add(slug)
            yield from said

        return listening

    def pytest_collection_finish(self) -> None:
        """Rules register themselves while tests are collected."""
        self.watch()

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """Another test begins."""
        self.now = item.nodeid

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """What a test that failed heard is worth nothing."""
        if report.failed:
            self.violated.pop(report.nodeid, None)
            self.sound.pop(report.nodeid, None)


def particular(heard: dict[str, set[str]], slug: str) -> list[str]:
    """The tests that say most about one rule alone, mutations left out, one a test function."""
    tests = [t for t, slugs in heard.items() if slug in slugs and MUTATIONS not in t]
    best: dict[str, str] = {}
    for test in sorted(tests, key=lambda t: (len(heard[t]), t)):
        best.setdefault(test.split("[")[0], test)
    return list(best)[:NAMED]


def mutations(heard: dict[str, set[str]], slug: str) -> dict[str, int]:
    """How many mutants of each kind one rule spoke on."""
    out: dict[str, int] = {}
    for test in (t for t, slugs in heard.items() if slug in slugs and MUTATIONS in t):
        kind = test.split("[")[1].split(":")[0]
        out[kind] = out.get(kind, 0) + 1
    return dict(sorted(out.items(), key=lambda pair: (-pair[1], pair[0])))


def written(recorder: Recorder) -> str:
    """The table as TOML."""
    lines = [
        "# Which tests hold which rule, as `python tests/rules/held.py` observed them. Written by it; not by hand.",
        "",
    ]
    for slug in sorted(registry.all_rules(computed=True)):
        lines += [f'["{slug}"]', *entry(recorder, slug), ""]
    return "\n".join(lines)


def entry(recorder: Recorder, slug: str) -> list[str]:
    """What is written of one rule."""
    lines = []
    for word, heard in (("violated", recorder.violated), ("sound", recorder.sound)):
        names = ", ".join(f'"{n.removeprefix("tests/")}"' for n in particular(heard, slug))
        lines.append(f"{word} = [{names}]")
    kinds = ", ".join(f"{kind} = {n}" for kind, n in mutations(recorder.violated, slug).items())
    return [*lines, f"mutations = {{ {kinds} }}" if kinds else "mutations = {}"]


def main(slugs: list[str]) -> int:
    """Runs the tests of the rules and writes the table; the exit status is that of the tests."""
    unknown = set(slugs) - set(registry.all_rules(computed=True))
    if unknown:
        print(f"There is no rule {min(unknown)}: `loopwright rules` lists them")
        return 2
    recorder = Recorder()
    root = HERE.parents[1]
    wanted = [str(p) for p in sorted(HERE.glob("test_*.py")) if p.name not in OTHERS and (not slugs or names(p, slugs))]
    wanted += [str(root / "tests" / "systems" / name) for name in SYSTEMS if not slugs]
    status = pytest.main([f"--rootdir={root}", "-q", "-p", "no:cacheprovider", *wanted], plugins=[recorder])
    TABLE.write_text(with_entries(recorder, slugs) if slugs else written(recorder), encoding="utf-8")
    return int(status)


def names(path: Path, slugs: list[str]) -> bool:
    """Whether a file of tests names one of the rules, or takes all of them."""
    text = path.read_text(encoding="utf-8")
    return path.name == "test_examples.py" or any(slug.split("/")[1] in text for slug in slugs)


def with_entries(recorder: Recorder, slugs: list[str]) -> str:
    """The table as it is, with the entries of some rules written anew but for their mutations."""
    head, *old = re.split(r"^(?=\[)", TABLE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    entries = {text.split('"')[1]: text.rstrip().split("\n") for text in old}
    for slug in slugs:
        *new, none = [f'["{slug}"]', *entry(recorder, slug)]
        entries[slug] = [*new, entries[slug][-1] if slug in entries else none]
    return head + "\n\n".join("\n".join(entries[slug]) for slug in sorted(entries)) + "\n"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
