"""The box that checks a folder of answers to a lesson: a row a file, saved as a table.

Owns the rows on the screen. They are marked by `lessons.marking`, as `loopwright mark` does.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
)

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.lesson import library

if TYPE_CHECKING:
    from loopwright.lessons.lesson import Lesson
    from loopwright.lessons.marking import Row
    from loopwright.window.jobs import Task

HEADS = ("File", "Stands", "Points", "What is missed")
TEACHES = (
    "Choose the lesson, then the folder with the answers: one sheet a learner, and the name of the file is the only "
    "name. Nothing leaves this machine."
)


class AnswersDialog(QDialog):
    """Answers and how they stand."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Check answers")
        self.resize(860, 560)
        self._desk = desk
        self._task: Task | None = None
        self.rows: Sequence[Row] = ()
        self.folder: Path | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 14, 14, 14)
        column.setSpacing(8)
        row = QHBoxLayout()
        self.lesson = QComboBox(self)
        self.lesson.setAccessibleName("Lesson")
        for course in library.shipped():
            for lesson in course.lessons:
                self.lesson.addItem(f"{lesson.id}  {lesson.title}", lesson)
        own, _ = library.own_lessons(library.own_folder(desk.memory))
        for lesson in own:
            self.lesson.addItem(f"{lesson.title} (own)", lesson)
        self.lesson.currentIndexChanged.connect(self._again)
        self.choose = QPushButton("Choose the folder…", self)
        self.choose.setProperty("primary", True)
        self.choose.clicked.connect(self._ask)
        row.addWidget(QLabel("Lesson", self))
        row.addWidget(self.lesson, 1)
        row.addWidget(self.choose)
        column.addLayout(row)
        self.said = QLabel(TEACHES, self)
        self.said.setWordWrap(True)
        self.said.setObjectName("hint")
        column.addWidget(self.said)
        self.table = QTableWidget(0, len(HEADS), self)
        self.table.setAccessibleName("Answers")
        self.table.setHorizontalHeaderLabels(list(HEADS))
        self.table.verticalHeader().hide()
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setWordWrap(True)
        self.table.setShowGrid(False)
        header = self.table.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        for number, width in ((0, 190), (1, 100), (2, 56)):
            header.resizeSection(number, width)
        header.setSectionResizeMode(3, QHeaderView.ResizeMode.Stretch)
        header.sectionResized.connect(self._fit_rows)
        self.table.cellActivated.connect(self._open)
        column.addWidget(self.table, 1)
        self.common = QLabel("", self)
        self.common.setWordWrap(True)
        column.addWidget(self.common)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        self.save_button = QPushButton("Save as CSV…", self)
        self.save_button.setEnabled(False)
        self.save_button.clicked.connect(self.save)
        buttons.addButton(self.save_button, QDialogButtonBox.ButtonRole.ActionRole)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.finished.connect(self._stop)

    def _ask(self) -> None:
        folder = questions.ask_folder(self, self.folder or self._desk.memory.folder(), "Folder of answers")
        if folder is not None:
            self.check(folder)

    def _again(self, _number: int) -> None:
        if self.folder is not None:
            self.check(self.folder)

    def check(self, folder: Path) -> None:
        """Mark every sheet of a folder."""
        self.folder = folder
        self._stop()
        lesson: Lesson = self.lesson.currentData()
        catalogue = self._desk.catalogue
        files = sorted(folder.glob("*.loopwright"))
        self.said.setText(f"{folder}: {len(files)} sheet{'' if len(files) == 1 else 's'} to check…")

        def work(task: Task) -> Any:
            from loopwright.lessons import mark

            out: list[Row] = []
            for number, path in enumerate(files):
                task.progress(number / max(1, len(files)))
                out += mark(lesson, [path], catalogue)
            return out

        self._task = self._desk.work(work, self._show, self._refused)

    def _show(self, rows: Sequence[Row]) -> None:
        from loopwright.lessons.marking import common_misses
        from loopwright.rules.registry import page

        self.rows = rows
        look = self._desk.look
        self.table.setRowCount(len(rows))
        for number, row in enumerate(rows):
            stands = "unreadable" if row.refused else "passed" if row.passed else "not yet"
            told = [row.refused] if row.refused else [*row.missed, *row.outside, *(f"New harm: {h}" for h in row.harm)]
            told += ["Begun from another sheet."] if row.another_start else []
            for column, words in enumerate((row.name, stands, str(row.score), " ".join(told))):
                item = QTableWidgetItem(words)
                item.setToolTip(words)
                item.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
                if row.passed and column == 1:
                    item.setIcon(icon("tick", look["ok"], size=16))
                self.table.setItem(number, column, item)
        self.table.resizeRowsToContents()
        passed = sum(r.passed for r in rows)
        none = "There is no sheet in that folder. Answers are files that end in .loopwright."
        self.said.setText(f"{self.folder}: {passed} of {len(rows)} passed." if rows else none)
        misses = common_misses(rows)[:3]
        most = "; ".join(f"{page(rule).title.lower()} ({count})" for rule, count in misses)
        self.common.setText(f"Missed most: {most}." if misses else "")
        self.save_button.setEnabled(bool(rows))

    def _refused(self, bad: LoopwrightError) -> None:
        self.said.setText(bad.sentence)

    def _fit_rows(self, *_: object) -> None:
        self.table.resizeRowsToContents()

    def _open(self, number: int, _column: int = 0) -> None:
        """Open the answer of a row in a tab of its own."""
        if self.folder is not None and not self.rows[number].refused:
            self._desk.open_file(self.folder / self.rows[number].name)

    def save(self) -> None:
        """Ask where, and write the rows there."""
        from loopwright.files.writer import write_bytes
        from loopwright.lessons.marking import as_csv

        lesson: Lesson = self.lesson.currentData()
        start = (self.folder or self._desk.memory.folder()) / f"{lesson.id} answers.csv"
        path = questions.ask_save_path(self, start, "Save the table", ".csv")
        if path is None:
            return
        try:
            write_bytes(path, as_csv(self.rows).encode("utf-8"))
        except LoopwrightError as bad:
            self.said.setText(bad.sentence)
            return
        self.said.setText(f"{path.name} saved.")

    def _stop(self, *_: object) -> None:
        if self._task is not None and not self._task.over:
            self._task.cancel()
