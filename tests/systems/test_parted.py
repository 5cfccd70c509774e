"""A sheet parted into its systems: each is judged apart, and an edit has judged again only what it touches."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from random import Random

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_any_sheet import random_sheet

from benchmarks.many import side_by_side
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files.reader import load
from loopwright.resources import resource_root
from loopwright.rules.findings import Finding, Missing
from loopwright.rules.registry import all_rules
from loopwright.sheet import edits
from loopwright.sheet.systems import parted
from loopwright.sheet.values import ControlLink, Sheet
from loopwright.survey import said_by, survey, survey_of
from loopwright.waterways import Waterways
from loopwright.waterways.services import services
from loopwright.waterways.systems import Systems
from random_users.moves import any_edit

CATALOGUE = standard_catalogue()
EXAMPLES = sorted((resource_root() / "rules").rglob("*.loopwright"))


@cache
def _example(number: int) -> Sheet:
    return load(EXAMPLES[number % len(EXAMPLES)], CATALOGUE)


def _together(numbers: list[int]) -> Sheet:
    """Examples of rules beside one another on one sheet, with ids of their own and the limits of the first."""
    whole = _example(numbers[0])
    parts, pipes, links = {}, {}, {}
    for place, number in enumerate(numbers):
        # copy `place` of so many, so that the ids differ; those before it are dropped
        copies = side_by_side(_example(number), place + 1, apart_m=30.0)
        mine = f"_{place}"
        parts |= {name: part for name, part in copies.parts.items() if name.endswith(mine)}
        pipes |= {name: pipe for name, pipe in copies.pipes.items() if name.endswith(mine)}
        links |= {name: link for name, link in copies.links.items() if name.endswith(mine)}
    return msgspec.structs.replace(whole, parts=parts, pipes=pipes, links=links)


def _plain(said: Finding | Missing) -> str:
    """An answer without the ids that tell apart what would be called alike."""
    return re.sub(r" \((\w|-)+\)", "", repr(said))


def _bad(ways: Waterways) -> Counter[str]:
    said = (one for rule in all_rules().values() for one in said_by(ways, rule))
    return Counter(_plain(one) for one in said if isinstance(one, Finding | Missing))


@given(st.lists(st.integers(0, len(EXAMPLES) - 1), min_size=2, max_size=3))
@settings(max_examples=12, deadline=None)
def test_rules_find_in_the_systems_what_they_find_on_the_whole_sheet(numbers):
    sheet = _together(numbers)
    whole, systems = Waterways(sheet, CATALOGUE), Systems(sheet, CATALOGUE)
    assert sum((_bad(ways) for ways in systems.each), Counter()) == _bad(whole)
    assert survey_of(systems).services == services(whole)


@pytest.mark.parametrize("seed", range(8))
def test_on_any_sheet_too(seed):
    sheet = random_sheet(7000 + seed)
    apart = sum((_bad(ways) for ways in Systems(sheet, CATALOGUE).each), Counter())
    assert apart == _bad(Waterways(sheet, CATALOGUE))


@given(st.lists(st.integers(0, len(EXAMPLES) - 1), min_size=2, max_size=3), st.integers(0, 10**6))
@settings(max_examples=12, deadline=None)
def test_a_survey_that_keeps_what_no_edit_touched_is_the_survey_made_afresh(numbers, seed):
    r, sheet = Random(seed), _together(numbers)
    systems = Systems(sheet, CATALOGUE)
    survey_of(systems)
    for _ in range(6):
        _, edit = any_edit(r)
        try:
            sheet = edit(sheet)
        except SheetError:
            continue
        systems = Systems(sheet, CATALOGUE, systems)
        assert survey_of(systems) == survey(sheet, CATALOGUE)


def test_an_edit_of_one_system_leaves_the_waterways_of_the_others():
    sheet = _together([0, 4, 9])
    before = Systems(sheet, CATALOGUE)
    part = next(iter(before.each[1].sheet.parts.values()))
    after = Systems(edits.move(sheet, {part.id}, 0.0, 0.1, CATALOGUE), CATALOGUE, before)
    assert [new is old for new, old in zip(after.each, before.each, strict=True)] == [True, False, True]


def test_words_beside_the_drawing_leave_all_of_them():
    sheet = _together([0, 4])
    before = Systems(sheet, CATALOGUE)
    noted = edits.set_title(sheet, "Another title")
    after = Systems(noted, CATALOGUE, before)
    assert after.each == before.each
    assert after.whole.sheet is noted


def test_a_control_link_joins_two_systems():
    sheet = _together([0, 0])
    one, other = (next(iter(system.parts)) for system in parted(sheet))
    linked = edits.put_link(sheet, ControlLink(id="k", sensor=one, target=other, does="stops_above"))
    assert len(parted(sheet)) == 2 and parted(linked)[0].parts == sheet.parts


def test_parts_that_nothing_joins_are_one_system():
    drawn = _together([0])
    loose = [msgspec.structs.replace(next(iter(drawn.parts.values())), id=f"loose{n}") for n in range(3)]
    sheet = msgspec.structs.replace(drawn, parts={**drawn.parts, **{part.id: part for part in loose}})
    assert [len(system.parts) for system in parted(sheet)] == [len(drawn.parts), 3]
    assert parted(Sheet()) == ()
