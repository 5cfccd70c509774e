"""The type of a report on paper: sizes, weights and colours of each sort of words.

Owns the styles. Knows nothing of what is set in them.
"""

from __future__ import annotations

from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph

from loopwright.reports.flow import INK, INK2
from loopwright.reports.fonts import MEDIUM, REGULAR, STRONG, known

PAD = 4.5


def _style(name: str, size: float, font: str = REGULAR, colour: Any = INK, **more: Any) -> ParagraphStyle:
    return ParagraphStyle(name, fontName=font, fontSize=size, leading=size * 1.36, textColor=colour, **more)


BODY = _style("body", 8.4)
TONES = {
    "body": BODY,
    "quiet": _style("quiet", 7.8, colour=INK2),
    "strong": _style("strong", 8.6, STRONG),
}
CELL = {
    "": _style("cell", 7.6),
    "strong": _style("cell-strong", 7.6, MEDIUM),
    "quiet": _style("cell-quiet", 7.4, colour=INK2),
}
CELL_RIGHT = {
    tone: _style(f"{s.name}-right", s.fontSize, s.fontName, s.textColor, alignment=TA_RIGHT) for tone, s in CELL.items()
}
TITLE, NAME, VALUE = _style("card", 9.8, STRONG), _style("name", 7.6, colour=INK2), _style("value", 8.0)
LABEL, REASON = _style("label", 8.0, STRONG), _style("reason", 8.0, colour=INK2)
CARE, CARE_LINE = _style("care", 9.6, STRONG), _style("care-line", 8.4)


def say(text: str, style: ParagraphStyle) -> Paragraph:
    """A paragraph of plain words, whatever stands in them."""
    return Paragraph(escape(known(text, style.fontName)).replace("\n", "<br/>"), style)


BARE: list[Any] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]
GROUP = _style("group", 8.4, STRONG)
HEAD = _style("head", 7.4, STRONG)
HEAD_RIGHT = _style("head-right", 7.4, STRONG, alignment=TA_RIGHT)
