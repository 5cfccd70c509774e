"""Contrast of what the window writes, the fonts, and that every widget can be named by a screen reader."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QFontInfo
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLineEdit

from loopwright.window.theme import FAMILY, base_font, dress, style_sheet, theme


def _luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.1, definition of relative luminance (W3C recommendation)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(a: str, b: str) -> float:
    """Contrast ratio. Source: WCAG 2.1, definition of contrast ratio."""
    light, dark = sorted((_luminance(a), _luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_ends():
    """Source: WCAG 2.1: contrast runs from 1 to 21; #767676 on white is the well-known 4.54."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        ("ink", "panel"),
        ("ink", "field"),
        ("ink", "chrome"),
        ("ink2", "chrome"),
        ("ink3", "panel"),
        ("ink3", "field"),
        ("accent", "panel"),
        ("on_accent", "accent"),
        ("danger", "panel"),
        ("ink", "accent_soft"),
        ("ink", "danger_soft"),
        ("ink", "fault_soft"),
        ("ink", "advice_soft"),
        ("ink2", "danger_soft"),
        ("accent", "danger_soft"),
        ("ink", "hover"),
        ("ink2", "hover"),
        ("on_severity", "danger"),
        ("on_severity", "fault"),
        ("advice", "paper"),
    ],
)
def test_text_has_the_contrast_of_level_aa(mode, text, ground):
    """Source: WCAG 2.1 success criterion 1.4.3, contrast (minimum): 4.5 to 1 for text."""
    look = theme(mode)
    assert contrast(look[text], look[ground]) >= 4.5


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize(
    ("line", "ground"),
    [("line2", "panel"), ("line2", "field"), ("accent", "panel"), ("danger", "field"), ("accent", "paper")],
)
def test_borders_that_carry_meaning_stand_out(mode, line, ground):
    """Source: WCAG 2.1 success criterion 1.4.11, non-text contrast: 3 to 1."""
    look = theme(mode)
    assert contrast(look[line], look[ground]) >= 3.0


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_the_style_sheet_has_no_open_token(mode):
    assert "$" not in style_sheet(theme(mode))


def test_the_shipped_font_is_the_one_used(qapp):
    dress(qapp, "light")
    assert QFontInfo(base_font()).family() == FAMILY


def test_every_control_has_a_name(drawn, qtbot):
    """Source: WCAG 2.1 success criterion 4.1.2, name, role, value."""
    drawn.document.choose(["store"])
    drawn.properties.tappings.choose("A")
    with qtbot.waitExposed(drawn):
        drawn.show()
    nameless = [
        (type(w).__name__, w.objectName(), w.parent())
        for sort in (QAbstractButton, QLineEdit, QComboBox)
        for w in drawn.findChildren(sort)
        if w.isVisibleTo(drawn)
        and not (w.accessibleName() or getattr(w, "text", str)() or w.toolTip())
        and not w.objectName().startswith("qt_")
    ]
    assert not nameless


def test_both_modes_can_be_put_on_and_off(drawn):
    for mode in ("dark", "light", ""):
        drawn.use_mode(mode)
        assert drawn.memory.mode == mode
        drawn.grab()
    assert QApplication.instance().styleSheet()
