"""The layers of what is written: all words of the sheet, and the flags of its findings.

Owns how they are kept compiled, moved along in a drag, and painted where they are exposed. Refuses to place them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import msgspec
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from loopwright.canvas.items import STILL, Z_FLAG, Z_LABEL
from loopwright.canvas.layers import MANY, Layer, around
from loopwright.canvas.painter import QtPlotter
from loopwright.drawing.labels import FLAG_HALF_PX, FlagPlace, Label, Labels
from loopwright.drawing.look import Look, Point
from loopwright.drawing.writing import draw_flag, draw_label

WORD_ROOM_PX, FLAG_ROOM_PX = 8.0, 8.0
"""Room that ink takes round the box of a word (its plate) and round the shape of a flag (its rim), nominal pixels."""


class Adrift(NamedTuple):
    """Words while a drag is under way: how far those of some owners go, whose are left out, and what stands instead."""

    drift: Mapping[str, Point]
    lost: frozenset[str]
    more: tuple[Label, ...]

    def of(self, owner: str, part: str) -> Point | None:
        """How far a label goes, by its owner and the part which that is of; None where it is left out."""
        if self.lost and (part in self.lost or owner in self.lost):
            return None
        return self.drift.get(part, STILL)

    def carried(self, words: Iterable[Label]) -> tuple[Label, ...]:
        """These words as they stand meanwhile."""
        out = []
        for label in words:
            way = self.of(label.owner, label.owner.partition("/")[0])
            if way is not None:
                out.append(label if way == STILL else _moved(label, *way))
        return (*out, *self.more)


AT_REST = Adrift({}, frozenset(), ())


def _moved(label: Label, dx: float, dy: float) -> Label:
    leader = tuple((x + dx, y + dy) for x, y in label.leader)
    return msgspec.structs.replace(label, at=(label.at[0] + dx, label.at[1] + dy), leader=leader)


class _Piece:
    """Something written, by its owner and the part which that is of."""

    __slots__ = ("owner", "part", "plot", "rect", "what")

    def __init__(self, what: Any, owner: str = "") -> None:
        self.what, self.owner, self.part = what, owner, owner.partition("/")[0]
        self.plot: QtPlotter | None = None
        self.rect = QRectF()


class _Written(Layer):
    """A layer of pieces, with their rectangles for one look."""

    def __init__(self, level: int) -> None:
        super().__init__(level)
        self.pieces: list[_Piece] = []
        self._rects_at: Look | None = None

    def rect_of(self, piece: _Piece, look: Look) -> QRectF:
        """Where a piece is painted."""
        raise NotImplementedError

    def draw(self, plot: QtPlotter, look: Look, piece: _Piece) -> None:
        """Draw a piece."""
        raise NotImplementedError

    def exchange(self, new: Iterable[tuple[Any, str]], keep: bool = True) -> None:
        """Other pieces, each with its owner; those that are the same objects stay as they were made."""
        look = self.fitted()
        known = {id(piece.what): piece for piece in self.pieces} if keep else {}
        gone = self.pieces if not keep else known.values()
        self.pieces = []
        for what, owner in new:
            piece = known.pop(id(what), None)
            if piece is None:
                piece = _Piece(what, owner)
                piece.rect = self.rect_of(piece, look)
                self.update(piece.rect)
            self.pieces.append(piece)
        for piece in gone:
            self.update(piece.rect)

    def fitted(self) -> Look:
        """The look, with the rectangles of all pieces fitted to it."""
        look = self.look
        if self._rects_at is not look:
            self._rects_at = look
            for piece in self.pieces:
                piece.rect, piece.plot = self.rect_of(piece, look), None
        return look

    def paint_piece(self, painter: QPainter, look: Look, piece: _Piece) -> None:
        """Paint a piece, compiled when it is first exposed."""
        if piece.plot is None:
            piece.plot = QtPlotter(look)
            self.draw(piece.plot, look, piece)
        piece.plot.paint(painter)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, seen = self.fitted(), self.exposed(option)
        for piece in met(self.pieces, seen):
            self.paint_piece(painter, look, piece)


def met(pieces: Iterable[_Piece], seen: Sequence[QRectF]) -> list[_Piece]:
    """The pieces that meet any of the rectangles exposed."""
    if len(seen) == 1:
        meets = seen[0].intersects
        return [piece for piece in pieces if meets(piece.rect)]
    return [piece for piece in pieces if any(map(piece.rect.intersects, seen))]


class LabelLayer(_Written):
    """All words of the sheet."""

    def __init__(self) -> None:
        super().__init__(Z_LABEL)
        self.idle: frozenset[str] = frozenset()
        self.adrift = AT_REST
        """Where words are while a drag is under way."""
        self._more: list[_Piece] = []

    def show_labels(self, labels: Labels, idle: frozenset[str] = frozenset()) -> None:
        """Show these words; what belongs to an id in `idle` is faint. Any preview is over."""
        if self.adrift is not AT_REST:
            self.show_preview(AT_REST)
        same, self.idle = idle == self.idle, idle
        self.exchange(((label, label.owner) for label in labels.words), same)

    def show_preview(self, adrift: Adrift) -> None:
        """Show the words of the sheet while some of what they belong to is being dragged."""
        look = self.fitted()
        before, self.adrift = self.adrift, adrift
        more, self._more = self._more, [_Piece(label, label.owner) for label in adrift.more]
        for piece in self._more:
            piece.rect = self.rect_of(piece, look)
        if len(adrift.drift) > MANY:
            self.update()
            return
        dirty = QRectF()
        stirred = {*before.drift, *before.lost, *adrift.drift, *adrift.lost}
        for piece in self.pieces:
            if piece.part not in stirred and piece.owner not in stirred:
                continue
            old, new = before.of(piece.owner, piece.part), adrift.of(piece.owner, piece.part)
            if old != new:
                for way in (old, new):
                    if way is not None:
                        dirty |= piece.rect.translated(*way)
        for piece in (*more, *self._more):
            dirty |= piece.rect
        if not dirty.isEmpty():
            self.update(dirty)

    def rect_of(self, piece: _Piece, look: Look) -> QRectF:
        label, px = piece.what, look.px
        w, h = (label.size[0] + WORD_ROOM_PX) * px, (label.size[1] + WORD_ROOM_PX) * px
        rect = QRectF(label.at[0] - w / 2, label.at[1] - h / 2, w, h)
        return rect | around(label.leader, px) if label.leader else rect

    def draw(self, plot: QtPlotter, look: Look, piece: _Piece) -> None:
        draw_label(plot, look, piece.what, piece.part in self.idle)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        if self.adrift is AT_REST:
            super().paint(painter, option, widget)
            return
        look, seen = self.fitted(), self.exposed(option)
        adrift, exposed = self.adrift, dict[Point, list[QRectF]]()
        for piece in self.pieces:
            way = adrift.of(piece.owner, piece.part)
            if way is None:
                continue
            near = exposed.get(way)
            if near is None:  # what is exposed, moved back instead of every word moved on
                near = exposed[way] = [rect.translated(-way[0], -way[1]) for rect in seen]
            if any(map(piece.rect.intersects, near)):
                painter.translate(*way)
                self.paint_piece(painter, look, piece)
                painter.translate(-way[0], -way[1])
        for piece in met(self._more, seen):
            self.paint_piece(painter, look, piece)


class FlagLayer(_Written):
    """The flags of the findings."""

    def __init__(self) -> None:
        super().__init__(Z_FLAG)

    def show_flags(self, places: Sequence[FlagPlace]) -> None:
        """Show these flags."""
        self.exchange((place, "") for place in places)

    def rect_of(self, piece: _Piece, look: Look) -> QRectF:
        return around((piece.what.spot, piece.what.at), (FLAG_HALF_PX + FLAG_ROOM_PX) * look.px)

    def draw(self, plot: QtPlotter, look: Look, piece: _Piece) -> None:
        draw_flag(plot, look, piece.what, piece.what.flag.severity == "accepted")
