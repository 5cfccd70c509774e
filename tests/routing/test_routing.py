"""The router against networkx (shortest path) and shapely (what an edge meets), and its promises on random
scenes.

The prices themselves (bend 0.45 m, trap 1.6 m and so on) are choices of the drawing, no source.
"""

from __future__ import annotations

import random
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from shapely import LineString, box
from shapely import Point as Point2

from loopwright.sheet import lines, routing
from loopwright.sheet.plane import Box, Dir, Point, Run, enters_box, is_level, is_upright
from loopwright.sheet.routing import Route, route

MIRROR_X: dict[Dir | None, Dir | None] = {
    "left": "right", "right": "left", "up": "up", "down": "down", None: None,
}  # fmt: skip
MIRROR_Z: dict[Dir | None, Dir | None] = {
    "left": "left", "right": "right", "up": "down", "down": "up", None: None,
}  # fmt: skip
STATES = {
    "E+": (1, 0), "E-": (1, 0), "W+": (-1, 0), "W-": (-1, 0), "N": (0, 1), "S": (0, -1),
}  # fmt: skip
Scene = tuple[Point, Dir | None, Point, Dir | None, list[Box], list[Run]]


def random_scene(seed: int, parts: int = 9) -> Scene:
    """Parts in 5 x 4 m, pipes between some of them, and two ports that face out of two of the boxes."""
    rng = random.Random(seed)
    boxes: list[Box] = []
    while len(boxes) < parts:
        x, z = rng.randint(0, 4500) / 1000, rng.randint(0, 3500) / 1000
        new = (x, z, round(x + rng.randint(200, 700) / 1000, 3), round(z + rng.randint(200, 900) / 1000, 3))
        if not any(box(*new).buffer(0.15).intersects(box(*b)) for b in boxes):
            boxes.append(new)
    ports: list[tuple[Point, Dir]] = []
    for x0, z0, x1, z1 in boxes:
        side: Dir = rng.choice(["left", "right", "up", "down"])
        mid_x, mid_z = rng.randint(int(x0 * 1000), int(x1 * 1000)) / 1000, round(z0 + (z1 - z0) * 0.4, 3)
        ports.append(
            {
                "left": ((x0, mid_z), side), "right": ((x1, mid_z), side),
                "up": ((mid_x, z1), side), "down": ((mid_x, z0), side),
            }[side]
        )  # fmt: skip
    rng.shuffle(ports)
    runs: list[Run] = []
    for (p, pd), (q, qd) in zip(ports[2::2], ports[3::2]):
        points = [p, *route(p, pd, q, qd, boxes, runs).corners, q]
        runs += list(pairwise(points))
    (a, ad), (b, bd) = ports[0], ports[1]
    return a, ad, b, bd, boxes, runs


def price(p: Point, q: Point, boxes: list[Box], runs: list[Run]) -> float:
    """Price of one edge, worked out with shapely from the rules alone, in metres of plain pipe."""
    edge = LineString([p, q])
    total = edge.length
    for b in boxes:
        shape = box(*b)
        if shape.boundary.intersection(edge).length > 1e-9 or edge.intersection(shape).length < 1e-9:
            continue  # along a side, or not inside
        inside = edge.intersection(shape)
        ends_on = sum(shape.boundary.distance(c) < 1e-9 for c in inside.boundary.geoms)
        total += 0.5e6 * ends_on
    beside, crowded, covered = 0.0, 0.0, 0.0
    flat = p[1] == q[1]
    for r in runs:
        run = LineString(r)
        if (r[0][1] == r[1][1]) == flat:
            a, b2 = (0, 1) if flat else (1, 0)
            common = min(max(p[a], q[a]), max(r[0][a], r[1][a])) - max(min(p[a], q[a]), min(r[0][a], r[1][a]))
            gap = round(abs(p[b2] - r[0][b2]), 3)
            if common > 0 and gap == 0.1:
                beside = max(beside, common)
            if common > 0 and gap < 0.1:
                crowded = max(crowded, common)
            if common > 0 and gap == 0:
                covered = max(covered, common)
        elif edge.distance(run) < 1e-9:
            at_end = run.distance(Point2(p)) < 1e-9 or run.distance(Point2(q)) < 1e-9
            total += 0.35 / (2 if at_end else 1)
    return total + 4 * crowded + 15 * covered - (0.15 * beside if crowded <= 0 else 0.0)


def line_graph(grid: lines.Grid, cost_across: np.ndarray, cost_up: np.ndarray) -> nx.DiGraph:
    """Every state a pipe can be in as a node: arrived there, or bent there and bound to move on."""
    g = nx.DiGraph()
    rows, columns = len(grid.zs), len(grid.xs)
    for j in range(rows):
        for i in range(columns):
            for s, (dx, dz) in STATES.items():
                j2, i2 = j + dz, i + dx
                if 0 <= j2 < rows and 0 <= i2 < columns:
                    w = cost_across[j, min(i, i2)] if dx else cost_up[min(j, j2), i]
                    g.add_edge(("at", s, j, i), ("at", s, j2, i2), weight=w)
                    g.add_edge(("bent", s, j, i), ("at", s, j2, i2), weight=w)
                for turn, (tx, _) in STATES.items():
                    if bool(tx) == bool(dx):
                        continue
                    if dx:
                        w = 0.45 + (1.6 if (turn == "N") != (s[1] == "+") else 0.0)
                    elif (s == "N") != (turn[1] == "+"):
                        continue
                    else:
                        w = 0.45
                    g.add_edge(("at", s, j, i), ("bent", turn, j, i), weight=w)
    return g


def names_of(direction: Dir | None) -> list[str]:
    short = {"left": "W", "right": "E", "up": "N", "down": "S"}
    return [s for s in STATES if direction is None or s[0] == short[direction]]


def optimum(scene: Scene, effort: int) -> float:
    """Least cost by networkx on the router's own lines for the whole sheet, priced with shapely."""
    a_port, a_dir, b_port, b_dir, boxes, runs = scene
    mm = lines.scene_of(np.array(boxes), np.array(runs).reshape(-1, 2, 2))
    to = routing.to_mm
    a, b = routing.ends_of((to(a_port[0]), to(a_port[1])), a_dir, (to(b_port[0]), to(b_port[1])), b_dir, mm.boxes)
    grid = routing.grid_for(mm, a, b, None, np.array([], dtype=np.int64), effort)
    xs, zs = grid.xs / 1000, grid.zs / 1000
    across = np.array([[price((x, z), (x2, z), boxes, runs) for x, x2 in pairwise(xs)] for z in zs])
    upward = np.array([[price((x, z), (x, z2), boxes, runs) for x in xs] for z, z2 in pairwise(zs)])
    assert np.allclose(across, grid.across / lines.METRE, atol=1e-6)
    assert np.allclose(upward, grid.upward / lines.METRE, atol=1e-6)
    g = line_graph(grid, across, upward)
    inside = [
        sum(box(*b4).contains_properly(Point2(stub[0] / 1000, stub[1] / 1000)) for b4 in boxes)
        for stub in (a.stub, b.stub)
    ]
    j, i = list(grid.zs).index(a.stub[1]), list(grid.xs).index(a.stub[0])
    for s in names_of(a_dir):
        for form in ("at", "bent"):
            g.add_edge("start", (form, s, j, i), weight=0.5e6 * inside[0])
    j, i = list(grid.zs).index(b.stub[1]), list(grid.xs).index(b.stub[0])
    for s in names_of(routing.OPPOSITE[b_dir] if b_dir else None):
        for form in ("at", "bent"):
            g.add_edge((form, s, j, i), "end", weight=0.5e6 * inside[1])
    return float(nx.shortest_path_length(g, "start", "end", weight="weight")) + (a.length + b.length) / 1000


@pytest.mark.parametrize("block", range(6))
def test_cost_is_the_shortest_path_of_networkx(block: int) -> None:
    for seed in range(block * 10, block * 10 + 10):
        scene = random_scene(seed, parts=7)
        found = route(*scene, effort=10, windows=(None,))
        assert found.cost == pytest.approx(optimum(scene, 10), abs=1e-6), seed


def points_of(scene: Scene, found: Route) -> list[Point]:
    return [scene[0], *found.corners, scene[2]]


@pytest.mark.parametrize("seed", range(100, 160))
def test_a_route_is_square_straight_at_its_ports_and_clear(seed: int) -> None:
    scene = random_scene(seed, parts=12)
    found = route(*scene)
    points = points_of(scene, found)
    pieces = list(pairwise(points))
    assert all(is_level(p, q) != is_upright(p, q) for p, q in pieces)
    assert all(is_level(*one) != is_level(*two) for one, two in pairwise(pieces)), "a corner in line"
    assert all(round(c[0], 3) == c[0] and round(c[1], 3) == c[1] for c in found.corners)
    for (p, q), way in ((pieces[0], scene[1]), (pieces[-1][::-1], scene[3])):
        dx, dz = routing.STEPS[way or ""]
        assert (q[0] - p[0]) * dx + (q[1] - p[1]) * dz >= min(0.04, abs(q[0] - p[0]) + abs(q[1] - p[1]))
    entered = {n for n, b in enumerate(scene[4]) if any(enters_box(p, q, b) for p, q in pieces)}
    assert set(found.enters) == entered
    assert found.cost >= 1e6 or not entered
    assert route(*scene) == found


def flipped(scene: Scene, sx: int, sz: int) -> Scene:
    def at(p: Point) -> Point:
        return p[0] * sx, p[1] * sz

    def way(d: Dir | None) -> Dir | None:
        d = MIRROR_X[d] if sx < 0 else d
        return MIRROR_Z[d] if sz < 0 else d

    boxes = [
        (min(x0 * sx, x1 * sx), min(z0 * sz, z1 * sz), max(x0 * sx, x1 * sx), max(z0 * sz, z1 * sz))
        for x0, z0, x1, z1 in scene[4]
    ]
    return (
        at(scene[0]),
        way(scene[1]),
        at(scene[2]),
        way(scene[3]),
        boxes,
        [(at(p), at(q)) for p, q in scene[5]],
    )


@pytest.mark.parametrize("seed", range(200, 240))
@pytest.mark.parametrize(("sx", "sz"), [(-1, 1), (1, -1)])
def test_a_mirrored_scene_gives_the_mirrored_route(seed: int, sx: int, sz: int) -> None:
    scene = random_scene(seed, parts=10)
    plain, mirrored = route(*scene), route(*flipped(scene, sx, sz))
    assert mirrored.cost == plain.cost
    assert [(x * sx, z * sz) for x, z in mirrored.corners] == [pytest.approx(c) for c in plain.corners]


def test_simple_ways() -> None:
    """Shapes any fitter would draw (common practice, no source)."""
    assert route((0, 0), "right", (2, 0), "left", [], []).corners == ()
    assert route((0, 0), "right", (1, 1), "down", [], []).corners == ((1, 0),)
    step = route((0, 0), "right", (2, 1), "left", [], []).corners
    assert len(step) == 2 and step[0][0] == step[1][0]
    back = route((0, 0), "right", (0, 1), "right", [], []).corners
    assert back == ((0.1, 0), (0.1, 1))
    around = route((0, 0), "right", (-2, 0), "left", [(-2, -0.3, 0, 0.3)], [])
    assert around.enters == () and len(around.corners) == 4
    close = route((0, 0), "right", (0.12, 0.5), "left", [], []).corners
    assert close == ((0.06, 0), (0.06, 0.5))


def test_a_port_behind_a_strip_leaves_it_straight() -> None:
    found = route((0.22, 1.0), "left", (-1, 2), "right", [(0.0, 0.0, 1.0, 2.0)], [])
    assert found.enters == ()
    assert found.corners[0][1] == 1.0 and found.corners[0][0] <= -0.1


def test_a_free_end_over_a_part_is_not_blocked_by_it_and_an_inner_port_is() -> None:
    part = (1.0, -0.5, 2.0, 0.5)
    assert route((0, 0), "right", (1.5, 0.2), None, [part], []).enters == ()
    wall = (0.5, -50.0, 0.8, 50.0)
    assert route((0, 0), "right", (1.5, 0.2), None, [part, wall], [], windows=(1.0,)).enters == (1,)
    deep = route((0, 0), "right", (1.5, 0.2), "up", [(5, 5, 6, 6), (1.0, -3, 2.0, 3)], [])
    assert deep.enters == (1,) and deep.cost >= 1e6


def test_it_keeps_off_other_pipes_and_beside_them_at_one_pitch() -> None:
    other = [((0.5, 0.0), (0.5, 3.0))]
    found = route((0, 0.5), "right", (0, 2.5), "right", [], [((0.1, 0.0), (0.1, 3.0))])
    assert {x for x, _ in found.corners} == {0.2}
    crossing = route((0, 1), "right", (2, 1), "left", [], other)
    assert crossing.corners == () and crossing.cost == pytest.approx(2.35)


def test_heights_it_had_before_are_taken_again() -> None:
    def heights(*favoured: float) -> set[float]:
        return {z for _, z in route((0, 0), "up", (2, 1), "up", [], [], favoured=favoured).corners}

    assert heights() == {1.1}
    assert heights(1.2) == {1.2}
    assert heights(1.5) == {1.1}, "not where the way is much longer"


def test_the_number_of_lines_is_capped_and_a_route_is_found_among_very_many_parts() -> None:
    rng = random.Random(5)
    boxes = [(x, z, x + 0.3, z + 0.3) for x in np.arange(0, 30, 0.6) for z in np.arange(0, 6, 0.6)]
    runs = [((x, 0.0), (x, 6.0)) for x in np.arange(0.45, 30, 0.6)]
    for _ in range(10):
        b = rng.choice(boxes)
        found = route((b[2], b[1] + 0.15), "right", (29.9, 7.0), "down", boxes, runs, effort=45, windows=(1.0, None))
        assert found.cost < np.inf
