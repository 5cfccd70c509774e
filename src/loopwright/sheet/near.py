"""Owns what lies nearest to a point of the sheet: ports, runs and boxes held as arrays.

Refuses to know what they belong to: it answers with the place in the arrays it was given. Built once a sheet,
asked at every move of the pointer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopwright.sheet.plane import Box, Point, Run

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Hit:
    """What was found: its index, how far it is (m), and its own point nearest to the one asked about."""

    index: int
    distance_m: float
    point: Point


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Ports (n, 2), runs (n, 4) as (xa, za, xb, zb) in any direction, boxes (n, 4); metres."""

    ports: Floats
    runs: Floats
    boxes: Floats

    @classmethod
    def of(cls, ports: Sequence[Point], runs: Sequence[Run], boxes: Sequence[Box]) -> Near:
        """The arrays from plain tuples."""
        return cls(
            np.asarray(ports, dtype=np.float64).reshape(-1, 2),
            np.asarray(runs, dtype=np.float64).reshape(-1, 4),
            np.asarray(boxes, dtype=np.float64).reshape(-1, 4),
        )

    def port(self, point: Point, reach_m: float) -> Hit | None:
        """The nearest port no farther than `reach_m`; of equals the first."""
        return _nearest(self.ports, point, reach_m)

    def run(self, point: Point, reach_m: float) -> Hit | None:
        """The nearest run no farther than `reach_m`; of equals the first."""
        a, b = self.runs[:, :2], self.runs[:, 2:]
        way = b - a
        square = np.einsum("ij,ij->i", way, way)
        share = np.einsum("ij,ij->i", np.asarray(point) - a, way) / np.where(square > 0, square, 1.0)
        return _nearest(a + np.clip(share, 0.0, 1.0)[:, None] * way, point, reach_m)

    def box(self, point: Point, reach_m: float = 0.0) -> Hit | None:
        """The box at a point: of those that hold it the smallest, else the nearest within `reach_m`."""
        feet = np.clip(np.asarray(point), self.boxes[:, :2], self.boxes[:, 2:])
        holding = np.flatnonzero((feet == np.asarray(point)).all(axis=1))
        if len(holding):
            held = self.boxes[holding]
            size = (held[:, 2] - held[:, 0]) * (held[:, 3] - held[:, 1])
            return Hit(int(holding[int(np.argmin(size))]), 0.0, (float(point[0]), float(point[1])))
        return _nearest(feet, point, reach_m)


def _nearest(feet: Floats, point: Point, reach_m: float) -> Hit | None:
    """The foot nearest to a point, if within reach."""
    if not len(feet):
        return None
    gaps = np.hypot(feet[:, 0] - point[0], feet[:, 1] - point[1])
    k = int(np.argmin(gaps))
    if gaps[k] > reach_m:
        return None
    return Hit(k, float(gaps[k]), (float(feet[k, 0]), float(feet[k, 1])))
