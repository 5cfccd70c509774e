"""Owns even spacing: things on a line that want a place each but must keep apart, and risers side by side.

Refuses to know what is spaced. Only risers are ever moved here, and only free ones: heights never change.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from loopwright.sheet.crossings import count_crossings
from loopwright.sheet.plane import PITCH_M, STUB_M, TINY_M, Box, Point, enters_box, same, to_mm
from loopwright.sheet.runs import runs_of

REACH_M = 0.30
"""Farthest a riser is slid."""
PITCH_SHARES = (1.0, 0.75, 0.5)
"""Pitches tried in turn, as shares of the full one, where the full one would move a riser too far."""
HAIR_M = 0.002
CHAIN = 6
"""Risers within this many pitches of each other, and overlapping in height, are one corridor."""


def spread(wanted: Sequence[float], gap: float, low: float = -inf, high: float = inf) -> list[float]:
    """Places nearest to the wanted ones (least squares) in the given order, at least `gap` apart, in low to
    high.

    Any unit. Where low to high is too short for all of them the gap shrinks evenly. Pool-adjacent-violators
    on the wanted places less their share of gaps; clamping that to the room left gives the optimum within the
    limits.
    """
    if not wanted:
        return []
    count = len(wanted)
    if count > 1 and (count - 1) * gap > high - low:
        gap = max(high - low, 0.0) / (count - 1)
    pools: list[list[float]] = []  # [sum, number]
    for k, place in enumerate(wanted):
        pools.append([place - k * gap, 1.0])
        while len(pools) > 1 and pools[-2][0] * pools[-1][1] > pools[-1][0] * pools[-2][1]:
            total, number = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += number
    top = high - (count - 1) * gap
    out: list[float] = []
    for total, number in pools:
        level = max(min(total / number, top), low)
        out += [level + (len(out) + n) * gap for n in range(int(number))]
    return out


@dataclass(frozen=True, slots=True)
class Riser:
    """An upright run: whose, which, where, and the way the level runs at its top and bottom go (-1 left, 1
    right, 0 none)."""

    pipe: str
    run: int
    x: float
    low: float
    high: float
    top: int
    bottom: int
    free: bool


def tidy_corridors(
    pipes: Mapping[str, Sequence[Point]],
    held: Mapping[str, frozenset[int]],
    boxes: Sequence[Box],
    only: Collection[str] | None = None,
    pitch_m: float = PITCH_M,
    reach_m: float = REACH_M,
) -> dict[str, tuple[Point, ...]]:
    """New polylines (all vertices) of the pipes whose free risers were set a pitch apart; unchanged pipes
    left out.

    `pipes` are all pipes of the sheet by id, all vertices; `held` the run numbers that may not move (runs
    with a fitting in line belong there too); `only` names the pipes that may change, None for all. A corridor
    is left as it is where tidying would move a riser more than `reach_m`, add a crossing, enter a box or
    spoil a stub.
    """
    now: dict[str, tuple[Point, ...]] = {pipe: tuple(points) for pipe, points in pipes.items()}
    risers = _risers(now, held, only)
    changed: set[str] = set()
    for corridor in _corridors([r for r in risers if r.free], pitch_m):
        for group, low, high in _between_walls(corridor, risers, boxes, pitch_m):
            crossings = max(count_crossings(now), count_crossings(_parted(now, group, risers)))
            for share in PITCH_SHARES:
                places = [to_mm(x) / 1000.0 for x in spread([r.x for r in group], share * pitch_m, low, high)]
                if all(same(x, r.x) for x, r in zip(places, group)):
                    break
                if any(abs(x - r.x) > reach_m + TINY_M for x, r in zip(places, group)):
                    continue
                trial = _placed(now, group, places)
                names = {r.pipe for r in group}
                sound = all(_sound(now[name], trial[name], boxes) for name in names)
                if sound and count_crossings(trial) <= crossings:
                    now = trial
                    changed |= names
                    break
    return {pipe: now[pipe] for pipe in pipes if pipe in changed}


def _placed(
    pipes: dict[str, tuple[Point, ...]], group: list[Riser], places: list[float]
) -> dict[str, tuple[Point, ...]]:
    """The pipes with the risers of a group at new x; their neighbours stretch."""
    out = dict(pipes)
    for riser, x in zip(group, places):
        points = list(out[riser.pipe])
        points[riser.run] = (x, points[riser.run][1])
        points[riser.run + 1] = (x, points[riser.run + 1][1])
        out[riser.pipe] = tuple(points)
    return out


def _parted(
    pipes: dict[str, tuple[Point, ...]], group: list[Riser], risers: list[Riser]
) -> dict[str, tuple[Point, ...]]:
    """The pipes with risers that lie on one line set a hair apart, in the order they will stand.

    Pipes on one line hide the crossings they have; only so parted can they be counted and compared.
    """
    places: list[float] = []
    for k, riser in enumerate(group):
        walls = [r for r in risers if not r.free and same(r.x, riser.x) and _overlap(r, riser)]
        tied = any(same(r.x, riser.x) for r in group if r is not riser)
        rank = k if tied or walls else 0
        if walls:
            rank = k - len(group) if _order(riser, walls[0]) < 0 else k + 1
        places.append(riser.x + rank * HAIR_M)
    return _placed(pipes, group, places)


def _risers(
    pipes: Mapping[str, tuple[Point, ...]],
    held: Mapping[str, frozenset[int]],
    only: Collection[str] | None,
) -> list[Riser]:
    """All upright runs of the sheet."""
    out: list[Riser] = []
    for pipe, points in pipes.items():
        for run in runs_of(points, held.get(pipe, frozenset())):
            if run.way != "upright":
                continue
            k = run.number
            up = run.end[1] > run.begin[1]
            before = _side(run.at_m, points[k - 1][0]) if k > 0 else 0
            after = _side(run.at_m, points[k + 2][0]) if k + 2 < len(points) else 0
            beside_slope = any(
                0 <= n < len(points) - 1 and not same(points[n][1], points[n + 1][1]) for n in (k - 1, k + 1)
            )
            free = run.hold == "free" and not beside_slope and (only is None or pipe in only)
            low, high = sorted((run.begin[1], run.end[1]))
            top, bottom = (after, before) if up else (before, after)
            out.append(Riser(pipe, k, run.at_m, low, high, top, bottom, free))
    return out


def _side(x: float, other_x: float) -> int:
    return 0 if same(x, other_x) else (1 if other_x > x else -1)


def _overlap(a: Riser, b: Riser) -> bool:
    return min(a.high, b.high) - max(a.low, b.low) > TINY_M


def _corridors(free: list[Riser], pitch_m: float) -> list[list[Riser]]:
    """Free risers chained by overlap in height and nearness, each corridor ordered from left to right."""
    left = sorted(free, key=lambda r: (r.x, r.pipe, r.run))
    out: list[list[Riser]] = []
    while left:
        group, queue = [], [left.pop(0)]
        while queue:
            riser = queue.pop()
            group.append(riser)
            near = [r for r in left if abs(r.x - riser.x) <= CHAIN * pitch_m + TINY_M and _overlap(r, riser)]
            left = [r for r in left if r not in near]
            queue += near
        out.append(_ordered(group))
    return out


def _ordered(group: list[Riser]) -> list[Riser]:
    """Left to right; risers on one line in the order that crosses least.

    "Crosses less" is no full order (many pairs do not care), so each riser is put in where it costs least,
    and taken out and put in again until nothing improves.
    """
    out: list[Riser] = []
    waiting = sorted(group, key=lambda r: (r.x, r.pipe, r.run))
    while waiting:
        first = waiting[0]
        line = [r for r in waiting if same(r.x, first.x)]
        waiting = waiting[len(line) :]
        order: list[Riser] = []
        for riser in line:
            order = _put_in(order, riser)
        for _ in range(4):
            again = order
            for riser in line:
                again = _put_in([r for r in again if r is not riser], riser)
            if _crossed(again) >= _crossed(order):
                break
            order = again
        out += order
    return out


def _put_in(order: list[Riser], riser: Riser) -> list[Riser]:
    """The order with one riser more, where it adds least."""
    tries = [[*order[:k], riser, *order[k:]] for k in range(len(order) + 1)]
    return min(tries, key=_crossed)


def _crossed(order: list[Riser]) -> tuple[int, int]:
    """How often risers in this order are crossed by each other's level runs; then how many leave the wrong
    way."""
    cost = wrong = 0
    for k, left in enumerate(order):
        for right in order[k + 1 :]:
            cost += _cost_of_order(left, right)
            wrong += left.top + left.bottom > right.top + right.bottom
    return cost, wrong


def _order(a: Riser, b: Riser) -> int:
    """Of two on one line, below 0 when a lies left: what crosses less, then the one leaving left lies
    left."""
    first, second = _cost_of_order(a, b), _cost_of_order(b, a)
    return first - second if first != second else (a.top + a.bottom) - (b.top + b.bottom)


def _cost_of_order(left: Riser, right: Riser) -> int:
    """How often the level runs at their ends cross the other riser, when `left` lies left of `right`."""
    cost = 0
    for one, other, way in ((left, right, 1), (right, left, -1)):
        for side, height in ((one.top, one.high), (one.bottom, one.low)):
            cost += side == way and other.low + TINY_M < height < other.high - TINY_M
    return cost


def _between_walls(
    corridor: list[Riser], risers: list[Riser], boxes: Sequence[Box], pitch_m: float
) -> list[tuple[list[Riser], float, float]]:
    """The corridor cut at the walls (risers that may not move, boxes): groups with the room each has in x."""
    fixed = [r for r in risers if not r.free]
    walls: list[Box] = [*boxes, *((r.x, r.low, r.x, r.high) for r in fixed)]
    groups: list[list[Riser]] = []
    for riser in corridor:
        if groups and not _wall_between(groups[-1][-1], riser, walls):
            groups[-1].append(riser)
        else:
            groups.append([riser])
    out = []
    for group in groups:
        low, high = -inf, inf
        for riser in group:
            for x0, z0, x1, z1 in walls:
                if min(riser.high, z1) - max(riser.low, z0) <= TINY_M:
                    continue
                if x1 <= riser.x - TINY_M:
                    low = max(low, x1 + pitch_m)
                elif x0 >= riser.x + TINY_M:
                    high = min(high, x0 - pitch_m)
            for wall in fixed:
                if same(wall.x, riser.x) and _overlap(wall, riser):  # on one line: to the side that crosses less
                    if _order(riser, wall) < 0:
                        high = min(high, wall.x - pitch_m)
                    else:
                        low = max(low, wall.x + pitch_m)
        if low <= high:
            out.append((group, low, high))
    return out


def _wall_between(a: Riser, b: Riser, walls: list[Box]) -> bool:
    """Whether something that may not move stands between two risers, beside either of them."""
    return any(
        a.x - TINY_M <= x0 and x1 <= b.x + TINY_M and any(min(r.high, z1) - max(r.low, z0) > TINY_M for r in (a, b))
        for x0, z0, x1, z1 in walls
    )


def _sound(old: tuple[Point, ...], new: tuple[Point, ...], boxes: Sequence[Box]) -> bool:
    """Whether the new polyline enters no box the old one did not, keeps its stubs, and turns no run round."""
    for (a, b), (c, d) in zip(pairwise(old), pairwise(new)):
        if any(enters_box(c, d, box) and not enters_box(a, b, box) for box in boxes):
            return False
        if (b[0] - a[0]) * (d[0] - c[0]) + (b[1] - a[1]) * (d[1] - c[1]) <= 0:
            return False
    for k in (0, -2):
        was, now = (abs(p[k][0] - p[k + 1][0]) + abs(p[k][1] - p[k + 1][1]) for p in (old, new))
        if now < min(STUB_M, was) - TINY_M:
            return False
    return True
