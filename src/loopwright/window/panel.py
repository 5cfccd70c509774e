"""What every side panel shares: a heading row, a thin divider, and a body that scrolls when the window is small."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLayout, QScrollArea, QSpinBox, QVBoxLayout, QWidget

from loopwright.window.as_typed import as_typed

MARGIN = 14


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


def scrolled(content: QWidget, parent: QWidget | None = None) -> QScrollArea:
    """`content` in an area that scrolls up and down only."""
    area = QScrollArea(parent)
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
