"""The right side of the Run view: the verdict, what happened, where the heat went, what to read with care.

Owns these widgets. Refuses to work anything out: words come from `story`.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from loopwright.window.as_typed import as_typed, tip
from loopwright.window.badges import paint_badge
from loopwright.window.panel import MARGIN, divider, scrolled
from loopwright.window.run import story
from loopwright.window.run.reading import Reading
from loopwright.window.run.story import Share, Verdict
from loopwright.window.theme import Theme

AT = Qt.ItemDataRole.UserRole
TOKENS = {"ok": "ok", "advice": "advice", "fault": "fault", "danger": "danger", "open": "ink3"}
SAID = {"ok": "Pass", "advice": "Advice", "fault": "Fault", "danger": "Danger", "open": "Not assessed"}


class VerdictCard(QFrame):
    """What comes of the run, with its severity as a shape."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look, self._verdict = look, Verdict("open", "", "")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 14, 12)
        column.setSpacing(4)
        self.heading = QLabel("", self)
        self.heading.setObjectName("page-heading")
        self.heading.setWordWrap(True)
        self.heading.setContentsMargins(28, 0, 0, 0)
        self.words = QLabel("", self)
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.words.setContentsMargins(28, 0, 0, 0)
        column.addWidget(self.heading)
        column.addWidget(self.words)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def show_verdict(self, verdict: Verdict) -> None:
        """Show a verdict."""
        self._verdict = verdict
        self.heading.setText(verdict.heading)
        self.words.setText(verdict.words)
        self.setAccessibleName(f"{SAID[verdict.severity]}: {verdict.heading}")
        self.setAccessibleDescription(verdict.words)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        look, severity = self._look, self._verdict.severity
        colour = look.colour(TOKENS[severity])
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            box = QRectF(self.rect()).adjusted(1.0, 1.0, -1.0, -1.0)
            painter.setPen(QPen(colour, 1.6))
            painter.setBrush(look.colour("paper"))
            painter.drawRoundedRect(box, 5.0, 5.0)
            painter.fillRect(QRectF(box.left(), box.top() + 3.0, 5.0, box.height() - 6.0), colour)
            middle = QPointF(29.0, 24.0)
            if severity == "ok":
                painter.setBrush(colour)
                painter.setPen(Qt.PenStyle.NoPen)
                painter.drawEllipse(middle, 9.5, 9.5)
                painter.setPen(QPen(look.colour("on_severity"), 2.2, c=Qt.PenCapStyle.RoundCap))
                painter.drawPolyline(
                    [middle + QPointF(-4.2, 0.4), middle + QPointF(-1.2, 3.6), middle + QPointF(4.6, -3.4)]
                )
            else:
                paint_badge(painter, middle, severity, "" if severity == "open" else "!", look, 9.5)


class Bar(QWidget):
    """One share of the heat: words, kilowatt-hours, and a bar of its size."""

    def __init__(self, share: Share, most: float, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._share, self._most, self._look = share, most, look
        self.setFixedHeight(33)
        digits = 1 if most >= 1.0 else 2 if most >= 0.1 else 4
        self._figure = f"{share.kwh:.{digits}f} kWh"
        self.setAccessibleName(f"{share.words}: {self._figure}")

    def sizeHint(self) -> QSize:
        return QSize(260, 33)

    def paintEvent(self, _event: QPaintEvent) -> None:
        look, share = self._look, self._share
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            font = QFont(self.font())
            font.setPixelSize(12)
            painter.setFont(font)
            line = QRectF(0.0, 2.0, self.width(), 17.0)
            painter.setPen(look.colour("ink"))
            painter.drawText(line, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, share.words)
            font.setWeight(QFont.Weight.DemiBold)
            painter.setFont(font)
            painter.drawText(line, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self._figure)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(look.colour("grid2"))
            painter.drawRoundedRect(QRectF(0.0, 22.0, self.width(), 6.0), 3.0, 3.0)
            painter.setBrush(look.colour(share.token))
            wide = max(6.0, self.width() * min(1.0, abs(share.kwh) / max(self._most, 1e-9)))
            painter.drawRoundedRect(QRectF(0.0, 22.0, wide, 6.0), 3.0, 3.0)


class Outcome(QWidget):
    """The right side."""

    wanted = Signal(float)
    """The time of a line that was chosen."""
    cautions_wanted = Signal()

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._look = look
        self._reading: Reading | None = None
        self._kind = "day"
        host = QWidget(self)
        host.setObjectName("panel-body")
        self._column = QVBoxLayout(host)
        self._column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        self._column.setSpacing(6)
        self.card = VerdictCard(look, host)
        self._column.addWidget(self.card)
        self.beside_head = _head("The second against the first", host)
        self.beside = QLabel("", host)
        self.beside.setWordWrap(True)
        self.beside.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        for widget in (self.beside_head, self.beside):
            self._column.addWidget(widget)
        self.every = QPushButton("Show each", host)
        self.every.setProperty("link", True)
        self.every.setCheckable(True)
        self.every.toggled.connect(self._list)
        self._column.addSpacing(8)
        self._column.addLayout(_row(_head("What happened", host), self.every))
        self.events = QListWidget(host)
        self.events.setObjectName("run-events")
        self.events.setAccessibleName("What happened")
        self.events.setWordWrap(True)
        self.events.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.events.itemClicked.connect(self._chosen)
        self.events.itemActivated.connect(self._chosen)
        self._column.addWidget(self.events)
        self._column.addWidget(divider(host))
        self.span = QLabel("", host)
        self.span.setObjectName("hint")
        self._column.addLayout(_row(_head("Where the heat went", host), self.span))
        self.bars = QVBoxLayout()
        self.bars.setSpacing(1)
        self._column.addLayout(self.bars)
        self.closure = QLabel("", host)
        self.closure.setObjectName("hint")
        self._column.addWidget(self.closure)
        self._column.addWidget(divider(host))
        self._column.addWidget(_head("Read with care", host))
        self.cautions = QLabel("", host)
        self.cautions.setObjectName("run-cautions")
        self.cautions.setWordWrap(True)
        self.cautions.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._column.addWidget(self.cautions)
        more = QPushButton("All cautions", host)
        more.setProperty("link", True)
        more.clicked.connect(self.cautions_wanted)
        self._column.addWidget(more, 0, Qt.AlignmentFlag.AlignLeft)
        self._column.addStretch(1)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(scrolled(host, self))

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.card.set_look(look)
        if self._reading is not None:
            self._show_bars(self._reading)

    def show_reading(self, reading: Reading, against: Sequence[str] = ()) -> None:
        """Show what comes of a run, and how another differs from it."""
        self._reading, self._kind = reading, reading.clock
        self.card.show_verdict(story.verdict(reading))
        self.beside_head.setVisible(bool(against))
        self.beside.setVisible(bool(against))
        self.beside.setText("\n".join(f"•  {words}" for words in against))
        self.every.setVisible(any(m.often > 1 for m in story.moments(reading)))
        self.every.setChecked(False)
        self._list()
        self.span.setText(f"{story.clock(self._kind, 0.0)} to {story.clock(self._kind, reading.end_s)}")
        self._show_bars(reading)
        self.closure.setText(story.closure(reading))
        self.cautions.setText("\n".join(story.cautions(reading)))

    def _show_bars(self, reading: Reading) -> None:
        from loopwright.window.panel import clear

        clear(self.bars)
        shares = story.shares(reading)
        most = max((abs(s.kwh) for s in shares), default=1.0)
        for share in shares:
            self.bars.addWidget(Bar(share, most, self._look, self))

    def _list(self) -> None:
        if self._reading is None:
            return
        self.events.clear()
        for moment in story.moments(self._reading, every=self.every.isChecked()):
            item = QListWidgetItem(f"{story.clock(self._kind, moment.time_s)}   {moment.words}")
            item.setData(AT, moment.time_s)
            item.setToolTip(tip(moment.words))
            if moment.what in ("boils", "overheat"):
                item.setForeground(QColor(self._look["danger"]))
            self.events.addItem(item)
        count = min(self.events.count(), 9)
        high = sum(max(26, self.events.sizeHintForRow(n)) for n in range(count))
        if self._reading.under_way:  # what is below stays where it is while lines are added
            high = 26 * 9
        self.events.setFixedHeight(high + 4)
        self.events.scrollToBottom() if self._reading.under_way else self.events.scrollToTop()

    def show_time(self, time_s: float) -> None:
        """Mark the last line that has come by this time."""
        found = -1
        for n in range(self.events.count()):
            if float(self.events.item(n).data(AT)) <= time_s + 0.5:
                found = n
        if found != self.events.currentRow():
            self.events.setCurrentRow(found)

    def _chosen(self, item: QListWidgetItem) -> None:
        self.wanted.emit(float(item.data(AT)))


def _head(words: str, parent: QWidget) -> QLabel:
    label = QLabel(words, parent)
    label.setObjectName("panel-heading")
    as_typed(label)
    return label


def _row(left: QWidget, right: QWidget) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setContentsMargins(0, 0, 0, 0)
    row.addWidget(left)
    row.addStretch(1)
    row.addWidget(right)
    right.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
    return row
