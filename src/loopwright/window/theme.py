"""Light and dark: the colours, type and style sheet of the window.

Owns turning the drawing's colour tokens into a palette and a style sheet. Refuses to know any single widget.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from string import Template
from typing import Literal

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

from loopwright.canvas.fonts import load_fonts
from loopwright.drawing.look import DARK, LIGHT, WINDOW_FAMILY
from loopwright.resources import resource_root

Mode = Literal["light", "dark"]
FAMILY = WINDOW_FAMILY
FALLBACK = "DejaVu Sans"


@dataclass(frozen=True)
class Theme:
    """The colours of one mode by token."""

    mode: Mode
    tokens: Mapping[str, str]

    def __getitem__(self, token: str) -> str:
        return self.tokens[token]

    def colour(self, token: str) -> QColor:
        """A token as a colour."""
        return QColor(self.tokens[token])


def theme(mode: Mode) -> Theme:
    """The theme of a mode, with the window's own tokens added to the drawing's."""
    tokens = dict(DARK if mode == "dark" else LIGHT)
    tokens["hover"] = tokens["grid"]
    tokens["veil"] = "#99" + tokens["chrome"][1:]  # over what is out of date
    return Theme(mode, tokens)


def base_font() -> QFont:
    """The window's font: 13 px, figures of equal width where the font has them."""
    font = QFont([FAMILY, FALLBACK])
    font.setPixelSize(13)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font


def palette(look: Theme) -> QPalette:
    """What Qt's own drawing uses where the style sheet says nothing."""
    colours = QPalette()
    role = QPalette.ColorRole
    for which, token in (
        (role.Window, "chrome"),
        (role.Base, "field"),
        (role.AlternateBase, "panel"),
        (role.Button, "panel"),
        (role.ToolTipBase, "field"),
        (role.WindowText, "ink"),
        (role.Text, "ink"),
        (role.ButtonText, "ink"),
        (role.ToolTipText, "ink"),
        (role.PlaceholderText, "ink3"),
        (role.Highlight, "accent"),
        (role.HighlightedText, "on_accent"),
        (role.Link, "accent"),
        (role.LinkVisited, "accent"),
        (role.Light, "field"),
        (role.Midlight, "panel"),
        (role.Mid, "line"),
        (role.Dark, "line2"),
    ):
        colours.setColor(which, look.colour(token))
    for which in (role.WindowText, role.Text, role.ButtonText):
        colours.setColor(QPalette.ColorGroup.Disabled, which, look.colour("ink3"))
    return colours


def style_sheet(look: Theme) -> str:
    """The style sheet of the window for a theme."""
    root = resource_root()
    text = (root / "window.qss").read_text(encoding="utf-8")
    return Template(text).substitute(look.tokens, mode=look.mode, family=FAMILY, icons=(root / "icons").as_posix())


def dress(app: QApplication, mode: Mode) -> Theme:
    """Give the whole application a mode."""
    look = theme(mode)
    if app.property("mode") == mode:  # a style sheet is worked out anew for every widget there is
        return look
    app.setProperty("mode", mode)
    load_fonts()
    app.setStyle(QStyleFactory.create("Fusion"))
    app.setFont(base_font())
    app.setPalette(palette(look))
    app.setStyleSheet(style_sheet(look))
    return look


def wanted_mode(app: QApplication) -> Mode:
    """Dark when the desktop asks for dark, else light."""
    return "dark" if app.styleHints().colorScheme() == Qt.ColorScheme.Dark else "light"
