"""The Run view: joins the choices, the store, the charts, the outcome and the player round the run in hand.

Owns the run that is shown, the one beside it, and the work under way. Refuses to compute or to paint anything itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QProgressBar, QPushButton, QVBoxLayout, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.desk import Desk
from loopwright.window.run import story
from loopwright.window.run.centre import Centre
from loopwright.window.run.choices import Choices
from loopwright.window.run.export import Exports
from loopwright.window.run.outcome import Outcome
from loopwright.window.run.player import Player
from loopwright.window.run.reading import Reading
from loopwright.window.run.runner import Runner
from loopwright.window.run.store_panel import StorePanel
from loopwright.window.run.wish import CUT_HOURS

if TYPE_CHECKING:
    from loopwright.engineering.runs.day import Day
    from loopwright.engineering.runs.result import Run
    from loopwright.sheet.values import Sheet
    from loopwright.window.run.schedule import DayEditor

DAY_S = 86400.0
NARROW_PX = 1340
SIDES_PX = {False: (300, 322), True: (264, 286)}
"""Widths of both sides, in a wide window and a narrow one."""


class RunView(QWidget):
    """The view."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.setAccessibleName("Run")
        self.reading: Reading | None = None
        self.other: Reading | None = None
        self._other_words = ""
        self.runner = Runner(desk, self)
        self._held: tuple[Reading, str] | None = None
        self._editor: DayEditor | None = None
        look = desk.look
        self.choices = Choices(desk.catalogue, self)
        self.bar = QProgressBar(self)
        self.bar.setObjectName("run-bar")
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(4)
        self.bar.setAccessibleName("How far the run is")
        room = self.bar.sizePolicy()
        room.setRetainSizeWhenHidden(True)  # nothing moves when it comes and goes
        self.bar.setSizePolicy(room)
        self.stale = QLabel("The drawing has changed: run again.", self)
        self.stale.setObjectName("run-stale")
        self.store = StorePanel(look, self)
        self.centre = Centre(desk.catalogue, look, self)
        self.outcome = Outcome(look, self)
        self.player = Player(look, self)
        self.exports = Exports(desk, self)
        self._lay_out()
        self._join()
        self._veil = QWidget(self._body)
        self._veil.setObjectName("run-veil")
        self._veil.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._veil.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._veil.hide()
        for widget in (self.bar, self.stale):
            widget.hide()
        self._show_sides(False)
        self._sheet_changed(desk.sheet)

    def _lay_out(self) -> None:
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addWidget(self.bar)
        page.addWidget(self.stale)
        self._body = QWidget(self)
        row = QHBoxLayout(self._body)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self._left, self._right = QWidget(self._body), QWidget(self._body)
        for side, name in ((self._left, "run-left"), (self._right, "run-right")):
            side.setObjectName(name)
            side.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        left = QVBoxLayout(self._left)
        left.setContentsMargins(0, 0, 1, 0)
        left.addWidget(self.store)
        right = QVBoxLayout(self._right)
        right.setContentsMargins(1, 0, 0, 0)
        right.setSpacing(0)
        right.addWidget(self.outcome, 1)
        foot = QWidget(self._right)
        foot.setObjectName("panel-body")
        foot.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        buttons = QHBoxLayout(foot)
        buttons.setContentsMargins(14, 6, 14, 8)
        self.in_report = QPushButton("Put in the report", foot)
        self.in_report.setToolTip("The report prints this run, for as long as the drawing stays as it is")
        self.save = QPushButton("Save…", foot)
        menu = QMenu(self.save)
        for words, name in (
            ("The whole run as a table (CSV)…", "csv"),
            ("The charts as a picture (PNG)…", "png"),
            ("The charts as SVG…", "svg"),
            ("The run as numbered pictures…", "frames"),
        ):
            menu.addAction(words).setData(name)
        menu.triggered.connect(self.exports.save)
        self.save.setMenu(menu)
        buttons.addWidget(self.in_report, 1)
        buttons.addWidget(self.save)
        right.addWidget(foot)
        row.addWidget(self._left)
        row.addWidget(self.centre, 1)
        row.addWidget(self._right)
        page.addWidget(self._body, 1)
        page.addWidget(self.player)

    def _join(self) -> None:
        desk = self._desk
        for signal, slot in (
            (self.runner.began, self._began),
            (self.runner.over, self._over),
            (self.runner.moved, self._moved),
            (self.runner.told, self.choices.say),
            (self.runner.grew, self._grew),
            (self.runner.ran, self._ran),
            (self.runner.failed, self._failed),
        ):
            signal.connect(slot)
        self.choices.run_wanted.connect(self.run)
        self.choices.stop_wanted.connect(self.stop)
        self.choices.edit_wanted.connect(self.edit_day)
        self.choices.shown_wanted.connect(self._show_what)
        self.choices.compare_wanted.connect(self.compare)
        self.centre.run_wanted.connect(self.run)
        self.centre.wanted.connect(self.player.go)
        self.centre.said.connect(desk.say)
        self.outcome.wanted.connect(self.player.go)
        self.outcome.cautions_wanted.connect(self._cautions)
        self.store.store_chosen.connect(self._store_chosen)
        self.player.moved.connect(self._show_time)
        self.in_report.clicked.connect(self.put_in_report)
        desk.sheet_changed.connect(self._sheet_changed)
        desk.condition_changed.connect(self._condition_changed)
        desk.closing.connect(self._close_down)

    # ---- coming and going

    def enter(self) -> None:
        """Come to the front."""
        self._desk.lend_row("run", self.choices)
        self._sheet_changed(self._desk.sheet)
        self.player.line.setFocus()
        self._desk.say("Drag the handle to move through the run. Click a curve for its figures.")

    def leave(self) -> None:
        """Stop playing; a run under way goes on."""
        self.player.stop()

    def set_look(self, look: Any) -> None:
        """Light or dark."""
        for piece in (self.store, self.centre, self.outcome, self.player):
            piece.set_look(look)
        if self._editor is not None:
            self._editor.set_look(look)

    def _close_down(self) -> None:
        self.player.stop()
        self.runner.stop()
        self.centre.close_down()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_sides(self.width() < NARROW_PX)
        self._veil.setGeometry(self._body.rect())
        QTimer.singleShot(0, self, self._line_up)

    def _line_up(self) -> None:
        """The time line lies under the time axis of the chart, where there is one."""
        if self.centre.shows_sheet:
            return  # it stays where it was
        charts = [c for c in self.centre.charts if c.isVisible()]
        span = charts[0].span_px() if len(charts) == 1 else None
        if span is not None:
            off = charts[0].mapTo(self, QPoint(0, 0)).x() - self.player.line.mapTo(self, QPoint(0, 0)).x()
            span = (span[0] + off, span[1] + off)
        self.player.line.set_span(span)

    def _show_sides(self, narrow: bool) -> None:
        left, right = SIDES_PX[narrow]
        self._left.setFixedWidth(left)
        self._right.setFixedWidth(right)
        self.player.hint.setVisible(not narrow)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self.reading is None or not self.player.feed_key(event.key(), shifted):
            super().keyPressEvent(event)

    # ---- running

    def start(self, what: str) -> None:
        """Choose what runs, and run it."""
        self.choices.choose(what)
        self.run()

    def run(self) -> None:
        """Run what is chosen, in place of what is under way; a day that is being edited is the one that is chosen."""
        if self._editor is not None and self._editor.isVisible():
            return self._editor.finish()
        self.other, self._other_words = self._held if self._held is not None else (None, "")
        self.runner.start(self.choices.wish(), (self._desk.sheet,))

    def stop(self) -> None:
        """Stop the run under way, and keep what is done so far."""
        self.runner.stop()

    def _began(self) -> None:
        self.choices.show_busy(True)
        self.player.forget()
        self.bar.setValue(0)

    def _over(self) -> None:
        self.bar.hide()
        self.choices.show_busy(False)

    def _moved(self, part: float) -> None:
        self.bar.show()
        self.bar.setValue(round(1000 * part))

    def _ran(self, runs: list[Run], sheets: tuple[Sheet, ...]) -> None:
        if len(runs) > 1:
            self.other = Reading(runs[0], sheets[0], self._desk.catalogue)
        self._show(Reading(runs[-1], sheets[-1], self._desk.catalogue))
        wish, took = self.runner.wish, self.runner.took_s
        whole = all(r.complete for r in runs)
        self._desk.say(f"{wish.words}: run in {took:.1f} s." if whole else "Stopped; what is done is kept.")

    def _grew(self, run: Run, sheet: Sheet) -> None:
        """There is more of the run that is under way. Beside another it is shown once it is whole."""
        if self.other is not None or self.bar.isHidden():
            return
        reading = Reading(run, sheet, self._desk.catalogue)
        first = self.reading is None or not self.reading.under_way
        self.reading = reading
        end_s = max(reading.end_s, DAY_S if run.kind == "day" else CUT_HOURS * 3600.0)
        self._show_sides_of(True)
        self.save.setEnabled(False)
        self.store.show_readings([("", reading)])
        survey = self._desk.survey
        services = dict(survey.services) if survey is not None and sheet is self._desk.sheet else None
        self.centre.grow(reading, self.store.store, end_s, services)
        self.outcome.show_reading(reading)
        self.player.grow(reading.clock, reading.end_s, end_s, story.moments(reading))
        if first:
            self._sheet_changed(self._desk.sheet)
            QTimer.singleShot(0, self, self._line_up)

    def _failed(self, sentence: str) -> None:
        self.reading = self.other = None
        self._show_sides_of(False)
        self.player.show_run("day", 0.0, [])
        self.centre.say("This cannot be run", sentence, "")
        self._sheet_changed(self._desk.sheet)
        self._desk.say(sentence)

    # ---- showing

    def show_run(self, run: Run, sheet: Sheet) -> None:
        """Show a run that was made before."""
        self._show(Reading(run, sheet, self._desk.catalogue))

    def _show(self, reading: Reading) -> None:
        from loopwright.reports.two_runs import beside

        self.reading = reading
        self.save.setEnabled(True)
        self.choices.ran()
        readings = [("", reading)]
        words: tuple[str, ...] = ()
        if self.other is not None and self.other.run.kind == reading.run.kind:
            second = "this sheet" if self.other.sheet is not reading.sheet else self.runner.wish.told
            readings = [(f"First: {self._other_words}", self.other), (f"Second: {second}", reading)]
            words = beside(self.other.run, reading.run, self.other.sheet, reading.sheet, reading.catalogue)
        survey = self._desk.survey
        services = dict(survey.services) if survey is not None and reading.sheet is self._desk.sheet else None
        self._show_sides_of(True)
        self.store.show_readings([(title.partition(":")[0].lower(), r) for title, r in readings])
        if len(readings) > 1:
            self.store.choose(len(readings[0][1].stores))
        self.player.show_run(reading.clock, max(r.end_s for _, r in readings), story.moments(reading))
        self.centre.show_readings(readings, self.store.store, services)
        self.outcome.show_reading(reading, words)
        self._show_time(self.player.time_s)
        self._sheet_changed(self._desk.sheet)
        QTimer.singleShot(0, self, self._line_up)

    def _show_sides_of(self, shown: bool) -> None:
        for widget in (self.store, self.outcome, self.in_report, self.save):
            widget.setVisible(shown)

    def _show_time(self, time_s: float) -> None:
        if self.reading is None:
            return
        self.store.show_time(time_s)
        self.centre.show_time(time_s)
        self.outcome.show_time(time_s)
        if self.player.playing:
            self.centre.creep()

    def _show_what(self, shown: str) -> None:
        self.centre.show_what(shown)
        QTimer.singleShot(0, self, self._line_up)

    def _store_chosen(self, store: str) -> None:
        self.centre.show_store(store)
        self._show_time(self.player.time_s)

    def _cautions(self) -> None:
        self._desk.help("cautions")

    def _condition_changed(self, _condition: object) -> None:
        self._sheet_changed(self._desk.sheet)

    def _sheet_changed(self, sheet: Sheet) -> None:
        """A run of another sheet than this one is old."""
        self.choices.show_sheet(sheet, self._desk.condition)
        old = self.reading is not None and self.reading.sheet is not sheet
        self.stale.setVisible(old)
        self._veil.setVisible(old)
        self._veil.raise_()
        self.in_report.setEnabled(self.reading is not None and not old and self.reading.run.complete)
        kept = self.reading is not None and self._desk.runs.holds(self.reading.run)
        self.in_report.setText("Take out of the report" if kept else "Put in the report")
        if self.reading is None:
            self._show_sides_of(False)
        self.choices.may_compare(
            saved=self._desk.document.path is not None,
            has_run=self.reading is not None,
            beside=self.other is not None or self._held is not None,
        )

    # ---- beside another, in the report

    def compare(self, how: str) -> None:
        """`saved` or `file`: run two sheets; `hold`: keep this run beside the next; `alone`: one run again."""
        if how == "hold" and self.reading is not None:
            self._held = (self.reading, self.runner.wish.told)
            self._desk.say("Kept. The next run of this sort is shown beside it.")
        elif how == "alone":
            self._held = self.other = None
            if self.reading is not None:
                self._show(self.reading)
        elif how == "saved" and self._desk.document.path is not None:
            self._beside(self._desk.document.path, "as it was saved")
        elif how == "file":
            path = questions.ask_open_path(self._desk.window, self._desk.memory.folder())
            if path is not None:
                self._beside(path, path.stem)
        self._sheet_changed(self._desk.sheet)

    def _beside(self, path: Path, words: str) -> None:
        from loopwright.files.reader import load

        try:
            sheet = load(path, self._desk.catalogue)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._held, self._other_words = None, words
        self.runner.start(self.choices.wish(), (sheet, self._desk.sheet))

    def put_in_report(self) -> None:
        """Print this run in the report, or no more."""
        if self.reading is None:
            return
        if self._desk.runs.holds(self.reading.run):
            self._desk.runs.drop(self.reading.run)
            self._desk.say("The report prints this run no more.")
        else:
            self._desk.runs.keep(self.reading.sheet, self.reading.run)
            self._desk.say("The report now prints this run.")
        self._sheet_changed(self._desk.sheet)

    def picture(self) -> QPixmap:
        """The store and what is in the middle, as they are shown now."""
        picture = QPixmap(self._left.width() + self.centre.width(), self._body.height())
        picture.fill(self._desk.look.colour("paper"))
        self._left.render(picture)
        self.centre.render(picture, QPoint(self._left.width(), 0))
        return picture

    # ---- a day of one's own

    def edit_day(self) -> None:
        """Edit the chosen day on its time line."""
        from loopwright.engineering.runs.day import days

        if self._editor is None:
            from loopwright.window.run.schedule import DayEditor

            self._editor = DayEditor(self._desk, self)
            self._editor.closed.connect(self.centre.back)
            self._editor.done.connect(self._use_day)
        day = self.choices.day() or next(iter(days().values()))
        self.player.stop()
        self._editor.show_day(day)
        self.centre.bring(self._editor)

    def _use_day(self, day: Day) -> None:
        self.centre.back()
        self.choices.use_own(day)
        self.run()
