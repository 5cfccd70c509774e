"""Names in a row and capitals, as English sets them: a comma between, a last “and” without one."""

from __future__ import annotations

import pytest

from loopwright.words import capital, listed


@pytest.mark.parametrize(
    ("names", "most", "said"),
    [
        ([], 0, ""),
        (["stove"], 0, "stove"),
        (["stove", "store"], 0, "stove and store"),
        (["stove", "store", "pump"], 0, "stove, store and pump"),
        (["stove", "store", "pump"], 2, "stove, store and 1 more"),
    ],
)
def test_names_in_a_row(names, most, said):
    assert listed(iter(names), most) == said


def test_a_capital_at_the_head_and_nowhere_else():
    said = ("", "the stove", "P1 stands", "éclair")
    assert [capital(words) for words in said] == [
        "",
        "The stove",
        "P1 stands",
        "Éclair",
    ]
