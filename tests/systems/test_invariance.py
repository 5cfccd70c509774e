"""What must not change an answer: other ids, a mirror, a shift, a union in a pipe, another order of the records.

The water does not know of any of these (plain reason, no source needed). Held on a sound system and on four mistakes.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

import mistakes
import msgspec
import pytest

import systems
from loopwright.catalogue import standard_catalogue
from loopwright.sheet import edits
from loopwright.sheet.change import with_records
from loopwright.sheet.geometry import polyline
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import ControlLink, End, Part, Pipe, Sheet, Tapping
from loopwright.survey import survey

CATALOGUE = standard_catalogue()
NAMES = ("sound", "valve-on-heat-leak", "dip-in-stove-flow", "coil-upside-down", "no-bypass")
PIPES = ("riser", "store_flow", "leak_return", "return_3", "stove_vent", "feed", "boiler_flow_3", "hot_1", "rad_return")
SIDES = {"left": "right", "right": "left"}
FLIPPED = {0: 0, 1: 3, 2: 2, 3: 1}
Ids = Callable[[str], str]


@cache
def sheet_of(name: str) -> Sheet:
    base = systems.done(systems.base())
    return base if name == "sound" else next(m for m in mistakes.MISTAKES if m.name == name).edit(base)


def said(sheet: Sheet, ids: Ids = lambda i: i) -> set[tuple[str, int, str, frozenset[str]]]:
    """Findings as rule, severity, subject and set of culprits, with ids taken back to what they were."""
    found = survey(sheet, CATALOGUE).findings
    return {(f.rule, int(f.severity), ids(f.subject), frozenset(map(ids, f.culprits))) for f in found}


def outcomes(sheet: Sheet) -> dict[tuple[str, str], int]:
    """How often each rule gave each outcome."""
    out: dict[tuple[str, str], int] = {}
    for answer in survey(sheet, CATALOGUE).answers:
        key = (answer.rule, str(answer.outcome))
        out[key] = out.get(key, 0) + 1
    return out


def renamed(sheet: Sheet, new: dict[str, str]) -> Sheet:
    """Every part, pipe and link under another id, in the order of the new ids."""

    def place(name: str) -> str:
        owner, slash, rest = name.partition("/")
        return f"{new[owner]}{slash}{rest}" if owner else name

    def end(old: End) -> End:
        return End(new[old.part], old.port)

    def pipe(old: Pipe) -> Pipe:
        return msgspec.structs.replace(old, id=new[old.id], a=end(old.a), b=end(old.b))

    def link(old: ControlLink) -> ControlLink:
        return msgspec.structs.replace(
            old, id=new[old.id], sensor=place(old.sensor), target=place(old.target), second=place(old.second)
        )

    parts = [msgspec.structs.replace(p, id=new[p.id]) for p in sheet.parts.values()]
    return with_records(
        sheet,
        parts={p.id: p for p in sorted(parts, key=lambda p: p.id)},
        pipes={p.id: p for p in sorted(map(pipe, sheet.pipes.values()), key=lambda p: p.id)},
        links={k.id: k for k in map(link, sheet.links.values())},
    )


def mirrored(sheet: Sheet) -> Sheet:
    """The sheet as seen from behind."""

    def part(old: Part) -> Part:
        def tapping(t: Tapping) -> Tapping:
            return msgspec.structs.replace(t, side=SIDES.get(t.side, t.side))

        body = bool(old.tappings)  # the sides of tappings say it all
        return msgspec.structs.replace(
            old,
            x_m=-old.x_m,
            mirror=old.mirror if body else not old.mirror,
            turn=FLIPPED[old.turn],
            tappings=tuple(map(tapping, old.tappings)),
        )

    def pipe(old: Pipe) -> Pipe:
        return msgspec.structs.replace(old, points=tuple((-x, z) for x, z in old.points))

    return with_records(
        sheet, parts={k: part(p) for k, p in sheet.parts.items()}, pipes={k: pipe(p) for k, p in sheet.pipes.items()}
    )


def with_union(sheet: Sheet, pipe_id: str) -> tuple[Sheet, str]:
    """A union in the middle of the pipe's longest run, and the id of the new half."""
    line = polyline(sheet, sheet.pipes[pipe_id], CATALOGUE)
    run = max(runs_of(line), key=lambda r: r.length_m)
    middle = ((run.begin[0] + run.end[0]) / 2, (run.begin[1] + run.end[1]) / 2)
    union = Part(id="joint_x", kind="union", x_m=0.0, height_m=0.0)
    after = edits.insert_in_pipe(sheet, pipe_id, union, middle, CATALOGUE)
    return after, next(iter(set(after.pipes) - set(sheet.pipes)))


def on_its_ports(sheet: Sheet) -> bool:
    """Whether every pipe still leaves its ports squarely: what a wrong mirror would break first."""
    return all(run.way != "sloping" for p in sheet.pipes.values() for run in runs_of(polyline(sheet, p, CATALOGUE)))


@pytest.mark.parametrize("name", NAMES)
def test_ids_mean_nothing(name):
    sheet = sheet_of(name)
    old = [*sheet.parts, *sheet.pipes, *sheet.links]
    numbers = list(range(len(old)))
    random.Random(name).shuffle(numbers)
    new = {ident: f"n{number:03d}" for ident, number in zip(old, numbers)}
    back = {v: k for k, v in new.items()}
    other = renamed(sheet, new)
    assert {(r, s, c) for r, s, _, c in said(other, back.__getitem__)} == {(r, s, c) for r, s, _, c in said(sheet)}
    assert outcomes(other) == outcomes(sheet)


@pytest.mark.parametrize("name", NAMES)
def test_left_and_right_mean_nothing(name):
    sheet = sheet_of(name)
    other = mirrored(sheet)
    assert on_its_ports(sheet) and on_its_ports(other)
    assert said(other) == said(sheet)
    assert outcomes(other) == outcomes(sheet)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("dx_m", [-37.5, 0.003])
def test_where_the_house_stands_means_nothing(name, dx_m):
    sheet = sheet_of(name)
    other = edits.move(sheet, sheet.parts, dx_m, 0.0, CATALOGUE)
    assert said(other) == said(sheet)
    assert outcomes(other) == outcomes(sheet)


@pytest.mark.parametrize("name", NAMES)
def test_order_of_the_records_means_nothing(name):
    sheet = sheet_of(name)
    shuffle = random.Random(name).shuffle

    def mixed(records):
        items = list(records.items())
        shuffle(items)
        return dict(items)

    other = with_records(sheet, parts=mixed(sheet.parts), pipes=mixed(sheet.pipes), links=mixed(sheet.links))
    assert {(r, s, c) for r, s, _, c in said(other)} == {(r, s, c) for r, s, _, c in said(sheet)}
    assert outcomes(other) == outcomes(sheet)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("pipe", PIPES)
def test_a_union_means_nothing(name, pipe):
    sheet = sheet_of(name)
    other, half = with_union(sheet, pipe)

    def back(ident: str) -> str:
        return pipe if ident in (half, "joint_x") else ident

    assert said(other, back) == said(sheet)
