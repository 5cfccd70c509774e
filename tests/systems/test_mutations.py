"""Mutation test: one mistake put into a sound sheet, and the finding that a fitter would expect, on the right part.

What must follow, and what may besides, is reasoned from the trade on the sound sheet (`reasons`, `mutations*`), never
asked of the rules. An ordinary run takes a sample that is the same every time; `--every-mutation` takes all. The kill
rate stands at the end of the run. A mutant that no rule notices is a survivor: it has to be listed, with its reason, in
`survivors.toml`, and to go from there once a rule notices it.
"""

from __future__ import annotations

import tomllib
import zlib
from functools import cache
from pathlib import Path

import pytest
from mutations import CATALOGUE, KINDS, Mutant, cases

from loopwright.rules.findings import Finding, Severity
from loopwright.survey import BROKEN, survey

SAMPLE = 900
"""Of some thousands, about so many in an ordinary run."""
TABLE = Path(__file__).with_name("survivors.toml")


@cache
def listed() -> dict[str, str]:
    """Reason by mutant, of those that are known to survive."""
    table = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return {f"{s['kind']}:{s['sheet']}:{s['place']}": s["reason"] for s in table.get("survivor", ())}


@cache
def besides() -> dict[str, set[str]]:
    """Further rules by mutant that may speak there, for the reasons given in the table."""
    table = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return {f"{s['kind']}:{s['sheet']}:{s['place']}": set(s["rules"]) for s in table.get("besides", ())}


def sampled(every: tuple[Mutant, ...]) -> list[Mutant]:
    """The same share of each kind every time, chosen by checksum; whatever the table names is always there."""
    named = set(listed()) | set(besides())
    share = SAMPLE / len(every)
    by_kind: dict[str, int] = {}
    for m in every:
        by_kind[m.kind] = by_kind.get(m.kind, 0) + 1
    out = []
    for m in every:
        wanted = max(share, min(1.0, 12 / by_kind[m.kind]))
        if m.id in named or zlib.crc32(m.id.encode()) % 10_000 < wanted * 10_000:
            out.append(m)
    return out


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """One test a mutant."""
    if "mutant" in metafunc.fixturenames:
        every = cases()
        chosen = list(every) if metafunc.config.getoption("--every-mutation") else sampled(every)
        metafunc.parametrize("mutant", chosen, ids=[m.id for m in chosen])


def named_by(found: tuple[Finding, ...], rules: frozenset[str], ids: frozenset[str]) -> bool:
    """Whether a finding of one of the rules, or one that covers it, stands on one of the ids."""
    return any(rules & {f.rule, *f.also} and ids & {f.subject, *f.culprits} for f in found)


def test_a_mistake_is_found_and_nothing_else_is_said(mutant, record_property):
    after = mutant.edit()
    verdict = mutant.verdict()
    answer = survey(after, CATALOGUE)
    assert [a.because for a in answer.answers if a.because.startswith(BROKEN)] == []
    missed = [sorted(m.rules) for m in verdict.must if not named_by(answer.findings, m.rules, m.ids)]
    fate = "harmless" if not verdict.must else "survived" if missed else "killed"
    record_property("mutation", f"{mutant.kind} {fate}")
    allowed = verdict.may.union(*(m.rules for m in verdict.must)) | besides().get(mutant.id, set())
    bad = [f for f in answer.findings if f.severity > Severity.ADVICE]
    unrelated = [(f.rule, f.severity.word, f.culprits) for f in bad if f.rule not in allowed]
    assert "*" in allowed or unrelated == [], "said besides"
    if mutant.id in listed():
        assert missed, "this survivor is noticed now: take it from survivors.toml"
    else:
        assert missed == [], f"nobody notices; said instead: {[(f.rule, f.culprits) for f in bad]}"


def test_every_kind_has_places():
    assert {m.kind for m in cases()} == set(KINDS)
    assert len({m.id for m in cases()}) == len(cases()) > 3000


def test_the_table_names_what_there_is():
    there = {m.id for m in cases()}
    assert set(listed()) <= there and set(besides()) <= there
    assert all(len(reason) > 20 for reason in listed().values())
