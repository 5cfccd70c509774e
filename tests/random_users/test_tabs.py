"""The whole program under a random hand: several sheets in tabs, files, views, lessons, and a kill now and then.

Always: every open sheet can be written and reads back equal, is what its canvas shows, and no two tabs hold one file. A
kill loses nothing that the copies had. At the end undo leads each tab back to what was opened in it. A longer run:
LOOPWRIGHT_STEPS=300 LOOPWRIGHT_RUNS=10.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from random import Random

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test
from PySide6.QtCore import QEvent, QSettings
from PySide6.QtWidgets import QApplication, QDialog

from loopwright.errors import LoopwrightError
from loopwright.files.reader import loads
from loopwright.files.writer import dumps, save
from loopwright.lessons.reader import lesson_named
from loopwright.window.actions import COMMANDS as TABLE
from loopwright.window.app import Starting
from loopwright.window.main import MainWindow
from loopwright.window.questions import Choice
from loopwright.window.recent import Memory
from loopwright.window.sheets import Sheets

from .moves import any_edit
from .test_document import begin
from .test_window import CATALOGUE, Hands, Loose
from .test_window import COMMANDS as BY_HAND

STEPS = int(os.environ.get("LOOPWRIGHT_STEPS", "10"))
RUNS = int(os.environ.get("LOOPWRIGHT_RUNS", "3"))
VIEWS = ["review", "what_if", "run", "report", "compare", "figures", "order", "courses"]
BY_OTHERS = {*BY_HAND, *VIEWS, "close", "quit", "print", "cautions", "about", "run_full", "run_day"}
"""Commands that other moves give, or that show a box, ask for a printer or take long."""
MORE = [one.id for one in TABLE if one.id not in BY_OTHERS]
GIVEN: dict[str, object] = {}
"""What each question is answered with."""


class Tabs(Hands):
    """A hand that knows the whole program and means nothing."""

    def __init__(self) -> None:
        RuleBasedStateMachine.__init__(self)
        self.folder = tempfile.TemporaryDirectory()
        self.place = Path(self.folder.name)
        self.files = [self.place / f"{name}.loopwright" for name in ("a", "b", "c")]
        self.path = self.place / "no file of one window alone"
        self._start()

    def _start(self, *, empty: bool = False) -> None:
        memory = Memory(QSettings(str(self.place / "s.ini"), QSettings.Format.IniFormat))
        memory.mode, memory.caution_read = "light", True
        self.frame = Sheets(memory, rest_ms=0, inline=True, recovery_folder=self.place / "unsaved")
        self.frame.furnish(CATALOGUE)
        self.frame.resize(1400, 900)
        self.frame.show()
        if not empty:
            self.window.document.open(begin(), None)
        self._settle()

    @property
    def window(self) -> MainWindow:
        """The window in front."""
        return self.frame.current

    @property
    def hand(self) -> Loose:
        """The hand over the window in front."""
        return Loose(self.window)

    def _settle(self) -> None:
        QApplication.processEvents()
        for box in QApplication.topLevelWidgets():
            if isinstance(box, QDialog) and box.isVisible():
                box.reject()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        if not self.frame.windows():
            self._end()
            self._start()

    def _answer(self, seed: int) -> None:
        r = Random(seed)
        there = [p for p in self.files if p.exists()]
        GIVEN.update(
            ask_save=r.choice(list(Choice)),
            ask_save_path=r.choice([*self.files, None]),
            ask_open_path=r.choice(there) if there else None,
            ask_overwrite_changed=r.random() < 0.5,
        )

    @rule(name=st.sampled_from(VIEWS))
    def view(self, name: str) -> None:
        self.command(name)
        self._settle()

    @rule(name=st.sampled_from(MORE), seed=st.integers(0, 99))
    def more(self, name: str, seed: int) -> None:
        self._answer(seed)
        if name.startswith("export"):
            GIVEN["ask_save_path"] = self.place / f"picture.{name.removeprefix('export_').replace('chosen', 'svg')}"
        self.command(name)
        self._settle()

    @rule(step=st.integers(0, 5))
    def another_tab(self, step: int) -> None:
        self.frame.tabs.setCurrentIndex(step % len(self.frame.windows()))
        self._settle()

    @rule(seed=st.integers(0, 99))
    def close_tab(self, seed: int) -> None:
        self._answer(seed)
        before, answer, clean = self.frame.windows(), GIVEN["ask_save"], self.window.document.clean
        self.window.close()
        if answer is Choice.CANCEL and not clean:
            assert self.frame.windows() == before
        self._settle()

    @rule(seed=st.integers(0, 2**32))
    def edit(self, seed: int) -> None:
        try:
            self.window.document.apply(*any_edit(Random(seed)))
        except LoopwrightError as bad:
            assert bad.what
        self._settle()

    @rule(step=st.integers(0, 5))
    def carry_over(self, step: int) -> None:
        """Copy here, paste in another tab."""
        self.command("choose_all")
        self.command("copy")
        self.another_tab(step)
        self.command("paste")

    @rule(name=st.sampled_from(["S1", "S2"]))
    def take_a_lesson(self, name: str) -> None:
        if len(self.frame.windows()) < 4:
            self.window.commands.lessons.begin_lesson(lesson_named(name))
            self._settle()

    @rule(number=st.integers(0, 2))
    def somebody_else_saves(self, number: int) -> None:
        save(begin(), self.files[number])

    @precondition(lambda self: any(not w.document.clean for w in self.frame.windows()))
    @rule()
    def kill_and_recover(self) -> None:
        """The program ends at once; it is started again, and what it had not saved is asked for."""
        for window in self.frame.windows():
            if window.recovery._writing is not None:
                window.recovery._writing.result(30)
        unsaved = [w.document.sheet for w in self.frame.windows() if not w.document.clean]
        left = self.place / "left"
        shutil.copytree(self.place / "unsaved", left)
        self._end()
        for number, copy in enumerate(sorted(left.iterdir())):  # a process that is no more
            shutil.move(copy, self.place / "unsaved" / f"{2**22 + 1}-{number}.loopwright")
        left.rmdir()
        self._start(empty=True)
        GIVEN["ask_recover"] = True
        Starting(self.frame, None).offer_recovery()
        found = [w.document.sheet for w in self.frame.windows() if not w.document.clean]
        assert len(found) == len([s for s in unsaved if s.parts]) or len(found) == len(unsaved)
        assert all(sheet in unsaved for sheet in found), "what comes back is not what was there"

    @invariant()
    def whole(self) -> None:
        held = []
        for window in self.frame.windows():
            sheet = window.document.sheet
            assert loads(dumps(sheet), CATALOGUE) == sheet
            assert set(window.stage.scene.lines) == set(sheet.pipes)
            if window.document.path is not None:
                held.append(window.document.path)
        assert len(held) == len(set(held)), "two tabs hold one file"

    def _end(self) -> None:
        self.frame.shut_down()
        self.frame.close()
        self.frame.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()

    def teardown(self) -> None:
        for window in self.frame.windows():
            document = window.document
            seen = [document.sheet]
            while document.undo_label:
                document.undo()
                seen.append(document.sheet)
            for sheet in reversed(seen[:-1]):
                document.redo()
                assert document.sheet is sheet
        self._end()
        self.folder.cleanup()


def test_random_tabs(qtbot, qapp: QApplication, answers: dict[str, object], tmp_path: Path):
    global GIVEN
    GIVEN = answers
    answers.update(ask_save=Choice.DROP, ask_save_path=None, ask_overwrite_changed=True, tell=None, ask_open_path=None,
                   ask_folder=None, ask_recover=True)  # fmt: skip
    run_state_machine_as_test(
        Tabs,
        settings=settings(
            max_examples=RUNS, stateful_step_count=STEPS, deadline=None, suppress_health_check=list(HealthCheck),
            derandomize="LOOPWRIGHT_RUNS" not in os.environ, database=None,
            phases=(Phase.generate,),  # a failing walk is told as it was: to shorten it takes minutes
        ),
    )  # fmt: skip
