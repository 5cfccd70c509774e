"""What happens to pipes when the parts at their ends are put elsewhere: stretched, else routed afresh.

Owns the one step that keeps pipes on their ports. Knows nothing of why a part moved, nor of water.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import pairwise
from math import dist

import msgspec
import numpy as np
from numpy.typing import NDArray

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet import meanwhile, routing, rubber
from loopwright.sheet.change import with_records
from loopwright.sheet.geometry import polyline
from loopwright.sheet.lines import Scene, scene_of
from loopwright.sheet.meanwhile import Foot, Hand
from loopwright.sheet.plane import OPPOSITE, TINY_M, Box, Dir
from loopwright.sheet.ports import BOSS_M, Port, box_of, port_of, ports_of
from loopwright.sheet.runs import merged, runs_of
from loopwright.sheet.values import End, Part, Pipe, Point, Sheet

Boxes = NDArray[np.float64]
EFFORT = 60
LETTERS_M = 0.22
"""Width of the strip beside a vessel in which its letters stand."""


def boxes_of(sheet: Sheet, catalogue: Catalogue) -> list[Box]:
    """The boxes of all parts, in the order of the sheet: what a route has to go round."""
    return [box_of(part, catalogue) for part in sheet.parts.values()]


def lettered_boxes_of(sheet: Sheet, catalogue: Catalogue) -> list[Box]:
    """The same, a vessel with the strip its letters stand in: pipes drawn anew keep off them."""
    out = []
    for part in sheet.parts.values():
        x0, z0, x1, z1 = box_of(part, catalogue)
        sides = {("left" if t.side == "right" else "right") if part.mirror else t.side for t in part.tappings}
        out.append((x0 - LETTERS_M * ("left" in sides), z0, x1 + LETTERS_M * ("right" in sides), z1))
    return out


def off_letters(boxes: Boxes, wide: Boxes, ends: Iterable[tuple[Point, str | None]]) -> Boxes:
    """What a pipe between two ends goes round: boxes with vessels' letters (`wide`), but bare ones (`boxes`) where an
    end stands among letters and is no stub: it has to be let out of there."""

    def within(all_of: Boxes, at: Point) -> NDArray[np.bool_]:
        x0, z0, x1, z1 = all_of.T
        return (x0 < at[0]) & (at[0] < x1) & (z0 < at[1]) & (at[1] < z1)

    for at, way in ends:
        among = within(wide, at) & ~within(boxes, at)
        edges = boxes[among][:, [0 if way == "left" else 2]]
        if len(edges) and not (way in ("left", "right") and bool((np.abs(edges - at[0]) < BOSS_M + 1e-3).all())):
            return boxes
    return wide


def other_runs(sheet: Sheet, catalogue: Catalogue, without: Collection[str] = ()) -> NDArray[np.float64]:
    """The straight runs (n, 2, 2) of all pipes but some: what a route runs beside. Sloping runs are left out."""
    runs = [
        _straight(sheet, pipe, catalogue) for pipe in sheet.pipes.values() if pipe.id not in without and not pipe.joint
    ]
    return np.concatenate(runs) if runs else np.zeros((0, 2, 2))


_STRAIGHT: dict[int, tuple[Pipe, Part, Part, Catalogue, NDArray[np.float64]]] = {}
_MOST_KNOWN = 20_000
"""Pipes and parts are frozen and a drag replaces only what it moves: of all others the runs are known."""


def _straight(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> NDArray[np.float64]:
    """The runs of one pipe (n, 2, 2) that do not slope."""
    a, b = sheet.parts.get(pipe.a.part), sheet.parts.get(pipe.b.part)
    known = _STRAIGHT.get(id(pipe))
    if known and known[0] is pipe and known[1] is a and known[2] is b and known[3] is catalogue:
        return known[4]
    points = polyline(sheet, pipe, catalogue)
    assert a is not None and b is not None
    pairs = [(run.begin, run.end) for run in runs_of(points) if run.way != "sloping"]
    if len(_STRAIGHT) >= _MOST_KNOWN:
        _STRAIGHT.clear()
    found = np.asarray(pairs, dtype=np.float64).reshape(-1, 2, 2)
    _STRAIGHT[id(pipe)] = (pipe, a, b, catalogue, found)
    return found


def end_port(sheet: Sheet, end: End, catalogue: Catalogue) -> Port:
    """The port a pipe end stands for. Raises SheetError; a sensor pocket is refused in words of its own."""
    part = sheet.parts.get(end.part)
    tapping = part.tapping(end.port) if part else None
    if tapping is not None and tapping.purpose == "sensor":
        raise SheetError(
            f"“{end.port}” of “{end.part}” is a sensor pocket and takes no pipe",
            do="Choose a tapping, or give the pocket another purpose",
        )
    return port_of(sheet, end.part, end.port, catalogue)


def route_between(
    sheet: Sheet,
    a: Port,
    b: Port,
    catalogue: Catalogue,
    *,
    without: Collection[str] = (),
    favoured: Iterable[float] = (),
    lettered: bool = False,
) -> tuple[Point, ...]:
    """Corners of a new right-angled way between two ports, round all parts and beside other pipes; `lettered`: off the
    letters of vessels too."""
    boxes = boxes_of(sheet, catalogue)
    if lettered:
        bare, wide = (
            np.asarray(some, dtype=np.float64).reshape(-1, 4) for some in (boxes, lettered_boxes_of(sheet, catalogue))
        )
        boxes = [tuple(box) for box in off_letters(bare, wide, ((a.at, a.side), (b.at, b.side))).tolist()]
    found = routing.route(
        a.at,
        a.side,
        b.at,
        b.side,
        boxes,
        other_runs(sheet, catalogue, without),
        EFFORT,
        favoured=tuple(favoured),
    )
    return found.corners


class _Ground:
    """What pipes are led round and beside on one sheet: boxes (n, 4), and the runs (n, 2, 2) of each pipe."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue) -> None:
        self.sheet, self._catalogue = sheet, catalogue
        self.boxes = np.asarray(boxes_of(sheet, catalogue), dtype=np.float64).reshape(-1, 4)
        self._runs = {p.id: _straight(sheet, p, catalogue) for p in sheet.pipes.values() if not p.joint}

    def without(self, pipe: str) -> NDArray[np.float64]:
        """The runs (n, 2, 2) of all pipes but one."""
        runs = [run for key, run in self._runs.items() if key != pipe]
        return np.concatenate(runs) if runs else np.zeros((0, 2, 2))

    def exchange(self, pipe: Pipe) -> None:
        """Another pipe in place of the one of its id."""
        self.sheet = with_records(self.sheet, pipes={**self.sheet.pipes, pipe.id: pipe})
        self._runs[pipe.id] = _straight(self.sheet, pipe, self._catalogue)


def reroute(sheet: Sheet, pipe: Pipe, old: tuple[Point, ...], catalogue: Catalogue) -> Pipe:
    """The pipe led anew between its ports. What lies between its first and its last held run stays as it is.

    `old` are all vertices it had before; their heights are taken up again where that costs little.
    """
    return _led(_Ground(sheet, catalogue), pipe, old, catalogue)


def _led(ground: _Ground, pipe: Pipe, old: tuple[Point, ...], catalogue: Catalogue) -> Pipe:
    sheet = ground.sheet
    boxes, others = ground.boxes, ground.without(pipe.id)
    a, b = end_port(sheet, pipe.a, catalogue), end_port(sheet, pipe.b, catalogue)
    heights = sorted({run.at_m for run in runs_of(old) if run.way == "level"})
    kept = [run for run in runs_of(old, pipe.held) if run.hold == "held"]
    if not kept:
        corners = routing.route(a.at, a.side, b.at, b.side, boxes, others, EFFORT, favoured=heights).corners
        return msgspec.structs.replace(pipe, points=corners, held=())
    first, last = kept[0].number, kept[-1].number
    middle = old[first : last + 2]
    before = _lead(a, middle[0], middle[1], boxes, others, heights)
    after = _lead(b, middle[-1], middle[-2], boxes, others, heights)[::-1]
    points = (a.at, *before, *middle, *after, b.at)
    # run k of the old pipe begins at vertex k; in the new one the middle begins one port and `before` later
    shift = len(before) + 1 - first
    points, held = merged(points, [run.number + shift for run in kept])
    return msgspec.structs.replace(pipe, points=points[1:-1], held=tuple(sorted(held)))


def _lead(
    port: Port,
    to: Point,
    beyond: Point,
    boxes: NDArray[np.float64],
    others: NDArray[np.float64],
    heights: list[float],
) -> tuple[Point, ...]:
    """Corners from a port to the free end of a held stretch that goes on towards `beyond`, never back along
    it."""
    dx, dz = beyond[0] - to[0], beyond[1] - to[1]
    along: Dir = ("right" if dx > 0 else "left") if abs(dx) >= abs(dz) else ("up" if dz > 0 else "down")
    ways: list[Dir] = [d for d in OPPOSITE.values() if d != along]
    holding = (boxes[:, 0] < to[0]) & (to[0] < boxes[:, 2]) & (boxes[:, 1] < to[1]) & (to[1] < boxes[:, 3])
    free = boxes[~holding]
    found = [routing.route(port.at, port.side, to, way, free, others, EFFORT, favoured=heights) for way in ways]
    return min(found, key=lambda route: route.cost).corners


# keeping pipes on their ports


def refit(
    before: Sheet,
    parts: dict[str, Part],
    catalogue: Catalogue,
    *,
    shift: Point | None = None,
    inside: Collection[str] = (),
    hand: Hand | None = None,
) -> Sheet:
    """The sheet with some parts exchanged (same ids) and every pipe still on its ports.

    Pipes whose both ends are on `inside` parts move whole by `shift`. Others are stretched, and led anew
    where stretching cannot do it. A pipe whose ports did not move is left alone. Raises SheetError where a
    port with a pipe would vanish, or two parts that are screwed together would part.

    With the `hand` of a drag under way (all parts by one `shift`, at each move from the same sheet) pipes are not led
    anew but shown by a stand-in: `hand.owing` are those.
    """
    after = with_records(before, parts={**before.parts, **parts})
    touched = {p.id: p for part_id in parts for p in before.pipes_of(part_id)}
    new: dict[str, Pipe] = {}
    lost: list[tuple[Pipe, tuple[Point, ...]]] = []
    for pipe in touched.values():
        if shift and pipe.a.part in inside and pipe.b.part in inside:
            new[pipe.id] = _moved(pipe, shift)
            continue
        old = polyline(before, pipe, catalogue)
        a, b = _still(after, pipe.a, catalogue), _still(after, pipe.b, catalogue)
        if pipe.joint:
            _check_joint(pipe, a, b)
            continue
        was_a, was_b = _port(before, pipe.a, catalogue), _port(before, pipe.b, catalogue)
        if (a.at, a.side, b.at, b.side) == (was_a.at, was_a.side, was_b.at, was_b.side):
            continue
        turned = a.side != was_a.side or b.side != was_b.side
        stretched = None if turned else rubber.stretch(old, frozenset(pipe.held), a.at, b.at, a.side, b.side)
        if stretched is None:
            lost.append((pipe, old))
        else:
            new[pipe.id] = msgspec.structs.replace(pipe, points=stretched.corners, held=tuple(sorted(stretched.held)))
    if hand is not None:
        hand.owing = frozenset(pipe.id for pipe, _ in lost)
        if lost and shift:
            scene = hand.ground = hand.scene(shift, _ground_of(before, after, parts, touched, new, catalogue, hand))
            hand.searches, due = meanwhile.SEARCHES, hand.due(hand.owing)
            for pipe, old in lost:
                shown = _kept_shape(after, pipe, scene, hand, pipe.id in due, catalogue)
                new[pipe.id] = shown or _another_shape(after, pipe, old, scene, hand, catalogue)
            lost = []
    after = with_records(after, pipes={**after.pipes, **new})
    if not lost:
        return after
    ground = _Ground(after, catalogue)
    for pipe, old in lost:  # after the others, so that they are led round pipes that are where they will be
        ground.exchange(_led(ground, pipe, old, catalogue))
    return ground.sheet


def rested(sheet: Sheet, hand: Hand, catalogue: Catalogue) -> None:
    """Keep how the pipes owed by a drag are led on this sheet: the next moves stretch them from there."""
    boxes = hand.ground.boxes if hand.ground is not None else np.zeros((0, 4), dtype=np.int64)
    for key in hand.owing:
        line = polyline(sheet, sheet.pipes[key], catalogue)
        hand.led[key] = line, frozenset(sheet.pipes[key].held), meanwhile.entered(line, boxes)
    hand.owing = frozenset()


def _ground_of(
    before: Sheet,
    after: Sheet,
    moved: Collection[str],
    touched: Collection[str],
    new: dict[str, Pipe],
    catalogue: Catalogue,
    hand: Hand,
) -> list[NDArray[np.float64]]:
    """The runs (n, 2, 2) of pipes stretched by this move; all else that a stand-in minds is kept in the hand."""
    pipes = before.pipes
    whole = {key for key in touched if pipes[key].a.part in moved and pipes[key].b.part in moved}
    if hand.still is None:
        scenes = []
        for stirs in (False, True):
            boxes = [box_of(p, catalogue) for p in before.parts.values() if (p.id in moved) is stirs]
            runs = [
                _straight(before, p, catalogue)
                for p in before.pipes.values()
                if not p.joint and (p.id in whole if stirs else p.id not in touched)
            ]
            scenes.append(scene_of(np.asarray(boxes, dtype=np.float64), np.concatenate([np.zeros((0, 2, 2)), *runs])))
        hand.still, hand.moved = scenes
    return [_straight(after, pipe, catalogue) for key, pipe in new.items() if key not in whole]


def _kept_shape(sheet: Sheet, pipe: Pipe, scene: Scene, hand: Hand, due: bool, catalogue: Catalogue) -> Pipe | None:
    """The pipe as it was led when the hand last rested, or else by its last shape unless it is due for another,
    stretched; None where that does not do."""
    a, b = _port(sheet, pipe.a, catalogue), _port(sheet, pipe.b, catalogue)
    for line, held, entered in filter(None, (hand.led.get(pipe.id), None if due else hand.shapes.get(pipe.id))):
        again = rubber.stretch(line, held, a.at, b.at, a.side, b.side)
        if again is not None and meanwhile.entered((a.at, *again.corners, b.at), scene.boxes) <= entered:
            return msgspec.structs.replace(pipe, points=again.corners, held=tuple(sorted(again.held)))
    return None


def _another_shape(
    sheet: Sheet, pipe: Pipe, old: tuple[Point, ...], scene: Scene, hand: Hand, catalogue: Catalogue
) -> Pipe:
    """The pipe by shapes of few bends between its ports and its held runs."""
    hand.shapes.pop(pipe.id, None)
    a, b = _port(sheet, pipe.a, catalogue), _port(sheet, pipe.b, catalogue)
    heights = sorted({run.at_m for run in runs_of(old) if run.way == "level"})
    kept = [run for run in runs_of(old, pipe.held) if run.hold == "held"]
    if not kept:
        corners = meanwhile.shape(Foot(a.at, a.side), Foot(b.at, b.side), scene, heights, hand.may_search)
        line = (a.at, *corners, b.at)
        hand.shapes[pipe.id] = line, frozenset(), meanwhile.entered(line, scene.boxes)
        return msgspec.structs.replace(pipe, points=corners, held=())
    middle = old[kept[0].number : kept[-1].number + 2]
    first, last = (
        meanwhile.shape(Foot(port.at, port.side), Foot(to, None, beyond), scene, heights, hand.may_search)
        for port, to, beyond in ((a, middle[0], middle[1]), (b, middle[-1], middle[-2]))
    )
    shift = len(first) + 1 - kept[0].number
    points, held = merged((a.at, *first, *middle, *last[::-1], b.at), [run.number + shift for run in kept])
    hand.shapes[pipe.id] = points, held, meanwhile.entered(points, scene.boxes)
    return msgspec.structs.replace(pipe, points=points[1:-1], held=tuple(sorted(held)))


def _moved(pipe: Pipe, shift: Point) -> Pipe:
    if not pipe.points:
        return pipe
    dx, dz = shift
    points = tuple([(round(x + dx, 6), round(z + dz, 6)) for x, z in pipe.points])
    return msgspec.structs.replace(pipe, points=points)


def _port(sheet: Sheet, end: End, catalogue: Catalogue) -> Port:
    return ports_of(sheet.parts[end.part], catalogue)[end.port]


def _still(sheet: Sheet, end: End, catalogue: Catalogue) -> Port:
    found = ports_of(sheet.parts[end.part], catalogue).get(end.port)
    if found is None:
        pipe = sheet.taken.get(end, "a pipe")
        raise SheetError(
            f"“{end.port}” of “{end.part}” would no longer take a pipe, and {pipe} ends there",
            do="Take the pipe off first",
        )
    return found


def _check_joint(pipe: Pipe, a: Port, b: Port) -> None:
    if dist(a.at, b.at) > 2 * TINY_M:
        raise SheetError(
            f"“{pipe.a.part}” and “{pipe.b.part}” are screwed together and would come apart",
            do=f"Take joint {pipe.id} away first, or join them by a pipe",
        )


def joined_to(sheet: Sheet, ids: Collection[str]) -> set[str]:
    """The parts named and all that are screwed to them, directly or through others."""
    out, fresh = set(ids), list(ids)
    while fresh:
        for pipe in sheet.pipes_of(fresh.pop()):
            if pipe.joint:
                new = {pipe.a.part, pipe.b.part} - out
                out |= new
                fresh += new
    return out


# cutting a pipe in two and making one of two


def split(
    pipe: Pipe,
    points: tuple[Point, ...],
    run: int,
    stop: Point,
    go: Point,
    one: End,
    two: End,
    second_id: str,
) -> tuple[Pipe, Pipe]:
    """The pipe cut on run number `run`: it now ends at `stop` on port `one`, a new one goes on from `go` at
    `two`.

    Length and bends that the section cannot show stay with the longer half.
    """
    first, first_held = merged((*points[: run + 1], stop), [k for k in pipe.held if k <= run])
    second, second_held = merged((go, *points[run + 1 :]), [k - run for k in pipe.held if k >= run])
    longer = sum(dist(p, q) for p, q in pairwise(first)) >= sum(dist(p, q) for p, q in pairwise(second))
    hidden = {"extra_length_m": pipe.extra_length_m, "extra_bends": pipe.extra_bends}
    nothing = {"extra_length_m": 0.0, "extra_bends": 0}
    return (
        msgspec.structs.replace(
            pipe, b=one, points=first[1:-1], held=tuple(sorted(first_held)), **(hidden if longer else nothing)
        ),
        msgspec.structs.replace(
            pipe,
            id=second_id,
            a=two,
            points=second[1:-1],
            held=tuple(sorted(second_held)),
            **(nothing if longer else hidden),
        ),
    )


def backwards(pipe: Pipe) -> Pipe:
    """The same pipe written from its other end."""
    last = len(pipe.points)
    return msgspec.structs.replace(
        pipe,
        a=pipe.b,
        b=pipe.a,
        points=pipe.points[::-1],
        held=tuple(sorted(last - k for k in pipe.held)),
        graded={"a": "b", "b": "a"}.get(pipe.graded, ""),
    )


def joined(one: Pipe, two: Pipe, line_one: tuple[Point, ...], line_two: tuple[Point, ...]) -> Pipe:
    """One pipe of two that met at a part now gone: `one` ended and `two` began there. Lines are all vertices
    of each.

    It keeps the first one's id, size and lagging, and both ones' hidden length and bends.
    """
    later = len(line_one)  # number of the first run of `two`: the runs of `one`, and one through the gap
    line, held = merged((*line_one, *line_two), [*one.held, *(k + later for k in two.held)])
    return msgspec.structs.replace(
        one,
        b=two.b,
        points=line[1:-1],
        held=tuple(sorted(held)),
        extra_length_m=one.extra_length_m + two.extra_length_m,
        extra_bends=one.extra_bends + two.extra_bends,
        graded=one.graded if one.graded == two.graded else "",
        service=one.service if one.service == two.service else "",
        bypass=one.bypass or two.bypass,
        primary_loop=one.primary_loop or two.primary_loop,
        joint=False,
    )
