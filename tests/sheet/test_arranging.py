"""Parts brought into line, corners changed by hand, fittings on branches, whole circuits, guide lines."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files import load
from loopwright.sheet import edits
from loopwright.sheet.aligning import align, distribute, level_ports, stack
from loopwright.sheet.bends import (
    lead_anew,
    move_corner,
    move_run,
    part_run,
    space_risers,
    without_corner,
)
from loopwright.sheet.circuit import circuit_of
from loopwright.sheet.crossings import all_hops
from loopwright.sheet.geometry import polyline
from loopwright.sheet.guides import Guides
from loopwright.sheet.neatness import BEND_M, CROSSING_M, CROWDED, ENTERED_M, REVERSAL_M, untidiness
from loopwright.sheet.ports import box_of, ports_of
from loopwright.sheet.removal import remove
from loopwright.sheet.values import End, Part, Sheet

CATALOGUE = standard_catalogue()


@pytest.fixture
def sheet() -> Sheet:
    s = draw.sheet("Lines")
    s.store(
        "store",
        x_m=5,
        height_m=1.0,
        volume_l=200,
        tappings={
            "flow": {"height_m": 1.2, "side": "left"},
            "return": {"height_m": 0.2, "side": "left"},
            "load": {"height_m": 1.2, "side": "right"},
            "back": {"height_m": 0.2, "side": "right"},
        },
    )
    s.add("boiler_stove", "stove", x_m=1, height_m=0)
    for k, x in enumerate((7.0, 8.3, 10.0)):
        s.add("radiator", f"r{k}", x_m=x, height_m=0.2 * k)
    s.add("pump", "P1", x_m=3, height_m=3.0)
    s.pipe(s["stove"]["flow"], s["store"]["flow"], id="up")
    s.pipe(s["stove"]["return"], s["store"]["return"], id="down")
    s.pipe(s["store"]["load"], s["r0"]["flow"], id="out")
    s.pipe(s["r0"]["return"], s["store"]["back"], id="home")
    return s.done()


def boxes(sheet: Sheet, *ids: str) -> list[tuple[float, float, float, float]]:
    return [box_of(sheet.parts[i], CATALOGUE) for i in ids]


def square(sheet: Sheet) -> bool:
    """Every pipe on its ports and at right angles."""
    for pipe in sheet.pipes.values():
        line = polyline(sheet, pipe, CATALOGUE)
        if any(abs(a[0] - b[0]) > 1e-6 and abs(a[1] - b[1]) > 1e-6 for a, b in pairwise(line)):
            return False
    return True


@pytest.mark.parametrize(("edge", "side"), [("left", 0), ("bottom", 1), ("right", 2), ("top", 3)])
def test_edges_in_line(sheet, edge, side):
    ids = ("r0", "r1", "r2")
    before = [b[side] for b in boxes(sheet, *ids)]
    after = [b[side] for b in boxes(align(sheet, ids, edge, CATALOGUE), *ids)]
    assert after == pytest.approx([(min if side < 2 else max)(before)] * 3)


def test_middles_in_line_and_pipes_follow(sheet):
    after = align(sheet, {"stove", "r0", "P1"}, "middle", CATALOGUE)
    mids = [(b[1] + b[3]) / 2 for b in boxes(after, "stove", "r0", "P1")]
    assert mids == pytest.approx([mids[0]] * 3)
    assert square(after)
    assert after.parts["store"] == sheet.parts["store"]
    with pytest.raises(SheetError, match="two parts"):
        align(sheet, {"stove"}, "left", CATALOGUE)


def test_equal_gaps(sheet):
    after = distribute(sheet, {"r0", "r1", "r2"}, True, CATALOGUE)
    a, b, c = boxes(after, "r0", "r1", "r2")
    assert b[0] - a[2] == pytest.approx(c[0] - b[2])
    assert after.parts["r0"] == sheet.parts["r0"] and after.parts["r2"] == sheet.parts["r2"]
    with pytest.raises(SheetError, match="three parts"):
        distribute(sheet, {"r0", "r1"}, True, CATALOGUE)


def test_parts_stacked_on_the_lowest(sheet):
    after = stack(sheet, {"r0", "r1", "r2"}, CATALOGUE)
    boxes = [box_of(after.parts[k], CATALOGUE) for k in ("r0", "r1", "r2")]  # r0 is the lowest
    assert boxes[0] == box_of(sheet.parts["r0"], CATALOGUE)
    for below, above in pairwise(boxes):
        assert above[1] - below[3] == pytest.approx(0.1)
        assert (above[0] + above[2]) / 2 == pytest.approx((below[0] + below[2]) / 2)
    with pytest.raises(SheetError):
        stack(sheet, {"r0"}, CATALOGUE)


def test_ports_made_level_by_the_pipe_between(sheet):
    after = level_ports(sheet, {"store", "r0"}, CATALOGUE)
    assert after.parts["store"] == sheet.parts["store"], "the largest stays"
    heights = {
        name: {ports_of(after.parts[e.part], CATALOGUE)[e.port].at[1] for e in (pipe.a, pipe.b)}
        for name, pipe in after.pipes.items()
        if name in ("out", "home")
    }
    assert any(len({round(h, 6) for h in pair}) == 1 for pair in heights.values())


def test_parts_screwed_together_are_brought_into_line_as_one():
    s = draw.sheet("Joint")
    a = s.add("isolating_valve", "v", x_m=2.0, height_m=1.0)
    b = s.add("pump", "p", x_m=2.24, height_m=1.0)
    s.joint(a["b"], b["a"])
    s.add("radiator", "r", x_m=6.0, height_m=3.0)
    sheet = s.done()
    after = align(sheet, {"v", "r"}, "bottom", CATALOGUE)
    assert after.parts["p"].height_m == after.parts["v"].height_m


# ---- corners


def test_a_run_that_begins_at_a_port_is_dragged_by_a_jog(sheet):
    line = polyline(sheet, sheet.pipes["up"], CATALOGUE)
    after = move_run(sheet, "up", len(line) - 2, (0.0, line[-1][1] + 0.3), CATALOGUE)
    new = polyline(after, after.pipes["up"], CATALOGUE)
    assert new[0] == line[0] and new[-1] == line[-1] and len(new) == len(line) + 2 and square(after)
    assert any(z == pytest.approx(line[-1][1] + 0.3) for _, z in new)
    held = after.pipes["up"].held
    assert any(new[k][1] == pytest.approx(line[-1][1] + 0.3) for k in held), "what was set by hand is held"
    # and back: in line again there are no more corners than before
    back = next(k for k in held if new[k][1] == pytest.approx(line[-1][1] + 0.3))
    again = move_run(after, "up", back, (0.0, line[-1][1]), CATALOGUE)
    assert [p == pytest.approx(q) for p, q in zip(polyline(again, again.pipes["up"], CATALOGUE), line)] == [True] * len(
        line
    )


def test_a_piece_of_a_run_is_pulled_out(sheet):
    line = polyline(sheet, sheet.pipes["out"], CATALOGUE)
    a, b = max(pairwise(line), key=lambda r: abs(r[0][0] - r[1][0]) + abs(r[0][1] - r[1][1]))
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    after = part_run(sheet, "out", middle, (middle[0] + 0.2, middle[1] + 0.2), CATALOGUE)
    new = polyline(after, after.pipes["out"], CATALOGUE)
    assert len(new) >= len(line) + 1 and square(after) and (new[0], new[-1]) == (line[0], line[-1])
    fewer = without_corner(after, "out", middle, CATALOGUE)
    assert len(fewer.pipes["out"].points) < len(after.pipes["out"].points) and square(fewer)


def test_a_corner_is_moved_along_what_its_runs_allow(sheet):
    made = edits.set_pipe(sheet, "up", points=((2.0, 0.65), (2.0, 3.0), (3.0, 3.0), (3.0, 2.2)))
    made = lead_anew(made, {"up"}, CATALOGUE)
    made = edits.set_pipe(made, "up", points=_through(made, "up", [(2.0, None), (2.0, 3.0), (3.5, 3.0), (3.5, None)]))
    after = move_corner(made, "up", 2, (2.2, 3.2), CATALOGUE)
    assert after.pipes["up"].points[1] == (2.2, 3.2) and square(after)
    with pytest.raises(SheetError, match="no corner"):
        move_corner(made, "up", 0, (0.0, 0.0), CATALOGUE)


def _through(sheet, pipe_id, corners):
    line = polyline(sheet, sheet.pipes[pipe_id], CATALOGUE)
    ends = [line[0], line[0], line[-1], line[-1]]
    return tuple((x, ends[k][1] if z is None else z) for k, (x, z) in enumerate(corners))


def test_a_pipe_led_anew_lets_go_of_what_was_held(sheet):
    bent = part_run(sheet, "down", (3.0, 1.0), (3.0, 1.6), CATALOGUE)
    after = lead_anew(bent, {"down"}, CATALOGUE)
    assert after.pipes["down"].held == () and len(after.pipes["down"].points) <= len(bent.pipes["down"].points)
    assert square(after)


def test_risers_set_apart_keep_every_height():
    s = draw.sheet("Risers")
    for k in range(3):
        s.add("isolating_valve", f"a{k}", x_m=1.0, height_m=1.0 + 0.3 * k)
        s.add("isolating_valve", f"b{k}", x_m=4.0, height_m=3.0 + 0.3 * k)
        s.pipe(s[f"a{k}"]["b"], s[f"b{k}"]["a"], id=f"p{k}", via=[(2.5 + 0.01 * k, 1.0 + 0.3 * k)])
    sheet = s.done()
    free = Sheet(
        title="Risers",
        parts=dict(sheet.parts),
        pipes={k: edits.set_pipe(sheet, k, held=()).pipes[k] for k in sheet.pipes},
    )
    after = space_risers(free, None, CATALOGUE)
    xs = sorted({x for p in after.pipes.values() for x, _ in p.points})
    assert len(xs) == 3 and all(b - a >= 0.1 - 1e-6 for a, b in pairwise(xs))
    assert sorted(z for p in after.pipes.values() for _, z in p.points) == sorted(
        z for p in free.pipes.values() for _, z in p.points
    )


# ---- fittings that cannot lie in line


@pytest.mark.parametrize("kind", ["relief_valve", "air_vent_auto", "drain_cock", "pressure_gauge"])
def test_a_fitting_with_one_side_stands_on_a_branch(sheet, kind):
    if kind not in CATALOGUE:
        pytest.skip(f"no {kind} in the catalogue")
    line = polyline(sheet, sheet.pipes["up"], CATALOGUE)
    a, b = max(pairwise(line), key=lambda r: abs(r[0][0] - r[1][0]) + abs(r[0][1] - r[1][1]))
    at = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    part = Part(id="new", kind=kind, x_m=0.0, height_m=0.0)
    after = edits.branch_from(sheet, "up", part, at, CATALOGUE)
    tee = next(p for p in after.parts.values() if p.kind == "tee")
    assert len(after.pipes_of(tee.id)) == 3 and len(after.pipes_of("new")) == 1
    pipe = after.pipes_of("new")[0]
    assert pipe.other("new").part == tee.id and square(after)
    assert edits.delete(after, {"new", tee.id}, CATALOGUE).pipes.keys() == sheet.pipes.keys()


def test_a_loading_unit_lies_in_a_pipe_by_its_straight_way(sheet):
    line = polyline(sheet, sheet.pipes["up"], CATALOGUE)
    a, b = max((r for r in pairwise(line) if r[0][1] == r[1][1]), key=lambda r: abs(r[0][0] - r[1][0]))
    at = ((a[0] + b[0]) / 2, a[1])
    part = Part(id="unit", kind="loading_unit_4", x_m=0.0, height_m=0.0)
    after = edits.insert_in_pipe(sheet, "up", part, at, CATALOGUE)
    ends = {e.port for p in after.pipes_of("unit") for e in (p.a, p.b) if e.part == "unit"}
    assert ends == {"boiler_flow", "store_flow"} and square(after)
    assert len(edits.delete(after, {"unit"}, CATALOGUE).pipes) == len(sheet.pipes)


# ---- circuits


def test_a_circuit_runs_through_emitters_and_sources_up_to_the_store(sheet):
    fire = circuit_of(sheet, "up", CATALOGUE)
    assert {"up", "down", "stove"} <= fire and "store" not in fire and "out" not in fire
    load = circuit_of(sheet, "out", CATALOGUE)
    assert load == {"out", "home", "r0"}
    assert circuit_of(sheet, "ghost", CATALOGUE) == frozenset()


# ---- guides


def test_a_move_is_drawn_to_the_height_that_makes_its_pipe_level(sheet):
    flow, tap = ports_of(sheet.parts["r0"], CATALOGUE)["flow"].at, ports_of(sheet.parts["store"], CATALOGUE)["C"].at
    guides = Guides(sheet, {"r0"}, "r0", CATALOGUE)
    exact = tap[1] - flow[1]
    found = guides.snap(0.31, exact + 0.03, 0.05)
    assert found.dz == pytest.approx(exact) and found.lines
    (still, moved) = next(pair for pair in found.lines if pair[0][1] == pytest.approx(pair[1][1]))
    assert still[1] == pytest.approx(tap[1]) and moved[1] == pytest.approx(tap[1])
    assert guides.snap(0.31, 40.0, 0.05).dz is None
    assert Guides(Sheet(), set(), "", CATALOGUE).snap(0.1, 0.1, 1.0).dx is None


def test_a_port_at_which_the_pipe_must_turn_is_no_line_to_be_drawn_to():
    parts = Part(id="r", kind="radiator", x_m=5.0, height_m=0.0), Part(id="t", kind="tee", x_m=2.0, height_m=3.0)
    sheet = Sheet(parts={p.id: p for p in parts})
    flow, branch = ports_of(sheet.parts["r"], CATALOGUE)["flow"], ports_of(sheet.parts["t"], CATALOGUE)["branch"]
    assert (flow.side, branch.side) == ("left", "up")
    piped = edits.connect(sheet, End("r", "flow"), End("t", "branch"), CATALOGUE)
    near, strangers = branch.at[1] - flow.at[1] + 0.03, (0.01, 0.01)
    assert Guides(piped, {"r"}, "r", CATALOGUE).snap(0.31, near, 0.05, strangers).dz is None


# ---- deleting


def test_a_tee_goes_with_its_branch_and_the_pipe_is_whole_again(sheet):
    line = polyline(sheet, sheet.pipes["up"], CATALOGUE)
    a, b = max(pairwise(line), key=lambda r: abs(r[0][0] - r[1][0]) + abs(r[0][1] - r[1][1]))
    part = Part(id="SV", kind="relief_valve", x_m=0.0, height_m=0.0)
    made = edits.branch_from(sheet, "up", part, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), CATALOGUE)
    assert len(made.pipes) == len(sheet.pipes) + 2
    whole = remove(made, {"SV"}, CATALOGUE)
    assert set(whole.parts) == set(sheet.parts) and len(whole.pipes) == len(sheet.pipes)
    assert sorted(polyline(whole, whole.pipes["up"], CATALOGUE)) == sorted(line)
    branch = made.pipes_of("SV")[0].id
    assert set(remove(made, {branch}, CATALOGUE).parts) == {*sheet.parts, "SV"}
    # a tee in a pipe that changes size there stays: it is a reducer too
    tee = next(p.id for p in made.parts.values() if p.kind == "tee")
    other = next(p.id for p in made.pipes_of(tee) if p.id not in (branch, "up"))
    wider = edits.set_pipe(made, other, size="35")
    assert tee in remove(wider, {"SV"}, CATALOGUE).parts


def test_the_price_of_a_way_counts_what_an_eye_counts():
    """By hand: metres, bends, crossings, turns from up to down, parts run through, and metres too close beside."""
    straight = [(0.0, 0.0), (4.0, 0.0)]
    assert untidiness(straight, [], []) == pytest.approx(4.0)
    jogged = [(0.0, 0.0), (2.0, 0.0), (2.0, 0.5), (4.0, 0.5)]
    assert untidiness(jogged, [], []) == pytest.approx(4.5 + 2 * BEND_M)
    humped = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)]
    assert untidiness(humped, [], []) == pytest.approx(3.0 + 2 * BEND_M + REVERSAL_M)
    assert untidiness(straight, [[(1.0, -1.0), (1.0, 1.0)]], []) == pytest.approx(4.0 + CROSSING_M)
    assert untidiness(straight, [[(1.0, 0.0), (1.0, 1.0)]], []) == pytest.approx(4.0), "a branch is no crossing"
    assert untidiness(straight, [[(1.0, 0.02), (2.5, 0.02)]], []) == pytest.approx(4.0 + 1.5 * CROWDED)
    assert untidiness(straight, [], [(1.0, -0.5, 2.0, 0.5)]) == pytest.approx(4.0 + ENTERED_M)
    assert untidiness(straight, [], [(1.0, 0.0, 2.0, 0.5)]) == pytest.approx(4.0), "along an edge is outside"


@pytest.mark.parametrize("name", ["three-source", "log-boiler", "oil-by-coil", "stove-by-gravity"])
def test_pipes_of_a_sample_led_anew_have_no_more_bends_and_crossings_together(name):
    path = Path(__file__).resolve().parents[2] / "samples" / "sound" / f"{name}.loopwright"
    sheet = load(path, CATALOGUE)

    def counted(sheet):
        lines = {k: polyline(sheet, p, CATALOGUE) for k, p in sheet.pipes.items()}
        return sum(len(line) - 2 for line in lines.values()), sum(map(len, all_hops(lines).values()))

    before, after = counted(sheet), counted(lead_anew(sheet, set(sheet.pipes), CATALOGUE))
    assert sum(after) <= sum(before), "together: a bend may be given for a crossing"
