"""The shipped fonts as the PDF library takes them: plain TrueType files, whose used letters go into each document.

Owns their names and loading, and what is printed for letters that no shipped font holds.
"""

from __future__ import annotations

from functools import cache

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from loopwright.drawing.widths import shortened
from loopwright.reports.stop import ReportError
from loopwright.resources import resource_root

REGULAR, MEDIUM, STRONG = "LoopwrightSans-Regular", "LoopwrightSans-Medium", "LoopwrightSans-SemiBold"
SHEET = {
    400: "IBMPlexSansCondensed-Regular",
    500: "IBMPlexSansCondensed-Medium",
    600: "IBMPlexSansCondensed-SemiBold",
}
UNKNOWN = "?"


@cache
def load() -> None:
    """Make the fonts known to the library, once a process. Raises ReportError."""
    rl_config.useA85 = 0  # plain bytes in the file: a fifth smaller than printable ones, and quicker made
    for name in (REGULAR, MEDIUM, STRONG, *SHEET.values()):
        path = resource_root() / "fonts" / f"{name}.ttf"
        try:
            pdfmetrics.registerFont(TTFont(name, str(path)))
        except (OSError, TTFError) as bad:
            raise ReportError(
                f"The font {path.name} is missing or damaged",
                where=str(path.parent),
                do="Install loopwright again, or write the report as .html",
            ) from bad
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=STRONG, italic=REGULAR, boldItalic=STRONG)


@cache
def _letters(font: str) -> frozenset[int]:
    return frozenset(pdfmetrics.getFont(font).face.charToGlyph)


def known(words: str, font: str = REGULAR) -> str:
    """Words with every letter that the font does not hold replaced; line ends become spaces."""
    letters = _letters(font)
    if all(ord(c) in letters for c in words):
        return words
    return "".join(
        c if ord(c) in letters else " " if c.isspace() else UNKNOWN for c in words if c.isprintable() or c.isspace()
    )


def width(words: str, font: str, size: float) -> float:
    """Width in points."""
    return float(pdfmetrics.stringWidth(words, font, size))


def cut_to(words: str, font: str, size: float, room: float) -> str:
    """Words cut to the room there is, in points."""
    return shortened(words, room, lambda some: width(some, font, size))


def sheet_font(weight: int) -> str:
    """The condensed font of a weight."""
    return SHEET[min(SHEET, key=lambda w: abs(w - weight))]
