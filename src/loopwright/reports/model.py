"""What a report says, as frozen values: sections of blocks, of which tables, cards and pictures are the chief.

Owns the shapes. Refuses to know sheets, rules and writers: `build` fills these, `page` and `paper` write them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import msgspec

from loopwright.drawing.labels import Labels
from loopwright.drawing.plans import SheetPlan

Box = tuple[float, float, float, float]
"""(left, top, right, bottom) in drawing units."""
Paper = Literal["A4", "A3"]


class Mark(msgspec.Struct, frozen=True):
    """A severity as shape, number and word. `open` draws the outline alone: accepted, or not assessed."""

    severity: str
    number: str = ""
    open: bool = False


Cell = str | int | float | None | Mark


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """A column of a table. `share` of the width; `places` after the point of a number, None for four figures."""

    key: str
    title: str
    share: float = 1.0
    unit: str = ""
    places: int | None = None
    align: Literal["left", "right"] = "left"
    tone: Literal["", "strong", "quiet"] = ""
    worded: bool = False
    """Marks stand with their word."""


class Data(msgspec.Struct, frozen=True):
    """A table for other programs: keys with units in them, and plain values. `name` is the file's."""

    name: str
    keys: tuple[str, ...]
    rows: tuple[tuple[str | int | float | bool | None, ...], ...]


class Words(msgspec.Struct, frozen=True):
    """A paragraph."""

    text: str
    tone: Literal["body", "quiet", "strong"] = "body"


class Heading(msgspec.Struct, frozen=True):
    """A heading within a section, with an aside at its right. `key` makes it a bookmark."""

    title: str
    aside: str = ""
    key: str = ""


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """A table with a head that is repeated on each page. A row of one cell is a heading across the table."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""


class Strip(msgspec.Struct, frozen=True):
    """What was decided about a finding: the word, the reason and by whom. `stale`: it changed since."""

    label: str
    words: str
    stale: bool = False


class Picture(msgspec.Struct, frozen=True, kw_only=True):
    """A piece of a drawing at 1 : `scale`, `box` of it in drawing units; `lit` ids stand on a halo, the rest paler."""

    plan: SheetPlan
    box: Box
    scale: float
    labels: Labels
    caption: str = ""
    lit: frozenset[str] = frozenset()
    severity: str = ""
    settled: frozenset[int] = frozenset()
    """Numbers of the flags drawn as outlines: accepted with a reason, or not applicable."""
    ruler: bool = False
    """A scale of heights at the left edge, from the base of the one store in the picture."""
    under: SheetPlan | None = None
    """An older revision, drawn pale and broken beneath."""

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height on paper."""
        return (self.box[2] - self.box[0]) * 10.0 / self.scale, (self.box[3] - self.box[1]) * 10.0 / self.scale


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """A finding: its mark, one sentence, the facts beside their names, what was decided, and where it is."""

    key: str
    mark: Mark
    title: str
    facts: tuple[tuple[str, str], ...]
    strips: tuple[Strip, ...] = ()
    picture: Picture | None = None

    @property
    def stacked(self) -> bool:
        """Whether the picture is too wide for words to stand beside it."""
        return self.picture is not None and self.picture.size_mm[0] > 100.0


class Count(msgspec.Struct, frozen=True):
    """One entry of the tally at the head: a mark or nothing, a word and what it means."""

    big: str
    small: str
    mark: Mark | None = None
    tone: Literal["", "danger", "end"] = ""


class Tally(msgspec.Struct, frozen=True):
    """The counts in one row."""

    counts: tuple[Count, ...]


class Facts(msgspec.Struct, frozen=True):
    """Names with their values in rows; an empty value leaves a line to write on."""

    pairs: tuple[tuple[str, str], ...]
    lines: bool = False


class Ticks(msgspec.Struct, frozen=True):
    """Things to tick off on site."""

    lines: tuple[str, ...]


class Caution(msgspec.Struct, frozen=True):
    """The box that nobody may miss."""

    title: str
    lines: tuple[str, ...]


class Line(msgspec.Struct, frozen=True):
    """One line of a chart: its name and points in the chart's units."""

    name: str
    points: tuple[tuple[float, float], ...]


class Chart(msgspec.Struct, frozen=True, kw_only=True):
    """Lines over one axis, told apart by dash and label."""

    title: str
    across: str
    up: str
    lines: tuple[Line, ...]


class Plate(msgspec.Struct, frozen=True, kw_only=True):
    """The whole drawing at 1 : `scale`. `tiles` are the pieces that fill a page each, row by row; they overlap."""

    picture: Picture
    tiles: tuple[Box, ...]
    across: int
    """Tiles in a row."""
    upright: bool = False
    """Pages stand upright instead of lying."""


class Pair(msgspec.Struct, frozen=True):
    """Two columns of blocks side by side; `share` is the width of the left one."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    share: float = 0.5


Block = Words | Heading | Table | Picture | Card | Tally | Facts | Ticks | Caution | Chart | Plate | Pair


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """A part of the report under one heading, which is a bookmark."""

    key: str
    title: str
    aside: str = ""
    blocks: tuple[Block, ...] = ()
    fresh: bool = False
    """Begins a new page."""


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """The whole report of one sheet."""

    title: str
    subtitle: str
    date: str
    version: str
    fingerprint: str
    """Of the drawing, in groups of four."""
    verdict: str
    worst: str
    """Severity word of the gravest finding, or nothing."""
    counts: Mapping[str, int]
    paper: Paper
    sections: tuple[Section, ...]
    tables: tuple[Data, ...]
