"""Dimensions of widths and heights by hand and by command; feet that go with pipes.

What is measured is worked out here from the coordinates on the sheet alone.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from hand import Hand
from PySide6.QtCore import Qt
from test_story import shown

from loopwright.sheet import bends, edits
from loopwright.sheet.dimensions import foot_at, measured_m
from loopwright.sheet.geometry import polyline
from loopwright.sheet.values import Dimension, Foot

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "sound" / "three-source.loopwright"


@pytest.fixture
def hand(qtbot, window, small) -> Hand:
    window.document.open(small, None)
    shown(qtbot, window)
    window.stage.fit()
    hand = Hand(window)
    hand.breathe()
    return hand


@pytest.fixture
def whole(qtbot, window) -> Hand:
    window.filing.open(SAMPLE)
    shown(qtbot, window)
    return Hand(window)


def measured(hand: Hand) -> list[float]:
    doc, catalogue = hand.window.document, hand.window.catalogue
    return [round(measured_m(doc.sheet, one, catalogue), 3) for one in doc.sheet.dimensions]


def test_a_width_is_measured_where_the_line_stands_above_or_below(hand):
    for _ in range(3):
        hand.key(Qt.Key.Key_Minus, Qt.KeyboardModifier.ControlModifier)
    hand.key(Qt.Key.Key_D)
    for at in ((0.2, 2.0), (2.7, 2.4), (1.5, 3.0)):
        hand.click(at)
    (one,) = hand.window.document.sheet.dimensions
    assert one.level_m == pytest.approx(3.0) and measured(hand) == [2.5]
    hand.key(Qt.Key.Key_D)
    for at in ((0.2, 2.0), (2.7, 2.4), (3.4, 2.2)):
        hand.click(at)
    assert measured(hand) == [2.5, 0.4], "beside them it is the height"
    hand.breathe()
    words = {w.lines for w in hand.window.stage.scene.labels.words if w.kind == "dimension"}
    assert words == {("2.50 m",), ("0.40 m",)}


def test_the_width_of_a_store_by_its_edges(hand):
    window = hand.window
    window.stage.zoom_to(["store"])
    hand.breathe()
    x0, _, x1, _ = (c / 100 for c in window.stage.scene.items_by_id["store"].plan.box)
    hand.key(Qt.Key.Key_D)
    for at in ((x0 + 0.02, 0.75), (x1 - 0.02, 0.75)):
        hand.click(at)
    hand.click((4.0, 0.3))
    assert measured(hand) == [pytest.approx(x1 - x0, abs=1e-3)]
    window.document.apply("Move", lambda s: edits.move(s, ["store"], 0.5, 0.2, window.catalogue))
    assert measured(hand) == [pytest.approx(x1 - x0, abs=1e-3)], "both feet went with it"


def test_a_foot_on_a_run_goes_with_it_and_stays_when_the_pipe_goes(small, catalogue):
    pipe = next(p for p in small.pipes.values() if p.b.port == "A")
    line = polyline(small, pipe, catalogue)
    run, (a, b) = next((k, r) for k, r in enumerate(pairwise(line)) if abs(r[0][0] - r[1][0]) < 1e-6 and r[0] != r[1])
    foot = Foot(pipe=pipe.id, run="upright", x_m=a[0], height_m=(a[1] + b[1]) / 2)
    one = Dimension(id="d", a=foot, b=Foot(x_m=0.0, height_m=0.0), x_m=1.0, level_m=3.0)
    sheet = edits.put_dimension(small, one)
    moved = bends.move_run(sheet, pipe.id, run, (a[0] + 0.4, a[1]), catalogue)
    assert foot_at(moved, foot, catalogue)[0] == pytest.approx(a[0] + 0.4)
    gone = edits.delete(moved, [pipe.id], catalogue)
    assert foot_at(gone, gone.dimensions[0].a, catalogue)[0] == pytest.approx(a[0] + 0.4), "where it stood last"
    assert not gone.dimensions[0].a.pipe


def test_the_vents_rise_by_command(whole):
    sheet, catalogue = whole.window.document.sheet, whole.window.catalogue
    cistern = next(p for p in sheet.parts.values() if catalogue[p.kind].body == "cistern")
    line = cistern.props.get("water_line_m")
    if line is None:
        line = next(spec.default for spec in catalogue[cistern.kind].props if spec.name == "water_line_m")
    vents = [p for p in sheet.pipes.values() for e in (p.a, p.b) if e.part == cistern.id and e.port.startswith("vent")]
    rises = sorted(round(max(z for _, z in polyline(sheet, p, catalogue)) - cistern.height_m - line, 3) for p in vents)
    for _ in vents:
        whole.window.actions_["measure_vent"].trigger()
    assert sorted(measured(whole)) == [pytest.approx(r, abs=2e-3) for r in rises] and len(vents) == 2
    whole.window.actions_["measure_vent"].trigger()
    assert "measured already" in whole.window.status.words.text()
    whole.breathe()
    assert not any(w.kind == "dimension" and not w.lines for w in whole.window.stage.scene.labels.words)


def test_the_circulating_height_of_the_chosen_fire_by_command(whole):
    window = whole.window
    sheet = window.document.sheet
    stove = next(p for p in sheet.parts.values() if p.kind == "boiler_stove")
    store = next(p for p in sheet.parts.values() if p.kind == "heat_store")
    window.document.choose([store.id])
    window.actions_["measure_circulating"].trigger()
    one = window.document.sheet.dimensions[0]
    assert {one.a.part, one.b.part} == {stove.id, store.id}
    # the advice about the same sheet measures it too: “lies only 0.91 m above Stove”
    advice = next(f for f in window.survey.findings if f.rule == "gravity-loop/sink-too-low")
    assert measured(whole)[0] == pytest.approx(advice.measured, abs=0.006)
    old = measured(whole)[0]
    window.document.apply("Raise", lambda s: edits.move(s, [store.id], 0.0, 0.3, window.catalogue))
    assert measured(whole)[0] == pytest.approx(old + 0.3, abs=1e-3)


def test_a_sheet_without_fire_or_vent_says_what_to_do(hand):
    hand.window.document.apply(
        "Empty", lambda s: msgspec.structs.replace(edits.delete(s, [*s.parts], hand.window.catalogue))
    )
    for command, word in (("measure_vent", "vent"), ("measure_circulating", "stove")):
        hand.window.actions_[command].trigger()
        assert word in hand.window.status.words.text() and not hand.window.document.sheet.dimensions
