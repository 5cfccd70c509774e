"""A layout kept through any edits is the one made from scratch; what is far from an edit is not even looked at."""

from __future__ import annotations

import random

import msgspec
import pytest

from barn import CATALOGUE, kiln_barn
from loopwright.drawing.labels import Layout, place_labels
from loopwright.drawing.look import Look
from loopwright.drawing.plan import Flag, plan_sheet
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.values import Note

SORTS = ("pipes", "parts", "stores", "links", "notes", "dimensions")


def planned(sheet, services, before=None):
    """The plan of a sheet, with the very objects of the plan before it wherever they are equal, as a scene keeps
    them."""
    plan = plan_sheet(sheet, CATALOGUE, services)
    if before is None:
        return plan
    kept = {}
    for sort in SORTS:
        old = getattr(before, sort)
        kept[sort] = {k: old[k] if old.get(k) == one else one for k, one in getattr(plan, sort).items()}
    return msgspec.structs.replace(plan, **kept)


def edited(sheet, rng):
    parts, pipes = list(sheet.parts), list(sheet.pipes)
    some = rng.sample(parts, min(rng.randint(1, 4), len(parts)))
    dx, dz = rng.randint(-8, 8) * 0.05, rng.randint(-8, 8) * 0.05
    ways = [
        lambda: edits.move(sheet, some, dx, dz, CATALOGUE),
        lambda: edits.delete(sheet, [rng.choice(parts + pipes)], CATALOGUE),
        lambda: edits.duplicate(sheet, some, 0.3, -0.3),
        lambda: edits.set_part(sheet, some[0], name=rng.choice(("", "Pump", "A name as long as the hall is wide"))),
        lambda: edits.set_pipe(sheet, rng.choice(pipes), size=rng.choice(("15", "28"))),
        lambda: edits.put_note(
            sheet, Note(id=f"n{rng.randint(1, 3)}", x_m=rng.random() * 7, height_m=rng.random() * 5, text="look here")
        ),
    ]
    try:
        return rng.choice(ways)()
    except LoopwrightError:
        return sheet


def flagged(sheet, rng):
    parts = list(sheet.parts.values())
    some = rng.sample(parts, min(4, len(parts)))
    return [Flag(k, "fault", (part.x_m, part.height_m), (part.id,)) for k, part in enumerate(some, 1)]


@pytest.mark.parametrize(("seed", "zoom"), [(1, 1.0), (2, 0.6), (3, 0.4), (4, 1.7), (5, 0.2)])
def test_a_kept_layout_is_the_one_from_scratch(seed, zoom):
    rng, look = random.Random(seed), Look(1.25 * zoom)
    sheet, services = kiln_barn()
    kept, plan, flags, chosen = Layout(look), None, [], frozenset()
    for step in range(30):
        plan = planned(sheet, services, plan)
        if step % 4 == 0:
            flags = flagged(sheet, rng)
        if step % 5 == 0:
            chosen = frozenset(rng.sample(list(sheet.parts), 2))
        assert kept.place(plan, flags, chosen=chosen) == place_labels(plan, look, flags, chosen=chosen), step
        sheet = edited(sheet, rng)


def test_words_that_stay_are_the_same_objects():
    sheet, services = kiln_barn()
    plan, kept = planned(sheet, services), Layout(Look())
    before = kept.place(plan)
    after = kept.place(planned(edits.set_part(sheet, "P1", name="Circulating pump"), services, plan))
    changed = {new.owner for new in after.words if not any(new is old for old in before.words)}
    assert "P1" in changed and len(changed) < len(after.words) / 3
    assert kept.place(plan) == before


def test_pipes_that_change_places_in_the_order_make_way_for_each_other():
    """The longest pipe is written first: shortening it changes what others may take, though they stay as they are."""
    sheet, services = kiln_barn()
    look, plan, kept = Look(), planned(sheet, services), None
    kept = Layout(look)
    kept.place(plan)
    for pipe in list(plan.pipes.values())[:8]:
        (xa, ya), (xb, yb) = pipe.points[:2]
        shorter = msgspec.structs.replace(pipe, points=(((xa + xb) / 2, (ya + yb) / 2), *pipe.points[1:]))
        plan = msgspec.structs.replace(plan, pipes={**plan.pipes, pipe.id: shorter})
        assert kept.place(plan) == place_labels(plan, look), pipe.id


@pytest.mark.parametrize("seed", [6, 7])
def test_a_layout_goes_back_to_the_one_before(seed):
    """As an undo of a move of everything does, also where little has changed meanwhile."""
    rng, look = random.Random(seed), Look()
    sheet, services = kiln_barn()
    kept, there = Layout(look), edits.move(sheet, set(sheet.parts), 0.35, 0.2, CATALOGUE)
    flags = flagged(sheet, rng)
    home = kept.place(planned(sheet, services), flags)
    for step in range(6):
        plan = planned((there, sheet)[step % 2], services)
        assert kept.recalls(plan) is (step > 0)
        now = kept.place(plan, flags)
        assert now == place_labels(plan, look, flags), step
        if step == 1:
            assert all(new is old for new, old in zip(now.words, home.words)), "the very words of before"
        if step >= 2:
            sheet, there = edited(sheet, rng), edited(there, rng)
            flags = flagged(sheet, rng)
