"""Findings while something is dragged, and what of a store can be taken hold of on the sheet itself."""

from __future__ import annotations

import msgspec
import pytest
from hand import Hand
from PySide6.QtCore import Qt
from test_story import shown

from loopwright.drawing.look import to_metres
from loopwright.rules.findings import Finding, Severity
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import ControlLink
from loopwright.window.dragging import words_between


@pytest.fixture
def hand(qtbot, window, small) -> Hand:
    window.document.open(small, None)
    shown(qtbot, window)
    window.stage.fit()
    window.stage.zoom_to(["store"])
    window.document.choose(["store"])
    hand = Hand(window)
    hand.breathe()
    qtbot.waitUntil(lambda: not window.surveyor.busy)
    return hand


def tapping(hand: Hand, letter: str):
    return hand.window.document.sheet.parts["store"].tapping(letter)


def place(hand: Hand, letter: str) -> tuple[float, float]:
    return ports_of(hand.window.document.sheet.parts["store"], hand.window.catalogue)[letter].at


def test_findings_of_the_place_reached_show_while_the_button_is_down(hand, qtbot):
    window = hand.window
    before = window.survey.findings
    flags = window.stage.scene.flags
    start = place(hand, "B")
    hand.press(start)
    hand.move((start[0], start[1] + 0.4))
    hand.move((start[0], start[1] + 0.9))  # the stove's return now leaves high up in the store
    assert "B at 1.00 m above the base" in window.stage.scene.overlay_layer.overlay.words
    qtbot.waitUntil(lambda: window.stage.scene.flags != flags)
    assert window.status.words.text().startswith("Here: ")
    assert window.survey.findings == before, "the list stays about the drawing itself"
    letters = {w.owner: w.at for w in window.stage.scene.labels.words if w.kind == "letter"}
    high = to_metres(letters["store/B"])[1]
    assert high == pytest.approx(1.1, abs=0.25), "its letter goes along"
    hand.key(Qt.Key.Key_Escape)
    assert window.stage.scene.flags == flags and tapping(hand, "B").height_m == pytest.approx(0.1)


def test_a_stub_too_near_its_neighbour_is_refused_beside_the_pointer(hand):
    start, neighbour = place(hand, "D"), place(hand, "E")
    hand.press(start)
    hand.move((start[0], start[1] + 0.2))
    hand.move((start[0], neighbour[1] - 0.02))
    words = hand.window.stage.scene.overlay_layer.overlay.words
    assert "too close" in words and "40 mm" in " ".join(words.split())
    hand.release((start[0], neighbour[1] - 0.02))
    assert tapping(hand, "D").height_m == pytest.approx(0.4), "the last place it could have"


def test_a_stub_goes_over_to_the_other_side(hand):
    start = place(hand, "B")
    hand.drag(start, (5.2, start[1] + 0.05))
    assert tapping(hand, "B").side == "right"


def test_a_pocket_and_a_coils_end_are_dragged_inside_the_shell(hand):
    window = hand.window
    hand.drag((4.1, 1.0), (4.1, 0.8))
    assert tapping(hand, "C").height_m == pytest.approx(0.7, abs=0.011)
    winding = next(c for c in window.stage.scene.plan().stores["store"].coils if c.name == "solar")
    x = to_metres(winding.points[len(winding.points) // 2])[0]
    hand.drag((x, 0.7), (x, 0.9))
    coil = window.document.sheet.parts["store"].coils[0]
    assert coil.top_m == pytest.approx(0.8, abs=0.011)
    assert tapping(hand, "E").height_m == pytest.approx(0.8, abs=0.011), "its stub goes along"
    row = next(tap for tap in window.properties.tappings.model.taps if tap.letter == "E")
    assert row.height_m == tapping(hand, "E").height_m, "table and picture are in step"


def test_what_a_place_brings_and_settles_is_said():
    def finding(rule: str, number: int) -> Finding:
        return Finding(
            severity=Severity.FAULT, subject="a", culprits=(), message=f"{rule}.", todo="", rule=rule, number=number
        )

    one, two = finding("circuit/pump-backwards", 1), finding("tapping/swapped", 2)
    assert words_between([one], [one, two]) == "Here: fault. tapping/swapped."
    assert words_between([one, two], [two]) == "Here this is settled: circuit/pump-backwards."
    assert words_between([one], [one]).startswith("No other finding")


def test_a_links_end_is_dragged_to_another_pump_and_a_link_says_its_sentence(hand):
    window = hand.window
    pump = window.document.sheet.parts["P1"]
    other = msgspec.structs.replace(pump, id="P2", x_m=7.0, height_m=2.0)
    link = ControlLink(id="L1", sensor="store/C", target="P1", does="runs_above", setting_c=60.0)
    window.document.apply("More", lambda s: edits.put_link(edits.place(s, other), link))
    window.stage.fit()
    hand.breathe()
    middle = (6.0, 1.0)
    assert window.stage.view.hit(middle).kind == "link"
    hand.point(middle)
    assert "P1 runs while" in window.status.words.text() and "60 °C" in window.status.words.text()
    hand.click(middle)
    end = to_metres(window.stage.scene.plan().links["L1"].points[-1])
    hand.drag(end, (7.0, 2.0))
    assert window.document.sheet.links["L1"].target == "P2"
    hand.undo()
    hand.drag(end, (6.0, 4.0))
    assert window.document.sheet.links["L1"].target == "P1", "let go in the air nothing changes"
