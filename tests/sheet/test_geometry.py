"""Lengths and bends of pipes, against plane geometry done by hand."""

from __future__ import annotations

import math

import pytest

from loopwright.sheet import edits, geometry
from loopwright.sheet.geometry import nearest_on


def test_developed_length_is_the_sum_of_the_runs_and_what_is_hidden(sheet, catalogue):
    up = sheet.pipes["up"]
    # from the stove's flow (1.31, 0.68) to 2.0, up to 1.5, and on to the stub at 4 - 0.25 - 0.03
    assert geometry.developed_length_m(sheet, up, catalogue) == pytest.approx(0.69 + 0.82 + 1.72)
    longer = edits.set_pipe(sheet, "up", extra_length_m=2.5, extra_bends=2).pipes["up"]
    assert geometry.developed_length_m(sheet, longer, catalogue) == pytest.approx(0.69 + 0.82 + 1.72 + 2.5)
    assert geometry.bends(sheet, up, catalogue) == 2
    assert geometry.bends(sheet, longer, catalogue) == 4


def test_a_slope_counts_by_pythagoras():
    assert geometry.drawn_length_m(((0.0, 0.0), (3.0, 4.0))) == pytest.approx(5.0)


def test_a_point_in_a_straight_stretch_is_no_bend(sheet, catalogue):
    straight = ((0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 3.0))
    assert geometry._corners(straight) == 1


def test_nearest_run_and_foot():
    line = ((0.0, 0.0), (2.0, 0.0), (2.0, 3.0))
    assert nearest_on(line, (1.0, 0.2)) == (0, (1.0, 0.0), pytest.approx(0.2))
    number, foot, away = nearest_on(line, (2.3, 1.0))
    assert (number, foot) == (1, (2.0, 1.0))
    assert away == pytest.approx(0.3)
    assert nearest_on(line, (2.0, 0.0))[0] == 1  # the corner goes to the longer run
    assert math.isclose(nearest_on(line, (-3.0, -4.0))[2], 5.0)
