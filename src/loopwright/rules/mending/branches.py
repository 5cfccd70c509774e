"""Repairs by something small on a tee: an air vent at the top, a drain cock at the bottom, an expansion vessel.

Owns where a tee may go and that what hangs on it stands free of other parts and pipes. The trial in `repairs` decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import product

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.catalogue.kinds import Behaviour
from loopwright.errors import SheetError
from loopwright.rules.findings import Finding
from loopwright.rules.mending.steps import called
from loopwright.rules.mending.values import VESSELS_L
from loopwright.rules.repairs import Proposal, Repair, repair
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.pipework import boxes_of, other_runs
from loopwright.sheet.plane import OPPOSITE, STEPS, Dir, box_round, overlap
from loopwright.sheet.ports import box_of, port_of, ports_of
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import End, Part, Pipe, Point, PropValue, Sheet

REACH_M = (0.2, 0.3, 0.45)
"""How far from the tee the part on it may stand, nearest first."""
SMALL_COIL_L = 15.0
Spot = tuple[str, Point, Dir]
"""A pipe, a place on it, and the way a branch leaves."""


def branch(sheet: Sheet, spot: Spot, kind_id: str, props: dict[str, PropValue], catalogue: Catalogue) -> Sheet:
    """A part on a tee in a pipe, by a straight 15 mm branch. Raises SheetError where nothing has room."""
    pipe_id, at, towards = spot
    teed, end = edits.tee_into(sheet, pipe_id, at, catalogue, towards=towards)
    port = port_of(teed, end.part, end.port, catalogue)
    kind = catalogue[kind_id]
    name = kind.ports[0].name
    fresh = Part(id=edits.new_id(teed, kind), kind=kind_id, x_m=0.0, height_m=0.0, props=props)
    fresh = edits.faced(fresh, catalogue, {name: OPPOSITE[port.side]})
    here, (dx, dz) = ports_of(fresh, catalogue)[name].at, STEPS[port.side]
    boxes, runs = boxes_of(teed, catalogue), other_runs(teed, catalogue)
    for reach in REACH_M:
        part = msgspec.structs.replace(
            fresh, x_m=round(port.at[0] + reach * dx - here[0], 6), height_m=round(port.at[1] + reach * dz - here[1], 6)
        )
        x0, z0, x1, z1 = box_of(part, catalogue)
        x, z = port.at
        whole = (min(x0, x + 0.01), min(z0, z + 0.01), max(x1, x - 0.01), max(z1, z - 0.01))
        lines = [box_round(p, q) for p, q in runs]
        tee = box_of(teed.parts[end.part], catalogue)
        if any(overlap(whole, box) for box in (*boxes, *lines) if box != tee and not _within(box, tee)):
            continue
        placed = edits.place(teed, part)
        return edits.connect(placed, end, End(part.id, name), catalogue, points=(), size="15", material="copper")
    raise SheetError(f"A {kind.name.lower()} has no room beside {pipe_id}", do="Make room for it")


def _within(one: tuple[float, ...], two: tuple[float, ...]) -> bool:
    return two[0] <= one[0] and two[1] <= one[1] and one[2] <= two[2] and one[3] <= two[3]


def _spots(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> list[Spot]:
    """Places for a tee on the runs of a pipe, with the ways its branch may leave: the middle and both thirds."""
    if pipe.joint:
        return []
    out: list[Spot] = []
    for run in runs_of(polyline(sheet, pipe, catalogue)):
        ways: tuple[Dir, ...] = ("up", "down") if run.way == "level" else ("left", "right")
        if run.way == "sloping":
            continue
        (xa, za), (xb, zb) = run.begin, run.end
        out += [
            (pipe.id, (xa + (xb - xa) * share, za + (zb - za) * share), way)
            for share, way in product((0.5, 0.25, 0.75), ways)
        ]
    return out


@repair("circuit/air-trap")
def airing(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A manual air vent on the highest level run that holds the air."""
    pipes = [sheet.pipes[c] for c in finding.culprits if c in sheet.pipes]
    spots = [s for p in pipes for s in _spots(sheet, p, catalogue) if s[2] == "up"]
    spots.sort(key=lambda s: -s[1][1])
    add = partial(_branch, kind="air_vent_manual", catalogue=catalogue)
    yield tuple(Repair(f"Put an air vent on {s[0]}", partial(add, spot=s)) for s in spots)


def _branch(sheet: Sheet, spot: Spot, kind: str, catalogue: Catalogue, **props: PropValue) -> Sheet:
    return branch(sheet, spot, kind, props, catalogue)


@repair("circuit/no-drain")
def draining(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A drain cock under the lowest level run at the source's return."""
    if finding.subject not in sheet.parts:
        return
    spots = [s for p in sheet.pipes_of(finding.subject) for s in _spots(sheet, p, catalogue) if s[2] == "down"]
    spots.sort(key=lambda s: s[1][1])
    add = partial(_branch, kind="drain_cock", catalogue=catalogue)
    yield tuple(Repair(f"Put a drain cock on {s[0]}", partial(add, spot=s)) for s in spots)


@repair("domestic/expansion-unprovided")
def potable_vessel(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The smallest vessel for drinking water after the check valve, for small coils alone: no rule sizes such a vessel.

    Fifteen litres swell by less than half a litre up to 80 °C (density of water), of which 8 l of vessel take many.
    """
    store = sheet.parts.get(finding.subject)
    coils = [c for c in store.coils if c.purpose == "domestic"] if store else []
    if not coils or any(c.content_l is None or c.content_l > SMALL_COIL_L for c in coils):
        return
    for one in finding.culprits:
        kind = catalogue[sheet.parts[one].kind] if one in sheet.parts else None
        if kind is None or len(kind.ports) != 2 or "check" not in kind.tags:
            continue
        pipe = sheet.pipes.get(sheet.taken.get(End(one, kind.ports[1].name), ""))
        spots = _roomy(sheet, _spots(sheet, pipe, catalogue), "expansion_vessel_potable", catalogue) if pipe else []
        yield from _vessels(sheet, spots, "expansion_vessel_potable", called(sheet, one, catalogue), catalogue, most=1)


@repair("sealed/no-vessel")
def heating_vessel(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A vessel before a pump of the source's own circuit, in the smallest size that the rules hold enough."""
    source = sheet.parts.get(finding.subject)
    if source is None or (made := catalogue[source.kind].source) is None:
        return
    kind = "expansion_vessel_solar" if made.stops == "sun" else "expansion_vessel"
    for pump in _pumps_beside(sheet, source.id, catalogue):
        inlet = catalogue[sheet.parts[pump].kind].ports[0].name
        pipe = sheet.pipes.get(sheet.taken.get(End(pump, inlet), ""))
        spots = _roomy(sheet, _spots(sheet, pipe, catalogue), kind, catalogue) if pipe else []
        yield from _vessels(sheet, spots, kind, called(sheet, pump, catalogue), catalogue)


def _vessels(
    sheet: Sheet, spots: list[Spot], kind: str, beside: str, catalogue: Catalogue, most: int = len(VESSELS_L)
) -> Iterator[Proposal]:
    """One place, sizes from small to large."""
    for spot in spots[:1]:
        yield tuple(
            Repair(
                f"Put an expansion vessel of {litres:g} l beside {beside}",
                partial(_branch, spot=spot, kind=kind, catalogue=catalogue, volume_l=litres),
            )
            for litres in VESSELS_L[:most]
        )


def _roomy(sheet: Sheet, spots: list[Spot], kind: str, catalogue: Catalogue) -> list[Spot]:
    """The places where the thing fits."""
    out = []
    for spot in spots:
        try:
            branch(sheet, spot, kind, {}, catalogue)
        except SheetError:
            continue
        out.append(spot)
    return out


def _pumps_beside(sheet: Sheet, source: str, catalogue: Catalogue) -> list[str]:
    """Pumps reached from a source without passing through a store, an exchanger or another large part."""
    seen, fresh, out = {source}, [source], []
    while fresh:
        name = fresh.pop(0)
        kind = catalogue[sheet.parts[name].kind]
        if any(w.does is Behaviour.PUMP for w in kind.ways) and len(kind.ports) == 2:
            out.append(name)
        if kind.large and name != source:
            continue
        for pipe in sheet.pipes_of(name):
            other = pipe.other(name).part
            if other not in seen:
                seen.add(other)
                fresh.append(other)
    return out
