"""Which page of the Help belongs to what has the focus: a finding, a figure, a field, a kind of part, a panel.

Owns that choice alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.window.fields import Field
from loopwright.window.help_pages import HOME
from loopwright.window.parts import KIND
from loopwright.window.tappings import TappingsEditor

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow


def page_here(window: MainWindow) -> str:
    """The name of the page for what has the focus in a window."""
    focus = window.focusWidget()

    def within(widget: QWidget | None) -> bool:
        return widget is not None and focus is not None and (widget is focus or widget.isAncestorOf(focus))

    right = window.desk.front("right")
    figures = window.places.widget("figures")
    if within(window.findings) or within(window.why):
        finding = window.findings.current
        return f"rule/{finding.rule}" if finding is not None else "findings"
    if within(right) and right is window.places.widget("figure"):
        return _of_figure(right.figure)  # type: ignore[union-attr]
    if figures is not None and within(figures):
        return _of_figure(figures.current)  # type: ignore[attr-defined]
    if window.desk.front("view") is window.places.widget("run") and window.places.view == "run":
        return "runs"
    if within(window.conditions) or within(window.places.widget("what_if")):
        return "conditions"
    if within(window.places.widget("review")):
        return "findings"
    if not within(window.parts) and any(within(window.places.widget(n)) for n in ("lesson", "exercise", "order")):
        return "lessons"
    if window.places.view == "courses":
        return "lessons"
    if within(window.parts):
        kind = window.parts.tree.currentIndex().data(KIND)
        return f"kind/{_ident(kind)}" if kind else "kinds"
    if within(window.properties):
        return _of_properties(window, focus)
    return _of_choice(window) or HOME


def _ident(kind: object) -> str:
    return str(getattr(kind, "id", kind))


def _of_figure(figure: object) -> str:
    page = figure.page if isinstance(figure, Figure | Gap) else ""
    return f"computation/{page}" if page else "figures"


def _of_properties(window: MainWindow, focus: QWidget | None) -> str:
    """The kind's page at the field's own place, or the page of pipes or tappings."""
    field: Field | None = None
    at = focus
    while at is not None and at is not window.properties:
        if isinstance(at, TappingsEditor):
            return "tappings"
        if isinstance(at, Field) and field is None:
            field = at
        at = at.parentWidget()
    page = _of_choice(window) or "drawing"
    return f"{page}#{field.name}" if field is not None and page.startswith("kind/") else page


def _of_choice(window: MainWindow) -> str:
    """The page of what is chosen on the sheet, or an empty string."""
    sheet, chosen = window.document.sheet, sorted(window.document.chosen)
    for ident in chosen:
        if ident in sheet.parts and sheet.parts[ident].kind in window.catalogue:
            return f"kind/{sheet.parts[ident].kind}"
    return "pipes" if any(ident in sheet.pipes for ident in chosen) else ""
