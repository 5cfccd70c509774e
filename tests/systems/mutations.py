"""Every meaningful single edit of a sound sheet, generated, and what the trade says must follow from it.

Owns the kinds of mutation and their places. What follows is worked out by `reasons` on the sound sheet, never by asking
the rules. `cases()` lists them all; an edit and its verdict are made only when asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import msgspec
from reasons import Must, Obstacle, Verdict, judged, must
from sheets import NAMES, sound_sheet
from trade import CATALOGUE, Trade, never_shuts

from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.runs import runs_of
from loopwright.sheet.values import End, Part, Pipe, Sheet

NEW = "mutant"
"""Id of a fitting that a mutation puts in."""
ROOM_M = 0.30
"""Least straight run that takes a fitting."""


class Mutant(msgspec.Struct, frozen=True):
    """One edit of one sheet. `edit` gives the sheet, `verdict` what must and may follow."""

    kind: str
    sheet: str
    place: str
    edit: Callable[[], Sheet]
    verdict: Callable[[], Verdict]

    @property
    def id(self) -> str:
        """What a test calls it."""
        return f"{self.kind}:{self.sheet}:{self.place}"


Maker = Callable[[str, Sheet, Trade], Iterator[Mutant]]
KINDS: dict[str, Maker] = {}


def kind(name: str) -> Callable[[Maker], Maker]:
    """Register a kind of mutation: a function of a sheet that gives one mutant a place."""

    def register(maker: Maker) -> Maker:
        KINDS[name] = maker
        return maker

    return register


@cache
def traced(name: str) -> Trade:
    """A sound sheet traced by hand."""
    return Trade(sound_sheet(name))


@cache
def cases() -> tuple[Mutant, ...]:
    """Every mutant of every sheet."""
    import mutations_of_fires  # noqa: F401  (they register the kinds that are no obstacle in a pipe)
    import mutations_of_parts  # noqa: F401
    import mutations_of_stores  # noqa: F401

    return tuple(m for name in NAMES for make in KINDS.values() for m in make(name, sound_sheet(name), traced(name)))


# -- obstacles --------------------------------------------------------------------------------------------------------


def roomy(sheet: Sheet, pipe: Pipe) -> tuple[float, float] | None:
    """The middle of a pipe's longest run, if a fitting finds room there."""
    if pipe.joint:
        return None
    runs = [r for r in runs_of(polyline(sheet, pipe, CATALOGUE)) if r.way != "sloping"]
    if not runs:
        return None
    run = max(runs, key=lambda r: r.length_m)
    if run.length_m < ROOM_M:
        return None
    return (run.begin[0] + run.end[0]) / 2, (run.begin[1] + run.end[1]) / 2


def put_in(
    sheet: Sheet, pipe: str, sort: str, at: tuple[float, float], *, ahead: bool = True, **props: object
) -> Sheet:
    """A fitting in a pipe, its arrow from end a to end b, or against it."""
    part = Part(id=NEW, kind=sort, x_m=at[0], height_m=at[1], props=props)  # type: ignore[arg-type]
    after = edits.insert_in_pipe(sheet, pipe, part, at, CATALOGUE)
    return after if ahead else turned_round(after, NEW)


def turned_round(sheet: Sheet, part_id: str) -> Sheet:
    """A fitting in line, its arrow the other way; every pipe stays where it is."""
    part = sheet.parts[part_id]
    first, second = (p.name for p in CATALOGUE[part.kind].ports[:2])
    other = {first: second, second: first}

    def end(old: End) -> End:
        return End(old.part, other.get(old.port, old.port)) if old.part == part_id else old

    pipes = {k: msgspec.structs.replace(p, a=end(p.a), b=end(p.b)) for k, p in sheet.pipes.items()}
    new = msgspec.structs.replace(part, turn=(part.turn + 2) % 4)
    return msgspec.structs.replace(sheet, parts={**sheet.parts, part_id: new}, pipes=pipes)


def obstacles(
    name: str, sheet: Sheet, t: Trade, label: str, fitting: str, sort: str, *, ahead: bool = True, **props: object
) -> Iterator[Mutant]:
    """A fitting in every pipe that has room for it."""
    for pipe in sheet.pipes.values():
        at = roomy(sheet, pipe)
        if at is None:
            continue

        def edit(pipe: Pipe = pipe, at: tuple[float, float] = at) -> Sheet:
            return put_in(sheet, pipe.id, fitting, at, ahead=ahead, **props)

        def verdict(pipe: Pipe = pipe) -> Verdict:
            return judged(t, Obstacle(pipe.id, sort, NEW, ahead))

        yield Mutant(label, name, pipe.id, edit, verdict)


def on_fires(t: Trade) -> set[str]:
    """Pipes on any gravity circuit, vent or feed of a fire."""
    out: set[str] = set()
    for source in t.sources("fire"):
        water = t.reach(t.plenums(source), never_shuts)
        out |= {x.owner for x in t.links if x.does == "pipe" and x.a in water and x.b in water}
    return out


@kind("valve-in-pipe")
def valve_in_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A lever valve in any pipe."""
    yield from obstacles(name, sheet, t, "valve-in-pipe", "isolating_valve", "hand")


@kind("check-in-pipe")
def check_in_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A spring check in any pipe, its arrow from the pipe's first end to its second."""
    yield from obstacles(name, sheet, t, "check-in-pipe", "check_valve", "spring")


@kind("check-against-pipe")
def check_against_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The same, its arrow the other way."""
    yield from obstacles(name, sheet, t, "check-against-pipe", "check_valve", "spring", ahead=False)


def _near_fire(
    name: str, sheet: Sheet, t: Trade, label: str, fitting: str, sort: str, **more: object
) -> Iterator[Mutant]:
    near = on_fires(t)
    yield from (m for m in obstacles(name, sheet, t, label, fitting, sort, **more) if m.place in near)  # type: ignore[arg-type]


@kind("flap-at-fire")
def flap_at_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A light flap in any pipe of a fire's own water."""
    yield from _near_fire(name, sheet, t, "flap-at-fire", "flap_valve", "flap")


@kind("flap-against-fire")
def flap_against_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The same, its arrow the other way."""
    yield from _near_fire(name, sheet, t, "flap-against-fire", "flap_valve", "flap", ahead=False)


@kind("radiator-valve-at-fire")
def radiator_valve_at_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A thermostatic radiator valve in any pipe of a fire's own water."""
    yield from _near_fire(name, sheet, t, "radiator-valve-at-fire", "thermostatic_radiator_valve", "thermal")


@kind("motor-valve-at-fire")
def motor_valve_at_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A motor valve that rests shut in any pipe of a fire's own water."""
    yield from _near_fire(name, sheet, t, "motor-valve-at-fire", "motorised_2port", "powered", rest="shut")


@kind("open-motor-valve-at-fire")
def open_motor_valve_at_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A motor valve that springs open in any pipe of a fire's own water."""
    yield from _near_fire(name, sheet, t, "open-motor-valve-at-fire", "motorised_2port", "powered", rest="open")


@kind("pump-at-fire")
def pump_at_fire(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A pump in any pipe of a fire's own water."""
    yield from _near_fire(name, sheet, t, "pump-at-fire", "pump", "pump")


# -- harmless ---------------------------------------------------------------------------------------------------------


@kind("union-in-pipe")
def union_in_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A plain union in any pipe: nothing may follow."""
    for pipe in sheet.pipes.values():
        at = roomy(sheet, pipe)
        if at is not None:
            yield Mutant(
                "union-in-pipe",
                name,
                pipe.id,
                lambda pipe=pipe, at=at: put_in(sheet, pipe.id, "union", at),  # type: ignore[misc]
                lambda: Verdict(()),
            )


__all__ = ["KINDS", "NEW", "Must", "Mutant", "cases", "kind", "must", "on_fires", "put_in", "roomy", "turned_round"]
