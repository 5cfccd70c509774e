"""How a page of text looks: Markdown to the HTML that a text browser shows, and its style in a theme.

Owns the style of pages. Refuses to know what a page is about.
"""

from __future__ import annotations

import re

from PySide6.QtCore import QUrl
from PySide6.QtGui import QTextDocument

from loopwright.window.theme import Theme

_STYLE = re.compile(r' style="[^"]*"')
_TABLE = re.compile(r"<table[^>]*>")
_CODE = re.compile(r"""<span style=" font-family:'monospace';">(.*?)</span>""", re.DOTALL)
_BOLD = re.compile(r"""<span style=" font-weight:[67]00;">(.*?)</span>""", re.DOTALL)
_SLANT = re.compile(r"""<span style=" font-style:italic;">(.*?)</span>""", re.DOTALL)
_INDEX = re.compile(r"(?<![A-Za-z0-9_./-])([A-Za-zΔρηζλμνβπ]{1,2})_([A-Za-z0-9]{1,6})(?![A-Za-z0-9_./-])")


def sheet_of_page(look: Theme, size_px: int = 13) -> str:
    """The style sheet of a page's document, for a size of its text."""
    return (
        f".title {{ font-weight: 600; font-size: {round(1.5 * size_px)}px; margin: 0 0 10px 0; }}"
        f"p, li, td {{ font-size: {size_px}px; }}"
        f".head {{ font-weight: 600; color: {look['accent']}; margin: 12px 0 2px 0; }}"
        f".value {{ font-weight: 600; font-size: {round(1.5 * size_px)}px; margin: 2px 0 6px 0; }}"
        f".equation {{ background: {look['accent_soft']}; padding: 4px; }}"
        f".danger {{ color: {look['danger']}; font-weight: 600; }} .advice {{ color: {look['advice']}; }}"
        f".fault {{ color: {look['fault']}; font-weight: 600; }}"
        f".assumed {{ color: {look['fault']}; }}"
        f".caution {{ background: {look['fault_soft']}; padding: 4px; }}"
        f".faint {{ color: {look['ink3']}; }}"
        f".key {{ background: {look['hover']}; font-weight: 600; }}"
        f"code {{ background: {look['hover']}; }}"
        "b { font-weight: 600; }"
        "p { margin: 2px 0 4px 0; } li { margin-bottom: 4px; } td { padding: 2px 12px 2px 0; }"
    )


def markdown_html(text: str) -> str:
    """The body of a Markdown text as HTML without styles of its own; headings of the page's size, not Qt's."""
    reader = QTextDocument()
    reader.setMarkdown(text, QTextDocument.MarkdownFeature.MarkdownDialectGitHub)
    html = reader.toHtml()
    start, end = html.find("<body"), html.rfind("</body>")
    body = _CODE.sub(r'<span class="equation">\1</span>', html[html.find(">", start) + 1 : end])
    body = _STYLE.sub("", _SLANT.sub(r"<b>\1</b>", _BOLD.sub(r"<b>\1</b>", body)))  # nothing is set in italics
    body = _TABLE.sub('<table cellspacing="0">', body)
    for level in ("2", "3", "4"):
        body = body.replace(f"<h{level}>", '<p class="head">').replace(f"</h{level}>", "</p>")
    return body


def page_of_link(url: QUrl) -> str:
    """The page of the Help that a link leads to; empty for any other link."""
    text = url.toString()
    return text.removeprefix("help:") if text.startswith("help:") else ""


def with_indices(html: str) -> str:
    """The same with `V_e` as a letter with an index, as equations are set."""
    return _INDEX.sub(r"\1<sub>\2</sub>", html)
