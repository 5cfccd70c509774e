"""The pieces of which the PDF's pages are set: headings, marks, tallies, pictures, plates, lists to tick.

Owns how each piece measures and draws itself. Refuses to know reports as a whole: `paper` puts the pieces in order.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from loopwright.drawing.look import LIGHT, Look
from loopwright.reports.charts import HIGH_MM, draw_chart
from loopwright.reports.charts import LOOK as CHART_LOOK
from loopwright.reports.drawn import draw_picture
from loopwright.reports.fonts import MEDIUM, REGULAR, STRONG, cut_to, known, width
from loopwright.reports.marks import LOOK, draw_mark
from loopwright.reports.model import Chart, Mark, Picture, Plate, Tally
from loopwright.reports.pen import PT_A_MM, PdfPlotter
from loopwright.reports.pictures import PLATE_MARGIN_MM, plate_room_mm
from loopwright.reports.plates import draw_round

INK, INK2, INK3 = (HexColor(LIGHT[t]) for t in ("ink", "ink2", "ink3"))
RULE, GROUND, DANGER = HexColor("#D5D1C8"), HexColor(LIGHT["chrome"]), HexColor(LIGHT["danger"])
MM = PT_A_MM


class Book:
    """What the pieces tell each other while pages are made: where each bookmark fell, and whom to ask to stop."""

    def __init__(self, title: str, revision: str, tick: Callable[[], None]) -> None:
        self.title, self.revision, self.tick = title, revision, tick
        self.page_of: dict[str, int] = {}

    def mark(self, canvas: Any, key: str, title: str, level: int, top: float) -> None:
        """A bookmark and an entry of the outline here."""
        canvas.bookmarkPage(key, fit="XYZ", left=0, top=top, zoom=0)
        canvas.addOutlineEntry(title, key, level, closed=level == 0)
        self.page_of[key] = canvas.getPageNumber()


class Gap(Flowable):
    """Room between pieces. It never begins a page, and none is left at the top of one."""

    def __init__(self, high: float) -> None:
        super().__init__()
        self.high = high

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        frame = getattr(self, "_frame", None)
        self.width, self.height = wide, 0.0 if frame is not None and frame._atTop else min(self.high, max(high, 0.0))
        return 0.0, self.height

    def draw(self) -> None:
        """Nothing."""


class Head(Flowable):
    """A heading with an aside at its right; of a section, with a hairline above it and a bookmark."""

    def __init__(self, book: Book, title: str, aside: str, key: str, level: int, rule: bool = True) -> None:
        super().__init__()
        self.book, self.title, self.aside, self.key, self.level, self.rule = book, title, aside, key, level, rule
        self.size = 13.0 if level == 0 else 9.6

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.width = wide
        frame = getattr(self, "_frame", None)
        if frame is not None and frame._atTop:  # a page broken just before it: the head of the page is rule enough
            self.rule = False
        above = 9.0 if self.level else 16.0 if self.rule else 2.0
        self.height = self.size * 1.2 + above + 5.0
        return wide, self.height

    def draw(self) -> None:
        c = self.canv
        if self.level == 0 and self.rule:
            c.setStrokeColor(RULE)
            c.setLineWidth(0.6)
            c.line(0, self.height - 6.0, self.width, self.height - 6.0)
        base = 5.0 + self.size * 0.25
        c.setFillColor(INK)
        c.setFont(STRONG, self.size)
        title = known(self.title, STRONG)
        c.drawString(0, base, title)
        if self.aside:
            c.setFont(REGULAR, 7.6)
            c.setFillColor(INK2)
            aside = cut_to(known(self.aside), REGULAR, 7.6, self.width - width(title, STRONG, self.size) - 12.0)
            c.drawRightString(self.width, base, aside)
        if self.key:
            _, top = c.absolutePosition(0, self.height)
            self.book.mark(c, self.key, self.title, self.level, top)


class Spot(Flowable):
    """A bookmark that takes no room."""

    def __init__(self, book: Book, key: str, title: str, level: int) -> None:
        super().__init__()
        self.book, self.key, self.title, self.level = book, key, title, level
        self.width = self.height = 0.0

    def draw(self) -> None:
        _, top = self.canv.absolutePosition(0, 14.0)
        self.book.mark(self.canv, self.key, self.title, self.level, top)


class Shape(Flowable):
    """A mark in a line of a table or at the head of a card."""

    def __init__(self, mark: Mark, radius_mm: float = 2.0) -> None:
        super().__init__()
        self.mark, self.radius = mark, radius_mm
        self.width = self.height = 2.3 * radius_mm * MM
        self.hAlign = "LEFT"

    def draw(self) -> None:
        r = self.radius
        draw_mark(PdfPlotter(self.canv, LOOK, (0.0, 0.0), (0.0, self.height)), self.mark, (1.15 * r, 1.15 * r), r)


class Counts(Flowable):
    """The tally: entries side by side, between two hairlines."""

    def __init__(self, tally: Tally) -> None:
        super().__init__()
        self.tally = tally

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.width, self.height = wide, 40.0
        return wide, self.height

    def draw(self) -> None:
        c, entries = self.canv, self.tally.counts
        plot = PdfPlotter(c, LOOK, (0.0, 0.0), (0.0, self.height))
        sizes = []
        for entry in entries:
            wide = max(width(entry.big, STRONG, 9.2), width(entry.small, REGULAR, 7.4))
            sizes.append(wide + (10.5 * MM if entry.mark else 0.0))
        gap = max(6.0, (self.width - sum(sizes)) / max(1, len(entries) - 1))
        x, middle = 0.0, self.height / 2 + 2.0
        for k, (entry, wide) in enumerate(zip(entries, sizes)):
            if entry.mark:
                draw_mark(plot, entry.mark, (x / MM + 4.0, (self.height - middle) / MM), 3.6)
            left = x + (10.5 * MM if entry.mark else 0.0)
            end = k == len(entries) - 1
            say = c.drawRightString if end else c.drawString
            at = self.width if end else left
            c.setFillColor(DANGER if entry.tone == "danger" else INK)
            c.setFont(STRONG, 9.2)
            say(at, middle + 1.8, entry.big)
            c.setFillColor(INK2)
            c.setFont(REGULAR, 7.4)
            say(at, middle - 8.6, entry.small)
            x += wide + gap
        c.setStrokeColor(RULE)
        c.setLineWidth(0.6)
        c.line(0, 2.0, self.width, 2.0)


class Drawn(Flowable):
    """A picture to scale in a thin frame; its caption under it."""

    def __init__(self, book: Book, picture: Picture, frame: bool = True) -> None:
        super().__init__()
        self.book, self.picture, self.frame = book, picture, frame
        self.caption = 0.0 if not picture.caption else 12.0
        wide, high = picture.size_mm
        self.width, self.height = wide * MM, high * MM + self.caption
        self.hAlign = "LEFT"

    def draw(self) -> None:
        self.book.tick()
        c, picture = self.canv, self.picture
        high = self.height - self.caption
        c.saveState()
        path = c.beginPath()
        path.rect(0, self.caption, self.width, high)
        c.clipPath(path, stroke=0, fill=0)
        look = Look.on_paper(picture.scale)
        draw_picture(PdfPlotter(c, look, picture.box[:2], (0.0, self.height)), picture)
        c.restoreState()
        if self.frame:
            c.setStrokeColor(INK3)
            c.setLineWidth(0.6)
            c.setDash([])
            c.rect(0, self.caption, self.width, high, stroke=1, fill=0)
        if picture.caption:
            c.setFillColor(INK2)
            c.setFont(REGULAR, 7.2)
            c.drawString(0, 2.0, f"{known(picture.caption)}; 1 : {picture.scale:g}.")


class Graph(Flowable):
    """A chart as wide as the column."""

    def __init__(self, chart: Chart) -> None:
        super().__init__()
        self.chart = chart

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.width, self.height = wide, HIGH_MM * MM
        return self.width, self.height

    def draw(self) -> None:
        plot = PdfPlotter(self.canv, CHART_LOOK, (0.0, 0.0), (0.0, self.height))
        draw_chart(plot, self.chart, self.width / MM)


class WholePage(Flowable):
    """One piece of the drawing on a page of its own, with frame, key, bar of scale and title."""

    def __init__(self, book: Book, plate: Plate, tile: int, page_pt: tuple[float, float], key: str, title: str) -> None:
        super().__init__()
        self.book, self.plate, self.tile, self.page, self.key, self.title = book, plate, tile, page_pt, key, title

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.width, self.height = wide, min(high, self.page[1] - 2.0)
        return wide, self.height

    def draw(self) -> None:
        self.book.tick()
        c, plate, picture = self.canv, self.plate, self.plate.picture
        x, y = c.absolutePosition(0, 0)
        c.saveState()
        c.translate(-x, -y)
        look = Look.on_paper(picture.scale)
        mm = look.mm
        tile = plate.tiles[self.tile]
        margin = PLATE_MARGIN_MM * mm
        room_w, room_h = (v * mm for v in _room_mm(self.page))
        left = tile[0] - (room_w - (tile[2] - tile[0])) / 2 - margin
        top = tile[1] - (room_h - (tile[3] - tile[1])) / 2 - margin
        page = (left, top, left + self.page[0] / MM * mm, top + self.page[1] / MM * mm)
        plot = PdfPlotter(c, look, (left, top), (0.0, self.page[1]))
        c.saveState()
        path = c.beginPath()
        whole = len(plate.tiles) == 1
        cut = (left + margin, top + margin, left + margin + room_w, top + margin + room_h) if whole else tile
        k = PT_A_MM / mm
        path.rect((cut[0] - left) * k, self.page[1] - (cut[3] - top) * k, (cut[2] - cut[0]) * k, (cut[3] - cut[1]) * k)
        c.clipPath(path, stroke=0, fill=0)
        draw_picture(plot, picture, tile)
        c.restoreState()
        pieces = f"Piece {self.tile + 1} of {len(plate.tiles)}, page" if not whole else "Page"
        draw_round(plot, plate, self.tile, page, self.book.title, self.book.revision, f"{pieces} {c.getPageNumber()}")
        if self.tile == 0:
            self.book.mark(c, self.key, self.title, 0, self.page[1])
        c.restoreState()


def _room_mm(page_pt: tuple[float, float]) -> tuple[float, float]:
    wide, high = page_pt[0] / MM, page_pt[1] / MM
    paper = "A3" if max(wide, high) > 400.0 else "A4"
    return plate_room_mm(paper, high > wide)  # type: ignore[arg-type]


class Tick(Flowable):
    """An empty box to tick."""

    def __init__(self) -> None:
        super().__init__()
        self.width = self.height = 9.0

    def draw(self) -> None:
        self.canv.setStrokeColor(INK2)
        self.canv.setLineWidth(0.7)
        self.canv.rect(0.5, 0.5, 7.5, 7.5, stroke=1, fill=0)


class Contents(Flowable):
    """What is on which page, in columns; each line leads there. Page numbers are filled in by `Finish`."""

    def __init__(self, book: Book, entries: list[tuple[str, str]], columns: int = 3) -> None:
        super().__init__()
        self.book, self.entries, self.columns = book, entries, columns

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.rows = -(-len(self.entries) // self.columns)
        self.width, self.height = wide, self.rows * 13.0 + 4.0
        return wide, self.height

    def draw(self) -> None:
        c = self.canv
        gap = 8.0 * MM
        wide = (self.width - gap * (self.columns - 1)) / self.columns
        for k, (key, title) in enumerate(self.entries):
            column, row = divmod(k, self.rows)
            x, y = column * (wide + gap), self.height - 11.0 - 13.0 * row
            c.setFont(REGULAR, 8.0)
            c.setFillColor(INK)
            c.drawString(x, y, title)
            c.setStrokeColor(RULE)
            c.setLineWidth(0.5)
            c.setDash([0.5, 2.0])
            c.line(x + width(title, REGULAR, 8.0) + 4.0, y + 1.0, x + wide - 14.0, y + 1.0)
            c.setDash([])
            c.saveState()
            c.translate(x + wide, y)
            c.doForm(f"page-of-{key}")
            c.restoreState()
            c.linkRect("", key, (x, y - 3.0, x + wide, y + 9.0), relative=1, thickness=0)


class Finish(Flowable):
    """The last piece: tells every page how many there are, and the contents what is where."""

    def __init__(self, book: Book, keys: list[str]) -> None:
        super().__init__()
        self.book, self.keys = book, keys
        self.width = self.height = 0.0

    def draw(self) -> None:
        c = self.canv
        self._form("pages", str(c.getPageNumber()), REGULAR, 7.4, INK2, right=False)
        for key in self.keys:
            self._form(f"page-of-{key}", str(self.book.page_of.get(key, "")), MEDIUM, 8.0, INK)

    def _form(self, name: str, words: str, font: str, size: float, colour: HexColor, right: bool = True) -> None:
        c = self.canv
        c.beginForm(name, -40, -6, 40, 14)
        c.setFont(font, size)
        c.setFillColor(colour)
        (c.drawRightString if right else c.drawString)(0, 0, words)
        c.endForm()
