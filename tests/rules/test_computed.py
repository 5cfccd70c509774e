"""The rules that solve the flow: gravity too weak for a fire, water too fast, pumps too weak.

Which sheet is right or wrong is worked out beside each by hand from handbook figures; the solver itself is held to
independent balances elsewhere.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import msgspec
import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.rules.findings import Finding, Missing, Outcome, Severity, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet.values import Sheet
from loopwright.survey import survey
from loopwright.waterways import Waterways

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "samples"))
CATALOGUE = standard_catalogue()
COMPUTED = {slug for slug, found in all_rules(computed=True).items() if found.computed}


def said(slug: str, sheet: Sheet):
    return list(all_rules(computed=True)[slug].check(Case(Waterways(sheet, CATALOGUE))))


def stove(power_kw: float, size: str, top: float, mirror: bool = False) -> Sheet:
    """A stove and a store with its flow tapping at `top`, joined by a pair of one size."""
    s = draw.sheet("Pair")
    fire = s.add("boiler_stove", "stove", x_m=0.0, height_m=0.0, power_kw=power_kw, thermal_centre_m=0.4)
    tank = s.store(
        "store",
        x_m=3.0,
        height_m=0.1,
        volume_l=500.0,
        body_diameter_m=0.5,
        body_height_m=2.6,
        design_temp_c=80.0,
        tappings={
            "flow": {"height_m": top - 0.1, "side": "left", "purpose": "source_flow"},
            "return": {"height_m": 0.1, "side": "left", "purpose": "source_return"},
        },
    )
    s.pipe(fire["flow"], tank["flow"], size, via=[(1.0, 0.68), (1.0, top)], id="out")
    s.pipe(tank["return"], fire["return"], size, id="back", extra_bends=6)
    return s.done()


def test_a_stove_that_gravity_serves_is_sound():
    """6 kW at 100 Pa a metre (dp.gravity) over 1.8 m in 28 mm: about 300 kg/h, a rise under 20 K (handbook)."""
    (answer,) = said("gravity-loop/too-weak", stove(6.0, "28", 2.2))
    assert isinstance(answer, Sound) and "kg/h" in answer.because


@pytest.mark.parametrize(("power_kw", "size", "top"), [(12.0, "22", 1.1), (6.0, "15", 1.1)])
def test_a_stove_on_pipes_too_small_is_found_with_what_would_help(power_kw, size, top):
    """12 kW through 22 mm with 0.7 m of height: at a rise of 40 K it wants 260 kg/h, 0.23 m/s.

    By hand: density 992 at 40 °C, 972 at 80 °C give 0.7 m x 20 x 9.81 = 137 Pa. Losses at 0.23 m/s: (2 + 6 bends x 0.9
    + 2 + entry and exit 1.5) = 10.7 times 26 Pa = 285 Pa, pipe friction left out: it cannot run.
    """
    (answer,) = [a for a in said("gravity-loop/too-weak", stove(power_kw, size, top)) if not isinstance(a, Sound)]
    assert isinstance(answer, Finding) and answer.severity is Severity.FAULT
    assert answer.subject == "stove" and answer.culprits[0] in ("out", "back")
    assert "one size larger" in answer.todo and "0.5 m more height" in answer.todo


def test_a_missing_power_is_asked_for():
    sheet = stove(6.0, "28", 2.2)
    part = sheet.parts["stove"]
    part = msgspec.structs.replace(part, props={**part.props, "power_kw": None})
    (answer,) = said("gravity-loop/too-weak", msgspec.structs.replace(sheet, parts={**sheet.parts, "stove": part}))
    assert isinstance(answer, Missing) and (answer.part, answer.prop) == ("stove", "power_kw")


def pumped(head_m: float | None, flow_m3h: float | None, size: str, output_w: float = 5000.0, more_m: float = 60.0):
    """A store at 75 °C and one radiator at the end of a long pipe, with a pump."""
    s = draw.sheet("Pumped")
    tank = s.store(
        "store",
        x_m=0.0,
        height_m=0.0,
        volume_l=300.0,
        body_diameter_m=0.5,
        body_height_m=1.6,
        design_temp_c=75.0,
        tappings={
            "flow": {"height_m": 1.2, "side": "right", "purpose": "load_flow"},
            "return": {"height_m": 0.4, "side": "right", "purpose": "load_return"},
        },
    )
    curve = {k: v for k, v in (("head_m", head_m), ("flow_max_m3h", flow_m3h)) if v is not None}
    pump = s.add("pump", "P1", x_m=1.0, height_m=1.2, **curve)
    rad = s.add("radiator", "R1", x_m=4.5, height_m=1.2 - 0.552, output_w=output_w)
    s.pipe(tank["flow"], pump["a"], size, id="one")
    s.pipe(pump["b"], rad["flow"], size, id="two", extra_length_m=more_m)
    s.pipe(rad["return"], tank["return"], size, id="three", via=[(3.0, 0.696), (3.0, 0.4)])
    return s.done()


def test_a_pump_too_weak_for_a_long_thin_pipe():
    """5 kW at 20 K is 215 kg/h: 0.42 m/s in 15 mm, about 190 Pa/m (handbook charts), 12 kPa in 66 m; the pump has 8."""
    (answer,) = said("sizing/pump-too-weak", pumped(0.8, 2.0, "15"))
    assert isinstance(answer, Finding) and answer.severity is Severity.FAULT
    assert answer.subject == "P1" and answer.culprits == ("two",)
    assert answer.limit == pytest.approx(0.9 * 5000 / 4186 / 20 * 3600, abs=1)
    assert 0.5 * answer.limit < answer.measured < answer.limit


def test_the_same_pump_does_for_a_wider_pipe():
    """The same flow in 22 mm: 0.19 m/s, about 27 Pa/m (handbook charts), under 2 kPa."""
    (answer,) = said("sizing/pump-too-weak", pumped(0.8, 2.0, "22"))
    assert isinstance(answer, Sound)


def test_water_too_fast_is_advice_then_a_fault():
    """Speed is flow over bore: 22 mm copper has 320 mm2 (EN 1057); limits by the table of published figures."""
    area = math.pi / 4 * 0.0202**2
    (fault,) = said("sizing/water-too-fast", pumped(12.0, 6.0, "22", more_m=0.0))
    assert isinstance(fault, Finding) and fault.severity is Severity.FAULT and fault.measured > 2.5
    assert fault.measured < 6.0 / 3600 / area  # never more than the pump's free flow
    (advice,) = said("sizing/water-too-fast", pumped(6.0, 2.2, "22", more_m=0.0))
    assert isinstance(advice, Finding) and advice.severity is Severity.ADVICE and 1.5 < advice.measured < 2.5
    (quiet,) = said("sizing/water-too-fast", pumped(1.0, 1.0, "22", more_m=0.0))
    assert isinstance(quiet, Sound)  # 1 m3/h at most: 0.87 m/s


def test_a_pump_with_no_stated_curve_is_not_judged():
    for slug in ("sizing/pump-too-weak", "sizing/water-too-fast"):
        (answer,) = said(slug, pumped(None, None, "15"))
        assert isinstance(answer, Missing) and answer.part == "P1" and answer.prop == "head_m"


def test_the_rules_that_solve_the_flow_are_known():
    assert {
        "gravity-loop/too-weak",
        "vent-and-feed/pumps-over",
        "vent-and-feed/sucks-air",
        "sizing/water-too-fast",
        "sizing/pump-too-weak",
    } <= COMPUTED


def test_an_ordinary_survey_leaves_the_computed_rules_out():
    sheet = pumped(0.8, 2.0, "15")
    plain, whole = survey(sheet, CATALOGUE), survey(sheet, CATALOGUE, computed=True)
    assert not COMPUTED & {a.rule for a in plain.answers}
    assert {a.rule for a in whole.answers} - {a.rule for a in plain.answers} == COMPUTED
    assert "sizing/pump-too-weak" in {f.rule for f in whole.findings}


@pytest.mark.parametrize("path", sorted((ROOT / "samples" / "sound").glob("*.loopwright")), ids=lambda p: p.stem)
def test_sound_systems_stay_clear_with_the_flow_solved(path):
    result = survey(load(path, CATALOGUE), CATALOGUE, computed=True)
    assert not [a.because for a in result.answers if a.rule in COMPUTED and "defect" in a.because]
    assert not [f.rule for f in result.findings if f.rule in COMPUTED]


@pytest.mark.parametrize("name", ["stove-swapped-at-store", "pump-in-heat-leak"])
def test_no_faulty_sample_breaks_a_computed_rule(name):
    """Boiling, two states and a dead leak among them: each is an answer, never a defect."""
    sheet = load(ROOT / "samples" / "faulty" / f"{name}.loopwright", CATALOGUE)
    answers = survey(sheet, CATALOGUE, computed=True).answers
    assert {a.rule for a in answers} >= COMPUTED
    assert all("defect" not in a.because for a in answers if a.outcome is Outcome.NOT_ASSESSED)
