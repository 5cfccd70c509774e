"""The limits of this sheet: every figure the rules ask for, published and the sheet's own, set in one step.

Owns the box and its fields. Refuses to know what a limit is for: the list and its judgement come from `rules.limits`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loopwright.errors import LoopwrightError
from loopwright.rules.limits import Limit, limits
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.window.desk import Desk
from loopwright.window.panel import divider, scrolled
from loopwright.window.quantities import Units

TRUST = {"seen": "read in a published page", "recalled": "recalled, to be confirmed", "practice": "common practice"}
INTRO = (
    "A local code or a maker can be stricter than what is published. What is typed here holds for this sheet alone, "
    "and its report says so. An empty field means the published figure."
)
ENTRY_WIDTH = 104


def with_limits(values: Mapping[str, float | None]) -> Callable[[Sheet], Sheet]:
    """An edit that sets these limits; None goes back to the published one."""

    def edit(sheet: Sheet) -> Sheet:
        for key, value in values.items():
            sheet = edits.set_limit(sheet, key, value)
        return sheet

    return edit


def published_words(limit: Limit, units: Units) -> str:
    """The published figure with its unit."""
    shown = [units.show(value, limit.unit) for value in limit.published]
    if units.system == "imperial" and limit.unit == "mm":
        shown = [units.show_rounded(value, limit.unit, 3) for value in limit.published]
    sign = " ".join(word for word in (units.sign(limit.unit), limit.of) if word)
    return f"{' to '.join(shown)} {sign}".strip()


class LimitRow(QWidget):
    """One limit: what it says, what is published, where that stands, and the sheet's own figure."""

    def __init__(self, limit: Limit, own: float | None, units: Units, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.limit, self._own, self._units = limit, own, units
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 5, 6, 5)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(1)
        self.mark = QFrame(self)
        self.mark.setFixedWidth(3)
        says = QLabel(limit.fact.says, self)
        says.setWordWrap(True)
        fact = limit.fact
        doubt = "; sources differ or are weak" if fact.doubt else ""
        trust = TRUST[fact.confidence]
        where = f"{fact.source}; {trust}{doubt}" if fact.confidence != "practice" else f"{trust}, no source{doubt}"
        source = QLabel(where[:1].upper() + where[1:], self)
        source.setObjectName("hint")
        source.setWordWrap(True)
        self.entry = QLineEdit(self)
        self.entry.setFixedWidth(ENTRY_WIDTH)
        published = published_words(limit, units)
        self.entry.setPlaceholderText(units.show(limit.published[0], limit.unit))
        self.entry.setAccessibleName(f"{limit.fact.says} This sheet's own figure")
        self.entry.setAccessibleDescription(f"Published: {published}. {where}")
        if own is not None:
            self.entry.setText(units.show(own, limit.unit))
        usual = QLabel(f"published {published}", self)
        usual.setObjectName("hint")
        usual.setFixedWidth(190)
        usual.setWordWrap(True)
        self.refusal = QLabel("", self)
        self.refusal.setObjectName("refusal")
        self.refusal.setWordWrap(True)
        self.refusal.hide()
        grid.addWidget(self.mark, 0, 0, 3, 1)
        grid.addWidget(says, 0, 1)
        grid.addWidget(source, 1, 1)
        grid.addWidget(self.entry, 0, 2, 2, 1, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(usual, 0, 3, 2, 1, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.refusal, 2, 1, 1, 3)
        grid.setColumnStretch(1, 1)
        self.entry.editingFinished.connect(self.judge)
        self.entry.textEdited.connect(self._edited)
        self._mark()

    def read(self) -> float | None:
        """The figure that stands in the field; None for the published one. Raises ValueRefused."""
        text = self.entry.text().strip()
        if not text:
            return None
        if self._own is not None and text == self._units.show(self._own, self.limit.unit):
            return self._own
        value = self._units.read(text, self.limit.unit, blank=False)
        assert value is not None
        self.limit.check(float(value))
        said = self._units.show(value, self.limit.unit)  # a slope or a size in inches is published as rounded
        return None if [said] == [self._units.show(v, self.limit.unit) for v in self.limit.published] else float(value)

    def judge(self) -> bool:
        """Say below the field why its text is refused. False when it is."""
        words = ""
        try:
            self.read()
        except LoopwrightError as bad:
            words = bad.sentence
        self.refusal.setText(words)
        self.refusal.setVisible(bool(words))
        if bool(self.entry.property("refused")) != bool(words):
            self.entry.setProperty("refused", bool(words))
            self.entry.style().unpolish(self.entry)
            self.entry.style().polish(self.entry)
        self._mark()
        return not words

    @property
    def changed(self) -> bool:
        """Whether it holds another figure than the published one."""
        return bool(self.entry.text().strip())

    def clear(self) -> None:
        """Back to the published figure."""
        self.entry.clear()
        self.judge()

    def words(self) -> str:
        """What the filter looks through."""
        return f"{self.limit.fact.says} {self.limit.group} {self.limit.fact.source} {self.limit.key}".lower()

    def _edited(self, _text: str) -> None:
        self._mark()

    def _mark(self) -> None:
        self.mark.setStyleSheet("background: palette(highlight);" if self.changed else "")
        self.entry.setToolTip("This sheet's own figure" if self.changed else "The published figure")


class LimitsDialog(QDialog):
    """Every limit, in groups; nothing changes before it is set, and then all of it in one step."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self._desk = desk
        self.setWindowTitle("Limits of this sheet")
        self.setModal(True)
        self.resize(820, 640)
        page = QVBoxLayout(self)
        page.setContentsMargins(20, 16, 14, 14)
        page.setSpacing(8)
        title = QLabel("Limits of this sheet", self)
        title.setObjectName("page-heading")
        intro = QLabel(INTRO, self)
        intro.setWordWrap(True)
        page.addWidget(title)
        page.addWidget(intro)
        self.search = QLineEdit(self)
        self.search.setPlaceholderText("Find a limit")
        self.search.setAccessibleName("Find a limit")
        self.search.setClearButtonEnabled(True)
        self.search.textChanged.connect(self._filter)
        page.addWidget(self.search)
        content = QWidget(self)
        content.setObjectName("panel-body")
        column = QVBoxLayout(content)
        column.setContentsMargins(4, 0, 4, 8)
        column.setSpacing(0)
        self.rows: dict[str, LimitRow] = {}
        self._heads: dict[str, QLabel] = {}
        own = desk.sheet.limits
        for key, limit in limits().items():
            if limit.group not in self._heads:
                head = QLabel(limit.group, content)
                head.setObjectName("panel-heading")
                head.setContentsMargins(0, 12, 0, 4)
                column.addWidget(head)
                self._heads[limit.group] = head
            else:
                column.addWidget(divider(content))
            row = LimitRow(limit, own.get(key), desk.units, content)
            row.entry.textChanged.connect(self._count)
            column.addWidget(row)
            self.rows[key] = row
        column.addStretch(1)
        self._area = scrolled(content, self)
        page.addWidget(self._area, 1)
        page.addLayout(self._make_foot())
        self._count()
        self.search.setFocus()

    def _make_foot(self) -> QHBoxLayout:
        foot = QHBoxLayout()
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        foot.addWidget(self.said, 1)
        self.all_published = QPushButton("All as published", self)
        self.all_published.clicked.connect(self._clear)
        cancel = QPushButton("Cancel", self)
        cancel.clicked.connect(self.reject)
        self.done_button = QPushButton("Set the limits", self)
        self.done_button.setProperty("primary", True)
        self.done_button.clicked.connect(self.accept)
        for button in (self.all_published, cancel, self.done_button):
            button.setAutoDefault(False)
            foot.addWidget(button)
        return foot

    def accept(self) -> None:
        """Set what was typed, in one step; a refused field keeps the box open."""
        bad = [row for row in self.rows.values() if not row.judge()]
        if bad:
            self.search.clear()
            self._area.ensureWidgetVisible(bad[0])
            bad[0].entry.setFocus()
            bad[0].entry.selectAll()
            return
        own = self._desk.sheet.limits
        values = {key: row.read() for key, row in self.rows.items()}
        changes = {key: value for key, value in values.items() if value != own.get(key)}
        if changes and not self._desk.apply("Set limits of the sheet", with_limits(changes)):
            return
        super().accept()

    def _clear(self) -> None:
        for row in self.rows.values():
            row.clear()

    def _count(self, _text: str = "") -> None:
        count = sum(row.changed for row in self.rows.values())
        self.said.setText(
            "Every limit is the published one." if not count else f"{count} limit{'s' if count > 1 else ''} of its own."
        )
        self.all_published.setEnabled(bool(count))

    def _filter(self, text: str) -> None:
        words = text.lower().split()
        shown: set[str] = set()
        for row in self.rows.values():
            fits = all(word in row.words() for word in words)
            row.setVisible(fits)
            if fits:
                shown.add(row.limit.group)
        for group, head in self._heads.items():
            head.setVisible(group in shown)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(self.focusWidget(), QLineEdit):
            self.focusNextChild()  # Enter in a field is no order to close the box
            return
        super().keyPressEvent(event)
