"""Mutations of a fire's vents, feeds, heat leak and gravity pipes.

Owns those kinds, each with its reasons beside it.
"""

from __future__ import annotations

from collections.abc import Iterator

from mutation_tools import CAN_CLOSE, VENTS, all_ids, one, said, set_to, taken_away
from mutations import Mutant, kind, on_fires
from reasons import L_ALONE_KW, L_WITH_STORE_KW, SHEDDING, Must, Verdict, cooled, must
from trade import CATALOGUE, Trade, never_shuts, open_to_all, refills

from loopwright.catalogue import Behaviour
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Sheet

# -- vents and feeds --------------------------------------------------------------------------------------------------


@kind("vent-taken-away")
def vent_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The pipe that ends over a cistern taken away, its joint capped: something has to be left that is open."""
    for mouth in sorted(t.vent_mouths):
        pipe = next(x.owner for x in t.at[mouth] if x.does is Behaviour.PIPE)

        def verdict(mouth: tuple[str, ...] = mouth, pipe: str = pipe) -> Verdict:
            found: list[Must] = []
            left = t.vent_mouths - {mouth}
            for fire in t.sources("fire"):
                heart = t.heart(fire)
                assert heart is not None
                hot = [t.plenums(fire)[0]]
                if cooled(t, fire) or not t.reach(hot, never_shuts, drop={heart.node}) & {mouth}:
                    continue
                if not t.reach(hot, never_shuts, drop={heart.node}, shut={pipe}) & left:
                    rules = {
                        "solid-fuel/no-open-vent",
                        "vent-and-feed/feed-and-vent-combined",
                        "solid-fuel/vent-can-close",
                    }
                    found.append(must(rules, fire))
            for boiler in t.sources("switched", "residual"):
                begin = t.plenums(boiler)
                lost = t.reach(begin, never_shuts) & {mouth} and not t.reach(begin, never_shuts, shut={pipe}) & left
                if lost and not t.reach(begin, never_shuts) & t.outlets:  # a wide open feed lets a boiler breathe
                    rules = {"vent-and-feed/vent-can-close", "vent-and-feed/feed-and-vent-combined"}
                    found.append(must(rules, boiler, *all_ids(t)))
            return Verdict(tuple(found), frozenset(VENTS | CAN_CLOSE))

        yield one("vent-taken-away", name, pipe, lambda pipe=pipe: taken_away(sheet, pipe), verdict)  # type: ignore[misc]


@kind("feed-taken-away")
def feed_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The pipe out of a cistern taken away and its joint capped: a fire that boils gets no water back."""
    for outlet in sorted(t.outlets):
        pipe = next(x.owner for x in t.at[outlet] if x.does is Behaviour.PIPE)

        def verdict(outlet: tuple[str, ...] = outlet, pipe: str = pipe) -> Verdict:
            found = [
                must({"solid-fuel/feed-can-close", "vent-and-feed/feed-and-vent-combined"}, fire, outlet[1])
                for fire in t.sources("fire")
                if not cooled(t, fire)
                and t.reach([outlet], refills) & set(t.plenums(fire))
                and not t.reach(t.outlets - {outlet}, refills, shut={pipe}) & set(t.plenums(fire))
            ]
            may = {"vent-and-feed/feed-and-vent-combined", "vent-and-feed/vent-over-wrong-cistern", *CAN_CLOSE}
            return Verdict(tuple(found), frozenset(may))

        yield one("feed-taken-away", name, pipe, lambda pipe=pipe: taken_away(sheet, pipe), verdict)  # type: ignore[misc]


@kind("thin-vent")
def thin_vent(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A pipe of a vent run in 15 mm: steam needs 22."""
    for mouth in sorted(t.vent_mouths):
        for pipe in sorted(t.run_of(mouth) & set(sheet.pipes)):
            if not sheet.pipes[pipe].joint:
                yield one(
                    "thin-vent",
                    name,
                    pipe,
                    lambda pipe=pipe: edits.set_pipe(sheet, pipe, size="15"),  # type: ignore[misc]
                    said(must("vent-and-feed/vent-too-small", pipe)),
                )


@kind("thin-feed")
def thin_feed(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The pipe out of a cistern in 10 mm, where no other feed is wider."""
    for outlet in sorted(t.outlets):
        pipe = next(x.owner for x in t.at[outlet] if x.does is Behaviour.PIPE)
        fed = [s for s in t.sources() if t.reach([outlet], refills) & set(t.plenums(s))]
        alone = len([o for o in t.outlets if t.reach([o], open_to_all) & {outlet}]) == 1
        musts = (must("vent-and-feed/feed-too-small", pipe),) if fed and alone else ()
        yield one(
            "thin-feed",
            name,
            pipe,
            lambda pipe=pipe: edits.set_pipe(sheet, pipe, size="10"),  # type: ignore[misc]
            said(*musts, may={"vent-and-feed/feed-too-small"}),
        )


@kind("cistern-set-wrongly")
def cistern_set_wrongly(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A cistern that does not stand hot water, has no room, or keeps its float valve and loses its overflow."""
    for body in t.cisterns:
        cistern = body[1]
        fires = [s for s in t.sources("fire") if t.reach(t.plenums(s), open_to_all) & _mouths(t, cistern)]
        if fires:
            yield set_to("cistern-set-wrongly", name, sheet, cistern, "hot_rated", False, "vent-and-feed/cistern-unfit")
        if any(o[1] == cistern for o in t.outlets):
            rule = "vent-and-feed/cistern-too-small"
            yield set_to("cistern-set-wrongly", name, sheet, cistern, "expansion_room_l", 0.5, rule)


def _mouths(t: Trade, cistern: str) -> set[tuple[str, ...]]:
    return {m for m in (*t.vent_mouths, *t.outlets) if m[1] == cistern}


# -- the heat leak ----------------------------------------------------------------------------------------------------


def _lost(t: Trade, fire: str, kw: float) -> bool:
    """Whether so much less of heat leak brings a fire below what it needs."""
    have = sum(t.emitters_on(fire, never_shuts).values())
    least = L_WITH_STORE_KW if t.vessels_on(fire, never_shuts) else L_ALONE_KW
    return have >= least - 1e-9 > have - kw


def _room(t: Trade, fire: str) -> bool:
    """Whether its stores take a whole charge from their design temperature to 95 °C: then no radiator is needed.

    4.1 kJ a litre and kelvin at these temperatures (steam tables).
    """
    charge = t.figure(fire, "charge_kwh") or 1e9
    taken = sum(
        (t.figure(v, "volume_l") or 0.0) * 4.1 * max(0.0, 95.0 - (t.figure(v, "design_temp_c") or 95.0)) / 3600
        for v in t.vessels_on(fire, never_shuts)
    )
    return taken >= charge


@kind("leak-taken-away")
def leak_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A radiator of a fire's heat leak taken away and its pipes capped."""
    for fire in t.sources("fire"):
        if cooled(t, fire):
            continue
        for emitter, kw in t.emitters_on(fire, never_shuts).items():
            rooms = t.vessels_on(fire, never_shuts)
            rules = {*SHEDDING}
            musts = (must(rules, fire),) if _lost(t, fire, kw) and not _room(t, fire) else ()
            may = {*SHEDDING, *VENTS, *CAN_CLOSE, "gravity-loop/sink-too-low", "circuit/no-return"}
            may |= {"gravity-loop/small-bore", "circuit/air-trap", *({"solid-fuel/store-too-small"} if rooms else ())}
            yield one(
                "leak-taken-away",
                name,
                f"{fire}.{emitter}",
                lambda emitter=emitter: taken_away(sheet, emitter),  # type: ignore[misc]
                said(*musts, may=may),
            )


@kind("small-leak")
def small_leak(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A heat-leak radiator of 0.2 kW in place of its own."""
    for fire in t.sources("fire"):
        if cooled(t, fire):
            continue
        for emitter, kw in t.emitters_on(fire, never_shuts).items():
            if _lost(t, fire, kw - 0.2) and not _room(t, fire):
                yield one(
                    "small-leak",
                    name,
                    f"{fire}.{emitter}",
                    lambda emitter=emitter: edits.set_property(sheet, emitter, "output_w", 200.0, CATALOGUE),  # type: ignore[misc]
                    said(must(SHEDDING, fire), may={*SHEDDING}),
                )


@kind("leak-lowered")
def leak_lowered(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A heat-leak radiator hung below the fire that it should cool: warm water does not fall."""
    for fire in t.sources("fire"):
        if cooled(t, fire):
            continue
        low = sheet.parts[fire].height_m - 1.5
        for emitter, kw in t.emitters_on(fire, never_shuts).items():
            if _lost(t, fire, kw):
                yield one(
                    "leak-lowered",
                    name,
                    f"{fire}.{emitter}",
                    lambda emitter=emitter, low=low: edits.move(  # type: ignore[misc]
                        sheet, [emitter], 0.0, low - sheet.parts[emitter].height_m, CATALOGUE
                    ),
                    said(
                        must({"gravity-loop/sink-too-low", "gravity-loop/dips", "vent-and-feed/vent-dips"}, fire),
                        may={"gravity-loop/small-bore", "circuit/air-trap", *VENTS, "circuit/no-drain"},
                    ),
                )


@kind("thin-gravity-pipe")
def thin_gravity_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A pipe that a fire's gravity circuit cannot do without, in 15 mm."""
    for fire in t.sources("fire"):
        if cooled(t, fire):
            continue
        whole = set(t.emitters_on(fire, never_shuts)) | t.vessels_on(fire, never_shuts)
        for pipe in sorted(on_fires(t)):
            if sheet.pipes[pipe].joint:
                continue
            left = set(t.emitters_on(fire, never_shuts, {pipe})) | t.vessels_on(fire, never_shuts, {pipe})
            if left != whole:
                yield one(
                    "thin-gravity-pipe",
                    name,
                    f"{fire}.{pipe}",
                    lambda pipe=pipe: edits.set_pipe(sheet, pipe, size="15"),  # type: ignore[misc]
                    said(must("gravity-loop/small-bore", pipe), may={"vent-and-feed/vent-too-small"}),
                )


@kind("plastic-pipe")
def plastic_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A copper pipe of a fire's own water in plastic: a danger on its leak, its vent, or beside it."""
    for pipe in sorted(on_fires(t)):
        if sheet.pipes[pipe].joint:
            continue

        def verdict(pipe: str = pipe) -> Verdict:
            found = []
            for fire in t.sources("fire"):
                heart = t.heart(fire)
                assert heart is not None
                need = _needed(t, fire, pipe)
                beside = bool({("port", fire, n) for n in ports_of(sheet.parts[fire], CATALOGUE)} & _ends(sheet, pipe))
                if (need and not cooled(t, fire)) or beside:
                    found.append(must("solid-fuel/plastic-pipe", pipe))
            may = {"solid-fuel/plastic-pipe", "gravity-loop/small-bore", "circuit/air-trap"}  # its bore is another
            return Verdict(tuple(dict.fromkeys(found)), frozenset(may))

        yield one(
            "plastic-pipe",
            name,
            pipe,
            lambda pipe=pipe: edits.set_pipe(sheet, pipe, material="polybutylene", size="28"),  # type: ignore[misc]
            verdict,
        )


def _ends(sheet: Sheet, pipe: str) -> set[tuple[str, ...]]:
    p = sheet.pipes[pipe]
    return {("port", p.a.part, p.a.port), ("port", p.b.part, p.b.port)}


def _needed(t: Trade, fire: str, pipe: str) -> bool:
    """Whether a fire's heat leak, or its only vent, runs through a pipe."""
    heart = t.heart(fire)
    assert heart is not None
    kw = sum(t.emitters_on(fire, never_shuts).values()) - sum(t.emitters_on(fire, never_shuts, {pipe}).values())
    hot = [t.plenums(fire)[0]]
    vents = t.reach(hot, never_shuts, drop={heart.node}) & t.vent_mouths
    only = vents and not t.reach(hot, never_shuts, drop={heart.node}, shut={pipe}) & t.vent_mouths
    return bool(only) or _lost(t, fire, kw)
