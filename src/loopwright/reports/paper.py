"""Writes a report as PDF: pages, header and foot, outline, contents; words stay words and lines stay lines.

Owns the setting of each block and the page. Refuses to know sheets and rules. The library that makes PDF is loaded
here and in the modules this one loads, nowhere else.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from loopwright.reports import model, words
from loopwright.reports.flow import (
    DANGER,
    GROUND,
    INK,
    INK2,
    INK3,
    MM,
    RULE,
    Book,
    Contents,
    Counts,
    Drawn,
    Finish,
    Graph,
    Head,
    Shape,
    Spot,
    Tick,
    WholePage,
)
from loopwright.reports.fonts import MEDIUM, REGULAR, STRONG, known, load, width
from loopwright.reports.marks import LOOK, draw_sign
from loopwright.reports.pen import PdfPlotter
from loopwright.reports.pictures import MARGIN_MM, PAGE_MM
from loopwright.reports.stop import Cancel, ask

FOOT_MM = 12.0
PAD = 4.5


def _style(name: str, size: float, font: str = REGULAR, colour: Any = INK, **more: Any) -> ParagraphStyle:
    return ParagraphStyle(name, fontName=font, fontSize=size, leading=size * 1.36, textColor=colour, **more)


BODY = _style("body", 8.4)
TONES = {
    "body": BODY,
    "quiet": _style("quiet", 7.8, colour=INK2),
    "strong": _style("strong", 8.6, STRONG),
}
CELL = {
    "": _style("cell", 7.6),
    "strong": _style("cell-strong", 7.6, MEDIUM),
    "quiet": _style("cell-quiet", 7.4, colour=INK2),
}
CELL_RIGHT = {
    tone: _style(f"{s.name}-right", s.fontSize, s.fontName, s.textColor, alignment=TA_RIGHT) for tone, s in CELL.items()
}
TITLE, NAME, VALUE = _style("card", 9.8, STRONG), _style("name", 7.6, colour=INK2), _style("value", 8.0)
LABEL, REASON = _style("label", 8.0, STRONG), _style("reason", 8.0, colour=INK2)
CARE, CARE_LINE = _style("care", 9.6, STRONG), _style("care-line", 8.4)


def say(text: str, style: ParagraphStyle) -> Paragraph:
    """A paragraph of plain words, whatever stands in them."""
    return Paragraph(escape(known(text, style.fontName)).replace("\n", "<br/>"), style)


class _Document(BaseDocTemplate):
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
                PageTemplate("first", [frame(34.0)], onPage=self._first, pagesize=size),
                PageTemplate("later", [frame(22.0)], onPage=self._later, pagesize=size),
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
        canvas.drawString(side, high - 19.0 * MM, _fit(title, STRONG, size, wide - 2 * side - 36 * MM))
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
        canvas.drawString(side, high - 13.0 * MM, _fit(known(report.title, STRONG), STRONG, 8.4, 120 * MM))
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


def _fit(text: str, font: str, size: float, room: float) -> str:
    if width(text, font, size) <= room:
        return text
    while text and width(text + "…", font, size) > room:
        text = text[:-1]
    return text + "…"


def write(
    report: model.Report, progress: Callable[[str], None] | None = None, cancel: Cancel | None = None
) -> tuple[bytes, int]:
    """The report as the bytes of a PDF, and its pages. Raises ReportError, and Cancelled when `cancel` says so."""
    load()

    def page(number: int) -> None:
        ask(cancel)
        if progress is not None:
            progress(f"page {number}")

    revision = report.subtitle.partition("revision ")[2]
    book = Book(known(report.title), known(revision), lambda: ask(cancel))
    file = io.BytesIO()
    document = _Document(file, report, book, page)
    size = PAGE_MM[report.paper]
    setter = _Setter(report, book, (size[0] - 2 * MARGIN_MM) * MM, (size[1] - FOOT_MM - 6.0 - 22.0) * MM - 8.0)
    story = list(setter.story())
    document.build(story)
    return file.getvalue(), document.page


class _Setter:
    """Turns blocks into pieces for pages of one width and height."""

    def __init__(self, report: model.Report, book: Book, wide: float, high: float) -> None:
        self.report, self.book, self.wide, self.high = report, book, wide, high

    def story(self) -> Iterator[Flowable]:
        """Everything in order."""
        keys = [s.key for s in self.report.sections]
        flown = False  # whether the page in hand is a bare one
        yield NextPageTemplate("later")
        for number, section in enumerate(self.report.sections):
            plates = [b for b in section.blocks if isinstance(b, model.Plate)]
            if plates:
                yield from self._plate(section, plates[0])
                flown = True
                continue
            if flown or (section.fresh and number):
                yield PageBreak()
            top = flown or section.fresh or number == 0
            flown = False
            if number == len(self.report.sections) - 1:  # the cautions stand together, whatever page is the last
                yield KeepTogether(
                    [f for f in self._section(section, number, True) if not isinstance(f, CondPageBreak)]
                )
            else:
                yield from self._section(section, number, top)
            if number == 0:
                yield Spacer(0, 6)
                yield Head(self.book, "Contents", "", "", 1)
                yield Contents(self.book, [(s.key, s.title) for s in self.report.sections])
        yield Finish(self.book, keys)

    def _plate(self, section: model.Section, plate: model.Plate) -> Iterator[Flowable]:
        wide, high = (v * MM for v in PAGE_MM[self.report.paper])
        page = (wide, high) if plate.upright else (high, wide)
        for tile in range(len(plate.tiles)):
            yield NextPageTemplate("standing" if plate.upright else "lying")
            yield PageBreak()
            yield WholePage(self.book, plate, tile, page, section.key, section.title)
        yield NextPageTemplate("later")

    def _section(self, section: model.Section, number: int, top: bool) -> Iterator[Flowable]:
        if number == 0:
            yield Spot(self.book, section.key, section.title, 0)
        groups = [list(self.block(b)) for b in section.blocks]
        if number:
            first = groups[0] if groups else []
            least = 42.0 + self._least(first)
            if len(groups) > 1 and isinstance(section.blocks[0], model.Heading | model.Words):
                least += self._least(groups[1])
            if not top:
                yield CondPageBreak(min(self.high, least))
            yield Head(self.book, section.title, section.aside, section.key, 0, rule=not top)
        for k, group in enumerate(groups):
            if isinstance(section.blocks[k], model.Heading) and k + 1 < len(groups):
                yield CondPageBreak(min(self.high, 34.0 + self._least(groups[k + 1])))
            yield from group
        yield Spacer(0, 8)

    def _least(self, group: list[Flowable]) -> float:
        """Room that the beginning of a block wants under its heading."""
        for piece in group:
            if isinstance(piece, Table) and piece._nrows > 2 and getattr(piece, "repeatRows", 0):
                heights = piece.wrap(self.wide, 1e6) and piece._rowHeights
                return float(sum(heights[:4]))
            if not isinstance(piece, Spacer | Spot):
                return float(min(piece.wrap(self.wide, 1e6)[1], self.high))
        return 0.0

    # ---- blocks

    def block(self, block: model.Block, wide: float | None = None) -> Iterator[Flowable]:
        """The pieces of one block in a column of that width."""
        room = wide or self.wide
        match block:
            case model.Words():
                yield say(block.text, TONES[block.tone])
                yield Spacer(0, 3)
            case model.Heading():
                yield Head(self.book, block.title, block.aside, block.key, 1)
            case model.Table():
                yield from self._table(block, room)
            case model.Card():
                yield from self._card(block)
            case model.Picture():
                yield Drawn(self.book, block, frame=not block.ruler)
            case model.Tally():
                yield Counts(block)
                yield Spacer(0, 6)
            case model.Facts():
                yield self._facts(block, room)
            case model.Ticks():
                yield self._ticks(block, room)
            case model.Caution():
                yield self._caution(block, room)
                yield Spacer(0, 8)
            case model.Chart():
                yield Graph(block)
                yield Spacer(0, 6)
            case model.Pair():
                yield from self._pair(block)

    def _pair(self, pair: model.Pair) -> Iterator[Flowable]:
        gap = 8.0 * MM
        left = (self.wide - gap) * pair.share
        right = self.wide - gap - left
        sides = (
            [f for b in pair.left for f in self.block(b, left)],
            [f for b in pair.right for f in self.block(b, right)],
        )
        beside = Table([[sides[0], "", sides[1]]], colWidths=[left, gap, right])
        beside.setStyle(TableStyle(_BARE))
        if beside.wrap(self.wide, 1e6)[1] <= self.high:
            yield beside
            yield Spacer(0, 6)
            return
        for b in (*pair.left, *pair.right):  # too tall to stand side by side: one after the other, broken where need be
            yield from self.block(b)

    def _table(self, table: model.Table, room: float) -> Iterator[Flowable]:
        total = sum(c.share for c in table.columns)
        widths = [room * c.share / total for c in table.columns]
        columns = table.columns
        style: list[Any] = [
            ("BACKGROUND", (0, 0), (-1, 0), GROUND),
            ("FONT", (0, 0), (-1, 0), STRONG, 7.4),
            ("TEXTCOLOR", (0, 0), (-1, 0), INK),
            ("VALIGN", (0, 0), (-1, 0), "MIDDLE"),
            ("VALIGN", (0, 1), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), PAD),
            ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
            ("TOPPADDING", (0, 0), (-1, -1), 2.6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3.4),
            ("LINEBELOW", (0, 1), (-1, -1), 0.45, RULE),
        ]
        for k, column in enumerate(columns):
            base = CELL[column.tone]
            style.append(("FONT", (k, 1), (k, -1), base.fontName, base.fontSize, base.leading))
            style.append(("TEXTCOLOR", (k, 1), (k, -1), base.textColor))
            if column.align == "right":
                style.append(("ALIGN", (k, 0), (k, -1), "RIGHT"))
        head = [self._head(c, w) for c, w in zip(columns, widths)]
        rows: list[list[Any]] = [head]
        lines = [line for row in table.rows for line in self._pieces(row, columns, widths)]
        last = len(lines)
        for row in lines:
            at = len(rows)
            if len(row) == 1 and len(columns) > 1:
                rows.append([say(str(row[0]), CELL_GROUP), *[""] * (len(columns) - 1)])
                style += [
                    ("SPAN", (0, at), (-1, at)),
                    ("TOPPADDING", (0, at), (-1, at), 7.0),
                    ("LINEBELOW", (0, at), (-1, at), 0.7, INK3),
                    ("NOSPLIT", (0, at), (0, min(at + 1, last))),
                ]
                continue
            rows.append([self._cell(v, c, w) for v, c, w in zip(row, columns, widths)])
        if len(rows) == 1:
            yield say("None.", TONES["quiet"])
            return
        set_ = Table(rows, colWidths=widths, repeatRows=1)
        set_.setStyle(TableStyle(style))
        yield set_
        if table.note:
            yield Spacer(0, 3)
            yield say(table.note, TONES["quiet"])
        yield Spacer(0, 7)

    def _pieces(
        self, row: tuple[model.Cell, ...], columns: tuple[model.Column, ...], widths: list[float]
    ) -> Iterator[tuple[model.Cell, ...]]:
        """A row, or several where somebody wrote so much into a cell that no page would hold it."""
        texts = [words.cell(v, c) if isinstance(v, str) else "" for v, c in zip(row, columns)]
        most = [max(200, int((w - 2 * PAD) / 4.4) * 14) for w in widths]
        if len(row) < len(columns) or all(len(t) <= m for t, m in zip(texts, most)):
            yield row
            return
        count = max(-(-len(t) // m) for t, m in zip(texts, most))
        for k in range(count):
            yield tuple(
                t[k * m : (k + 1) * m] if isinstance(v, str) else v if k == 0 else ""
                for v, t, m in zip(row, texts, most)
            )

    def _head(self, column: model.Column, wide: float) -> Any:
        text = column.title + (f", {words.sign(column.unit)}" if column.unit else "")
        if width(text, STRONG, 7.4) <= wide - 2 * PAD:
            return text
        return say(text, HEAD_RIGHT if column.align == "right" else HEAD)

    def _cell(self, value: model.Cell, column: model.Column, wide: float) -> Any:
        if isinstance(value, model.Mark):
            return self._worded(value, wide) if column.worded else Shape(value, 1.9)
        text = known(words.cell(value, column), CELL[column.tone].fontName)
        base = CELL[column.tone]
        if "\n" not in text and width(text, base.fontName, base.fontSize) <= wide - 2 * PAD:
            return text
        return say(text, CELL_RIGHT[column.tone] if column.align == "right" else base)

    def _worded(self, mark: model.Mark, wide: float) -> Any:
        pair = Table(
            [[Shape(mark, 1.9), say(mark.severity, CELL[""])]], colWidths=[6.0 * MM, wide - 2 * PAD - 6.0 * MM]
        )
        pair.setStyle(TableStyle(_BARE))
        return pair

    def _card(self, card: model.Card) -> Iterator[Flowable]:
        shown = card.picture is not None
        left = card.picture.size_mm[0] * MM if card.picture is not None else 0.0
        gap = 6.0 * MM if shown else 0.0
        beside = self._card_words(card, self.wide - left - gap)
        spot = Spot(self.book, card.key, f"{card.mark.number}. {card.title}", 1)
        if card.picture is not None:
            pictured = Table(
                [[Drawn(self.book, card.picture), "", beside]], colWidths=[left, gap, self.wide - left - gap]
            )
            pictured.setStyle(TableStyle(_BARE))
            if pictured.wrap(self.wide, 1e6)[1] <= self.high - 20.0:
                yield KeepTogether([spot, pictured, Spacer(0, 10)])
                return
            yield KeepTogether([spot, Drawn(self.book, card.picture)])
            yield Spacer(0, 4)
            beside = self._card_words(card, self.wide)
        else:
            yield spot
        yield from beside
        yield Spacer(0, 10)

    def _card_words(self, card: model.Card, room: float) -> list[Flowable]:
        out: list[Flowable] = []
        mark = 8.0 * MM
        head = Table([[Shape(card.mark, 2.9), say(card.title, TITLE)]], colWidths=[mark, room - mark])
        head.setStyle(
            TableStyle([*_BARE, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("BOTTOMPADDING", (0, 0), (-1, -1), 3)])
        )
        out.append(head)
        names = 17.0 * MM
        facts = Table(
            [["", say(name, NAME), say(value, VALUE)] for name, value in card.facts],
            colWidths=[mark, names, room - mark - names],
            splitInRow=1,
        )
        facts.setStyle(TableStyle([*_BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2)]))
        out.append(facts)
        for strip in card.strips:
            out.append(Spacer(0, 4))
            label = max(width(strip.label, STRONG, 8.0) + 10.0, 20.0 * MM)
            line = Table(
                [["", say(strip.label, LABEL), say(strip.words, REASON)]],
                colWidths=[mark, label, room - mark - label],
                splitInRow=1,
            )
            style = [*_BARE, ("BACKGROUND", (1, 0), (-1, 0), GROUND), ("TOPPADDING", (0, 0), (-1, -1), 4),
                     ("BOTTOMPADDING", (0, 0), (-1, -1), 5), ("LEFTPADDING", (1, 0), (-1, -1), 6)]  # fmt: skip
            if strip.stale:
                style.append(("BOX", (1, 0), (-1, 0), 0.8, DANGER, None, (3, 2)))
            line.setStyle(TableStyle(style))
            out.append(line)
        return out

    def _facts(self, facts: model.Facts, room: float) -> Flowable:
        names = min(30.0 * MM, room * 0.34)
        table = Table(
            [[say(name, TONES["quiet"]), say(value, BODY)] for name, value in facts.pairs],
            colWidths=[names, room - names],
            rowHeights=[20.0] * len(facts.pairs) if facts.lines else None,
        )
        style = [*_BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 3), ("LEFTPADDING", (1, 0), (1, -1), 4)]
        if facts.lines:
            style += [("LINEBELOW", (1, 0), (1, -1), 0.6, INK3), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")]
        table.setStyle(TableStyle(style))
        return table

    def _ticks(self, ticks: model.Ticks, room: float) -> Flowable:
        half = -(-len(ticks.lines) // 2)
        left, right = ticks.lines[:half], (*ticks.lines[half:], *[""] * (2 * half - len(ticks.lines)))
        wide = room / 2 - 6.0 * MM
        table = Table(
            [[Tick(), say(a, BODY), Tick() if b else "", say(b, BODY)] for a, b in zip(left, right)],
            colWidths=[6.0 * MM, wide, 6.0 * MM, wide],
        )
        table.setStyle(
            TableStyle([*_BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 6), ("RIGHTPADDING", (1, 0), (1, -1), 8),
                        ("TOPPADDING", (0, 0), (0, -1), 1.5), ("TOPPADDING", (2, 0), (2, -1), 1.5)])
        )  # fmt: skip
        return table

    def _caution(self, caution: model.Caution, room: float) -> Flowable:
        cell = [say(caution.title, CARE), Spacer(0, 2), *[say(line, CARE_LINE) for line in caution.lines]]
        table = Table([["", cell]], colWidths=[7.0, room - 7.0])
        table.setStyle(
            TableStyle([("BOX", (0, 0), (-1, -1), 0.9, INK), ("BACKGROUND", (0, 0), (0, -1), INK),
                        ("LEFTPADDING", (1, 0), (1, -1), 9), ("TOPPADDING", (0, 0), (-1, -1), 6),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 8)])
        )  # fmt: skip
        return table


_BARE: list[Any] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]
CELL_GROUP = _style("group", 8.4, STRONG)
HEAD = _style("head", 7.4, STRONG)
HEAD_RIGHT = _style("head-right", 7.4, STRONG, alignment=TA_RIGHT)
