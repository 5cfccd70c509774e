"""Pictures in one ink: a shipped SVG in the colour that is asked for, as an icon.

Owns reading, tinting and caching. Refuses to know what the pictures stand for.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from loopwright.resources import resource_root

_RATIOS = (1, 2, 3)


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def svg_pixmap(path: Path, ink: str, width: int, height: int, ratio: float = 1.0, paper: str = "white") -> QPixmap:
    """The picture, `width` by `height` pixels at that device pixel ratio; empty when there is no such file.

    `paper` stands in for white, the ground that bodies of symbols are filled with.
    """
    picture = QPixmap(round(width * ratio), round(height * ratio))
    picture.fill(Qt.GlobalColor.transparent)
    text = _text(path)
    if text:
        renderer = QSvgRenderer(
            QByteArray(text.replace("currentColor", ink).replace('"white"', f'"{paper}"').encode())
        )
        painter = QPainter(picture)
        box = renderer.viewBoxF()
        scale = min(picture.width() / box.width(), picture.height() / box.height()) if box.isValid() else 1.0
        size = box.size() * scale
        left, top = (picture.width() - size.width()) / 2, (picture.height() - size.height()) / 2
        renderer.render(painter, QRectF(left, top, size.width(), size.height()))
        painter.end()
    picture.setDevicePixelRatio(ratio)
    return picture


@cache
def _icon(path: Path, ink: str, faint: str, bright: str, size: int, paper: str = "white") -> QIcon:
    icon = QIcon()
    for ratio in _RATIOS:
        for colour, mode, state in (
            (ink, QIcon.Mode.Normal, QIcon.State.Off),
            (bright, QIcon.Mode.Normal, QIcon.State.On),
            (faint, QIcon.Mode.Disabled, QIcon.State.Off),
            (ink, QIcon.Mode.Selected, QIcon.State.Off),
        ):
            icon.addPixmap(svg_pixmap(path, colour, size, size, ratio, paper), mode, state)
    return icon


def icon(name: str, ink: str, *, faint: str = "", bright: str = "", size: int = 18) -> QIcon:
    """A shipped icon by name. `faint` is its ink when it cannot be used, `bright` when it is switched on."""
    return _icon(resource_root() / "icons" / f"{name}.svg", ink, faint or ink, bright or ink, size)


def symbol_icon(symbol: str, ink: str, paper: str, size: int = 24) -> QIcon:
    """The drawing symbol of a kind of part as an icon."""
    return _icon(resource_root() / "symbols" / f"{symbol}.svg", ink, ink, ink, size, paper)
