"""Commands of the Lessons menu by id, and which marking is under way on the sheet of a window.

Owns the small functions behind the menu. Refuses to load anything of the lessons before one of them is used.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Attempt
    from loopwright.lessons.lesson import Lesson
    from loopwright.lessons.practice import Exercise
    from loopwright.sheet.values import Sheet
    from loopwright.window.lesson.marking import Marking
    from loopwright.window.main import MainWindow

TELLING = ("review", "report", "what_if", "why", "next_finding", "last_finding")
"""Commands that would tell what is hidden on a sheet of faults."""


class LessonCommands:
    """Commands of one window that bear on lessons."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self.marking: Marking | None = None
        """Marks of hidden faults, while the sheet has some to be found."""
        self.task = ""
        """The place of this sheet's task: `lesson`, `exercise`, or empty."""

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        names = ("lesson", "mark_fault", "practice", "make_lesson", "check_answers")
        return {name: getattr(self, name) for name in names}

    def refresh(self) -> None:
        """Which commands can be used now."""
        window = self._window
        actions, chosen = window.actions_, window.document.chosen
        actions["lesson"].setEnabled(bool(self.task))
        on_sheet = any(i in window.document.sheet.parts or i in window.document.sheet.pipes for i in chosen)
        actions["mark_fault"].setEnabled(self.marking is not None and on_sheet)
        actions["practice"].setEnabled(bool(window.document.sheet.parts) and self.task != "exercise")
        actions["make_lesson"].setEnabled(bool(window.document.sheet.parts))
        for name in TELLING:
            actions[name].setEnabled(self.marking is None)

    # ---- what the menu does

    def lesson(self) -> None:
        """Bring back the panel of the lesson or exercise on this sheet."""
        if self.task:
            self._window.places.open(self.task)

    def mark_fault(self) -> None:
        """Mark what is chosen as a fault, or ask for the reason."""
        if self.marking is not None:
            self.marking.ask(self._window.document.chosen)

    def practice(self) -> None:
        """Ask how many faults to hide in the sheet."""
        from loopwright.window.lesson.practice import PracticeDialog

        PracticeDialog(self._window.desk).open()

    def make_lesson(self) -> None:
        """Make a lesson from the sheet."""
        from loopwright.window.lesson.make import MakeDialog

        MakeDialog(self._window.desk).open()

    def check_answers(self) -> None:
        """Check a folder of answers."""
        from loopwright.window.lesson.answers import AnswersDialog

        AnswersDialog(self._window.desk).open()

    # ---- beginning a task

    def begin_lesson(self, lesson: Lesson, *, here: bool = False) -> Attempt | None:
        """Open a lesson's sheet in a tab of its own, with the lesson beside it; `here` as in `Desk.open_sheet`."""
        from loopwright.lessons.attempt import start
        from loopwright.window.lesson.panel import LessonPanel

        try:
            attempt = start(lesson, self._window.catalogue)
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)
            return None
        desk = self._window.desk.open_sheet(attempt.sheet, here=here)
        if desk is None:
            return None
        panel = desk.open("lesson")
        assert isinstance(panel, LessonPanel)
        panel.begin(attempt)
        return attempt

    def begin_exercise(self, exercise: Exercise, sound: Sheet) -> bool:
        """Open an exercise in a tab of its own, with the marks beside it; `sound` is the sheet it was made from."""
        from loopwright.window.lesson.exercise import ExercisePanel

        desk = self._window.desk.open_sheet(exercise.sheet)
        if desk is None:
            return False
        panel = desk.open("exercise")
        assert isinstance(panel, ExercisePanel)
        panel.begin(exercise, sound)
        return True
