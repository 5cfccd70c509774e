"""Places for views and panels: made at first opening, swapped in and out, told as they come and go."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel

from loopwright.errors import LoopwrightError
from loopwright.window.desk import Place, Places


class Probe(QLabel):
    """Notes what it is told."""

    made = 0

    def __init__(self, desk, parent) -> None:
        super().__init__("probe", parent)
        Probe.made += 1
        self.told: list[str] = []
        desk.sheet_changed.connect(lambda _sheet: self.told.append("sheet"))

    def enter(self) -> None:
        self.told.append("enter")

    def leave(self) -> None:
        self.told.append("leave")


PROBES = tuple(Place(f"probe-{w}", f"Probe {w}", w, f"{__name__}:Probe") for w in ("view", "right", "left", "lower"))


@pytest.fixture
def places(window):
    made = Places.__new__(Places)
    Places.__init__(made, window.desk, window, PROBES)
    window.places = made
    return made


def test_a_place_is_made_when_first_opened_and_told_as_it_comes_and_goes(window, places):
    before = Probe.made
    view = places.open("probe-view")
    assert Probe.made == before + 1 and window.whole.currentWidget() is view
    places.open("draw")
    assert window.whole.currentWidget() is window.split
    assert places.open("probe-view") is view and Probe.made == before + 1
    assert view.told == ["enter", "leave", "enter"]


def test_sides_give_way_and_come_back(window, places):
    right, left = places.open("probe-right"), places.open("probe-left")
    assert window.right.currentWidget() is right and window.left_stack.currentWidget() is left
    assert places.escape() and window.right.currentWidget() is window._panels
    assert places.escape() and window.left_stack.currentWidget() is window.left
    assert not places.escape()


def test_work_reports_its_answer_its_refusal_and_its_end(window):
    answers = []
    window.desk.work(lambda task: task.progress(0.5) or 7, answers.append)
    assert answers == [7]

    def refuse(task):
        raise LoopwrightError("The disk is full", do="Make room")

    window.desk.work(refuse, answers.append)
    assert answers == [7] and "disk is full" in window.status.words.text()
