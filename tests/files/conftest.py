"""One sheet of shipped kinds with everything a file can hold."""

from __future__ import annotations

import pytest

from loopwright import draw
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet


@pytest.fixture(scope="session")
def sheet() -> Sheet:
    s = draw.sheet("Kiln Lane “barn”", levels={"Ground floor": 0, "First floor": 2.6})
    store = s.store(
        "store", x_m=4, height_m=0.1, volume_l=300, tappings={
            "stove flow": 1.3, "stove return": 0.3, "pocket": {"height_m": 1.2, "side": "right", "purpose": "sensor"},
        }, coils=[{"name": "solar", "bottom_m": 0.15, "top_m": 0.6, "area_m2": 1.5}],
    )  # fmt: skip
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0, power_kw=8, existing=True)
    up = s.pipe(stove["flow"], store["stove flow"], via=[(2.0, 1.4)], graded="b", insulation_mm=20)
    s.pipe(store["stove return"], stove["return"], extra_length_m=0.5)
    tee = s.tee(up, (3.0, 1.4), towards="up")
    s.cap(tee["branch"])
    s.link(store.pocket("pocket"), stove, "runs_below", setting_c=60)
    s.note("Hot \n and „odd“ \t ☃", x_m=0.5, height_m=1)
    s.fact(house_load_w=8000, pets="none", new=True)
    s.limit(leak_kw=1.25)
    made = s.done()
    return edits.set_title(made, made.title)
