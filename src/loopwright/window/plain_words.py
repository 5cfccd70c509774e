"""Shows what people typed as they typed it: a name such as `<b>tank</b>` is no mark-up in a label or a tip.

Owns the one place where that is settled, for labels, tips and boxes alike. A label that is meant to
be rich says so itself.
"""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QProxyStyle, QWidget


class PlainWords(QProxyStyle):
    """The usual style, but a label left to guess between plain and rich text takes it as plain.

    A tip is a label of Qt's own, and is polished here before its text is measured.
    """

    def polish(self, what: QWidget | QApplication) -> None:  # type: ignore[override]
        if isinstance(what, QLabel) and what.textFormat() == Qt.TextFormat.AutoText:
            what.setTextFormat(Qt.TextFormat.PlainText)
        super().polish(what)
