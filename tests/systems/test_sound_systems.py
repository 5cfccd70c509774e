"""Sound systems: no danger and no fault, whatever a careless rule might think of them.

That each is sound is common practice of the trade, as the rules' own pages name it with their sources.
"""

from __future__ import annotations

import others
import pytest
import small_systems

import systems
from loopwright.catalogue import standard_catalogue
from loopwright.rules.findings import Severity
from loopwright.survey import survey

CATALOGUE = standard_catalogue()
SAMPLES = {
    "01-stove-beside-a-store": others.stove_by_gravity,
    "06-sealed-log-boiler": others.log_boiler,
    "08-oil-boiler-by-coil": others.oil_by_coil,
    "three-source-store": systems.three_source,
}


def bad(sheet):
    """Every danger and fault, with what it says."""
    return [(f.rule, f.severity.word, f.culprits, f.message) for f in survey(sheet, CATALOGUE).findings
            if f.severity > Severity.ADVICE]


@pytest.mark.parametrize("name", sorted(small_systems.SYSTEMS))
def test_a_sound_system_has_no_danger_and_no_fault(name):
    assert bad(small_systems.SYSTEMS[name]().done()) == []


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_sample_has_no_danger_and_no_fault(name):
    assert bad(systems.done(SAMPLES[name]())) == []
