"""A plotter that writes down what it was told, to be looked at by tests of what is drawn."""

from __future__ import annotations

from collections.abc import Sequence

from loopwright.drawing.look import Dash, Point
from loopwright.drawing.plotter import Anchor


class RecordPlotter:
    """Writes each call down as a tuple (name, ...), points rounded to a thousandth of a unit."""

    def __init__(self) -> None:
        self.calls: list[tuple[object, ...]] = []

    def line(self, points: Sequence[Point], token: str, mm: float, dash: Dash = (), closed: bool = False) -> None:
        self.calls.append(("line", _round(points), token, mm, tuple(dash), closed))

    def area(self, points: Sequence[Point], fill: str, edge: str = "", mm: float = 0.0) -> None:
        self.calls.append(("area", _round(points), fill, edge, mm))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        px: float,
        weight: int = 400,
        token: str = "ink",
        turn: int = 0,
        anchor: Anchor = "middle",
        plate: str = "",
    ) -> None:
        self.calls.append(("text", _round([(x, y)])[0], words, px, weight, token, turn, anchor, plate))

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        self.calls.append(("letter", _round([(x, y)])[0], words, size, token))

    def push(self, title: str = "", kind: str = "") -> None:
        self.calls.append(("push", title, kind))

    def pop(self) -> None:
        self.calls.append(("pop",))

    def named(self, name: str) -> list[tuple[object, ...]]:
        """Only the calls of one name."""
        return [call for call in self.calls if call[0] == name]

    def words(self) -> list[str]:
        """Everything written, in order."""
        return [str(call[2]) for call in self.calls if call[0] in ("text", "letter")]


def _round(points: Sequence[Point]) -> tuple[Point, ...]:
    return tuple((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in points)
