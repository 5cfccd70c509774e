"""What a screen reader is given on the sheet: parts with their ports, pipes with their ends, a pipe drawn by keys."""

from __future__ import annotations

import pytest
from hand import Hand
from PySide6.QtCore import Qt
from test_story import shown


@pytest.fixture
def hand(qtbot, window, small) -> Hand:
    window.document.open(small, None)
    shown(qtbot, window)
    window.stage.fit()
    window.stage.take_focus()
    hand = Hand(window)
    hand.breathe()
    return hand


def test_a_part_says_its_ports_and_a_pipe_its_ends(hand):
    window = hand.window
    window.document.choose(["stove"])
    words = window.stage.view.accessibleDescription()
    assert "2 of 2 ports piped" in words and "to Heat store" in words and "height 0.00 m" in words
    pipe = next(p for p in window.document.sheet.pipes.values() if p.b.port == "A")
    window.document.choose([pipe.id])
    words = window.stage.view.accessibleDescription()
    assert words.startswith("Pipe, ") and "28 mm copper" in words
    assert "of Stove to stove flow of Heat store" in words or "of Stove to A" in words, words


def test_a_pipe_drawn_by_keys_is_said_at_every_step(hand):
    window = hand.window
    hand.key(Qt.Key.Key_P)
    said = []
    window.stage.host.said.connect(said.append)
    for key in (Qt.Key.Key_Tab, Qt.Key.Key_Return):
        hand.key(key)
    for _ in range(4):
        hand.key(Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert any("Enter starts a pipe here" in words for words in said)
    assert said[-1].startswith("Height ") and "Enter sets a corner" in said[-1]
