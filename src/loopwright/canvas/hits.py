"""What lies at a point of the sheet, or in a frame, asked at every move of the pointer.

Owns the arrays of ports, runs and boxes of one sheet. Refuses to know Qt and what is done with a hit.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from math import hypot

from loopwright.canvas.tools.base import Hit, HitKind
from loopwright.catalogue import Catalogue
from loopwright.drawing.labels import FlagPlace
from loopwright.drawing.look import Look, Point, to_metres, to_units
from loopwright.sheet.near import Near
from loopwright.sheet.ports import box_of, ports_of
from loopwright.sheet.values import Sheet

PORT_REACH_PX, PIPE_REACH_PX, FLAG_REACH_PX, PART_REACH_PX, THIN_REACH_PX = 9.0, 7.0, 18.0, 4.0, 6.0
UnitBox = tuple[float, float, float, float]


class Hits:
    """Everything that can be hit on one sheet. `lines` are the vertices of each pipe in metres."""

    def __init__(
        self,
        sheet: Sheet,
        lines: Mapping[str, tuple[Point, ...]],
        catalogue: Catalogue,
        thin: Mapping[str, tuple[HitKind, tuple[Point, ...]]] | None = None,
    ) -> None:
        """`thin` are lines of control links and dimensions by id, metres."""
        self.sheet, self.lines, self.catalogue = sheet, dict(lines), catalogue
        self._ports: list[tuple[str, str]] = []
        points: list[Point] = []
        for part in sheet.parts.values():
            for port in ports_of(part, catalogue).values():
                self._ports.append((part.id, port.name))
                points.append(port.at)
        self._runs: list[tuple[str, int]] = []
        runs: list[tuple[Point, Point]] = []
        for key, line in lines.items():
            for k, run in enumerate(pairwise(line)):
                self._runs.append((key, k))
                runs.append(run)
        self._thin: list[tuple[HitKind, str]] = []
        fine: list[tuple[Point, Point]] = []
        for key, (kind, line) in (thin or {}).items():
            for run in pairwise(line):
                self._thin.append((kind, key))
                fine.append(run)
        self._near_thin = Near.of([], fine, [])
        self._parts = list(sheet.parts)
        self._near = Near.of(points, runs, [box_of(sheet.parts[k], catalogue) for k in self._parts])

    def at(
        self,
        at: Point,
        px_m: float,
        look: Look,
        flags: Sequence[FlagPlace] = (),
        words: Mapping[str, tuple[HitKind, UnitBox]] | None = None,
        ignore: Collection[str] = (),
    ) -> Hit | None:
        """Flags first, then ports, fittings, pipes, control links and dimensions, large parts, words. `px_m` metres a
        pixel; `words` are notes and figures of dimensions, boxes in units."""
        near = self._near
        x, y = to_units(at)
        for place in flags:
            if hypot(place.at[0] - x, place.at[1] - y) < FLAG_REACH_PX * look.px:
                return Hit("flag", str(place.flag.number), at=to_metres(place.at))
        port = near.port(at, PORT_REACH_PX * px_m)
        if port is not None and self._ports[port.index][0] not in ignore:
            owner, name = self._ports[port.index]
            return Hit("port", owner, name, at=port.point)
        box = near.box(at, PART_REACH_PX * px_m) if len(near.boxes) else None
        part = self._parts[box.index] if box is not None else None
        if part in ignore:
            part = None
        if part is not None and not self.catalogue[self.sheet.parts[part].kind].large:
            return Hit("part", part, at=at)
        run = near.run(at, PIPE_REACH_PX * px_m) if len(near.runs) else None
        if run is not None and self._runs[run.index][0] not in ignore:
            key, number = self._runs[run.index]
            return Hit("pipe", key, run=number, at=run.point)
        thin = self._near_thin.run(at, THIN_REACH_PX * px_m) if len(self._near_thin.runs) else None
        if thin is not None and self._thin[thin.index][1] in ignore:
            thin = None
        if thin is not None and (part is None or thin.distance_m == 0.0):
            kind, key = self._thin[thin.index]
            return Hit(kind, key, at=thin.point)
        if part is not None:
            return Hit("part", part, at=at)
        for key, (kind, (x0, y0, x1, y1)) in (words or {}).items():
            if x0 <= x <= x1 and y0 <= y <= y1:
                return Hit(kind, key, at=at)
        return None

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids of parts, pipes and notes inside a frame given by two corners in metres, or `touched` by it."""
        x0, x1 = sorted((a[0], b[0]))
        z0, z1 = sorted((a[1], b[1]))
        out = set()
        for key, part in self.sheet.parts.items():
            p0, q0, p1, q1 = box_of(part, self.catalogue)
            inside = x0 <= p0 and p1 <= x1 and z0 <= q0 and q1 <= z1
            if inside or (touched and p0 <= x1 and x0 <= p1 and q0 <= z1 and z0 <= q1):
                out.add(key)
        for key, line in self.lines.items():
            held = all(x0 <= x <= x1 and z0 <= z <= z1 for x, z in line)
            crossed = touched and any(
                min(p[0], q[0]) <= x1 and x0 <= max(p[0], q[0]) and min(p[1], q[1]) <= z1 and z0 <= max(p[1], q[1])
                for p, q in pairwise(line)
            )
            if held or crossed:
                out.add(key)
        out |= {n.id for n in self.sheet.notes if x0 <= n.x_m <= x1 and z0 <= n.height_m <= z1}
        ends: dict[str, list[Point]] = {}
        for (_, key), run in zip(self._thin, self._near_thin.runs):
            ends.setdefault(key, []).extend([(run[0], run[1]), (run[2], run[3])])
        out |= {k for k, line in ends.items() if all(x0 <= x <= x1 and z0 <= z <= z1 for x, z in line)}
        return frozenset(out)
