"""Shows what people typed as they typed it: a name such as `<b>tank</b>` is no mark-up in a label, a tip or a box.

Owns the ways of saying so. Refuses to know what is said.
"""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMessageBox, QWidget


def as_typed(*labels: QLabel) -> None:
    """Have labels take their text as plain, whatever stands in it."""
    for label in labels:
        label.setTextFormat(Qt.TextFormat.PlainText)


def tip(words: str) -> str:
    """A tip that shows `words` themselves, also where the toolkit would guess that they are mark-up."""
    return f"<span>{escape(words)}</span>" if "<" in words else words


class Box(QMessageBox):
    """A box whose sentences are plain."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)

    def setInformativeText(self, text: str) -> None:
        super().setInformativeText(text)
        as_typed(*self.findChildren(QLabel))  # its label is made with the text, and guesses by itself
