"""Words that have one place each: the letters of a vessel's tappings in their columns, and names of floors at the edge.

Owns these places. Refuses to know what else comes to the board.
"""

from __future__ import annotations

from collections.abc import Sequence

from loopwright.drawing.board import Board, Label, around
from loopwright.drawing.look import LETTER_GAP_PX, LETTER_PX, SUB_PX, Point
from loopwright.drawing.plan import FloorPlan, StorePlan, TappingPlan
from loopwright.drawing.widths import width_px
from loopwright.sheet.tidy import spread

LETTER_OFF_PX = 11.0
LEADER_FROM_PX = 3.0
ABOVE_PX = 8.5
NAMED_FROM_PX = 300.0
"""A vessel at least so high is drawn large."""


def letters(board: Board, store: StorePlan, chosen: bool) -> list[Label]:
    """One letter a tapping, each side in a column outside the insulation, above its pipe (the lowest
    below). A vessel that is drawn large has name and height beside each letter where nothing stands in their way."""
    left, top, right, foot = board.box(store.box)
    small, large = foot - top < 90.0, foot - top >= NAMED_FROM_PX
    out: list[Label] = []
    for side in ("left", "right"):
        taps = sorted((t for t in store.tappings if t.side == side), key=lambda t: (t.shell[1], t.letter))
        if small and len(taps) > 2:
            taps = [taps[0], taps[-1]] if not chosen else taps
        x = left - LETTER_OFF_PX if side == "left" else right + LETTER_OFF_PX
        stubs = [board.px(t.shell)[1] for t in taps]
        places = _column(board, x, stubs, top, foot)
        for tap, stub, y in zip(taps, stubs, places):
            shifted = abs(y - stub) > 9.0 + LEADER_FROM_PX
            leader = (board.units((x - (6 if side == "right" else -6), stub)), board.units((x, y))) if shifted else ()
            outward = (1 if side == "right" else -1) if large else 0
            out.append(_letter(board, store, tap, (x, y), leader, outward))
    for side, y, dx in (("top", top - 8.0, 9.0), ("bottom", foot + 9.0, 9.0)):
        for k, tap in enumerate(t for t in store.tappings if t.side == side):
            out.append(_letter(board, store, tap, (board.px(tap.shell)[0] + dx + 12.0 * k, y), ()))
    return out


def _column(board: Board, x: float, stubs: Sequence[float], top: float, foot: float) -> Sequence[float]:
    """Heights of the letters of a side: each above its pipe, the lowest below it where nothing stands there."""
    above = [y - ABOVE_PX for y in stubs]
    high = LETTER_PX + 2.0
    for minded in (board.solid, board.bodies) if len(stubs) > 1 else ():  # hops and arrows sooner than parts
        for off in (9.0, 13.0, 20.0):
            places = spread([*above[:-1], stubs[-1] + off], high, top - 14.0, foot + 5.0 + off)
            if minded.free(around(x, places[-1], high, high), 0.0):
                return places
    return spread(above, high, top - 14.0, foot + 14.0)


def _letter(
    board: Board, store: StorePlan, tap: TappingPlan, at: Point, leader: tuple[Point, ...], outward: int = 0
) -> Label:
    """A letter, with name and height beyond it to the right (1) or the left (-1), or the height, or alone (0)."""
    box = around(*at, width_px(tap.letter, LETTER_PX, 600) + 2.0, LETTER_PX + 2.0)
    lines: tuple[str, ...] = (tap.letter,)
    anchor = "middle"
    for words in (f"{tap.name} {tap.level}".strip(), tap.level) if outward else ():
        more = width_px(words, SUB_PX) + LETTER_GAP_PX + 2.0
        beyond = (box[2], box[1], box[2] + more, box[3]) if outward > 0 else (box[0] - more, box[1], box[0], box[3])
        if all(grid.free(beyond, 0.0) for grid in (board.solid, board.pipes)):
            box = (min(box[0], beyond[0]), box[1], max(box[2], beyond[2]), box[3])
            lines, anchor = (tap.letter, words), "start" if outward > 0 else "end"
            break
    board.take(box)
    middle, size = ((box[0] + box[2]) / 2, at[1]), (box[2] - box[0], box[3] - box[1])
    owner = f"{store.id}/{tap.letter}"
    return Label(owner, "letter", board.units(middle), size, lines, leader=leader, anchor=anchor)


def keep_floor_names(board: Board, edge: float, floors: Sequence[FloorPlan]) -> None:
    """Take the places of the floors' names, left of `edge` in drawing units."""
    left = board.px((edge, 0.0))[0] - 60.0
    for floor in floors:
        y = board.px((0.0, floor.y))[1]
        board.take((left, y, left + width_px(floor.words, 10.5, 600) + 10, y + 20 * board.scale))
