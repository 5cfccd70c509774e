"""How long a frame of the sheet takes at 100 and 1000 parts: view, drag, edit, choose, and what the checks bring.

Timed only with `--benchmark-enable`. The figures stand in the table that `pytest tests/benchmarks --benchmark-enable
-s` prints. Aims, as median of the frames painted offscreen on one core of an ordinary desk machine: 16.7 ms with 100
parts (sixty pictures a second), 33 ms with 1000 (thirty; aims of this project, no source).
"""

from __future__ import annotations

import gc
import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from collections.abc import Callable
from itertools import count
from pathlib import Path
from time import process_time

import pytest

from benchmarks.many import side_by_side
from loopwright.canvas.fonts import load_fonts
from loopwright.canvas.scene import Flag, SheetScene
from loopwright.canvas.view import SheetView
from loopwright.catalogue import standard_catalogue
from loopwright.files import load
from loopwright.sheet import edits
from loopwright.sheet.meanwhile import Hand
from loopwright.survey import survey
from loopwright.window.sweeping import Sweeper

CATALOGUE = standard_catalogue()
HOUSE = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"
AIM_S = {2: 0.0167, 16: 0.033}
"""By copies of a house of some 65 parts."""
ROUNDS, WARM = 9, 2
pytestmark = pytest.mark.benchmark(timer=process_time)
"""Time of the processor, so that what else runs on the machine does not count."""


class Shown:
    """A sheet in a view at 100 %, with a step to be timed again and again."""

    def __init__(self, copies: int, qapp) -> None:
        house = load(HOUSE, CATALOGUE)
        known = survey(house, CATALOGUE).services
        self.copies, self.aim_s, self._app = copies, AIM_S[copies], qapp
        self.sheet = side_by_side(house, copies)
        self.services = {f"{key}_{k}": service for key, service in known.items() for k in range(copies)}
        self.scene = SheetScene(CATALOGUE)
        self.scene.show(self.sheet, self.services)
        self.view = SheetView(self.scene)
        self.view.resize(1044, 892)
        self.view.show()
        self.settle()

    @property
    def parts(self) -> int:
        return len(self.sheet.parts)

    def settle(self) -> None:
        """Back to the sheet as it was, at rest."""
        self.scene.show_findings(())
        self.scene.choose(())
        self.scene.show_condition({}, ())
        self.scene.light(())
        self.view.set_zoom(1.0)
        self.view.centre_on((5.0, 3.0))
        self.scene.show(self.sheet, self.services)
        self.frame()

    def frame(self) -> None:
        """All that is to be done until the picture stands: words are placed once a change has been shown."""
        self._app.processEvents()
        self._app.processEvents()

    def moved(self, ids, step: int, hand: Hand | None = None):
        """A group moved, never twice by the same."""
        return edits.move(self.sheet, ids, 0.05 * (step % 20), 0.05 * (step // 20), CATALOGUE, hand)


@pytest.fixture(scope="module", params=sorted(AIM_S), ids=["100 parts", "1000 parts"])
def shown(request, qapp):
    load_fonts()
    made, thresholds = Shown(request.param, qapp), gc.get_threshold()
    sweeper = Sweeper()  # as in the window: memory is tidied while the hand rests
    sweeper.begin()
    sweeper.sweep()
    yield made
    gc.set_threshold(*thresholds)
    gc.unfreeze()
    made.view.close()
    made.view.setScene(None)


@pytest.fixture
def frames(shown, benchmark, measured) -> Callable:
    """Time a step that is given its number, and hold the median against the aim."""

    def run(what: str, step: Callable[[int], object], aim_s: float | None = None) -> None:
        shown.settle()
        number = count(1)
        benchmark.pedantic(lambda: step(next(number)), rounds=ROUNDS if benchmark.enabled else 1, warmup_rounds=WARM)
        shown.settle()
        if benchmark.enabled:
            aim = shown.aim_s if aim_s is None else aim_s
            measured(f"{what}, {shown.parts} parts", 1e3 * benchmark.stats.stats.median, 1e3 * aim)
            measured.judge()

    return run


def test_panning(shown, frames):
    def step(k):
        shown.view.pan(12.0 if k % 20 < 10 else -12.0, 0.0)
        shown.frame()

    frames("frame, panning", step)


def test_zooming(shown, frames):
    def step(k):
        shown.view.set_zoom(1.0 + 0.01 * (k % 4))
        shown.frame()

    frames("frame, zoom", step)


@pytest.mark.parametrize("many", [1, 8, 20, 100, 0], ids=lambda n: f"{n or 'all'}")
def test_dragging_parts_with_their_pipes(shown, frames, many):
    """The edit of each move of the pointer and its frame. Eight are a boiler with its fittings, more the first of a
    house: of their pipes some cannot be stretched and are shown by a stand-in while the hand moves."""
    boiler = {"R1_0", "R2_0", "TV1_0", "TV2_0", "boiler_0", "SVT_0", "SV1_0", "P2_0"}
    first = sorted(shown.sheet.parts, key=lambda key: key.rpartition("_")[2].zfill(2))
    group, hand = {1: {"R2_0"}, 8: boiler}.get(many, set(first[: many or None])), Hand()

    def step(k):
        shown.scene.show(shown.moved(group, k, hand), settled=False)
        shown.frame()

    frames(f"frame, dragging {many or 'all'}", step)


def test_dragging_all_that_is_chosen(shown, frames):
    """Without the edit: how the marks of a selection go along."""
    shown.settle()
    sheets = [shown.moved(set(shown.sheet.parts), k) for k in range(1, ROUNDS + WARM + 1)]

    def step(k):
        shown.scene.choose([*shown.sheet.parts, *shown.sheet.pipes])
        shown.scene.show(sheets[k - 1], settled=False)
        shown.frame()

    frames("frame, dragging all that is chosen, without the edit", step)


def test_an_edit(shown, frames):
    """A part let go in its new place: the edit itself, and the sheet as it stands then, words and all."""

    def step(k):
        shown.scene.show(shown.moved({"R2_0"}, k))
        shown.frame()

    frames("frame, an edit", step)


@pytest.mark.parametrize("many", [1, 0], ids=["of one part", "of all"])
def test_undo_and_redo(shown, frames, many):
    other = shown.moved({"R2_0"} if many else set(shown.sheet.parts), 3)

    def step(k):
        shown.scene.show((other, shown.sheet)[k % 2])
        shown.frame()

    frames(f"frame, undoing a move of {many or 'all'}", step)


def test_choosing_everything(shown, frames):
    everything = frozenset([*shown.sheet.parts, *shown.sheet.pipes, *shown.sheet.links])

    def step(k):
        shown.scene.choose(everything if k % 2 else ())
        shown.frame()

    frames("frame, everything chosen or let go", step)


def test_choosing_by_a_frame(shown, frames):
    frames(
        "what lies in a frame",
        lambda k: shown.scene.within((-1.0, -1.0), (400.0, 2.0 + 0.1 * k), True),
        0.004 if shown.copies == 2 else 0.016,
    )


def test_findings_arrive(shown, frames):
    """Another flag among many: one on every eighth part."""
    parts = list(shown.sheet.parts.values())[::8]
    flags = [Flag(k, "fault", (part.x_m, part.height_m), (part.id,)) for k, part in enumerate(parts, 1)]

    def step(k):
        shown.scene.show_findings(flags[: len(flags) - k % 2])
        shown.frame()

    frames("frame, a finding more or less", step)


def test_lighting_a_finding(shown, frames):
    lit = [key for key in (*shown.sheet.pipes, *shown.sheet.parts) if key.endswith("_0")][:30]

    def step(k):
        shown.scene.light(lit if k % 2 else (), "danger")
        shown.frame()

    frames("frame, a finding lit or let go", step)


def test_what_is_under_the_pointer(shown, frames):
    frames("what is under the pointer", lambda k: shown.scene.hit((4.0 + 0.1 * k, 3.0), 0.008), 0.002)


def test_hovering(shown, frames):
    def step(k):
        shown.scene.hover(shown.scene.hit((2.0 + 0.2 * (k % 30), 2.0), 0.008))
        shown.frame()

    frames("frame, the pointer over something else", step)
