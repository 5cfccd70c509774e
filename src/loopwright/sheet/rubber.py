"""Owns what a pipe does while its ports are moved: the runs stretch, and as little as possible changes place.

Refuses to know boxes, other pipes and routing: where stretching cannot do it, the answer is None and somebody
reroutes. It always starts from the pipe as it was when the gesture began, so dragging out and back changes
nothing.

Height is static head, so no level run changes height here unless its own port moved or a stub of the moved
port pushes it; every such change is noted.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from loopwright.sheet.plane import PITCH_M, STEPS, STUB_M, TINY_M, Dir, Point, rounded, same, to_mm
from loopwright.sheet.runs import Way, merged, runs_of


@dataclass(frozen=True, slots=True)
class HeightNote:
    """A level run that changed height. `run` is its number in the new pipe; `old_m` is None for a run that is
    new."""

    run: int
    old_m: float | None
    new_m: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A pipe after its ports moved: corners between the ends (whole mm), held run numbers, and what to
    tell."""

    corners: tuple[Point, ...]
    held: frozenset[int]
    notes: tuple[HeightNote, ...]


def stretch(
    points: tuple[Point, ...],
    held: frozenset[int],
    new_a: Point,
    new_b: Point,
    dir_a: Dir | None,
    dir_b: Dir | None,
) -> Stretch | None:
    """The pipe `points` (all vertices, ends included, as at the press) with its ends at new_a and new_b.

    Attached runs take their port's coordinate; held runs keep theirs; free runs keep theirs too unless a stub
    needs the room, then the neighbour slides just far enough. A straight pipe whose ends part gets a jog in
    the middle. `dir_a` and `dir_b` are the ways out of the ports now, None for an end without one.

    None where that cannot be done: a port turned away, a held run in the way of a stub, a pipe that would
    fold back on itself or cross itself.
    """
    if _at(points[0], new_a) and _at(points[-1], new_b):
        return Stretch(tuple(points[1:-1]), held, ())
    old, held = merged(points, held)
    if len(old) == 2:
        return _straight(old, held, new_a, new_b, dir_a, dir_b)
    coordinates = _coordinates(old, held, new_a, new_b, dir_a, dir_b)
    if coordinates is None:
        return None
    ways = [run.way for run in runs_of(old)]
    new = _vertices(old, ways, coordinates, new_a, new_b)
    if not _leaves(old, new, dir_a) or not _leaves(old[::-1], new[::-1], dir_b) or _folds(old, new):
        return None
    if _crosses_itself(new) and not _crosses_itself(old):
        return None
    changed = {
        k: (old[k][1], new[k][1]) for k, way in enumerate(ways) if way == "level" and not same(old[k][1], new[k][1])
    }
    short, still_held = merged(new, held)
    return Stretch(short[1:-1], still_held, _notes(changed, new, short))


def _straight(
    old: tuple[Point, ...],
    held: frozenset[int],
    new_a: Point,
    new_b: Point,
    dir_a: Dir | None,
    dir_b: Dir | None,
) -> Stretch | None:
    """A pipe of one run: it stays straight, or gets a jog in the middle between two stubs."""
    way = runs_of(old)[0].way
    if way == "sloping":
        return Stretch((), held, ())
    along, cross = (0, 1) if way == "level" else (1, 0)
    if same(new_a[cross], new_b[cross]):
        new: tuple[Point, ...] = (new_a, new_b)
    else:
        middle = to_mm((new_a[along] + new_b[along]) / 2) / 1000.0
        one, two = [new_a[0], new_a[1]], [new_b[0], new_b[1]]
        one[along] = two[along] = middle
        new = (new_a, rounded((one[0], one[1])), rounded((two[0], two[1])), new_b)
        before, after = old[1][along] - old[0][along], new_b[along] - new_a[along]
        if before * after <= 0 or abs(after) < 2 * min(STUB_M, abs(before) / 2) - TINY_M:
            return None
    if not _leaves(old, new, dir_a) or not _leaves(old[::-1], new[::-1], dir_b):
        return None
    if _at(new_a, new_b) or (new[-1][along] - new[0][along]) * (old[1][along] - old[0][along]) <= 0:
        return None
    notes: list[HeightNote] = []
    for k in range(len(new) - 1):
        if same(new[k][1], new[k + 1][1]) and (way != "level" or not same(new[k][1], old[0][1])):
            notes.append(HeightNote(k, old[0][1] if way == "level" else None, new[k][1]))
    kept = frozenset({0, len(new) - 2}) if held else frozenset()
    return Stretch(new[1:-1], kept, tuple(notes))


def _coordinates(
    old: tuple[Point, ...],
    held: frozenset[int],
    new_a: Point,
    new_b: Point,
    dir_a: Dir | None,
    dir_b: Dir | None,
) -> list[float] | None:
    """The coordinate of each run, ports moved and stubs given room; None where a run that may not move is in
    the way.

    Of a sloping run the number stands for nothing.
    """
    runs = runs_of(old, held)
    last = len(runs) - 1
    at = [run.at_m for run in runs]
    for k, port in ((0, new_a), (last, new_b)):
        if runs[k].way != "sloping":
            at[k] = port[1] if runs[k].way == "level" else port[0]
    for k, run in enumerate(runs):
        beside = [runs[n] for n in (k - 1, k + 1) if 0 <= n <= last]
        if any(b.way == "sloping" for b in beside) and run.way != "sloping" and not same(at[k], run.at_m):
            return None  # the slope would have to change
    for k, port, direction, begin, corner in (
        (1, new_a, dir_a, old[0], old[1]),
        (last - 1, new_b, dir_b, old[-1], old[-2]),
    ):
        if direction is None or not 0 < k < last or runs[k].way == "sloping":
            continue
        axis = 0 if runs[k].way == "upright" else 1
        sign = STEPS[direction][axis]
        if sign == 0:
            return None  # the port faces along its neighbour run: it was turned, or the pipe left it sideways
        need = min(STUB_M, abs(corner[axis] - begin[axis]))
        if (at[k] - port[axis]) * sign >= need - TINY_M:
            continue
        slope_beside = runs[k - 1].way == "sloping" or runs[k + 1].way == "sloping"
        if runs[k].hold != "free" or slope_beside:
            return None
        at[k] = to_mm(port[axis] + sign * need) / 1000.0
    return at


def _vertices(
    old: tuple[Point, ...], ways: list[Way], at: list[float], new_a: Point, new_b: Point
) -> tuple[Point, ...]:
    """All vertices from the runs' coordinates; beside a sloping run the vertex stays where it was."""
    out = [new_a]
    for k in range(1, len(old) - 1):
        before, after = ways[k - 1], ways[k]
        if before == "level" and after == "upright":
            out.append(rounded((at[k], at[k - 1])))
        elif before == "upright" and after == "level":
            out.append(rounded((at[k - 1], at[k])))
        else:
            out.append(old[k])
    return (*out, new_b)


def _leaves(old: tuple[Point, ...], new: tuple[Point, ...], direction: Dir | None) -> bool:
    """Whether the pipe still leaves its first point straight, by a full stub or as much of one as it had."""
    if direction is None:
        return True
    ways = runs_of(old[:2])[0].way
    if ways == "sloping":
        return True
    axis = 0 if ways == "level" else 1
    sign = STEPS[direction][axis]
    need = min(STUB_M, abs(old[1][axis] - old[0][axis]))
    if len(new) == 2:
        need = min(need, TINY_M * 2)  # straight into the other port: any length will do
    return sign != 0 and (new[1][axis] - new[0][axis]) * sign >= need - TINY_M


def _folds(old: tuple[Point, ...], new: tuple[Point, ...]) -> bool:
    """Whether two runs that turn back beside each other came nearer than a pitch (or than they were)."""
    for k in range(1, len(new) - 2):
        before = _heading(new[k - 1], new[k])
        after = _heading(new[k + 1], new[k + 2])
        if before[0] * after[0] + before[1] * after[1] >= 0:
            continue
        apart, was = _length(new[k], new[k + 1]), _length(old[k], old[k + 1])
        if apart < min(PITCH_M, was) - TINY_M:
            return True
    return False


def _crosses_itself(points: tuple[Point, ...]) -> bool:
    """Whether two runs that are not neighbours meet."""
    pieces = [
        (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
        for a, b in pairwise(points)
        if not _at(a, b)
    ]
    for k, one in enumerate(pieces):
        for two in pieces[k + 2 :]:
            if one[0] <= two[2] and two[0] <= one[2] and one[1] <= two[3] and two[1] <= one[3]:
                return True
    return False


def _notes(
    changed: dict[int, tuple[float, float]], new: tuple[Point, ...], short: tuple[Point, ...]
) -> tuple[HeightNote, ...]:
    """Notes with the run numbers of the merged pipe; runs that shrank to nothing need none."""
    notes: dict[int, HeightNote] = {}
    for k, (old_m, new_m) in changed.items():
        if _at(new[k], new[k + 1]):
            continue
        middle = ((new[k][0] + new[k + 1][0]) / 2, (new[k][1] + new[k + 1][1]) / 2)
        for number, (a, b) in enumerate(pairwise(short)):
            if same(a[1], b[1]) and same(a[1], middle[1]) and min(a[0], b[0]) <= middle[0] <= max(a[0], b[0]):
                notes.setdefault(number, HeightNote(number, old_m, new_m))
                break
    return tuple(notes[number] for number in sorted(notes))


def _heading(a: Point, b: Point) -> tuple[int, int]:
    dx, dz = b[0] - a[0], b[1] - a[1]
    return (
        0 if abs(dx) <= TINY_M else (1 if dx > 0 else -1),
        0 if abs(dz) <= TINY_M else (1 if dz > 0 else -1),
    )


def _length(a: Point, b: Point) -> float:
    return abs(a[0] - b[0]) + abs(a[1] - b[1])


def _at(a: Point, b: Point) -> bool:
    return same(a[0], b[0]) and same(a[1], b[1])
