"""The findings list: number in the shape of its severity, the sentence, what to do, and the way to why.

Owns showing a survey's findings and which one is chosen. Refuses to judge: it reads findings and sends what is chosen.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from loopwright.rules.findings import Finding, grouped
from loopwright.window.badges import badge_pixmap, paint_badge
from loopwright.window.panel import Panel
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.rules.repairs import Repair

FINDING = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex
_LEFT, _RIGHT, _PAD, _INSET = 48, 14, 8, 20
_WITH_UNIT = re.compile(r"(?<=\d) (?=(?:mm|m|l|kW|kWh|bar|K|°C|°F|Pa|kPa|ft|in|gal)\b|[%‰])")
"""The gap between a number and its unit, which must not be torn at the end of a line."""
_WRAP = int(Qt.TextFlag.TextWordWrap)


class FindingsModel(QAbstractListModel):
    """Findings in the order of their numbers, those about the same part under the gravest of them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.findings: Sequence[Finding] = ()
        self._there: set[int] = set()

    def show(self, findings: Sequence[Finding]) -> None:
        """Take another list."""
        self.beginResetModel()
        self.findings = grouped(findings)
        self._there = {f.number for f in self.findings}
        self.endResetModel()

    def under(self, finding: Finding) -> bool:
        """Whether a finding stands under another of the list."""
        return finding.cause in self._there

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.findings)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid() or index.row() >= len(self.findings):
            return None
        finding = self.findings[index.row()]
        if role == FINDING:
            return finding
        if role == Qt.ItemDataRole.DisplayRole:
            return finding.message
        if role == Qt.ItemDataRole.AccessibleTextRole:
            with_it = f" Belongs to finding {finding.cause}." if self.under(finding) else ""
            return f"{finding.number}, {finding.severity.word}. {finding.message} {finding.todo}{with_it}"
        return None


class _Painter(QStyledItemDelegate):
    """Draws a finding as three blocks of text beside its shape."""

    why = Signal(object)
    repair = Signal(object)

    def __init__(self, look: Theme, parent: QListView) -> None:
        super().__init__(parent)
        self.look = look
        self._view = parent
        self.units = Units()
        self.offered: tuple[Finding | None, tuple[Repair, ...]] = (None, ())

    def _blocks(self, finding: Finding, width: int, font: QFont) -> Iterator[tuple[str, str, QFont, int]]:
        bold, plain = QFont(font), QFont(font)
        bold.setWeight(QFont.Weight.DemiBold)
        inner = max(60, width - self.left(finding) - _RIGHT)
        shared = ""
        if self._under(finding):
            shared = f"Also about {finding.shared}" if finding.shared else f"Belongs to {finding.cause}"
        for text, token, face in (
            (shared, "ink3", plain),
            (self.units.restated(finding.message), "ink", bold),
            (self.units.restated(finding.todo), "ink2", plain),
        ):
            text = _WITH_UNIT.sub("\N{NO-BREAK SPACE}", text)
            if text:
                high = QFontMetrics(face).boundingRect(QRect(0, 0, inner, 4000), _WRAP, text).height()
                yield text, token, face, high
        link = QFont(plain)
        link.setWeight(QFont.Weight.Medium)
        for one in self.offers(finding):
            high = QFontMetrics(link).boundingRect(QRect(0, 0, inner, 4000), _WRAP, one.label).height()
            yield one.label, "accent", link, high + 2
        yield "Why", "accent", link, QFontMetrics(link).height() + 2

    def _under(self, finding: Finding) -> bool:
        model = self._view.model()
        return isinstance(model, FindingsModel) and model.under(finding)

    def left(self, finding: Finding) -> int:
        """Where the words of a finding begin: further in where it stands under another."""
        return _LEFT + (_INSET if self._under(finding) else 0)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        width = self._view.viewport().width()
        blocks = list(self._blocks(index.data(FINDING), width, self._view.font()))
        return QSize(width, sum(b[3] for b in blocks) + 2 * (len(blocks) - 1) + 2 * _PAD)

    def offers(self, finding: Finding) -> tuple[Repair, ...]:
        """The repairs shown with a finding."""
        return self.offered[1] if self.offered[0] is finding else ()

    def repair_boxes(self, row: QRect, finding: Finding) -> list[tuple[QRect, Repair]]:
        """Where each repair can be clicked."""
        blocks = list(self._blocks(finding, row.width(), self._view.font()))
        top, out = row.top() + _PAD, []
        first = len(blocks) - 1 - len(self.offers(finding))
        for place, (text, _, font, high) in enumerate(blocks):
            if first <= place < len(blocks) - 1:
                inner = max(60, row.width() - self.left(finding) - _RIGHT)
                wide = min(inner, QFontMetrics(font).horizontalAdvance(text))
                box = QRect(row.left() + self.left(finding) - 6, top - 1, wide + 12, high + 2)
                out.append((box, self.offers(finding)[place - first]))
            top += high + 2
        return out

    def why_box(self, row: QRect, finding: Finding) -> QRect:
        """Where the word Why can be clicked."""
        blocks = list(self._blocks(finding, row.width(), self._view.font()))
        high = blocks[-1][3]
        wide = QFontMetrics(blocks[-1][2]).horizontalAdvance("Why")
        return QRect(row.left() + self.left(finding) - 6, row.bottom() - _PAD - high - 3, wide + 12, high + 8)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        finding: Finding = index.data(FINDING)
        word = finding.severity.word
        painter.save()
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        if chosen:
            painter.fillRect(option.rect, self.look.colour(f"{word}_soft"))
            painter.fillRect(
                QRect(option.rect.left(), option.rect.top(), 3, option.rect.height()), self.look.colour(word)
            )
        elif option.state & QStyle.StateFlag.State_MouseOver:
            painter.fillRect(option.rect, self.look.colour("hover"))
        painter.setFont(self._view.font())
        paint_badge(
            painter,
            QPointF(option.rect.left() + self.left(finding) - 23, option.rect.top() + _PAD + 13),
            word,
            str(finding.number),
            self.look,
        )
        top = option.rect.top() + _PAD
        left = self.left(finding)
        width = option.rect.width() - left - _RIGHT
        for text, token, font, high in self._blocks(finding, option.rect.width(), self._view.font()):
            painter.setFont(font)
            painter.setPen(self.look.colour(token))
            painter.drawText(QRect(option.rect.left() + left, top, width, high), _WRAP, text)
            top += high + 2
        if chosen and self._view.hasFocus():
            painter.setPen(self.look.colour("accent"))
            painter.drawRect(option.rect.adjusted(1, 1, -2, -2))
        painter.setPen(self.look.colour("line"))
        painter.drawLine(option.rect.bottomLeft(), option.rect.bottomRight())
        painter.restore()

    def editorEvent(self, event: QEvent, model: QAbstractItemModel, option: QStyleOptionViewItem, index: Index) -> bool:
        if isinstance(event, QMouseEvent) and event.type() == QEvent.Type.MouseButtonRelease:
            finding = index.data(FINDING)
            if self.why_box(option.rect, finding).contains(event.position().toPoint()):
                self.why.emit(finding)
                return True
            for box, one in self.repair_boxes(option.rect, finding):
                if box.contains(event.position().toPoint()):
                    self.repair.emit(one)
                    return True
        return super().editorEvent(event, model, option, index)


class _List(QListView):
    """A list in which Enter asks why and Ctrl+Enter makes the first repair. Esc is the window's."""

    entered_key = Signal()
    repair_key = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            held = event.modifiers() & Qt.KeyboardModifier.ControlModifier
            (self.repair_key if held else self.entered_key).emit()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.scheduleDelayedItemsLayout()


class FindingsPanel(Panel):
    """The numbered list of findings."""

    chosen = Signal(object)
    """The chosen finding, or None."""
    why = Signal(object)
    repair = Signal(object)
    """A repair that a person wants made."""
    counted = Signal(int)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Findings", parent, margin=0)
        self._look = look
        self._shapes = {}
        for word in ("danger", "fault", "advice"):
            shape, count = QLabel(self), QLabel("0", self)
            self._shapes[word] = (shape, count)
            self.head.addWidget(shape)
            self.head.addWidget(count)
        self.model = FindingsModel(self)
        self.list = _List(self)
        self.list.setAccessibleName("Findings")
        self.list.setModel(self.model)
        self.list.setMouseTracking(True)
        self.list.setUniformItemSizes(False)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._painter = _Painter(look, self.list)
        self.list.setItemDelegate(self._painter)
        self.body.addWidget(self.list, 1)
        self.said = QLabel("Nothing is checked yet.", self)
        self.said.setObjectName("hint")
        self.said.setWordWrap(True)
        closing = QHBoxLayout()
        closing.setContentsMargins(14, 2, 14, 4)
        closing.addWidget(self.said)
        self.body.addLayout(closing)
        self.list.selectionModel().currentChanged.connect(self._moved)
        self.list.clicked.connect(self._moved)
        self.list.entered_key.connect(self.ask_why)
        self._painter.why.connect(self.why)
        self._painter.repair.connect(self.repair)
        self.list.repair_key.connect(self.ask_repair)
        self._last: Finding | None = None
        self.set_look(look)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = self._painter.look = look
        for word, (shape, _) in self._shapes.items():
            shape.setPixmap(badge_pixmap(word, "", look, 6))
        self.list.viewport().update()

    def set_units(self, units: Units) -> None:
        """Say heights and lengths in other units, from now on."""
        self._painter.units = units
        self.list.scheduleDelayedItemsLayout()

    def show_findings(self, findings: Sequence[Finding], said: str = "") -> None:
        """Show a survey's findings and a closing sentence; the chosen one stays chosen while it still stands."""
        before = self._last
        self._dim(False)
        self.model.show(findings)
        for word, (shape, count) in self._shapes.items():
            number = sum(f.severity.word == word for f in findings)
            count.setText(str(number))
            for label in (shape, count):
                label.setToolTip(f"{number} {word}" if number == 1 or word == "advice" else f"{number} {word}s")
                label.setVisible(number > 0)
            shape.setAccessibleName(word)
        self.said.setText(said)
        self.counted.emit(len(findings))
        self._last = None
        if before is not None:
            again = next((f for f in findings if (f.rule, f.subject) == (before.rule, before.subject)), None)
            if again is not None:
                self.choose(again)
            else:
                self.chosen.emit(None)

    def checking(self) -> None:
        """Grey the counts while the sheet is checked again."""
        self._dim(True)

    def say(self, sentence: str) -> None:
        """A sentence in place of the closing one: why the sheet could not be checked."""
        self._dim(False)
        self.said.setText(sentence)

    def _dim(self, dim: bool) -> None:
        for _, count in self._shapes.values():
            count.setEnabled(not dim)

    @property
    def current(self) -> Finding | None:
        """The chosen finding."""
        return self._last

    def choose(self, finding: Finding) -> None:
        """Choose a finding of the list."""
        for row, other in enumerate(self.model.findings):
            if other is finding or other.number == finding.number:
                self.list.setCurrentIndex(self.model.index(row))
                self.list.scrollTo(self.model.index(row))
                return

    def step(self, by: int) -> None:
        """Go to the next (1) or last (-1) finding, round the end."""
        count = len(self.model.findings)
        if count:
            at = self.list.currentIndex().row() if self._last is not None else (-1 if by > 0 else 0)
            self.list.setCurrentIndex(self.model.index((at + by) % count))

    def ask_why(self) -> None:
        """Ask why for the chosen finding."""
        if self._last is not None:
            self.why.emit(self._last)

    def offer(self, finding: Finding | None, found: Sequence[Repair]) -> None:
        """Show repairs as links under their finding."""
        before = self._painter.offered
        self._painter.offered = (finding, tuple(found))
        if before[1] or found:
            self.list.scheduleDelayedItemsLayout()

    def offered(self) -> bool:
        """Whether a repair is shown with the chosen finding."""
        return self._last is not None and bool(self._painter.offers(self._last))

    def ask_repair(self) -> None:
        """Ask for the first repair of the chosen finding."""
        found = self._painter.offers(self._last) if self._last is not None else ()
        if found:
            self.repair.emit(found[0])

    def let_go(self) -> None:
        """Choose no finding."""
        self.list.selectionModel().clear()
        if self._last is not None:
            self._last = None
            self.chosen.emit(None)

    def _moved(self, index: QModelIndex, _before: QModelIndex | None = None) -> None:
        finding = index.data(FINDING) if index.isValid() else None
        if finding is not None and finding is not self._last:
            self._last = finding
            self.chosen.emit(finding)
