"""How the window takes another size: sides of the usual widths follow, a sheet shown whole stays whole."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtWidgets import QAbstractButton

from loopwright.files.reader import load
from loopwright.window.as_typed import tip
from loopwright.window.bars import ConditionBar
from loopwright.window.fields import Hint
from loopwright.window.frame import sides_for
from loopwright.window.theme import theme
from loopwright.window.tools import TOOLS


@pytest.fixture
def shown(window, small, qtbot):
    window.document.open(small, None)
    window.resize(1280, 800)
    window.show()
    qtbot.waitUntil(lambda: window.survey is not None and window.split.width() > 1000)
    return window


def test_sides_take_the_usual_widths_of_another_size(shown, qtbot):
    assert tuple(shown.split.sizes()[::2]) == sides_for(1280)
    shown.resize(1920, 1080)
    qtbot.waitUntil(lambda: tuple(shown.split.sizes()[::2]) == sides_for(1920))
    assert shown.left.sizes()[1] > 300, "the conditions have room for their switches again"


def test_sides_that_a_person_has_set_stay(shown, qtbot):
    shown.split.setSizes([300, 600, 380])
    before = shown.split.sizes()
    shown.resize(1920, 1080)
    qtbot.waitUntil(lambda: shown.split.width() > 1800)
    assert abs(shown.split.sizes()[0] - before[0]) <= 2


def test_a_sheet_shown_whole_stays_whole_and_one_that_was_moved_stays_put(shown, qtbot):
    shown.stage.fit()
    whole = shown.stage.view.zoom
    shown.resize(1920, 1080)
    qtbot.waitUntil(lambda: shown.stage.view.zoom > whole)
    shown.stage.view.set_zoom(1.5)
    shown.resize(1280, 800)
    qtbot.wait(50)
    assert shown.stage.view.zoom == 1.5


def test_a_long_condition_leaves_room_for_what_it_means(qtbot):
    bar = ConditionBar(theme("light"))
    qtbot.addWidget(bar)
    bar.resize(700, 34)
    bar.show()
    name = "Power cut, the isolating valve between the cistern and the heat-leak radiator of the hall shut"
    bar.show_condition(name, "Stove keeps its water moving by gravity. Water moves in 8 of 72 pipes.", True)
    qtbot.waitUntil(lambda: bar.words.width() > 100)
    assert "…" in bar.name.text() and bar.name.toolTip() and bar.words.text().startswith("Stove keeps")
    assert bar.words.fontMetrics().horizontalAdvance(bar.words.text()) <= bar.words.width()


SMALL, USUAL = (1000, 640), (1280, 800)


@pytest.mark.parametrize("place", ["review", "what_if", "order"])
def test_a_panel_that_comes_to_the_right_moves_nothing(shown, qtbot, place):
    before = shown.split.sizes()
    shown.places.open(place)
    qtbot.wait(20)
    assert shown.split.sizes() == before


@pytest.mark.parametrize("size", [SMALL, USUAL], ids=str)
@pytest.mark.parametrize("view", ["draw", "run", "report", "compare", "courses"])
def test_the_row_of_every_view_has_room(shown, qtbot, view, size):
    """No button is pressed narrower than its words, and none over another."""
    shown.resize(*size)
    shown.places.open(view)
    qtbot.wait(20)
    row = shown.tool_row
    buttons = [b for b in row.findChildren(QAbstractButton) if b.isVisible()]
    assert buttons and all(b.width() >= b.minimumSizeHint().width() for b in buttons)
    places = sorted((b.mapTo(row, b.rect().topLeft()).x(), b.width()) for b in buttons)
    assert all(x + wide <= after for (x, wide), (after, _) in pairwise(places))
    assert places[-1][0] + places[-1][1] <= shown.width()


def test_hints_beside_fields_take_one_line(shown, qtbot):
    shown.document.choose(["store"])
    qtbot.wait(20)
    hints = [h for h in shown.properties.findChildren(Hint) if h.isVisible() and h.words]
    assert any("usual" in h.words for h in hints)
    for hint in hints:
        assert hint.fontMetrics().horizontalAdvance(hint.text()) <= hint.width(), hint.text()
        assert hint.text() == hint.words or hint.toolTip() == tip(hint.words)


def test_all_words_of_a_sheet_shown_whole_are_in_the_view(shown, qtbot):
    """On the largest sample in a small window; with its page shown, the page is."""
    view, scene = shown.stage.view, shown.stage.scene
    sample = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"
    shown.document.open(load(sample, shown.catalogue), None)
    qtbot.wait(20)
    for framed in (False, True):
        shown.stage.scene.page_layer.framed = framed
        scene.place_labels()
        view.fit()
        seen = view.mapToScene(view.viewport().rect()).boundingRect()
        left, top, right, foot = scene.words_bounds()
        assert seen.contains(QRectF(left, top, right - left, foot - top))
        assert framed or view.zoom >= 0.35, "with its words"


def test_what_was_done_gives_way_to_what_the_next_click_does(shown, qtbot, monkeypatch):
    monkeypatch.setattr("loopwright.window.frame.FOR_NOW_MS", 10)
    shown._filed("barn.loopwright opened.")
    assert shown.status.words.text() == "barn.loopwright opened."
    qtbot.waitUntil(lambda: shown.status.words.text() == TOOLS["select"])
    shown._filed("barn.loopwright saved.")
    shown.status.say("Height 1.20 m")
    qtbot.wait(30)
    assert shown.status.words.text() == "Height 1.20 m", "it leaves what was said since"
