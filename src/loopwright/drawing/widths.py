"""How wide words are in the sheet's font, from a table of advances, so that labels can be placed without a
window.

Owns the table (`resources/fonts/advances.json`, thousandths of an em, taken from the fonts beside it).
Kerning is off on the sheet, so a width is the plain sum.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Callable
from functools import cache

from loopwright.resources import resource_root

_UNKNOWN = 600


@cache
def _table() -> dict[int, dict[str, int]]:
    path = resource_root() / "fonts" / "advances.json"
    return {int(weight): row for weight, row in json.loads(path.read_text(encoding="utf-8")).items()}


def width_px(words: str, px: float, weight: int = 400) -> float:
    """Width in nominal pixels of words set at `px`. Weights between those shipped take the nearest."""
    table = _table()
    row = table[min(table, key=lambda w: abs(w - weight))]
    return sum(row.get(letter, _UNKNOWN) for letter in words) * px / 1000.0


def shortened(words: str, room: float, wide: Callable[[str], float]) -> str:
    """A line where it fits, else as much of it as has room with an ellipsis. `wide` measures in the unit of `room`."""
    if wide(words) <= room:
        return words

    def cut(length: int) -> str:
        return words[:length].rstrip(" ,") + "…"

    fitting = bisect_right(range(len(words)), room, key=lambda length: wide(cut(length)))
    return cut(max(0, fitting - 1))
