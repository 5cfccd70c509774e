"""The cautions: what the program is not, and what can hurt. One wording, read from the shipped data."""

from __future__ import annotations

import tomllib
from functools import cache

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loopwright.resources import resource_root


@cache
def cautions() -> tuple[str, tuple[str, ...]]:
    """The heading and the sentences."""
    data = tomllib.loads((resource_root() / "cautions.toml").read_text(encoding="utf-8"))
    return data["heading"], tuple(data["lines"])


class CautionDialog(QDialog):
    """The cautions in a box of their own: shown at the first run and from the Help menu."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        heading, lines = cautions()
        self.setWindowTitle("Cautions")
        self.setModal(True)
        page = QVBoxLayout(self)
        page.setContentsMargins(20, 20, 20, 14)
        page.setSpacing(12)
        title = QLabel(heading, self)
        title.setObjectName("page-heading")
        page.addWidget(title)
        frame = QFrame(self)
        frame.setObjectName("caution")
        inner = QVBoxLayout(frame)
        inner.setContentsMargins(14, 12, 14, 12)
        inner.setSpacing(8)
        for line in lines:
            label = QLabel(line, frame)
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setMinimumWidth(440)
            inner.addWidget(label)
        page.addWidget(frame)
        row = QHBoxLayout()
        row.addStretch(1)
        done = QPushButton("Understood", self)
        done.setProperty("primary", True)
        done.setDefault(True)
        done.clicked.connect(self.accept)
        row.addWidget(done)
        page.addLayout(row)
