"""Words cut to their room: as long as they may be, and no longer."""

from __future__ import annotations

import pytest

from loopwright.drawing.widths import shortened, width_px

LINE = "Store beside the stove, second floor , to the right"


@pytest.mark.parametrize("room", [1.0, 20.0, 60.0, 61.0, 100.0, 200.0, 320.0, 1000.0])
def test_as_much_as_has_room_and_not_a_letter_more(room: float) -> None:
    got = shortened(LINE, room, lambda some: width_px(some, 12.0))
    if width_px(LINE, 12.0) <= room:
        assert got == LINE
        return
    lengths = range(len(LINE))
    fitting = [n for n in lengths if width_px(LINE[:n].rstrip(" ,") + "…", 12.0) <= room]
    assert got == LINE[: max(fitting, default=0)].rstrip(" ,") + "…"
