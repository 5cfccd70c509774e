"""Pictures in one ink: a shipped SVG in the colour that is asked for, as an icon.

Owns reading, tinting and caching. Refuses to know what the pictures stand for.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from loopwright.drawing.symbols import as_svg
from loopwright.resources import resource_root

_RATIOS = (1, 2, 3)
_FULL_BOX = 'viewBox="0 0 100 100"'
"""Symbols of this box are stretched over their part's body."""
_WIDTH = re.compile(r'stroke-width="([0-9.]+)"')
_BODY_LINE_PX = 1.4


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def svg_pixmap(path: Path, ink: str, width: int, height: int, ratio: float = 1.0, paper: str = "white") -> QPixmap:
    """The picture, `width` by `height` pixels at that device pixel ratio; empty when there is no such file.

    `paper` stands in for white, the ground that bodies of symbols are filled with.
    """
    return text_pixmap(_text(path), ink, width, height, ratio, paper)


def text_pixmap(text: str, ink: str, width: int, height: int, ratio: float = 1.0, paper: str = "white") -> QPixmap:
    """As `svg_pixmap`, of a drawing that is at hand as text."""
    picture = QPixmap(round(width * ratio), round(height * ratio))
    picture.fill(Qt.GlobalColor.transparent)
    if text:
        renderer = QSvgRenderer(QByteArray(text.replace("currentColor", ink).replace('"white"', f'"{paper}"').encode()))
        with QPainter(picture) as painter:
            box = renderer.viewBoxF()
            scale = min(picture.width() / box.width(), picture.height() / box.height()) if box.isValid() else 1.0
            size = box.size() * scale
            left, top = (picture.width() - size.width()) / 2, (picture.height() - size.height()) / 2
            renderer.render(painter, QRectF(left, top, size.width(), size.height()))
    picture.setDevicePixelRatio(ratio)
    return picture


@cache
def _icon(path: Path, ink: str, faint: str, bright: str, size: int) -> QIcon:
    icon = QIcon()
    for ratio in _RATIOS:
        drawn: dict[str, QPixmap] = {}
        for colour, mode, state in (
            (ink, QIcon.Mode.Normal, QIcon.State.Off),
            (bright, QIcon.Mode.Normal, QIcon.State.On),
            (faint, QIcon.Mode.Disabled, QIcon.State.Off),
            (ink, QIcon.Mode.Selected, QIcon.State.Off),
        ):
            if colour not in drawn:
                drawn[colour] = svg_pixmap(path, colour, size, size, ratio)
            icon.addPixmap(drawn[colour], mode, state)
    return icon


def icon(name: str, ink: str, *, faint: str = "", bright: str = "", size: int = 18) -> QIcon:
    """A shipped icon by name. `faint` is its ink when it cannot be used, `bright` when it is switched on."""
    return _icon(resource_root() / "icons" / f"{name}.svg", ink, faint or ink, bright or ink, size)


@cache
def symbol_icon(symbol: str, ink: str, paper: str, shape: float = 1.0, size: int = 24) -> QIcon:
    """The drawing symbol of a kind of part as an icon; `shape` is width by height of a body that symbols fill."""
    icon = QIcon()
    text = as_svg(symbol)
    for ratio in _RATIOS:
        drawn = (
            _body_pixmap(text, ink, size, ratio, paper, shape)
            if _FULL_BOX in text
            else text_pixmap(text, ink, size, size, ratio, paper)
        )
        for mode in (QIcon.Mode.Normal, QIcon.Mode.Selected):
            icon.addPixmap(drawn, mode, QIcon.State.Off)
    return icon


def _body_pixmap(text: str, ink: str, size: int, ratio: float, paper: str, shape: float) -> QPixmap:
    """A body's symbol in its own proportions, with lines as bold as those of the small fittings beside it."""
    room = size - 4.0
    wide, high = (room, room / shape) if shape > 1.0 else (room * shape, room)
    wide, high = max(wide, room * 0.45), max(high, room * 0.45)
    bold = _BODY_LINE_PX * 100.0 / (1.9 * (wide + high) / 2)
    text = _WIDTH.sub(lambda found: f'stroke-width="{float(found[1]) * bold:.2f}"', text)
    renderer = QSvgRenderer(QByteArray(text.replace("currentColor", ink).replace('"white"', f'"{paper}"').encode()))
    picture = QPixmap(round(size * ratio), round(size * ratio))
    picture.fill(Qt.GlobalColor.transparent)
    with QPainter(picture) as painter:
        painter.scale(ratio, ratio)
        renderer.render(painter, QRectF((size - wide) / 2, (size - high) / 2, wide, high))
    picture.setDevicePixelRatio(ratio)
    return picture
