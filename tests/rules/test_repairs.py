"""A repair clears its finding and brings no danger and no fault, on single mistakes and on nonsense alike.

What a mistake is comes from `samples/mistakes.py`, which follows the trade's own rules (sources on the rules' pages).
"""

from __future__ import annotations

import random
import sys
from functools import cache
from pathlib import Path

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.draw import Drawing
from loopwright.rules.findings import Severity
from loopwright.rules.registry import all_rules
from loopwright.rules.repairs import repair_all, repairable, repairs, tried
from loopwright.sheet import edits
from loopwright.sheet.ports import box_of
from loopwright.survey import survey

ROOT = Path(__file__).resolve().parents[2]
for folder in (ROOT / "samples", ROOT / "tests" / "systems"):
    sys.path.insert(0, str(folder))

import mistakes  # noqa: E402
from test_any_sheet import random_sheet  # noqa: E402

import systems  # noqa: E402

CATALOGUE = standard_catalogue()
NOT_REPAIRED = frozenset(
    {
        "no-heat-leak-radiator",
        "vent-over-drinking-water",
        "no-mixing-valve",
        "no-bypass",
    }
)
"""Mistakes whose cure is a part to be chosen, sized and piped by a person."""


@cache
def sound():
    return systems.done(systems.base())


def bad(sheet):
    """Every danger and fault as (rule, subject, culprits)."""
    return {(f.rule, f.subject, f.culprits) for f in survey(sheet, CATALOGUE).findings if f.severity > Severity.ADVICE}


def of(sheet, rule):
    """The first finding of a rule."""
    return next(f for f in survey(sheet, CATALOGUE).findings if f.rule == rule)


@pytest.mark.parametrize("m", [m for m in mistakes.MISTAKES if m.name not in NOT_REPAIRED], ids=lambda m: m.name)
def test_each_mistake_is_put_right(m):
    edited = m.edit(sound())
    found = repairs(edited, CATALOGUE, of(edited, m.rule), survey)
    assert found
    for one in found:
        after = one.edit(edited)
        assert one.label[0].isupper() and not one.label.endswith(".")
        assert after != edited and one.edit(edited) == after
        assert bad(after) == set()


@pytest.mark.parametrize("m", [m for m in mistakes.MISTAKES if m.name in NOT_REPAIRED], ids=lambda m: m.name)
def test_what_a_person_has_to_choose_is_left_alone(m):
    edited = m.edit(sound())
    assert repairs(edited, CATALOGUE, of(edited, m.rule), survey) == ()


def test_the_mistake_itself_is_undone():
    """A valve, a check or a pump taken out leaves the sheet as it was before it went in, but for the pipe's name."""
    for name in ("valve-on-heat-leak", "check-in-heat-leak", "valve-on-feed", "valve-before-relief"):
        m = next(m for m in mistakes.MISTAKES if m.name == name)
        edited = m.edit(sound())
        after = repairs(edited, CATALOGUE, of(edited, m.rule), survey)[0].edit(edited)
        assert after.parts == sound().parts
        assert {p.points for p in after.pipes.values()} == {p.points for p in sound().pipes.values()}


def test_whoever_writes_a_repair_is_told_what_became_of_it():
    m = next(m for m in mistakes.MISTAKES if m.name == "valve-on-heat-leak")
    edited = m.edit(sound())
    finding = of(edited, m.rule)
    assert [label for label, why in tried(edited, CATALOGUE, finding, survey) if not why] == [
        r.label for r in repairs(edited, CATALOGUE, finding, survey)
    ]
    opened = mistakes.without(sound(), "stove_flow")
    finding = next(
        f for f in survey(opened, CATALOGUE).findings if (f.rule, f.subject) == ("circuit/open-end", "stove")
    )
    said = tried(opened, CATALOGUE, finding, survey)
    assert all(why for _, why in said) and repairs(opened, CATALOGUE, finding, survey) == ()


def test_only_rules_that_exist_have_a_repair():
    assert set(repairable()) <= set(all_rules())


@pytest.mark.parametrize("seed", range(0, 120, 4))
def test_no_repair_fails_on_any_sheet(seed):
    sheet = random_sheet(seed)
    before = survey(sheet, CATALOGUE)
    worse = bad(sheet)
    findings = [f for f in before.findings if f.rule in repairable()]
    random.Random(seed).shuffle(findings)
    for finding in findings[:6]:
        for one in repairs(sheet, CATALOGUE, finding, survey, before=before):
            after = survey(one.edit(sheet), CATALOGUE)
            assert (finding.rule, finding.subject, finding.culprits) not in {
                (f.rule, f.subject, f.culprits) for f in after.findings
            }
            covered = {(a.rule, a.subject) for a in before.answers if a.outcome == "covered"}
            known = {(r, s) for r, s, _ in worse} | covered
            assert {(f.rule, f.subject) for f in after.findings if f.severity > Severity.ADVICE} <= known


# -- single edits the mistakes do not hold ----------------------------------------------------------------------------


def test_a_pump_that_faces_back_is_turned_round_where_it_stands():
    from loopwright.rules.mending.steps import turn_round

    edited = turn_round(sound(), "P1", CATALOGUE)
    assert ("circuit/pump-backwards", "P1") in {(r, s) for r, s, _ in bad(edited)}
    (one,) = repairs(edited, CATALOGUE, of(edited, "circuit/pump-backwards"), survey)
    assert one.edit(edited) == sound()
    assert [p.points for p in edited.pipes.values()] == [p.points for p in sound().pipes.values()]


def test_an_open_end_of_a_tee_is_capped_and_one_of_a_stove_is_not():
    spare = mistakes.without(sound(), "DC1")
    finding = of(spare, "circuit/open-end")
    (one,) = repairs(spare, CATALOGUE, finding, survey)
    after = one.edit(spare)
    new = set(after.parts) - set(spare.parts)
    assert [after.parts[p].kind for p in new] == ["cap"]
    assert {p.other(finding.subject).part for p in after.pipes_of(finding.subject)} >= new
    fire = mistakes.without(sound(), "stove_flow")
    opened = next(f for f in survey(fire, CATALOGUE).findings if f.rule == "circuit/open-end" and f.subject == "stove")
    assert repairs(fire, CATALOGUE, opened, survey) == ()


def test_a_pocket_is_moved_into_its_zone():
    letter = next(t.letter for t in sound().parts["store"].tappings if t.name == "boiler sensor")
    edited = edits.set_tapping(sound(), "store", letter, CATALOGUE, height_m=0.12)
    (one,) = repairs(edited, CATALOGUE, of(edited, "tapping/sensor-in-wrong-zone"), survey)
    pocket = next(t for t in one.edit(edited).parts["store"].tappings if t.name == "boiler sensor")
    assert 0.9 - 0.03 <= pocket.height_m <= 1.53 + 0.03  # the boiler's coil reaches from 0.90 m to 1.53 m


def test_a_mixing_valve_is_set_to_what_the_tap_wants():
    edited = mistakes.set_to(sound(), "TM1", setting_c=60.0)
    finding = of(edited, "domestic/scald-risk")
    one = repairs(edited, CATALOGUE, finding, survey)[0]
    assert one.edit(edited).parts["TM1"].props["setting_c"] <= 46.0  # a bath, Approved Document G: 48 °C at most


def test_a_thin_feed_and_a_thin_vent_get_22_mm():
    for pipe, rule in (("feed", "vent-and-feed/feed-too-small"), ("stove_vent", "vent-and-feed/vent-too-small")):
        edited = edits.set_pipe(sound(), pipe, size="15")
        one = repairs(edited, CATALOGUE, of(edited, rule), survey)[0]
        assert one.edit(edited).pipes[pipe].size in ("22", "28")


def test_air_is_let_out_where_it_collects():
    m = next(m for m in mistakes.MISTAKES if m.name == "coils-exchanged")
    edited = m.edit(sound())
    finding = of(edited, "circuit/air-trap")
    (one,) = repairs(edited, CATALOGUE, finding, survey)
    after = one.edit(edited)
    (vent,) = [p for p in after.parts.values() if p.id not in edited.parts and p.kind == "air_vent_manual"]
    assert vent.height_m > finding.spot[1]
    assert finding.subject not in {f.subject for f in survey(after, CATALOGUE).findings if f.rule == "circuit/air-trap"}


def test_a_vessel_stands_free_and_is_large_enough():
    m = next(m for m in mistakes.MISTAKES if m.name == "no-boiler-vessel")
    edited = m.edit(sound())
    (one,) = repairs(edited, CATALOGUE, of(edited, m.rule), survey)
    after = one.edit(edited)
    (vessel,) = [p for p in after.parts.values() if p.id not in edited.parts and p.kind == "expansion_vessel"]
    mine = box_of(vessel, CATALOGUE)
    for other in after.parts.values():
        box = box_of(other, CATALOGUE)
        apart = mine[0] >= box[2] or box[0] >= mine[2] or mine[1] >= box[3] or box[1] >= mine[3]
        assert other.id == vessel.id or apart
    judged = {
        a.outcome
        for a in survey(after, CATALOGUE).answers
        if a.rule == "sealed/vessel-too-small" and a.subject == "boiler"
    }
    assert judged == {"pass"}


def test_a_water_without_a_drain_cock_gets_one_below_its_pipe():
    edited = mistakes.cap(mistakes.without(sound(), "DC1"), *mistakes._towards(sound(), "DCT", "down"))
    finding = of(edited, "circuit/no-drain")
    (one,) = repairs(edited, CATALOGUE, finding, survey)
    after = one.edit(edited)
    (cock,) = [p for p in after.parts.values() if p.id not in edited.parts and p.kind == "drain_cock"]
    tee = next(p.other(cock.id).part for p in after.pipes_of(cock.id))
    assert after.parts[tee].kind == "tee" and cock.height_m < after.parts[tee].height_m


def test_a_locked_part_is_never_taken_out():
    m = next(m for m in mistakes.MISTAKES if m.name == "valve-on-vent")
    drawing = Drawing(m.edit(sound()), CATALOGUE)
    edited = edits.set_part(drawing.sheet, "V1", locked=True)
    assert repairs(edited, CATALOGUE, of(edited, m.rule), survey) == ()


def test_several_mistakes_are_put_right_one_after_another():
    edited = sound()
    for name in ("valve-on-vent", "plastic-heat-leak", "small-cistern"):
        edited = next(m for m in mistakes.MISTAKES if m.name == name).edit(edited)
    assert len(bad(edited)) == 3
    after, done = repair_all(edited, CATALOGUE, survey)
    assert bad(after) == set()
    assert {f.rule for f, _ in done} >= {
        "solid-fuel/vent-can-close",
        "solid-fuel/plastic-pipe",
        "vent-and-feed/cistern-too-small",
    }
    again, nothing = repair_all(after, CATALOGUE, survey)
    assert again == after and nothing == ()
