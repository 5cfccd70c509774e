"""The drawn examples of each rule: the rule finds the wrong one and passes the right one, and both can be drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.reports import examples
from loopwright.rules.findings import Finding, Sound
from loopwright.rules.registry import Case, all_rules, page
from loopwright.waterways import Waterways

CATALOGUE = standard_catalogue()
RULES = all_rules(computed=True)


@pytest.mark.parametrize("slug", RULES)
def test_the_rule_finds_the_wrong_one_and_passes_the_right_one(slug):
    paths = [examples.path_of(slug, which) for which in ("wrong", "right")]
    assert all(path.is_file() for path in paths), f"draw {paths[0].name} and {paths[1].name}; keep.py shows how"
    wrong, right = (load(path, CATALOGUE) for path in paths)
    assert any(isinstance(s, Finding) for s in RULES[slug].check(Case(Waterways(wrong, CATALOGUE))))
    said = list(RULES[slug].check(Case(Waterways(right, CATALOGUE))))
    assert said and all(isinstance(s, Sound) for s in said)
    text = page(slug).text
    for which, sheet in (("Wrong", wrong), ("Right", right)):
        assert f"{which}: {sheet.title}" in text, "the title of an example is the sentence of the page"


@pytest.mark.parametrize("slug", ["solid-fuel/no-heat-leak", "tapping/flow-below-return", "discharge/rises"])
def test_an_example_is_a_picture_of_its_own(slug):
    wrong, right = (examples.picture(slug, which, CATALOGUE) for which in ("wrong", "right"))
    for picture in (wrong, right):
        assert picture.size_mm[0] <= examples.ROOM_MM[0] and picture.size_mm[1] <= examples.ROOM_MM[1]
        ET.fromstring(examples.svg(slug, "wrong" if picture is wrong else "right", CATALOGUE))
    assert wrong.lit and len(wrong.labels.flags) == 1 and not right.labels.flags
