"""The box that asks why a part is at fault: every rule whose break is a danger or a fault, by theme, with a search.

Owns the list and its search. Refuses to know which reason is right.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
)

from loopwright.window.desk import Desk

RULE = Qt.ItemDataRole.UserRole


class _Search(QLineEdit):
    """A line from which Down goes into the list."""

    down = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Down:
            self.down.emit()
        else:
            super().keyPressEvent(event)


class ReasonDialog(QDialog):
    """What is wrong with it?"""

    given = Signal(str)
    """The rule that is broken."""

    def __init__(self, desk: Desk, name: str, rule: str = "") -> None:
        super().__init__(desk.window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Mark as a fault")
        self.resize(460, 520)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 14, 14, 14)
        column.setSpacing(8)
        head = QLabel(f"What is wrong with {name}?", self)
        head.setObjectName("panel-heading")
        head.setWordWrap(True)
        column.addWidget(head)
        self.search = _Search(self)
        self.search.setPlaceholderText("Find a reason")
        self.search.setAccessibleName("Find a reason")
        self.search.setClearButtonEnabled(True)
        column.addWidget(self.search)
        self.list = QListWidget(self)
        self.list.setAccessibleName("Reasons")
        column.addWidget(self.list, 1)
        self.said = QLabel("", self)
        self.said.setObjectName("hint")
        self.said.setWordWrap(True)
        column.addWidget(self.said)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel, self)
        self.ok = QPushButton("Mark", self)
        self.ok.setProperty("primary", True)
        buttons.addButton(self.ok, QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.search.textChanged.connect(self._filter)
        self.search.down.connect(self._into_list)
        self.list.currentItemChanged.connect(self._chosen)
        self.list.itemActivated.connect(self._activated)
        self._fill(rule)
        self.search.setFocus()

    def _fill(self, chosen: str) -> None:
        from loopwright.rules.registry import all_rules, page
        from loopwright.window.help_pages import THEMES

        by_theme: dict[str, list[tuple[str, str]]] = {}
        for slug in all_rules():
            found = page(slug)
            if found.severity != "advice":
                by_theme.setdefault(slug.partition("/")[0], []).append((found.title, slug))
        for theme, title in THEMES.items():
            if theme not in by_theme:
                continue
            head = QListWidgetItem(title)
            font = head.font()
            font.setWeight(font.Weight.DemiBold)
            head.setFont(font)
            head.setFlags(Qt.ItemFlag.NoItemFlags)
            self.list.addItem(head)
            for words, slug in sorted(by_theme[theme]):
                item = QListWidgetItem(f"    {words}")
                item.setData(RULE, slug)
                item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{words}, {title}")
                self.list.addItem(item)
                if slug == chosen:
                    self.list.setCurrentItem(item)
        self._chosen()

    def _filter(self, text: str) -> None:
        wanted = text.lower().split()
        head: QListWidgetItem | None = None
        any_under, first = False, None
        for number in range(self.list.count()):
            item = self.list.item(number)
            if not item.data(RULE):
                if head is not None:
                    head.setHidden(not any_under)
                head, any_under = item, False
                continue
            hit = all(w in item.data(Qt.ItemDataRole.AccessibleTextRole).lower() for w in wanted)
            item.setHidden(not hit)
            any_under = any_under or hit
            first = first or (item if hit else None)
        if head is not None:
            head.setHidden(not any_under)
        if first is not None and wanted:
            self.list.setCurrentItem(first)
        else:
            self.list.setCurrentRow(-1)
        self.said.setText("No reason is called that. Try another trade word." if wanted and first is None else "")

    def _into_list(self) -> None:
        self.list.setFocus()
        if self.list.currentItem() is None:
            self.list.setCurrentRow(1)

    def _chosen(self, *_: object) -> None:
        self.ok.setEnabled(self.rule != "")

    @property
    def rule(self) -> str:
        """The rule of the chosen reason, or an empty string."""
        item = self.list.currentItem()
        return str(item.data(RULE) or "") if item is not None and not item.isHidden() else ""

    def _activated(self, _item: QListWidgetItem) -> None:
        self.accept()

    def accept(self) -> None:
        """Give the reason."""
        rule = self.rule
        if rule:
            super().accept()
            self.given.emit(rule)
