"""On every sample, at four zooms: no word meets another word, a flag, a part or the leader of another word."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path

import pytest
from shapely import LineString
from shapely import box as shapely_box

from loopwright.catalogue import standard_catalogue
from loopwright.drawing.flags import flags_of
from loopwright.drawing.labels import boxes_px, place_labels
from loopwright.drawing.look import PX_AT_FULL, Look
from loopwright.drawing.plan import plan_sheet
from loopwright.files import load
from loopwright.survey import survey

CATALOGUE = standard_catalogue()
SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*/*.loopwright"))
TOUCH_PX = 1.0
"""Boxes have a pixel of room in them: what overlaps by less does not touch on the screen."""


@cache
def planned(path: Path):
    sheet = load(path, CATALOGUE)
    found = survey(sheet, CATALOGUE)
    return plan_sheet(sheet, CATALOGUE, found.services), tuple(flags_of(found.findings))


def meets(a, b, by=TOUCH_PX):
    return a[0] < b[2] - by and b[0] < a[2] - by and a[1] < b[3] - by and b[1] < a[3] - by


def crosses(line, box, by=TOUCH_PX):
    """Whether a straight line enters a box by more than a touch (shapely is the reference)."""
    x0, y0, x1, y1 = box[0] + by, box[1] + by, box[2] - by, box[3] - by
    return x0 < x1 and y0 < y1 and LineString(line).intersects(shapely_box(x0, y0, x1, y1))


@pytest.mark.parametrize("zoom", [0.36, 0.6, 1.0, 1.6])
@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_no_word_meets_anything(path, zoom):
    plan, flags = planned(path)
    look = Look(PX_AT_FULL * zoom)
    labels = place_labels(plan, look, flags)
    boxes = boxes_px(labels, look)
    words = [f"{w.kind} {w.owner} {w.lines[0]}" for w in labels.words] + [f"flag {f.flag.number}" for f in labels.flags]
    things = {**plan.parts, **plan.stores}
    parts = {key: tuple(v * look.px_a_unit for v in thing.box) for key, thing in things.items()}
    clashes = [(m, n) for (m, a), (n, b) in combinations(zip(words, boxes), 2) if meets(a, b)]
    clashes += [
        (word, f"part {key}")
        for word, box in zip(words, boxes)
        for key, part in parts.items()
        if meets(box, part) and not word.startswith("flag")
    ]
    leaders = [
        (f"leader of {name}", tuple((x * look.px_a_unit, y * look.px_a_unit) for x, y in word.leader))
        for name, word in zip(words, labels.words)
        if word.leader and word.kind != "letter"
    ]
    clashes += [
        (leader, name)
        for leader, line in leaders
        for name, box in zip(words, boxes)
        if leader != f"leader of {name}" and crosses(line, box)
    ]
    assert not clashes
    assert len(labels.flags) == len(flags), "every finding has its flag"
