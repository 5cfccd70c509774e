"""Places taken on a sheet, in nominal pixels, found by cells. Owns the hash grid and who may see what in it; knows
nothing of what takes a place."""

from __future__ import annotations

from collections.abc import Iterable

Box = tuple[float, float, float, float]
CELL_PX = 64.0


class Holder:
    """Somebody who takes places, by rank: whoever looks for room sees what those of a lower rank have taken."""

    __slots__ = ("rank", "taken")

    def __init__(self, rank: int) -> None:
        self.rank = rank
        self.taken: list[Box] = []
        """Places taken in the grids of solid and of written things."""


class Turn:
    """Whose turn it is to look for room, and the box round all that was looked at."""

    __slots__ = ("foot", "holder", "left", "right", "top")

    def __init__(self, holder: Holder) -> None:
        self.give(holder)

    def give(self, holder: Holder) -> None:
        """The turn of another, who has not looked anywhere yet."""
        self.holder = holder
        self.left = self.top = float("inf")
        self.right = self.foot = float("-inf")

    @property
    def seen(self) -> Box:
        """The box round all places looked at; nothing meets it where nobody looked."""
        return self.left, self.top, self.right, self.foot


class Grid:
    """Boxes in nominal pixels, found by 64-pixel cells. All grids of a board share its `Turn`."""

    def __init__(self, turn: Turn) -> None:
        self._turn = turn
        self._cells: dict[tuple[int, int], list[tuple[float, float, float, float, Holder]]] = {}

    def add(self, box: Box, holder: Holder) -> None:
        """Take a place."""
        entry = (*box, holder)
        for cell in _cells(*box):
            self._cells.setdefault(cell, []).append(entry)

    def remove(self, box: Box, holder: Holder) -> None:
        """Give a place up that was taken."""
        entry = (*box, holder)
        for cell in _cells(*box):
            self._cells[cell].remove(entry)

    def free(self, box: Box, gap: float = 1.0) -> bool:
        """Whether nothing taken by a lower rank than that of the turn touches the box, `gap` pixels of air included."""
        x0, y0, x1, y1 = box[0] - gap, box[1] - gap, box[2] + gap, box[3] + gap
        turn, cells = self._turn, self._cells
        if x0 < turn.left:
            turn.left = x0
        if y0 < turn.top:
            turn.top = y0
        if x1 > turn.right:
            turn.right = x1
        if y1 > turn.foot:
            turn.foot = y1
        rank = turn.holder.rank
        for cell in _cells(x0, y0, x1, y1):
            for b in cells.get(cell, ()):
                if b[0] < x1 and x0 < b[2] and b[1] < y1 and y0 < b[3] and b[4].rank < rank:
                    return False
        return True


def _cells(x0: float, y0: float, x1: float, y1: float) -> Iterable[tuple[int, int]]:
    left, right = int(x0 // CELL_PX), int(x1 // CELL_PX)
    top, foot = int(y0 // CELL_PX), int(y1 // CELL_PX)
    if left == right and top == foot:
        return ((left, top),)
    return [(i, j) for i in range(left, right + 1) for j in range(top, foot + 1)]
