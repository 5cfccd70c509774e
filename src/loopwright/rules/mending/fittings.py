"""Repairs at fittings: take out what shuts or blocks, turn round what faces back, cap, exchange inlets, put in a check.

Owns which fittings may be touched for which rule. The trial in `repairs` decides whether it helps.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import combinations

from loopwright.catalogue import Catalogue
from loopwright.catalogue.kinds import Behaviour
from loopwright.errors import SheetError
from loopwright.rules.findings import Finding
from loopwright.rules.mending.steps import (
    called,
    cap,
    exchange_kind,
    exchange_pipes,
    exchange_places,
    in_line,
    take_out,
    turn_round,
)
from loopwright.rules.repairs import Proposal, Repair, repair
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.ports import ports_of
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import End, Part, Sheet
from loopwright.words import listed

HINDERS = frozenset({Behaviour.HAND, Behaviour.POWERED, Behaviour.THERMAL, Behaviour.ONE_WAY, Behaviour.PUMP})
"""What a fitting that may be taken out does. Guards, relief valves and air gaps stay."""
STAYS = frozenset({"thermal_discharge", "reducing", "bypass_valve", "double_check"})
"""Tags of fittings that keep something safe, whatever else they do."""
NO_CAP = frozenset({"vent", "feed", "relief", "air_vent"})


@repair(
    "gravity-loop/isolating-valve",
    "gravity-loop/pump-in-line",
    "gravity-loop/spring-check",
    "gravity-loop/flap-only-way",
    "solid-fuel/vent-can-close",
    "solid-fuel/feed-can-close",
    "solid-fuel/heat-leak-can-be-shut",
    "solid-fuel/heat-leak-needs-power",
    "solid-fuel/relief-asked-for",
    "vent-and-feed/vent-can-close",
    "sealed/relief-can-close",
    "sealed/vessel-can-close",
)
def taking_out(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """What stands in a vent, a feed, a heat leak or before a relief valve is taken out."""
    ids = [c for c in finding.culprits if _hinders(sheet, c, catalogue)]
    if ids and len(ids) == len([c for c in finding.culprits if c in sheet.parts]):
        names = listed(called(sheet, c, catalogue) for c in ids)
        yield Repair(f"Take {names} out", lambda s: take_out(s, ids, catalogue))
    for one in ids if len(ids) > 1 else ():
        yield Repair(f"Take {called(sheet, one, catalogue)} out", partial(take_out, ids=[one], catalogue=catalogue))


def _hinders(sheet: Sheet, part_id: str, catalogue: Catalogue) -> bool:
    if not in_line(sheet, part_id, catalogue):
        return False
    kind = catalogue[sheet.parts[part_id].kind]
    return not STAYS & set(kind.tags) and all(w.does in HINDERS or w.does is Behaviour.FREE for w in kind.ways)


@repair("circuit/pump-backwards")
def turning_round(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A pump or a check valve that faces back."""
    for one in finding.culprits:
        if in_line(sheet, one, catalogue):
            yield Repair(
                f"Turn {called(sheet, one, catalogue)} round", partial(turn_round, part_id=one, catalogue=catalogue)
            )


@repair("order/mixing-valve-inlets", "order/loading-unit-sides")
def exchanging_sides(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """Two pipes of a valve or loading unit, exchanged; the pair that sets it right is found by trying."""
    part = sheet.parts.get(finding.subject)
    if part is None:
        return
    name, ports = called(sheet, part.id, catalogue), list(ports_of(part, catalogue).values())
    joined = [p for p in ports if End(part.id, p.name) in sheet.taken]
    pairs = list(combinations(joined, 2))
    yield tuple(
        Repair(
            f"Exchange the pipes on {p.label} and {q.label} of {name}",
            partial(exchange_pipes, pairs=[(p.name, q.name)], part=part.id, catalogue=catalogue),
        )
        for p, q in pairs
    )
    yield tuple(
        Repair(
            f"Exchange the pipes on {p.label} and {q.label}, and on {r.label} and {t.label} of {name}",
            partial(exchange_pipes, pairs=[(p.name, q.name), (r.name, t.name)], part=part.id, catalogue=catalogue),
        )
        for (p, q), (r, t) in combinations(pairs, 2)
        if len({p.name, q.name, r.name, t.name}) == 4
    )


@repair("order/mains-inlet")
def ordering_inlet(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """Two fittings of a mains inlet exchanged, or a valve that shuts off the relief taken out."""
    if len(finding.culprits) == 2 and all(c in sheet.parts for c in finding.culprits):
        one, two = finding.culprits
        names = listed(called(sheet, c, catalogue) for c in (one, two))
        yield Repair(f"Exchange {names}", lambda s: exchange_places(s, one, two, catalogue))
    elif len(finding.culprits) == 1 and _hinders(sheet, finding.culprits[0], catalogue):
        only = finding.culprits[0]
        yield Repair(f"Take {called(sheet, only, catalogue)} out", lambda s: take_out(s, [only], catalogue))


@repair("circuit/open-end")
def capping(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """An open port of a joint, header or vessel capped. Never one of a source, safety part, cistern or vent."""
    part = sheet.parts.get(finding.subject)
    if part is None:
        return
    kind = catalogue[part.kind]
    if "open_end" in kind.tags:
        yield Repair("Cap the open end", lambda s: exchange_kind(s, part.id, "cap", catalogue))
        return
    plain = kind.body in ("store", "cylinder", "header") or part.kind in ("tee", "cross", "union")
    if kind.source is not None or not plain:
        return
    ports = list(ports_of(part, catalogue).values())
    free = [p for p in ports if End(part.id, p.name) not in sheet.taken and not p.optional and p.role != "capped"]
    if free and len(free) < len(ports) and not any(p.role in NO_CAP for p in free):
        words = listed(p.label for p in free) if len(free) < 5 else f"{len(free)} open ports"
        yield Repair(
            f"Cap {words} of {called(sheet, part.id, catalogue)}",
            lambda s: _capped(s, [End(part.id, p.name) for p in free], catalogue),
        )


def _capped(sheet: Sheet, ends: list[End], catalogue: Catalogue) -> Sheet:
    for end in ends:
        sheet = cap(sheet, end, catalogue)
    return sheet


@repair("circuit/night-thermosyphon")
def checking(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A check valve after the pump, facing the way it pushes."""
    for one in finding.culprits:
        part = sheet.parts.get(one)
        kind = catalogue[part.kind] if part else None
        pump = next((w for w in kind.ways if w.does is Behaviour.PUMP), None) if kind else None
        if pump is not None and in_line(sheet, one, catalogue):
            yield Repair(
                f"Put a check valve after {called(sheet, one, catalogue)}",
                partial(_check_after, one=one, catalogue=catalogue),
            )


def _check_after(sheet: Sheet, one: str, catalogue: Catalogue) -> Sheet:
    kind = catalogue[sheet.parts[one].kind]
    out = End(one, kind.ports[1].name)  # a fitting in line works from its first port to its second
    pipe = sheet.pipes[sheet.taken[out]]
    line = polyline(sheet, pipe, catalogue)
    runs = runs_of(line) if pipe.a == out else runs_of(line[::-1])
    new = edits.new_id(sheet, catalogue["check_valve"])
    for run in runs:  # the first run long enough, counted from the pump
        middle = ((run.begin[0] + run.end[0]) / 2, (run.begin[1] + run.end[1]) / 2)
        valve = Part(id=new, kind="check_valve", x_m=middle[0], height_m=middle[1])
        try:
            after = edits.insert_in_pipe(sheet, pipe.id, valve, middle, catalogue)
        except SheetError:
            continue
        return after if pipe.a == out else turn_round(after, valve.id, catalogue)
    raise SheetError(f"No run after “{one}” has room for a check valve", do="Make room for it")


@repair("sealed/filling-unprotected")
def guarding(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The hose of a filling loop taken off, or a disconnector in the place of a check valve."""
    for one in finding.culprits:
        part = sheet.parts.get(one)
        if part is None:
            continue
        kind = catalogue[part.kind]
        if kind.prop("hose_fitted"):
            name = called(sheet, one, catalogue)
            options = (
                ("device", "double_check", f"Fit {name} with a double check valve"),
                ("device", "disconnector", f"Fit {name} with a disconnector"),
                ("hose_fitted", False, f"Take the hose of {name} off"),
            )
            yield tuple(
                Repair(label, partial(edits.set_property, part_id=one, name=prop, value=to, catalogue=catalogue))
                for prop, to, label in options
            )
        elif in_line(sheet, one, catalogue):
            yield Repair(
                f"Fit a disconnector in place of {called(sheet, one, catalogue)}",
                partial(exchange_kind, part_id=one, kind_id="disconnector", catalogue=catalogue),
            )
