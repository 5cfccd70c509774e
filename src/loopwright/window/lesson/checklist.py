"""The order of work as a checklist: ticked, explained, lit on the sheet, printed and saved.

Owns the list and its filter. A tick is a fact of the sheet, set by an edit that can be undone.
"""

from __future__ import annotations

from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

from PySide6.QtCore import QMarginsF, QSize, Qt, QUrl
from PySide6.QtGui import QAction, QFont, QPageLayout, QPageSize, QPdfWriter, QTextDocument
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QMenu,
    QPushButton,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.desk import Desk
from loopwright.window.lesson.words import with_words
from loopwright.window.pages import page_of_link, sheet_of_page

if TYPE_CHECKING:
    from loopwright.lessons.order import Task, WorkOrder

KEY = Qt.ItemDataRole.UserRole
CHOOSE = "Choose a job to see what it is about, why it stands here, and its parts on the sheet."
SHOWN = ("Every job", "Ready to start", "Still to do")


class JobList(QListWidget):
    """Jobs with words that wrap at any width."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("jobs")
        self.setWordWrap(True)
        self.setSpacing(2)
        self.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)


class ChecklistPage(QWidget):
    """The checklist."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self.order: WorkOrder | None = None
        self._every = False
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.setSpacing(6)
        row = QHBoxLayout()
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        self.show_what = QComboBox(self)
        self.show_what.addItems(SHOWN)
        self.show_what.setAccessibleName("Which jobs to show")
        self.show_what.currentIndexChanged.connect(self._fill)
        row.addWidget(self.said, 1)
        row.addWidget(self.show_what)
        column.addLayout(row)
        self.list = JobList(self)
        self.list.setAccessibleName("Order of work")
        self.list.itemChanged.connect(self._ticked)
        self.list.currentItemChanged.connect(self._chosen)
        column.addWidget(self.list, 1)
        self.why = QTextBrowser(self)
        self.why.setAccessibleName("Why this job stands here")
        self.why.setOpenLinks(False)
        self.why.setMinimumHeight(96)
        self.why.setMaximumHeight(160)
        self.why.anchorClicked.connect(self._follow)
        column.addWidget(self.why)
        last = QHBoxLayout()
        self.untick = QPushButton("Untick all", self)
        self.untick.clicked.connect(self._untick)
        self.save_button = QPushButton("Print or save", self)
        menu = QMenu(self.save_button)
        for words, ending in (
            ("Print…", ""),
            ("Save as PDF…", ".pdf"),
            ("Save as HTML…", ".html"),
            ("Save as text…", ".txt"),
        ):
            menu.addAction(words).setData(ending)
        menu.triggered.connect(self._on_paper)
        self.save_button.setMenu(menu)
        last.addWidget(self.untick)
        last.addStretch(1)
        last.addWidget(self.save_button)
        column.addLayout(last)

    # ---- showing

    def show_order(self, order: WorkOrder) -> None:
        """Show an order of work with the ticks of the sheet."""
        self.order = order
        self._fill()

    def _fill(self, _number: int = 0) -> None:
        from loopwright.lessons.order import ready, ticked

        order = self.order
        if order is None:
            return
        done, look = ticked(self._desk.sheet), self._desk.look
        may = set(ready(order, done))
        now = self.list.currentItem()
        kept = now.data(KEY) if now is not None else ""
        at = self.list.verticalScrollBar().value()
        self.list.blockSignals(True)
        self.list.clear()
        shown = [t for t in order.tasks if self._wanted(t.key, done, may)]
        for stage, tasks in groupby(shown, key=lambda t: t.stage):
            head = QListWidgetItem(stage)
            font = head.font()
            font.setWeight(font.Weight.DemiBold)
            head.setFont(font)
            head.setFlags(Qt.ItemFlag.NoItemFlags)
            head.setForeground(look.colour("ink2"))
            self.list.addItem(head)
            for task in tasks:
                item = self._item(task, done, may)
                self.list.addItem(item)
                if task.key == kept:
                    self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        self.list.verticalScrollBar().setValue(at)
        count = sum(t.key in done for t in order.tasks)
        self.said.setText(f"{count} of {len(order.tasks)} done, {len(may)} ready")
        self.untick.setEnabled(bool(done))
        self._explain()

    def _wanted(self, key: str, done: frozenset[str], may: set[str]) -> bool:
        match self.show_what.currentIndex():
            case 1:
                return key in may
            case 2:
                return key not in done
        return True

    def _item(self, task: Task, done: frozenset[str], may: set[str]) -> QListWidgetItem:
        assert self.order is not None
        number = self.order.number[task.key]
        item = QListWidgetItem(f"{number}  {task.title}" + (f"  ({task.place})" if task.place else ""))
        item.setData(KEY, task.key)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable)
        item.setCheckState(Qt.CheckState.Checked if task.key in done else Qt.CheckState.Unchecked)
        state = "done" if task.key in done else "ready to start" if task.key in may else "waits for others"
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{number}, {task.title}, {state}")
        if task.key in done or task.key not in may:
            item.setForeground(self._desk.look.colour("ink3"))
        return item

    # ---- one job

    @property
    def job(self) -> str:
        """The key of the chosen job, or an empty string."""
        item = self.list.currentItem()
        return str(item.data(KEY) or "") if item is not None else ""

    def _chosen(self, *_: object) -> None:
        self._every = False
        self._explain()
        order = self.order
        if order is not None and self.job in order.by_key:
            task = order.by_key[self.job]
            self._desk.light((*task.parts, *task.pipes), "accent")

    def _explain(self) -> None:
        order, key = self.order, self.job
        self.why.document().setDefaultStyleSheet(sheet_of_page(self._desk.look, 12))
        if order is None or key not in order.by_key:
            self.why.setHtml(f'<p class="faint">{CHOOSE}</p>')
            return
        task = order.by_key[key]
        out = [f"<p><b>{order.number[key]}  {escape(task.title)}</b></p>"]
        if task.detail:
            out.append(f"<p>{with_words(escape(task.detail, quote=False))}</p>")
        arrows = order.before(key)
        least = [p for p in order.shown if p.after == key]
        shown = arrows if self._every else sorted(least, key=lambda p: order.number[p.before])
        by_reason: dict[tuple[str, str], list[str]] = {}
        for arrow in shown:
            number = order.number[arrow.before]
            link = f'<a href="job:{escape(arrow.before)}">{number}</a>'
            by_reason.setdefault((arrow.why, arrow.source if arrow.sources else ""), []).append(link)
        for (why, source), numbers in by_reason.items():
            more = f' <span class="faint">({escape(source)})</span>' if source else ""
            out.append(f"<p>After {', '.join(numbers)}: {with_words(escape(why, quote=False))}{more}</p>")
        if not arrows:
            out.append('<p class="faint">Nothing comes before it.</p>')
        if len(arrows) > len(least):
            words = "Only the nearest" if self._every else f"All {len(arrows)} jobs that come before it"
            out.append(f'<p><a href="every:">{words}</a></p>')
        self.why.setHtml("".join(out))

    def _follow(self, url: QUrl) -> None:
        text = url.toString()
        if text.startswith("every:"):
            self._every = not self._every
            self._explain()
        elif text.startswith("job:"):
            self.choose(text.removeprefix("job:"))
        elif page_of_link(url):
            self._desk.help(page_of_link(url))

    def choose(self, key: str) -> None:
        """Choose a job."""
        for number in range(self.list.count()):
            item = self.list.item(number)
            if item.data(KEY) == key:
                self.list.setCurrentItem(item)
                self.list.scrollToItem(item)
                return

    # ---- ticks

    def _ticked(self, item: QListWidgetItem) -> None:
        from loopwright.lessons.order import tick

        key = item.data(KEY)
        done = item.checkState() == Qt.CheckState.Checked
        if key:
            self._desk.apply("Tick a job" if done else "Untick a job", lambda s: tick(s, key, done))

    def _untick(self) -> None:
        from loopwright.lessons.order import untick_all

        self._desk.apply("Untick all jobs", untick_all)

    # ---- on paper

    def _html(self) -> str:
        from loopwright.lessons.order import ticked
        from loopwright.lessons.order_print import html

        assert self.order is not None
        return html(self.order, ticked(self._desk.sheet))

    def _document(self) -> QTextDocument:
        document = QTextDocument(self)
        font = QFont(self.font().families())
        font.setPointSizeF(10.0)  # in points: pixels would shrink with the printer's resolution
        document.setDefaultFont(font)
        document.setHtml(self._html())
        return document

    def _on_paper(self, action: QAction) -> None:
        ending = str(action.data() or "")
        if ending:
            self.save(ending)
        else:
            self.print_()

    def print_(self) -> None:
        """Ask for a printer and print the checklist."""
        from loopwright.files.writer import write_bytes

        if self.order is None:
            return
        printer = questions.ask_printer(self._desk.window, f"Order of work: {self.order.title}")
        if printer is None:
            return
        file = printer.outputFileName()
        try:
            if file:  # printing to a file would say nothing of a disk that is full
                write_bytes(file, self._pdf())
            else:
                self._document().print_(printer)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say("The order of work was printed.")

    def save(self, ending: str) -> None:
        """Ask where, and write the checklist there as .pdf, .html or .txt."""
        from loopwright.files.writer import write_bytes
        from loopwright.lessons.order import ticked
        from loopwright.lessons.order_print import text

        if self.order is None:
            return
        doc = self._desk.document
        start = self._desk.memory.offered(doc.path, doc.name, f" order of work{ending}")
        path = questions.ask_save_path(self._desk.window, start, "Save the order of work", ending)
        if path is None:
            return
        try:
            if ending == ".pdf":
                write_bytes(path, self._pdf())
            elif ending == ".html":
                write_bytes(path, self._html().encode("utf-8"))
            else:
                words = text(self.order, ticked(self._desk.sheet), reasons=True)
                write_bytes(path, f"{words}\n".encode())
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} saved.")

    def _pdf(self) -> bytes:
        """The checklist on A4 pages."""
        from PySide6.QtCore import QBuffer, QByteArray, QIODevice

        data = QByteArray()
        buffer = QBuffer(data)
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        writer = QPdfWriter(buffer)
        size, upright = QPageSize(QPageSize.PageSizeId.A4), QPageLayout.Orientation.Portrait
        writer.setPageLayout(QPageLayout(size, upright, QMarginsF(0, 0, 0, 0)))  # the text keeps its own margin of 2 cm
        writer.setTitle(f"Order of work: {self.order.title}" if self.order is not None else "Order of work")
        self._document().print_(writer)
        del writer
        buffer.close()
        return bytes(data.data())

    def sizeHint(self) -> QSize:
        return QSize(340, 600)
