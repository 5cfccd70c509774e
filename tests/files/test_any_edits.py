"""Whatever order edits come in: the sheet can be saved and read again, pipes stay on their ports and at right
angles, and an edit that is refused leaves the sheet as it was."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files.reader import loads
from loopwright.files.writer import dumps
from loopwright.sheet import edits, geometry
from loopwright.sheet.plane import TINY_M
from loopwright.sheet.ports import ports_of
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import End, Part, Sheet

KINDS = ["tee", "isolating_valve", "pump", "radiator", "boiler_stove", "motorised_3port", "cap", "mixing_valve"]
CATALOGUE = standard_catalogue()


def start() -> Sheet:
    s = draw.sheet("Any")
    tappings = {f"t{k}": {"height_m": 0.1 + 0.2 * k, "side": "left" if k % 2 else "right"} for k in range(6)}
    s.store("store", x_m=4, height_m=0, volume_l=300, tappings=tappings)
    s.add("boiler_stove", "stove", x_m=0, height_m=0)
    return s.done()


def step(r: random.Random, sheet: Sheet, number: int) -> Sheet:
    c = CATALOGUE
    ids, pipes = list(sheet.parts), list(sheet.pipes)
    place = (r.uniform(-5, 12), r.uniform(0, 5))
    kind = c[r.choice(KINDS)]
    part = Part(id=edits.new_id(sheet, kind), kind=kind.id, x_m=round(place[0], 2), height_m=round(place[1], 2))
    choices = [
        lambda: edits.place(sheet, part),
        lambda: connect(r, sheet),
        lambda: connect(r, sheet),
        lambda: connect(r, sheet),
        lambda: edits.move(sheet, {r.choice(ids), r.choice(ids)}, round(r.uniform(-2, 2), 2), round(r.random(), 2), c),
        lambda: edits.turn(sheet, {r.choice(ids)}, c),
        lambda: edits.mirror(sheet, {r.choice(ids)}, c),
        lambda: edits.duplicate(sheet, {r.choice(ids), r.choice(ids)}, 1.0, 0.5),
        lambda: edits.rename(sheet, r.choice(ids), f"n{number}"),
        lambda: edits.set_property(sheet, "store", "body_height_m", round(r.uniform(1.0, 2.2), 2), c),
        lambda: edits.add_tapping(sheet, "store", round(r.uniform(0, 1.5), 2), c),
        lambda: edits.set_tapping(sheet, "store", r.choice("ABCDEF"), c, height_m=round(r.uniform(0, 1.5), 2)),
        lambda: edits.add_coil(sheet, "store", c, name=f"c{number}", bottom_m=0.2, top_m=0.9),
        lambda: edits.delete(sheet, {r.choice(ids + pipes)}, c),
    ]
    if pipes:
        choices += [
            lambda: edits.insert_in_pipe(sheet, r.choice(pipes), part, place, c),
            lambda: edits.tee_into(sheet, r.choice(pipes), place, c)[0],
        ]
    return r.choice(choices)()


def connect(r: random.Random, sheet: Sheet) -> Sheet:
    ends = [End(p.id, name) for p in sheet.parts.values() for name in ports_of(p, CATALOGUE)]
    a, b = r.sample(ends, 2) if len(ends) > 1 else (End("store", "A"), End("store", "B"))
    return edits.connect(sheet, a, b, CATALOGUE)


@pytest.mark.parametrize("seed", range(12))
def test_any_edits(seed):
    r, sheet, done = random.Random(seed), start(), 0
    for number in range(40):
        before, text = sheet, dumps(sheet)
        try:
            sheet = step(r, sheet, number)
            done += 1
        except SheetError as bad:
            assert bad.what
            assert bad.do
        assert dumps(before) == text
        if not sheet.parts:
            sheet = start()
        assert loads(dumps(sheet)) == sheet
        for pipe in sheet.pipes.values():
            line = geometry.polyline(sheet, pipe, CATALOGUE)
            assert all(min(abs(a[0] - b[0]), abs(a[1] - b[1])) <= 1.1 * TINY_M for a, b in pairwise(line))
    assert done > 10


@pytest.mark.parametrize("seed", range(40))
def test_what_a_person_placed_stays_where_it_is(seed):
    r = random.Random(seed)
    s = draw.Drawing(start(), CATALOGUE)
    via = [(1.5, 2.0), (2.5, 3.0)] if seed % 2 else [(1.5, 0.68), (1.5, 2.5), (2.5, 2.5)]
    pipe = s.pipe(s["stove"]["flow"], s["store"]["t1"], via=via)
    before = s.sheet
    after = edits.move(before, {"stove"}, round(r.uniform(-2, 3), 2), round(r.uniform(-0.5, 1.7), 2) + 0.003, CATALOGUE)

    def placed(sheet: Sheet) -> set[tuple[str, float]]:
        record = sheet.pipes[pipe.id]
        runs = runs_of(geometry.polyline(sheet, record, CATALOGUE), record.held)
        return {(run.way, run.at_m) for run in runs if run.hold == "held"}

    assert placed(before)
    assert placed(before) <= placed(after) | {
        # where the moved port has come into line with it, a placed run becomes the port's own
        (run.way, run.at_m)
        for run in runs_of(geometry.polyline(after, after.pipes[pipe.id], CATALOGUE))
        if run.hold == "attached"
    }
