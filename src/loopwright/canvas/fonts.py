"""The fonts of the sheet, loaded from the package. Owns their loading and the cache of sizes; knows nothing
of what is written."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtGui import QFont, QFontDatabase

from loopwright.drawing.look import FALLBACK_FAMILIES, SHEET_FAMILY, WINDOW_FAMILY
from loopwright.resources import resource_root

_loaded: list[str] = []


def load_fonts() -> list[str]:
    """Load the shipped fonts once a process. Gives the families that are known; needs a QGuiApplication."""
    if not _loaded:
        for path in sorted((resource_root() / "fonts").glob("*.ttf")):
            number = QFontDatabase.addApplicationFont(str(path))
            if number >= 0:
                _loaded.extend(QFontDatabase.applicationFontFamilies(number))
        # the cut fonts of the window carry another name than the family they come from
        QFont.insertSubstitution("IBM Plex Sans", WINDOW_FAMILY)
    return list(_loaded)


@lru_cache(maxsize=64)
def sheet_font(pixels: int, weight: int) -> QFont:
    """The sheet's font at a whole number of pixels, without kerning and hinting, so that widths are plain
    sums."""
    load_fonts()
    font = QFont([SHEET_FAMILY, *FALLBACK_FAMILIES[:2]])
    font.setPixelSize(pixels)
    font.setWeight(QFont.Weight(weight))
    font.setKerning(False)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font
