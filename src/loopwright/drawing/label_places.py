"""Where the names of parts, the sizes of pipes and notes would like to stand, best places first.

Owns these wishes. Refuses to know back ends; what is free is asked of the board.
"""

from __future__ import annotations

from itertools import pairwise
from math import hypot

from loopwright.drawing.board import Board, Label, around, clear, first_free
from loopwright.drawing.look import NAME_PX, SIZE_PX, SUB_PX, Point
from loopwright.drawing.plan import DimensionPlan, PartPlan, PipePlan, StorePlan
from loopwright.drawing.widths import width_px

CROWDED_ZOOM = 0.45
"""Below this zoom a fitting is named only where its name stands clear of everything, and large parts by name alone."""
SIZED_FROM_UNITS = 50.0
"""Shortest run that gets a size."""


def name_label(board: Board, thing: PartPlan | StorePlan) -> Label | None:
    """The name of a part where it meets nothing; None for a part without one."""
    if not thing.name:
        return None
    large = isinstance(thing, StorePlan) or thing.large
    crowded = board.look.zoom < CROWDED_ZOOM
    if isinstance(thing, StorePlan):
        lines: tuple[str, ...] = (f"{thing.name} {thing.detail}".strip(),)
    else:
        lines = (thing.name, thing.detail) if large and not crowded and thing.detail else (thing.name,)
    w = max([width_px(lines[0], NAME_PX, 600), *(width_px(line, SUB_PX) for line in lines[1:])]) + 3.0
    h = NAME_PX + 3.0 + (SUB_PX + 2.0) * (len(lines) - 1)
    x0, y0, x1, y1 = board.box(thing.box)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    off = 26.0 if isinstance(thing, StorePlan) else 5.0
    places = [
        (cx, y0 - off - h / 2, "middle"),
        (cx, y1 + 4 + h / 2, "middle"),
        (x1 + 6 + w / 2, cy, "start"),
        (x0 - 6 - w / 2, cy, "end"),
        (x1 + 8 + w / 2, y0 + h / 2, "start"),
        (x0 - 8 - w / 2, y0 + h / 2, "end"),
        (x1 + w / 2, y0 - off - h / 2, "start"),
        (x0 - w / 2, y0 - off - h / 2, "end"),
        (x1 + 8 + w / 2, y1 - h / 2, "start"),
        (x0 - 8 - w / 2, y1 - h / 2, "end"),
        (x1 + w / 2, y1 + 4 + h / 2, "start"),
        (x0 - w / 2, y1 + 4 + h / 2, "end"),
    ]
    if isinstance(thing, StorePlan):
        places = [places[6], places[7], places[0], (x1 + 26 + w / 2, y0 + h, "start"), *places[1:]]
    elif large:
        above, below = y0 - off - h / 2, y1 + 4 + h / 2
        places[4:4] = [(x, y, "middle") for y in (above, below) for x in (x1 - w / 2, x0 + w / 2)]
    else:
        places = [places[2], places[3], places[0], places[1], *places[4:]]
    if crowded and not large:
        return clear(board, places, w, h, lines, thing.id, "name")
    return first_free(board, places, w, h, lines, thing.id, "name", (x0, y0, x1, y1))


def note_label(board: Board, owner: str, at: Point, words: str) -> Label:
    """The lines of a note beside the place it speaks of."""
    lines = tuple(words.splitlines()) or ("",)
    w = max(width_px(line, SUB_PX) for line in lines) + 3.0
    h = (SUB_PX + 3.0) * len(lines)
    x, y = board.px(at)
    places = [(x + w / 2, y, "start"), (x - w / 2, y, "end"), (x, y - h, "middle"), (x, y + h, "middle")]
    return first_free(board, places, w, h, lines, owner, "note")


def dimension_label(board: Board, plan: DimensionPlan) -> Label:
    """The figure in its line where that is long enough, of a height reading upward; else beside it."""
    w, h = width_px(plan.words, SIZE_PX, 500) + 6.0, SIZE_PX + 2.0
    if plan.y is not None:
        return _width_label(board, plan, w, h)
    x, ya = board.px((plan.x, plan.a[1]))
    yb = board.px(plan.b)[1]
    shares = (0.5, 0.35, 0.65, 0.2, 0.8)
    if abs(ya - yb) > w + 12.0:
        spots = [(x, ya + (yb - ya) * share) for share in shares if abs(yb - ya) * min(share, 1 - share) > w / 2 + 5]
        for minded in (board.solid, board.written):
            for at in spots:
                box = around(*at, h, w)
                if minded.free(box):
                    board.take(box)
                    return Label(plan.id, "dimension", board.units(at), (h, w), (plan.words,), 1)
    middle = (ya + yb) / 2
    places = [(x + 6 + w / 2, middle, "start"), (x - 6 - w / 2, middle, "end")]
    places += [(x + 6 + w / 2, y, "start") for y in (min(ya, yb) - h, max(ya, yb) + h)]
    return first_free(board, places, w, h, (plan.words,), plan.id, "dimension")


def _width_label(board: Board, plan: DimensionPlan, w: float, h: float) -> Label:
    (xa, y), (xb, _) = (board.px(end) for end in plan.line)
    places = []
    if abs(xb - xa) > w + 12.0:
        spots = [xa + (xb - xa) * share for share in (0.5, 0.35, 0.65) if abs(xb - xa) * share > w / 2 + 5]
        places = [(spot, y, "middle") for spot in spots]
    for at in places:
        box = around(at[0], at[1], w, h)
        if board.solid.free(box):
            board.take(box)
            return Label(plan.id, "dimension", board.units(at[:2]), (w, h), (plan.words,))
    middle = (xa + xb) / 2
    beside = [(middle, y - 4 - h / 2, "middle"), (middle, y + 4 + h / 2, "middle")]
    beside += [(max(xa, xb) + 8 + w / 2, y, "start"), (min(xa, xb) - 8 - w / 2, y, "end")]
    return first_free(board, beside, w, h, (plan.words,), plan.id, "dimension")


def longest(pipe: PipePlan) -> float:
    """Length of the longest run of a pipe, drawing units."""
    return max(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(pipe.points))


def size_label(board: Board, pipe: PipePlan) -> Label | None:
    """Above a level run, left of a riser reading upward, else on its other side; the longest runs first; else
    dropped."""
    if pipe.joint:
        return None
    w = width_px(pipe.words, SIZE_PX, 500) + 4.0
    h = SIZE_PX + 2.0
    runs = sorted(pairwise(pipe.points), key=lambda r: -hypot(r[1][0] - r[0][0], r[1][1] - r[0][1]))
    for a, b in runs:
        length = hypot(b[0] - a[0], b[1] - a[1])
        if length < SIZED_FROM_UNITS or length * board.scale < w + 8.0:
            break
        upright = abs(b[1] - a[1]) > abs(b[0] - a[0])
        size = (h, w) if upright else (w, h)
        off = h / 2 + 3.0
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            x, y = board.px((a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share))
            for sign in (-1, 1):
                at = (x + sign * off, y) if upright else (x, y + sign * off)
                box = around(*at, *size)
                if board.solid.free(box) and board.pipes.free(box, 0.0):
                    board.take(box)
                    token = "ink3" if pipe.service == "unknown" else "ink"
                    return Label(pipe.id, "size", board.units(at), size, (pipe.words,), int(upright), token)
    return None
