"""Limits that a sheet may set: the list is that of the rules' own code, and nonsense is refused."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import loopwright.rules
from loopwright.catalogue import standard_catalogue
from loopwright.errors import ValueRefused
from loopwright.rules.limits import limits
from loopwright.rules.registry import Case, facts
from loopwright.rules.themes.domestic import OUTLET_SORTS
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways

BY_SORT = {f"tmv.{sort}" for sort in OUTLET_SORTS if sort != "sink"}
"""Asked for by the sort of outlet, so not written out in the code."""


@pytest.fixture(scope="module")
def catalogue():
    return standard_catalogue()


def asked() -> dict[str, set[str]]:
    """Keys in `limit(...)` calls of the rules, with the end they take of a range."""
    out: dict[str, set[str]] = {key: {"low"} for key in BY_SORT}
    for path in Path(loopwright.rules.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "limit":
                last = [k.value for k in node.keywords if k.arg == "last"]
                end = "low" if not last else "high" if isinstance(last[0], ast.Constant) else "both"
                for word in ast.walk(node.args[0]):
                    if isinstance(word, ast.Constant) and isinstance(word.value, str):
                        out.setdefault(word.value, set()).add(end)
    return out


def test_the_list_is_what_the_rules_ask_for() -> None:
    assert set(limits()) == set(asked())


def test_the_ends_of_ranges_are_those_the_rules_take() -> None:
    for key, ends in asked().items():
        if isinstance(facts()[key].value, list):
            want = {"low", "high"} if "both" in ends else ends
            have = limits()[key].ends
            assert ({"low", "high"} if have == "both" else {have}) == want, key


def test_the_published_figure_is_the_one_a_rule_gets(catalogue) -> None:
    case = Case(Waterways(Sheet(), catalogue))
    for key, limit in limits().items():
        assert case.limit(key, last=limit.ends == "high") == limit.published[0], key


def test_the_sheets_own_figure_goes_before(catalogue) -> None:
    case = Case(Waterways(edits.set_limit(Sheet(), "sf.vent.od.min", 28.0), catalogue))
    assert case.limit("sf.vent.od.min") == 28.0


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("sf.vent.od.min", -1.0, "less than nothing"),
        ("sf.vent.od.min", 0.0, "far from the published 22"),
        ("sf.vent.od.min", 22000.0, "Check the unit"),
        ("pos.solar.coil", 1.2, "beyond 1"),
        ("sf.leak.pct", 120.0, "beyond 100"),
        ("leg.store.min", 400.0, "beyond 150"),
        ("leg.store.min", float("nan"), "no number"),
        ("vel.steel", 80.0, "1.5 to 3"),
    ],
)
def test_nonsense_is_refused_in_words(key: str, value: float, words: str) -> None:
    with pytest.raises(ValueRefused) as refused:
        limits()[key].check(value)
    assert words in refused.value.sentence


@pytest.mark.parametrize(("key", "value"), [("sf.vent.od.min", 28.0), ("leg.store.min", 65.0), ("pos.solar.coil", 0.0)])
def test_a_stricter_figure_is_taken(key: str, value: float) -> None:
    limits()[key].check(value)
