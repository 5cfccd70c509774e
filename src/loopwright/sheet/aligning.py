"""Parts brought into line: edges, middles, heights of ports, equal gaps, one upon another. Pipes follow.

Owns these edits as pure functions. Parts that are screwed together move as one. Knows nothing of pointers and menus.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Literal

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet.change import free_part
from loopwright.sheet.pipework import joined_to, refit
from loopwright.sheet.plane import Box, Point
from loopwright.sheet.ports import box_of, ports_of
from loopwright.sheet.values import Part, Sheet

Edge = Literal["left", "centre", "right", "top", "middle", "bottom"]
STACK_M = 0.1
"""Between parts that are stacked: room for a pipe."""
_AXIS = {"left": 0, "centre": 0, "right": 0, "top": 1, "middle": 1, "bottom": 1}
_PICK: Mapping[str, Callable[[float, float], float]] = {
    "left": lambda low, _: low,
    "bottom": lambda low, _: low,
    "right": lambda _, high: high,
    "top": lambda _, high: high,
    "centre": lambda low, high: (low + high) / 2,
    "middle": lambda low, high: (low + high) / 2,
}


def align(sheet: Sheet, ids: Collection[str], edge: Edge, catalogue: Catalogue) -> Sheet:
    """The chosen parts with one edge, or their middles, in one line: that of the box round them all.

    Raises SheetError for fewer than two parts or a locked one.
    """
    groups = _groups(sheet, ids, catalogue, 2)
    axis, pick = _AXIS[edge], _PICK[edge]
    low, high = min(b[axis] for b in groups.values()), max(b[axis + 2] for b in groups.values())
    goal = pick(low, high)
    shifts = {parts: goal - pick(box[axis], box[axis + 2]) for parts, box in groups.items()}
    return _shifted(sheet, shifts, axis, catalogue)


def distribute(sheet: Sheet, ids: Collection[str], across: bool, catalogue: Catalogue) -> Sheet:
    """The chosen parts with equal gaps between them, left to right or bottom to top; the outer two stay.

    Raises SheetError for fewer than three parts or a locked one.
    """
    groups = _groups(sheet, ids, catalogue, 3)
    axis = 0 if across else 1
    row = sorted(groups.items(), key=lambda item: item[1][axis] + item[1][axis + 2])
    used = sum(box[axis + 2] - box[axis] for _, box in row)
    first, last = row[0][1], row[-1][1]
    gap = (last[axis + 2] - first[axis] - used) / (len(row) - 1)
    at, shifts = first[axis], {}
    for parts, box in row:
        shifts[parts] = at - box[axis]
        at += box[axis + 2] - box[axis] + gap
    return _shifted(sheet, shifts, axis, catalogue)


def stack(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The chosen parts one upon another: the lowest stays, each other stands `STACK_M` above the one below, their
    middles in one line. Raises SheetError for fewer than two parts or a locked one."""
    groups = _groups(sheet, ids, catalogue, 2)
    row = sorted(groups.items(), key=lambda item: (item[1][1], item[1][0]))
    lowest = row[0][1]
    middle, top = (lowest[0] + lowest[2]) / 2, lowest[3]
    across: dict[frozenset[str], float] = {}
    up: dict[frozenset[str], float] = {}
    for parts, box in row[1:]:
        across[parts] = middle - (box[0] + box[2]) / 2
        up[parts] = top + STACK_M - box[1]
        top += STACK_M + box[3] - box[1]
    return _shifted(_shifted(sheet, across, 0, catalogue), up, 1, catalogue)


def level_ports(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The chosen parts raised or lowered until their ports are level with those of the largest of them.

    A part that is piped to one already in place is set so that this pipe's two ports are level; another one by its
    port that is nearest in height. Raises SheetError for fewer than two parts or a locked one.
    """
    groups = _groups(sheet, ids, catalogue, 2)
    size = {parts: (box[2] - box[0]) * (box[3] - box[1]) for parts, box in groups.items()}
    lead = max(sorted(groups, key=lambda g: sorted(g)), key=lambda g: size[g])
    shifts: dict[frozenset[str], float] = {lead: 0.0}
    while len(shifts) < len(groups):
        waiting = [g for g in groups if g not in shifts]
        best = min(
            (_gap(sheet, one, done, shifts[done], catalogue), sorted(one), one) for one in waiting for done in shifts
        )
        (_, _, by), _, group = best
        shifts[group] = by
    return _shifted(sheet, shifts, 1, catalogue)


def _gap(
    sheet: Sheet, one: frozenset[str], done: frozenset[str], raised: float, catalogue: Catalogue
) -> tuple[int, float, float]:
    """(0 when piped to each other, else 1; how far `one` has to move; the move itself)."""
    piped = [
        (_height(sheet, other.part, other.port, catalogue) + raised - _height(sheet, end.part, end.port, catalogue))
        for pipe in sheet.pipes.values()
        for end, other in ((pipe.a, pipe.b), (pipe.b, pipe.a))
        if end.part in one and other.part in done
    ]
    if piped:
        by = min(piped, key=abs)
        return 0, abs(by), by
    mine, theirs = ([z for i in sorted(group) for z in _heights(sheet.parts[i], catalogue)] for group in (one, done))
    by = min((b + raised - a for a in mine for b in theirs), key=abs, default=0.0)
    return 1, abs(by), by


def _height(sheet: Sheet, part: str, port: str, catalogue: Catalogue) -> float:
    return ports_of(sheet.parts[part], catalogue)[port].at[1]


def _heights(part: Part, catalogue: Catalogue) -> list[float]:
    return [port.at[1] for port in ports_of(part, catalogue).values()] or [part.height_m]


def _groups(sheet: Sheet, ids: Collection[str], catalogue: Catalogue, least: int) -> dict[frozenset[str], Box]:
    """The chosen parts, those screwed together as one, each with the box round it."""
    out: dict[frozenset[str], Box] = {}
    for part_id in sheet.parts:
        if part_id in ids and not any(part_id in group for group in out):
            group = frozenset(joined_to(sheet, {part_id}))
            boxes = [box_of(free_part(sheet, i), catalogue) for i in sorted(group)]
            x0, z0, x1, z1 = zip(*boxes)
            out[group] = (min(x0), min(z0), max(x1), max(z1))
    if len(out) < least:
        raise SheetError(
            "There is nothing to bring into line", do=f"Choose {'two' if least == 2 else 'three'} parts or more"
        )
    return out


def _shifted(sheet: Sheet, shifts: Mapping[frozenset[str], float], axis: int, catalogue: Catalogue) -> Sheet:
    new: dict[str, Part] = {}
    for group, by in shifts.items():
        if abs(by) < 1e-6:
            continue
        step: Point = (by, 0.0) if axis == 0 else (0.0, by)
        for part_id in group:
            part = sheet.parts[part_id]
            new[part_id] = msgspec.structs.replace(
                part, x_m=round(part.x_m + step[0], 6), height_m=round(part.height_m + step[1], 6)
            )
    return refit(sheet, new, catalogue) if new else sheet
