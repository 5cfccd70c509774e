"""The courses in place of the sheet: every lesson with how it stands, what it teaches, and the way in.

Owns the list and the page beside it. Standing comes from `lessons.progress`, own lessons from `library`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QSplitter,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from loopwright.errors import LoopwrightError
from loopwright.window import questions
from loopwright.window.desk import Desk
from loopwright.window.icons import icon
from loopwright.window.lesson import library
from loopwright.window.lesson.asked import Asked
from loopwright.window.lesson.goals import state_pixmap
from loopwright.window.lesson.words import Words
from loopwright.window.panel import scrolled
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.lesson import Lesson
    from loopwright.lessons.progress import Progress, Standing

LESSON = Qt.ItemDataRole.UserRole
SORTS = {"lesson": "Lesson", "faults": "Find the faults", "brief": "Design it yourself"}
FIRST = (
    "Four courses lead from why hot water climbs to whole systems of your own. A lesson opens a sheet in a tab of its "
    "own: bet on what will happen, draw, check, and see it played. Begin with the first one; nothing can be broken, "
    "and every right answer passes, whatever it looks like."
)


class CoursesView(QWidget):
    """The courses and their lessons."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName("Courses")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.choices = self._make_choices()
        column.addWidget(self.choices)
        split = QSplitter(Qt.Orientation.Horizontal, self)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.addWidget(self._make_tree())
        split.addWidget(self._make_page())
        split.setSizes([620, 560])
        split.setStretchFactor(0, 1)
        split.setStretchFactor(1, 1)
        column.addWidget(split, 1)

    # ---- building

    def _make_choices(self) -> QWidget:
        bar = QWidget(self)
        row = QHBoxLayout(bar)
        row.setContentsMargins(6, 0, 12, 0)
        row.setSpacing(8)
        title = QLabel("Courses", bar)
        title.setObjectName("panel-heading")
        row.addWidget(title)
        self.stand = QLabel("", bar)
        row.addWidget(self.stand)
        row.addStretch(1)
        self.folder = QPushButton("Folder of own lessons…", bar)
        self.folder.clicked.connect(self._choose_folder)
        self.reset = QPushButton("Forget my progress…", bar)
        self.reset.clicked.connect(self._reset)
        self.done = QPushButton("Back to the sheet", bar)
        self.done.setToolTip("Esc")
        self.done.clicked.connect(self._back)
        for button in (self.folder, self.reset, self.done):
            row.addWidget(button)
        return bar

    def _make_tree(self) -> QWidget:
        self.tree = QTreeWidget(self)
        self.tree.setAccessibleName("Lessons")
        self.tree.setColumnCount(4)
        self.tree.setHeaderLabels(["Lesson", "Time", "Stands", "Best"])
        self.tree.setIconSize(QSize(16, 16))
        self.tree.setIndentation(16)
        self.tree.setUniformRowHeights(True)
        self.tree.setAllColumnsShowFocus(True)
        header = self.tree.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for number, width in ((1, 66), (2, 128), (3, 56)):
            header.setSectionResizeMode(number, QHeaderView.ResizeMode.Fixed)
            header.resizeSection(number, width)
        self.tree.currentItemChanged.connect(self._chosen)
        self.tree.itemActivated.connect(self._activated)
        around = QWidget(self)
        inner = QVBoxLayout(around)
        inner.setContentsMargins(10, 8, 6, 8)
        inner.addWidget(self.tree)
        return around

    def _make_page(self) -> QWidget:
        page = QWidget(self)
        page.setObjectName("panel-body")
        column = QVBoxLayout(page)
        column.setContentsMargins(24, 20, 24, 20)
        column.setSpacing(10)
        self.title = QLabel("", page)
        self.title.setObjectName("page-heading")
        self.title.setWordWrap(True)
        self.about = QLabel("", page)
        self.about.setObjectName("hint")
        self.about.setWordWrap(True)
        self.able, self.task, self.believed = Words(page), Words(page), Words(page)
        for words in (self.able, self.task, self.believed):
            words.wanted.connect(self._desk.help)
        self.state = QLabel("", page)
        self.state.setWordWrap(True)
        self.start_button = QPushButton("Start", page)
        self.start_button.setProperty("primary", True)
        self.start_button.setMinimumWidth(120)
        self.start_button.clicked.connect(self.start)
        for widget in (self.title, self.about, self.able, self.task, self.believed, self.state):
            column.addWidget(widget)
        row = QHBoxLayout()
        row.addWidget(self.start_button)
        row.addStretch(1)
        column.addLayout(row)
        self.again = Asked("It comes back: do you still know it?", page)
        self.again.chosen.connect(self._answered)
        self.again.help_wanted.connect(self._desk.help)
        self.again.hide()
        column.addWidget(self.again)
        column.addStretch(1)
        return scrolled(page, self)

    # ---- coming and going

    def enter(self) -> None:
        """Show the lessons as they stand now."""
        self._desk.lend_row("courses", self.choices)
        self._fill()
        self.tree.setFocus()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        if self.tree.topLevelItemCount():
            self._fill()

    # ---- the list

    def _fill(self) -> None:
        from loopwright.lessons import Progress

        now = self._lesson()
        self.tree.blockSignals(True)
        self.tree.clear()
        try:
            self._progress: Progress = Progress()
            courses = library.shipped()
        except LoopwrightError as bad:
            self.title.setText("The lessons cannot be shown")
            self.about.setText(bad.sentence)
            self.start_button.hide()
            self.tree.blockSignals(False)
            return
        due = set(self._progress.due())
        again = first = None
        done = count = 0
        for course in courses:
            top = self._group(course.title, course.about, [self._progress.of(x.id).passed for x in course.lessons])
            for lesson in course.lessons:
                item = self._item(top, lesson, due)
                passed = self._progress.of(lesson.id).passed
                done, count = done + passed, count + 1
                first = first or (None if passed else item)
                again = item if now is not None and lesson.path == now.path else again
        own, refused = library.own_lessons(library.own_folder(self._desk.memory))
        if own or refused:
            folder = str(library.own_folder(self._desk.memory))
            top = self._group("Own lessons", folder, [self._progress.of(x.id).passed for x in own])
            for lesson in own:
                item = self._item(top, lesson, due)
                again = item if now is not None and lesson.path == now.path else again
            for words in refused:
                bad_item = QTreeWidgetItem(top, [words])
                bad_item.setToolTip(0, words)
                bad_item.setForeground(0, self._desk.look.colour("danger"))
        self.tree.expandAll()
        self.tree.blockSignals(False)
        self.stand.setText(f"{done} of {count} done" if done else "")
        self.reset.setEnabled(bool(self._progress.standings))
        wanted = again or first or self.tree.topLevelItem(0)
        if wanted is not None:
            self.tree.setCurrentItem(wanted)
            self._chosen(wanted)

    def _group(self, title: str, about: str, passed: list[bool]) -> QTreeWidgetItem:
        top = QTreeWidgetItem(self.tree, [title, "", f"{sum(passed)} of {len(passed)} done" if any(passed) else "", ""])
        font = top.font(0)
        font.setWeight(font.Weight.DemiBold)
        top.setFont(0, font)
        top.setToolTip(0, about)
        top.setForeground(2, self._desk.look.colour("ink3"))
        return top

    def _item(self, top: QTreeWidgetItem, lesson: Lesson, due: set[str]) -> QTreeWidgetItem:
        standing = self._progress.of(lesson.id)
        words = self._stands(standing, lesson.id in due)
        best = str(standing.best) if standing.best else ""
        short = f"{lesson.id}  " if len(lesson.id) < 8 else ""
        item = QTreeWidgetItem(top, [f"{short}{lesson.title}", f"{lesson.minutes} min", words, best])
        item.setData(0, LESSON, lesson)
        item.setToolTip(0, f"To be able to {lesson.able_to}")
        item.setTextAlignment(3, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        for column in (1, 2, 3):
            item.setForeground(column, self._desk.look.colour("ink2"))
        item.setIcon(0, self._icon(standing))
        spoken = f"{lesson.title}, {lesson.minutes} minutes, {words or 'not begun'}"
        item.setData(0, Qt.ItemDataRole.AccessibleTextRole, spoken)
        return item

    def _icon(self, standing: Standing) -> QIcon:
        look = self._desk.look
        if standing.passed:
            return icon("tick", look["ok"], size=16)
        return QIcon(state_pixmap("unmet" if standing.checks else "not yet", look))

    @staticmethod
    def _stands(standing: Standing, due: bool) -> str:
        if standing.passed:
            return "done, comes back" if due else "done"
        return f"tried, {standing.checks} check{'' if standing.checks == 1 else 's'}" if standing.checks else ""

    # ---- the page

    def _lesson(self) -> Lesson | None:
        item = self.tree.currentItem()
        return item.data(0, LESSON) if item is not None else None

    def _chosen(self, item: QTreeWidgetItem | None, _before: object = None) -> None:
        lesson: Lesson | None = item.data(0, LESSON) if item is not None else None
        look = self._desk.look
        for widget in (self.able, self.task, self.believed, self.state, self.start_button):
            widget.setVisible(lesson is not None)
        self.again.hide()
        if lesson is None:
            self.title.setText(item.text(0) if item is not None else "Courses")
            self.about.setText(item.toolTip(0) if item is not None else "")
            return
        from loopwright.lessons import misconceptions

        standing = self._progress.of(lesson.id)
        self.title.setText(lesson.title)
        draft = f". Draft: {lesson.draft}." if lesson.draft else ""
        self.about.setText(f"{SORTS[lesson.sort]}, about {lesson.minutes} min{draft}")
        self.able.say(f"<b>What it teaches:</b> to {lesson.able_to}.", look, html=True)
        self.task.say(lesson.task, look)
        known = misconceptions()
        believed = [known[key].believed.rstrip(".") for key in lesson.misconceptions if key in known]
        self.believed.say(f"<b>Often believed:</b> {'. '.join(believed)}.", look, html=True)
        self.believed.setVisible(bool(believed))
        self.state.setText(self._told(standing) if standing.checks else "" if self._progress.standings else FIRST)
        self.state.setVisible(bool(self.state.text()))
        self.start_button.setText("Start again" if standing.checks else "Start")
        asked = lesson.why is not None and standing.sure and lesson.id in self._progress.due()
        self.again.setVisible(asked)
        if asked and lesson.why is not None:
            self.again.ask(lesson.why, look)

    def _told(self, standing: Standing) -> str:
        said = f"Best {standing.best} of 100 in {standing.checks} check{'' if standing.checks == 1 else 's'}"
        said += f", {standing.hints} hint{'' if standing.hints == 1 else 's'} taken" if standing.hints else ""
        return f"{said}. Last on {standing.last}." if standing.last else f"{said}."

    # ---- what can be done

    def start(self) -> None:
        """Open the chosen lesson."""
        lesson = self._lesson()
        if lesson is not None:
            self._desk.open("draw")
            self._desk.lessons.begin_lesson(lesson)

    def _activated(self, _item: QTreeWidgetItem, _column: int) -> None:
        self.start()

    def _back(self) -> None:
        self._desk.open("draw")

    def _answered(self, choice: int) -> None:
        """The short question of a lesson that came back."""
        lesson = self._lesson()
        if lesson is None or lesson.why is None:
            return
        if choice != lesson.why.right:
            self.again.choices[choice].setEnabled(False)
            self.again.say("That is often said, and it is not the reason here. Choose again.", self._desk.look)
            return
        self.again.settle(choice)
        self.again.say(lesson.why.because or lesson.reason, self._desk.look)
        try:
            self._progress.reviewed(lesson.id)
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)

    def _reset(self) -> None:
        if questions.ask_forget_progress(self._desk.window, len(self._progress.standings)):
            try:
                self._progress.reset()
            except LoopwrightError as bad:
                self._desk.say(bad.sentence)
            self._fill()

    def _choose_folder(self) -> None:
        folder = questions.ask_folder(self._desk.window, library.own_folder(self._desk.memory), "Folder of own lessons")
        if folder is not None:
            library.keep_folder(self._desk.memory, folder)
            self._fill()
