"""The board on which words are placed: what stands on the sheet in nominal pixels, and the first free place.

Owns the hash grids and the records of placed words. Refuses to know which words there are and where they would like to
stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, pi, sin

import msgspec

from loopwright.drawing.grid import Box, Grid, Holder, Turn
from loopwright.drawing.look import HOP_MM, PX_A_MM, Look, Point
from loopwright.drawing.plan import DimensionPlan, Flag, LinkPlan, PartPlan, PipePlan, StorePlan

RING_PX, RINGS = 14.0, 16
"""How far apart the rings are on which a crowded-out label looks for room, and how many there are."""
LED_PX = 28.0
"""A name farther than this from its part gets a leader."""
LEADER_PX = 5.0
"""A leader is held against what is drawn in pieces as long as this, each as wide."""


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
        self.bodies = Grid(self.turn)
        """Parts alone."""
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
            if not isinstance(thing, PipePlan):
                self.bodies.add(box, self._drawn)
        for box in lines:
            self.pipes.add(box, self._drawn)
        return solid + lines

    def lift(self, thing: Drawn) -> list[Box]:
        """Take a thing off again that was put on the board; gives its boxes."""
        solid, lines = footprint(self, thing)
        for box in solid:
            self.solid.remove(box, self._drawn)
            if not isinstance(thing, PipePlan):
                self.bodies.remove(box, self._drawn)
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
    thing: Box | None = None,
) -> Label:
    """A label that always lands: clear of all; else over pipes; else over parts; else further and further up. One
    that lands far from its `thing` has a leader to it, which crosses no word and runs along no pipe."""
    further = [(x, y + d, "middle") for d in (-18, 18, -36, 36, -54, 54) for x, y, _ in places[:2]]
    clear, piped = (board.solid, board.pipes), (board.solid,)
    for options, minded, straight in (
        (places, clear, True),
        (further, clear, True),
        (places, piped, True),
        (further, piped, True),
        (None, piped, True),
        (places, (board.written,), False),
        (further, (board.written,), False),
        (None, (board.written,), False),
    ):
        for x, y, anchor in _rings(places[0], w, h) if options is None else options:
            box = around(x, y, w, h)
            if not all(grid.free(box) for grid in minded):
                continue
            leader = leader_of(box, thing)
            if leader and not _leads(board, leader, straight):
                continue
            return _landed(board, box, lines, owner, kind, anchor, leader)
    x, y, _ = places[0]
    for k in range(200):
        box = around(x, y - 14 * k, w, h)
        if board.written.free(box):
            break
    return _landed(board, box, lines, owner, kind, "middle", leader_of(box, thing))


def _landed(
    board: Board, box: Box, lines: tuple[str, ...], owner: str, kind: str, anchor: str, leader: tuple[Point, ...]
) -> Label:
    """The label of a box, with its place and that of its leader taken."""
    board.take(box)
    for piece in leader_boxes(leader):
        board.take(piece)
    at, size = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), (box[2] - box[0], box[3] - box[1])
    ends = tuple(board.units(end) for end in leader)
    return Label(owner, kind, board.units(at), size, lines, anchor=anchor, leader=ends)


def leader_of(box: Box, thing: Box | None) -> tuple[Point, ...]:
    """From a label to its thing, where it lies so far off that it might be taken for another's."""
    if thing is None:
        return ()
    across = max(thing[0] - box[2], box[0] - thing[2], 0.0)
    down = max(thing[1] - box[3], box[1] - thing[3], 0.0)
    if hypot(across, down) <= LED_PX:
        return ()
    start = (_within((thing[0] + thing[2]) / 2, box[0], box[2]), _within((thing[1] + thing[3]) / 2, box[1], box[3]))
    return start, (_within(start[0], thing[0], thing[2]), _within(start[1], thing[1], thing[3]))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def leader_boxes(leader: Sequence[Point]) -> list[Box]:
    """Small boxes along a leader."""
    out: list[Box] = []
    for (xa, ya), (xb, yb) in pairwise(leader):
        length = hypot(xb - xa, yb - ya)
        for k in range(int(length / LEADER_PX)):
            share = (k + 0.5) * LEADER_PX / length
            out.append(around(xa + (xb - xa) * share, ya + (yb - ya) * share, LEADER_PX - 2.0, LEADER_PX - 2.0))
    return out


def _leads(board: Board, leader: tuple[Point, ...], straight: bool) -> bool:
    """Whether a leader crosses no word, and, where it is to be `straight`, lies on no pipe for long."""
    pieces = leader_boxes(leader)
    if not all(board.written.free(piece, 0.0) for piece in pieces):
        return False
    return not straight or 2 * sum(board.pipes.free(piece, 0.0) for piece in pieces) >= len(pieces)


def _rings(place: tuple[float, float, str], w: float, h: float) -> Iterator[tuple[float, float, str]]:
    """Places round a first one, farther and farther out, for a label that then gets a leader."""
    x, y, _ = place
    for ring in range(1, RINGS):
        for k in range(16):
            yield x + (w / 2 + RING_PX * ring) * cos(k * pi / 8), y + (h + RING_PX * ring) * sin(k * pi / 8), "middle"


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
