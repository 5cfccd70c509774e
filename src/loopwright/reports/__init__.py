"""Reports: one model of what is said about a sheet, written as a page for a browser, as PDF, or as tables.

`build` gives the model; `html`, `pdf` and `tables` write it. The writers are loaded when they are called.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

from loopwright.reports.build import build
from loopwright.reports.model import Report

if TYPE_CHECKING:
    from loopwright.reports.stop import Cancel

__all__ = ["Report", "build", "html", "pdf", "tables"]


def html(report: Report) -> str:
    """The report as one page of HTML that needs no other file."""
    from loopwright.reports.page import write

    return write(report)


def pdf(report: Report, progress: Callable[[str], None] | None = None, cancel: Cancel | None = None) -> bytes:
    """The report as PDF. `progress` is told each page; `cancel` is asked at each page and stops it with Cancelled.

    Raises ReportError where a font is missing or the library that writes PDF is not there.
    """
    return pdf_and_pages(report, progress, cancel)[0]


def pdf_and_pages(
    report: Report, progress: Callable[[str], None] | None = None, cancel: Cancel | None = None
) -> tuple[bytes, int]:
    """The report as PDF, and how many pages it has. Raises as `pdf` does."""
    try:
        from loopwright.reports.paper import write
    except ModuleNotFoundError as bad:
        if bad.name is None or not bad.name.startswith("reportlab"):
            raise
        from loopwright.reports.stop import ReportError

        raise ReportError(
            "The library that writes PDF is missing", do="Install reportlab, or write the report as .html"
        ) from None
    return write(report, progress, cancel)


def tables(report: Report, form: Literal["csv", "json"] = "csv") -> dict[str, bytes]:
    """Every table by file name, as CSV or JSON in UTF-8."""
    from loopwright.reports.exports import write

    return write(report, form)
