"""The consequence of an answer as a small picture that plays: layers of a store filling, a fire's water in a power cut.

Owns the drawing and its clock. What happens is worked out in `lessons.playing`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSlider, QVBoxLayout, QWidget

from loopwright.drawing.store import layer_colour
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.lessons.playing import Consequence

LONGEST_MS = 6000
STEP_MS = 60
BOIL_C = 100.0
LEAST_C, MOST_C = 20.0, 110.0
"""The chart's usual ends; it reaches as far beyond them as the water does."""
EVERY_C = 20


class Plot(QWidget):
    """One moment of a consequence, with what came before it."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.cons: Consequence | None = None
        self.at = 0
        self.setMinimumHeight(132)

    def sizeHint(self) -> QSize:
        return QSize(280, 140)

    def paintEvent(self, _event: QPaintEvent) -> None:
        cons = self.cons
        if cons is None or not cons.minutes:
            return
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            font = QFont(self.font())
            font.setPixelSize(11)
            painter.setFont(font)
            box = QRectF(self.rect()).adjusted(1, 6, -1, -2)
            if cons.water_c:
                store = 70.0 if cons.layers_c else 0.0
                self._chart(painter, QRectF(box.left(), box.top(), box.width() - store, box.height()))
                if store:
                    self._store(
                        painter, QRectF(box.right() - store + 16, box.top(), store - 18, box.height() - 18), "store"
                    )
            elif cons.layers_c:
                wide = min(92.0, box.width() / 3)
                self._store(painter, QRectF(box.left() + 4, box.top(), wide, box.height() - 18), "")
                self._top_and_bottom(
                    painter, QRectF(box.left() + wide + 12, box.top(), box.width() - wide - 12, box.height())
                )

    # ---- the store

    def _store(self, painter: QPainter, box: QRectF, words: str) -> None:
        assert self.cons is not None
        layers = self.cons.layers_c[min(self.at, len(self.cons.layers_c) - 1)]
        high = box.height() / len(layers)
        for number, temperature in enumerate(layers):  # lowest first
            row = QRectF(box.left(), box.bottom() - (number + 1) * high, box.width(), high + 0.6)
            painter.fillRect(row, QColor(layer_colour(temperature)))
        every = max(1, len(layers) // 4)
        for number in range(every // 2, len(layers), every):
            temperature = layers[number]
            painter.setPen(QColor("#1D2226" if 30.0 <= temperature <= 78.0 else "#FFFFFF"))
            middle = box.bottom() - (number + 0.5) * high
            painter.drawText(
                QRectF(box.left(), middle - 8, box.width(), 16), Qt.AlignmentFlag.AlignCenter, f"{temperature:.0f}"
            )
        painter.setPen(QPen(self.look.colour("ink"), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(box, 5, 5)
        if words:
            painter.setPen(self.look.colour("ink3"))
            painter.drawText(
                QRectF(box.left() - 10, box.bottom() + 2, box.width() + 20, 16), Qt.AlignmentFlag.AlignCenter, words
            )

    # ---- lines over time

    def _axes(self, painter: QPainter, box: QRectF) -> QRectF:
        """Temperature up, minutes along; the room for lines."""
        assert self.cons is not None
        room = QRectF(box.left() + 26, box.top() + 2, box.width() - 34, box.height() - 20)
        painter.setPen(QPen(self.look.colour("grid2"), 1))
        for degrees in range(int(self._least()), int(self._top()) + 1, EVERY_C):
            y = self._y(room, degrees)
            painter.setPen(QPen(self.look.colour("line"), 1))
            painter.drawLine(QPointF(room.left(), y), QPointF(room.right(), y))
            painter.setPen(self.look.colour("ink3"))
            painter.drawText(
                QRectF(box.left(), y - 8, 22, 16),
                Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
                str(degrees),
            )
        last = self.cons.minutes[-1]
        under = QRectF(room.left(), room.bottom() + 2, room.width(), 16)
        painter.drawText(under, Qt.AlignmentFlag.AlignLeft, "°C over min")
        painter.drawText(under, Qt.AlignmentFlag.AlignRight, f"{last:.0f} min")
        return room

    def _top(self) -> float:
        assert self.cons is not None
        most = max((*self.cons.water_c, *(max(row) for row in self.cons.layers_c)), default=MOST_C)
        return max(MOST_C, float(most) + 4.0)

    def _least(self) -> float:
        assert self.cons is not None
        least = min((*self.cons.water_c, *(min(row) for row in self.cons.layers_c)), default=LEAST_C)
        return LEAST_C if least >= LEAST_C else 0.0

    def _y(self, room: QRectF, degrees: float) -> float:
        part = (degrees - self._least()) / (self._top() - self._least())
        return room.bottom() - max(0.0, min(1.0, part)) * room.height()

    def _line(
        self, painter: QPainter, room: QRectF, values: list[float], token: str, words: str = "", dash: bool = False
    ) -> None:
        assert self.cons is not None
        last = self.cons.minutes[-1] or 1.0
        points = [
            QPointF(room.left() + minute / last * room.width(), self._y(room, value))
            for minute, value in zip(self.cons.minutes[: self.at + 1], values, strict=False)
        ]
        pen = QPen(self.look.colour(token), 2)
        if dash:
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(QPolygonF(points))
        if points:
            painter.setBrush(self.look.colour(token))
            painter.drawEllipse(points[-1], 3, 3)
            right = points[-1].x() < room.center().x()
            side = Qt.AlignmentFlag.AlignLeft if right else Qt.AlignmentFlag.AlignRight
            left = points[-1].x() + (6 if right else -66)
            over = points[-1].y() + (2 if words == "bottom" else -19)
            painter.drawText(QRectF(left, over, 60, 15), side | Qt.AlignmentFlag.AlignVCenter, words)

    def _chart(self, painter: QPainter, box: QRectF) -> None:
        cons = self.cons
        assert cons is not None
        room = self._axes(painter, box)
        y = self._y(room, BOIL_C)
        pen = QPen(self.look.colour("danger"), 1)
        pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.drawLine(QPointF(room.left(), y), QPointF(room.right(), y))
        boiled = cons.boils_at_min is not None and cons.minutes[self.at] >= cons.boils_at_min
        self._line(painter, room, list(cons.water_c), "danger" if boiled else "flow")
        if boiled and cons.boils_at_min is not None:
            x = room.left() + cons.boils_at_min / (cons.minutes[-1] or 1.0) * room.width()
            painter.setPen(QPen(self.look.colour("danger"), 1))
            painter.drawLine(QPointF(x, room.top()), QPointF(x, room.bottom()))
            beside = (
                QRectF(x + 4, room.bottom() - 32, 90, 16)
                if x < room.center().x()
                else QRectF(x - 94, room.bottom() - 32, 90, 16)
            )
            side = Qt.AlignmentFlag.AlignLeft if x < room.center().x() else Qt.AlignmentFlag.AlignRight
            painter.drawText(beside, side, f"boils, {cons.boils_at_min:.0f} min")

    def _top_and_bottom(self, painter: QPainter, box: QRectF) -> None:
        assert self.cons is not None
        room = self._axes(painter, box)
        top, bottom = [row[-1] for row in self.cons.layers_c], [row[0] for row in self.cons.layers_c]
        self._line(painter, room, top, "flow", "top")
        self._line(painter, room, bottom, "ret", "bottom", dash=True)


class Picture(QWidget):
    """A consequence with its clock: it plays once, and can be stepped by the slider."""

    moved = Signal(int)
    """The step on show, while it plays or is stepped."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        self.plot = Plot(look, self)
        column.addWidget(self.plot)
        row = QHBoxLayout()
        row.setSpacing(6)
        self.play_button = QPushButton("Play", self)
        self.play_button.setAccessibleName("Play what follows")
        self.play_button.clicked.connect(self.play)
        self.slider = QSlider(Qt.Orientation.Horizontal, self)
        self.slider.setAccessibleName("Minute that is shown")
        self.slider.valueChanged.connect(self._step)
        self.when = QLabel("", self)
        self.when.setObjectName("hint")
        self.when.setMinimumWidth(46)
        row.addWidget(self.play_button)
        row.addWidget(self.slider, 1)
        row.addWidget(self.when)
        column.addLayout(row)
        self._timer = QTimer(self)
        self._timer.setInterval(STEP_MS)
        self._timer.timeout.connect(self._tick)
        self._part = 0.0
        self.hide()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.plot.look = look
        self.plot.update()

    @property
    def cons(self) -> Consequence | None:
        """What is on show."""
        return self.plot.cons

    def show_consequence(self, cons: Consequence | None, *, play: bool = True) -> None:
        """Show a consequence, from its beginning if it is to be played; nothing for one without a course in time."""
        self._timer.stop()
        self.plot.cons = cons if cons is not None and len(cons.minutes) > 1 else None
        self.setVisible(self.plot.cons is not None)
        if self.plot.cons is None or cons is None:
            return
        self.plot.setAccessibleName(self._described(cons))
        last = len(cons.minutes) - 1
        self.slider.setRange(0, last)
        self.slider.setPageStep(max(1, last // 10))
        self.slider.setValue(0 if play else last)
        self._step(self.slider.value())
        if play:
            self.play()

    def play(self) -> None:
        """Play it from the beginning, or from where it stands."""
        if self.plot.cons is None:
            return
        if self.slider.value() == self.slider.maximum():
            self.slider.setValue(0)
        self._part = self.slider.value() / max(1, self.slider.maximum())
        self._timer.start()

    def stop(self) -> None:
        """Stop playing; what is shown stays."""
        self._timer.stop()

    def _tick(self) -> None:
        self._part += STEP_MS / LONGEST_MS
        last = self.slider.maximum()
        self.slider.setValue(min(last, round(self._part * last)))
        if self._part >= 1.0:
            self._timer.stop()

    def _step(self, value: int) -> None:
        cons = self.plot.cons
        if cons is None:
            return
        self.plot.at = min(value, len(cons.minutes) - 1)
        self.when.setText(f"{cons.minutes[self.plot.at]:.0f} min")
        self.plot.update()
        self.moved.emit(self.plot.at)

    @staticmethod
    def _described(cons: Consequence) -> str:
        """The picture in words, for who cannot see it."""
        if cons.water_c:
            boils = f"; it boils after {cons.boils_at_min:.0f} minutes" if cons.boils_at_min is not None else ""
            return f"Water in the fire climbs to {max(cons.water_c):.0f} °C{boils}"
        if cons.layers_c:
            last = cons.layers_c[-1]
            ends = f"{last[-1]:.0f} °C at the top, {last[0]:.0f} °C at the bottom"
            return f"After {cons.minutes[-1]:.0f} minutes the store is {ends}"
        return cons.sentence
