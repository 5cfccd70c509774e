"""What stands behind a figure: its equation, inputs, validity and source, in place of the right-hand panels.

Owns the page's layout. Refuses to know how a figure is computed: it shows what the figure says of itself.
"""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt, QUrl, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QTextBrowser, QVBoxLayout, QWidget

from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.window.desk import Desk
from loopwright.window.figure_list import NOT_ASSESSED, Shown, number_words
from loopwright.window.icons import icon
from loopwright.window.pages import page_of_link, sheet_of_page
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

FIGURES = 4


def _said(value: float, unit: str, units: Units, figures: int = FIGURES) -> str:
    return escape(" ".join(number_words(value, unit, units, figures)).strip()).replace(" ", "&nbsp;")


def inputs_html(inputs: tuple[Input, ...], units: Units) -> str:
    """The inputs as a table; what nobody typed is marked as assumed."""
    rows = []
    for one in inputs:
        mark = '<span class="assumed">assumed</span>' if one.assumed else ""
        rows.append(
            f"<tr><td>{escape(one.name[:1].upper() + one.name[1:])}</td>"
            f'<td align="right"><b>{_said(one.value, one.unit, units, 6)}</b></td><td>{mark}</td></tr>'
        )
    return f'<table cellspacing="0" width="100%">{"".join(rows)}</table>'


def figure_html(figure: Figure, units: Units, condition: str = "") -> str:
    """All that a figure says of itself."""
    out = [f'<p class="value">{_said(figure.value, figure.unit, units)}</p>']
    if figure.note:
        out.append(f"<p>{escape(figure.note[:1].upper() + figure.note[1:])}.</p>")
    if condition:
        out.append(f"<p>Worked out for: {escape(condition)}.</p>")
    out.append(f'<p class="head">Equation</p><p class="equation">{escape(figure.equation)}</p>')
    if figure.inputs:
        out.append('<p class="head">Inputs</p>' + inputs_html(figure.inputs, units))
        if any(one.assumed for one in figure.inputs):
            out.append("<p>What is assumed was not typed: loopwright filled in what is usual.</p>")
    if figure.valid:
        out.append(f'<p class="head">Where it holds</p><p>{escape(figure.valid)}</p>')
    if figure.source:
        out.append(f'<p class="head">Source</p><p>{escape(figure.source[:1].upper() + figure.source[1:])}</p>')
    if figure.page:
        out.append(f'<p><a href="help:computation/{escape(figure.page)}">The computation in the Help</a></p>')
    return "".join(out)


def gap_html(gap: Gap) -> str:
    """What a figure lacks."""
    out = [f'<p class="value">{NOT_ASSESSED[:1].upper() + NOT_ASSESSED[1:]}</p>']
    out.append(f"<p>{escape(gap.missing[:1].upper() + gap.missing[1:])} is missing.</p>")
    if gap.about:
        out.append("<p>State it, and the figure is worked out.</p>" if gap.prop else "")
    if gap.page:
        out.append(f'<p><a href="help:computation/{escape(gap.page)}">The computation in the Help</a></p>')
    return "".join(out)


class FigurePage(QWidget):
    """One figure, or what is missing for it."""

    closed = Signal()

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._desk = desk
        self.figure: Shown | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 4, 8)
        column.setSpacing(6)
        self.back = QPushButton("Back to the panels", self)
        self.back.setProperty("link", True)
        self.back.setShortcut(QKeySequence("Alt+Left"))
        self.back.clicked.connect(self.close_page)
        column.addWidget(self.back, 0, Qt.AlignmentFlag.AlignLeft)
        head = QVBoxLayout()
        head.setContentsMargins(6, 0, 10, 0)
        head.setSpacing(2)
        self.title = QLabel("", self)
        self.title.setObjectName("page-heading")
        self.group = QLabel("", self)
        self.group.setObjectName("hint")
        for label in (self.title, self.group):
            label.setWordWrap(True)
            head.addWidget(label)
        column.addLayout(head)
        self.text = QTextBrowser(self)
        self.text.setAccessibleName("What stands behind this figure")
        self.text.setOpenLinks(False)
        self.text.document().setDocumentMargin(6)
        self.text.anchorClicked.connect(self._follow)
        column.addWidget(self.text, 1)
        self._row = QHBoxLayout()
        self._row.setContentsMargins(6, 0, 10, 0)
        self.jump = QPushButton("Go to the field", self)
        self.jump.clicked.connect(self._jump)
        self._row.addWidget(self.jump)
        self._row.addStretch(1)
        column.addLayout(self._row)
        desk.units_changed.connect(self._again)
        desk.condition_changed.connect(self._again)
        self.set_look(desk.look)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.back.setIcon(icon("back", look["accent"], size=16))
        self.text.document().setDefaultStyleSheet(sheet_of_page(look))
        self._again()

    def show_figure(self, figure: Shown) -> None:
        """Show what stands behind a figure."""
        self.figure = figure
        self.title.setText(figure.name)
        self.group.setText(figure.group)
        gap = isinstance(figure, Gap)
        self.jump.setText("Go to the field" if isinstance(figure, Gap) and figure.prop else "Go to the part")
        self.jump.setVisible(bool(figure.about))
        self.jump.setProperty("primary", gap)
        self.jump.style().unpolish(self.jump)
        self.jump.style().polish(self.jump)
        if isinstance(figure, Gap):
            html = gap_html(figure)
        else:
            normal = self._desk.condition.words == "Normal running"
            html = figure_html(figure, self._desk.units, "" if normal else self._desk.condition.words)
        self.text.setHtml(html)

    def enter(self) -> None:
        """It has come to the front."""
        self.text.setFocus()

    def leave(self) -> None:
        """It goes."""
        self._desk.light(())

    def close_page(self) -> None:
        """Bring the right-hand panels again."""
        self._desk.close("figure")

    def _again(self, _what: object = None) -> None:
        if self.figure is not None:
            self.show_figure(self.figure)

    def _jump(self) -> None:
        figure = self.figure
        if figure is not None and figure.about:
            self.close_page()
            self._desk.jump(figure.about[0], figure.prop if isinstance(figure, Gap) else "")

    def _follow(self, url: QUrl) -> None:
        page = page_of_link(url)
        if page:
            self._desk.help(page)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.close_page()
        else:
            super().keyPressEvent(event)
