"""Title block, page frame, key of lines: what is seen, what is kept between starts, and what a click does."""

from __future__ import annotations

import pytest
from hand import Hand
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from test_story import shown

from loopwright.canvas.pinned import SAMPLE
from loopwright.drawing.look import CONTROL, SERVICES, Look, to_metres
from loopwright.drawing.page import PAGES_MM
from loopwright.sheet import edits
from loopwright.window.main import MainWindow

LEFT = Qt.MouseButton.LeftButton


def middle(box: tuple[float, float, float, float]) -> tuple[float, float]:
    return to_metres(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))


@pytest.fixture
def drawn(qtbot, window, small) -> Hand:
    window.document.open(small, None)
    shown(qtbot, window)
    window.stage.fit()
    hand = Hand(window)
    hand.breathe()
    return hand


def test_the_title_block_stands_below_the_drawing_and_opens_by_a_double_click(drawn):
    window = drawn.window
    scene = window.stage.scene
    box = scene.page_layer.box
    assert box is not None and box[1] > scene.plan().bounds()[3], "below all that is drawn"
    assert scene.hit(middle(box), window.stage.view.metres_a_px).kind == "title"
    drawn.click(middle(box))
    assert not window.document.chosen
    view = window.stage.view
    QTest.mouseDClick(view.viewport(), LEFT, Qt.KeyboardModifier.NoModifier, drawn.spot(middle(box)))
    drawn.breathe()
    assert window.properties.isAncestorOf(window.focusWidget()), "its fields have the keys"


def test_the_page_frame_is_the_page_as_it_prints(drawn):
    window = drawn.window
    window.document.apply("Paper", lambda s: edits.set_block(s, page="A4", scale=50.0))
    window.actions_["page_frame"].trigger()
    drawn.breathe()
    left, top, right, foot = window.stage.scene.page_layer.box
    # a millimetre of paper at 1 : 50 is 50 mm of house; a drawing unit is 10 mm
    assert (right - left, foot - top) == pytest.approx((PAGES_MM["A4"][0] * 5.0, PAGES_MM["A4"][1] * 5.0))
    x0, y0, x1, y1 = window.stage.scene.plan().bounds()
    assert left < x0 < x1 < right and top < y0 < y1 < foot


def test_what_is_shown_over_the_sheet_is_kept_for_the_next_start(drawn, qtbot, catalogue, memory, tmp_path):
    window = drawn.window
    window.actions_["legend"].trigger()
    window.actions_["overview"].trigger()
    drawn.breathe()
    legend = window.stage.over.legend
    assert legend.isVisible() and legend.rows
    at = legend.pos()
    QTest.mousePress(legend, LEFT, pos=QPoint(10, 10))
    QTest.mouseMove(legend, QPoint(-190, 130))
    QTest.mouseRelease(legend, LEFT, pos=QPoint(-190, 130))
    assert legend.pos() != at
    moved = legend.pos()
    again = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "more")
    qtbot.addWidget(again, before_close_func=lambda w: w.shut_down())
    again.resize(window.size())
    again.document.open(window.document.sheet, None)
    shown(qtbot, again)
    again_legend = again.stage.over.legend
    qtbot.waitUntil(again_legend.isVisible)
    assert (again_legend.pos() - moved).manhattanLength() < 12
    assert again.actions_["overview"].isChecked() and again.stage.over.overview.wanted
    assert not again.actions_["page_frame"].isChecked()


def test_the_key_of_lines_takes_the_corner_where_it_covers_least(drawn):
    window = drawn.window
    view, scene = window.stage.view, window.stage.scene
    window.actions_["legend"].trigger()
    legend = window.stage.over.legend
    for corner in ((1.0, 4.0), (7.0, 4.0)):  # what is drawn lies low, then to the left of what is seen
        view.centre_on(corner)
        legend.seek_corner()
        drawn.breathe()
        seen = view.mapToScene(legend.geometry().translated(-view.viewport().pos())).boundingRect()
        assert scene.count_in(seen.left(), seen.top(), seen.right(), seen.bottom()) == 0


def test_the_key_shows_every_dash_whole():
    look = Look()
    for line in (*SERVICES.values(), CONTROL):
        marks = sum(line.dash[:3]) if len(line.dash) > 2 else sum(line.dash)
        assert marks * look.pen(line.mm) * look.px_a_unit <= SAMPLE, line.words
