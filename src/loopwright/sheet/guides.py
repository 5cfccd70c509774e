"""What a part being moved comes into line with: heights of ports and of other parts, places above each other.

Owns the arrays of what stands still during a drag, and the choice among what is near. Refuses to know pointers.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopwright.catalogue import Catalogue
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Point, Sheet

Floats = NDArray[np.float64]
MOST_PORTS = 24
"""Of a large selection only so many ports look for a line: those that are piped to what stands still come first."""
PIPED_M = 1.0
"""What a port at the other end of a pipe has before strangers: within reach it wins where the pipe comes straight."""
LEVEL, UPRIGHT = ("left", "right"), ("up", "down")


@dataclass(frozen=True)
class Snapped:
    """A move brought into line: by how much along each axis, None where nothing is near, and the lines to show."""

    dx: float | None
    dz: float | None
    lines: tuple[tuple[Point, Point], ...] = ()


class Guides:
    """Lines for one drag of some parts of one sheet."""

    def __init__(self, sheet: Sheet, moving: Collection[str], lead: str, catalogue: Catalogue) -> None:
        still = [part for key, part in sheet.parts.items() if key not in moving]
        places = [port.at for part in still for port in ports_of(part, catalogue).values()]
        places += [(part.x_m, part.height_m) for part in still]
        self._still: Floats = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        mine: list[tuple[bool, Point]] = []
        self._partners: dict[Point, tuple[Point, tuple[bool, bool]]] = {}
        """Of a port that is piped: the place at the other end, and along which axes their pipe can come straight."""
        for key in moving:
            part = sheet.parts.get(key)
            if part is None:
                continue
            for name, port in ports_of(part, catalogue).items():
                pipe = next((p for p in sheet.pipes_of(key) if (key, name) in (p.a_key, p.b_key)), None)
                end = pipe.other(key) if pipe is not None else None
                if end is not None and end.part not in moving:
                    far = ports_of(sheet.parts[end.part], catalogue)[end.port]
                    level, upright = (port.side in pair and far.side in pair for pair in (LEVEL, UPRIGHT))
                    self._partners[port.at] = far.at, (upright, level)
                    mine.append((True, port.at))
                elif key == lead:
                    mine.append((False, port.at))
        if lead in sheet.parts:
            mine.append((False, (sheet.parts[lead].x_m, sheet.parts[lead].height_m)))
        mine.sort(key=lambda item: not item[0])
        self._mine = [at for _, at in mine[:MOST_PORTS]]

    def snap(self, dx: float, dz: float, reach_m: float, stranger_m: Point | None = None) -> Snapped:
        """A move by about (dx, dz) brought into line with what is within reach.

        `stranger_m` is the lesser reach, along each axis, of places that no pipe joins to what moves: what the snap
        itself is off by, so that the nearer of the two wins.
        """
        less = stranger_m or (reach_m, reach_m)
        across = self._best(0, dx, dz, reach_m, min(less[0], reach_m))
        level = self._best(1, dx, dz, reach_m, min(less[1], reach_m))
        new_dx = across[0] if across else None
        new_dz = level[0] if level else None
        lines = []
        for found in (across, level):
            if found is not None:
                x, z = found[1]
                lines.append(
                    (found[2], (x + (dx if new_dx is None else new_dx), z + (dz if new_dz is None else new_dz)))
                )
        return Snapped(new_dx, new_dz, tuple(lines))

    def _best(
        self, axis: int, dx: float, dz: float, reach_m: float, stranger_m: float
    ) -> tuple[float, Point, Point] | None:
        """(the move along an axis, the moving place at home, the still place it comes into line with)."""
        if not self._mine or not len(self._still):
            return None
        by = dx if axis == 0 else dz
        mine = np.asarray(self._mine, dtype=np.float64)
        gaps = self._still[None, :, axis] - (mine[:, axis] + by)[:, None]
        far = np.abs(self._still[None, :, 1 - axis] - (mine[:, 1 - axis] + (dz if axis == 0 else dx))[:, None])
        cost = np.abs(gaps)
        cost[cost > stranger_m] = np.inf
        for k, at in enumerate(self._mine):
            partner, straight = self._partners.get(at, (None, ()))
            if partner is not None and straight[axis]:
                same = np.flatnonzero((self._still == np.asarray(partner)).all(axis=1))
                cost[k, same] = np.where(np.abs(gaps[k, same]) <= reach_m, np.abs(gaps[k, same]) - PIPED_M, np.inf)
        if not np.isfinite(cost).any():
            return None
        k, n = divmod(int(np.argmin(cost + far * 1e-4)), cost.shape[1])  # of equals the nearest
        place: Point = (float(self._still[n, 0]), float(self._still[n, 1]))
        return float(by + gaps[k, n]), self._mine[k], place
