"""A lesson beside the sheet: its task, the goal as it stands, hints, what a check says and what follows from it.

Owns the walk through one attempt. How an answer is judged is asked of `lessons.attempt`; what may not be changed is
refused by the guard of the document, in words.
"""

from __future__ import annotations

import time
from html import escape
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QLabel, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window.desk import Desk
from loopwright.window.lesson.asked import Asked, Bet
from loopwright.window.lesson.goals import GoalList
from loopwright.window.lesson.played import Played
from loopwright.window.lesson.reading import Reading
from loopwright.window.lesson.said import Said
from loopwright.window.lesson.task import TaskPanel
from loopwright.window.lesson.watch import guard_for, kinds_for, sieve_for
from loopwright.window.lesson.words import Words, allowed_words
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.attempt import Attempt, Verdict
    from loopwright.lessons.playing import Consequence
    from loopwright.lessons.saying import Feedback
    from loopwright.sheet.values import Sheet
    from loopwright.window.jobs import Task


class LessonPanel(TaskPanel):
    """The lesson of a sheet."""

    place, title = "lesson", "Lesson"

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent, reasons=True)
        self.attempt: Attempt | None = None
        self.verdict: Verdict | None = None
        self._task: Task | None = None
        self._since = time.monotonic()
        self._shown: QWidget | None = None
        self._scroll = QTimer(self)  # what is new has its place a moment later
        self._scroll.setSingleShot(True)
        self._scroll.setInterval(60)
        self._scroll.timeout.connect(self._scrolled)
        self._build()
        desk.sheet_changed.connect(self._changed)

    # ---- building

    def _build(self) -> None:
        from loopwright.window.lesson.buttons import Buttons

        look = self._desk.look
        self.task = self._words()
        self.allowed = self._words("hint")
        self.bet = Bet(self._desk, self)
        self.goal_head = QLabel("Goal", self)
        self.goal_head.setObjectName("group-heading")
        self.goals = GoalList(look, self)
        self.goals.wanted.connect(self._desk.light)
        self.hint = self._words()
        self.hint.setObjectName("lesson-hint")
        self.said = Said(look, self)
        self.picture = Played(self._desk, self)
        self.why = Asked("Why is that so?", self)
        self.why.chosen.connect(self._reason)
        self.reading = Reading(self._desk, self)
        self.buttons = Buttons(self)
        for widget in (
            self.heading, self.task, self.allowed, self.bet, self.goal_head, self.goals, self.marks, self.found,
            self.said, self.picture, self.hint, self.why, self.reading,
        ):  # fmt: skip
            self.column.addWidget(widget)
        self.column.addStretch(1)
        for words in (self.bet, self.why, self.goals, self.said):
            words.help_wanted.connect(self._desk.help)
        self.said.offered.connect(self._offered)
        self.panel.body.addWidget(self.buttons)
        self.buttons.check.clicked.connect(self.check)
        self.buttons.hint.clicked.connect(self.take_hint)
        self.buttons.again.clicked.connect(self.start_again)
        self.buttons.next.clicked.connect(self.next_lesson)
        self.buttons.live.toggled.connect(self._live)

    def _words(self, name: str = "") -> Words:
        words = Words(self, name=name)
        words.wanted.connect(self._desk.help)
        return words

    # ---- a lesson comes and goes

    def begin(self, attempt: Attempt) -> None:
        """Show an attempt whose starting sheet is on the sheet."""
        self.attempt, self.verdict = attempt, None
        self._since = time.monotonic()
        self.hint.hide()
        self._show_lesson()
        self._begin()
        self.look()

    def _begun_on(self) -> Sheet | None:
        return self.attempt.sheet if self.attempt is not None else None

    def _forget(self) -> None:
        self.attempt = None

    def leave(self) -> None:
        """Give everything back, the guard of the sheet too."""
        self.picture.put_back()
        self._desk.document.guard = None
        super().leave()

    def _take_over(self) -> None:
        attempt = self.attempt
        if attempt is None:
            self._desk.lend_parts(self.split, None)
            return
        kinds = kinds_for(attempt)
        few = attempt.lesson.sort == "faults" or (kinds is not None and len(kinds) < 9)
        self._lend(kinds, 150 if few else 190)
        self._desk.document.guard = guard_for(attempt, self._desk.catalogue)
        if attempt.lesson.sort == "faults":
            self.marking.begin()
        self._sift()
        self._desk.refresh()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        for piece in (self.goals, self.said, self.picture, self.found, self.hint, self.reading):
            piece.set_look(look)
        self.marks.fill()
        if self.attempt is not None:
            self._show_texts()

    def _show_lesson(self) -> None:
        assert self.attempt is not None
        lesson = self.attempt.lesson
        faults = lesson.sort == "faults"
        self._show_texts()
        self.bet.setVisible(lesson.bet is not None)
        if lesson.bet is not None:
            self.bet.ask(lesson.bet, self._desk.look)
        self.goal_head.setVisible(not faults)
        self.goals.setVisible(not faults)
        self.marks.setVisible(faults)
        self.buttons.live.setVisible(not faults)
        self.found.hide()
        self.why.hide()
        self.said.hide()
        self.reading.hide()
        self.picture.put(None)
        self.buttons.show_attempt(self.attempt, has_next=self._next() is not None)

    def _show_texts(self) -> None:
        assert self.attempt is not None
        lesson, look = self.attempt.lesson, self._desk.look
        self.panel.title.setText(f"Lesson {lesson.id}" if len(lesson.id) < 8 else "Lesson")
        self.heading.setText(lesson.title)
        self.task.say(lesson.task, look)
        faults = lesson.sort == "faults"
        self.allowed.say(" ".join(allowed_words(lesson.allowed, lesson.sheet, self._desk.catalogue)), look, lit=False)
        self.allowed.setVisible(not faults)

    # ---- the sheet changes

    def _changed(self, _sheet: object) -> None:
        if self.attempt is not None and self._desk.front("left") is self:
            self.picture.put_back()
            self.look()

    def _live(self, _on: bool) -> None:
        self._sift()
        self.look()

    def _sift(self) -> None:
        if self.attempt is not None:
            self._desk.sift(sieve_for(self.attempt, self.buttons.live.isChecked))

    def look(self) -> None:
        """Judge the sheet as it is, without counting."""
        attempt, sheet = self.attempt, self._desk.sheet
        if attempt is None or attempt.lesson.sort == "faults":
            return
        if self._task is not None and not self._task.over:
            self._task.cancel()

        def done(verdict: Verdict) -> None:
            if attempt is self.attempt:
                self.goals.show_verdict(verdict, silent=not self.buttons.live.isChecked())

        self._task = self._desk.work(lambda _task: attempt.look(sheet, slow=False), done)

    # ---- checking

    def check(self) -> None:
        """Judge the answer; this one counts."""
        from loopwright.lessons import consequence, feedback

        attempt, sheet, catalogue = self.attempt, self._desk.sheet, self._desk.catalogue
        if attempt is None:
            return
        self._desk.take_focus()  # else it goes on to the next button, a hint, which costs points
        self.buttons.check.setEnabled(False)
        self._desk.say("The answer is being checked.")

        def work(_task: object) -> Any:
            verdict = attempt.check(sheet)
            said = feedback(verdict, hints_left=attempt.hints_left, answer=attempt.has_answer)
            return verdict, said, consequence(attempt.lesson, sheet, catalogue, verdict, play=said.play)

        def done(answer: Any) -> None:
            if attempt is self.attempt:
                self.buttons.check.setEnabled(True)
                self._checked(attempt, *answer)

        def failed(bad: LoopwrightError) -> None:
            self.buttons.check.setEnabled(True)
            self._desk.say(bad.sentence)

        self._desk.work(work, done, failed)

    def _checked(self, attempt: Attempt, verdict: Verdict, said: Feedback, cons: Consequence) -> None:
        from loopwright.lessons import Progress

        self.verdict = verdict
        minutes, self._since = (time.monotonic() - self._since) / 60.0, time.monotonic()
        try:
            Progress().keep(attempt, verdict, minutes=minutes)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
        else:
            self._desk.say(said.say)
        self.goals.show_verdict(verdict)
        if said.play or verdict.passed:
            self.bet.tell()
        if verdict.marks is not None:
            self.found.show_marks(verdict.marks, self._desk)
        self.said.show_feedback(said, cons.sentence, verdict, attempt)
        self.picture.put(cons if said.play else None)
        miss = verdict.first_miss
        token = (miss.severity if miss is not None else "") or ("ok" if verdict.passed else "accent")
        self._desk.light(cons.path if cons.show == "loop" and said.play else (*said.path, *said.ids), token)
        lesson = attempt.lesson
        if verdict.passed and lesson.why is not None and not attempt.why_tries and self.why.isHidden():
            self.why.ask(lesson.why, self._desk.look)
        self.reading.show_next(lesson if verdict.passed or said.page else None, said.page)
        self.buttons.show_attempt(attempt, has_next=self._next() is not None)
        self._reveal(self.said)

    def _reveal(self, widget: QWidget) -> None:
        """Scroll to something once it has its place."""
        self._shown = widget
        self._scroll.start()

    def _scrolled(self) -> None:
        if self._shown is not None:
            self.area.verticalScrollBar().setValue(max(0, self._shown.y() - 6))

    # ---- hints, answers, questions

    def take_hint(self) -> None:
        """The next hint."""
        attempt = self.attempt
        if attempt is None:
            return
        try:
            attempt.hint()
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        taken = attempt.lesson.hints[: attempt.hints_taken]
        told = "<br>".join(f"Hint {n}: {escape(h, quote=False)}" for n, h in enumerate(taken, 1))
        self.hint.say(told, self._desk.look, html=True)
        self.hint.show()
        self.buttons.show_attempt(attempt, has_next=self._next() is not None)
        self._reveal(self.hint)

    def _offered(self, what: str) -> None:
        attempt = self.attempt
        if attempt is None:
            return
        if what == "hint":
            self.take_hint()
        elif what == "next":
            self.next_lesson()
        elif what == "answer":
            try:
                self._desk.open_sheet(attempt.show_answer())
            except LoopwrightError as bad:
                self._desk.say(bad.sentence)

    def _reason(self, choice: int) -> None:
        attempt = self.attempt
        if attempt is None or attempt.lesson.why is None:
            return
        from loopwright.lessons import Progress

        why = attempt.lesson.why
        if attempt.answer_why(choice):
            self._desk.take_focus()
            self.why.settle(choice)
            self.why.say(why.because or attempt.lesson.reason, self._desk.look)
        else:
            self.why.choices[choice].setEnabled(False)
            self.why.say("That is often said, and it is not the reason here. Choose again.", self._desk.look)
        if self.verdict is not None:
            try:
                Progress().scored(attempt, self.verdict)
            except LoopwrightError as bad:
                self._desk.say(bad.sentence)
        self.said.show_score(attempt)

    # ---- other lessons

    def start_again(self) -> None:
        """Put the starting sheet back: one step that can be undone."""
        attempt = self.attempt
        if attempt is not None:
            self._desk.apply("Start the lesson again", lambda _sheet: attempt.sheet, ())
            self._desk.light(())
            self.picture.put(None)
            self.said.hide()
            self.found.hide()

    def _next(self) -> Any:
        from loopwright.window.lesson.library import next_lesson

        return next_lesson(self.attempt.lesson) if self.attempt is not None else None

    def next_lesson(self) -> None:
        """Open the next lesson of the course: in this tab once the answer is saved, else in one of its own."""
        found = self._next()
        if found is not None:
            self._desk.lessons.begin_lesson(found, here=True)
