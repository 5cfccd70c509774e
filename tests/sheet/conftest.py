"""A stove, a vessel with tappings and the two pipes between them."""

from __future__ import annotations

import pytest
from kinds_for_tests import catalogue as kinds

from loopwright.catalogue import Catalogue
from loopwright.sheet import edits
from loopwright.sheet.values import End, Part, Sheet, Tapping


@pytest.fixture
def catalogue() -> Catalogue:
    return kinds()


@pytest.fixture
def sheet(catalogue: Catalogue) -> Sheet:
    """Stove at x 1, vessel at x 4; flow rises to tapping A at 1.50 m, return falls from tapping B at 0.30
    m."""
    made = edits.place(Sheet(title="Test"), Part(id="stove", kind="boiler_stove", x_m=1.0, height_m=0.0))
    tappings = (
        Tapping(letter="A", name="stove flow", height_m=1.4),
        Tapping(letter="B", name="stove return", height_m=0.3),
        Tapping(letter="C", name="spare", height_m=0.8, side="right", size="22"),
        Tapping(letter="D", name="pocket", height_m=1.2, side="right", purpose="sensor"),
    )
    made = edits.place(made, Part(id="store", kind="test_vessel", x_m=4.0, height_m=0.1, tappings=tappings))
    made = edits.connect(
        made, End("stove", "flow"), End("store", "A"), catalogue, points=[(2.0, 0.68), (2.0, 1.5)], pipe_id="up"
    )
    return edits.connect(made, End("store", "B"), End("stove", "return"), catalogue, pipe_id="down")
