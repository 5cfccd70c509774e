"""Owns the search for a right-angled way between two ports: few bends, short, beside other pipes, round
boxes.

Refuses to know parts and pipes: it sees points, directions, boxes and runs, and gives corners back. The same
input always gives the same route, and a mirrored input the mirrored route, ties between left and right apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loopwright.sheet.lines import ENTERED, METRE, UNIT, Grid, Ints, Scene, lay, scene_of
from loopwright.sheet.plane import OPPOSITE, STEPS, STUB_M, Box, Dir, Point, Run, cleaned, enters_box, same, to_mm

BEND = 45 * METRE // 100
REVERSAL_M = 1.6
"""Extra price of a bend after which the pipe falls where it rose before, or rises where it fell: it makes a
pocket for air or a sump."""
WINDOWS_M: tuple[float | None, ...] = (1.0, 3.0, None)
"""Margins round the two ends that are searched in turn; None is the whole sheet."""
ROUNDS, ROUNDS_WHOLE = 10, 16
LONGEST_STUB = 320
"""A port set back inside its box, behind a strip kept clear, gets a stub out of the box up to this length,
mm."""
SHORTEST_STUB = 40
FAR = np.int64(2**60)

# states of the search: the way the pipe was last going, and for level ones whether it last rose or fell
EAST_R, EAST_F, WEST_R, WEST_F, NORTH, SOUTH = range(6)
_OF_DIR = {"right": (EAST_R, EAST_F), "left": (WEST_R, WEST_F), "up": (NORTH,), "down": (SOUTH,)}
_LEVEL = (EAST_R, EAST_F, WEST_R, WEST_F)


@dataclass(frozen=True, slots=True)
class Route:
    """A way from one port to another.

    `corners` are the points between the two ends, on whole millimetres but where an end is
    not. `cost` is in metres of plain pipe,
    1e6 and more where a box is entered or no way was found. `enters` are the indexes of the boxes entered.
    """

    corners: tuple[Point, ...]
    cost: float
    enters: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class End:
    """One end of the search, mm: the port, the end of its stub, and the states a pipe may have there."""

    port: tuple[int, int]
    stub: tuple[int, int]
    direction: Dir | None

    @property
    def length(self) -> int:
        """Length of the stub, mm."""
        return abs(self.stub[0] - self.port[0]) + abs(self.stub[1] - self.port[1])


def route(
    start: Point,
    start_dir: Dir | None,
    end: Point,
    end_dir: Dir | None,
    boxes: Sequence[Box] | NDArray[np.float64],
    others: Sequence[Run] | NDArray[np.float64],
    effort: int = 60,
    *,
    windows: Sequence[float | None] = WINDOWS_M,
    favoured: Sequence[float] = (),
    reversal_m: float = REVERSAL_M,
) -> Route:
    """The cheapest right-angled way from start to end, leaving both ports straight.

    Points in metres; a direction is the way out of the port, None for a free end. `boxes` as (n, 4) and
    `others` as (n, 2, 2) arrays save time when there are many. Boxes that hold a free end are not obstacles;
    a box that holds a port is left through its stub. `effort` caps the lines an axis: 45 while the pointer
    moves (with `windows=(1.0,)`), 60 for a pipe that is kept, 110 for a sheet laid out by program. `favoured`
    are heights in metres that the route should take where the way is little longer for it (those the pipe had
    before, x 0.85). `reversal_m` is the price of a trap.

    Where no clear way exists the route enters as few boxes as it can, and where even that is not found it is
    one corner; both cost 1e6 or more. Never raises.
    """
    box_array = np.asarray(boxes, dtype=np.float64).reshape(-1, 4)
    run_array = np.asarray(others, dtype=np.float64).reshape(-1, 2, 2)
    kept = np.ones(len(box_array), dtype=bool)
    for point, direction in ((start, start_dir), (end, end_dir)):
        if direction is None and len(box_array):
            kept &= ~_holding(box_array, point)
    scene = scene_of(box_array[kept], run_array)
    a, b = ends_of(_mm_point(start), start_dir, _mm_point(end), end_dir, scene.boxes)
    liked = np.unique(np.array([to_mm(z) for z in favoured], dtype=np.int64))
    reversal = round(reversal_m * METRE)

    best: tuple[int, list[tuple[int, int]]] | None = None
    for margin_m in windows:
        found = _way(scene, a, b, margin_m, liked, effort, reversal)
        if found and (best is None or found[0] < best[0]):
            best = found
        if best is not None and best[0] < ENTERED:
            break
    numbers = np.flatnonzero(kept)
    if best is None:
        plain = _plain_corner(a, b, box_array, numbers)
        return replace(plain, corners=on_ends(plain.corners, start, end))
    enters = _entered([a.port, *best[1], b.port], box_array, numbers)
    cost = best[0] + (a.length + b.length) * UNIT
    if enters and cost < ENTERED:
        cost += ENTERED * len(enters)  # only a stub that runs into somebody else's box comes here
    return Route(on_ends(corners_of([a.port, *best[1], b.port]), start, end), cost / METRE, enters)


Way = tuple[int, list[tuple[int, int]]] | None
_WAYS: dict[tuple[object, ...], Way] = {}
_MOST_WAYS = 512


def _way(scene: Scene, a: End, b: End, margin_m: float | None, liked: Ints, effort: int, reversal: int) -> Way:
    """What `_search` finds in one window.

    It depends on nothing outside the window, so it is known already where nothing in there has changed: a drag is let
    go where it was shown last, and the pointer moves many times within one step of the snap.
    """
    window = window_of(scene, a, b, margin_m)
    near = scene.within(*window)
    ground = (near.boxes.tobytes(), near.levels.tobytes(), near.risers.tobytes(), liked.tobytes())
    key = (a, b, window, margin_m is None, effort, reversal, ground)
    if key not in _WAYS:
        if len(_WAYS) >= _MOST_WAYS:
            _WAYS.clear()
        grid = grid_for(scene, a, b, margin_m, liked, effort)
        _WAYS[key] = _search(grid, scene, a, b, ROUNDS if margin_m is not None else ROUNDS_WHOLE, reversal)
    return _WAYS[key]


def window_of(scene: Scene, a: End, b: End, margin_m: float | None) -> tuple[int, int, int, int]:
    """The window round the two ends (margin in metres), or round everything there is (None), mm."""
    xs = [a.port[0], a.stub[0], b.port[0], b.stub[0]]
    zs = [a.port[1], a.stub[1], b.port[1], b.stub[1]]
    margin = 500 if margin_m is None else to_mm(margin_m)
    low_x, high_x, low_z, high_z = min(xs), max(xs), min(zs), max(zs)
    if margin_m is None and (bounds := scene.bounds()):
        low_x, low_z = min(low_x, bounds[0]), min(low_z, bounds[1])
        high_x, high_z = max(high_x, bounds[2]), max(high_z, bounds[3])
    return low_x - margin, low_z - margin, high_x + margin, high_z + margin


def grid_for(scene: Scene, a: End, b: End, margin_m: float | None, liked: Ints, cap: int) -> Grid:
    """Lines and prices for one window."""
    xs = [a.port[0], a.stub[0], b.port[0], b.stub[0]]
    zs = [a.port[1], a.stub[1], b.port[1], b.stub[1]]
    return lay(scene, window_of(scene, a, b, margin_m), (xs, zs), liked, cap)


def ends_of(
    p: tuple[int, int], p_dir: Dir | None, q: tuple[int, int], q_dir: Dir | None, boxes: Ints
) -> tuple[End, End]:
    """Both ends with their stubs. A stub is cut short where the other end lies closer than a full stub."""
    p_long, q_long = _stub_length(p, p_dir, boxes), _stub_length(q, q_dir, boxes)
    p_ahead, q_ahead = _ahead(p, p_dir, q), _ahead(q, q_dir, p)
    if p_dir and q_dir and OPPOSITE[p_dir] == q_dir:
        if SHORTEST_STUB <= p_ahead < p_long + q_long:
            p_long = p_ahead * p_long // (p_long + q_long)
            q_long = p_ahead - p_long
    elif p_dir != q_dir:
        if SHORTEST_STUB <= p_ahead < p_long or (q_dir is None and 0 < p_ahead < p_long):
            p_long = p_ahead
        if SHORTEST_STUB <= q_ahead < q_long or (p_dir is None and 0 < q_ahead < q_long):
            q_long = q_ahead
    return End(p, _along(p, p_dir, p_long), p_dir), End(q, _along(q, q_dir, q_long), q_dir)


def _stub_length(port: tuple[int, int], direction: Dir | None, boxes: Ints) -> int:
    """Straight length wanted at a port, mm: the stub, beginning where the box holding the port ends."""
    stub = to_mm(STUB_M)
    if direction is None or not len(boxes):
        return 0 if direction is None else stub
    x, z = port
    inside = (boxes[:, 0] < x) & (x < boxes[:, 2]) & (boxes[:, 1] < z) & (z < boxes[:, 3])
    if not inside.any():
        return stub
    held = boxes[inside]
    out = {"left": x - held[:, 0], "right": held[:, 2] - x, "up": held[:, 3] - z, "down": z - held[:, 1]}
    longest = int(out[direction].max()) + stub
    return longest if longest <= LONGEST_STUB else stub


def _search(
    grid: Grid, scene: Scene, a: End, b: End, rounds: int, reversal: int
) -> tuple[int, list[tuple[int, int]]] | None:
    """Price and points (stub end to stub end) of the cheapest way in the grid; None when no way was
    reached."""
    start, end = _node(grid, a.stub), _node(grid, b.stub)
    begin = np.full((6, len(grid.zs), len(grid.xs)), FAR)
    first = _OF_DIR[a.direction] if a.direction else range(6)
    for state in first:
        begin[(state, *start)] = _inside(scene.boxes, a.stub) * (ENTERED // 2)
    last = _last_turns(b.direction, reversal)
    fields = Fields(grid, begin, reversal)
    least = abs(a.stub[0] - b.stub[0]) + abs(a.stub[1] - b.stub[1])
    for done in range(1, rounds + 1):
        newest = fields.sweep()
        best = min(int(fields.cost[(s, *end)]) + turn for s, turn in last)
        # nothing that improved can still lead to the end, or every way with more bends is dearer
        if best <= newest or best <= least * 85 + (done + 1) * BEND:
            break
    best, state = min((int(fields.cost[(s, *end)]) + turn, s) for s, turn in last)
    if best >= FAR // 2:
        return None
    nodes, cost = fields.walk_back(state, end)
    cost += next(turn for s, turn in last if s == state) + _inside(scene.boxes, b.stub) * (ENTERED // 2)
    return cost, [(int(grid.xs[i]), int(grid.zs[j])) for j, i in nodes]


def _last_turns(direction: Dir | None, reversal: int) -> list[tuple[int, int]]:
    """(state, price of turning from it into the port) for each state that may end at a port facing
    `direction`."""
    if direction is None:
        return [(s, 0) for s in range(6)]
    into = OPPOSITE[direction]
    if into in ("left", "right"):
        return [(s, 0) for s in _OF_DIR[into]] + [(NORTH, BEND), (SOUTH, BEND)]
    rise = into == "up"
    turns = [(NORTH if rise else SOUTH, 0)]
    for state in _LEVEL:
        against = (state in (EAST_F, WEST_F)) if rise else (state in (EAST_R, WEST_R))
        turns.append((state, BEND + (reversal if against else 0)))
    return turns


class Fields:
    """Least price to reach every node in every state, with one more bend allowed at each sweep.

    `cost[state, j, i]` is int64; FAR and thereabouts means not reached. A bend is always followed by a move,
    or two bends on the spot would turn the pipe back for nothing.
    """

    def __init__(self, grid: Grid, begin: Ints, reversal: int) -> None:
        self.begin = begin
        self.cost = begin.copy()
        self.reversal = reversal
        zero_x = np.zeros((len(grid.zs), 1), dtype=np.int64)
        zero_z = np.zeros((1, len(grid.xs)), dtype=np.int64)
        self.along = np.concatenate([zero_x, np.cumsum(grid.across, axis=1)], axis=1)
        self.height = np.concatenate([zero_z, np.cumsum(grid.upward, axis=0)], axis=0)

    def turned(self) -> Ints:
        """Least price of being at a node about to move off in a state: by a bend, or because the way begins
        there."""
        c = self.cost
        out = np.empty_like(c)
        out[EAST_R] = out[WEST_R] = c[NORTH] + BEND
        out[EAST_F] = out[WEST_F] = c[SOUTH] + BEND
        rose, fell = np.minimum(c[EAST_R], c[WEST_R]), np.minimum(c[EAST_F], c[WEST_F])
        out[NORTH] = np.minimum(rose, fell + self.reversal) + BEND
        out[SOUTH] = np.minimum(fell, rose + self.reversal) + BEND
        return np.minimum(out, self.begin)

    def sweep(self) -> int:
        """Allow one more bend and one more straight stretch. Least price that improved, FAR when none did."""
        t = self.turned()
        new = np.full_like(self.cost, FAR)
        p, h = self.along, self.height
        east, west = slice(EAST_R, EAST_F + 1), slice(WEST_R, WEST_F + 1)
        new[east, :, 1:] = np.minimum.accumulate(t[east] - p, axis=2)[:, :, :-1] + p[:, 1:]
        new[west, :, :-1] = np.minimum.accumulate((t[west] + p)[:, :, ::-1], axis=2)[:, :, -2::-1] - p[:, :-1]
        new[NORTH, 1:] = np.minimum.accumulate(t[NORTH] - h, axis=0)[:-1] + h[1:]
        new[SOUTH, :-1] = np.minimum.accumulate((t[SOUTH] + h)[::-1], axis=0)[-2::-1] - h[:-1]
        better = (new < self.cost) & (new < FAR // 2)
        if not better.any():
            return int(FAR)
        newest = int(new[better].min())
        np.minimum(self.cost, new, out=self.cost)
        return newest

    def walk_back(self, state: int, node: tuple[int, int]) -> tuple[list[tuple[int, int]], int]:
        """Nodes (j, i) from the beginning to `node` reached in `state`, and their price (never above the
        field's).

        At each bend the cheapest turn strictly before the node is taken; ties go to the beginning, then to
        the turn farthest back.
        """
        t = self.turned()
        nodes, cost = [node], 0
        while int(self.begin[(state, *node)]) > int(self.cost[(state, *node)]):
            j, i = node
            if state in _LEVEL:
                line, here, before = self.along[j], i, t[state, j]
            else:
                line, here, before = self.height[:, i], j, t[state, :, i]
            forward = state in (EAST_R, EAST_F, NORTH)
            places = np.arange(here) if forward else np.arange(len(line) - 1, here, -1)
            prices = before[places] + np.abs(line[here] - line[places])
            pick = int(places[int(np.argmin(prices))])
            begun = self.begin[state, j] if state in _LEVEL else self.begin[state, :, i]
            starts = begun[places] + np.abs(line[here] - line[places])
            if int(starts.min()) <= int(prices.min()):
                pick = int(places[int(np.argmin(starts))])
            cost += int(abs(line[here] - line[pick]))
            node = (j, pick) if state in _LEVEL else (pick, i)
            nodes.append(node)
            if int(before[pick]) == int(begun[pick]):
                break
            state, price = self._turned_from(state, node)
            cost += price
        cost += int(self.begin[:, nodes[-1][0], nodes[-1][1]].min())
        return nodes[::-1], cost

    def _turned_from(self, state: int, node: tuple[int, int]) -> tuple[int, int]:
        """The state the pipe had before it bent into `state` at a node, and the price of that bend."""
        if state in (EAST_R, WEST_R):
            return NORTH, BEND
        if state in (EAST_F, WEST_F):
            return SOUTH, BEND
        same = (EAST_R, WEST_R) if state == NORTH else (EAST_F, WEST_F)
        options = [(int(self.cost[(s, *node)]) + (0 if s in same else self.reversal), s) for s in _LEVEL]
        cheapest = min(options)[1]
        return cheapest, BEND + (0 if cheapest in same else self.reversal)


def _node(grid: Grid, point: tuple[int, int]) -> tuple[int, int]:
    return int(np.searchsorted(grid.zs, point[1])), int(np.searchsorted(grid.xs, point[0]))


def _inside(boxes: Ints, point: tuple[int, int]) -> int:
    """How many boxes hold the point strictly inside."""
    low, high = boxes[:, :2] < point, boxes[:, 2:] > point
    return int(np.count_nonzero(low.all(axis=1) & high.all(axis=1)))


def _holding(boxes: NDArray[np.float64], point: Point) -> NDArray[np.bool_]:
    x, z = point
    return (boxes[:, 0] <= x) & (x <= boxes[:, 2]) & (boxes[:, 1] <= z) & (z <= boxes[:, 3])


def _along(point: tuple[int, int], direction: Dir | None, length: int) -> tuple[int, int]:
    step = STEPS[direction] if direction else (0, 0)
    return point[0] + step[0] * length, point[1] + step[1] * length


def _ahead(point: tuple[int, int], direction: Dir | None, other: tuple[int, int]) -> int:
    """How far the other point lies ahead of a port, along its direction."""
    step = STEPS[direction] if direction else (0, 0)
    return (other[0] - point[0]) * step[0] + (other[1] - point[1]) * step[1]


def _mm_point(point: Point) -> tuple[int, int]:
    return to_mm(point[0]), to_mm(point[1])


def corners_of(points: Sequence[tuple[int, int]]) -> tuple[Point, ...]:
    """The corners in metres of a way given by all its places in millimetres, both ends left out."""
    return cleaned([(x / 1000.0, z / 1000.0) for x, z in points])[1:-1]


def on_ends(corners: tuple[Point, ...], start: Point, end: Point) -> tuple[Point, ...]:
    """The corners with those beside the ends on the very coordinates of the ends, which need not be whole
    millimetres: else the first or the last run would slope by the half millimetre it was rounded by."""
    out = list(corners)
    for k, port in ((0, start), (-1, end)) if out else ():
        x, z = out[k]
        if same(z, port[1]):
            out[k] = (x, port[1])
        elif same(x, port[0]):
            out[k] = (port[0], z)
    return tuple(out)


def _entered(
    points: Sequence[tuple[int, int]], boxes: NDArray[np.float64], numbers: NDArray[np.intp]
) -> tuple[int, ...]:
    """Indexes of boxes the points run through; a port's own box does not count for its own stub."""
    places = [(x / 1000.0, z / 1000.0) for x, z in points]
    pieces = list(pairwise(places))
    low = np.min(places, axis=0)
    high = np.max(places, axis=0)
    found: list[int] = []
    for n in numbers:
        box = boxes[n]
        if box[0] >= high[0] or box[2] <= low[0] or box[1] >= high[1] or box[3] <= low[1]:
            continue
        one: Box = (float(box[0]), float(box[1]), float(box[2]), float(box[3]))
        checked = [piece for k, piece in enumerate(pieces) if not _own_stub(k, pieces, boxes[n : n + 1])]
        if any(p != q and enters_box(p, q, one) for p, q in checked):
            found.append(int(n))
    return tuple(found)


def _own_stub(k: int, pieces: list[Run], box: NDArray[np.float64]) -> bool:
    """Whether piece k is the stub of a port that the box holds."""
    if k == 0 and _holding(box, pieces[0][0])[0]:
        return True
    return k == len(pieces) - 1 and bool(_holding(box, pieces[-1][1])[0])


def _plain_corner(a: End, b: End, boxes: NDArray[np.float64], numbers: NDArray[np.intp]) -> Route:
    """One corner between the stubs, the one that enters fewer boxes: what is shown when no way was found."""
    options = []
    for corner in ((b.stub[0], a.stub[1]), (a.stub[0], b.stub[1])):
        points = [a.port, a.stub, corner, b.stub, b.port]
        options.append((len(enters := _entered(points, boxes, numbers)), points, enters))
    _, points, enters = min(options, key=lambda option: option[0])
    length = sum(abs(p[0] - q[0]) + abs(p[1] - q[1]) for p, q in pairwise(points))
    return Route(corners_of(points), max(1, len(enters)) * 1e6 + length / 1000.0, enters)
