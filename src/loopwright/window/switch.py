"""A switch: on or off at a glance, by pointer and by keyboard."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

_WIDTH, _HEIGHT, _PAD = 30, 16, 6


class Switch(QAbstractButton):
    """A two-state button drawn as a sliding knob. Colours come from the palette."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setAccessibleName(name)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(_WIDTH + _PAD, 28)

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            colours = self.palette()
            accent = colours.color(QPalette.ColorRole.Highlight)
            idle = colours.color(QPalette.ColorRole.Dark)
            box = QRectF((self.width() - _WIDTH) / 2, (self.height() - _HEIGHT) / 2, _WIDTH, _HEIGHT)
            on = self.isChecked()
            if not self.isEnabled():
                accent = idle = colours.color(QPalette.ColorRole.Mid)
            painter.setPen(QPen(accent if on else idle, 1.4))
            painter.setBrush(accent if on else colours.color(QPalette.ColorRole.Base))
            painter.drawRoundedRect(box, _HEIGHT / 2, _HEIGHT / 2)
            knob = _HEIGHT - 6
            left = box.right() - knob - 3 if on else box.left() + 3
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(colours.color(QPalette.ColorRole.HighlightedText) if on else idle)
            painter.drawEllipse(QRectF(left, box.top() + 3, knob, knob))
            if self.hasFocus():
                painter.setPen(QPen(QColor(colours.color(QPalette.ColorRole.Highlight)), 2))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(box.adjusted(-2.5, -2.5, 2.5, 2.5), _HEIGHT / 2 + 2, _HEIGHT / 2 + 2)
