"""Owns where one pipe is drawn hopping over another: every place a riser crosses a level run of another pipe.

Refuses to know how a hop is drawn. Hops are derived from the polylines and never stored. Sloping runs have no
hops, and a pipe that ends on another does not cross it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, linestrings

from loopwright.sheet.plane import TINY_M, Box, Point

HOP_M = 0.055
"""Radius of a hop on the sheet at 100 %, m."""
Polylines = Mapping[str, Sequence[Point]]
"""All vertices of each pipe, ends included, by pipe id."""


@dataclass(frozen=True, slots=True)
class Hop:
    """Run number `run` of a pipe hops over the pipe `over` at `point`. `upright` when it is the riser that
    hops."""

    run: int
    point: Point
    upright: bool
    over: str


@dataclass(frozen=True, slots=True)
class _Runs:
    """Runs of one way: owner (n,), run number (n,), coordinate (n,), low (n,), high (n,), first end (n,)."""

    owner: NDArray[np.int64]
    number: NDArray[np.int64]
    at: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    begin: NDArray[np.float64]


def all_hops(pipes: Polylines, radius_m: float = HOP_M) -> dict[str, tuple[Hop, ...]]:
    """Every hop of the sheet, by pipe id; pipes without hops are left out.

    The riser hops unless the crossing lies within two radii of one of its corners or ends; then the level run
    hops, and where that is as near to a corner of its own, neither does. Hops are ordered along the pipe.
    """
    ids = list(pipes)
    risers, levels = _split(pipes, ids)
    if not len(risers.at) or not len(levels.at):
        return {}
    tree = STRtree(_lines(levels, upright=False))
    r, lv = tree.query(_lines(risers, upright=True))
    return _sorted(_hops(risers, levels, r, lv, ids, radius_m), pipes)


def hops_of(
    touched: Collection[str],
    pipes: Polylines,
    before: Mapping[str, tuple[Hop, ...]],
    radius_m: float = HOP_M,
) -> dict[str, tuple[Hop, ...]]:
    """All hops of the sheet after an edit, from those `before` it; only the touched pipes are looked at anew.

    `touched` are the pipes drawn, changed or deleted by the edit. A pipe whose hops did not change keeps the
    same tuple, so that `is` tells what must be painted again.
    """
    ids = list(pipes)
    now = [pipe for pipe in ids if pipe in touched]
    risers, levels = _split(pipes, ids)
    mine = np.array([pipe in touched for pipe in ids], dtype=bool)
    found: dict[str, list[Hop]] = {}
    if now and len(risers.at) and len(levels.at):
        my_risers, my_levels = np.flatnonzero(mine[risers.owner]), np.flatnonzero(mine[levels.owner])
        others = np.flatnonzero(~mine[risers.owner])
        one = _meeting(risers, my_risers, levels, np.arange(len(levels.at)))
        two = _meeting(risers, others, levels, my_levels)
        r, lv = np.concatenate([one[0], two[0]]), np.concatenate([one[1], two[1]])
        found = _hops(risers, levels, r, lv, ids, radius_m)
    out: dict[str, tuple[Hop, ...]] = {}
    for pipe in ids:
        kept = () if pipe in touched else before.get(pipe, ())
        stays = tuple(hop for hop in kept if hop.over not in touched)
        if pipe not in found:
            hops = kept if len(stays) == len(kept) else stays
        else:
            hops = _sorted({pipe: [*stays, *found[pipe]]}, pipes)[pipe]
            hops = before[pipe] if before.get(pipe) == hops else hops
        if hops:
            out[pipe] = hops
    return out


def count_crossings(pipes: Polylines) -> int:
    """Number of places where a riser of one pipe crosses a level run of another, hopped or not."""
    ids = list(pipes)
    risers, levels = _split(pipes, ids)
    if not len(risers.at) or not len(levels.at):
        return 0
    r, lv = STRtree(_lines(levels, upright=False)).query(_lines(risers, upright=True))
    return int(np.count_nonzero(_true(risers, levels, r, lv)))


def _split(pipes: Polylines, ids: list[str]) -> tuple[_Runs, _Runs]:
    """All risers and all level runs of the sheet as arrays."""
    points = [np.asarray(pipes[pipe], dtype=np.float64).reshape(-1, 2) for pipe in ids]
    if not points:
        empty, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return (_Runs(none, none, empty, empty, empty, empty),) * 2
    counts = np.array([max(len(p) - 1, 0) for p in points])
    a = np.concatenate([p[:-1] for p in points])
    b = np.concatenate([p[1:] for p in points])
    owner = np.repeat(np.arange(len(ids)), counts)
    number = np.concatenate([np.arange(n) for n in counts])
    dx, dz = np.abs(a[:, 0] - b[:, 0]), np.abs(a[:, 1] - b[:, 1])
    out = []
    for which, at, along in (
        ((dx <= TINY_M) & (dz > TINY_M), 0, 1),
        ((dz <= TINY_M) & (dx > TINY_M), 1, 0),
    ):
        p, q = a[which], b[which]
        low, high = np.minimum(p[:, along], q[:, along]), np.maximum(p[:, along], q[:, along])
        out.append(_Runs(owner[which], number[which], p[:, at], low, high, p[:, along]))
    return out[0], out[1]


def _lines(runs: _Runs, *, upright: bool) -> NDArray[np.object_]:
    """The runs as shapely line strings."""
    one = np.stack([runs.at, runs.low] if upright else [runs.low, runs.at], axis=1)
    two = np.stack([runs.at, runs.high] if upright else [runs.high, runs.at], axis=1)
    lines: NDArray[np.object_] = linestrings(np.stack([one, two], axis=1))
    return lines


def _meeting(
    risers: _Runs, r: NDArray[np.int64], levels: _Runs, lv: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs (riser, level run) out of the given ones whose lines meet, by comparing each with each."""
    x, low, high = risers.at[r][:, None], risers.low[r][:, None], risers.high[r][:, None]
    meets = (levels.low[lv] < x) & (x < levels.high[lv]) & (low < levels.at[lv]) & (levels.at[lv] < high)
    one, two = np.nonzero(meets)
    return r[one], lv[two]


def _true(risers: _Runs, levels: _Runs, r: NDArray[np.int64], lv: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of the pairs cross inside both runs and belong to two pipes."""
    x, z = risers.at[r], levels.at[lv]
    inside = (np.minimum(x - levels.low[lv], levels.high[lv] - x) > TINY_M) & (
        np.minimum(z - risers.low[r], risers.high[r] - z) > TINY_M
    )
    both: NDArray[np.bool_] = inside & (risers.owner[r] != levels.owner[lv])
    return both


def _hops(
    risers: _Runs,
    levels: _Runs,
    r: NDArray[np.int64],
    lv: NDArray[np.int64],
    ids: list[str],
    radius_m: float,
) -> dict[str, list[Hop]]:
    """Hops for the pairs that truly cross, given to the riser or to the level run."""
    true = _true(risers, levels, r, lv)
    r, lv = r[true], lv[true]
    x, z = risers.at[r], levels.at[lv]
    room = 2.0 * radius_m - TINY_M / 10.0
    riser_hops = np.minimum(z - risers.low[r], risers.high[r] - z) >= room
    level_hops = ~riser_hops & (np.minimum(x - levels.low[lv], levels.high[lv] - x) >= room)
    out: dict[str, list[Hop]] = {}
    for which, mine, m, theirs, t, upright in (
        (riser_hops, risers, r, levels, lv, True),
        (level_hops, levels, lv, risers, r, False),
    ):
        for k in np.flatnonzero(which):
            hop = Hop(int(mine.number[m[k]]), (float(x[k]), float(z[k])), upright, ids[int(theirs.owner[t[k]])])
            out.setdefault(ids[int(mine.owner[m[k]])], []).append(hop)
    return out


def _sorted(found: Mapping[str, list[Hop]], pipes: Polylines) -> dict[str, tuple[Hop, ...]]:
    """Hops of each pipe in the order one meets them going from end a to end b."""
    out: dict[str, tuple[Hop, ...]] = {}
    for pipe, hops in found.items():
        points = pipes[pipe]

        def place(hop: Hop, points: Sequence[Point] = points) -> tuple[int, float, str]:
            begin = points[hop.run]
            return hop.run, abs(hop.point[0] - begin[0]) + abs(hop.point[1] - begin[1]), hop.over

        out[pipe] = tuple(sorted(hops, key=place))
    return out


class Crossings:
    """The hops of a sheet's pipes, kept in step with their lines: an edit has only the pipes near it looked at."""

    def __init__(self) -> None:
        self.lines: dict[str, tuple[Point, ...]] = {}
        """All vertices of each pipe."""
        self.hops: dict[str, tuple[Hop, ...]] = {}
        """Hops by pipe id; pipes without any are left out."""
        self._boxes: dict[str, Box] = {}
        self._over: dict[str, set[str]] = {}

    def over(self, pipe: str) -> Collection[str]:
        """The pipes that hop over one."""
        return self._over.get(pipe, ())

    def update(self, lines: Mapping[str, tuple[Point, ...]], gone: Collection[str] = ()) -> set[str]:
        """Take new lines of some pipes, and others away. Gives the pipes, touched or not, whose hops differ now."""
        for pipe in gone:
            self.lines.pop(pipe, None)
            self._boxes.pop(pipe, None)
        for pipe, line in lines.items():
            self.lines[pipe] = line
            xs, zs = zip(*line)
            self._boxes[pipe] = (min(xs), min(zs), max(xs), max(zs))
        touched = {*lines, *gone}
        if not touched:
            return set()
        near: Collection[str]
        if len(touched) > len(self.lines) // 2:
            found, near = all_hops(self.lines), {*self.lines, *gone}
        else:
            near = self._near(lines) | {other for pipe in touched for other in self.over(pipe)} | touched
            some = {pipe: self.lines[pipe] for pipe in near if pipe in self.lines}
            found = hops_of(touched, some, {pipe: self.hops[pipe] for pipe in some if pipe in self.hops})
        changed = {pipe for pipe in near if self.hops.get(pipe, ()) != found.get(pipe, ())}
        for pipe in changed:
            self._replace(pipe, found.get(pipe, ()))
        return changed & self.lines.keys()

    def _near(self, lines: Mapping[str, tuple[Point, ...]]) -> set[str]:
        """Pipes whose boxes meet the box round these lines."""
        if not lines:
            return set()
        left, foot, right, top = zip(*(self._boxes[pipe] for pipe in lines))
        x0, z0, x1, z1 = min(left), min(foot), max(right), max(top)
        return {k for k, b in self._boxes.items() if b[0] <= x1 and x0 <= b[2] and b[1] <= z1 and z0 <= b[3]}

    def _replace(self, pipe: str, hops: tuple[Hop, ...]) -> None:
        for hop in self.hops.pop(pipe, ()):
            self._over[hop.over].discard(pipe)
        if hops:
            self.hops[pipe] = hops
        for hop in hops:
            self._over.setdefault(hop.over, set()).add(pipe)
