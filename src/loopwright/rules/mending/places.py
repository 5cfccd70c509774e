"""Repairs at a store: two pipes or coils exchanged, a tapping or a sensor pocket raised or lowered into its zone.

Owns which heights to try. Heights are above the store's base, as findings give them. The trial in `repairs` decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.rules.findings import Finding
from loopwright.rules.mending.steps import called, exchange_pipes
from loopwright.rules.repairs import Proposal, Repair, repair
from loopwright.sheet import edits
from loopwright.sheet.pipework import refit
from loopwright.sheet.ports import size_of
from loopwright.sheet.values import Coil, Part, Sheet, Tapping
from loopwright.sheet.vessels import APART_M

EDGE_M = 0.04
"""A stub stays this far from the ends of a store's body (common practice, no source)."""
FURTHER_M = (0.02, 0.06, 0.1, 0.16, 0.25, 0.35, 0.5, 0.7)
"""How far beyond a limit to look for a free place, nearest first."""


def _tappings(sheet: Sheet, finding: Finding) -> list[tuple[Part, Tapping]]:
    """The tappings at which the culprits end, in their order; all on one vessel, or none."""
    out: list[tuple[Part, Tapping]] = []
    for name in finding.culprits:
        pipe = sheet.pipes.get(name)
        for end in (pipe.a, pipe.b) if pipe else ():
            tapping = sheet.parts[end.part].tapping(end.port)
            if tapping is not None:
                out.append((sheet.parts[end.part], tapping))
    return out if len({part.id for part, _ in out}) == 1 else []


@repair(
    "tapping/flow-below-return",
    "tapping/swapped",
    "tapping/coil-upside-down",
    "tapping/hotter-below-cooler",
    "tapping/return-mixes-hot",
)
def exchanging_pipes(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """Two pipes exchanged at the store, each led anew to its own tapping."""
    found = _tappings(sheet, finding)
    if len(found) != 2:
        return
    (part, one), (_, two) = found
    yield Repair(
        f"Exchange the pipes on {_words(one)} and {_words(two)} of {called(sheet, part.id, catalogue)}",
        partial(exchange_pipes, part=part.id, pairs=[(one.letter, two.letter)], catalogue=catalogue),
    )


def _words(tapping: Tapping) -> str:
    return f"“{tapping.name}”" if tapping.name else f"tapping {tapping.letter}"


@repair("tapping/solar-not-lowest")
def exchanging_coils(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The solar coil and the one below it change places, with their tappings; or their pipes do."""
    found = _tappings(sheet, finding)
    if len(found) != 4:
        return
    part, letters = found[0][0], [t.letter for _, t in found]
    coils = [
        next((c for c in part.coils if {c.lower, c.upper} == set(pair)), None) for pair in (letters[:2], letters[2:])
    ]
    name = called(sheet, part.id, catalogue)
    one, two = coils
    if one is not None and two is not None and not part.existing:
        yield Repair(
            f"Exchange the heights of coils “{one.name}” and “{two.name}” of {name}",
            lambda s: _coils_exchanged(s, part, one, two, catalogue),
        )
    yield Repair(
        f"Exchange the pipes of the two circuits at {name}",
        partial(
            exchange_pipes,
            part=part.id,
            pairs=[(letters[0], letters[2]), (letters[1], letters[3])],
            catalogue=catalogue,
        ),
    )


def _coils_exchanged(sheet: Sheet, part: Part, one: Coil, two: Coil, catalogue: Catalogue) -> Sheet:
    def height(letter: str) -> float:
        tapping = part.tapping(letter)
        if tapping is None:
            raise SheetError(f"“{part.id}” has no tapping {letter}", do="Give the coil its ends")
        return tapping.height_m

    wanted = {
        one.lower: height(two.lower),
        one.upper: height(two.upper),
        two.lower: height(one.lower),
        two.upper: height(one.upper),
    }
    tappings = part.tappings
    for letter, at in wanted.items():
        tappings = tuple(msgspec.structs.replace(t, height_m=at) if t.letter == letter else t for t in tappings)
    tall = size_of(part, catalogue[part.kind])[1]
    by: dict[str, float] = {}
    for letter in wanted:
        by[letter] = _nudge(tappings, letter, tall)
        tappings = tuple(
            msgspec.structs.replace(t, height_m=round(t.height_m + by[letter], 3)) if t.letter == letter else t
            for t in tappings
        )
    spans = {one.name: (two.bottom_m, two.top_m), two.name: (one.bottom_m, one.top_m)}
    coils = tuple(
        msgspec.structs.replace(
            c,
            bottom_m=round(max(0.0, spans[c.name][0] + by[c.lower]), 3),
            top_m=round(min(tall, spans[c.name][1] + by[c.upper]), 3),
        )
        if c.name in spans
        else c
        for c in part.coils
    )
    after = msgspec.structs.replace(part, tappings=tappings, coils=coils)
    edits.check_vessel(after, catalogue[part.kind])
    if part.locked:
        raise SheetError(f"“{part.id}” is locked on this sheet", do="Work with the other parts, or unlock it first")
    return refit(sheet, {part.id: after}, catalogue)


def _nudge(tappings: tuple[Tapping, ...], letter: str, tall: float) -> float:
    """How far a stub has to move, up or down, to stand clear of the others on its side. Nil where it cannot."""
    mine = next(t for t in tappings if t.letter == letter)
    others = [t.height_m for t in tappings if t.side == mine.side and t is not mine]
    steps = sorted((k * 0.005 for k in range(-20, 21)), key=abs)
    return next(
        (
            by
            for by in steps
            if EDGE_M <= mine.height_m + by <= tall - EDGE_M
            and all(abs(mine.height_m + by - z) >= APART_M - 1e-9 for z in others)
        ),
        0.0,
    )


def _heights(part: Part, catalogue: Catalogue, limit: float, up: bool) -> list[float]:
    """Places beyond a limit within the body, nearest first; none on a store that stands there already."""
    if part.existing:
        return []
    tall = size_of(part, catalogue[part.kind])[1]
    wanted = (round(limit + by if up else limit - by, 3) for by in (0.0, *FURTHER_M))
    return [h for h in wanted if EDGE_M <= h <= tall - EDGE_M]


def _moves(
    part: Part, tapping: Tapping, heights: Iterable[float], name: str, catalogue: Catalogue
) -> tuple[Repair, ...]:
    return tuple(
        Repair(
            f"{'Raise' if h > tapping.height_m else 'Lower'} {_words(tapping)} of {name} to {h:.2f} m",
            partial(_moved, part=part.id, letter=tapping.letter, height_m=h, catalogue=catalogue),
        )
        for h in heights
        if h != tapping.height_m
    )


def _moved(sheet: Sheet, part: str, letter: str, height_m: float, catalogue: Catalogue) -> Sheet:
    return edits.set_tapping(sheet, part, letter, catalogue, height_m=height_m)


@repair("tapping/return-mixes-hot")
def parting(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The return lowered below the supply, or the supply raised above the return."""
    found = _tappings(sheet, finding)
    if len(found) != 2 or finding.limit is None or finding.measured is None:
        return
    (part, back), (_, supply) = found
    name = called(sheet, part.id, catalogue)
    yield _moves(part, back, _heights(part, catalogue, finding.limit, up=False), name, catalogue)
    yield _moves(part, supply, _heights(part, catalogue, finding.measured, up=True), name, catalogue)


@repair("tapping/load-draws-cold", "tapping/fire-return-too-high", "tapping/vent-not-top", "tapping/steals-from-solar")
def moving(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """One tapping moved past the limit: a supply up, a fire's return down, a vent to the top, a boiler's return up."""
    found = _tappings(sheet, finding)
    if not found or finding.limit is None or finding.measured is None:
        return
    part, name = found[0][0], called(sheet, found[0][0].id, catalogue)
    tapping = next((t for _, t in found if abs(t.height_m - finding.measured) < 0.01), found[0][1])
    up = finding.limit > finding.measured
    if any(tapping.letter in (c.lower, c.upper) for c in part.coils):
        return  # the coil would have to move with it
    heights = _heights(part, catalogue, finding.limit, up)
    if finding.rule == "tapping/vent-not-top" and up:
        tall = size_of(part, catalogue[part.kind])[1]
        if part.existing:
            return
        heights = [round(finding.limit, 3), tall]
        top = partial(edits.set_tapping, height_m=tall, side="top")
        yield (
            *_moves(part, tapping, heights, name, catalogue),
            Repair(f"Take the vent from the top of {name}", lambda s: top(s, part.id, tapping.letter, catalogue)),
        )
    else:
        yield _moves(part, tapping, heights, name, catalogue)


@repair("tapping/sensor-in-wrong-zone")
def moving_pocket(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A sensor pocket moved into the part of the store that its circuit works."""
    if finding.limit is None or finding.measured is None:
        return
    for name in finding.culprits:
        part = sheet.parts.get(name)
        if part is None:
            continue
        places = {x for k in sheet.links.values() for x in (k.sensor, k.second) if x.partition("/")[0] == name}
        for pocket in (t for t in part.tappings if f"{name}/{t.letter}" in places):
            if abs(pocket.height_m - finding.measured) < 0.006:
                heights = _heights(part, catalogue, finding.limit, up=finding.limit > finding.measured)
                yield _moves(part, pocket, heights, called(sheet, part.id, catalogue), catalogue)
