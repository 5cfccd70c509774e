"""Mutations of stores: tappings exchanged or lowered; and pipes rubbed out anywhere.

Owns those kinds, each with its reasons beside it.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
from mutation_tools import one, said
from mutations import Mutant, kind
from reasons import must, pumps
from trade import CATALOGUE, Trade, open_to_all, pumps_run

from loopwright.catalogue import Behaviour
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Part, Sheet

# -- stores -----------------------------------------------------------------------------------------------------------


@kind("tappings-exchanged")
def tappings_exchanged(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """Flow and return of a source or a load exchanged at a store, or at a coil in it; pipes follow."""
    for body in t.body("store", "cylinder"):
        part = sheet.parts[body[1]]
        for one_letter, two_letter, sort in _pairs(t, part):
            rules = {
                "source": {"tapping/flow-below-return", "circuit/pump-backwards", "tapping/swapped"},
                "load": {
                    "tapping/return-mixes-hot",
                    "tapping/load-draws-cold",
                    "tapping/swapped",
                    "circuit/pump-backwards",
                },
                "coil": {"tapping/coil-upside-down", "circuit/pump-backwards"},
            }[sort]
            may = {
                "tapping/flow-below-return",
                "tapping/return-mixes-hot",
                "tapping/load-draws-cold",
                "tapping/hotter-below-cooler",
                "tapping/steals-from-solar",
                "tapping/fire-return-too-high",
                "tapping/sensor-in-wrong-zone",
                "gravity-loop/dips",
                "gravity-loop/sink-too-low",
                "vent-and-feed/vent-dips",
                "tapping/vent-not-top",
                "circuit/air-trap",
                "circuit/night-thermosyphon",
                *rules,
            }
            pipes = [sheet.taken[End(part.id, x)] for x in (one_letter, two_letter)]
            yield one(
                "tappings-exchanged",
                name,
                f"{part.id}.{one_letter}{two_letter}",
                lambda part=part, a=one_letter, b=two_letter: crossed_at(sheet, part, a, b),  # type: ignore[misc]
                said(must(rules, part.id, *pipes, *_joined_to(t, part.id, one_letter)), may=may),
            )


def _joined_to(t: Trade, store: str, letter: str) -> set[str]:
    """Parts that a tapping leads to without passing the store."""
    return {n[1] for n in t.reach([("port", store, letter)], open_to_all, walls={("body", store), *t.cisterns})}


def crossed_at(sheet: Sheet, part: Part, one_letter: str, two_letter: str) -> Sheet:
    """Two tappings exchange their heights (and sides); a coil's ends change over with them."""
    a, b = part.tapping(one_letter), part.tapping(two_letter)
    assert a is not None and b is not None
    swap = {
        one_letter: msgspec.structs.replace(a, height_m=b.height_m, side=b.side),
        two_letter: msgspec.structs.replace(b, height_m=a.height_m, side=a.side),
    }
    coils = tuple(
        msgspec.structs.replace(c, lower=c.upper, upper=c.lower) if {c.lower, c.upper} == set(swap) else c
        for c in part.coils
    )
    new = msgspec.structs.replace(part, tappings=tuple(swap.get(x.letter, x) for x in part.tappings), coils=coils)
    from loopwright.sheet.pipework import refit

    return refit(sheet, {part.id: new}, CATALOGUE)


def _pairs(t: Trade, part: Part) -> Iterator[tuple[str, str, str]]:
    """Pairs of tappings of one circuit: a source's, a pumped load's, a coil's."""
    for coil in part.coils:
        if t.reach([("port", part.id, coil.lower)], open_to_all) & set(t.body("drain_vessel")):
            continue  # it drains either way
        if {End(part.id, coil.lower), End(part.id, coil.upper)} <= set(t.sheet.taken):
            yield coil.lower, coil.upper, "coil"
    ends = {x for c in part.coils for x in (c.lower, c.upper)}
    body = ("body", part.id)
    free = [x.letter for x in part.tappings if x.letter not in ends and End(part.id, x.letter) in t.sheet.taken]
    done: set[frozenset[str]] = set()
    walls = {body, *t.cisterns}
    for source in t.sources():
        hot, cold = t.plenums(source)
        heart = t.heart(source)
        assert heart is not None
        drop = {heart.node, *(x.node for x in t.links if x.does is Behaviour.EMITTER)}
        from_hot = [x for x in free if ("port", part.id, x) in t.reach([hot], open_to_all, drop=drop, walls=walls)]
        to_cold = [x for x in free if ("port", part.id, x) in t.reach([cold], open_to_all, drop=drop, walls=walls)]
        if len(from_hot) == len(to_cold) == 1 and from_hot != to_cold:
            done.add(frozenset((*from_hot, *to_cold)))
            yield from_hot[0], to_cold[0], "source"
    for pump in pumps(t):
        after = [x for x in free if ("port", part.id, x) in t.reach([pump.b], pumps_run, drop={pump.node}, walls=walls)]
        before = [
            x for x in free if pump.a in t.reach([("port", part.id, x)], pumps_run, drop={pump.node}, walls=walls)
        ]
        pair = frozenset((*before[:1], *after[:1]))
        heated = any(s in _joined_to(t, part.id, x) for s in t.sources() for x in pair)
        if len(before) == len(after) == 1 and len(pair) == 2 and pair not in done and not heated:
            done.add(pair)
            yield before[0], after[0], "load"


@kind("vent-tapping-lowered")
def vent_tapping_lowered(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A store's vent taken from its side, at 0.4 of its height: a pocket of air stays above."""
    for body in t.body("store"):
        part = sheet.parts[body[1]]
        height = (t.figure(part.id, "body_height_m") or 0.0) * 0.4
        for tap in part.tappings:
            if tap.side != "top" or End(part.id, tap.letter) not in t.sheet.taken:
                continue

            def edit(part: Part = part, letter: str = tap.letter, height: float = height) -> Sheet:
                return edits.set_tapping(
                    sheet, part.id, letter, CATALOGUE, side="right", height_m=round(height + 0.013, 4)
                )

            yield one(
                "vent-tapping-lowered",
                name,
                f"{part.id}.{tap.letter}",
                edit,
                said(
                    must(
                        {"tapping/vent-not-top", "circuit/air-trap", "vent-and-feed/vent-can-close"},
                        part.id,
                        *t.sheet.pipes,
                    ),
                    may={
                        "vent-and-feed/vent-can-close",
                        "vent-and-feed/vent-dips",
                        "circuit/air-trap",
                        "gravity-loop/dips",
                        "tapping/vent-not-top",
                    },
                ),
            )


# -- what is left open ------------------------------------------------------------------------------------------------


@kind("pipe-missing")
def pipe_missing(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A pipe rubbed out, both its ends left open: one of the two parts says so, whatever else follows."""
    for pipe in sheet.pipes.values():
        if pipe.joint:
            continue
        ends = [e for e in (pipe.a, pipe.b) if not ports_of(sheet.parts[e.part], CATALOGUE)[e.port].optional]
        if not ends:
            continue
        rules = {"circuit/open-end", "vent-and-feed/no-discharge-over-cistern", "discharge/no-tundish"}
        rules |= {"vent-and-feed/cistern-unfit", "circuit/no-return", "solid-fuel/no-open-vent"}
        yield one(
            "pipe-missing",
            name,
            pipe.id,
            lambda pipe=pipe: edits.delete(sheet, [pipe.id], CATALOGUE),  # type: ignore[misc]
            said(must(rules, pipe.a.part, pipe.b.part, *_neighbours(sheet, pipe.a.part, pipe.b.part)), may={"*"}),
        )


def _neighbours(sheet: Sheet, *parts: str) -> set[str]:
    return {p.id for part in parts for p in sheet.pipes_of(part)}
