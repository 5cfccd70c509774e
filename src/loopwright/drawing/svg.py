"""A sheet as an SVG picture, written without a window: text stays text, sizes are millimetres, a title a
part.

Owns the SVG back end. Refuses to know what is drawn: `ink`, `store` and `writing` say it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

from loopwright.catalogue import Catalogue
from loopwright.drawing.in_units import sheet_in
from loopwright.drawing.look import FALLBACK_FAMILIES, SHEET_FAMILY, Dash, Look, Palette, Point
from loopwright.drawing.plan import Flag, SheetPlan, plan_sheet
from loopwright.drawing.plotter import Anchor
from loopwright.drawing.scene import draw_sheet, frame_of
from loopwright.drawing.widths import width_px
from loopwright.sheet.values import Sheet
from loopwright.units import System

_FAMILIES = ", ".join(f"'{f}'" if " " in f else f for f in (SHEET_FAMILY, *FALLBACK_FAMILIES))
MIDDLE = 0.35
"""Base line below the middle of capitals, in the size of the text."""


class SvgPlotter:
    """Collects SVG elements; `document` puts them in a picture."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.out: list[str] = []

    def line(self, points: Sequence[Point], token: str, mm: float, dash: Dash = (), closed: bool = False) -> None:
        width = self.look.pen(mm)
        dashes = f' stroke-dasharray="{" ".join(_n(d * width) for d in dash)}"' if dash else ""
        self.out.append(
            f'<path d="{_path(points, closed)}" fill="none" stroke="{self.look.colour(token)}"'
            f' stroke-width="{_n(width)}"{dashes}/>'
        )

    def area(self, points: Sequence[Point], fill: str, edge: str = "", mm: float = 0.0) -> None:
        stroke = f' stroke="{self.look.colour(edge)}" stroke-width="{_n(self.look.pen(mm))}"' if edge else ""
        colour = self.look.colour(fill) if fill else "none"
        self.out.append(f'<path d="{_path(points, True)}" fill="{colour}"{stroke}/>')

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
        size = px * self.look.px
        if plate:
            w, h = width_px(words, px, weight) * self.look.px, size
            x0 = {"start": x, "middle": x - w / 2, "end": x - w}[anchor]
            box = (x0, y - h / 2, w, h) if not turn else (x - h / 2, y - w / 2, h, w)
            self.out.append(
                f'<rect x="{_n(box[0])}" y="{_n(box[1])}" width="{_n(box[2])}" height="{_n(box[3])}"'
                f' fill="{self.look.colour(plate)}"/>'
            )
        about = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if turn else ""
        self._words(x, y, words, size, weight, token, anchor, about)

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        self._words(x, y, words, size, 600, token, "middle", "")

    def _words(
        self, x: float, y: float, words: str, size: float, weight: int, token: str, anchor: str, about: str
    ) -> None:
        self.out.append(
            f'<text x="{_n(x)}" y="{_n(y + MIDDLE * size)}" font-size="{_n(size)}" font-weight="{weight}"'
            f' text-anchor="{anchor}" fill="{self.look.colour(token)}"{about}>{escape(_clean(words))}</text>'
        )

    def push(self, title: str = "", kind: str = "") -> None:
        named = f" class={quoteattr(kind)}" if kind else ""
        self.out.append(f"<g{named}>" + (f"<title>{escape(_clean(title))}</title>" if title else ""))

    def pop(self) -> None:
        self.out.append("</g>")

    def document(self, box: tuple[float, float, float, float], title: str) -> str:
        """The picture of a box (left, top, right, bottom) in drawing units; its size in millimetres follows
        the look."""
        x0, y0, x1, y1 = box
        w, h = x1 - x0, y1 - y0
        head = (
            '<svg xmlns="http://www.w3.org/2000/svg"'
            f' width="{_n(w / self.look.mm)}mm" height="{_n(h / self.look.mm)}mm"'
            f' viewBox="{_n(x0)} {_n(y0)} {_n(w)} {_n(h)}" font-family="{_FAMILIES}"'
            ' style="font-kerning:none" stroke-linejoin="round">'
        )
        paper = self.look.colour("paper")
        ground = f'<rect x="{_n(x0)}" y="{_n(y0)}" width="{_n(w)}" height="{_n(h)}" fill="{paper}"/>'
        return "\n".join([head, f"<title>{escape(_clean(title))}</title>", ground, *self.out, "</svg>", ""])


def plan_svg(plan: SheetPlan, look: Look, flags: Sequence[Flag] = ()) -> str:
    """A planned sheet as an SVG document."""
    plot = SvgPlotter(look)
    draw_sheet(plot, look, plan, flags)
    return plot.document(frame_of(plan, look), plan.title)


def sheet_svg(
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str],
    flags: Sequence[Flag] = (),
    scale: float = 25.0,
    palette: Palette = "light",
    system: System = "metric",
    against: Collection[str] = (),
) -> str:
    """A sheet as an SVG document at 1 : `scale`. `services` by pipe id; a pipe left out is drawn as not known.
    `against` are pipes whose water runs from end b to end a."""
    plan = sheet_in(plan_sheet(sheet, catalogue, services, against=against), system)
    return plan_svg(plan, Look.on_paper(scale, palette), flags)


def _path(points: Sequence[Point], closed: bool) -> str:
    return "M" + " ".join(f"{_n(x)},{_n(y)}" for x, y in points) + ("Z" if closed else "")


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _clean(words: str) -> str:
    """Characters that XML 1.0 does not allow are left out."""
    return "".join(
        c for c in words if c in "\t\n\r" or 0x20 <= ord(c) <= 0xD7FF or 0xE000 <= ord(c) <= 0xFFFD or ord(c) > 0xFFFF
    )
