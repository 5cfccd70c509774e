"""Where a mistake could be made on a sheet: one edit a place, by the sort of mistake.

Owns the sorts of mistake that put something in or change a size, a height or a property. What takes away or exchanges
is in `practice_swaps`. Nobody here knows what the survey will say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import LessonError, SheetError
from loopwright.lessons.order_pipes import Pipework, pipework
from loopwright.rules.circuits import load_circuits
from loopwright.rules.registry import Case
from loopwright.rules.shedding import fixed_emitters
from loopwright.rules.vents import line_m
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.runs import PipeRun, runs_of
from loopwright.sheet.sizes import sizes
from loopwright.sheet.values import Part, Pipe, Point, PropValue, Sheet
from loopwright.waterways import Waterways

ROOM_M = 0.5
"""Least straight run in which a fitting does not stand out."""
STEP_M = 0.05
"""Fittings are put at places of this pitch, as people put them."""
DIP_M = 0.3
OVER_RIM_M = 0.03
"""How far above the mouth over the cistern a vent that is too low turns over."""

Made = tuple[Sheet, tuple[str, ...]]
"""A sheet with the mistake in it, and the ids of what was put in or changed."""


class Place(msgspec.Struct, frozen=True):
    """One possible mistake: `edit` makes it on the sound sheet or one that has other mistakes already.

    `edit` may raise SheetError: then it cannot be made there.
    """

    sort: str
    edit: Callable[[Sheet], Made]


class Ground:
    """The sound sheet and what the sorts of mistake ask of it."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue) -> None:
        self.sheet, self.catalogue = sheet, catalogue
        self.ways = Waterways(sheet, catalogue)
        self.case = Case(self.ways)
        self.works: list[Pipework] = pipework(self.case)

    def pipes(self, *steps: str) -> Iterator[str]:
        """Pipes that some steps of the work lay, in the order of the sheet."""
        found = {p for w in self.works if w.step in steps for p in w.pipes}
        return (p for p in self.sheet.pipes if p in found and not self.sheet.pipes[p].joint)


Sort = Callable[[Ground], Iterator[Callable[[Sheet], Made]]]
SORTS: dict[str, Sort] = {}


def sort(name: str) -> Callable[[Sort], Sort]:
    """Register a sort of mistake under its key in resources/practice.toml."""

    def register(made: Sort) -> Sort:
        SORTS[name] = made
        return made

    return register


def places(ground: Ground, name: str) -> list[Place]:
    """Every place for a sort of mistake on a sheet, in the order of the sheet. Raises LessonError: none makes it."""
    import loopwright.lessons.practice_swaps  # noqa: F401  (registers the rest)

    if name not in SORTS:
        do = f'Write @sort("{name}") in practice_places.py or practice_swaps.py'
        raise LessonError(f"No function makes the mistake “{name}” of practice.toml", do=do)
    return [Place(name, edit) for edit in SORTS[name](ground)]


# -- putting in -------------------------------------------------------------------------------------------------------


def spot(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> Point | None:
    """A place for a fitting near the middle of a pipe's longest straight run, on the pitch; None without room."""
    runs = [r for r in runs_of(polyline(sheet, pipe, catalogue)) if r.way != "sloping"]
    best = max(runs, key=lambda r: r.length_m, default=None)
    if best is None or best.length_m < ROOM_M:
        return None
    return _middle(best)


def _middle(run: PipeRun) -> Point:
    (x0, z0), (x1, z1) = run.begin, run.end
    x, z = (x0 + x1) / 2, (z0 + z1) / 2
    if run.way == "level":
        return round(round(x / STEP_M) * STEP_M, 6), z
    return x, round(round(z / STEP_M) * STEP_M, 6)


def _put(sheet: Sheet, pipe: str, kind: str, at: Point, catalogue: Catalogue, **props: PropValue) -> Made:
    part = Part(id=edits.new_id(sheet, catalogue[kind]), kind=kind, x_m=at[0], height_m=at[1], props=dict(props))
    return edits.insert_in_pipe(sheet, pipe, part, at, catalogue), (part.id,)


def _fittings(ground: Ground, kinds: tuple[str, ...], *steps: str) -> Iterator[Callable[[Sheet], Made]]:
    for pipe in ground.pipes(*steps):
        at = spot(ground.sheet, ground.sheet.pipes[pipe], ground.catalogue)
        if at is not None:
            for kind in kinds:
                yield partial(_put, pipe=pipe, kind=kind, at=at, catalogue=ground.catalogue)


@sort("valve-on-vent")
def _valve_on_vent(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("isolating_valve", "stop_valve"), "vent")


@sort("valve-on-feed")
def _valve_on_feed(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("stop_valve", "isolating_valve"), "feed")


@sort("valve-on-leak")
def _valve_on_leak(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("isolating_valve", "lockshield_valve", "thermostatic_radiator_valve"), "leak")


@sort("motor-valve-on-leak")
def _motor_valve(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for pipe in ground.pipes("leak"):
        at = spot(ground.sheet, ground.sheet.pipes[pipe], ground.catalogue)
        if at is not None:
            yield partial(_put, pipe=pipe, kind="motorised_2port", at=at, catalogue=ground.catalogue, rest="open")


@sort("valve-in-pair")
def _valve_in_pair(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("isolating_valve",), "primaries")


@sort("pump-in-leak")
def _pump_in_leak(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from (partial(_pump, ground=ground, put=put) for put in _fittings(ground, ("pump",), "leak"))


@sort("pump-in-pair")
def _pump_in_pair(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from (partial(_pump, ground=ground, put=put) for put in _fittings(ground, ("pump",), "primaries"))


def _pump(sheet: Sheet, ground: Ground, put: Callable[[Sheet], Made]) -> Made:
    """A pump, started by a pipe thermostat beside the fire where the sheet draws controls: so it is the only fault."""
    sheet, (pump,) = put(sheet)
    fire = next((f.part for f in ground.ways.fires), None)
    if not sheet.links or fire is None:
        return sheet, (pump,)
    kind = ground.catalogue["pipe_thermostat"]
    place = sheet.parts[fire]
    stat = Part(id=edits.new_id(sheet, kind), kind=kind.id, x_m=place.x_m, height_m=round(place.height_m + 1.15, 6))
    sheet = edits.place(sheet, stat)
    model = next(iter(sheet.links.values()))
    number = 1
    while f"link{number}" in sheet.links:
        number += 1
    link = type(model)(id=f"link{number}", sensor=stat.id, target=pump, does="runs_above", setting_c=55.0)
    return edits.put_link(sheet, link), (pump,)


@sort("check-in-leak")
def _check_in_leak(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("check_valve",), "leak", "primaries")


@sort("valve-before-relief")
def _before_relief(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("isolating_valve",), "relief", "boiler-pipes", "fire-pump", "solar-pipes")


@sort("valve-before-vessel")
def _before_vessel(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _fittings(ground, ("isolating_valve",), "vessel", "boiler-pipes", "fire-pump", "solar-pipes")


# -- size, material, way ----------------------------------------------------------------------------------------------


def _set(sheet: Sheet, pipe: str, **changes: object) -> Made:
    return edits.set_pipe(sheet, pipe, **changes), (pipe,)


def _thinner(ground: Ground, *steps: str) -> Iterator[Callable[[Sheet], Made]]:
    for pipe in ground.pipes(*steps):
        old = ground.sheet.pipes[pipe]
        usual = [s for s in sizes(old.material) if "x" not in s]
        if old.size in usual and usual.index(old.size) > 0:
            yield partial(_set, pipe=pipe, size=usual[usual.index(old.size) - 1])


@sort("thin-pair")
def _thin_pair(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _thinner(ground, "primaries", "leak")


@sort("thin-vent")
def _thin_vent(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _thinner(ground, "vent")


@sort("thin-feed")
def _thin_feed(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _thinner(ground, "feed")


@sort("plastic")
def _plastic(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for pipe in ground.pipes("primaries", "leak", "vent", "feed", "fire-pump"):
        for material in ("polybutylene", "pex"):
            try:
                known = sizes(material)
            except SheetError:
                continue
            if ground.sheet.pipes[pipe].size in known:
                yield partial(_set, pipe=pipe, material=material)


@sort("dip-in-pair")
def _dip_in_pair(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _dips(ground, "primaries", "leak")


@sort("dip-in-vent")
def _dip_in_vent(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    yield from _dips(ground, "vent")


def _dips(ground: Ground, *steps: str) -> Iterator[Callable[[Sheet], Made]]:
    """A trough in the longest level run of a pipe, or a loop out of its longest riser that falls on its way."""
    for pipe in ground.pipes(*steps):
        line = polyline(ground.sheet, ground.sheet.pipes[pipe], ground.catalogue)
        yield from (partial(_set, pipe=pipe, points=points, held=(), graded="") for points in _jogs(line))
        level = [
            k for k, (p, q) in enumerate(pairwise(line)) if abs(p[1] - q[1]) < 1e-6 and abs(p[0] - q[0]) >= 2 * ROOM_M
        ]
        if not level:
            continue
        at = max(level, key=lambda k: abs(line[k + 1][0] - line[k][0]))
        (x0, z), (x1, _) = line[at], line[at + 1]
        one, two = (round(x0 + (x1 - x0) * share, 2) for share in (0.3, 0.7))
        low = round(z - DIP_M, 6)
        trough = ((one, z), (one, low), (two, low), (two, z))
        points = (*line[1 : at + 1], *trough, *line[at + 1 : -1])
        yield partial(_set, pipe=pipe, points=points, held=())


def _jogs(line: Sequence[Point]) -> Iterator[tuple[Point, ...]]:
    """The corners of a line that steps aside in its longest riser, falls, and goes back, to either side."""
    risers = [
        k for k, (p, q) in enumerate(pairwise(line)) if abs(p[0] - q[0]) < 1e-6 and abs(q[1] - p[1]) >= 3 * ROOM_M
    ]
    if not risers:
        return
    at = max(risers, key=lambda k: abs(line[k + 1][1] - line[k][1]))
    (x, z0), (_, z1) = line[at], line[at + 1]
    up = 1.0 if z1 > z0 else -1.0
    middle = round((z0 + z1) / 2, 2)
    for side in (ROOM_M, -ROOM_M):
        one, two = round(x + 0.6 * side, 6), round(x + 1.2 * side, 6)
        first, low, last = (round(middle + up * step, 6) for step in (0.0, -DIP_M, 0.4))
        aside = ((x, first), (one, first), (one, low), (two, low), (two, last), (x, last))
        yield (*line[1 : at + 1], *aside, *line[at + 1 : -1])


@sort("low-vent")
def _low_vent(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for pipe in ground.pipes("vent"):
        record = ground.sheet.pipes[pipe]
        line = polyline(ground.sheet, record, ground.catalogue)
        for end, mouth in ((record.a, line[0]), (record.b, line[-1])):
            if ground.ways.kind(end.part).body != "cistern" or line_m(ground.case, end.part) is None:
                continue
            top = max(z for _, z in line)
            low = round(mouth[1] + OVER_RIM_M, 6)
            points = tuple((x, low if abs(z - top) < 1e-6 else z) for x, z in line[1:-1])
            if low < top:
                yield partial(_set, pipe=pipe, points=points, held=())


# -- properties -------------------------------------------------------------------------------------------------------


def _props(sheet: Sheet, part: str, props: Mapping[str, PropValue], catalogue: Catalogue) -> Made:
    for name, value in props.items():
        sheet = edits.set_property(sheet, part, name, value, catalogue)
    return sheet, (part,)


def _change(ground: Ground, part: str, **props: PropValue) -> Callable[[Sheet], Made]:
    return partial(_props, part=part, props=props, catalogue=ground.catalogue)


@sort("small-leak")
def _small_leak(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for fire in ground.ways.fires:
        for part in fixed_emitters(ground.case, fire):
            watts = ground.ways.number(part, "output_w")
            if watts:
                yield from (_change(ground, part, output_w=round(watts * share, -2)) for share in (0.6, 0.45))


@sort("unfit-cistern")
def _unfit(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for body in ground.ways.bodies("cistern"):
        if ground.ways.value(body[1], "hot_rated") is True:
            yield _change(ground, body[1], hot_rated=False)


@sort("small-cistern")
def _small_cistern(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for body in ground.ways.bodies("cistern"):
        room = ground.ways.number(body[1], "expansion_room_l")
        if room:
            yield from (_change(ground, body[1], expansion_room_l=float(round(room * s))) for s in (0.4, 0.2))


@sort("small-vessel")
def _small_vessel(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for part in ground.ways.tagged("vessel"):
        litres = ground.ways.number(part.id, "volume_l")
        if litres:
            yield from (_change(ground, part.id, volume_l=float(max(1, round(litres * s)))) for s in (0.5, 0.25))


@sort("floor-unmixed")
def _unmixed(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for part in ground.ways.tagged("underfloor"):
        if ground.ways.value(part.id, "mixing_built_in") is True:
            yield _change(ground, part.id, mixing_built_in=False)


@sort("floor-unlimited")
def _unlimited(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for part in ground.ways.tagged("underfloor"):
        if ground.ways.value(part.id, "high_limit_built_in") is True:
            yield _change(ground, part.id, high_limit_built_in=False)


@sort("strong-relief")
def _strong_relief(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for part in ground.ways.tagged("relief"):
        bar = ground.ways.number(part.id, "setting_bar")
        if bar:
            yield from (_change(ground, part.id, setting_bar=setting) for setting in (4.0, 6.0, 10.0) if setting > bar)


# -- heights at a store -----------------------------------------------------------------------------------------------


def _retap(sheet: Sheet, part: str, letter: str, height_m: float, catalogue: Catalogue) -> Made:
    """A tapping near a height, as near as the others leave room."""
    for off in (0.0, 1.0, -1.0, 2.0, -2.0, 0.5, -0.5, 1.5, -1.5):
        try:
            new = edits.set_tapping(sheet, part, letter, catalogue, height_m=round(height_m + off * STEP_M, 6))
        except SheetError:
            continue
        return new, (part, *(p.id for p in new.pipes_of(part) if letter in (p.a.port, p.b.port)))
    raise SheetError(f"There is no room for {letter} there", do="Choose another height")


@sort("tapping-moved")
def _tapping_moved(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for circuit in load_circuits(ground.case):
        tall = ground.ways.body_range(circuit.store)[1] - ground.ways.body_range(circuit.store)[0]
        for letter, share in ((circuit.leave, 0.12), (circuit.leave, 0.3), (circuit.enter, 0.75)):
            yield partial(
                _retap,
                part=circuit.store,
                letter=letter,
                height_m=round(round(tall * share / STEP_M) * STEP_M, 6),
                catalogue=ground.catalogue,
            )


@sort("sensor-moved")
def _sensor_moved(ground: Ground) -> Iterator[Callable[[Sheet], Made]]:
    for part in ground.sheet.parts.values():
        for tapping in part.tappings:
            if tapping.purpose != "sensor":
                continue
            tall = ground.ways.body_range(part.id)[1] - ground.ways.body_range(part.id)[0]
            for share in (0.1, 0.85):
                height = round(round(tall * share / STEP_M) * STEP_M, 6)
                yield partial(_retap, part=part.id, letter=tapping.letter, height_m=height, catalogue=ground.catalogue)
