"""Where words and flags go so that none touches another: names of parts, sizes of pipes, letters of tappings,
notes, flags.

Owns the placement on a hash grid. It works in nominal pixels, never device pixels, so that a screen and a
sheet of paper at the same nominal size get the same layout. Refuses to know back ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

import msgspec

from loopwright.drawing.grid import Box, Grid
from loopwright.drawing.look import (
    HOP_MM,
    LETTER_PX,
    NAME_PX,
    PX_A_MM,
    SIZE_PX,
    SUB_PX,
    Look,
    Point,
    to_units,
)
from loopwright.drawing.plan import Flag, PartPlan, PipePlan, SheetPlan, StorePlan, TappingPlan
from loopwright.drawing.widths import width_px
from loopwright.sheet.tidy import spread

LED_PX = 28.0
"""A name farther than this from its part gets a leader."""

LETTER_OFF_PX = 11.0
FLAG_HALF_PX = 16.0
SIZED_FROM_UNITS = 50.0
"""Shortest run that gets a size."""
LEADER_FROM_PX = 3.0


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


class _Board:
    """What stands on the sheet in nominal pixels: `solid` (parts, arrows, hops, labels) and `pipes`."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.scale = look.px_a_unit
        self.solid = Grid()
        self.pipes = Grid()
        self.written = Grid()
        """Labels and flags alone: nothing may ever cover these."""

    def box(self, units: Box) -> Box:
        s = self.scale
        return units[0] * s, units[1] * s, units[2] * s, units[3] * s

    def px(self, at: Point) -> Point:
        return at[0] * self.scale, at[1] * self.scale

    def units(self, at: Point) -> Point:
        return at[0] / self.scale, at[1] / self.scale

    def take(self, box: Box) -> None:
        self.solid.add(box)
        self.written.add(box)


def place_labels(
    plan: SheetPlan,
    look: Look,
    flags: Sequence[Flag] = (),
    floors: bool = False,
    chosen: frozenset[str] = frozenset(),
) -> Labels:
    """All labels and flags of a sheet at a look.

    Flags and letters always land; then names, then sizes and notes, which are left out where there is no room
    (names never are: they then stand on a pipe, on a plate). `floors` keeps the floor names at the left edge
    clear.
    """
    board = _Board(look)
    _obstacles(board, plan)
    words: list[Label] = []
    if look.detail >= 2:  # letters have one place each, so they come first and flags go round them
        for store in plan.stores.values():
            words += _letters(board, store, chosen)
    placed_flags = tuple(_flag(board, flag) for flag in sorted(flags, key=lambda f: f.number))
    if look.detail >= 2:
        if floors:
            _floor_names(board, plan)
        things: list[PartPlan | StorePlan] = [*plan.stores.values(), *plan.parts.values()]
        for thing in things:
            label = _name(board, thing)
            if label:
                words.append(label)
        for note in plan.notes.values():
            words.append(_note(board, note.id, note.at, note.words))
        for pipe in sorted(plan.pipes.values(), key=lambda p: -_longest(p)):
            label = _size(board, pipe)
            if label:
                words.append(label)
    return Labels(tuple(words), placed_flags)


def _obstacles(board: _Board, plan: SheetPlan) -> None:
    things: list[PartPlan | StorePlan] = [*plan.parts.values(), *plan.stores.values()]
    for thing in things:
        board.solid.add(board.box(thing.box))
    for store in plan.stores.values():
        for tap in store.tappings:
            board.pipes.add(_line_box(board.px(tap.shell), board.px(tap.ends), 2.0))
    for link in plan.links.values():
        for a, b in pairwise(link.points):
            board.pipes.add(_line_box(board.px(a), board.px(b), 1.5))
    reach = HOP_MM * PX_A_MM
    for pipe in plan.pipes.values():
        for a, b in pairwise(pipe.points):
            pieces = max(1, int(hypot(b[0] - a[0], b[1] - a[1]) / 40)) if a[0] != b[0] and a[1] != b[1] else 1
            for k in range(pieces):
                one = (a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces)
                two = (a[0] + (b[0] - a[0]) * (k + 1) / pieces, a[1] + (b[1] - a[1]) * (k + 1) / pieces)
                board.pipes.add(_line_box(board.px(one), board.px(two), 2.0))
        for hop in pipe.hops:
            x, y = board.px(hop.point)
            board.solid.add((x - reach, y - reach, x + reach + 2, y + reach))
        for arrow in pipe.arrows:
            x, y = board.px(arrow.at)
            board.solid.add((x - 7, y - 7, x + 7, y + 7))


def _line_box(a: Point, b: Point, half: float) -> Box:
    return min(a[0], b[0]) - half, min(a[1], b[1]) - half, max(a[0], b[0]) + half, max(a[1], b[1]) + half


def _around(x: float, y: float, w: float, h: float) -> Box:
    return x - w / 2, y - h / 2, x + w / 2, y + h / 2


# ---- flags


def _flag(board: _Board, flag: Flag) -> FlagPlace:
    """The first clear place round the spot, near ones first; further out pipes no longer count, then nothing
    but labels does."""
    spot = to_units(flag.at)
    x, y = board.px(spot)
    half = FLAG_HALF_PX
    for ring, (reach, mind_pipes, mind_parts) in enumerate(
        [(34, True, True), (42, True, True), (34, False, True), (44, False, True)]
        + [(54 + 10 * k, k < 3, k < 6) for k in range(40)]
    ):
        for k in range(8 if ring < 4 else 16):
            turn = -pi / 2 + (0, 1, -1, 2, -2, 3, -3, 4)[k] * pi / 4 if ring < 4 else k * pi / 8
            cx, cy = x + reach * cos(turn), y + reach * sin(turn)
            shape = _around(cx, cy, 2 * half, 2 * half)
            leader = _leader((x, y), (cx, cy), half)
            if not board.written.free(shape) or not all(board.written.free(b, 0.0) for b in leader):
                continue
            if mind_parts and not board.solid.free(shape):
                continue
            if mind_pipes and not board.pipes.free(shape):
                continue
            board.take(shape)
            for b in leader:
                board.take(b)
            return FlagPlace(flag, spot, board.units((cx, cy)))
    board.take(_around(x, y - 460, 2 * half, 2 * half))
    return FlagPlace(flag, spot, board.units((x, y - 460)))


def _leader(a: Point, b: Point, half: float) -> list[Box]:
    """Small boxes along a leader from the spot's ring to the shape."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    turn = atan2(b[1] - a[1], b[0] - a[0])
    out, at = [], 6.0
    while at < length - half:
        out.append(_around(a[0] + at * cos(turn), a[1] + at * sin(turn), 5.0, 5.0))
        at += 5.0
    return out


# ---- stores


def _letters(board: _Board, store: StorePlan, chosen: frozenset[str]) -> list[Label]:
    """One letter a tapping, each side in a column outside the insulation, above its pipe (the lowest
    below)."""
    left, top, right, foot = board.box(store.box)
    small = foot - top < 90.0
    out: list[Label] = []
    for side in ("left", "right"):
        taps = sorted((t for t in store.tappings if t.side == side), key=lambda t: (t.shell[1], t.letter))
        if small and len(taps) > 2:
            taps = [taps[0], taps[-1]] if store.id not in chosen else taps
        x = left - LETTER_OFF_PX if side == "left" else right + LETTER_OFF_PX
        stubs = [board.px(t.shell)[1] for t in taps]
        wanted = [y + (9.0 if k == len(taps) - 1 and len(taps) > 1 else -8.5) for k, y in enumerate(stubs)]
        places = spread(wanted, LETTER_PX + 2.0, top - 14.0, foot + 14.0)
        for tap, stub, y in zip(taps, stubs, places):
            shifted = abs(y - stub) > 9.0 + LEADER_FROM_PX
            leader = (board.units((x - (6 if side == "right" else -6), stub)), board.units((x, y))) if shifted else ()
            out.append(_letter(board, store, tap, (x, y), leader))
    for side, y, dx in (("top", top - 8.0, 9.0), ("bottom", foot + 9.0, 9.0)):
        for k, tap in enumerate(t for t in store.tappings if t.side == side):
            out.append(_letter(board, store, tap, (board.px(tap.shell)[0] + dx + 12.0 * k, y), ()))
    return out


def _letter(board: _Board, store: StorePlan, tap: TappingPlan, at: Point, leader: tuple[Point, ...]) -> Label:
    size = (width_px(tap.letter, LETTER_PX, 600) + 2.0, LETTER_PX + 2.0)
    board.take(_around(*at, *size))
    return Label(f"{store.id}/{tap.letter}", "letter", board.units(at), size, (tap.letter,), leader=leader)


# ---- names, sizes, notes


def _lines(name: str, detail: str) -> tuple[str, ...]:
    return tuple(line for line in (name, detail) if line)


def _name(board: _Board, thing: PartPlan | StorePlan) -> Label | None:
    if not thing.name:
        return None
    large = isinstance(thing, StorePlan) or thing.large
    if isinstance(thing, StorePlan):
        lines: tuple[str, ...] = (f"{thing.name} {thing.detail}".strip(),)
    else:
        lines = _lines(thing.name, thing.detail if large else "")
    w = (
        max(width_px(lines[0], NAME_PX, 600), *(width_px(line, SUB_PX) for line in lines[1:]))
        if lines[1:]
        else width_px(lines[0], NAME_PX, 600)
    )
    h = NAME_PX + 3.0 + (SUB_PX + 2.0) * (len(lines) - 1)
    w += 3.0
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
    elif not large:
        places = [places[2], places[3], places[0], places[1], *places[4:]]
    return _led(board, _first(board, places, w, h, lines, thing.id, "name"), (x0, y0, x1, y1))


def _led(board: _Board, label: Label, thing: Box) -> Label:
    """The label with a leader to its thing, where it had to land so far off that it might be taken for another's."""
    x0, y0, x1, y1 = _around(*board.px(label.at), *label.size)
    across = max(thing[0] - x1, x0 - thing[2], 0.0)
    down = max(thing[1] - y1, y0 - thing[3], 0.0)
    if hypot(across, down) <= LED_PX:
        return label
    start = (_within((thing[0] + thing[2]) / 2, x0, x1), _within((thing[1] + thing[3]) / 2, y0, y1))
    end = (_within(start[0], thing[0], thing[2]), _within(start[1], thing[1], thing[3]))
    return msgspec.structs.replace(label, leader=(board.units(start), board.units(end)))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _first(
    board: _Board,
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
        (tries, grids[2]),
        (further, grids[2]),
    ):
        for x, y, anchor in options:
            box = _around(x, y, w, h)
            if all(grid.free(box) for grid in minded):
                board.take(box)
                return Label(owner, kind, board.units((x, y)), (w, h), lines, anchor=anchor)
    x, y, _ = places[0]
    for k in range(200):
        box = _around(x, y - 14 * k, w, h)
        if board.written.free(box):
            break
    board.take(box)
    return Label(owner, kind, board.units((x, (box[1] + box[3]) / 2)), (w, h), lines)


def _note(board: _Board, owner: str, at: Point, words: str) -> Label:
    lines = tuple(words.splitlines()) or ("",)
    w = max(width_px(line, SUB_PX) for line in lines) + 3.0
    h = (SUB_PX + 3.0) * len(lines)
    x, y = board.px(at)
    places = [(x + w / 2, y, "start"), (x - w / 2, y, "end"), (x, y - h, "middle"), (x, y + h, "middle")]
    return _first(board, places, w, h, lines, owner, "note")


def _longest(pipe: PipePlan) -> float:
    return max(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(pipe.points))


def _size(board: _Board, pipe: PipePlan) -> Label | None:
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
                box = _around(*at, *size)
                if board.solid.free(box) and board.pipes.free(box, 0.0):
                    board.take(box)
                    token = "ink3" if pipe.service == "unknown" else "ink"
                    return Label(pipe.id, "size", board.units(at), size, (pipe.words,), int(upright), token)
    return None


def _floor_names(board: _Board, plan: SheetPlan) -> None:
    left = board.px((plan.bounds()[0], 0.0))[0] - 60.0
    for floor in plan.floors:
        y = board.px((0.0, floor.y))[1]
        board.take((left, y, left + width_px(floor.words, 10.5, 600) + 10, y + 20 * board.scale))


def boxes_px(labels: Labels, look: Look) -> list[Box]:
    """Boxes of all words and flags in nominal pixels (for tests and for hits)."""
    s = look.px_a_unit
    out = [_around(w.at[0] * s, w.at[1] * s, *w.size) for w in labels.words]
    return out + [_around(f.at[0] * s, f.at[1] * s, 2 * FLAG_HALF_PX, 2 * FLAG_HALF_PX) for f in labels.flags]


def owners(labels: Iterable[Label]) -> Mapping[str, Label]:
    """Labels by what they belong to."""
    return {label.owner: label for label in labels}
