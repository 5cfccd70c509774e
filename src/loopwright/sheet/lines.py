"""Owns the graph a pipe is routed on: sparse lines beside boxes and pipes, and the price of each edge between
them.

Refuses to know ports, bends or searches. Everything here is in whole millimetres (int64), and prices are
whole numbers too, so equal routes cost exactly the same and a mirrored sheet has exactly mirrored prices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopwright.sheet.plane import PITCH_M

Ints = NDArray[np.int64]

UNIT = 100
"""Price of one millimetre of plain pipe; a metre is 100 000."""
METRE = 1000 * UNIT
CORRIDOR_SAVING = 15
"""Off the price of a millimetre that runs exactly one pitch beside another pipe (x 0.85)."""
CROWDED_EXTRA = 400
"""On the price of a millimetre nearer than a pitch to a parallel pipe (x 5)."""
COVERED_EXTRA = 1900
"""On the price of a millimetre on top of a parallel pipe (x 20): two pipes drawn as one cannot be read."""
CROSSING = 35 * METRE // 100
ENTERED = 1_000_000 * METRE
"""Price of passing through one box. Half is paid at each side crossed, half for each end that lies inside."""
PITCH = round(PITCH_M * 1000)
SNAP = 50


@dataclass(frozen=True, slots=True)
class Grid:
    """Lines and prices. `across[j, i]` is the edge (xs[i], zs[j]) to (xs[i+1], zs[j]); `upward[j, i]`
    likewise up."""

    xs: Ints
    zs: Ints
    across: Ints
    upward: Ints


@dataclass(frozen=True, slots=True)
class Scene:
    """What a route has to mind, in millimetres: boxes (n, 4), level runs (n, 3) as (z, x0, x1), risers (n, 3)
    as (x, z0, z1)."""

    boxes: Ints
    levels: Ints
    risers: Ints

    def within(self, x0: int, z0: int, x1: int, z1: int) -> Scene:
        """Only what lies in or touches the window, a pitch of margin included."""
        m = PITCH
        b, lv, rs = self.boxes, self.levels, self.risers
        return Scene(
            b[(b[:, 2] >= x0 - m) & (b[:, 0] <= x1 + m) & (b[:, 3] >= z0 - m) & (b[:, 1] <= z1 + m)],
            lv[(lv[:, 0] >= z0 - m) & (lv[:, 0] <= z1 + m) & (lv[:, 2] >= x0) & (lv[:, 1] <= x1)],
            rs[(rs[:, 0] >= x0 - m) & (rs[:, 0] <= x1 + m) & (rs[:, 2] >= z0) & (rs[:, 1] <= z1)],
        )

    def bounds(self) -> tuple[int, int, int, int] | None:
        """Smallest window holding everything, or None when there is nothing."""
        parts = [self.boxes, self.levels[:, [1, 0, 2, 0]], self.risers[:, [0, 1, 0, 2]]]
        every = np.concatenate(parts)
        if not len(every):
            return None
        low, high = every.min(axis=0), every.max(axis=0)
        return int(low[0]), int(low[1]), int(high[2]), int(high[3])


def scene_of(boxes_m: NDArray[np.float64], runs_m: NDArray[np.float64]) -> Scene:
    """Boxes (n, 4) and runs (n, 2, 2) in metres as a scene in millimetres. Sloping and empty runs are left
    out."""
    boxes = _mm(boxes_m.reshape(-1, 4))
    runs = _mm(runs_m.reshape(-1, 4))
    level = (runs[:, 1] == runs[:, 3]) & (runs[:, 0] != runs[:, 2])
    riser = (runs[:, 0] == runs[:, 2]) & (runs[:, 1] != runs[:, 3])
    lv, rs = runs[level], runs[riser]
    levels = np.stack([lv[:, 1], np.minimum(lv[:, 0], lv[:, 2]), np.maximum(lv[:, 0], lv[:, 2])], axis=1)
    risers = np.stack([rs[:, 0], np.minimum(rs[:, 1], rs[:, 3]), np.maximum(rs[:, 1], rs[:, 3])], axis=1)
    return Scene(boxes, levels, risers)


def lay(
    scene: Scene,
    window: tuple[int, int, int, int],
    must: tuple[list[int], list[int]],
    favoured: Ints,
    cap: int,
) -> Grid:
    """The grid for one window.

    `must` are the x and z that are always lines (ports and stub ends); `favoured` heights become lines that
    cost x 0.85 all along. At most about `cap` lines an axis: those nearest the ends are kept.
    """
    x0, z0, x1, z1 = window
    near = scene.within(x0, z0, x1, z1)
    b = near.boxes
    # beside a box: outwards onto the snap, so that new runs lie on round figures
    xs = [(b[:, 0] - PITCH) // SNAP * SNAP, -((-b[:, 2] - PITCH) // SNAP * SNAP)]
    zs = [(b[:, 1] - PITCH) // SNAP * SNAP, -((-b[:, 3] - PITCH) // SNAP * SNAP), favoured]
    # beside the ends, so that a pipe can turn back where nothing else is drawn
    xs += [np.array([x + d for x in must[0] for d in (-PITCH, PITCH)], dtype=np.int64)]
    zs += [np.array([z + d for z in must[1] for d in (-PITCH, PITCH)], dtype=np.int64)]
    xs += [near.risers[:, 0] - PITCH, near.risers[:, 0] + PITCH]
    zs += [near.levels[:, 0] - PITCH, near.levels[:, 0] + PITCH]
    xl = thinned(np.concatenate(xs), x0, x1, must[0], cap)
    zl = thinned(np.concatenate(zs), z0, z1, must[1], cap)
    across = _prices(xl, zl, b, near.levels, near.risers)
    if len(favoured):
        liked = np.isin(zl, favoured)
        plain = liked[:, None] & (across == np.diff(xl)[None, :] * UNIT)
        across[plain] = across[plain] // UNIT * (UNIT - CORRIDOR_SAVING)
    upward = _prices(zl, xl, b[:, [1, 0, 3, 2]], near.risers, near.levels).T
    return Grid(xl, zl, across, np.ascontiguousarray(upward))


def thinned(lines: Ints, low: int, high: int, must: list[int], cap: int) -> Ints:
    """Sorted distinct lines between low and high, at most about `cap` of them; `must` is always among them.

    Lines tied for the last place are all kept: choosing one would favour a side.
    """
    fixed = np.array(must, dtype=np.int64)
    lines = np.unique(lines[(lines >= low) & (lines <= high)])
    if len(lines) > cap:
        first, last = fixed.min(), fixed.max()
        outside = np.maximum(np.maximum(first - lines, lines - last), 0)
        beside = np.abs(lines[:, None] - fixed[None, :]).min(axis=1)
        key = outside * 100_000_000 + beside
        lines = lines[key <= np.partition(key, cap - 1)[cap - 1]]
    return np.unique(np.concatenate([lines, fixed]))


def _prices(along: Ints, lines: Ints, boxes: Ints, parallel: Ints, crossing: Ints) -> Ints:
    """Price of each edge [line, k] from along[k] to along[k + 1].

    `boxes` as (along0, line0, along1, line1), `parallel` runs as (line, along0, along1), `crossing` runs as
    (along, line0, line1).
    """
    start, end = along[:-1], along[1:]
    price = np.broadcast_to((end - start) * UNIT, (len(lines), len(start))).copy()
    if not len(start):
        return price
    if len(boxes):
        hit = (lines[:, None] > boxes[:, 1]) & (lines[:, None] < boxes[:, 3])
        into = ((start <= boxes[:, :1]) & (boxes[:, :1] < end)).astype(np.float64)
        into += (start < boxes[:, 2:3]) & (boxes[:, 2:3] <= end)
        price += (hit.astype(np.float64) @ into).astype(np.int64) * (ENTERED // 2)
    if len(crossing):
        met = (lines[:, None] >= crossing[:, 1]) & (lines[:, None] <= crossing[:, 2])
        # a run exactly on a line is shared half and half by the edges on its two sides
        inside = ((start <= crossing[:, :1]) & (crossing[:, :1] < end)).astype(np.float64)
        inside += (start < crossing[:, :1]) & (crossing[:, :1] <= end)
        price += (met.astype(np.float64) @ inside).astype(np.int64) * (CROSSING // 2)
    if len(parallel):
        gap = np.abs(lines[:, None] - parallel[:, 0])
        crowded = _shared(start, end, parallel, gap < PITCH)
        beside = _shared(start, end, parallel, gap == PITCH)
        price += CROWDED_EXTRA * crowded
        price += (COVERED_EXTRA - CROWDED_EXTRA) * _shared(start, end, parallel, gap == 0)
        price -= CORRIDOR_SAVING * np.where(crowded > 0, 0, beside)
    return price


def _shared(start: Ints, end: Ints, parallel: Ints, which: NDArray[np.bool_]) -> Ints:
    """Longest common length of each edge [line, k] with one of the runs picked for its line by which[line,
    run]."""
    out = np.zeros((len(which), len(start)), dtype=np.int64)
    line, run = np.nonzero(which)
    if len(line):
        common = np.minimum(end, parallel[run, 2:3]) - np.maximum(start, parallel[run, 1:2])
        first = np.flatnonzero(np.diff(line, prepend=-1))
        out[line[first]] = np.maximum(np.maximum.reduceat(common, first, axis=0), 0)
    return out


def _mm(metres: NDArray[np.float64]) -> Ints:
    """Whole millimetres, halves away from zero so that mirrored input stays mirrored."""
    return np.copysign(np.floor(np.abs(metres) * 1000.0 + 0.5), metres).astype(np.int64)
