"""The corners of a pipe changed by hand: a run moved, a jog put in, a corner moved or taken out, a way led anew.

Owns these edits as pure functions. A run set by hand is held: no algorithm moves it again. Knows nothing of pointers.
"""

from __future__ import annotations

from collections.abc import Collection
from math import dist

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet.change import pipe_named, with_pipe, with_records
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.neatness import untidiness
from loopwright.sheet.pipework import boxes_of, reroute
from loopwright.sheet.plane import PITCH_M, TINY_M, Point, same
from loopwright.sheet.runs import merged, runs_of, way_of
from loopwright.sheet.tidy import tidy_corridors
from loopwright.sheet.values import Pipe, Sheet

LEAD_M = 0.10
"""What stays straight between a port and the jog that a moved run makes there."""


def run_way(sheet: Sheet, pipe_id: str, run: int, catalogue: Catalogue) -> str:
    """How a run lies: level, upright or sloping; nothing for a joint or a number that is none."""
    pipe = pipe_named(sheet, pipe_id)
    line = polyline(sheet, pipe, catalogue)
    return "" if pipe.joint or not 0 <= run < len(line) - 1 else way_of(line[run], line[run + 1])


def move_run(sheet: Sheet, pipe_id: str, run: int, at: Point, catalogue: Catalogue) -> Sheet:
    """The sheet with one run of a pipe put at the height (level) or x (upright) of `at`, and held there.

    A run that begins or ends at a port gets a jog there, 0.10 m from the port. Runs that come to lie in one line
    become one. Raises SheetError for a sloping run, or one too short for its jogs.
    """
    pipe, line = pipe_named(sheet, pipe_id), list(polyline(sheet, pipe_named(sheet, pipe_id), catalogue))
    way = run_way(sheet, pipe_id, run, catalogue)
    if way not in ("level", "upright"):
        raise SheetError(f"This run of {pipe_id} cannot be moved sideways", do="Move the part it belongs to")
    axis = 1 if way == "level" else 0
    goal = round(at[axis], 3)
    if same(line[run][axis], goal):
        return sheet
    first, last = run == 0, run == len(line) - 2
    held = set(pipe.held)
    room = dist(line[run], line[run + 1])
    if room < LEAD_M * (first + last) + TINY_M:
        raise SheetError(f"This run of {pipe_id} is too short to make room for a corner", do="Move the part instead")
    if last:
        line[run + 1 : run + 1] = [_towards(line[run + 1], line[run])] * 2
    if first:
        line[1:1] = [_towards(line[0], line[1])] * 2
        run += 2
        held = {k + 2 for k in held}
    for k in (run, run + 1):
        x, z = line[k]
        line[k] = (x, goal) if axis == 1 else (goal, z)
    return _with_line(sheet, pipe, line, held | {run})


def _towards(port: Point, corner: Point) -> Point:
    """The place a lead's length from a port on the way to a corner."""
    share = LEAD_M / dist(port, corner)
    return (
        round(port[0] + (corner[0] - port[0]) * share, 6),
        round(port[1] + (corner[1] - port[1]) * share, 6),
    )


def part_run(sheet: Sheet, pipe_id: str, at: Point, to: Point, catalogue: Catalogue) -> Sheet:
    """The sheet with a run cut at the place nearest to `at`, and its piece on the side of end b put at `to`."""
    pipe = pipe_named(sheet, pipe_id)
    line = list(polyline(sheet, pipe, catalogue))
    run, foot, _ = nearest_on(tuple(line), at)
    foot = (round(foot[0], 3), round(foot[1], 3))
    way = way_of(line[run], line[run + 1])
    if pipe.joint or way == "sloping":
        raise SheetError(f"This run of {pipe_id} takes no corner", do="Choose a level run or a riser")
    axis = 1 if way == "level" else 0
    goal = round(to[axis], 3)
    if same(line[run][axis], goal):
        return sheet
    jog = (foot[0], goal) if axis == 1 else (goal, foot[1])
    rest = line[run + 1 :]
    if len(rest) == 1:  # up to the port: it needs a jog of its own
        if dist(foot, rest[0]) < LEAD_M + TINY_M:
            raise SheetError(f"There is no room for a corner so near to the end of {pipe_id}", do="Go farther back")
        lead = _towards(rest[0], foot)
        rest = [(lead[0], goal) if axis == 1 else (goal, lead[1]), lead, rest[0]]
    else:
        rest[0] = (rest[0][0], goal) if axis == 1 else (goal, rest[0][1])
    held = {k for k in pipe.held if k < run} | {k + 2 for k in pipe.held if k > run} | {run + 2}
    return _with_line(sheet, pipe, [*line[: run + 1], foot, jog, *rest], held)


def move_corner(sheet: Sheet, pipe_id: str, corner: int, at: Point, catalogue: Catalogue) -> Sheet:
    """The sheet with corner number `corner` (vertex of the whole line, 1 the first) put at `at`.

    A run that belongs to a port keeps its height or x, so that the corner moves along it alone.
    """
    pipe = pipe_named(sheet, pipe_id)
    count = len(pipe.points)
    if not 1 <= corner <= count:
        raise SheetError(f"{pipe_id} has no corner there", do="Take hold of a corner between its ends")
    for run in (corner - 1, corner):
        if 0 < run < count:  # neither the first nor the last
            sheet = _slid(sheet, pipe_id, run, at, catalogue)
    return sheet


def _slid(sheet: Sheet, pipe_id: str, run: int, at: Point, catalogue: Catalogue) -> Sheet:
    """An inner run at another place without merging, so that the numbers of runs stay."""
    pipe = sheet.pipes[pipe_id]
    line = list(polyline(sheet, pipe, catalogue))
    way = way_of(line[run], line[run + 1])
    if way == "sloping":
        return sheet
    for k in (run, run + 1):
        line[k] = (line[k][0], round(at[1], 3)) if way == "level" else (round(at[0], 3), line[k][1])
    return with_pipe(sheet, msgspec.structs.replace(pipe, points=tuple(line[1:-1]), held=_held(pipe.held, run)))


def _held(held: Collection[int], run: int) -> tuple[int, ...]:
    return tuple(sorted({*held, run}))


def without_corner(sheet: Sheet, pipe_id: str, at: Point, catalogue: Catalogue) -> Sheet:
    """The sheet with the jog taken out that has its corner nearest to `at`: its shorter run goes, and the lighter one
    of the two beside it comes into line with the other.

    Raises SheetError for a pipe without such a jog.
    """
    pipe = pipe_named(sheet, pipe_id)
    line = polyline(sheet, pipe, catalogue)
    inner = [run for run in runs_of(line, pipe.held)[1:-1] if run.way != "sloping"]
    last = len(line) - 2
    movable = [r for r in inner if r.number > 1 or r.number < last - 1]
    if not movable:
        raise SheetError(f"{pipe_id} cannot do with fewer corners", do="Move the parts at its ends into line first")
    run = min(movable, key=lambda r: (min(dist(r.begin, at), dist(r.end, at)), r.length_m)).number
    before, after = run - 1, run + 1
    # a run that belongs to a port stays; of two free ones the shorter gives way
    move_before = before > 0 and (after == last or dist(*line[before : before + 2]) < dist(*line[after : after + 2]))
    moving, goal = (before, line[after]) if move_before else (after, line[before])
    slid = _slid(sheet, pipe_id, moving, goal, catalogue)
    straight = slid.pipes[pipe_id]
    return _with_line(slid, straight, list(polyline(slid, straight, catalogue)), straight.held)


def _with_line(sheet: Sheet, pipe: Pipe, line: list[Point], held: Collection[int]) -> Sheet:
    """The sheet with a pipe along a line, what lies in one line joined."""
    points, marks = merged(line, held)
    return with_pipe(sheet, msgspec.structs.replace(pipe, points=points[1:-1], held=tuple(sorted(marks))))


def lead_anew(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The sheet with these pipes led anew, as if drawn port to port; what was set by hand in them is let go.

    A pipe that runs at least as neatly as the new way (see `neatness`) keeps its own.
    """
    boxes = boxes_of(sheet, catalogue)
    for pipe_id in [i for i in sheet.pipes if i in ids]:
        pipe = sheet.pipes[pipe_id]
        if not pipe.joint:
            bare, line = msgspec.structs.replace(pipe, held=()), polyline(sheet, pipe, catalogue)
            new = with_pipe(sheet, reroute(sheet, bare, line, catalogue))
            others = [polyline(sheet, other, catalogue) for key, other in sheet.pipes.items() if key != pipe_id]
            led = polyline(new, new.pipes[pipe_id], catalogue)
            better = untidiness(led, others, boxes) < untidiness(line, others, boxes) - 1e-6
            sheet = new if better else with_pipe(sheet, bare)
    return sheet


def space_risers(sheet: Sheet, ids: Collection[str] | None, catalogue: Catalogue, pitch_m: float = PITCH_M) -> Sheet:
    """The sheet with free risers that run close together set a pitch apart; heights never change.

    `ids` are the pipes that may change, None for all.
    """
    lines = {k: polyline(sheet, p, catalogue) for k, p in sheet.pipes.items() if not p.joint}
    held = {k: frozenset(sheet.pipes[k].held) for k in lines}
    new = tidy_corridors(lines, held, boxes_of(sheet, catalogue), ids, pitch_m)
    pipes = {k: msgspec.structs.replace(sheet.pipes[k], points=line[1:-1]) for k, line in new.items()}
    return with_records(sheet, pipes={**sheet.pipes, **pipes}) if pipes else sheet
