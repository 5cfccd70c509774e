"""What every side panel shares: a heading row, a thin divider, and a body that scrolls when the window is small."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPaintEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QScrollArea,
    QScrollBar,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from loopwright.window.as_typed import as_typed

MARGIN = 14
LEAST_MARGIN = 4
"""Right of what scrolls, beside the bar, pixels."""


class Panel(QWidget):
    """A titled panel. `body` is where its content goes; `head` takes small things to the right of the title."""

    def __init__(self, title: str, parent: QWidget | None = None, *, margin: int = MARGIN) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(title)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        row = QWidget(self)
        row.setFixedHeight(36)
        self.head = QHBoxLayout(row)
        self.head.setContentsMargins(MARGIN, 0, MARGIN, 0)
        self.title = QLabel(title, row)
        self.title.setObjectName("panel-heading")
        as_typed(self.title)
        self.aside = QLabel("", row)
        self.aside.setObjectName("panel-aside")
        self.head.addWidget(self.title)
        self.head.addStretch(1)
        self.head.addWidget(self.aside)
        page.addWidget(row)
        self.body = QVBoxLayout()
        self.body.setContentsMargins(margin, 0, margin, 6)
        self.body.setSpacing(4)
        page.addLayout(self.body, 1)


class QuietBar(QScrollBar):
    """A scroll bar that shows nothing while there is nothing to scroll."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.maximum() > self.minimum():
            super().paintEvent(event)


def scrolled(content: QWidget, parent: QWidget | None = None) -> QScrollArea:
    """`content` in an area that scrolls up and down only. Its bar always has its room, within the right margin of the
    content: a bar that comes and goes changes the width, with it the height that wrapped words need, and so whether
    there is a bar. Where both answers contradict each other, Qt's scroll area calls itself until the stack is full."""
    area = QScrollArea(parent)
    bar = QuietBar(area)
    area.setVerticalScrollBar(bar)
    bar.ensurePolished()  # as wide as the style makes it
    area.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
    layout = content.layout()
    if layout is not None:
        room = layout.contentsMargins()
        room.setRight(max(min(room.right(), LEAST_MARGIN), room.right() - bar.sizeHint().width()))
        layout.setContentsMargins(room)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(content)
    return area


def counter(parent: QWidget | None = None) -> QSpinBox:
    """A field for a count, its figure as far from the edge as in other fields."""
    box = QSpinBox(parent)
    box.lineEdit().setTextMargins(5, 0, 0, 0)  # a style sheet does not reach the line within
    return box


def divider(parent: QWidget | None = None) -> QFrame:
    """A thin line across."""
    line = QFrame(parent)
    line.setObjectName("divider")
    line.setFrameShape(QFrame.Shape.NoFrame)
    line.setFixedHeight(1)
    return line


def clear(layout: QLayout) -> None:
    """Take everything out of a layout and let it go."""
    while (item := layout.takeAt(0)) is not None:
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
        elif inner is not None:
            clear(inner)
