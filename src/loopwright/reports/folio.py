"""The pages of a report on paper: a first one with a large head, others with a slim one, bare ones for the drawing.

Owns head and foot. Knows nothing of what stands between them.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

from loopwright.reports import model
from loopwright.reports.flow import INK, INK2, MM, RULE, Book
from loopwright.reports.fonts import REGULAR, STRONG, cut_to, known, width
from loopwright.reports.marks import LOOK, draw_sign
from loopwright.reports.pen import PdfPlotter
from loopwright.reports.pictures import MARGIN_MM, PAGE_MM

FOOT_MM, FIRST_MM, LATER_MM = 12.0, 34.0, 22.0


class Folio(BaseDocTemplate):
    """The pages: a first one with a large head, others with a slim one, and bare ones for the drawing."""

    def __init__(self, file: io.BytesIO, report: model.Report, book: Book, tick: Callable[[int], None]) -> None:
        self.report, self.book, self.tick = report, book, tick
        size = tuple(v * MM for v in PAGE_MM[report.paper])
        super().__init__(
            file,
            pagesize=size,
            title=f"{report.title}: {report.subtitle}",
            subject=f"{report.verdict}; fingerprint {report.fingerprint}",
            creator=f"loopwright {report.version}",
            author="",
            lang="en-GB",
            pageCompression=1,
        )
        wide, high = size
        side = MARGIN_MM * MM

        def frame(head_mm: float) -> Frame:
            return Frame(
                side, (FOOT_MM + 6.0) * MM, wide - 2 * side, high - (FOOT_MM + 6.0 + head_mm) * MM,
                0, 0, 0, 0, id="body",
            )  # fmt: skip

        def bare(name: str, page: tuple[float, float]) -> PageTemplate:
            return PageTemplate(name, [Frame(0, 0, *page, 0, 0, 0, 0)], onPage=self._bare, pagesize=page)

        self.addPageTemplates(
            [
                PageTemplate("first", [frame(FIRST_MM)], onPage=self._first, pagesize=size),
                PageTemplate("later", [frame(LATER_MM)], onPage=self._later, pagesize=size),
                bare("lying", (high, wide)),
                bare("standing", (wide, high)),
            ]
        )

    def _bare(self, canvas: Any, doc: Any) -> None:
        self.tick(canvas.getPageNumber())

    def _first(self, canvas: Any, doc: Any) -> None:
        self.tick(canvas.getPageNumber())
        wide, high = canvas._pagesize
        side, report = MARGIN_MM * MM, self.report
        canvas.setFillColor(INK)
        title, size = known(report.title, STRONG), 19.0
        while size > 10.0 and width(title, STRONG, size) > wide - 2 * side - 36 * MM:
            size -= 0.5
        canvas.setFont(STRONG, size)
        canvas.drawString(side, high - 19.0 * MM, cut_to(title, STRONG, size, wide - 2 * side - 36 * MM))
        canvas.setFont(REGULAR, 9.6)
        canvas.setFillColor(INK2)
        canvas.drawString(side, high - 25.0 * MM, f"{known(report.subtitle)}, printed {report.date}")
        canvas.setFillColor(INK)
        canvas.setFont(STRONG, 11.0)
        canvas.drawRightString(wide - side, high - 19.0 * MM, "loopwright")
        sign = wide - side - width("loopwright", STRONG, 11.0) - 8.6 * MM
        draw_sign(PdfPlotter(canvas, LOOK, (0.0, 0.0), (sign, high - 19.0 * MM)), (0.0, 0.0), 5.6)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.4)
        canvas.line(side, high - 30.0 * MM, wide - side, high - 30.0 * MM)
        self._foot(canvas)

    def _later(self, canvas: Any, doc: Any) -> None:
        self.tick(canvas.getPageNumber())
        wide, high = canvas._pagesize
        side, report = MARGIN_MM * MM, self.report
        canvas.setFillColor(INK)
        canvas.setFont(STRONG, 8.4)
        canvas.drawString(side, high - 13.0 * MM, cut_to(known(report.title, STRONG), STRONG, 8.4, 120 * MM))
        canvas.setFillColor(INK2)
        canvas.setFont(REGULAR, 7.8)
        canvas.drawRightString(wide - side, high - 13.0 * MM, known(report.subtitle))
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.9)
        canvas.line(side, high - 15.5 * MM, wide - side, high - 15.5 * MM)
        self._foot(canvas)

    def _foot(self, canvas: Any) -> None:
        wide, _ = canvas._pagesize
        side, y = MARGIN_MM * MM, FOOT_MM * MM
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        canvas.line(side, y + 10.0, wide - side, y + 10.0)
        canvas.setFillColor(INK2)
        canvas.setFont(REGULAR, 7.4)
        canvas.drawString(side, y, f"Printed {self.report.date} by loopwright {self.report.version}")
        total = width("00", REGULAR, 7.4)
        canvas.drawCentredString(wide / 2, y, f"Sheet fingerprint {self.report.fingerprint}")
        canvas.drawRightString(wide - side - total - 2.2, y, f"Page {canvas.getPageNumber()} of")
        canvas.saveState()
        canvas.translate(wide - side - total, y)
        canvas.doForm("pages")
        canvas.restoreState()
