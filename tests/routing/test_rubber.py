"""Stretching a pipe while its ports move. The rules are the project's own; what is checked is that they are
kept."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import LineString

from loopwright.sheet.plane import STEPS, Dir, Point, is_level, is_upright
from loopwright.sheet.rubber import HeightNote, Stretch, stretch
from loopwright.sheet.runs import runs_of

Pipe = tuple[tuple[Point, ...], Dir, Dir]


@st.composite
def pipes(draw: st.DrawFn) -> Pipe:
    """A right-angled pipe that leaves both ports straight by a stub or more and does not cross itself."""
    x, z = draw(st.integers(0, 80)), draw(st.integers(0, 80))
    upright = draw(st.booleans())
    points = [(x * 50, z * 50)]
    ways: list[Dir] = []
    for _ in range(draw(st.integers(1, 6))):
        length, sign = draw(st.integers(2, 40)), draw(st.sampled_from([-1, 1]))
        x, z = (x, z + sign * length) if upright else (x + sign * length, z)
        ways.append(("down", "up")[sign > 0] if upright else ("left", "right")[sign > 0])
        points.append((x * 50, z * 50))
        upright = not upright
    metres = tuple((px / 1000, pz / 1000) for px, pz in points)
    assume(LineString(metres).is_simple)
    opposite: dict[Dir, Dir] = {"left": "right", "right": "left", "up": "down", "down": "up"}
    return metres, ways[0], opposite[ways[-1]]


moves = st.tuples(st.integers(-1500, 1500), st.integers(-1500, 1500))


def by(point: Point, move: tuple[int, int]) -> Point:
    return round(point[0] + move[0] / 1000, 3), round(point[1] + move[1] / 1000, 3)


def whole(a: Point, found: Stretch, b: Point) -> tuple[Point, ...]:
    return (a, *found.corners, b)


@given(pipes(), moves, moves, st.data())
@settings(max_examples=400, deadline=None)
def test_a_stretched_pipe_is_sound(
    pipe: Pipe, move_a: tuple[int, int], move_b: tuple[int, int], data: st.DataObject
) -> None:
    points, dir_a, dir_b = pipe
    held = data.draw(st.frozensets(st.integers(0, len(points) - 2)))
    a, b = by(points[0], move_a), by(points[-1], data.draw(st.sampled_from([move_b, (0, 0)])))
    found = stretch(points, held, a, b, dir_a, dir_b)
    if found is None:
        return
    new = whole(a, found, b)
    assert all(is_level(p, q) != is_upright(p, q) for p, q in pairwise(new))
    for p, q, way in ((new[0], new[1], dir_a), (new[-1], new[-2], dir_b)):
        out = (q[0] - p[0]) * STEPS[way][0] + (q[1] - p[1]) * STEPS[way][1]
        assert out >= (0.0995 if len(new) > 2 else 0.0005), "a stub is cut"
    assert LineString(new).is_simple
    # held runs stay where they were, unless nothing is left of them
    runs = runs_of(new, found.held)
    for old in runs_of(points, held)[1:-1]:
        if old.hold != "held":
            continue
        still = [r for r in runs if r.way == old.way and abs(r.at_m - old.at_m) < 0.0006]
        if not any(r.number in found.held or r.hold == "attached" for r in still):
            along = 1 if old.way == "upright" else 0
            k = old.number
            neighbours = [_coordinate(points, a, b, n, along) for n in (k - 1, k + 1)]
            assert abs(neighbours[0] - neighbours[1]) < 0.0006, "a held run left its place"
    # heights change only where a note says so
    before = {round(r.at_m, 3) for r in runs_of(points) if r.way == "level"}
    noted = {n.run: n for n in found.notes}
    for run in runs:
        if run.way == "level" and round(run.at_m, 3) not in before:
            assert abs(noted[run.number].new_m - run.at_m) < 1e-9


def _coordinate(points: tuple[Point, ...], a: Point, b: Point, run: int, axis: int) -> float:
    """The coordinate a neighbour of a held run has after the move: its port's, its own, or what a stub asks
    for."""
    if run == 0:
        return a[axis]
    if run == len(points) - 2:
        return b[axis]
    return points[run][axis]


@given(pipes(), moves, moves)
@settings(max_examples=150, deadline=None)
def test_out_and_back_changes_nothing(pipe: Pipe, move_a: tuple[int, int], move_b: tuple[int, int]) -> None:
    points, dir_a, dir_b = pipe
    held = frozenset({1}) if len(points) > 3 else frozenset()
    stretch(points, held, by(points[0], move_a), by(points[-1], move_b), dir_a, dir_b)
    back = stretch(points, held, points[0], points[-1], dir_a, dir_b)
    assert back == Stretch(points[1:-1], held, ())


@given(pipes(), moves, moves)
@settings(max_examples=150, deadline=None)
def test_a_mirrored_pipe_stretches_to_the_mirror(pipe: Pipe, move_a: tuple[int, int], move_b: tuple[int, int]) -> None:
    points, dir_a, dir_b = pipe
    other: dict[Dir, Dir] = {"left": "right", "right": "left", "up": "up", "down": "down"}
    a, b = by(points[0], move_a), by(points[-1], move_b)
    plain = stretch(points, frozenset(), a, b, dir_a, dir_b)
    turned = stretch(
        tuple((-x, z) for x, z in points),
        frozenset(),
        (-a[0], a[1]),
        (-b[0], b[1]),
        other[dir_a],
        other[dir_b],
    )
    assert (plain is None) == (turned is None)
    if plain and turned:
        assert turned.corners == tuple((-x, z) for x, z in plain.corners) and turned.notes == plain.notes


STEP: tuple[Point, ...] = ((0.0, 1.0), (1.0, 1.0), (1.0, 2.0), (3.0, 2.0))


def test_a_level_run_at_a_port_follows_it_and_says_so() -> None:
    found = stretch(STEP, frozenset(), (0, 1), (3, 2.5), "right", "left")
    assert found == Stretch(((1.0, 1.0), (1.0, 2.5)), frozenset(), (HeightNote(2, 2.0, 2.5),))


def test_a_free_riser_slides_just_far_enough_for_the_stub_and_a_held_one_does_not() -> None:
    found = stretch(STEP, frozenset(), (1.2, 1), (3, 2), "right", "left")
    assert found is not None and found.corners == ((1.3, 1.0), (1.3, 2.0)) and found.notes == ()
    assert stretch(STEP, frozenset({1}), (1.2, 1), (3, 2), "right", "left") is None
    assert stretch(STEP, frozenset(), (2.9, 1), (3, 2), "right", "left") is None, "no room for two stubs"


def test_a_free_level_run_is_pushed_only_by_a_stub_and_says_so() -> None:
    up: tuple[Point, ...] = ((0.0, 1.0), (0.0, 2.0), (3.0, 2.0), (3.0, 1.0))
    stays = stretch(up, frozenset(), (0.5, 1.5), (3, 1), "up", "up")
    assert stays == Stretch(((0.5, 2.0), (3.0, 2.0)), frozenset(), ())
    pushed = stretch(up, frozenset(), (0, 2.2), (3, 1), "up", "up")
    assert pushed == Stretch(((0.0, 2.3), (3.0, 2.3)), frozenset(), (HeightNote(1, 2.0, 2.3),))
    assert stretch(up, frozenset({1}), (0, 2.2), (3, 1), "up", "up") is None


def test_a_straight_pipe_gets_a_jog_and_an_l_that_folds_is_given_up() -> None:
    flat: tuple[Point, ...] = ((0.0, 1.0), (2.0, 1.0))
    jog = stretch(flat, frozenset(), (0, 1), (2, 1.5), "right", "left")
    assert jog == Stretch(((1.0, 1.0), (1.0, 1.5)), frozenset(), (HeightNote(2, 1.0, 1.5),))
    corner: tuple[Point, ...] = ((0.0, 1.0), (1.0, 1.0), (1.0, 3.0))
    assert stretch(corner, frozenset(), (0, 1), (-1, 3), "right", "down") is None
    straight = stretch(STEP, frozenset(), (0, 1), (3, 1), "right", "left")
    assert straight is not None and straight.corners == ()


def test_a_port_turned_away_and_a_slope_that_would_change_are_given_up() -> None:
    assert stretch(STEP, frozenset(), (0, 1.1), (3, 2), "up", "left") is None
    sloped: tuple[Point, ...] = ((0.0, 1.0), (1.0, 1.0), (3.0, 1.2), (3.0, 2.0))
    assert stretch(sloped, frozenset({1}), (0, 1.5), (3, 2), "right", "down") is None
    longer = stretch(sloped, frozenset({1}), (-1, 1), (3, 2.4), "right", "down")
    assert longer == Stretch(((1.0, 1.0), (3.0, 1.2)), frozenset({1}), ())
