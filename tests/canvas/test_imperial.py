"""The sheet in imperial units: heights in feet and inches on rulers, floors and dimensions; pipes as they are sold.

A foot is 0.3048 m and an inch a twelfth of it, by definition (international yard and pound agreement, from memory).
"""

from __future__ import annotations

import pytest

from loopwright.canvas.scene import SheetScene
from loopwright.canvas.tools.base import Overlay
from loopwright.canvas.view import SheetView
from loopwright.catalogue import standard_catalogue
from loopwright.sheet.values import Part, Sheet
from loopwright.units import height, restated


@pytest.mark.parametrize(
    ("metres", "words"), [(0.3048, "1 ft 0 in"), (2.6, "8 ft 6.5 in"), (-0.0254, "-0 ft 1 in"), (0.0, "0 ft 0 in")]
)
def test_heights_as_a_tape_reads_them(metres, words):
    assert height(metres, "imperial") == words
    assert height(metres) == f"{metres:.2f} m"


def test_only_lengths_are_restated():
    said = "Flow falls 0.30 m at 2.4 m³ and 1.2 m/s in 28 mm pipe of Loop 2 m; 55 l is usual at -1.52 m."
    assert restated(said) == said
    assert restated(said, "imperial") == said.replace("0.30 m ", "1 ft 0 in ").replace("-1.52 m", "-5 ft 0 in")


@pytest.fixture
def scene(qtbot):
    store = Part(id="store", kind="heat_store", name="Store", x_m=2.0, height_m=0.1, props={"volume_l": 250.0})
    tees = [Part(id=i, kind="tee", x_m=4.0, height_m=h) for i, h in (("T1", 0.5), ("T2", 2.6))]
    sheet = Sheet(
        title="x",
        parts={p.id: p for p in (store, *tees)},
    )
    made = SheetScene(standard_catalogue())
    made.show(sheet)
    return made


def test_the_sheet_follows_and_goes_back(scene):
    before = [f.words for f in scene.floors], scene.items_by_id["store"].plan.detail
    scene.use_system("imperial")
    assert scene.floors[0].words == "Ground floor 0 ft 0 in"
    assert scene.items_by_id["store"].plan.detail == "55 gal"  # 250 / 4.54609 l, the imperial gallon: 54.99
    scene.show_overlay(Overlay(words="height 0.30 m"))
    assert scene.overlay_layer.overlay.words == "height 1 ft 0 in"
    scene.use_system("metric")
    assert ([f.words for f in scene.floors], scene.items_by_id["store"].plan.detail) == before


def test_rulers_are_in_feet(scene, qtbot):
    view = SheetView(scene)
    qtbot.addWidget(view)
    assert view.heights.unit_m == 1.0
    scene.use_system("imperial")
    assert view.heights.unit_m == view.lengths.unit_m == 0.3048
    for zoom in (0.2, 0.3, 0.6, 1.5, 3.0):
        view.set_zoom(zoom)
        short, long, figures = view.heights.steps()
        a_foot_px = 0.3048 / view.metres_a_px
        assert short * a_foot_px >= 3.5 and short <= long <= figures and figures * a_foot_px > 25
