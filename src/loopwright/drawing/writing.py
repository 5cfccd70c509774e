"""How labels and flags are drawn on a plotter. Owns their ink; `labels` decides where they stand."""

from __future__ import annotations

from math import cos, hypot, pi, sin
from typing import cast

from loopwright.drawing.ink import circle
from loopwright.drawing.labels import FlagPlace, Label
from loopwright.drawing.look import FLAG_PX, LETTER_GAP_PX, LETTER_PX, NAME_PX, SIZE_PX, SUB_PX, WEIGHTS_MM, Look, Point
from loopwright.drawing.plotter import Anchor, Plotter
from loopwright.drawing.widths import width_px

SPOT_PX = 4.0


def draw_label(plot: Plotter, look: Look, label: Label, faint: bool = False) -> None:
    """A label with its paper plate; `faint` for what stands idle."""
    x, y = label.at
    px = look.px
    token = "ink3" if faint else label.token
    if label.leader:
        plot.line(label.leader, "ink3", 0.18)
    if label.kind == "letter":
        _letter(plot, label, px, token)
    elif label.kind in ("size", "dimension"):
        plot.text(x, y, label.lines[0], SIZE_PX, 500, token, label.turn, "middle", "paper")
    else:
        name = label.kind == "name"
        sizes = [NAME_PX if name else SUB_PX] + [SUB_PX] * (len(label.lines) - 1)
        heights = [s + 2.0 for s in sizes]
        at = y - sum(heights) / 2 * px
        edge = {"start": -label.size[0] / 2 + 1.5, "end": label.size[0] / 2 - 1.5}.get(label.anchor, 0.0) * px
        for k, (words, size, height) in enumerate(zip(label.lines, sizes, heights)):
            middle = at + height / 2 * px
            plot.text(
                x + edge,
                middle,
                words,
                size,
                600 if name and k == 0 else 400,
                token if k == 0 and name else "ink2",
                0,
                cast(Anchor, label.anchor),
                "paper",
            )
            at += height * px


def _letter(plot: Plotter, label: Label, px: float, token: str) -> None:
    """The letter of a tapping, at the vessel's side of its box, and beyond it what the box has besides."""
    x, y = label.at
    outward = {"start": 1, "end": -1}.get(label.anchor, 0)
    wide = width_px(label.lines[0], LETTER_PX, 600) + 2.0
    at = x - outward * (label.size[0] - wide) / 2 * px
    plot.text(at, y, label.lines[0], LETTER_PX, 600, token, 0, "middle", "paper")
    if outward and len(label.lines) > 1:
        beside = at + outward * (wide / 2 + LETTER_GAP_PX - 1.0) * px
        plot.text(beside, y, label.lines[1], SUB_PX, 400, "ink2", 0, cast(Anchor, label.anchor), "paper")


def flag_shape(severity: str, at: Point, px: float) -> list[Point]:
    """Octagon, diamond, circle or square about a point; `px` drawing units a nominal pixel."""
    if severity == "danger":
        r = 14.0 * px
        return [(at[0] + r * cos(pi / 8 + k * pi / 4), at[1] + r * sin(pi / 8 + k * pi / 4)) for k in range(8)]
    if severity == "fault":
        r = 16.0 * px
        return [(at[0], at[1] - r), (at[0] + r, at[1]), (at[0], at[1] + r), (at[0] - r, at[1])]
    if severity in ("advice", "ok"):
        return circle(at, 12.0 * px, 28)
    r = 11.0 * px
    return [(at[0] - r, at[1] - r), (at[0] + r, at[1] - r), (at[0] + r, at[1] + r), (at[0] - r, at[1] + r)]


def draw_flag(plot: Plotter, look: Look, place: FlagPlace, accepted: bool = False) -> None:
    """A ring at the spot, a leader, and the shape of its severity with its number, on a paper halo."""
    flag, spot, at, px = place.flag, place.spot, place.at, look.px
    token = flag.severity if flag.severity in ("danger", "fault", "advice") else "ink3"
    length = hypot(at[0] - spot[0], at[1] - spot[1]) or 1.0
    step = (at[0] - spot[0]) / length, (at[1] - spot[1]) / length
    begin = (spot[0] + step[0] * SPOT_PX * px, spot[1] + step[1] * SPOT_PX * px)
    plot.line((begin, at), "paper", WEIGHTS_MM["casing"])
    plot.line((begin, at), token, WEIGHTS_MM["leader"])
    plot.area(circle(spot, (SPOT_PX + 1.2) * px), "paper")
    plot.area(circle(spot, SPOT_PX * px), "paper", token, WEIGHTS_MM["leader"])
    shape = flag_shape(flag.severity, at, px)
    plot.area(flag_shape(flag.severity, at, px * 1.18), "paper")
    filled = flag.severity in ("danger", "fault") and not accepted
    number = str(flag.number) if flag.number > 0 else "?"
    if filled:
        plot.area(shape, token, token, 0.2)
        plot.text(*at, number, FLAG_PX, 600, "on_severity")
    else:
        plot.area(shape, "paper", token, 0.45)
        plot.text(*at, number, FLAG_PX, 600, token)
