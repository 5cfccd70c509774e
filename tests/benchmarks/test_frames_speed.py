"""How long a frame of the sheet takes: pan, zoom and drag at 100 and 1000 parts. Timed only with `--benchmark-enable`.

The figures stand in the table that `pytest tests/benchmarks --benchmark-enable -s` prints. Aims, as median of the
frames painted offscreen on one core of an ordinary desk machine: 16.7 ms with 100 parts (sixty pictures a second), 33
ms with 1000 (thirty; aims of this project, no source).
"""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from itertools import count
from pathlib import Path
from time import process_time

import pytest

from benchmarks.many import side_by_side
from loopwright.canvas.scene import SheetScene
from loopwright.canvas.view import SheetView
from loopwright.catalogue import standard_catalogue
from loopwright.files import load
from loopwright.sheet import edits
from loopwright.survey import survey

CATALOGUE = standard_catalogue()
HOUSE = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"
AIM_S = {2: 0.0167, 16: 0.033}
"""By copies of a house of some 65 parts."""
pytestmark = pytest.mark.benchmark(timer=process_time, warmup=True, min_rounds=15)
"""Time of the processor, so that what else runs on the machine does not count."""


@pytest.fixture(params=sorted(AIM_S), ids=["100 parts", "1000 parts"])
def shown(request, qtbot):
    house = load(HOUSE, CATALOGUE)
    services = survey(house, CATALOGUE).services
    sheet = side_by_side(house, request.param)
    scene = SheetScene(CATALOGUE)
    scene.show(sheet, {f"{key}_{k}": service for key, service in services.items() for k in range(request.param)})
    view = SheetView(scene)
    qtbot.addWidget(view)
    view.resize(1044, 892)
    view.show()
    view.centre_on((5.0, 3.0))
    qtbot.wait(50)
    return view, scene, sheet, AIM_S[request.param]


def judge(benchmark, measured, what: str, shown) -> None:
    if benchmark.enabled:
        _, _, sheet, aim = shown
        measured(f"frame, {what}, {len(sheet.parts)} parts", 1e3 * benchmark.stats.stats.median, 1e3 * aim)
        measured.judge()


def test_a_step_of_panning(benchmark, measured, shown, qapp):
    view, _, _, _ = shown
    way = count()

    def step():
        view.pan(12.0 if next(way) % 20 < 10 else -12.0, 0.0)
        qapp.processEvents()

    benchmark(step)
    judge(benchmark, measured, "panning", shown)


def test_a_step_of_zoom(benchmark, measured, shown, qapp):
    view, _, _, _ = shown
    steps = count()

    def step():
        view.set_zoom(1.0 + 0.01 * (next(steps) % 4))
        qapp.processEvents()

    benchmark(step)
    judge(benchmark, measured, "zoom", shown)


def test_a_step_of_dragging_a_part_with_its_pipes(benchmark, measured, shown, qapp):
    _, scene, sheet, _ = shown
    steps = count(1)

    def step():
        scene.show(edits.move(sheet, {"R2_0"}, 0.05 * (next(steps) % 20), 0.0, CATALOGUE), settled=False)
        qapp.processEvents()

    benchmark(step)
    judge(benchmark, measured, "dragging a part", shown)


def test_a_step_of_dragging_a_group(benchmark, measured, shown, qapp):
    _, scene, sheet, _ = shown
    steps = count(1)
    group = {"R1_0", "R2_0", "TV1_0", "TV2_0", "boiler_0", "SVT_0", "SV1_0", "P2_0"}

    def step():
        scene.show(edits.move(sheet, group, 0.05 * (next(steps) % 10), 0.0, CATALOGUE), settled=False)
        qapp.processEvents()

    benchmark(step)
    judge(benchmark, measured, "dragging a group", shown)


def test_the_frame_after_an_edit(benchmark, measured, shown, qapp):
    """A part let go in its new place: the edit itself, and the sheet as it stands then."""
    _, scene, sheet, _ = shown
    steps = count(1)

    def step():
        scene.show(edits.move(sheet, {"R2_0"}, 0.05 * (next(steps) % 20), 0.0, CATALOGUE))
        qapp.processEvents()

    benchmark(step)
    judge(benchmark, measured, "an edit", shown)


def test_finding_what_is_under_the_pointer(benchmark, measured, shown):
    _, scene, sheet, _ = shown
    steps = count()
    benchmark(lambda: scene.hit((4.0 + 0.1 * (next(steps) % 30), 3.0), 0.008))
    if benchmark.enabled:
        measured(f"what is under the pointer, {len(sheet.parts)} parts", 1e3 * benchmark.stats.stats.median, 2.0)
        measured.judge()
