"""A painter that is left open when painting fails outlives what it paints on, and brings the program down."""

from __future__ import annotations

import ast
from pathlib import Path

import loopwright

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
