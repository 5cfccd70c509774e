"""The board on which words are placed: what stands on the sheet in nominal pixels, and the first free place.

Owns the hash grids and the records of placed words. Refuses to know which words there are and where they would like to
stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import cos, hypot, pi, sin

import msgspec

from loopwright.drawing.grid import Box, Grid, Holder, Turn
from loopwright.drawing.look import HOP_MM, PX_A_MM, Look, Point
from loopwright.drawing.plan import DimensionPlan, Flag, LinkPlan, PartPlan, PipePlan, StorePlan

RING_PX, RINGS = 14.0, 16
"""How far apart the rings are on which a crowded-out label looks for room, and how many there are."""


Drawn = PartPlan | StorePlan | PipePlan | LinkPlan | DimensionPlan
"""What covers room on the board."""


class Label(msgspec.Struct, frozen=True):
    """Words at a place. `at` is the middle of its box in drawing units; `size` is the box in nominal
    pixels."""

    owner: str
    kind: str
    at: Point
    size: Point
    lines: tuple[str, ...]
    turn: int = 0
    token: str = "ink"
    leader: tuple[Point, ...] = ()
    anchor: str = "middle"


class FlagPlace(msgspec.Struct, frozen=True):
    """A flag: its spot and the middle of its shape, in drawing units."""

    flag: Flag
    spot: Point
    at: Point


class Labels(msgspec.Struct, frozen=True):
    """Everything written on a sheet at one look."""

    words: tuple[Label, ...] = ()
    flags: tuple[FlagPlace, ...] = ()


class Board:
    """What stands on the sheet in nominal pixels: `solid` (parts, arrows, hops, labels) and `pipes`."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.scale = look.px_a_unit
        self._drawn = Holder(-1)
        """What is drawn, which everybody sees."""
        self.turn = Turn(Holder(0))
        self.solid = Grid(self.turn)
        self.pipes = Grid(self.turn)
        self.written = Grid(self.turn)
        """Labels and flags alone: nothing may ever cover these."""

    def box(self, units: Box) -> Box:
        s = self.scale
        return units[0] * s, units[1] * s, units[2] * s, units[3] * s

    def px(self, at: Point) -> Point:
        return at[0] * self.scale, at[1] * self.scale

    def units(self, at: Point) -> Point:
        return at[0] / self.scale, at[1] / self.scale

    def take(self, box: Box) -> None:
        """Take a place for whoever has the turn."""
        holder = self.turn.holder
        holder.taken.append(box)
        self.solid.add(box, holder)
        self.written.add(box, holder)

    def give_up(self, holder: Holder) -> None:
        """Take all that somebody holds off the board again."""
        for box in holder.taken:
            self.solid.remove(box, holder)
            self.written.remove(box, holder)
        holder.taken = []

    def put(self, thing: Drawn) -> list[Box]:
        """Put what a thing covers on the board; gives its boxes."""
        solid, lines = footprint(self, thing)
        for box in solid:
            self.solid.add(box, self._drawn)
        for box in lines:
            self.pipes.add(box, self._drawn)
        return solid + lines

    def lift(self, thing: Drawn) -> list[Box]:
        """Take a thing off again that was put on the board; gives its boxes."""
        solid, lines = footprint(self, thing)
        for box in solid:
            self.solid.remove(box, self._drawn)
        for box in lines:
            self.pipes.remove(box, self._drawn)
        return solid + lines


def footprint(board: Board, thing: Drawn) -> tuple[list[Box], list[Box]]:
    """What a thing covers: solid boxes, and boxes round its lines."""
    if isinstance(thing, PipePlan):
        return _footprint_of_pipe(board, thing)
    solid: list[Box] = []
    lines: list[Box] = []
    if isinstance(thing, LinkPlan):
        lines = [line_box(board.px(a), board.px(b), 1.5) for a, b in pairwise(thing.points)]
    elif isinstance(thing, DimensionPlan):
        start, end = thing.line
        for a, b in ((start, end), (thing.a, start), (thing.b, end)):
            lines.append(line_box(board.px(a), board.px(b), 1.5))
    else:
        solid.append(board.box(thing.box))
        if isinstance(thing, StorePlan):
            lines = [line_box(board.px(tap.shell), board.px(tap.ends), 2.0) for tap in thing.tappings]
    return solid, lines


def _footprint_of_pipe(board: Board, pipe: PipePlan) -> tuple[list[Box], list[Box]]:
    solid: list[Box] = []
    lines: list[Box] = []
    reach = HOP_MM * PX_A_MM
    for a, b in pairwise(pipe.points):
        pieces = max(1, int(hypot(b[0] - a[0], b[1] - a[1]) / 40)) if a[0] != b[0] and a[1] != b[1] else 1
        for k in range(pieces):
            one = (a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces)
            two = (a[0] + (b[0] - a[0]) * (k + 1) / pieces, a[1] + (b[1] - a[1]) * (k + 1) / pieces)
            lines.append(line_box(board.px(one), board.px(two), 2.0))
    for hop in pipe.hops:
        x, y = board.px(hop.point)
        solid.append((x - reach, y - reach, x + reach + 2, y + reach))
    for arrow in pipe.arrows:
        x, y = board.px(arrow.at)
        solid.append((x - 7, y - 7, x + 7, y + 7))
    return solid, lines


def line_box(a: Point, b: Point, half: float) -> Box:
    return min(a[0], b[0]) - half, min(a[1], b[1]) - half, max(a[0], b[0]) + half, max(a[1], b[1]) + half


def around(x: float, y: float, w: float, h: float) -> Box:
    return x - w / 2, y - h / 2, x + w / 2, y + h / 2


def first_free(
    board: Board,
    places: Sequence[tuple[float, float, str]],
    w: float,
    h: float,
    lines: tuple[str, ...],
    owner: str,
    kind: str,
) -> Label:
    """A label that always lands: clear of all; else over pipes; else over parts; else further and further
    up."""
    tries: list[tuple[float, float, str]] = list(places)
    further = [(x, y + d, "middle") for d in (-18, 18, -36, 36, -54, 54) for x, y, _ in places[:2]]
    grids = ((board.solid, board.pipes), (board.solid,), (board.written,))
    for options, minded in (
        (tries, grids[0]),
        (further, grids[0]),
        (tries, grids[1]),
        (further, grids[1]),
        (_rings(places[0], w, h), grids[1]),
        (tries, grids[2]),
        (further, grids[2]),
    ):
        for x, y, anchor in options:
            box = around(x, y, w, h)
            if all(grid.free(box) for grid in minded):
                board.take(box)
                return Label(owner, kind, board.units((x, y)), (w, h), lines, anchor=anchor)
    x, y, _ = places[0]
    for k in range(200):
        box = around(x, y - 14 * k, w, h)
        if board.written.free(box):
            break
    board.take(box)
    return Label(owner, kind, board.units((x, (box[1] + box[3]) / 2)), (w, h), lines)


def _rings(place: tuple[float, float, str], w: float, h: float) -> list[tuple[float, float, str]]:
    """Places round a first one, farther and farther out, for a label that then gets a leader."""
    x, y, _ = place
    return [
        (x + (w / 2 + RING_PX * ring) * cos(k * pi / 8), y + (h + RING_PX * ring) * sin(k * pi / 8), "middle")
        for ring in range(1, RINGS)
        for k in range(16)
    ]


def clear(
    board: Board,
    places: Sequence[tuple[float, float, str]],
    w: float,
    h: float,
    lines: tuple[str, ...],
    owner: str,
    kind: str,
) -> Label | None:
    """A label at the first of its own places that is clear of all, else on a pipe there, or none."""
    for minded in ((board.solid, board.pipes), (board.solid,)):
        for x, y, anchor in places:
            box = around(x, y, w, h)
            if all(grid.free(box) for grid in minded):
                board.take(box)
                return Label(owner, kind, board.units((x, y)), (w, h), lines, anchor=anchor)
    return None
