"""The report of the sheet as it will be printed, with what it may hold besides, and the ways to save it.

Owns the choices. What the report says is asked of `reports`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QPushButton, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.desk import Desk
from loopwright.window.making import PagesView

if TYPE_CHECKING:
    from loopwright.reports.model import Paper, Report
    from loopwright.window.jobs import Task, Work

SHARE_OF_MAKING = 0.6
"""Part of the work that goes into the report itself; the rest makes its pages visible."""


class ReportView(PagesView):
    """The report with its choices."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent, "report", "Report")
        self.report: Report | None = None
        desk.runs.changed.connect(self._more_runs)
        self.format = QComboBox(self)
        self.format.addItems(["A4", "A3"])
        self.format.setAccessibleName("Size of the paper")
        self.format.currentIndexChanged.connect(self.make)
        self.row.addWidget(self.format)
        self.computed = QCheckBox("With the flow worked out", self)
        self.computed.setToolTip("Also the rules and figures that work out the flow, which takes some seconds")
        self.computed.toggled.connect(self.make)
        self.row.addWidget(self.computed)
        self.row.addStretch(1)
        self.place = QLabel("", self)
        self.paper.page_changed.connect(lambda page, pages: self.place.setText(f"Page {page} of {pages}"))
        self.row.addWidget(self.place)
        self.add_zoom()
        self.tables = QPushButton("Tables…", self)
        self.tables.setToolTip("Save every table as CSV, for other programs")
        self.tables.clicked.connect(self.save_tables)
        self.html = QPushButton("HTML…", self)
        self.html.setToolTip("Save the report as one page for a browser")
        self.html.clicked.connect(lambda: self.save(".html"))
        self.pdf = QPushButton("Save as PDF…", self)
        self.pdf.setProperty("primary", True)
        self.pdf.clicked.connect(lambda: self.save(".pdf"))
        for button in (self.tables, self.html, self.pdf):
            button.setEnabled(False)
            self.row.addWidget(button)

    def _more_runs(self) -> None:
        """The runs to print are others now."""
        self._made_of = None
        if self._in_front:
            self.make()

    def _work(self) -> Work | None:
        sheet, catalogue = self._desk.sheet, self._desk.catalogue
        runs = self._desk.runs.of(sheet)
        computed, paper = self.computed.isChecked(), cast("Paper", self.format.currentText())
        survey = None if computed else self._desk.survey

        def work(task: Task) -> Any:
            from loopwright import reports
            from loopwright.window.paper_view import Pages

            steps = iter(range(1, 10_000))

            def step(_words: str) -> None:
                task.progress(SHARE_OF_MAKING * (1 - 0.95 ** next(steps)))

            self_report = reports.build(
                sheet, catalogue, survey, paper=paper, computed=computed, runs=runs, progress=step
            )
            data = reports.pdf(self_report, step, task.cancelled)
            pages = Pages(data, lambda part: task.progress(SHARE_OF_MAKING + (1 - SHARE_OF_MAKING) * part))
            self._latest = self_report
            return pages

        return work

    def _shown(self) -> None:
        self.report = self._latest
        for button in (self.tables, self.html, self.pdf):
            button.setEnabled(True)

    # ---- saving

    def save(self, ending: str) -> None:
        """Ask where, and write the report there; a target that cannot be written leaves nothing half done."""
        from loopwright import reports
        from loopwright.files.writer import write_bytes

        report, pages = self.report, self.pages
        if report is None or pages is None:
            return
        path = questions.ask_save_path(self._desk.window, self._start(ending), "Save the report", ending)
        if path is None:
            return
        try:
            write_bytes(path, pages.data if ending == ".pdf" else reports.html(report).encode("utf-8"))
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} saved.")

    def save_tables(self) -> None:
        """Ask for a folder, and write every table into it."""
        from loopwright import reports
        from loopwright.files.writer import write_bytes

        if self.report is None:
            return
        folder = questions.ask_folder(self._desk.window, self._desk.memory.folder(), "Save the tables in")
        if folder is None:
            return
        try:
            written = reports.tables(self.report)
            for name, data in written.items():
                write_bytes(folder / name, data)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{len(written)} table{'' if len(written) == 1 else 's'} saved in {folder}.")

    def _start(self, ending: str) -> Path:
        doc = self._desk.document
        return self._desk.memory.offered(doc.path, doc.name, f" report{ending}")
