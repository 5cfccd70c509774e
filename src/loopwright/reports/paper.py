"""Writes a report as PDF: turns its blocks into pieces for pages; words stay words and lines stay lines.

Owns the setting of each block. Refuses to know sheets and rules. The library that makes PDF is loaded here and in the
modules this one loads, nowhere else.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any

from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    KeepTogether,
    NextPageTemplate,
    PageBreak,
    Table,
    TableStyle,
)

from loopwright.reports import model, words
from loopwright.reports.flow import (
    DANGER,
    GROUND,
    INK,
    INK3,
    MM,
    RULE,
    Book,
    Contents,
    Counts,
    Drawn,
    Finish,
    Gap,
    Graph,
    Head,
    Shape,
    Spot,
    Tick,
    WholePage,
)
from loopwright.reports.folio import FOOT_MM, LATER_MM, Folio
from loopwright.reports.fonts import STRONG, known, load, width
from loopwright.reports.pictures import MARGIN_MM, PAGE_MM
from loopwright.reports.stop import Cancel, ask
from loopwright.reports.styles import (
    BARE,
    BODY,
    CARE,
    CARE_LINE,
    CELL,
    CELL_RIGHT,
    GROUP,
    HEAD,
    HEAD_RIGHT,
    LABEL,
    NAME,
    PAD,
    REASON,
    TITLE,
    TONES,
    VALUE,
    say,
)

MOST_TOGETHER = 8
"""Rows about one thing that are not parted by the end of a page."""


def write(
    report: model.Report, progress: Callable[[str], None] | None = None, cancel: Cancel | None = None
) -> tuple[bytes, int]:
    """The report as the bytes of a PDF, and its pages. Raises ReportError, and Cancelled when `cancel` says so."""
    load()
    stopped: list[BaseException] = []

    def tick(number: int = 0) -> None:
        """The library makes a new exception of any that passes through it, so the first one is kept."""
        try:
            ask(cancel)
            if number and progress is not None:
                progress(f"page {number}")
        except BaseException as bad:
            stopped.append(bad)
            raise

    revision = report.subtitle.partition("revision ")[2]
    book = Book(known(report.title), known(revision), tick)
    file = io.BytesIO()
    document = Folio(file, report, book, tick)
    size = PAGE_MM[report.paper]
    setter = _Setter(report, book, (size[0] - 2 * MARGIN_MM) * MM, (size[1] - FOOT_MM - 6.0 - LATER_MM) * MM - 8.0)
    story = list(setter.story())
    try:
        document.build(story)
    except BaseException:
        if stopped:
            raise stopped[0] from None
        raise
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
                yield Gap(6)
                listed = Contents(self.book, [(s.key, s.title) for s in self.report.sections])
                yield KeepTogether([Head(self.book, "Contents", "", "", 1), listed])
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
        yield Gap(8)

    def _least(self, group: list[Flowable]) -> float:
        """Room that the beginning of a block wants under its heading."""
        for piece in group:
            if isinstance(piece, Table) and piece._nrows > 2 and getattr(piece, "repeatRows", 0):
                heights = piece.wrap(self.wide, 1e6) and piece._rowHeights
                return float(sum(heights[:4]))
            if isinstance(piece, KeepTogether):  # it measures itself on a page alone
                return float(min(sum(f.wrap(self.wide, 1e6)[1] for f in piece._content), self.high))
            if not isinstance(piece, Gap | Spot):
                return float(min(piece.wrap(self.wide, 1e6)[1], self.high))
        return 0.0

    # ---- blocks

    def block(self, block: model.Block, wide: float | None = None) -> Iterator[Flowable]:
        """The pieces of one block in a column of that width."""
        room = wide or self.wide
        match block:
            case model.Words():
                yield say(block.text, TONES[block.tone])
                yield Gap(3)
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
                yield Gap(6)
            case model.Facts():
                yield self._facts(block, room)
            case model.Ticks():
                yield self._ticks(block, room)
            case model.Caution():
                yield self._caution(block, room)
                yield Gap(8)
            case model.Chart():
                yield Graph(block)
                yield Gap(6)
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
        beside.setStyle(TableStyle(BARE))
        if beside.wrap(self.wide, 1e6)[1] <= self.high:
            yield beside
            yield Gap(6)
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
        lines = [(k, line) for row in table.rows for k, line in enumerate(self._pieces(row, columns, widths))]
        last, first = len(lines), 1
        for piece, row in lines:
            at = len(rows)
            if len(row) == 1 and len(columns) > 1:
                rows.append([say(str(row[0]), GROUP), *[""] * (len(columns) - 1)])
                style += [
                    ("SPAN", (0, at), (-1, at)),
                    ("TOPPADDING", (0, at), (-1, at), 7.0),
                    ("LINEBELOW", (0, at), (-1, at), 0.7, INK3),
                    ("NOSPLIT", (0, at), (0, min(at + 1, last))),
                ]
                continue
            rows.append([self._cell(v, c, w) for v, c, w in zip(row, columns, widths)])
            if row[0] == "" and not piece and at - first <= MOST_TOGETHER:  # it goes on from the row above
                style.append(("NOSPLIT", (0, first), (0, at)))
            elif row[0] != "":
                first = at
        if len(rows) == 1:
            yield say("None.", TONES["quiet"])
            return
        if last > 2:  # no row alone at the end of a page, nor on the next one
            style += [("NOSPLIT", (0, 1), (0, 2)), ("NOSPLIT", (0, last - 1), (0, last))]
        set_ = Table(rows, colWidths=widths, repeatRows=1)
        set_.setStyle(TableStyle(style))
        yield set_
        if table.note:
            yield Gap(3)
            yield say(table.note, TONES["quiet"])
        yield Gap(7)

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
        pair.setStyle(TableStyle(BARE))
        return pair

    def _card(self, card: model.Card) -> Iterator[Flowable]:
        shown = card.picture is not None
        left = card.picture.size_mm[0] * MM if card.picture is not None and not card.stacked else 0.0
        gap = 6.0 * MM if shown and not card.stacked else 0.0
        beside = self._card_words(card, self.wide - left - gap)
        spot = Spot(self.book, card.key, f"{card.mark.number}. {card.title}", 1)
        if card.picture is not None and card.stacked:
            stack = [spot, Drawn(self.book, card.picture), Gap(5), *beside, Gap(12)]
            if sum(f.wrap(self.wide, 1e6)[1] for f in stack) <= self.high - 20.0:
                yield KeepTogether(stack)
            else:
                yield KeepTogether(stack[:4])
                yield from stack[4:]
            return
        if card.picture is not None:
            pictured = Table(
                [[Drawn(self.book, card.picture), "", beside]], colWidths=[left, gap, self.wide - left - gap]
            )
            pictured.setStyle(TableStyle(BARE))
            if pictured.wrap(self.wide, 1e6)[1] <= self.high - 20.0:
                yield KeepTogether([spot, pictured, Gap(10)])
                return
            yield KeepTogether([spot, Drawn(self.book, card.picture)])
            yield Gap(4)
            beside = self._card_words(card, self.wide)
        else:
            yield spot
        yield from beside
        yield Gap(10)

    def _card_words(self, card: model.Card, room: float) -> list[Flowable]:
        out: list[Flowable] = []
        mark = 8.0 * MM
        head = Table([[Shape(card.mark, 2.9), say(card.title, TITLE)]], colWidths=[mark, room - mark])
        head.setStyle(
            TableStyle([*BARE, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("BOTTOMPADDING", (0, 0), (-1, -1), 3)])
        )
        out.append(head)
        names = 17.0 * MM
        facts = Table(
            [["", say(name, NAME), say(value, VALUE)] for name, value in card.facts],
            colWidths=[mark, names, room - mark - names],
            splitInRow=1,
        )
        facts.setStyle(TableStyle([*BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2)]))
        out.append(facts)
        for strip in card.strips:
            out.append(Gap(4))
            label = max(width(strip.label, STRONG, 8.0) + 10.0, 20.0 * MM)
            line = Table(
                [["", say(strip.label, LABEL), say(strip.words, REASON)]],
                colWidths=[mark, label, room - mark - label],
                splitInRow=1,
            )
            style = [*BARE, ("BACKGROUND", (1, 0), (-1, 0), GROUND), ("TOPPADDING", (0, 0), (-1, -1), 4),
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
        style = [*BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 3), ("LEFTPADDING", (1, 0), (1, -1), 4)]
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
            TableStyle([*BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 6), ("RIGHTPADDING", (1, 0), (1, -1), 8),
                        ("TOPPADDING", (0, 0), (0, -1), 1.5), ("TOPPADDING", (2, 0), (2, -1), 1.5)])
        )  # fmt: skip
        return table

    def _caution(self, caution: model.Caution, room: float) -> Flowable:
        cell = [say(caution.title, CARE), Gap(2), *[say(line, CARE_LINE) for line in caution.lines]]
        table = Table([["", cell]], colWidths=[7.0, room - 7.0])
        table.setStyle(
            TableStyle([("BOX", (0, 0), (-1, -1), 0.9, INK), ("BACKGROUND", (0, 0), (0, -1), INK),
                        ("LEFTPADDING", (1, 0), (1, -1), 9), ("TOPPADDING", (0, 0), (-1, -1), 6),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 8)])
        )  # fmt: skip
        return table
