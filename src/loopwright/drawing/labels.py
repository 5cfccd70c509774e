"""Where words and flags go so that none touches another: names of parts, sizes of pipes, letters of tappings,
notes, dimensions, flags.

It works in nominal pixels, never device pixels, so that a screen and a sheet of paper at the same nominal size get the
same layout. Owns the one call for a layout from scratch; refuses to know back ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from loopwright.drawing.board import Board, FlagPlace, Label, Labels, around
from loopwright.drawing.flag_places import FLAG_HALF_PX
from loopwright.drawing.grid import Box
from loopwright.drawing.layout import Layout
from loopwright.drawing.lettering import letters
from loopwright.drawing.look import Look
from loopwright.drawing.plan import Flag, SheetPlan, StorePlan

__all__ = ["FLAG_HALF_PX", "FlagPlace", "Label", "Labels", "Layout", "boxes_px", "letters_of", "owners", "place_labels"]


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
    clear; `chosen` are ids.
    """
    return Layout(look).place(plan, flags, floors, chosen)


def letters_of(store: StorePlan, look: Look, chosen: frozenset[str] = frozenset()) -> list[Label]:
    """The letters of one vessel alone, while its stubs are being moved."""
    return letters(Board(look), store, store.id in chosen) if look.detail >= 2 else []


def boxes_px(labels: Labels, look: Look) -> list[Box]:
    """Boxes of all words and flags in nominal pixels (for tests and for hits)."""
    s = look.px_a_unit
    out = [around(w.at[0] * s, w.at[1] * s, *w.size) for w in labels.words]
    return out + [around(f.at[0] * s, f.at[1] * s, 2 * FLAG_HALF_PX, 2 * FLAG_HALF_PX) for f in labels.flags]


def owners(labels: Iterable[Label]) -> Mapping[str, Label]:
    """Labels by what they belong to."""
    return {label.owner: label for label in labels}
