"""What stands in for a pipe that stretching cannot keep on its ports, while the hand still moves the parts at its ends.

Owns a quick choice among shapes of few bends, priced as the search prices its ways: a fraction of what the search
costs, and often the way that it would find. Refuses to know sheets and pipes; what is kept is always led by the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loopwright.sheet import routing
from loopwright.sheet.lines import (
    CORRIDOR_SAVING,
    COVERED_EXTRA,
    CROSSING,
    CROWDED_EXTRA,
    ENTERED,
    METRE,
    PITCH,
    SNAP,
    UNIT,
    Ints,
    Scene,
    scene_of,
    thinned,
)
from loopwright.sheet.plane import OPPOSITE, Dir, Point, to_mm

LINES = 16
"""About as many places a way, on each axis, are tried for the run in the middle."""
FRESH = 1
"""So many pipes a move get another shape, in turn; the others keep theirs, stretched, for as long as that will do."""
SEARCHES = 1
"""So many pipes a move for which no shape is clear are led by a short search; the others take the best shape."""
AROUND_M = 1.0
EFFORT = 20
_IMPOSSIBLE = np.int64(2**60)

_REVERSAL = round(routing.REVERSAL_M * METRE)


@dataclass(frozen=True, slots=True)
class Foot:
    """An end of the way. A port: its place and the way out. A held run: where it ends, and in `beyond` its other end;
    then the way may arrive from anywhere but along it."""

    at: Point
    side: Dir | None
    beyond: Point | None = None


Line = tuple[tuple[Point, ...], frozenset[int], int]
"""All vertices of a pipe, its held runs, and how often it enters a box where nothing better was to be had."""


@dataclass
class Hand:
    """What a drag remembers from one move to the next. `moved` and `still` are what moves along whole and what stands,
    boxes and runs."""

    still: Scene | None = None
    moved: Scene | None = None
    led: dict[str, Line] = field(default_factory=dict)
    """Pipes as they were led when the hand last rested."""
    shapes: dict[str, Line] = field(default_factory=dict)
    """Pipes by the last shape found for each, the one longest ago first."""
    owing: frozenset[str] = frozenset()
    """Pipes that the last move showed by a stand-in."""
    ground: Scene | None = None
    """What there was to go round at the last move."""
    searches: int = 0
    """How many short searches are left to this move."""

    def due(self, pipes: Iterable[str]) -> set[str]:
        """Those of some pipes whose turn it is to get another shape."""
        turn = {key: k for k, key in enumerate(self.shapes)}
        return set(sorted(pipes, key=lambda key: (turn.get(key, -1), key))[:FRESH])

    def may_search(self) -> bool:
        """Whether one more short search may be made, which then counts."""
        self.searches -= 1
        return self.searches >= 0

    def scene(self, shift: Point, runs: Iterable[NDArray[np.float64]]) -> Scene:
        """What there is to go round and beside with all moved by `shift` (m), and these runs (n, 2, 2) besides."""
        assert self.still is not None and self.moved is not None
        dx, dz = to_mm(shift[0]), to_mm(shift[1])
        more = scene_of(np.zeros((0, 4)), np.concatenate([np.zeros((0, 2, 2)), *runs]))
        return Scene(
            np.concatenate([self.still.boxes, self.moved.boxes + np.array([dx, dz, dx, dz])]),
            np.concatenate([self.still.levels, self.moved.levels + np.array([dz, dx, dx]), more.levels]),
            np.concatenate([self.still.risers, self.moved.risers + np.array([dx, dz, dz]), more.risers]),
        )


def shape(
    a: Foot, b: Foot, scene: Scene, heights: Sequence[float] = (), may_search: Callable[[], bool] = lambda: False
) -> tuple[Point, ...]:
    """Corners between two feet. `heights` (m) are taken where that costs little, as by the search.

    Where every shape enters a box a short search is made, if it may be; else one that enters few is taken.
    """
    near, (tip_a, root_a), (tip_b, root_b) = _place(a, b, scene)
    liked = np.unique(np.array([to_mm(z) for z in heights], dtype=np.int64))
    ways = _ways(tip_a, tip_b, near, liked)
    prices = price(_with_ends(ways, root_a, tip_a, tip_b, root_b), near, liked)
    best = int(np.argmin(prices))
    if prices[best] >= ENTERED and may_search():
        found = routing.route(
            a.at, _way_out(a), b.at, _way_out(b), near.boxes / 1000.0, _runs(near), EFFORT, windows=(AROUND_M,)
        )
        if found.cost < 1e6:
            return found.corners
    middle = [(int(x), int(z)) for x, z in ways[best]]
    port_a, port_b = ((to_mm(foot.at[0]), to_mm(foot.at[1])) for foot in (a, b))
    return routing.on_ends(routing.corners_of([port_a, tip_a, *middle, tip_b, port_b]), a.at, b.at)


def entered(line: Sequence[Point], boxes: Ints) -> int:
    """How often the runs of a right-angled polyline of vertices in metres, its first and last apart, enter a box (n, 4)
    of whole mm."""
    way = np.rint(np.array(line) * 1000.0)
    one, two = way[1:-2, None], way[2:-1, None]
    low, high = np.minimum(one, two), np.maximum(one, two)
    return int(np.count_nonzero(((low < boxes[:, 2:]) & (high > boxes[:, :2])).all(axis=2)))


def _way_out(foot: Foot) -> Dir | None:
    if foot.beyond is None:
        return foot.side
    dx, dz = foot.beyond[0] - foot.at[0], foot.beyond[1] - foot.at[1]
    along: Dir = ("right" if dx > 0 else "left") if abs(dx) >= abs(dz) else ("up" if dz > 0 else "down")
    return OPPOSITE[along]


def _runs(near: Scene) -> NDArray[np.float64]:
    levels, risers = near.levels[:, [1, 0, 2, 0]], near.risers[:, [0, 1, 0, 2]]
    return np.concatenate([levels, risers]).reshape(-1, 2, 2) / 1000.0


Mm = tuple[int, int]


def _place(a: Foot, b: Foot, scene: Scene) -> tuple[Scene, tuple[Mm, Mm], tuple[Mm, Mm]]:
    """What lies round both feet, and of each foot the tip that a way begins at with the place it comes from, mm."""
    at_a, at_b = ((to_mm(foot.at[0]), to_mm(foot.at[1])) for foot in (a, b))
    room = to_mm(AROUND_M)
    xs, zs = zip(at_a, at_b)
    near = scene.within(min(xs) - room, min(zs) - room, max(xs) + room, max(zs) + room)
    kept = np.ones(len(near.boxes), dtype=bool)
    for foot, (x, z) in ((a, at_a), (b, at_b)):
        if foot.beyond is not None:  # what the held run stands in does not count
            x0, z0, x1, z1 = near.boxes.T
            kept &= ~((x0 < x) & (x < x1) & (z0 < z) & (z < z1))
    near = Scene(near.boxes[kept], near.levels, near.risers)
    one, two = routing.ends_of(at_a, a.side, at_b, b.side, near.boxes)
    roots = [
        end.port if foot.beyond is None else (to_mm(foot.beyond[0]), to_mm(foot.beyond[1]))
        for foot, end in ((a, one), (b, two))
    ]
    return near, (one.stub, roots[0]), (two.stub, roots[1])


def _ways(a: Mm, b: Mm, near: Scene, liked: Ints) -> Ints:
    """Two corners (n, 2, 2) of each way with one run in the middle, upright or level; they may fall together."""
    room, boxes = to_mm(AROUND_M), near.boxes
    xs = [(boxes[:, 0] - PITCH) // SNAP * SNAP, -((-boxes[:, 2] - PITCH) // SNAP * SNAP)]
    zs = [(boxes[:, 1] - PITCH) // SNAP * SNAP, -((-boxes[:, 3] - PITCH) // SNAP * SNAP), liked]
    xs += [near.risers[:, 0] - PITCH, near.risers[:, 0] + PITCH]
    zs += [near.levels[:, 0] - PITCH, near.levels[:, 0] + PITCH]
    at = [
        thinned(
            np.concatenate([*lines, np.array([a[k] - PITCH, a[k] + PITCH, b[k] - PITCH, b[k] + PITCH])]),
            min(a[k], b[k]) - room,
            max(a[k], b[k]) + room,
            [a[k], b[k], (a[k] + b[k]) // 2 // SNAP * SNAP],
            LINES,
        )
        for k, lines in enumerate((xs, zs))
    ]
    out = np.empty((len(at[0]) + len(at[1]), 2, 2), dtype=np.int64)
    upright, level = out[: len(at[0])], out[len(at[0]) :]
    upright[:, :, 0], upright[:, 0, 1], upright[:, 1, 1] = at[0][:, None], a[1], b[1]
    level[:, :, 1], level[:, 0, 0], level[:, 1, 0] = at[1][:, None], a[0], b[0]
    return out


def _with_ends(ways: Ints, *ends: Mm) -> Ints:
    out = np.empty((len(ways), 6, 2), dtype=np.int64)
    out[:, 2:4] = ways
    for place, end in zip((0, 1, 4, 5), ends):
        out[:, place] = end
    return out


def price(ways: Ints, near: Scene, liked: Ints) -> Ints:
    """Prices (n,) of right-angled polylines (n, k, 2) of whole mm, in the units of the search. What is entered counts
    once a run; the first and the last run, which all have in common, do not count for that.

    A way that turns back on itself is impossible.
    """
    begin, end = ways[:, :-1], ways[:, 1:]
    step = end - begin
    length = np.abs(step).sum(axis=2)
    level = step[:, :, 0] != 0
    out = _bends(np.sign(step)) + (length * UNIT).sum(axis=1)
    if len(liked):
        saved = np.isin(begin[:, :, 1], liked) & level
        out -= (length * saved).sum(axis=1) * CORRIDOR_SAVING
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    low, high, upright, level = low[:, 1:-1], high[:, 1:-1], step[:, 1:-1, 1] != 0, level[:, 1:-1]
    x0, z0, x1, z1 = (side[:, :, None] for side in (low[..., 0], low[..., 1], high[..., 0], high[..., 1]))
    b = near.boxes
    inside = (x0 < b[:, 2]) & (x1 > b[:, 0]) & (z0 < b[:, 3]) & (z1 > b[:, 1]) & (level | upright)[:, :, None]
    out += inside.sum(axis=(1, 2)) * ENTERED
    for way, at, one, two, beside, across in (
        (level, z0, x0, x1, near.levels, near.risers),
        (upright, x0, z0, z1, near.risers, near.levels),
    ):
        gap = np.abs(at - beside[:, 0])
        shared = np.maximum(np.minimum(two, beside[:, 2]) - np.maximum(one, beside[:, 1]), 0)
        dear = np.where(gap == 0, COVERED_EXTRA, CROWDED_EXTRA) * (gap < PITCH) * shared
        met = (one < across[:, 0]) & (across[:, 0] < two) & (across[:, 1] <= at) & (at <= across[:, 2])
        for extra in (dear, met * CROSSING):
            if extra.shape[2]:
                out += (extra.sum(axis=2) * way).sum(axis=1)
    return out


def _bends(heading: Ints) -> Ints:
    """Price (n,) of the turns of ways by the headings (n, k, 2) of their runs; runs without length have none."""
    turns = np.zeros(len(heading), dtype=np.int64)
    last, rose = heading[:, 0].copy(), heading[:, 0, 1].copy()
    for k in range(1, heading.shape[1]):
        now = heading[:, k]
        there = np.abs(now).sum(axis=1) > 0
        along = (now * last).sum(axis=1)
        turns += (there & (np.abs(last).sum(axis=1) > 0) & (along == 0)) * routing.BEND
        turns[along < 0] = _IMPOSSIBLE
        up = now[:, 1]
        turns += (up * rose < 0) * _REVERSAL
        rose = np.where(up != 0, up, rose)
        last = np.where(there[:, None], now, last)
    return turns
