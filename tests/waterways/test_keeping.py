"""Answers kept by waterways: asked once for the same arguments, and apart for other waterways."""

from __future__ import annotations

import pytest

from loopwright.waterways.keeping import kept


class Held:
    """What keeps answers, without any water."""

    def __init__(self) -> None:
        self.cache: dict[object, object] = {}


def test_a_question_is_answered_once_for_the_same_arguments():
    asked = []

    @kept
    def question(of: Held, number: int, *, twice: bool = False) -> int:
        asked.append((number, twice))
        return 2 * number if twice else number

    one, two = Held(), Held()
    assert [question(one, 3), question(one, 3), question(one, 3, twice=True), question(two, 3)] == [3, 3, 6, 3]
    assert asked == [(3, False), (3, True), (3, False)]


def test_a_question_that_fails_is_asked_again():
    asked = []

    @kept
    def question(of: Held) -> None:
        asked.append(of)
        raise ValueError("no answer")

    held = Held()
    for _ in range(2):
        with pytest.raises(ValueError, match="no answer"):
            question(held)
    assert len(asked) == 2
