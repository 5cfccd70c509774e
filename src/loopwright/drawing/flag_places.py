"""Where the flags of findings stand: near their spots, clear of words, then of parts, then of pipes.

Owns the search round a spot. Refuses to know findings and what else comes to the board.
"""

from __future__ import annotations

from math import atan2, cos, hypot, pi, sin

from loopwright.drawing.board import Board, FlagPlace, around
from loopwright.drawing.grid import Box
from loopwright.drawing.look import Point, to_units
from loopwright.drawing.plan import Flag

FLAG_HALF_PX = 16.0
FAR_PX = 460.0
"""Where the search for a flag's place gives up and goes straight up."""


def flag_place(board: Board, flag: Flag) -> FlagPlace:
    """The first clear place round the spot, near ones first; further out pipes no longer count, then nothing
    but labels does. Where another flag lies on the spot itself, its leader may cross that."""
    spot = to_units(flag.at)
    x, y = board.px(spot)
    half = FLAG_HALF_PX
    buried = not board.written.free(around(x, y, 2.0, 2.0), 0.0)
    for ring, (reach, mind_pipes, mind_parts) in enumerate(
        [(34, True, True), (42, True, True), (34, False, True), (44, False, True)]
        + [(54 + 10 * k, k < 3, k < 6) for k in range(40)]
    ):
        for k in range(8 if ring < 4 else 16):
            turn = -pi / 2 + (0, 1, -1, 2, -2, 3, -3, 4)[k] * pi / 4 if ring < 4 else k * pi / 8
            cx, cy = x + reach * cos(turn), y + reach * sin(turn)
            shape = around(cx, cy, 2 * half, 2 * half)
            leader = _leader((x, y), (cx, cy), half)
            if not board.written.free(shape):
                continue
            if not buried and not all(board.written.free(b, 0.0) for b in leader):
                continue
            if mind_parts and not board.solid.free(shape):
                continue
            if mind_pipes and not board.pipes.free(shape):
                continue
            board.take(shape)
            for b in leader:
                board.take(b)
            return FlagPlace(flag, spot, board.units((cx, cy)))
    y -= FAR_PX
    while not board.written.free(shape := around(x, y, 2 * half, 2 * half)):
        y -= 2 * half
    board.take(shape)
    return FlagPlace(flag, spot, board.units((x, y)))


def _leader(a: Point, b: Point, half: float) -> list[Box]:
    """Small boxes along a leader from the spot's ring to the shape."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    turn = atan2(b[1] - a[1], b[0] - a[0])
    out, at = [], 6.0
    while at < length - half:
        out.append(around(a[0] + at * cos(turn), a[1] + at * sin(turn), 5.0, 5.0))
        at += 5.0
    return out
