"""How a chart of a run is drawn on a plotter: axes with round steps, lines told apart by dash and by name.

Owns the ink and the steps. Refuses to know what the lines mean.
"""

from __future__ import annotations

from math import floor, log10

from loopwright.drawing.look import PX_A_MM, Look
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.widths import width_px
from loopwright.reports.model import Chart
from loopwright.reports.words import figure

LOOK = Look.on_paper(10.0)
"""One drawing unit is a millimetre."""
HIGH_MM = 52.0
DASHES: tuple[tuple[float, ...], ...] = ((), (6.0, 2.0), (2.0, 2.0), (8.0, 2.0, 2.0, 2.0), (1.0, 1.5), (12.0, 3.0))
TOKENS = ("flow", "ret", "solar", "cold", "hot", "disch")
TEXT_MM = 2.3


DECIMAL, CLOCK = (1.0, 2.0, 2.5, 5.0, 10.0), (1.0, 2.0, 3.0, 4.0, 6.0, 10.0)
"""First figures of round steps: of plain numbers, and of hours."""


def steps(low: float, high: float, about: int = 5, rounds: tuple[float, ...] = DECIMAL) -> list[float]:
    """Round figures from at most `low` to at least `high`, about so many."""
    span = high - low
    if span <= 0.0:
        low, high, span = low - 0.5, high + 0.5, 1.0
    raw = span / about
    power = 10.0 ** floor(log10(raw))
    step = next(k * power for k in rounds if k * power >= raw - 1e-12)
    first = floor(low / step + 1e-9)
    out = [first * step]
    while out[-1] < high - 1e-9 * span:
        out.append((first + len(out)) * step)
    return [round(v, 10) + 0.0 for v in out]


def draw_chart(plot: Plotter, chart: Chart, wide: float, high: float = HIGH_MM) -> None:
    """The chart in a box of millimetres from (0, 0), y down."""
    px = TEXT_MM * PX_A_MM
    points = [p for line in chart.lines for p in line.points]
    plot.text(0.0, 2.0, f"{chart.title}, {chart.up}", 2.7 * PX_A_MM, 600, "ink", 0, "start")
    if not points:
        plot.text(0.0, 8.0, "Nothing was recorded.", px, 400, "ink2", 0, "start")
        return
    names = max(width_px(line.name, px, 500) for line in chart.lines) / PX_A_MM
    left, right, top, foot = 11.0, wide - names - 4.0, 7.5, high - 8.5
    xs = steps(min(p[0] for p in points), max(p[0] for p in points), 8, CLOCK if chart.across == "hours" else DECIMAL)
    ys = steps(min(p[1] for p in points), max(p[1] for p in points))

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return (
            left + (p[0] - xs[0]) / (xs[-1] - xs[0]) * (right - left),
            foot - (p[1] - ys[0]) / (ys[-1] - ys[0]) * (foot - top),
        )

    for y in ys:
        plot.line([at((xs[0], y)), at((xs[-1], y))], "line", 0.15)
        plot.text(left - 1.5, at((xs[0], y))[1], figure(y), px, 400, "ink2", 0, "end")
    for x in xs:
        plot.line([at((x, ys[0])), (at((x, ys[0]))[0], foot + 1.0)], "ink3", 0.2)
        plot.text(at((x, ys[0]))[0], foot + 3.0, figure(x), px, 400, "ink2")
    plot.line([(left, foot), (right, foot)], "ink3", 0.25)
    plot.text((left + right) / 2, foot + 6.6, chart.across, px, 400, "ink2")
    ends = sorted((at(line.points[-1])[1], k) for k, line in enumerate(chart.lines) if line.points)
    down = top - 10.0
    for y, k in ends:
        line = chart.lines[k]
        token, dash = TOKENS[k % len(TOKENS)], DASHES[k % len(DASHES)]
        plot.line([at(p) for p in line.points], token, 0.35, dash)
        down = max(y, down + TEXT_MM + 0.7)
        plot.text(right + 2.0, down, line.name, px, 500, token, 0, "start")
