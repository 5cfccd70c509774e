"""What is copied: a piece of a sheet for this program, and a picture of it for every other.

Owns the clipboard's forms. Refuses to know windows: it is given a sheet and gives one back.
"""

from __future__ import annotations

import atexit
from collections.abc import Collection, Mapping

from PySide6.QtCore import QMimeData
from PySide6.QtGui import QGuiApplication, QImage

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.files import dumps, loads
from loopwright.sheet.values import Sheet
from loopwright.units import System

MIME = "application/x-loopwright-piece+json"
SVG = "image/svg+xml"
_ours: list[QMimeData] = []
"""What this program put there last."""


def copy(piece: Sheet, picture: QMimeData) -> None:
    """Put a piece on the clipboard, with its picture beside it. Raises SheetError."""
    picture.setData(MIME, dumps(piece))
    _put(picture, MIME)


def copy_picture(picture: QMimeData) -> None:
    """Put a picture alone on the clipboard. Raises SheetError."""
    _put(picture, SVG)


def _put(data: QMimeData, form: str) -> None:
    if not _ours:  # however the program ends; registered after the window library's own end, so that it comes before
        atexit.unregister(let_go)
        atexit.register(let_go)
    _ours[:] = [data]
    held = QGuiApplication.clipboard()
    held.setMimeData(data)
    now = held.mimeData()
    if now is None or not now.hasFormat(form):  # another program holds it, or the desktop has none
        raise SheetError("The clipboard did not take it", do="Try again, or use Duplicate")


def let_go() -> None:
    """Take what this program copied off the clipboard: made here, it would outlive the interpreter and crash."""
    held = QGuiApplication.clipboard() if QGuiApplication.instance() is not None else None
    if _ours and held is not None and (held.ownsClipboard() or held.mimeData() is _ours[0]):
        held.clear()
    _ours.clear()


def picture_of(
    piece: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    system: System = "metric",
    against: Collection[str] = (),
) -> QMimeData:
    """The picture of a piece as SVG and as pixels, light whatever the window is: it goes on somebody's paper."""
    from loopwright.canvas.export import picture  # with what writes pictures, not with the window
    from loopwright.drawing.in_units import sheet_in
    from loopwright.drawing.plan import plan_sheet
    from loopwright.drawing.svg import sheet_svg

    data = QMimeData()
    data.setData(SVG, sheet_svg(piece, catalogue, services, system=system, against=against).encode())
    image: QImage = picture(sheet_in(plan_sheet(piece, catalogue, services, against=against), system))
    data.setImageData(image)
    return data


def holds_piece() -> bool:
    """Whether there is something to paste."""
    held = QGuiApplication.clipboard().mimeData()
    return held is not None and held.hasFormat(MIME)


def piece(catalogue: Catalogue) -> Sheet:
    """The piece on the clipboard. Raises SheetError when there is none, FileError when it cannot be read."""
    held = QGuiApplication.clipboard().mimeData()
    if held is None or not held.hasFormat(MIME):
        raise SheetError("There is nothing to paste", do="Copy parts of a sheet first")
    return loads(bytes(held.data(MIME).data()), catalogue)
