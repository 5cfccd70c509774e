"""How a store is drawn: insulation with its hatch, shell with domed ends, layers, coils, stubs and pockets.

Owns the geometry of a vessel, cut with shapely so that no back end has to clip. Refuses to know labels and
windows.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import cos, pi, sin

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box

from loopwright.drawing.ink import circle, faded, mixed
from loopwright.drawing.look import WEIGHTS_MM, Look, Point, service_look
from loopwright.drawing.plan import StorePlan, TappingPlan
from loopwright.drawing.plotter import Plotter

DOME = 9.0
"""Height of a domed end, drawing units."""
HATCH_UNITS = 4.6
LAYER_STOPS: tuple[tuple[float, str], ...] = (
    (20.0, "#2B5CA6"),
    (38.0, "#84AED8"),
    (52.0, "#ECE5D6"),
    (70.0, "#E8A27C"),
    (95.0, "#B3261E"),
)
IDLE_LAYERS = 6


def layer_colour(temperature_c: float) -> str:
    """The full colour of water at a temperature, interpolated in sRGB between the stops."""
    low_t, low = LAYER_STOPS[0]
    if temperature_c <= low_t:
        return low
    for (t0, c0), (t1, c1) in pairwise(LAYER_STOPS):
        if temperature_c <= t1:
            return mixed(c1, c0, (temperature_c - t0) / (t1 - t0))
    return LAYER_STOPS[-1][1]


@lru_cache(maxsize=256)
def shell_points(radius: float, height: float) -> tuple[Point, ...]:
    """The shell about the middle of its base, y down, with domed ends."""
    dome = min(DOME, height / 4, radius)
    steps = 16
    top = [(-radius * cos(pi * k / steps), -height + dome - dome * sin(pi * k / steps)) for k in range(steps + 1)]
    foot = [(radius * cos(pi * k / steps), -dome + dome * sin(pi * k / steps)) for k in range(steps + 1)]
    return tuple(top + foot)


@lru_cache(maxsize=256)
def jacket_points(radius: float, height: float, lagging: float) -> tuple[Point, ...]:
    """The outside of the insulation, corners rounded."""
    r = radius + lagging
    shape = box(-r, -height - lagging, r, 2.0)
    round_by = min(lagging, 8.0)
    outside = shape.buffer(-round_by).buffer(round_by, quad_segs=6)
    return tuple((float(x), float(y)) for x, y in outside.exterior.coords[:-1])


@lru_cache(maxsize=256)
def hatch_lines(radius: float, height: float, lagging: float) -> tuple[tuple[Point, Point], ...]:
    """45-degree lines inside the insulation, outside the shell."""
    ring = Polygon(jacket_points(radius, height, lagging)).difference(Polygon(shell_points(radius, height)).buffer(0.6))
    x0, y0, x1, y1 = ring.bounds
    lines = []
    at = x0 - (y1 - y0)
    while at < x1:
        lines.append(LineString([(at, y1), (at + (y1 - y0), y0)]))
        at += HATCH_UNITS * 1.41421356
    cut = shapely.intersection(MultiLineString(lines), ring)
    pieces = [g for g in getattr(cut, "geoms", [cut]) if isinstance(g, LineString) and g.length > 0.8]
    return tuple(
        ((float(g.coords[0][0]), float(g.coords[0][1])), (float(g.coords[-1][0]), float(g.coords[-1][1])))
        for g in pieces
    )


@lru_cache(maxsize=512)
def bands(radius: float, height: float, count: int) -> tuple[tuple[Point, ...], ...]:
    """The inside of the shell cut into layers of equal height, lowest first."""
    shell = Polygon(shell_points(radius, height))
    out = []
    for k in range(count):
        low, high = -height * k / count, -height * (k + 1) / count
        cut = shell.intersection(box(-radius, high, radius, low + 0.05))
        if isinstance(cut, MultiPolygon):
            cut = max(cut.geoms, key=lambda g: g.area)
        out.append(tuple((float(x), float(y)) for x, y in cut.exterior.coords[:-1]) if not cut.is_empty else ())
    return tuple(out)


def moved(points: Sequence[Point], by: Point) -> list[Point]:
    """Points moved by a step."""
    return [(x + by[0], y + by[1]) for x, y in points]


def draw_store(plot: Plotter, look: Look, plan: StorePlan, state: str = "") -> None:
    """A store or cylinder with everything inside and on it, except its letters."""
    ink = "ink3" if state == "idle" else "ink"
    r, h, lag, base = round(plan.radius, 2), round(plan.height, 2), round(plan.lagging, 2), plan.base
    if lag > 0.0:
        plot.area(moved(jacket_points(r, h, lag), base), "ins", "line2", 0.20)
        if look.detail > 1:
            for a, b in hatch_lines(r, h, lag):
                plot.line(moved((a, b), base), "hatch", WEIGHTS_MM["hatch"])
    draw_layers(plot, look, plan)
    for tap in plan.tappings:
        _stub(plot, look, tap, ink, state)
    shell = moved(shell_points(r, h), base)
    plot.area(shell, "", ink, WEIGHTS_MM["shell"])
    if look.detail > 0:
        for coil in plan.coils:
            token = service_look(coil.service).token if coil.service else ink
            token = faded(look, token) if state == "idle" else token
            if len(coil.points) > 1:
                plot.line(coil.points, "paper", WEIGHTS_MM["coil"] + 0.55)
                plot.line(coil.points, token, WEIGHTS_MM["coil"])
            if coil.vessel:
                plot.area(coil.vessel, "paper", "paper", WEIGHTS_MM["coil"] + 0.55)
                plot.area(coil.vessel, "water", token, WEIGHTS_MM["coil"])
        for tap in plan.tappings:
            if tap.kind == "pocket":
                plot.line((_outside(tap, lag), tap.ends), ink, 0.30)
                plot.area(circle(tap.ends, 0.5 * look.mm, 14), "paper", ink, 0.35)


def draw_layers(plot: Plotter, look: Look, plan: StorePlan) -> None:
    """The water in the shell: six pale tints while nothing is known, else a band a layer in its colour,
    paled."""
    count = len(plan.layers_c) or IDLE_LAYERS
    for k, band in enumerate(bands(round(plan.radius, 2), round(plan.height, 2), count)):
        if not band:
            continue
        if plan.layers_c and look.palette != "print":
            colour = mixed(
                layer_colour(plan.layers_c[k]), look.colour("paper"), 0.5 if look.palette == "light" else 0.55
            )
        else:
            colour = f"layer{min(5, k * IDLE_LAYERS // count)}"
        plot.area(moved(band, plan.base), colour)


def _outside(tap: TappingPlan, lagging: float) -> Point:
    """Where a pocket's head stands: outside the insulation."""
    sign = {"left": (-1, 0), "right": (1, 0), "top": (0, -1), "bottom": (0, 1)}[tap.side]
    return tap.shell[0] + sign[0] * (lagging + 3.0), tap.shell[1] + sign[1] * (lagging + 3.0)


def _stub(plot: Plotter, look: Look, tap: TappingPlan, ink: str, state: str) -> None:
    """A flange on the shell and a stub through the insulation, in the colour of its water."""
    if tap.kind == "pocket":
        return
    way = (1.0, 0.0) if tap.side in ("left", "right") else (0.0, 1.0)
    out = -1.0 if tap.side in ("left", "top") else 1.0
    half = 0.75 * look.mm
    service = service_look(tap.service)
    token, mm = (service.token, service.mm) if tap.service else (ink, 0.5)
    token = faded(look, token) if state == "idle" and tap.service else token
    plot.line((tap.shell, tap.ends), "paper", mm + 0.5)
    plot.line((tap.shell, tap.ends), token, mm)
    if look.detail > 1:
        for gap in (0.35, 0.95):
            x, y = tap.shell[0] + way[0] * out * gap * look.mm, tap.shell[1] + way[1] * out * gap * look.mm
            plot.line([(x - way[1] * half, y - way[0] * half), (x + way[1] * half, y + way[0] * half)], ink, 0.35)
    end = tap.ends
    if tap.kind == "capped":
        plot.line(
            [
                (end[0] - way[1] * half * 1.3, end[1] - way[0] * half * 1.3),
                (end[0] + way[1] * half * 1.3, end[1] + way[0] * half * 1.3),
            ],
            ink,
            0.55,
        )
    elif tap.kind == "open" and look.detail > 0:
        plot.area(circle(end, 0.55 * look.mm, 14), "paper", "ink3", 0.35)
