"""Heights along a walk: dips and humps against scipy's peaks, grading, level runs, and the walk the other way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from loopwright import draw
from loopwright.waterways import Waterways
from loopwright.waterways.loops import loop_to
from loopwright.waterways.profile import GRADE, LEVEL_M, Stop, dips, falls, humps, level_runs, stops
from loopwright.waterways.views import Ask
from waterways.drawn import base, sink_of, source_of, ways_of

# even millimetres, all different: no two heights are just 5 mm apart, none is a tie
lines = st.lists(st.integers(-200, 200), min_size=1, max_size=40, unique=True).map(lambda z: [2 * v / 1000 for v in z])


def walk_of(heights):
    return [Stop(("pipe", f"p{i}"), (float(i), z), z) for i, z in enumerate(heights)]


def turned(walk):
    return walk[::-1]


@given(lines)
def test_humps_are_the_peaks_that_stand_more_than_5_mm_clear(heights):
    # scipy find_peaks by prominence is the reference; depth is measured to the nearer-filling valley beside the peak
    walk = walk_of(heights)
    peaks, _ = find_peaks(heights, prominence=LEVEL_M)
    found = humps(walk)
    assert sorted(b.at[0] for b in found) == list(peaks)
    edges = [0, *peaks, len(heights) - 1]
    for left, peak, right in zip(edges, peaks, edges[2:]):
        (bend,) = [b for b in found if b.at[0] == peak]
        low = max(min(heights[left : peak + 1]), min(heights[peak : right + 1]))
        assert bend.depth_m == pytest.approx(heights[peak] - low) and bend.depth_m > LEVEL_M
    assert [b.depth_m for b in found] == sorted((b.depth_m for b in found), reverse=True)


@given(lines)
def test_a_dip_is_a_hump_of_the_heights_upside_down(heights):
    upside = walk_of([-z for z in heights])
    assert [(b.key, b.depth_m) for b in dips(walk_of(heights))] == [(b.key, b.depth_m) for b in humps(upside)]


@given(lines)
def test_the_walk_the_other_way_has_the_same_bends(heights):
    walk = walk_of(heights)
    for of in (dips, humps):
        there = {(b.key, round(b.depth_m, 9)) for b in of(walk)}
        assert there == {(b.key, round(b.depth_m, 9)) for b in of(turned(walk))}


@given(lines)
def test_falls_one_way_are_rises_the_other(heights):
    walk = walk_of(heights)
    down, up = falls(walk), falls(turned(walk))
    steps = np.diff(heights)
    assert sum(d for _, d in down) == pytest.approx(-steps[steps < -LEVEL_M].sum())
    assert sum(d for _, d in up) == pytest.approx(steps[steps > LEVEL_M].sum())


@given(lines)
def test_a_walk_without_a_fall_has_no_bend(heights):
    assert not dips(walk_of(sorted(heights))) and not humps(walk_of(sorted(heights)))
    assert not falls(walk_of(sorted(heights)))


def test_a_bend_names_the_level_top_and_nothing_as_high_elsewhere():
    walk = walk_of([0.0, 1.0, 1.0, 0.0, 1.0, 0.2])
    first, second = sorted(humps(walk), key=lambda b: b.at[0])
    assert first.keys == (("pipe", "p1"), ("pipe", "p2")) and second.keys == (("pipe", "p4"),)
    assert (first.depth_m, second.depth_m) == pytest.approx((1.0, 0.8))


def test_less_than_5_mm_is_level():
    assert not dips(walk_of([1.0, 0.996, 1.0])) and not falls(walk_of([1.0, 0.996]))
    assert dips(walk_of([1.0, 0.994, 1.0]))


def riser(*corners: tuple[float, float], graded: str = "", union: float | None = None) -> Waterways:
    """One pipe from a stove's flow to a radiator, through corners, or two with a union between them at x."""
    d = draw.sheet("Riser")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    last = corners[-1]
    rad = d.add("radiator", "rad", x_m=last[0] + 0.5, height_m=last[1] - 0.5)
    d.pipe(rad["return"], stove["return"])
    if union is None:
        d.pipe(stove["flow"], rad["flow"], via=list(corners), graded=graded, id="up")
        return ways_of(d)
    fitting = d.add("union", "U", x_m=union, height_m=last[1])
    before = [c for c in corners if c[0] < union]
    after = [c for c in corners if c[0] > union]
    d.pipe(stove["flow"], fitting["a"], via=before, graded=graded, id="up")
    d.pipe(fitting["b"], rad["flow"], via=after, graded=graded, id="on")
    return ways_of(d)


def flow_walk(ways: Waterways) -> list[Stop]:
    loop = loop_to(ways, source_of(ways), sink_of(ways, "rad"), Ask.FIXED)
    return stops(ways, loop.flow_leg)


def test_a_graded_level_run_rises_1_in_120_along_it_and_falls_the_other_way():
    # 1 in 120: common practice, no source
    corners = ((0.6, 0.68), (0.6, 2.0), (3.6, 2.0))
    plain, up = flow_walk(riser(*corners)), flow_walk(riser(*corners, graded="b"))
    down = flow_walk(riser(*corners, graded="a"))
    level = next(i for i, s in enumerate(plain) if s.at == (3.6, 2.0))
    before = next(i for i, s in enumerate(plain) if s.at == (0.6, 2.0))
    assert plain[level].z == plain[before].z
    assert up[level].z - up[before].z == pytest.approx(3.0 * GRADE) == pytest.approx(0.025)
    assert down[level].z - down[before].z == pytest.approx(-0.025)
    assert level_runs(plain) and not level_runs(up)[1:] and falls(down) and not falls(up)


def test_grading_never_hides_a_drawn_fall_and_never_makes_one():
    # a long graded run, then a small drawn rise: the walk goes on rising
    rising = flow_walk(riser((0.6, 0.68), (0.6, 2.0), (4.0, 2.0), (4.0, 2.01), (5.0, 2.01), graded="b"))
    assert not falls(rising) and not dips(rising)
    # and a drawn fall of 20 mm stays 20 mm, though the run before it rose by 28 mm
    falling = flow_walk(riser((0.6, 0.68), (0.6, 2.0), (4.0, 2.0), (4.0, 1.98), (5.0, 1.98), graded="b"))
    assert [round(d, 6) for _, d in falls(falling)][:1] == [0.02]


@pytest.mark.parametrize("mark", ["", "a", "b"])
def test_a_leg_walked_the_other_way_has_the_same_shape(mark):
    corners = ((0.6, 0.68), (0.6, 2.0), (3.0, 2.0), (3.0, 1.99), (4.0, 1.99), (4.0, 2.6), (5.0, 2.6))
    ways = riser(*corners, graded=mark)
    loop = loop_to(ways, source_of(ways), sink_of(ways, "rad"), Ask.FIXED)
    there = stops(ways, loop.flow_leg)
    back = stops(ways, [(k, not f) for k, f in reversed(loop.flow_leg)])
    heights = {s.at: s.z for s in there}
    other = {s.at: s.z for s in back}
    shift = {round(heights[at] - other[at], 9) for at in heights.keys() & other.keys()}
    assert len(shift) == 1 and len(heights.keys() & other.keys()) >= 7
    assert [round(b.depth_m, 9) for b in dips(there)] == [round(b.depth_m, 9) for b in dips(back)]
    assert sum(length for _, length in level_runs(there)) == pytest.approx(sum(m for _, m in level_runs(back)))


def test_a_union_in_a_level_run_changes_nothing():
    corners = ((0.6, 0.68), (0.6, 2.0), (5.0, 2.0))
    for graded in ("", "b"):
        plain, jointed = riser(*corners, graded=graded), riser(*corners, graded=graded, union=2.0)
        runs = [[round(m, 6) for _, m in level_runs(flow_walk(w))] for w in (plain, jointed)]
        assert runs[0] == runs[1]
        tops = [max(s.z for s in flow_walk(w)) for w in (plain, jointed)]
        assert tops[0] == pytest.approx(tops[1])


def test_the_inside_of_a_large_part_is_no_place_on_the_way():
    ways = base()
    loop = loop_to(ways, source_of(ways), sink_of(ways, "store", "body"), Ask.FIXED)
    walk = stops(ways, (*loop.flow_leg, *loop.return_leg))
    assert ways.at["body", "store"] not in [s.at for s in walk]
    assert not {ways.at[source_of(ways).hot], ways.at[source_of(ways).cold]} & {s.at for s in walk}
    assert not dips(stops(ways, loop.flow_leg))
