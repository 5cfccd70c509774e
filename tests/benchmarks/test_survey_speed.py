"""How long a whole survey takes, and how that grows with the sheet. Timed only with `--benchmark-enable`.

The figures stand in the table that `pytest tests/benchmarks --benchmark-enable -s` prints. Aims: 100 parts in 20 ms,
1000 in 250 ms on one core of an ordinary desk machine, growing with the number of parts (aims of this project, no
source).
"""

from __future__ import annotations

import gc
import math
import time

import pytest

from benchmarks.many import side_by_side
from loopwright.rules.findings import Severity
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet import edits
from loopwright.survey import condition_view, survey, survey_of
from loopwright.waterways import Waterways
from loopwright.waterways.systems import Systems
from loopwright.waterways.views import NORMAL
from waterways.drawn import CATALOGUE, base_sheet, systems

SIZES = (100, 300, 1000, 5000)
AIM_MS = {100: 20.0, 300: 75.0, 1000: 250.0, 5000: 1500.0}
EXPONENT_AIM = 1.15
"""Of growth from the least sheet to the largest: time goes with the parts to this power."""
pytestmark = pytest.mark.benchmark(timer=time.process_time)
LOOSE = 4.0
"""A shared or slow machine may take so many times the aim before the test fails."""
found_ms: dict[tuple[str, int], tuple[int, float]] = {}


def sheet_of(parts: int, faulty: bool = False):
    """A sheet of about that many parts; faulty: a pump in each stove flow, and a valve in each vent."""
    one = base_sheet()
    if faulty:
        house = systems().base()
        house.b.insert(house.b.sheet.pipes["stove_flow"].id, "pump", at=(1.7, 1.2))
        house.b.insert(house.b.sheet.pipes["stove_vent"].id, "isolating_valve", at=(1.7, 4.5))
        one = systems().done(house)
    copies = max(1, round(parts / len(one.parts)))
    return side_by_side(one, copies, apart_m=min(20.0, 950.0 / copies))  # a sheet is a kilometre wide at most


@pytest.mark.parametrize("faulty", [False, True], ids=["sound", "faulty"])
@pytest.mark.parametrize("parts", SIZES)
def test_a_whole_survey(benchmark, measured, parts, faulty):
    if parts > 1000 and benchmark.disabled:
        pytest.skip("timed only")
    sheet = sheet_of(parts, faulty)
    survey(sheet, CATALOGUE)  # pages and tables are read once
    result = benchmark.pedantic(survey, (sheet, CATALOGUE), rounds=5)
    dangers = [f for f in result.findings if f.severity is Severity.DANGER]
    copies = len(sheet.parts) // len(sheet_of(1, faulty).parts)
    assert bool(dangers) == faulty and len(dangers) % copies == 0
    if benchmark.disabled:
        return
    word = "faulty" if faulty else "sound"
    took = benchmark.stats.stats.min * 1e3
    found_ms[word, parts] = (len(sheet.parts), took)
    small = found_ms.get((word, SIZES[0]))
    grows = math.log(took / small[1]) / math.log(len(sheet.parts) / small[0]) if small and parts > SIZES[0] else None
    aim = AIM_MS[parts] * len(sheet.parts) / parts
    note = f"{len(result.findings)} findings" + (f", grows with the power {grows:.2f}" if grows else "")
    measured(f"survey, {word}, {len(sheet.parts)} parts", took, aim, note=note)
    if parts == SIZES[-1] and grows:
        measured(f"survey, {word}, growth from 100 to 5000 parts", grows, EXPONENT_AIM, "power")
    assert took < LOOSE * AIM_MS[parts] * len(sheet.parts) / parts
    if small and took > 20.0 and parts <= 1000:  # beyond, the power of the growth is held against its aim
        assert took / small[1] < 2.0 * len(sheet.parts) / small[0], "grows faster than the sheet"
    measured.judge()


FRAME_MS = 1000.0 / 60.0


def again_ms(sheet) -> float:
    """Least milliseconds of a survey after an edit of one part, what the edit left alone kept."""
    part = next(p.id for p in sheet.parts.values() if p.kind == "radiator")
    systems = Systems(sheet, CATALOGUE)
    survey_of(systems)
    took = []
    for n in range(10):
        sheet = edits.set_property(sheet, part, "output_w", 1000.0 + n, CATALOGUE)
        begin = time.process_time()
        systems = Systems(sheet, CATALOGUE, systems)
        survey_of(systems)
        took.append(1e3 * (time.process_time() - begin))
    return min(took)


@pytest.mark.parametrize("parts", SIZES)
def test_the_graph_rules_again_after_an_edit_of_one_part(benchmark, measured, parts):
    """Aims: one frame of a 60 Hz screen on the base sheet's system of 65 parts, and two on a thousand parts
    in many systems; five thousand are for the growth alone."""
    if benchmark.disabled:
        pytest.skip("a matter of time alone")
    sheet = sheet_of(parts)
    took = again_ms(sheet)
    benchmark.pedantic(lambda: None)
    aim = FRAME_MS if parts <= 300 else 2 * FRAME_MS if parts <= 1000 else None
    measured(f"survey again after an edit, {len(sheet.parts)} parts", took, aim)
    assert aim is None or took < LOOSE * aim
    measured.judge()


@pytest.mark.parametrize("parts", SIZES)
def test_what_moves_under_a_condition(benchmark, measured, parts):
    sheet = sheet_of(parts)
    view = benchmark.pedantic(condition_view, (sheet, CATALOGUE, NORMAL), rounds=5)
    assert view.moving
    if not benchmark.disabled:
        measured(f"what moves, {len(sheet.parts)} parts", benchmark.stats.stats.min * 1e3)


def test_copies_side_by_side_find_what_one_finds():
    """The large sheets ask the same of every copy: each finding of one appears once a copy."""
    one, three = survey(sheet_of(1, True), CATALOGUE), survey(sheet_of(195, True), CATALOGUE)
    names = sorted(f.rule for f in one.findings)
    copies = len(sheet_of(195, True).parts) // len(sheet_of(1, True).parts)
    assert copies >= 2 and sorted(f.rule for f in three.findings) == sorted(names * copies)


def test_no_rule_grows_with_the_square_of_the_sheet(benchmark):
    """Each rule alone on 4 and on 16 copies: four times the sheet may take eight times as long, not sixteen."""
    if benchmark.disabled:
        pytest.skip("a matter of time alone")
    took: dict[int, dict[str, float]] = {}
    for copies in (4, 16):
        sheet = side_by_side(base_sheet(), copies)
        best: dict[str, float] = {}
        gc.disable()  # a sweep would fall on whichever rule comes last
        for _ in range(3):
            case = Case(Waterways(sheet, CATALOGUE))
            for slug, rule in all_rules().items():
                start = time.process_time()
                list(rule.check(case))
                best[slug] = min(best.get(slug, 1e9), time.process_time() - start)
        gc.enable()
        took[copies] = best
    slow = {slug: (took[4][slug] * 1e3, t * 1e3) for slug, t in took[16].items() if t > 5e-3 and t > 8 * took[4][slug]}
    benchmark.pedantic(lambda: None)
    assert not slow, slow
