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
from loopwright.canvas.layers import MANY, Layer, around, meets
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
    """Something written: compiled when it is first exposed at a look."""

    __slots__ = ("look", "owner", "part", "plot", "rect", "what")

    def __init__(self, what: Any, owner: str = "") -> None:
        self.what, self.owner, self.part = what, owner, owner.partition("/")[0]
        self.plot: QtPlotter | None = None
        self.look: Look | None = None
        self.rect = QRectF()


class LabelLayer(Layer):
    """All words of the sheet."""

    def __init__(self) -> None:
        super().__init__(Z_LABEL)
        self.idle: frozenset[str] = frozenset()
        self._pieces: list[_Piece] = []
        self._more: list[_Piece] = []
        self.adrift = AT_REST
        """Where words are while a drag is under way."""

    def show_labels(self, labels: Labels, idle: frozenset[str] = frozenset()) -> None:
        """Show these words; what belongs to an id in `idle` is faint. Any preview is over."""
        if self.adrift is not AT_REST:
            self.show_preview(AT_REST)
        look = self.look
        known = {} if idle != self.idle else {id(piece.what): piece for piece in self._pieces}
        if idle != self.idle:
            self.idle = idle
            self.update()
        pieces = []
        for label in labels.words:
            piece = known.pop(id(label), None)
            if piece is None:
                piece = _Piece(label, label.owner)
                self.update(self._rect(piece, look))
            pieces.append(piece)
        for piece in known.values():
            self.update(self._rect(piece, look))
        self._pieces = pieces

    def show_preview(self, adrift: Adrift) -> None:
        """Show the words of the sheet while some of what they belong to is being dragged."""
        before, self.adrift, look = self.adrift, adrift, self.look
        if len(adrift.drift) > MANY:
            self._more = [_Piece(label, label.owner) for label in adrift.more]
            self.update()
            return
        dirty = QRectF()
        for piece in self._pieces:
            old, new = before.of(piece.owner, piece.part), adrift.of(piece.owner, piece.part)
            if old != new:
                for way in (old, new):
                    if way is not None:
                        dirty |= self._rect(piece, look).translated(*way)
        more, self._more = self._more, [_Piece(label, label.owner) for label in adrift.more]
        for piece in (*more, *self._more):
            dirty |= self._rect(piece, look)
        if not dirty.isEmpty():
            self.update(dirty)

    @staticmethod
    def _rect(piece: _Piece, look: Look) -> QRectF:
        if piece.look is not look:
            label, px = piece.what, look.px
            w, h = (label.size[0] + WORD_ROOM_PX) * px, (label.size[1] + WORD_ROOM_PX) * px
            rect = QRectF(label.at[0] - w / 2, label.at[1] - h / 2, w, h)
            if label.leader:
                rect |= around(label.leader, px)
            piece.look, piece.rect, piece.plot = look, rect, None
        return piece.rect

    def _plot(self, piece: _Piece, look: Look) -> QtPlotter:
        if piece.plot is None:
            piece.plot = QtPlotter(look)
            draw_label(piece.plot, look, piece.what, piece.part in self.idle)
        return piece.plot

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, seen, adrift = self.look, self.exposed(option), self.adrift
        moving = adrift is not AT_REST
        for piece in self._pieces:
            rect, way = self._rect(piece, look), STILL
            if moving:
                gone = adrift.of(piece.owner, piece.part)
                if gone is None:
                    continue
                if gone is not STILL:
                    rect, way = rect.translated(*gone), gone
            if not meets(rect, seen):
                continue
            painter.translate(*way)
            self._plot(piece, look).paint(painter)
            painter.translate(-way[0], -way[1])
        for piece in self._more:
            self._rect(piece, look)
            self._plot(piece, look).paint(painter)


class FlagLayer(Layer):
    """The flags of the findings."""

    def __init__(self) -> None:
        super().__init__(Z_FLAG)
        self._pieces: list[_Piece] = []

    def show_flags(self, places: Sequence[FlagPlace]) -> None:
        """Show these flags."""
        known, look = {id(piece.what): piece for piece in self._pieces}, self.look
        pieces = []
        for place in places:
            piece = known.pop(id(place), None)
            if piece is None:
                piece = _Piece(place)
                self.update(self._rect(piece, look))
            pieces.append(piece)
        for piece in known.values():
            self.update(self._rect(piece, look))
        self._pieces = pieces

    @staticmethod
    def _rect(piece: _Piece, look: Look) -> QRectF:
        if piece.look is not look:
            room = (FLAG_HALF_PX + FLAG_ROOM_PX) * look.px
            piece.look, piece.plot = look, None
            piece.rect = around((piece.what.spot, piece.what.at), room)
        return piece.rect

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        look, seen = self.look, self.exposed(option)
        for piece in self._pieces:
            if not meets(self._rect(piece, look), seen):
                continue
            if piece.plot is None:
                piece.plot = QtPlotter(look)
                draw_flag(piece.plot, look, piece.what, piece.what.flag.severity == "accepted")
            piece.plot.paint(painter)
