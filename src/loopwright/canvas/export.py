"""A sheet as PDF or PNG or on a printer, by the same drawing as on screen.

Owns the page: its size, scale and placing. Refuses to know what is drawn.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QGuiApplication, QImage, QPageLayout, QPageSize, QPainter, QPdfWriter

from loopwright.canvas.fonts import load_fonts
from loopwright.canvas.painter import QtPlotter
from loopwright.catalogue import Catalogue
from loopwright.drawing.frame import draw_frame
from loopwright.drawing.in_units import sheet_in
from loopwright.drawing.look import PX_A_MM, Look, Palette
from loopwright.drawing.page import PAGES_MM, page_box, scale_of
from loopwright.drawing.plan import Flag, SheetPlan, plan_sheet
from loopwright.drawing.scene import draw_sheet, frame_of
from loopwright.errors import FileError
from loopwright.sheet.values import Sheet
from loopwright.units import System

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

PDF_DPI = 600
LARGEST_SIDE_PX = 16000


def application() -> QGuiApplication:
    """The running application, or a new one with the shipped fonts: text needs one. Keep what it gives."""
    running = QGuiApplication.instance()
    app = running if isinstance(running, QGuiApplication) else QGuiApplication(["loopwright"])
    load_fonts()
    return app


def to_pdf(
    path: Path,
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    flags: Sequence[Flag] = (),
    page: str | None = None,
    scale: float | None = None,
    palette: Palette = "light",
    system: System = "metric",
    against: Collection[str] = (),
) -> float:
    """Write a sheet to one page of PDF, landscape, centred. Gives the scale used (25.0 for 1 : 25).

    Page and scale are those of the sheet's title block unless given. `against` are pipes whose water runs from end b
    to end a, here and below. Raises FileError.
    """
    writer = QPdfWriter(str(path))
    writer.setResolution(PDF_DPI)
    writer.setTitle(sheet.title)
    writer.setCreator("loopwright")
    writer.setPageSize(QPageSize(QSizeF(*PAGES_MM[page or sheet.block.page]), QPageSize.Unit.Millimeter))
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    painter = QPainter()
    if not painter.begin(writer):
        raise FileError("The PDF cannot be written", where=str(path), do="Choose another folder or name")
    try:
        return paint_page(painter, PDF_DPI, sheet, catalogue, services, flags, page, scale, palette, system, against)
    finally:
        painter.end()


def paint_page(
    painter: QPainter,
    dots_an_inch: float,
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    flags: Sequence[Flag] = (),
    page: str | None = None,
    scale: float | None = None,
    palette: Palette = "light",
    system: System = "metric",
    against: Collection[str] = (),
) -> float:
    """Paint a page with its frame from the painter's origin on. Gives the scale used."""
    plan = sheet_in(plan_sheet(sheet, catalogue, services, against=against), system)
    name = page or sheet.block.page
    used = scale or scale_of(plan, name)
    look = Look.on_paper(used, palette)
    box = page_box(plan, name, used)
    dots_a_unit = dots_an_inch / 25.4 / look.mm
    painter.scale(dots_a_unit, dots_a_unit)
    painter.translate(-box[0], -box[1])
    plot = QtPlotter(look)
    draw_sheet(plot, look, plan, flags)
    draw_frame(plot, look, plan, box, used, name)
    plot.paint(painter)
    return used


def print_page(
    printer: QPrinter,
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    flags: Sequence[Flag] = (),
    system: System = "metric",
    against: Collection[str] = (),
) -> float:
    """Print a sheet on one page, black on white, at the scale and on the paper of its title block. Gives the scale.

    Paper that the printer does not have is printed at the same scale on what it has. Raises FileError.
    """
    size = PAGES_MM[sheet.block.page]
    printer.setPageSize(QPageSize(QSizeF(size[1], size[0]), QPageSize.Unit.Millimeter))
    printer.setPageOrientation(QPageLayout.Orientation.Landscape)
    printer.setFullPage(True)
    printer.setDocName(sheet.title)
    painter = QPainter()
    if not painter.begin(printer):
        raise FileError("The printer cannot be reached", do="Choose another printer, or save the drawing as PDF")
    try:
        dots = printer.resolution()
        return paint_page(
            painter, dots, sheet, catalogue, services, flags, palette="print", system=system, against=against
        )
    finally:
        painter.end()


def picture(
    plan: SheetPlan,
    flags: Sequence[Flag] = (),
    zoom: float = 1.0,
    ratio: float = 2.0,
    palette: Palette = "light",
) -> QImage:
    """A picture of a sheet as it looks on screen at a zoom (1.0 is 100 %), `ratio` pixels a nominal pixel."""
    look = Look(1.25 * zoom, palette, paper=True)
    x0, y0, x1, y1 = frame_of(plan, look)
    scale = min(look.px_a_unit * ratio, LARGEST_SIDE_PX / max(x1 - x0, y1 - y0, 1.0))
    image = QImage(ceil((x1 - x0) * scale), ceil((y1 - y0) * scale), QImage.Format.Format_RGB32)
    image.fill(look.colour("paper"))
    image.setDotsPerMeterX(round(PX_A_MM * ratio * 1000))
    image.setDotsPerMeterY(round(PX_A_MM * ratio * 1000))
    plot = QtPlotter(look)
    draw_sheet(plot, look, plan, flags)
    with QPainter(image) as painter:  # ended whatever happens: an image may not go while it is painted on
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.scale(scale, scale)
        painter.translate(-x0, -y0)
        plot.paint(painter)
    return image


def to_png(
    path: Path,
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    flags: Sequence[Flag] = (),
    zoom: float = 1.0,
    ratio: float = 2.0,
    palette: Palette = "light",
    system: System = "metric",
    against: Collection[str] = (),
) -> None:
    """Write a sheet as a PNG picture. Raises FileError."""
    image = picture(
        sheet_in(plan_sheet(sheet, catalogue, services, against=against), system), flags, zoom, ratio, palette
    )
    if not image.save(str(path), "PNG"):  # type: ignore[call-overload]
        raise FileError("The picture cannot be written", where=str(path), do="Choose another folder or name")
