"""Writes a report as one page of HTML: its pictures, fonts and styles are in it, it asks for nothing.

Owns the environment of the template in `resources/reports/`, which escapes everything it is given. Refuses to know
sheets and rules.
"""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from loopwright.drawing.look import Look, Palette
from loopwright.drawing.svg import SvgPlotter
from loopwright.reports import model, words
from loopwright.reports.charts import HIGH_MM, draw_chart
from loopwright.reports.drawn import draw_picture
from loopwright.reports.marks import draw_mark, draw_sign
from loopwright.reports.woff import embedded
from loopwright.resources import resource_root

FACES = (
    ("Loopwright Sans", 400, "LoopwrightSans-Regular"),
    ("Loopwright Sans", 600, "LoopwrightSans-SemiBold"),
    ("IBM Plex Sans Condensed", 500, "IBMPlexSansCondensed-Medium"),
    ("IBM Plex Sans Condensed", 600, "IBMPlexSansCondensed-SemiBold"),
)
CHART_WIDE_MM = 180.0


class _White(Look):
    """A look on white paper."""

    def colour(self, token: str) -> str:
        """#RRGGBB; paper is white, as it is in print."""
        return "#FFFFFF" if token == "paper" else super().colour(token)


def write(report: model.Report) -> str:
    """The whole page. Raises ReportError where a font is missing."""
    return _environment().get_template("report.html.j2").render(report=report, faces=_faces(), css=_css())


@cache
def _environment() -> Environment:
    env = Environment(
        loader=FileSystemLoader(resource_root() / "reports"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    env.filters.update(
        sort_of=lambda block: type(block).__name__,
        picture=_picture,
        chart=_chart,
        mark=_mark,
        cell=words.cell,
        sign=words.sign,
        lines=lambda text: Markup("<br>").join(str(text).split("\n")),
    )
    env.globals["sign_picture"] = _sign()
    return env


@cache
def _css() -> Markup:
    return Markup((resource_root() / "reports" / "report.css").read_text(encoding="utf-8"))


@cache
def _faces() -> Markup:
    return Markup(
        "".join(
            f"@font-face{{font-family:'{family}';font-weight:{weight};"
            f"src:url(data:font/woff;base64,{embedded(name)}) format('woff')}}"
            for family, weight, name in FACES
        )
    )


def picture_svg(picture: model.Picture, family: str = "IBM Plex Sans Condensed", palette: Palette = "light") -> str:
    """A picture on its own, as a file that a browser or any other viewer of SVG opens; a dark one wants dark paper."""
    return str(_picture(picture, palette)).replace(
        "<svg ", f'<svg xmlns="http://www.w3.org/2000/svg" font-family="{family}" ', 1
    )


def _svg(plot: SvgPlotter, box: model.Box, size_mm: tuple[float, float], label: str, css: str) -> Markup:
    x0, y0, x1, y1 = box
    inside = Markup("\n".join(plot.out))  # the plotter escapes what it writes
    return Markup(
        '<svg class="{}" role="img" aria-label="{}" width="{:.2f}mm" height="{:.2f}mm"'
        ' viewBox="{:.2f} {:.2f} {:.2f} {:.2f}" stroke-linejoin="round">{}</svg>'
    ).format(css, label, *size_mm, x0, y0, x1 - x0, y1 - y0, inside)


def _picture(picture: model.Picture, palette: Palette = "light") -> Markup:
    plot = SvgPlotter((_White if palette == "light" else Look).on_paper(picture.scale, palette))
    draw_picture(plot, picture, palette=palette)
    return _svg(plot, picture.box, picture.size_mm, picture.caption or picture.plan.title, "drawing")


def _chart(chart: model.Chart) -> Markup:
    plot = SvgPlotter(_White.on_paper(10.0))
    draw_chart(plot, chart, CHART_WIDE_MM)
    return _svg(plot, (0.0, 0.0, CHART_WIDE_MM, HIGH_MM), (CHART_WIDE_MM, HIGH_MM), chart.title, "chart")


@cache
def _mark(mark: model.Mark, radius_mm: float = 2.0) -> Markup:
    plot = SvgPlotter(_White.on_paper(10.0))
    half = 1.18 * radius_mm
    draw_mark(plot, mark, (0.0, 0.0), radius_mm)
    said = f"{mark.severity} {mark.number}".strip()
    return _svg(plot, (-half, -half, half, half), (2 * half, 2 * half), said, "mark")


@cache
def _sign() -> Markup:
    plot = SvgPlotter(_White.on_paper(10.0))
    draw_sign(plot, (0.0, 0.0), 5.6)
    return _svg(plot, (-0.6, -7.2, 6.6, 1.6), (7.2, 8.8), "", "sign")
