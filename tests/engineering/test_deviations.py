"""The table of deviations itself: it keeps the largest of each, and a figure beyond its limit fails."""

import pytest

from deviations import largest


def test_the_largest_of_each_reference_is_kept():
    noted = [["book", "flow", 0.2, 1.0, "%"], ["book", "flow", 0.7, 1.0, "%"], ["book", "rise", 1.5, 2.0, "K"]]
    assert largest(noted) == [("book", "flow", 0.7, 1.0, "%", 2), ("book", "rise", 1.5, 2.0, "K", 1)]


def test_beyond_its_limit_a_figure_fails():
    from deviations import deviation

    noted = []
    check = deviation.__wrapped__(lambda key, value: noted.append(value))
    check("flow", "itself", 1.02, 1.0, 0.05)
    with pytest.raises(AssertionError, match="flow against itself"):
        check("flow", "itself", 1.2, 1.0, 0.05)
    assert noted[-1][2] == pytest.approx(20.0)
