"""The plotter that draws into a PDF: lines stay lines and words stay words.

Owns the back end. Refuses to know what is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import HexColor

from loopwright.drawing.look import Dash, Look, Point
from loopwright.drawing.plotter import Anchor
from loopwright.drawing.widths import width_px
from loopwright.reports.fonts import known, sheet_font

PT_A_MM = 72.0 / 25.4
MIDDLE = 0.35
"""Base line below the middle of capitals, in the size of the text."""


class PdfPlotter:
    """Draws with a look so that the drawing unit (left, top) of `origin` falls on `at` in points, y up."""

    def __init__(self, canvas: Any, look: Look, origin: Point, at: Point) -> None:
        self.canvas, self.look = canvas, look
        self.k = PT_A_MM / look.mm
        self._x, self._y = at[0] - origin[0] * self.k, at[1] + origin[1] * self.k
        self._colours: dict[str, HexColor] = {}
        canvas.setLineJoin(1)
        canvas.setLineCap(0)

    def _colour(self, token: str) -> HexColor:
        found = self._colours.get(token)
        if found is None:
            found = HexColor("#FFFFFF" if token == "paper" else self.look.colour(token))
            self._colours[token] = found
        return found

    def _at(self, p: Point) -> Point:
        return self._x + p[0] * self.k, self._y - p[1] * self.k

    def _path(self, points: Sequence[Point], closed: bool) -> Any:
        path = self.canvas.beginPath()
        path.moveTo(*self._at(points[0]))
        for p in points[1:]:
            path.lineTo(*self._at(p))
        if closed:
            path.close()
        return path

    def line(self, points: Sequence[Point], token: str, mm: float, dash: Dash = (), closed: bool = False) -> None:
        if len(points) < 2:
            return
        width = mm * PT_A_MM
        self.canvas.setStrokeColor(self._colour(token))
        self.canvas.setLineWidth(width)
        self.canvas.setDash([max(d * width, 0.01) for d in dash] if dash else [])
        self.canvas.drawPath(self._path(points, closed), stroke=1, fill=0)

    def area(self, points: Sequence[Point], fill: str, edge: str = "", mm: float = 0.0) -> None:
        if len(points) < 2:
            return
        if fill:
            self.canvas.setFillColor(self._colour(fill))
        if edge:
            self.canvas.setStrokeColor(self._colour(edge))
            self.canvas.setLineWidth(mm * PT_A_MM)
            self.canvas.setDash([])
        self.canvas.drawPath(self._path(points, True), stroke=int(bool(edge)), fill=int(bool(fill)))

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
        size = px * self.look.px * self.k
        wide = width_px(words, px, weight) * self.look.px * self.k
        left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[anchor]
        self._words(self._at((x, y)), words, size, weight, token, turn, left, wide, plate)

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        points = size * self.k
        wide = width_px(words, points, 600)
        self._words(self._at((x, y)), words, points, 600, token, 0, -wide / 2, wide, "")

    def _words(
        self,
        at: Point,
        words: str,
        size: float,
        weight: int,
        token: str,
        turn: int,
        left: float,
        wide: float,
        plate: str,
    ) -> None:
        font, c = sheet_font(weight), self.canvas
        if turn:
            c.saveState()
            c.translate(*at)
            c.rotate(90)
            at = (0.0, 0.0)
        if plate:
            c.setFillColor(self._colour(plate))
            c.rect(at[0] + left - size * 0.1, at[1] - size / 2, wide + size * 0.2, size, stroke=0, fill=1)
        c.setFillColor(self._colour(token))
        c.setFont(font, size)
        c.drawString(at[0] + left, at[1] - MIDDLE * size, known(words, font))
        if turn:
            c.restoreState()

    def push(self, title: str = "", kind: str = "") -> None:
        """Groups are not kept in a PDF."""

    def pop(self) -> None:
        """Groups are not kept in a PDF."""
