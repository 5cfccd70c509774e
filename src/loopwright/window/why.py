"""Why a finding stands: its numbers, the rule's page, and where each limit comes from.

Owns the page's layout. Refuses to know rules: it reads the page by slug and the published figures by key.
"""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt, QUrl, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.rules.findings import Finding, Severity
from loopwright.window.badges import badge_pixmap
from loopwright.window.cautions import cautions
from loopwright.window.example_pictures import PageBrowser, with_examples
from loopwright.window.icons import icon
from loopwright.window.lesson.words import with_words
from loopwright.window.pages import markdown_html, page_of_link, sheet_of_page
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

METRIC = Units()
SHOW = "show:condition"
"""The link that plays a finding's condition on the sheet."""
TRUST = {
    "seen": "read in a published page",
    "recalled": "recalled, to be confirmed",
    "practice": "common practice, no published source",
}


def _number(value: float) -> str:
    return f"{value:.4g}"


def finding_html(finding: Finding, units: Units = METRIC) -> str:
    """The finding's own part of the page."""
    message, todo = (units.restated(words) for words in (finding.message, finding.todo))
    lines = [f"<p><b>{escape(message)}</b></p>", f"<p>{escape(todo)}</p>"]
    unit = f" {escape(finding.unit)}" if finding.unit else ""
    rows = []
    if finding.measured is not None:
        rows.append(("On this sheet", _number(finding.measured) + unit))
    if finding.limit is not None:
        rows.append(("Limit", _number(finding.limit) + unit))
    if finding.condition:
        rows.append(("It tells when", f'<a href="{SHOW}">{escape(finding.condition)}</a>'))
    if finding.step and not finding.step.isdigit():
        rows.append(("Where it stopped", escape(finding.step)))
    if finding.severity is Severity.DANGER:
        lines.append(f'<p class="caution">{escape(" ".join(cautions()[1][-2:]))}</p>')
    if rows:
        cells = "".join(f"<tr><td>{name}&nbsp;&nbsp;&nbsp;</td><td><b>{value}</b></td></tr>" for name, value in rows)
        lines.append(f"<table cellspacing=2>{cells}</table>")
    return "".join(lines)


def sources_html(keys: tuple[str, ...]) -> str:
    """The published figures behind a finding, each with how far it is to be trusted."""
    from loopwright.rules.registry import facts

    known = facts()
    found = [known[key] for key in keys if key in known]
    if not found:
        return ""
    out = ['<p class="head">Sources</p><ul>']
    for fact in found:
        doubt = "; sources differ or are weak" if fact.doubt else ""
        where = f'<a href="help:sources#{escape(fact.key)}">{escape(fact.source)}</a>'
        out.append(f"<li>{escape(fact.says)} {where}; {TRUST[fact.confidence]}{doubt}.</li>")
    return "".join(out) + "</ul>"


def page_html(slug: str) -> tuple[str, str, str, tuple[str, ...]]:
    """Title, severity word, body and source keys of a rule's page. Raises LoopwrightError when there is none."""
    from loopwright.rules.registry import page

    found = page(slug)
    return found.title, found.severity, with_examples(slug, markdown_html(found.text)), found.sources


class WhyPage(QWidget):
    """The page in place of the right-hand panels; Esc or Back brings them again."""

    closed = Signal()
    show_wanted = Signal(object)
    """The finding whose condition is to be shown on the sheet."""
    help_wanted = Signal(str)
    """A page of the Help."""

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._look = look
        self._units = METRIC
        self._finding: Finding | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 4, 8)
        column.setSpacing(6)
        self.back = QPushButton("Back to the panels", self)
        self.back.setProperty("link", True)
        self.back.setShortcut(QKeySequence("Alt+Left"))
        self.back.clicked.connect(self.closed)
        column.addWidget(self.back, 0, Qt.AlignmentFlag.AlignLeft)
        row = QHBoxLayout()
        row.setContentsMargins(6, 0, 10, 0)
        row.setSpacing(8)
        self._badge = QLabel(self)
        self.title = QLabel("", self)
        self.title.setObjectName("page-heading")
        self.title.setWordWrap(True)
        row.addWidget(self._badge, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.title, 1)
        column.addLayout(row)
        self.text = PageBrowser(catalogue, self)
        self.text.setAccessibleName("Why this finding")
        self.text.setOpenLinks(False)
        self.text.document().setDocumentMargin(6)
        self.text.document().setIndentWidth(16)
        self.text.anchorClicked.connect(self._follow)
        column.addWidget(self.text, 1)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.text.palette_name = look.mode
        self.back.setIcon(icon("back", look["accent"], size=16))
        if self._finding is not None:
            self._show(self._finding)

    def set_units(self, units: Units) -> None:
        """Say heights and lengths in other units, from now on."""
        self._units = units
        if self._finding is not None:
            self._show(self._finding)

    def show_finding(self, finding: Finding) -> None:
        """Explain a finding."""
        self._show(finding)
        self.text.setFocus()

    def _show(self, finding: Finding) -> None:
        self._finding = finding
        try:
            title, _, body, keys = page_html(finding.rule)
        except LoopwrightError as bad:
            title, body, keys = "No page for this rule", f"<p>{escape(bad.sentence)}</p>", ()
        body = finding_html(finding, self._units) + body
        self.title.setText(title)
        self._badge.setPixmap(badge_pixmap(finding.severity.word, str(finding.number), self._look, 11))
        self.text.document().setDefaultStyleSheet(sheet_of_page(self._look))
        told = "Source:" in body and not finding.sources
        extra = "" if told else sources_html(tuple(dict.fromkeys((*finding.sources, *keys))))
        more = f'<p><a href="help:rule/{escape(finding.rule)}">This rule in the Help</a></p>'
        self.text.setHtml(with_words(body) + extra + more)

    def _follow(self, url: QUrl) -> None:
        if url.toString() == SHOW:
            self.show_wanted.emit(self._finding)
            return
        page = page_of_link(url)
        if page:
            self.help_wanted.emit(page)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)
