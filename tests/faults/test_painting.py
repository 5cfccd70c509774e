"""What brought the program down as it painted and laid out: an open painter, a scroll bar that made its own need."""

from __future__ import annotations

import ast
from pathlib import Path

from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

import loopwright
from loopwright.window.panel import scrolled

HANDED_ON = {("pinned.py", "card"), ("rulers.py", "begin"), ("export.py", "to_pdf"), ("export.py", "print_page")}
"""Functions that give a painter to a caller who ends it, or end it themselves whatever happens."""


def test_every_painter_is_ended_whatever_happens():
    loose = []
    for path in Path(loopwright.__file__).parent.rglob("*.py"):
        if path.parent.name not in ("canvas", "window", "run", "lesson"):
            continue
        text = path.read_text(encoding="utf-8")
        for function in ast.walk(ast.parse(text)) if "QPainter(" in text else ():
            if isinstance(function, ast.FunctionDef):
                made = [n.value for n in ast.walk(function) if isinstance(n, ast.Assign)]
                if any(isinstance(m, ast.Call) and getattr(m.func, "id", "") == "QPainter" for m in made):
                    loose.append((path.name, function.name))
    assert set(loose) <= HANDED_ON, "write `with QPainter(...) as painter:`"


def test_a_scroll_bar_never_changes_the_width_of_what_scrolls(qtbot):
    """Words that wrap could need the bar only while it was there, and Qt laid out anew until the stack was full."""
    content = QWidget()
    column = QVBoxLayout(content)
    column.setContentsMargins(14, 0, 12, 8)
    area = scrolled(content)
    qtbot.addWidget(area)
    area.resize(300, 200)
    area.show()
    widths = []
    for high in (100, 900, 100):
        content.setMinimumHeight(high)
        QApplication.processEvents()
        widths.append(content.width())
        assert (area.verticalScrollBar().maximum() > 0) == (high > 200)
    assert len(set(widths)) == 1 and widths[0] < 300
    assert column.contentsMargins().right() == 4, "the bar takes its room from the margin"
