"""What a drawing is put on: six calls that every back end answers.

Owns the protocol. Refuses to know what is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

from loopwright.drawing.look import Dash, Point

Anchor = Literal["start", "middle", "end"]


class Plotter(Protocol):
    """Drawing units (cm, y down), colours by token, pen widths in millimetres of ink, text in nominal
    pixels."""

    def line(self, points: Sequence[Point], token: str, mm: float, dash: Dash = (), closed: bool = False) -> None:
        """An open or closed polyline. Dashes are in pen widths and begin anew at its first point."""

    def area(self, points: Sequence[Point], fill: str, edge: str = "", mm: float = 0.0) -> None:
        """A filled polygon with an edge, if it has one. `fill` empty: the edge alone."""

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
        """Words whose middle line passes (x, y). `turn` 1 reads upward. `plate` is the token of a ground
        under them."""

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        """A letter of a symbol, centred on (x, y), `size` drawing units to its em."""

    def push(self, title: str = "", kind: str = "") -> None:
        """Begin a group: one part, pipe or note."""

    def pop(self) -> None:
        """End the group."""
