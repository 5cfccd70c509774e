"""A document under random edits, undo, redo, saving, killing and recovering.

Always: the sheet can be written and reads back equal, its survey is that of the reopened file, undo and redo give
exactly what was, and the copy of unsaved work is at most one change behind. A longer run: LOOPWRIGHT_STEPS=200
LOOPWRIGHT_RUNS=50.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from PySide6.QtWidgets import QApplication

from loopwright import draw
from loopwright.errors import LoopwrightError, SheetError
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps, save
from loopwright.rules import review
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.survey import survey
from loopwright.window.crash import Recovery
from loopwright.window.document import Document

from .moves import CATALOGUE, any_edit

STEPS = int(os.environ.get("LOOPWRIGHT_STEPS", "30"))
RUNS = int(os.environ.get("LOOPWRIGHT_RUNS", "8"))


def begin() -> Sheet:
    """A stove, a store, two pipes."""
    s = draw.sheet("Any")
    tappings = {f"t{k}": {"height_m": 0.1 + 0.2 * k, "side": "left" if k % 2 else "right"} for k in range(6)}
    store = s.store("store", x_m=4, height_m=0, volume_l=300, tappings=tappings)
    stove = s.add("boiler_stove", "stove", x_m=0, height_m=0)
    s.pipe(stove["flow"], store["t5"])
    s.pipe(store["t1"], stove["return"])
    return s.done()


def answers_of(sheet: Sheet) -> list[tuple[object, ...]]:
    """A survey in a form that can be compared."""
    found = survey(sheet, CATALOGUE)
    return [(f.rule, f.subject, f.culprits, f.message, f.number) for f in found.findings] + [
        (a.rule, str(a.outcome), a.subject) for a in found.answers
    ]


class Users(RuleBasedStateMachine):
    """Everything a person does with one document."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.path = self.folder / "sheet.loopwright"
        self._take(Document(begin()))
        self.steps = 0

    def _take(self, document: Document) -> None:
        self.document = document
        self.before = document.sheet
        document.changed.connect(self._changed)
        self.recovery = Recovery(document, CATALOGUE, self.folder / "unsaved")

    def _changed(self, before: Sheet, _after: Sheet) -> None:
        self.before = before

    @initialize()
    def first(self) -> None:
        save(self.document.sheet, self.path)
        self.document.mark_saved(self.path)

    @rule(seed=st.integers(0, 2**32))
    def edit(self, seed: int) -> None:
        before, text = self.document.sheet, dumps(self.document.sheet)
        name, change = any_edit(Random(seed))
        try:
            changed = self.document.apply(name, change)
        except SheetError as bad:
            assert bad.what and bad.do
            assert self.document.sheet is before
            return
        assert dumps(before) == text, "an edit touched the sheet it was given"
        if changed:
            after, chosen = self.document.sheet, self.document.chosen
            assert self.document.undo() == name and self.document.sheet is before
            assert self.document.redo() == name and self.document.sheet is after
            assert self.document.chosen == chosen

    @rule(seed=st.integers(0, 2**32), many=st.integers(2, 8))
    def several(self, seed: int, many: int) -> None:
        for k in range(many):
            self.edit(seed + k)

    @rule(many=st.integers(1, 12))
    def undo_and_redo(self, many: int) -> None:
        seen = []
        while len(seen) < many and self.document.undo_label:
            seen.append(self.document.sheet)
            assert self.document.undo()
        for sheet in reversed(seen):
            assert self.document.redo()
            assert self.document.sheet is sheet

    @rule()
    def undo(self) -> None:
        self.document.undo()

    @rule()
    def redo(self) -> None:
        self.document.redo()

    @rule(seed=st.integers(0, 99))
    def choose(self, seed: int) -> None:
        r = Random(seed)
        self.document.choose(r.sample([*self.document.sheet.parts, "none"], 1))

    @rule()
    def store(self) -> None:
        save(self.document.sheet, self.path)
        self.document.mark_saved(self.path)
        assert self.document.clean and load(self.path, CATALOGUE) == self.document.sheet
        assert not list((self.folder / "unsaved").glob("*.loopwright"))

    @precondition(lambda self: not self.document.clean)
    @rule()
    def kill_and_recover(self) -> None:
        """The program ends at once; another looks for what it left."""
        kept = list((self.folder / "unsaved").glob("*.loopwright"))
        found = load(kept[0], CATALOGUE) if kept else load(self.path, CATALOGUE)
        assert found in (self.document.sheet, self.before), "more than the last change is lost"
        self.recovery.close()
        self._take(Document())
        self.document.open(found, None, saved=False)
        assert self.recovery.keep() is not None

    @invariant()
    def whole(self) -> None:
        sheet = self.document.sheet
        data = dumps(sheet)
        again = loads(data, CATALOGUE)
        assert again == sheet and dumps(again) == data
        self.steps += 1
        if self.steps % 6 == 0:
            assert answers_of(sheet) == answers_of(again)

    def teardown(self) -> None:
        self.recovery.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def test_random_users(qapp: QApplication):
    run_state_machine_as_test(
        Users,
        settings=settings(
            max_examples=RUNS, stateful_step_count=STEPS, deadline=None, suppress_health_check=list(HealthCheck),
            derandomize="LOOPWRIGHT_RUNS" not in os.environ, database=None,
            phases=(Phase.generate,),  # a failing walk is told as it was: to shorten it takes minutes
        ),
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_a_long_session_undoes_to_its_beginning(qapp: QApplication, seed: int):
    document, r = Document(begin()), Random(seed)
    states = [document.sheet]
    for _ in range(120):
        name, change = any_edit(r)
        try:
            if document.apply(name, change):
                states.append(document.sheet)
        except LoopwrightError:
            continue
    assert len(states) > 40
    for sheet in reversed(states[:-1]):
        document.undo()
        assert document.sheet is sheet
    for sheet in states[1:]:
        document.redo()
        assert document.sheet is sheet


def test_what_an_edit_takes_the_file_takes_too(qapp: QApplication):
    """Names that get a number when they are doubled, facts and limits and a reviewer's words at their greatest."""
    sheet = edits.set_part(begin(), "stove", name="a" * 200)
    for _ in range(12):
        sheet = edits.duplicate(sheet, {"stove"}, 3.0, 0.0)
    sheet = edits.set_limit(edits.set_fact(sheet, "house_load_w", 1e12), "x", -1e12)
    sheet = edits.set_fact(sheet, "house", "b" * 10_000)
    assert loads(dumps(sheet), CATALOGUE) == sheet
    assert len({p.name for p in sheet.parts.values()}) == len(sheet.parts)
    finding = survey(begin(), CATALOGUE).findings[0]
    said = {"by": "c" * 10_000, "date": "2026-01-01", "fingerprint": "f"}
    sheet = review.decide(sheet, finding, "accepted", reason="d" * 10_000, **said)
    assert loads(dumps(sheet), CATALOGUE) == sheet
    for refused in (
        lambda: edits.set_fact(sheet, "house_load_w", 1.1e12),
        lambda: edits.set_fact(sheet, "house_load_w", -(10**400)),
        lambda: edits.set_fact(sheet, "house", "b" * 10_001),
        lambda: edits.set_limit(sheet, "x", 2e12),
        lambda: edits.set_limit(sheet, "x", float("nan")),
        lambda: review.decide(sheet, finding, "accepted", reason="d" * 10_001, **said),
        lambda: review.sign(sheet, [], accepted=False, remark="d" * 10_001, **said),
    ):
        with pytest.raises(SheetError):
            refused()
