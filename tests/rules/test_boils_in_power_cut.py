"""The rule that plays a power cut in time, on sheets whose answer follows from a balance of heat worked out by hand.

Heat of water 4.19 kJ/(kg K) and 988 kg/m3 about 50 degC (handbook); boiling under 5 m of water about 111 degC (steam
tables: 1.5 bar absolute boils at 111 degC).
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import msgspec
import pytest
from fire_sheets import fire

from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet.values import Sheet
from loopwright.survey import survey
from loopwright.waterways import Waterways

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "samples"))
SLUG = "solid-fuel/boils-in-power-cut"
CATALOGUE = standard_catalogue()
SMALL = {"volume_l": 120.0, "body_diameter_m": 0.3}


def said(sheet: Sheet):
    return list(all_rules(computed=True)[SLUG].check(Case(Waterways(sheet, CATALOGUE))))


@cache
def small() -> Finding:
    """The finding of a stove on a store far too small for its charge, with no leak."""
    (answer,) = said(fire(leak_w=None, tank=SMALL).done())
    assert isinstance(answer, Finding)
    return answer


def test_a_store_that_takes_the_charge_is_sound():
    """10 kWh into 500 l of 60 degC on average: 36e6 J / (494 kg x 4.19 kJ/(kg K)) = 17 K. Far from boiling."""
    (answer,) = said(fire().done())
    assert isinstance(answer, Sound) and "peaks at" in answer.because


def test_a_store_too_small_for_the_charge_boils():
    """10 kWh into 120 l of 60 degC on average would be 72 K: 132 degC, and it boils at 111 on the way there.

    The heat to that boil, 51 K in 119 kg, is 7.0 kWh, less what pipes lose: 53 min of 8 kW at the least.
    """
    answer = small()
    assert isinstance(answer, Finding)
    assert answer.measured is not None and 30.0 < answer.measured < 80.0
    assert answer.subject == "stove" and answer.condition == "Power cut"
    assert "100 l more store" in answer.todo and "one size larger" in answer.todo and "more height" in answer.todo


def test_more_water_or_a_leak_is_told_to_help():
    """With 100 l more, 220 l, the same charge gives 39 K: 99 degC at the most, so that it no longer boils."""
    answer = small()
    more = answer.todo.split("100 l more store: ")[1]
    assert more.startswith("peaks at")


def test_a_filled_in_default_holds_it_to_a_fault():
    """A danger needs figures that somebody typed: the store passes 100 degC, but its size is the kind's own."""
    sheet = fire(leak_w=None, tank=SMALL, burn_time_h=2.0).done()
    props = {k: v for k, v in sheet.parts["stove"].props.items() if k != "power_kw"}
    parts = {**sheet.parts, "stove": msgspec.structs.replace(sheet.parts["stove"], props=props)}
    (filled,) = said(msgspec.structs.replace(sheet, parts=parts))
    assert isinstance(filled, Finding) and filled.severity is Severity.FAULT


def test_without_a_charge_it_is_not_judged():
    (answer,) = said(fire(charge_kwh=None, burn_time_h=None).done())
    assert isinstance(answer, Missing) and answer.prop == "charge_kwh"


def test_a_sheet_without_a_fire_runs_nothing():
    sheet = load(ROOT / "samples" / "sound" / "oil-by-coil.loopwright", CATALOGUE)
    assert said(sheet) == []


@pytest.mark.parametrize("name", ["three-source", "stove-by-gravity", "log-boiler"])
def test_sound_samples_do_not_boil(name):
    (answer,) = said(load(ROOT / "samples" / "sound" / f"{name}.loopwright", CATALOGUE))
    assert isinstance(answer, Sound)


def test_swapped_pipes_are_told_once():
    """A stove joined the wrong way round boils too, but the swap is the cause: the run yields to it."""
    sheet = load(ROOT / "samples" / "faulty" / "stove-swapped-at-store.loopwright", CATALOGUE)
    (answer,) = said(sheet)
    assert isinstance(answer, Finding)
    known = {f.rule for f in survey(sheet, CATALOGUE).findings}
    assert known & set(all_rules(computed=True)[SLUG].yields_to)
