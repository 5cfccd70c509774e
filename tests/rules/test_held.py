"""Every rule has a test that violates it and one that finds it sound; the table names them (`held.py` writes it).

`pytest tests/rules/test_held.py -s` prints the list.
"""

from __future__ import annotations

import ast
import tomllib
from functools import cache
from pathlib import Path

import pytest
from held import TABLE

from loopwright.rules.registry import all_rules

TESTS = Path(__file__).resolve().parents[1]
RULES = sorted(all_rules(computed=True))


@cache
def table() -> dict[str, dict[str, object]]:
    """What was observed."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


@cache
def functions(path: str) -> set[str]:
    """Names of the test functions of a file."""
    tree = ast.parse((TESTS / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize("slug", RULES)
def test_a_rule_is_held_from_both_sides(slug):
    held = table().get(slug)
    assert held is not None, "run `python tests/rules/held.py`"
    for word in ("violated", "sound"):
        tests = held[word]
        assert isinstance(tests, list) and tests, f"no test in which {slug} is {word}"
        for name in tests:
            path, _, function = name.partition("::")
            assert function.split("[")[0] in functions(path), f"{name} is gone: run `python tests/rules/held.py`"


def test_the_table_names_no_rule_that_is_gone():
    assert sorted(table()) == RULES


def test_the_list_can_be_read(capsys):
    """The list itself, for who runs this with -s."""
    with capsys.disabled():
        print()
        for slug in RULES:
            held = table()[slug]
            kinds = held["mutations"]
            assert isinstance(kinds, dict)
            count = sum(kinds.values())
            names = ", ".join(list(kinds)[:3])
            violated, sound = held["violated"], held["sound"]
            assert isinstance(violated, list) and isinstance(sound, list)
            print(
                f"{slug}: violated by {_short(violated)}; sound in {_short(sound)}; {count} mutants"
                + (names and f" ({names})")
            )


def _short(tests: list[str]) -> str:
    return tests[0].rpartition("/")[2] if tests else "none"
