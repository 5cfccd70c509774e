"""What findings call parts and pipes, and how those that blame one part are grouped. Plain English, no source."""

from __future__ import annotations

import mistakes
import pytest
from fire_sheets import ON_LEAK, ON_STORE_FLOW, fire
from vented import CATALOGUE

import systems
from loopwright.survey import survey
from loopwright.waterways import Waterways
from loopwright.waterways.naming import called


def test_a_part_goes_by_its_name_else_by_its_kind_and_what_it_joins():
    s = fire()
    s.insert("store_flow", "isolating_valve", "V7", at=ON_STORE_FLOW)
    s.insert("leak_return", "motorised_2port", "M7", at=(3.2, 1.5))
    ways = Waterways(s.done(), CATALOGUE)
    assert called(ways, "stove") == "Stove"
    assert called(ways, "V7") == "the isolating valve between Stove and Store"
    assert called(ways, "M7").startswith("the motorised valve between ")
    assert called(ways, "cistern") == "the feed-and-expansion cistern"
    assert called(ways, "stove_vent") == "the open vent of Stove"
    assert called(ways, "nothing of the kind") == "nothing of the kind"


def test_two_alike_are_told_apart_by_their_ids():
    s = fire()
    s.insert("leak_return", "isolating_valve", "V1", at=(3.2, 1.0))
    s.insert("leak_return", "isolating_valve", "V2", at=(3.2, 2.0))
    ways = Waterways(s.done(), CATALOGUE)
    assert called(ways, "V1").endswith(" (V1)") and called(ways, "V2").endswith(" (V2)")


@pytest.mark.parametrize("mistake", mistakes.MISTAKES, ids=lambda m: m.name)
def test_no_finding_speaks_of_ids(mistake):
    sheet = mistake.edit(systems.done(systems.base()))
    unnamed = [p.id for p in sheet.parts.values() if not p.name] + list(sheet.pipes)
    for finding in survey(sheet, CATALOGUE).findings:
        words = (finding.message + " " + finding.todo).replace(".", " ").replace(",", " ").split()
        assert not set(words) & {i for i in unnamed if "_" in i or i[-1].isdigit()}, finding.message
        assert finding.message[0].isupper() and finding.todo[0].isupper()


def test_findings_that_blame_one_part_are_grouped_under_the_worst():
    s = fire()
    s.insert("leak_flow", "pump", "P", at=ON_LEAK)
    found = survey(s.done(), CATALOGUE).findings
    first = next(f for f in found if "P" in f.culprits)
    rest = [f for f in found if "P" in f.culprits and f is not first]
    assert first.cause == 0 and all(f.cause == first.number for f in rest)
