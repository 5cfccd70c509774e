"""Mistakes that exchange two things, turn one round, or take one away with the pipe that led to it.

Owns these sorts of mistake. Nothing is left behind that would tell the place: no cap, no tee without a branch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import combinations

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.lessons.practice_places import Ground, Made, sort
from loopwright.rules.circuits import load_circuits, source_circuits
from loopwright.rules.mending.steps import cap, exchange_ends, exchange_kind, exchange_places, take_out, turn_round
from loopwright.sheet import edits
from loopwright.sheet.change import with_records
from loopwright.sheet.values import End, Sheet

Edit = Callable[[Sheet], Made]


# -- exchanging -------------------------------------------------------------------------------------------------------


def _ends(sheet: Sheet, part: str, one: str, two: str, catalogue: Catalogue) -> Made:
    a, b = End(part, one), End(part, two)
    new = exchange_ends(sheet, a, b, catalogue)
    return new, (part, *(new.taken[end] for end in (a, b)))


def _exchange(ground: Ground, part: str, one: str, two: str) -> Edit:
    return partial(_ends, part=part, one=one, two=two, catalogue=ground.catalogue)


@sort("crossed-mixer")
def _crossed_mixer(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("mixing_valve"):
        yield _exchange(ground, part.id, "hot", "cold")


@sort("crossed-loading-unit")
def _crossed_unit(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("loading_unit"):
        ports = [p.name for p in ground.ways.kind(part.id).ports]
        yield from (_exchange(ground, part.id, one, two) for one, two in combinations(ports, 2))


@sort("coil-turned")
def _coil_turned(ground: Ground) -> Iterator[Edit]:
    for part in ground.sheet.parts.values():
        yield from (_exchange(ground, part.id, coil.lower, coil.upper) for coil in part.coils)


@sort("tappings-exchanged")
def _tappings(ground: Ground) -> Iterator[Edit]:
    for circuit in (*source_circuits(ground.case), *load_circuits(ground.case)):
        if circuit.coil is None:
            yield _exchange(ground, circuit.store, circuit.enter, circuit.leave)


def _two_places(sheet: Sheet, one: str, two: str, catalogue: Catalogue) -> Made:
    return exchange_places(sheet, one, two, catalogue), (one, two)


@sort("inlet-order")
def _inlet_order(ground: Ground) -> Iterator[Edit]:
    for work in ground.works:
        if work.step == "mains-train":
            fittings = [p for p in work.parts if ground.ways.kind(p).inline]
            yield from (
                partial(_two_places, one=one, two=two, catalogue=ground.catalogue)
                for one, two in combinations(fittings, 2)
            )


def _turn(sheet: Sheet, part: str, catalogue: Catalogue) -> Made:
    return turn_round(sheet, part, catalogue), (part,)


@sort("turned-round")
def _turned(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("pump", "check"):
        yield partial(_turn, part=part.id, catalogue=ground.catalogue)


# -- taking out of a run ----------------------------------------------------------------------------------------------


def _around(sheet: Sheet, part: str) -> tuple[str, ...]:
    """What a part's pipes lead to, and these pipes."""
    pipes = sheet.pipes_of(part)
    return tuple(dict.fromkeys((*(p.other(part).part for p in pipes), *(p.id for p in pipes))))


def _out(sheet: Sheet, part: str, catalogue: Catalogue) -> Made:
    beside = _around(sheet, part)
    new = take_out(sheet, [part], catalogue)
    return new, tuple(i for i in beside if i in new.parts or i in new.pipes)


def _as(sheet: Sheet, part: str, kind: str, catalogue: Catalogue) -> Made:
    """A part exchanged for one of another kind, its control links kept."""
    new = exchange_kind(sheet, part, kind, catalogue)
    return with_records(new, links=sheet.links), (part,)


@sort("no-check")
def _no_check(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("check"):
        yield partial(_out, part=part.id, catalogue=ground.catalogue)
    for part in ground.ways.tagged("pump_unit"):
        yield partial(_as, part=part.id, kind="pump", catalogue=ground.catalogue)


@sort("plain-filling")
def _plain_filling(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("filling"):
        yield partial(_as, part=part.id, kind="check_valve", catalogue=ground.catalogue)


@sort("no-tundish")
def _no_tundish(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("tundish"):
        yield partial(_out, part=part.id, catalogue=ground.catalogue)


# -- taking away with its branch --------------------------------------------------------------------------------------


def prune(sheet: Sheet, part: str, catalogue: Catalogue) -> Made:
    """A part gone with the branches that served it alone; the tees they left are taken out, tappings capped.

    Raises SheetError where something that is no fitting would be left with an open end.
    """
    was = sheet
    left: list[str] = [p.other(part).part for p in sheet.pipes_of(part)]
    beside: list[str] = []
    sheet = edits.delete(sheet, [part], catalogue)
    while left:
        here = left.pop()
        if here not in sheet.parts:
            continue
        kind, pipes = catalogue[sheet.parts[here].kind], sheet.pipes_of(here)
        if sheet.parts[here].tappings:
            sheet = _capped(sheet, was, here, catalogue)
            beside.append(here)
            continue
        ports = sum(not p.optional for p in kind.ports)
        if kind.large or (kind.body and kind.body != "cistern") or len(pipes) >= ports:
            raise SheetError(f"“{here}” would be left with an open end", do="Choose another place")
        if len(pipes) == 2 and ports == 3:
            ends = [p.other(here).part for p in pipes]
            after = edits.delete(sheet, [here], catalogue)
            if len(after.pipes) != len(sheet.pipes) - 1:
                raise SheetError(f"The pipes of “{here}” do not lie in line", do="Choose another place")
            beside += [*ends, *(p.id for p in after.pipes.values() if {p.a.part, p.b.part} == set(ends))]
            sheet = after
        else:
            left += [p.other(here).part for p in pipes]
            sheet = edits.delete(sheet, [here], catalogue)
    return sheet, tuple(dict.fromkeys(i for i in beside if i in sheet.parts or i in sheet.pipes))


def _capped(sheet: Sheet, was: Sheet, vessel: str, catalogue: Catalogue) -> Sheet:
    """Caps on the tappings of a vessel that held a pipe and hold none now."""
    for end in was.taken:
        if end.part == vessel and end not in sheet.taken:
            sheet = cap(sheet, end, catalogue)
    return sheet


def _pruned(ground: Ground, *tags: str) -> Iterator[Edit]:
    for part in ground.ways.tagged(*tags):
        yield partial(prune, part=part.id, catalogue=ground.catalogue)


@sort("no-vessel")
def _no_vessel(ground: Ground) -> Iterator[Edit]:
    yield from _pruned(ground, "vessel")


@sort("no-relief")
def _no_relief(ground: Ground) -> Iterator[Edit]:
    yield from _pruned(ground, "relief")


@sort("no-drain")
def _no_drain(ground: Ground) -> Iterator[Edit]:
    yield from _pruned(ground, "drain")


@sort("no-air-vent")
def _no_air_vent(ground: Ground) -> Iterator[Edit]:
    yield from _pruned(ground, "air_vent")


def _bypass(sheet: Sheet, part: str, catalogue: Catalogue) -> Made:
    """A bypass gone: two tees are left, each without a branch."""
    ends = [p.other(part).part for p in sheet.pipes_of(part)]
    pipes = [p.id for p in sheet.pipes_of(part)]
    sheet = edits.delete(edits.delete(sheet, pipes, catalogue), [part], catalogue)
    beside: list[str] = []
    for tee in ends:
        around = [p.other(tee).part for p in sheet.pipes_of(tee)]
        after = edits.delete(sheet, [tee], catalogue)
        if len(after.pipes) != len(sheet.pipes) - 1:
            raise SheetError(f"The pipes of “{tee}” do not lie in line", do="Choose another place")
        sheet = after
        beside += around
    return sheet, tuple(dict.fromkeys(i for i in beside if i in sheet.parts))


@sort("no-bypass")
def _no_bypass(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("bypass_valve"):
        yield partial(_bypass, part=part.id, catalogue=ground.catalogue)


def _unmixed(sheet: Sheet, part: str, catalogue: Catalogue) -> Made:
    """A mixing valve gone, its hot pipe led on to what it served, the cold branch taken away."""
    hot, cold, mixed = (sheet.taken.get(End(part, port)) for port in ("hot", "cold", "mixed"))
    if hot is None or cold is None or mixed is None:
        raise SheetError(f"“{part}” is not piped on all three sides", do="Choose another place")
    start, end = sheet.pipes[hot].other(part), sheet.pipes[mixed].other(part)
    size, material = sheet.pipes[hot].size, sheet.pipes[hot].material
    branch = sheet.pipes[cold].other(part).part
    sheet = edits.delete(sheet, [part], catalogue)
    if end not in sheet.taken:  # hot side and mixed side did not lie in line, so no pipe is left in its place
        sheet = edits.connect(sheet, start, end, catalogue, size=size, material=material)
    joined = sheet.taken[end]
    kind = catalogue[sheet.parts[branch].kind]
    if kind.large or "mains" in kind.tags:
        raise SheetError(f"“{branch}” would be left with an open end", do="Choose another place")
    if len(sheet.pipes_of(branch)) == 1:
        sheet, _ = prune(sheet, branch, catalogue)
    elif len(kind.ports) == 3:
        after = edits.delete(sheet, [branch], catalogue)
        if len(after.pipes) != len(sheet.pipes) - 1:
            raise SheetError(f"The pipes of “{branch}” do not lie in line", do="Choose another place")
        sheet = after
    return sheet, (joined, end.part)


@sort("no-mixer")
def _no_mixer(ground: Ground) -> Iterator[Edit]:
    for part in ground.ways.tagged("mixing_valve"):
        yield partial(_unmixed, part=part.id, catalogue=ground.catalogue)


# -- controls ---------------------------------------------------------------------------------------------------------


def _cut(sheet: Sheet, link: str, catalogue: Catalogue) -> Made:
    if link not in sheet.links:
        raise SheetError(f"There is no link “{link}”", do="Choose another place")
    gone = sheet.links[link]
    return edits.delete(sheet, [link], catalogue), (gone.target, gone.sensor.partition("/")[0])


@sort("link-cut")
def _link_cut(ground: Ground) -> Iterator[Edit]:
    for link in ground.sheet.links:
        yield partial(_cut, link=link, catalogue=ground.catalogue)
