"""Where the coils of a vessel run inside it: side by side wherever they share heights, tails to their tappings.

Owns the lanes of coils and the line of each. Refuses to know back ends and what a coil carries.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import combinations, product
from math import cos, pi, sin

from loopwright.drawing.look import Point
from loopwright.drawing.plans import CoilPlan, TappingPlan
from loopwright.sheet.values import Coil, Part

INNERMOST, OUTERMOST, BETWEEN = 0.10, 0.78, 0.12
"""Shares of the radius: where windings begin and end, and what stays free between two lanes."""
TURN_UNITS = 6.5
CROSSING_COST, AWAY_COST = 0.3, 0.05
"""Metres of shared height that one tail through another coil is worth, and a coil away from its tappings."""
MOST_WEIGHED = 8
"""With more coils than this each goes to its own side."""

Span = tuple[float, float, int, tuple[tuple[float, int], ...]]
"""Of a coil: bottom and top, m, the half it would like (-1 left, 1 right), and height and side of each tail."""


def plan_coils(part: Part, taps: Mapping[str, TappingPlan], base: Point, radius: float) -> tuple[CoilPlan, ...]:
    """Zigzags, the shortest first, no two in one lane at one height."""
    windings = sorted((c for c in part.coils if c.purpose != "tank"), key=lambda c: c.top_m - c.bottom_m)
    lanes = dict(zip((c.name for c in windings), lanes_of(tuple(_span(c, taps) for c in windings))))
    out = []
    for coil in sorted(part.coils, key=lambda c: c.top_m - c.bottom_m):
        lower, upper = taps.get(coil.lower), taps.get(coil.upper)
        if coil.purpose == "tank":
            out.append(_tank(coil, lower, upper, base, radius))
        else:
            out.append(_winding(coil, lower, upper, base, radius, lanes[coil.name]))
    return tuple(out)


def _span(coil: Coil, taps: Mapping[str, TappingPlan]) -> Span:
    ends = [t for t in (taps.get(coil.lower), taps.get(coil.upper)) if t is not None]
    sides = [t.side for t in ends]
    tails = tuple((t.height_m, -1 if t.side == "left" else 1) for t in ends if t.side in ("left", "right"))
    return coil.bottom_m, coil.top_m, -1 if sides.count("left") > sides.count("right") else 1, tails


@lru_cache(maxsize=256)
def lanes_of(spans: tuple[Span, ...]) -> tuple[tuple[float, float], ...]:
    """Of each coil where its windings begin and end, shares of the radius, negative on the left.

    Halves are chosen so that coils share as little height as they can, few tails pass through another coil, and
    coils stay by their tappings. Those of one half that still share heights get lanes beside each other, the
    shorter outside.
    """
    wanted = tuple(span[2] for span in spans)
    if len(spans) <= MOST_WEIGHED:
        halves = min(
            product((-1, 1), repeat=len(spans)), key=lambda h: (_cost(spans, h), [a != b for a, b in zip(h, wanted)])
        )
    else:
        halves = wanted
    lane = [0] * len(spans)
    for k, span in enumerate(spans):
        used = {lane[j] for j in range(k) if halves[j] == halves[k] and _shared(spans[j], span) > 0}
        lane[k] = next(n for n in range(len(spans)) if n not in used)
    out = []
    for k, half in enumerate(halves):
        beside = max(lane[j] for j in _group(spans, halves, k)) + 1
        wide = (OUTERMOST - INNERMOST - BETWEEN * (beside - 1)) / beside
        outer = OUTERMOST - lane[k] * (wide + BETWEEN)
        out.append((half * (outer - wide), half * outer))
    return tuple(out)


def _group(spans: Sequence[Span], halves: Sequence[int], start: int) -> set[int]:
    """The coil and all those of its half that it shares heights with, from one to the next."""
    found, todo = {start}, [start]
    while todo:
        one = todo.pop()
        for k in range(len(spans)):
            if k not in found and halves[k] == halves[start] and _shared(spans[one], spans[k]) > 0:
                found.add(k)
                todo.append(k)
    return found


def _shared(one: Span, two: Span) -> float:
    return min(one[1], two[1]) - max(one[0], two[0])


def _cost(spans: Sequence[Span], halves: Sequence[int]) -> float:
    cost = sum(
        max(_shared(spans[a], spans[b]), 0.0) for a, b in combinations(range(len(spans)), 2) if halves[a] == halves[b]
    )
    for k, (_, _, wanted, tails) in enumerate(spans):
        cost += AWAY_COST * (halves[k] != wanted)
        for j, (bottom, top, _, _) in enumerate(spans):
            if j != k:
                cost += CROSSING_COST * sum(
                    side != halves[k] and halves[j] == side and bottom < height < top for height, side in tails
                )
    return cost


def _winding(
    coil: Coil,
    lower: TappingPlan | None,
    upper: TappingPlan | None,
    base: Point,
    radius: float,
    lane: tuple[float, float],
) -> CoilPlan:
    """A zigzag between the coil's two heights, with its tails."""
    inner, outer = base[0] + lane[0] * radius, base[0] + lane[1] * radius
    y0, y1 = base[1] - coil.bottom_m * 100.0, base[1] - coil.top_m * 100.0
    turns = max(2, round(abs(y0 - y1) / TURN_UNITS))
    zigzag = [(outer if k % 2 else inner, y0 + (y1 - y0) * k / (2 * turns)) for k in range(2 * turns + 1)]
    points = [*_tail(lower, zigzag[0], base[0]), *zigzag, *reversed(_tail(upper, zigzag[-1], base[0]))]
    return CoilPlan(coil.name, tuple(points), _service(lower, upper))


def _tank(coil: Coil, lower: TappingPlan | None, upper: TappingPlan | None, base: Point, radius: float) -> CoilPlan:
    """A vessel within the vessel, in the middle of the body, with a tail to each of its tappings."""
    half, y0, y1 = radius * 0.5, base[1] - coil.bottom_m * 100.0, base[1] - coil.top_m * 100.0
    dome = min(7.0, (y0 - y1) / 4, half)
    steps = 12
    over = [(base[0] - half * cos(pi * k / steps), y1 + dome - dome * sin(pi * k / steps)) for k in range(steps + 1)]
    under = [(base[0] + half * cos(pi * k / steps), y0 - dome + dome * sin(pi * k / steps)) for k in range(steps + 1)]
    first = [*_tail(lower, (base[0], y0), base[0]), (base[0], y0)] if lower else []
    last = [(base[0], y1), *reversed(_tail(upper, (base[0], y1), base[0]))] if upper else []
    return CoilPlan(coil.name, tuple(first + last), _service(lower, upper), tuple(over + under))


def _service(lower: TappingPlan | None, upper: TappingPlan | None) -> str:
    return next((t.service for t in (upper, lower) if t is not None and t.service), "")


def _tail(tap: TappingPlan | None, end: Point, middle: float) -> list[Point]:
    """The way from a tapping to the end of a zigzag, tapping first."""
    if tap is None:
        return []
    if tap.side in ("top", "bottom"):
        return [tap.shell, (middle, end[1])]
    if abs(tap.shell[1] - end[1]) < 0.5:
        return [tap.shell]
    return [tap.shell, (middle + (end[0] - middle) * 0.5, tap.shell[1])]
