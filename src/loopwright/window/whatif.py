"""What if: every plausible condition tried, the bad ones first; choosing one plays it on the sheet and can be recorded.

Owns the list and what a choice does. The verdicts come from `rules.trials`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QListWidget, QListWidgetItem, QPushButton, QWidget

from loopwright.window.badges import badge_pixmap
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.panel import Panel
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.rules.trials import Trial
    from loopwright.sheet.values import Sheet

TRIAL = Qt.ItemDataRole.UserRole
RECORDED = "Recorded for the report"


class WhatIf(Panel):
    """The conditions worth trying, with what each does to the fires."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__("What if", parent)
        self._desk = desk
        self._trials: tuple[Trial, ...] = ()
        self._of: Sheet | None = None
        self._in_front = False
        done = QPushButton("Done", self)
        done.setToolTip("Back to the properties and findings (Esc)")
        done.clicked.connect(lambda: self._desk.close("what_if"))
        self.head.addWidget(done)
        self.said = QLabel("", self)
        self.said.setWordWrap(True)
        self.said.setObjectName("hint")
        self.body.addWidget(self.said)
        self.every = QCheckBox("Also pairs that only repeat one of their halves", self)
        self.every.toggled.connect(self._fill)
        self.body.addWidget(self.every)
        self.list = QListWidget(self)
        self.list.setAccessibleName("Conditions tried")
        self.list.setWordWrap(True)
        self.list.setIconSize(QSize(22, 22))
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentItemChanged.connect(self._play)
        self.body.addWidget(self.list, 1)
        row = QHBoxLayout()
        self.record = QPushButton("Record", self)
        self.record.setToolTip("Print this condition and its verdict in the report")
        self.record.clicked.connect(self._record)
        self.normal = QPushButton("Back to normal running", self)
        self.normal.clicked.connect(self._normal)
        row.addWidget(self.record)
        row.addStretch(1)
        row.addWidget(self.normal)
        self.body.addLayout(row)
        desk.sheet_changed.connect(self._sheet_changed)

    # ---- coming and going

    def enter(self) -> None:
        """Try everything on the sheet as it is now."""
        self._in_front = True
        self._ask()
        self.list.setFocus()

    def leave(self) -> None:
        """Leave the sheet as it normally runs."""
        self._in_front = False
        self._normal()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._fill()

    def _sheet_changed(self, _sheet: object) -> None:
        if self._in_front:
            self._ask()

    # ---- trying

    def _ask(self) -> None:
        sheet, catalogue = self._desk.sheet, self._desk.catalogue
        if sheet is self._of:
            self._fill()
            return
        self._of = sheet
        self.said.setText("Trying…")

        def work(_task: object) -> Any:
            from loopwright.rules.registry import Case
            from loopwright.rules.trials import trials
            from loopwright.waterways import Waterways

            return trials(Case(Waterways(sheet, catalogue)))

        def done(found: Any) -> None:
            if sheet is self._of:
                self._trials = found
                self._fill()

        self._desk.work(work, done)

    # ---- showing

    def _fill(self) -> None:
        from loopwright.rules.review import conditions_tried
        from loopwright.rules.trials import telling

        chosen = self._chosen()
        shown = self._trials if self.every.isChecked() else telling(self._trials)
        recorded = conditions_tried(self._desk.sheet)
        self.list.blockSignals(True)
        self.list.clear()
        for trial in sorted(shown, key=lambda t: (t.holds, not t.filling)):
            words = [trial.words, *trial.says]
            if trial.condition in recorded:
                words.append(RECORDED)
            item = QListWidgetItem(self._icon(trial), "\n".join(words))
            item.setData(TRIAL, trial)
            self.list.addItem(item)
            if chosen is not None and trial.condition == chosen.condition:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        bad = sum(not t.holds for t in self._trials)
        full = sum(bool(t.filling) for t in shown)
        said = f"{len(self._trials)} conditions tried. " if self._trials else ""
        said += (
            f"{bad} {'leaves' if bad == 1 else 'leave'} a source in danger. "
            if bad
            else "None leaves a source in danger. "
        )
        if full:
            said += f"In {full} a fire has only a store to heat, which ends when the store is full. "
        self.said.setText(said + "Choose one to see it on the sheet.")
        self._refresh()

    def _icon(self, trial: Trial) -> QIcon:
        if trial.holds and not trial.filling:
            return icon("tick", self._desk.look["ok"])
        return QIcon(badge_pixmap("danger" if trial.lost else "fault", "!", self._desk.look, size=9.0))

    def _chosen(self) -> Trial | None:
        item = self.list.currentItem()
        return item.data(TRIAL) if item is not None else None

    def _refresh(self) -> None:
        from loopwright.rules.review import conditions_tried

        trial = self._chosen()
        self.record.setEnabled(trial is not None)
        recorded = trial is not None and trial.condition in conditions_tried(self._desk.sheet)
        self.record.setText("Take out of the report" if recorded else "Record")

    # ---- doing

    def _play(self, *_: object) -> None:
        trial = self._chosen()
        if trial is not None:
            self._desk.show_condition(trial.condition)
            self._desk.light(trial.lost or trial.filling, "danger" if trial.lost else "fault")
            self._desk.say(f"{trial.words}. {' '.join(trial.says)}")
        self._refresh()

    def _record(self) -> None:
        from loopwright.rules.review import conditions_tried, forget_tried, note_tried

        trial = self._chosen()
        if trial is None:
            return
        condition = trial.condition
        if condition in conditions_tried(self._desk.sheet):
            self._desk.apply("Take a condition out of the report", lambda s: forget_tried(s, condition))
        else:
            self._desk.apply("Record a condition", lambda s: note_tried(s, condition))

    def _normal(self) -> None:
        from loopwright.waterways.views import NORMAL

        self.list.setCurrentRow(-1)
        self._desk.show_condition(NORMAL)
        self._desk.light(())
        self._refresh()
