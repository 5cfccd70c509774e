"""Conditions tried on a sheet: what a fire does in them, held to what the trade expects of each fault."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.resources import resource_root
from loopwright.rules.registry import Case
from loopwright.rules.replay import named, replay
from loopwright.rules.trials import conditions, telling, trials
from loopwright.survey import survey
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from typed import typed

CATALOGUE = standard_catalogue()
SAMPLES = Path(__file__).parents[2] / "samples"
SOUND = sorted((SAMPLES / "sound").glob("*.loopwright")) + sorted((resource_root() / "starters").glob("*.loopwright"))


def ways_of(path: Path) -> Waterways:
    return Waterways(load(path, CATALOGUE), CATALOGUE)


@pytest.mark.parametrize("path", SOUND, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_no_plausible_condition_endangers_a_sound_system(path):
    """What makes a system sound (common practice, no source): one thing going wrong never traps the fire's heat."""
    found = trials(Case(ways_of(path)))
    assert len(found) > 1
    assert [t.words for t in found if not t.holds] == []


def test_a_shut_valve_on_the_stove_flow_stops_its_water():
    found = trials(Case(ways_of(SAMPLES / "faulty" / "valve-on-stove-flow.loopwright")))
    lost = {t.words: t.lost for t in telling(found) if t.lost}
    words = "The isolating valve between Stove and Heat store shut"
    assert lost == {words: ("stove",)}, "the pairs that only repeat it are left out"


@pytest.mark.parametrize(
    ("sample", "condition"),
    [
        ("valve-on-heat-leak", Condition(power=False, shut=frozenset({"V1"}))),
        ("pump-in-heat-leak", POWER_CUT),
        ("check-in-heat-leak", POWER_CUT),
    ],
)
def test_a_blocked_heat_leak_leaves_only_the_store(sample, condition):
    (trial,) = trials(Case(ways_of(SAMPLES / "faulty" / f"{sample}.loopwright")), wanted=[condition])
    assert trial.filling == ("stove",) and trial.says == ("Stove keeps its water moving by gravity, to Heat store.",)


def test_pairs_are_one_standing_state_and_one_event():
    ways = ways_of(SAMPLES / "sound" / "three-source.loopwright")
    tried = list(conditions(ways))
    assert tried[:2] == [NORMAL, POWER_CUT] and len(set(tried)) == len(tried)
    assert all(len(c.shut) <= 1 and len(c.stopped) <= 1 for c in tried)
    assert {c.shut for c in tried if not c.power} == {c.shut for c in tried}


@pytest.mark.parametrize("path", sorted((SAMPLES / "faulty").glob("*.loopwright")), ids=lambda p: p.stem)
def test_a_finding_replays_in_the_condition_it_names(path):
    ways = ways_of(path)
    for finding in survey(ways.sheet, CATALOGUE).findings:
        condition = replay(ways, finding)
        assert finding.condition == ("" if condition == NORMAL else named(ways, condition))
        blamed = {finding.subject, *finding.culprits}
        assert condition.shut <= blamed


def test_the_command_line_tries_them():
    path = SAMPLES / "faulty" / "valve-on-stove-flow.loopwright"
    done = typed("conditions", path, "--format", "json")
    assert done.returncode == 1, done.stderr
    (bad,) = [t for t in json.loads(done.stdout) if t["lost"]]
    assert bad["shut"] == ["V1"] and bad["power"] is True
