"""The sheet held against an older revision of it: what differs as a list that lights the sheet, and as pages to save.

Owns which older sheet it is. What differs is asked of `reports.comparison`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QTreeWidget, QTreeWidgetItem, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.as_typed import tip
from loopwright.window.badges import badge_pixmap
from loopwright.window.bars import Elided
from loopwright.window.desk import Desk
from loopwright.window.making import PagesView

if TYPE_CHECKING:
    from loopwright.reports.comparison import Comparison
    from loopwright.sheet.values import Sheet
    from loopwright.window.jobs import Task, Work

IDS = Qt.ItemDataRole.UserRole
SIGNS = {"added": "+", "removed": "−", "changed": "~", "moved": "→"}

FIRST = (
    "Choose an older revision of this sheet, or the file as it was last saved: what was added, removed, moved and set "
    "otherwise, which findings are new and which are gone."
)


class CompareView(PagesView):
    """The comparison with its list of changes."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent, "compare", "Compare")
        self.older: Sheet | None = None
        self.path: Path | None = None
        self.found: Comparison | None = None
        self.choose = QPushButton("Choose the older sheet…", self)
        self.choose.setProperty("primary", True)
        self.choose.clicked.connect(self.ask)
        self.row.addWidget(self.choose)
        self.saved = QPushButton("Against the saved file", self)
        self.saved.setToolTip("What changed since the sheet was last saved")
        self.saved.clicked.connect(self.against_saved)
        self.row.addWidget(self.saved)
        self.verdict = Elided(self)
        self.row.addWidget(self.verdict, 1)
        self.add_zoom()
        self.html = QPushButton("HTML…", self)
        self.html.setToolTip("Save the comparison as one page for a browser")
        self.pdf = QPushButton("Save as PDF…", self)
        self.html.clicked.connect(lambda: self.save(".html"))
        self.pdf.clicked.connect(lambda: self.save(".pdf"))
        for button in (self.html, self.pdf):
            button.setEnabled(False)
            self.row.addWidget(button)
        self.list = QTreeWidget(self)
        self.list.setHeaderHidden(True)
        self.list.setAccessibleName("What differs")
        self.list.setFixedWidth(320)
        self.list.setWordWrap(True)
        self.list.itemActivated.connect(self._go)
        layout = self.paper.layout()
        assert isinstance(layout, QHBoxLayout)
        self.paper.contents.hide()
        layout.insertWidget(0, self.list)
        self._say(FIRST, busy=False, heading="Nothing to compare with yet")

    def enter(self) -> None:
        """Make the comparison anew if something changed."""
        self.saved.setEnabled(self._desk.document.path is not None)
        if self.older is not None:
            super().enter()
        else:
            self.come_to_front()

    # ---- which older sheet

    def ask(self) -> None:
        """Ask for the older sheet."""
        path = questions.ask_open_path(self._desk.window, self._desk.memory.folder())
        if path is not None:
            self.against(path)

    def against_saved(self) -> None:
        """Hold the sheet against its own file."""
        if self._desk.document.path is not None:
            self.against(self._desk.document.path)

    def against(self, path: Path) -> None:
        """Hold the sheet against the one in a file."""
        from loopwright.files.reader import load

        try:
            self.older = load(path, self._desk.catalogue)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self.path = path
        self.make()

    # ---- making

    def _work(self) -> Work | None:
        older, newer, catalogue = self.older, self._desk.sheet, self._desk.catalogue
        if older is None:
            return None

        def work(task: Task) -> Any:
            from loopwright import reports
            from loopwright.reports.comparison import held_against
            from loopwright.reports.comparison_report import report
            from loopwright.window.paper_view import Pages

            found = held_against(older, newer, catalogue)
            task.progress(0.4)
            data = reports.pdf(report(found, catalogue), lambda _words: task.progress(0.5), task.cancelled)
            self._latest = found
            return Pages(data, lambda part: task.progress(0.5 + part / 2))

        return work

    def _shown(self) -> None:
        from loopwright.reports.comparison import grouped

        self.found = found = self._latest
        self.verdict.show_words(found.verdict)
        for button in (self.html, self.pdf):
            button.setEnabled(True)
        self.list.clear()
        look = self._desk.look
        for title, findings in (("Findings new", found.appeared), ("Findings gone", found.gone)):
            if findings:
                top = QTreeWidgetItem(self.list, [title])
                for finding in findings:
                    item = QTreeWidgetItem(top, [finding.message])
                    item.setToolTip(0, tip(finding.message))
                    item.setIcon(0, badge_pixmap(finding.severity.word, str(finding.number), look, size=9.0))
                    item.setData(0, IDS, [finding.subject, *finding.culprits])
        for title, changes in grouped(found.differences.changes):
            top = QTreeWidgetItem(self.list, [title])
            for change in changes:
                item = QTreeWidgetItem(top, [f"{SIGNS[change.sort]}  {change.words}"])
                item.setToolTip(0, tip(change.words))
                item.setData(0, IDS, [change.after.partition("/")[0]] if change.after else [])
        self.list.expandAll()

    def _go(self, item: QTreeWidgetItem) -> None:
        """Show on the sheet what a line is about."""
        ids = [i for i in item.data(0, IDS) or () if i]
        if ids:
            self._desk.open("draw")
            self._desk.choose(ids)
            self._desk.light(ids)

    def save(self, ending: str) -> None:
        """Ask where, and write the comparison there."""
        from loopwright.reports.comparison_report import write

        if self.found is None:
            return
        doc = self._desk.document
        start = self._desk.memory.offered(doc.path, doc.name, f" compared{ending}")
        path = questions.ask_save_path(self._desk.window, start, "Save the comparison", ending)
        if path is None:
            return
        try:
            write(self.found, self._desk.catalogue, path)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} saved.")
