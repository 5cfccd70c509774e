"""How pipes, parts, links, floors and labels are drawn on a plotter.

Owns the ink: which lines and areas make up each plan at a given look. Refuses to know back ends; the same
functions serve the screen, paper and SVG.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import cos, hypot, pi, sin

from loopwright.drawing.look import (
    CONTROL,
    CORNER_MM,
    DOT_MM,
    HOP_MM,
    WEIGHTS_MM,
    Look,
    Point,
    ServiceLook,
    service_look,
)
from loopwright.drawing.plan import FloorPlan, LinkPlan, PartPlan, PipePlan
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.symbols import Symbol, symbol
from loopwright.errors import KindError

FLOOR_UNITS = 20.0
"""Drawn thickness of a floor."""
SYMBOL_STROKE = 1.7
_ARC_STEPS = 8


def circle(at: Point, radius: float, steps: int = 20) -> list[Point]:
    """Points round a circle, not repeating the first."""
    return [(at[0] + radius * cos(2 * pi * k / steps), at[1] + radius * sin(2 * pi * k / steps)) for k in range(steps)]


def faded(look: Look, token: str) -> str:
    """The colour of what stands idle, as #RRGGBB: 70 % of it on light paper, 58 % on dark; grey is pale
    already."""
    if token == "ink3":
        return look.colour(token)
    return mixed(look.colour(token), look.colour("paper"), 0.58 if look.palette == "dark" else 0.70)


def mixed(one: str, two: str, share: float) -> str:
    """`share` of the first colour and the rest of the second, in sRGB."""
    a, b = (tuple(int(c[k : k + 2], 16) for k in (1, 3, 5)) for c in (one, two))
    return "#" + "".join(f"{round(x * share + y * (1 - share)):02X}" for x, y in zip(a, b))


# ---- pipes -----------------------------------------------------------------------------------------------------------


def draw_pipe(plot: Plotter, look: Look, plan: PipePlan, state: str = "") -> None:
    """A pipe without its hops. `state` is "idle" (faded, thin, no arrows), "moving" or nothing in
    particular."""
    service = service_look(plan.service)
    token, mm = _ink(look, service, state)
    if plan.joint:
        plot.line(plan.points, token, mm)
        return
    trims = corner_trims(plan.points, CORNER_MM * look.mm if look.detail > 1 else 0.0)
    for k, (a, b) in enumerate(pairwise(plan.points)):
        for begin, end in _stretches(plan, look, k, trims):
            piece = (_along(a, b, begin), _along(a, b, end))
            plot.line(piece, token, mm, service.dash)
            if service.cased and look.detail > 1:
                plot.line(piece, "paper", mm * 0.32, tuple(d / 0.32 for d in service.dash))
    for k, radius in enumerate(trims[1:-1], start=1):
        if radius > 0.0:
            arc = _corner(plan.points[k - 1], plan.points[k], plan.points[k + 1], radius)
            plot.line(arc, token, mm)
            if service.cased:
                plot.line(arc, "paper", mm * 0.32)
    if state != "idle" and look.detail > 1:
        for arrow in plan.arrows:
            _arrow(plot, look, arrow.at, arrow.step, service, token)


def draw_hops(plot: Plotter, look: Look, plan: PipePlan, state: str = "") -> None:
    """The hops of a pipe, solid and cased in paper; drawn after all pipes."""
    if look.detail < 2:
        return
    service = service_look(plan.service)
    token, mm = _ink(look, service, state)
    for k, (a, b) in enumerate(pairwise(plan.points)):
        for begin, end, radius in hop_spans(plan, look, k):
            arc = _hop(a, b, begin, end, radius)
            plot.line(arc, "paper", mm + 0.9)
            plot.line(arc, token, mm)
            if service.cased:
                plot.line(arc, "paper", mm * 0.32)


def _ink(look: Look, service: ServiceLook, state: str) -> tuple[str, float]:
    if state == "idle":
        return faded(look, service.token), (0.35 if look.palette == "print" else service.mm * 0.72)
    return service.token, service.mm


def corner_trims(points: Sequence[Point], radius: float) -> list[float]:
    """How much of the runs on both sides each vertex takes for its round corner; 0 at ends and on straight
    ones."""
    out = [0.0] * len(points)
    for k in range(1, len(points) - 1):
        a, b, c = points[k - 1], points[k], points[k + 1]
        if abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) > 1e-6:
            room = min(hypot(b[0] - a[0], b[1] - a[1]), hypot(c[0] - b[0], c[1] - b[1])) / 2
            out[k] = min(radius, room)
    return out


def _weight(t: float) -> tuple[float, float, float, float]:
    """Of a rational quadratic at `t`, and their sum: with weight cos 45 degrees a true circle on a right angle."""
    u = 1 - t
    w0, w1, w2 = u * u, 2 * u * t * 0.70710678, t * t
    return w0, w1, w2, w0 + w1 + w2


_WEIGHTS = [_weight(k / _ARC_STEPS) for k in range(_ARC_STEPS + 1)]


def _corner(a: Point, b: Point, c: Point, radius: float) -> list[Point]:
    """A quarter round from the run a-b into the run b-c (a quadratic curve for slopes too)."""
    begin, end = _towards(b, a, radius), _towards(b, c, radius)
    return [
        ((begin[0] * w0 + b[0] * w1 + end[0] * w2) / s, (begin[1] * w0 + b[1] * w1 + end[1] * w2) / s)
        for w0, w1, w2, s in _WEIGHTS
    ]


def hop_spans(plan: PipePlan, look: Look, run: int) -> list[tuple[float, float, float]]:
    """(first middle, last middle, radius) of each hop on a run, measured along it; hops too close are one
    long hop."""
    if look.detail < 2 or not plan.hops:
        return []
    a = plan.points[run]
    full, least = HOP_MM * look.mm, 0.8 * look.mm
    places = sorted(hypot(h.point[0] - a[0], h.point[1] - a[1]) for h in plan.hops if h.run == run)
    groups: list[list[float]] = []
    for at in places:
        if groups and (at - groups[-1][-1]) * 0.45 < least:
            groups[-1].append(at)
        else:
            groups.append([at])
    out = []
    for k, group in enumerate(groups):
        gaps = [group[0] - groups[k - 1][-1]] if k else []
        gaps += [groups[k + 1][0] - group[-1]] if k + 1 < len(groups) else []
        out.append((group[0], group[-1], min([full, *(0.45 * g for g in gaps)])))
    return out


def _hop(a: Point, b: Point, begin: float, end: float, radius: float) -> list[Point]:
    """Half a circle, or a flattened one over several pipes: to the right of a riser, above a level run."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    along = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    aside = (1.0, 0.0) if abs(along[1]) > abs(along[0]) else (0.0, -1.0)
    steps = 12
    out = []
    for k in range(steps + 1):
        angle = pi - pi * k / steps
        at = (begin if k <= steps // 2 else end) + radius * cos(angle)
        off = radius * sin(angle)
        out.append((a[0] + along[0] * at + aside[0] * off, a[1] + along[1] * at + aside[1] * off))
    return out


def _stretches(plan: PipePlan, look: Look, run: int, trims: Sequence[float]) -> list[tuple[float, float]]:
    """The straight pieces of a run between its corners and hops, measured along it."""
    a, b = plan.points[run], plan.points[run + 1]
    at, out = trims[run], []
    last = hypot(b[0] - a[0], b[1] - a[1]) - trims[run + 1]
    for begin, end, radius in hop_spans(plan, look, run):
        if begin - radius > at:
            out.append((at, begin - radius))
        at = max(at, end + radius)
    if last > at:
        out.append((at, last))
    return out


def _along(a: Point, b: Point, at: float) -> Point:
    length = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return a[0] + (b[0] - a[0]) * at / length, a[1] + (b[1] - a[1]) * at / length


def _towards(b: Point, a: Point, reach: float) -> Point:
    return _along(b, a, reach)


def _arrow(plot: Plotter, look: Look, at: Point, step: Point, service: ServiceLook, token: str) -> None:
    if not service.arrow:
        return
    long, half = 1.15 * look.mm, 0.85 * look.mm
    side = (-step[1], step[0])

    def at_(along: float, aside: float) -> Point:
        return (at[0] + step[0] * along + side[0] * aside, at[1] + step[1] * along + side[1] * aside)

    head = [at_(long, 0.0), at_(-long, half), at_(-long, -half)]
    rim = [at_(long * 1.45, 0.0), at_(-long * 1.2, half * 1.5), at_(-long * 1.2, -half * 1.5)]
    plot.area(rim, "paper")
    if service.arrow == "open":
        plot.area(head, "paper", token, 0.30)
    else:
        plot.area(head, token)


def draw_link(plot: Plotter, look: Look, plan: LinkPlan) -> None:
    """A control link: thin, dashed, no arrow."""
    for a, b in pairwise(plan.points):
        plot.line((a, b), CONTROL.token, CONTROL.mm, CONTROL.dash)


# ---- parts -----------------------------------------------------------------------------------------------------------


def symbol_of(plan: PartPlan) -> Symbol | None:
    """The symbol of a part, or None where none is shipped under its name."""
    try:
        return symbol(plan.symbol)
    except KindError:
        return None


def placed(plan: PartPlan, points: Iterable[Point], stretched: bool, grow: float = 1.0) -> list[Point]:
    """Points of a symbol on the sheet: sized, mirrored, turned clockwise by quarters, moved."""
    width, height = plan.size
    out = []
    for x, y in points:
        if stretched:
            x, y = (x / 100.0 - 0.5) * width, (y / 100.0 - 1.0) * height
        elif plan.large:
            y -= height / 2
        x, y = x * grow, y * grow
        if plan.mirror:
            x = -x
        for _ in range(plan.turn):
            x, y = -y, x
        out.append((plan.at[0] + x, plan.at[1] + y))
    return out


def growth(plan: PartPlan, look: Look) -> float:
    """How much larger than to scale a fitting is drawn, so that it stays 14 pixels wide."""
    if plan.large or look.paper:
        return 1.0
    return max(1.0, 14.0 * look.px / 24.0)


def draw_part(plot: Plotter, look: Look, plan: PartPlan, state: str = "") -> None:
    """A part by its symbol; a joint by its arms and dot; a kind without a symbol by its box."""
    ink = "ink3" if state == "idle" else "ink"
    if plan.dot:
        _joint(plot, look, plan, state)
        return
    drawn = symbol_of(plan)
    grow = growth(plan, look)
    if drawn is None or (look.detail == 0 and not plan.large):
        x0, y0, x1, y1 = plan.box
        plot.area(
            [(x0, y0), (x1, y0), (x1, y1), (x0, y1)],
            "paper",
            ink,
            WEIGHTS_MM["large" if plan.large else "small"],
        )
        return
    base = WEIGHTS_MM["large" if plan.large else "small"]
    for k, shape in enumerate(drawn.shapes):
        points = placed(plan, shape.points, drawn.stretched, grow)
        if shape.text:
            if look.detail > 1:
                plot.letter(*points[0], shape.text, shape.size * grow, ink)
            continue
        if look.detail < 2 and k > 2 and not plan.large:
            continue
        mm = base * shape.stroke / SYMBOL_STROKE
        fill = {"paper": "paper", "ink": ink}.get(shape.fill, "")
        if fill:
            plot.area(points, fill, ink if mm else "", mm)
        elif mm:
            plot.line(points, ink, mm, (), shape.closed)


def _joint(plot: Plotter, look: Look, plan: PartPlan, state: str) -> None:
    arms = plan.arms
    for at, service in arms:
        token, mm = _ink(look, service_look(service), state)
        plot.line((plan.at, at), token, mm)
    token = _ink(look, service_look(arms[0][1]), state)[0] if arms else "ink"
    plot.area(circle(plan.at, max(DOT_MM * look.mm * (1.0 if look.detail > 1 else 0.6), 1.0)), token)


# ---- floors ----------------------------------------------------------------------------------------------------------


def draw_floors(
    plot: Plotter, look: Look, floors: Iterable[FloorPlan], left: float, right: float, names: bool = True
) -> None:
    """Each floor as a tinted slab under a line, from `left` to `right`; `names` writes name and height in the
    slab."""
    for floor in floors:
        y0, y1 = floor.y, floor.y + FLOOR_UNITS
        plot.push(floor.words, "floor")
        plot.area([(left, y0), (right, y0), (right, y1), (left, y1)], "floorfill")
        plot.line([(left, y1), (right, y1)], "line2", WEIGHTS_MM["floor_under"])
        plot.line([(left, y0), (right, y0)], "line2", WEIGHTS_MM["floor_top"])
        if names and look.detail > 1:
            plot.text(left + 8 * look.px, (y0 + y1) / 2, floor.words, 10.5, 600, "ink2", 0, "start")
        plot.pop()
