"""Places taken on a sheet, in nominal pixels, found by cells. Owns the hash grid; knows nothing of what takes
a place."""

from __future__ import annotations

from collections.abc import Iterator

Box = tuple[float, float, float, float]
CELL_PX = 64.0


class Grid:
    """Boxes in nominal pixels, found by 64-pixel cells."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        """Take a place."""
        for cell in _cells(box):
            self._cells.setdefault(cell, []).append(box)

    def free(self, box: Box, gap: float = 1.0) -> bool:
        """Whether nothing taken touches the box, `gap` pixels of air included."""
        x0, y0, x1, y1 = box[0] - gap, box[1] - gap, box[2] + gap, box[3] + gap
        for cell in _cells((x0, y0, x1, y1)):
            for b in self._cells.get(cell, ()):
                if b[0] < x1 and x0 < b[2] and b[1] < y1 and y0 < b[3]:
                    return False
        return True


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for i in range(int(box[0] // CELL_PX), int(box[2] // CELL_PX) + 1):
        for j in range(int(box[1] // CELL_PX), int(box[3] // CELL_PX) + 1):
            yield i, j
