"""How long what solves the flow takes beside the window: the second stage and the figures. Timed only with
`--benchmark-enable`.

Aims (of this project, no source): the second stage of the three-source house in half a second, its figures with the
flow in one; both again after an edit that touches no water nearly at once, since a net is solved once by its value.
"""

from __future__ import annotations

from pathlib import Path
from time import process_time

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.engineering import circulation, steady, valves
from loopwright.engineering.figures.every import figures
from loopwright.files import load
from loopwright.sheet import edits
from loopwright.survey import survey, survey_of
from loopwright.waterways import Waterways
from loopwright.waterways.systems import Systems
from loopwright.waterways.views import NORMAL

CATALOGUE = standard_catalogue()
SOUND = Path(__file__).parents[2] / "samples" / "sound"
AIM_MS = 500.0
FIGURES_AIM_MS = 1000.0


def forget() -> None:
    """As if no net had ever been solved."""
    for kept in (steady.steady, valves._rest, circulation._most_heat_W):
        kept.cache_clear()


def stage_ms(sheet, afresh: bool, times: int = 3) -> float:
    """Least milliseconds of the computed rules alone, those of the graph asked before."""
    took = []
    for _ in range(times):
        if afresh:
            forget()
        systems = Systems(sheet, CATALOGUE)
        survey_of(systems)
        begin = process_time()
        survey_of(systems, computed=True)
        took.append(1000 * (process_time() - begin))
    return min(took)


def figures_ms(sheet, afresh: bool, times: int = 3) -> float:
    took = []
    for _ in range(times):
        if afresh:
            forget()
        ways = Waterways(sheet, CATALOGUE)
        begin = process_time()
        figures(ways, NORMAL)
        took.append(1000 * (process_time() - begin))
    return min(took)


@pytest.mark.parametrize("name", ["three-source", "log-boiler"])
def test_the_second_stage(benchmark, measured, name):
    if benchmark.disabled:
        pytest.skip("timed only with --benchmark-enable")
    sheet = load(SOUND / f"{name}.loopwright", CATALOGUE)
    benchmark.pedantic(survey, args=(sheet, CATALOGUE), kwargs={"computed": True}, rounds=1)
    measured(f"second stage, {name}", stage_ms(sheet, True), AIM_MS if name == "three-source" else None)
    again = edits.set_title(sheet, "Another")
    measured(f"second stage, {name}, after an edit of no water", stage_ms(again, False), AIM_MS)
    measured.judge()


@pytest.mark.parametrize("name", ["three-source", "log-boiler"])
def test_figures_with_the_flow(benchmark, measured, name):
    if benchmark.disabled:
        pytest.skip("timed only with --benchmark-enable")
    sheet = load(SOUND / f"{name}.loopwright", CATALOGUE)
    benchmark.pedantic(figures, args=(Waterways(sheet, CATALOGUE), NORMAL), rounds=1)
    measured(f"figures with the flow, {name}", figures_ms(sheet, True), FIGURES_AIM_MS)
    measured(f"figures with the flow, {name}, again", figures_ms(sheet, False), FIGURES_AIM_MS)
    measured.judge()


def test_an_answer_kept_by_value_is_the_answer_found_afresh():
    """What an earlier sheet left behind must not show in a later one: kept and fresh surveys are one value."""
    sheet = load(SOUND / "stove-by-gravity.loopwright", CATALOGUE)
    other = edits.set_title(sheet, "Another")
    kept = survey(sheet, CATALOGUE, computed=True), survey(other, CATALOGUE, computed=True)
    forget()
    assert kept == (survey(sheet, CATALOGUE, computed=True), survey(other, CATALOGUE, computed=True))
