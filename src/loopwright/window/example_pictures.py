"""The drawn examples of the rules as pictures in a page of text.

Owns when they are drawn (once, when a page that holds them is shown) and how large. What they show is asked of
`reports.examples`.
"""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QRectF, QUrl
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QTextBrowser, QWidget

from loopwright.catalogue import Catalogue
from loopwright.drawing.look import Look, Palette
from loopwright.errors import LoopwrightError

SCHEME = "example"
WIDE_PX = 292
"""Width of a picture in a page: that of the narrowest side panel, less its margins."""
RATIO = 2.0
PX_A_MM = 96 / 25.4


def with_examples(slug: str, body: str) -> str:
    """A rule's page with its two pictures under the sentences they draw."""
    for word in ("Wrong", "Right"):
        head, sign, rest = body.partition(f"<p>{word}: ")
        sentence, end, after = rest.partition("</p>")
        if sign and end:
            picture = f'<p><img src="{SCHEME}:{slug}/{word.lower()}" width="{WIDE_PX}"></p>'
            body = f"{head}{sign}{sentence}{end}{picture}{after}"
    return body


@lru_cache(maxsize=32)
def example_image(name: str, catalogue: Catalogue, palette: Palette = "light") -> QImage | None:
    """The picture of `slug/wrong` or `slug/right`, on the paper of a palette; None when there is none."""
    from loopwright.reports import examples

    slug, _, which = name.rpartition("/")
    if which not in ("wrong", "right"):
        return None
    room_mm = (WIDE_PX / PX_A_MM, 0.85 * WIDE_PX / PX_A_MM)
    try:
        drawn = examples.svg(slug, "wrong" if which == "wrong" else "right", catalogue, room_mm, palette)
    except LoopwrightError:
        return None
    renderer = QSvgRenderer(drawn.encode())
    size = renderer.viewBoxF().size()
    if size.isEmpty():
        return None
    wide = round(WIDE_PX * RATIO)
    image = QImage(wide, round(wide * size.height() / size.width()), QImage.Format.Format_RGB32)
    image.fill(QColor(Look(palette=palette).colour("paper") if palette == "dark" else "#FFFFFF"))
    with QPainter(image) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        renderer.render(painter, QRectF(0, 0, image.width(), image.height()))
    image.setDevicePixelRatio(RATIO)
    return image


class PageBrowser(QTextBrowser):
    """A text browser that draws the examples a page names, and fetches nothing from anywhere else."""

    def __init__(self, catalogue: Catalogue, parent: QWidget) -> None:
        super().__init__(parent)
        self._catalogue = catalogue
        self.palette_name: Palette = "light"
        """Whether pictures are drawn for light or dark pages; they are drawn anew with the next text."""

    def loadResource(self, sort: int, name: QUrl | str) -> object:
        name = QUrl(name)
        if name.scheme() != SCHEME:
            return None
        return example_image(name.path(), self._catalogue, self.palette_name)
