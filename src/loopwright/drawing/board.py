"""The board on which words are placed: what stands on the sheet in nominal pixels, and the first free place.

Owns the hash grids and the records of placed words. Refuses to know which words there are and where they would like to
stand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, inf, pi, sin

import msgspec

from loopwright.drawing.grid import Box, Grid, Holder, Turn
from loopwright.drawing.look import HOP_MM, PX_A_MM, Look, Point
from loopwright.drawing.plan import DimensionPlan, Flag, LinkPlan, PartPlan, PipePlan, StorePlan

REACHES_PX = (14.0, 28.0, 42.0, 56.0, 77.0, 98.0, 126.0, 161.0, 203.0)
"""How far from its thing a crowded-out label looks for room."""
TURNS = tuple((cos(k * pi / 8), sin(k * pi / 8)) for k in range(16))
LED_PX = 18.0
"""A name farther than this from its part gets a leader."""
APART_PX = 4.0
"""Words nearer than this read as one."""
BESIDE_PX = 8.0
"""A name nearer than this to its part needs none, whatever else stands near."""
RANK_COST, FAR_COST, OFF_COST, LEADER_COST, PIPE_COST, HOP_COST, BODY_COST = 0.5, 8.0, 0.5, 8.0, 40.0, 48.0, 1000.0
"""What speaks against a place for a word, in one coin: a later wish, one beside the wishes, a pixel away, a leader, a
pipe, a hop or an arrow, a part or a word under it."""
ALONG_COST = 200.0
"""A leader that could be taken for the edge of a pipe."""
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
        """A box in drawing units, in nominal pixels."""
        s = self.scale
        return units[0] * s, units[1] * s, units[2] * s, units[3] * s

    def px(self, at: Point) -> Point:
        """A place in drawing units, in nominal pixels."""
        return at[0] * self.scale, at[1] * self.scale

    def units(self, at: Point) -> Point:
        """A place in nominal pixels, in drawing units."""
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
        return self._change(thing, Grid.add)

    def lift(self, thing: Drawn) -> list[Box]:
        """Take a thing off again that was put on the board; gives its boxes."""
        return self._change(thing, Grid.remove)

    def _change(self, thing: Drawn, change: Callable[[Grid, Box, Holder], None]) -> list[Box]:
        solid, lines = footprint(self, thing)
        for box in solid:
            change(self.solid, box, self._drawn)
            if not isinstance(thing, PipePlan):
                change(self.bodies, box, self._drawn)
        for box in lines:
            change(self.pipes, box, self._drawn)
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
    """The box round a stretch of line, with room of `half` to either side."""
    return min(a[0], b[0]) - half, min(a[1], b[1]) - half, max(a[0], b[0]) + half, max(a[1], b[1]) + half


def around(x: float, y: float, w: float, h: float) -> Box:
    """The box of a width and height about a middle."""
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
    """A label that always lands, never on another word: at the first of its places that is clear of all, else where
    least speaks against it. One far from its `thing`, or nearer another, has a leader to it, which crosses no word."""
    best, least = None, inf
    for base, (x, y, anchor) in _candidates(places, w, h, thing):
        if base >= least:
            break
        box = around(x, y, w, h)
        if not board.written.free(box, APART_PX):
            continue
        cost = base + _covers(board, box)
        if cost >= least:
            continue
        leader = leader_of(board, box, thing)
        if leader:
            cost += LEADER_COST + _leads(board, leader)
        if cost < least:
            best, least = (box, anchor, leader), cost
    if best is not None:
        return _landed(board, best[0], lines, owner, kind, best[1], best[2])
    x, y, _ = places[0]
    for k in range(200):
        box = around(x, y - 14 * k, w, h)
        if board.written.free(box):
            break
    return _landed(board, box, lines, owner, kind, "middle", leader_of(board, box, thing))


def _candidates(
    places: Sequence[tuple[float, float, str]], w: float, h: float, thing: Box | None
) -> Iterator[tuple[float, tuple[float, float, str]]]:
    """Places with what speaks against each from the start, which never falls: the wished for, then those above and
    below the first two, then those on rings round the thing."""
    for k, place in enumerate(places):
        yield k * RANK_COST, place
    for d in (-18, 18, -36, 36, -54, 54):
        for x, y, _ in places[:2]:
            yield FAR_COST + abs(d) * OFF_COST, (x, y + d, "middle")
    x, y, _ = places[0]
    left, top, right, foot = thing or (x, y, x, y)
    x, y = (left + right) / 2, (top + foot) / 2
    wide, high = (right - left + w) / 2, (foot - top + h) / 2
    for reach in REACHES_PX:
        base = FAR_COST + (54.0 + reach) * OFF_COST
        for along, down in TURNS:
            yield base, (x + (wide + reach) * along, y + (high + reach) * down, "middle")


def _covers(board: Board, box: Box) -> float:
    """What speaks against a place for what would lie under it."""
    cost = 0.0 if board.pipes.free(box) else PIPE_COST
    if not board.solid.free(box):
        cost += HOP_COST if board.bodies.free(box) else BODY_COST
    return cost


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


def leader_of(board: Board, box: Box, thing: Box | None) -> tuple[Point, ...]:
    """From a label to its thing, where it lies so far off, or so near another, that it might be taken for another's."""
    if thing is None:
        return ()
    across = max(thing[0] - box[2], box[0] - thing[2], 0.0)
    down = max(thing[1] - box[3], box[1] - thing[3], 0.0)
    off = hypot(across, down)
    if off <= LED_PX and (off <= BESIDE_PX or board.bodies.free(box, off - 1.0)):
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


def _leads(board: Board, leader: tuple[Point, ...]) -> float:
    """What speaks against a leader: words and parts that it crosses, pipes that it runs along."""
    pieces = leader_boxes(leader)
    if not all(board.written.free(piece, 0.0) for piece in pieces):
        return BODY_COST
    cost = len(pieces) * LEADER_PX * OFF_COST
    if not all(board.bodies.free(piece, 0.0) for piece in pieces[:-1]):  # the last one may touch its own
        cost += PIPE_COST
    if 2 * sum(board.pipes.free(piece, 0.0) for piece in pieces) < len(pieces):
        cost += ALONG_COST
    return cost


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
