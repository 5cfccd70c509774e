"""Where words and flags go so that none touches another: names of parts, sizes of pipes, letters of tappings,
notes, dimensions, flags.

Owns the order in which they come to the board, and the places of flags and letters. It works in nominal pixels, never
device pixels, so that a screen and a sheet of paper at the same nominal size get the same layout. Refuses to know back
ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import atan2, cos, hypot, pi, sin

from loopwright.drawing.board import Board, FlagPlace, Label, Labels, around, obstacles
from loopwright.drawing.grid import Box
from loopwright.drawing.look import LETTER_PX, Look, Point, to_units
from loopwright.drawing.naming import dimension_label, longest, name_label, note_label, size_label
from loopwright.drawing.plan import Flag, PartPlan, SheetPlan, StorePlan, TappingPlan
from loopwright.drawing.widths import width_px
from loopwright.sheet.tidy import spread

__all__ = ["FlagPlace", "Label", "Labels", "boxes_px", "owners", "place_labels"]

LETTER_OFF_PX = 11.0
FLAG_HALF_PX = 16.0
FAR_PX = 460.0
"""Where the search for a flag's place gives up and goes straight up."""
LEADER_FROM_PX = 3.0


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
    board = Board(look)
    obstacles(board, plan)
    words: list[Label] = []
    if look.detail >= 2:  # letters have one place each, so they come first and flags go round them
        for store in plan.stores.values():
            words += _letters(board, store, chosen)
    placed_flags = tuple(_flag(board, flag) for flag in sorted(flags, key=lambda f: f.number))
    if look.detail >= 2:
        if floors:
            _floor_names(board, plan)
        words += [dimension_label(board, one) for one in plan.dimensions.values()]
        things: list[PartPlan | StorePlan] = [*plan.stores.values(), *plan.parts.values()]
        for thing in things:
            label = name_label(board, thing)
            if label:
                words.append(label)
        for note in plan.notes.values():
            words.append(note_label(board, note.id, note.at, note.words))
        for pipe in sorted(plan.pipes.values(), key=lambda p: -longest(p)):
            label = size_label(board, pipe)
            if label:
                words.append(label)
    return Labels(tuple(words), placed_flags)


def letters_of(store: StorePlan, look: Look, chosen: frozenset[str] = frozenset()) -> list[Label]:
    """The letters of one vessel alone, while its stubs are being moved."""
    return _letters(Board(look), store, chosen) if look.detail >= 2 else []


# ---- flags


def _flag(board: Board, flag: Flag) -> FlagPlace:
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


# ---- stores


def _letters(board: Board, store: StorePlan, chosen: frozenset[str]) -> list[Label]:
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


def _letter(board: Board, store: StorePlan, tap: TappingPlan, at: Point, leader: tuple[Point, ...]) -> Label:
    size = (width_px(tap.letter, LETTER_PX, 600) + 2.0, LETTER_PX + 2.0)
    board.take(around(*at, *size))
    return Label(f"{store.id}/{tap.letter}", "letter", board.units(at), size, (tap.letter,), leader=leader)


def _floor_names(board: Board, plan: SheetPlan) -> None:
    left = board.px((plan.bounds()[0], 0.0))[0] - 60.0
    for floor in plan.floors:
        y = board.px((0.0, floor.y))[1]
        board.take((left, y, left + width_px(floor.words, 10.5, 600) + 10, y + 20 * board.scale))


def boxes_px(labels: Labels, look: Look) -> list[Box]:
    """Boxes of all words and flags in nominal pixels (for tests and for hits)."""
    s = look.px_a_unit
    out = [around(w.at[0] * s, w.at[1] * s, *w.size) for w in labels.words]
    return out + [around(f.at[0] * s, f.at[1] * s, 2 * FLAG_HALF_PX, 2 * FLAG_HALF_PX) for f in labels.flags]


def owners(labels: Iterable[Label]) -> Mapping[str, Label]:
    """Labels by what they belong to."""
    return {label.owner: label for label in labels}
