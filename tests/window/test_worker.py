"""The survey beside the window: only the last sheet's answer counts, and a failing check never stops the window."""

from __future__ import annotations

import threading

from loopwright.errors import SheetError
from loopwright.sheet.values import Sheet
from loopwright.window.worker import Surveyor


def test_many_changes_give_one_answer_for_the_last(qtbot):
    asked = []
    surveyor = Surveyor(lambda s: asked.append(s.title) or s.title, rest_ms=20)
    with qtbot.waitSignal(surveyor.answered) as got:
        for number in range(10):
            surveyor.ask(Sheet(title=str(number)))
    assert asked == ["9"] and got.args[1] == "9"
    surveyor.close()


def test_an_answer_that_a_later_sheet_overtook_is_dropped(qtbot):
    gate, begun = threading.Event(), threading.Event()

    def check(sheet: Sheet) -> str:
        if sheet.title == "slow":
            begun.set()
            gate.wait(10)
        return sheet.title

    surveyor = Surveyor(check, rest_ms=0)
    answers = []
    surveyor.answered.connect(lambda _sheet, answer: answers.append(answer))
    surveyor.ask(Sheet(title="slow"))
    qtbot.waitUntil(begun.is_set)
    surveyor.ask(Sheet(title="last"))
    qtbot.wait(10)
    gate.set()
    qtbot.waitUntil(lambda: bool(answers))
    assert answers == ["last"] and not surveyor.busy
    surveyor.close()


def test_a_refused_sheet_is_said_and_a_defect_is_reported(qtbot):
    def refuse(_sheet: Sheet) -> str:
        raise SheetError("This cannot be", do="Mend it")

    surveyor = Surveyor(refuse, rest_ms=0)
    with qtbot.waitSignal(surveyor.refused) as got:
        surveyor.ask(Sheet())
    assert got.args == ["This cannot be. Mend it."]
    surveyor.close()

    def fail(_sheet: Sheet) -> str:
        raise ZeroDivisionError

    surveyor = Surveyor(fail, rest_ms=0)
    with qtbot.waitSignal(surveyor.broke) as got:
        surveyor.ask(Sheet())
    assert isinstance(got.args[0], ZeroDivisionError)
    surveyor.close()


def test_closing_waits_and_nothing_comes_after(qtbot):
    surveyor = Surveyor(lambda s: s, rest_ms=0)
    surveyor.ask(Sheet())
    surveyor.close()
    with qtbot.assertNotEmitted(surveyor.answered, wait=30):
        pass
    assert not surveyor.busy
