"""Vents and feeds of a water: where they end, how high they stand, the best way up, and how cold water gets in.

Shared by the rules of vents, feeds and solid fuel. Owns no limits and yields no findings.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterator
from itertools import pairwise

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.bores import narrow
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Key, Place, Source, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.profile import GRADE, LEVEL_M, Stop, length_m, points_of, stops
from loopwright.waterways.services import feed_runs, vent_runs
from loopwright.waterways.skeleton import Step, ids_of
from loopwright.waterways.views import BACK, FORWARD, SHUT, Ask, Passing, closable, passing
from loopwright.waterways.waters import Water, water_of, waters

LEVEL_STUB_M = 0.3
"""A level stub out of a tee or tapping that a person would call part of the fitting: common practice, no source."""


# -- cisterns and lines -------------------------------------------------------------------------------------------


def vented_waters(case: Case) -> Iterator[Water]:
    """Every water open to a cistern. One whose regimes clash is judged by the rule on joined waters alone."""
    return (w for w in waters(case.ways) if w.regime == "vented" and not w.mixed)


def fires(case: Case) -> Iterator[Source]:
    """Sources that cannot simply be switched off: fires, and those with heat left over."""
    return (s for s in case.ways.sources if s.stays_hot)


def fires_in(case: Case, water: Water) -> list[Source]:
    """Fires whose own water this is."""
    return [s for s in fires(case) if s.hot in water.places]


def line_m(case: Case, cistern: str) -> float | None:
    """Height of a cistern's cold water line on the sheet, or None when it is not known."""
    line = case.ways.number(cistern, "water_line_m")
    return None if line is None else case.ways.sheet.parts[cistern].height_m + line


def lines_m(case: Case, water: Water) -> list[float]:
    """Cold water lines of the cisterns that feed a water, else of those it vents over."""
    parts = {b[1] for b in water.feeds} or set(water.cisterns)
    return [z for z in (line_m(case, p) for p in sorted(parts)) if z is not None]


def is_domestic(case: Case, cistern: str) -> bool:
    """Whether a cistern holds water that people use."""
    return case.ways.kind(cistern).fluid == "domestic" or bool(case.ways.value(cistern, "drinking"))


def vent_ends(case: Case, water: Water) -> tuple[Element, ...]:
    """Vent ends of a water that stand above their cistern's line."""
    out = []
    for element in water.vent_ends:
        line = line_m(case, element.part)
        if line is None or case.ways.at[element.port][1] > line:
            out.append(element)
    return tuple(out)


def open_tops(case: Case, water: Water) -> set[Place]:
    """Bodies of a water with the cistern built on top: as good as a vent end."""
    return {
        b
        for b in case.ways.bodies("store", "cylinder")
        if b in water.places and case.ways.value(b[1], "integral_cistern") is True
    }


def vent_targets(case: Case, water: Water) -> set[Place]:
    """Places at which a water is open to the air."""
    return {e.port for e in vent_ends(case, water)} | open_tops(case, water)


def feed_outlets(case: Case, water: Water, cistern: str | None = None) -> set[Place]:
    """Ports by which cisterns (or one of them) feed a water."""
    out: set[Place] = set()
    for body in water.feeds:
        if cistern is not None and body[1] != cistern:
            continue
        for element in case.ways.links[body]:
            port = element.other(body)
            if element.does is Behaviour.FREE and port in water.places and port[1:] in _piped(case.ways):
                out.add(port)
    return out


@kept
def _piped(ways: Waterways) -> set[tuple[str, ...]]:
    return {key for pipe in ways.sheet.pipes.values() for key in (pipe.a_key, pipe.b_key)}


def is_piped(case: Case, part: str) -> bool:
    """Whether any pipe ends on a part. One just put on the sheet is nobody's water yet."""
    piped = _piped(case.ways)
    return any((part, name) in piped for name in case.ways.ports[part])


# -- the view of vents --------------------------------------------------------------------------------------------


@kept
def bare(case: Case) -> Passing:
    """What can never be shut, strainers counted as able to block."""
    return {
        key: SHUT if key[0] == "way" and case.ways.has_tag(key[1], "strainer") else flags
        for key, flags in passing(case.ways, Ask.FIXED).items()
    }


def starts(source: Source) -> list[Place]:
    """Where steam leaves a source: a fire by its flow alone, any other by either end."""
    return [source.hot] if source.stays_hot else [source.hot, source.cold]


def own(source: Source) -> set[Key]:
    """What a vent path may not pass: the fire's own waterway."""
    return {source.key} if source.stays_hot else set()


def vents_reached(case: Case, source: Source, passes: Passing) -> set[Place]:
    """Open ends that a source reaches outwards in a view."""
    water = water_of(case.ways, source.hot)
    if water is None:
        return set()
    seen = reach(case.ways, passes, starts(source), drop=own(source), walls=case.ways.bodies("cistern"))
    return seen & vent_targets(case, water)


# -- vent runs ----------------------------------------------------------------------------------------------------


class VentRun(msgspec.Struct, frozen=True):
    """From the vent joint to the end: its steps upwards, vertices, and the index of the turn-over among them."""

    end: Element
    cistern: str
    owner: str
    """The source or vessel whose vent it is: the nearest to its joint."""
    steps: tuple[Step, ...]
    walk: tuple[Stop, ...]
    turn: int

    @property
    def turn_over_m(self) -> float:
        """Height of its highest vertex."""
        return max(s.at[1] for s in self.walk)

    @property
    def pipe(self) -> str:
        """The pipe that ends over the cistern: what people call the vent."""
        return next((k[1] for k, _ in reversed(self.steps) if k[0] == "pipe"), self.cistern)

    @property
    def ids(self) -> tuple[str, ...]:
        """Parts and pipes of the run."""
        return ids_of(self.steps)


def runs(case: Case, water: Water) -> list[VentRun]:
    """Vent runs of a water, whatever stands in them."""
    ways = case.ways
    out = []
    for end in water.vent_ends:
        keys = vent_runs(ways).get(end.key)
        if not keys:
            continue
        here, back = end.port, []
        for key in reversed(keys):
            element = ways.elements[key]
            here = element.other(here)
            back.append((key, element.a == here))
        steps = tuple(reversed(back))
        walk = tuple(stops(ways, steps))
        top = max(s.at[1] for s in walk)
        turn = next(i for i, s in enumerate(walk) if s.at[1] >= top - LEVEL_M)
        out.append(VentRun(end, end.part, _owner(case, water, here) or end.part, steps, walk, turn))
    return out


def _owner(case: Case, water: Water, joint: Place) -> str | None:
    """The source or vessel nearest to a place, in parts and pipes passed; sources first where both are as near."""
    ways = case.ways
    nearest = {s.hot: s.part for s in water.sources} | {s.cold: s.part for s in water.sources}
    nearest |= {b: b[1] for b in ways.bodies("store", "cylinder") if b in water.places}
    ring, seen = [joint], {joint}
    while ring:
        found = sorted((p[0] == "body", nearest[p]) for p in ring if p in nearest)
        if found:
            return found[0][1]
        ring = list(
            dict.fromkeys(q for p in ring for e in ways.links[p] if (q := e.other(p)) in water.places and q not in seen)
        )
        seen.update(ring)
    return None


def joint_of(case: Case, run: VentRun) -> Place:
    """The place where a vent run leaves the rest of its water."""
    key, forward = run.steps[0]
    element = case.ways.elements[key]
    return element.a if forward else element.b


# -- the best way up ----------------------------------------------------------------------------------------------


class VentPath(msgspec.Struct, frozen=True):
    """A way from a source (or a vessel) to an open end: its steps, all its falls, and where it falls."""

    end: Place
    steps: tuple[Step, ...]
    fall_m: float
    fall_ids: tuple[str, ...]
    length_m: float

    @property
    def ids(self) -> tuple[str, ...]:
        """Parts and pipes it passes."""
        return ids_of(self.steps)


def fall_in(case: Case, element: Element, forward: bool, line: float) -> float:
    """Metres fallen along an element, heights clipped at the water line; less than 5 mm is level."""
    points = points_of(case.ways, element)
    mark = case.ways.sheet.pipes[element.pipe].graded if element.pipe else ""
    if not forward:
        points = points[::-1]
    falling = bool(mark) and (mark == "b") != forward
    total = 0.0
    for (x0, z0), (x1, z1) in pairwise(points):
        drop = min(z0, line) - min(z1, line)
        if drop > LEVEL_M:
            total += drop
        elif falling and abs(z1 - z0) <= LEVEL_M and z1 < line and GRADE * abs(x1 - x0) > LEVEL_M:
            total += GRADE * abs(x1 - x0)
    return total


Skip = Callable[[Element], bool]
Hop = tuple[Place, tuple[Step, ...], float, float]
"""Of one move up a vent: where it leads, its steps, metres fallen and metres long."""


def least_fall(
    case: Case,
    passes: Passing,
    begin: Collection[Place],
    ends: Collection[Place],
    line: float,
    *,
    drop: Collection[Key] = (),
    inside: str = "",
    skip: Skip | None = None,
) -> list[VentPath]:
    """To each end reached, the way that falls least (Dijkstra on metres of fall, then on length).

    Heights, and `line` at which they are clipped, in metres on the sheet. A body rises if it is left at or above the
    height it is entered. The inside of part `inside` does not count. `skip` leaves elements out, for example those
    too small.
    """
    search = _Climb(case, passes, frozenset(ends), line, frozenset(drop), inside, skip)
    best: dict[Place, tuple[float, float]] = dict.fromkeys(begin, (0.0, 0.0))
    back: dict[Place, tuple[Place, tuple[Step, ...], float]] = {}
    heap: list[tuple[float, float, int, Place]] = [(0.0, 0.0, i, p) for i, p in enumerate(best)]
    count, done, out = len(heap), set[Place](), []
    while heap:
        fallen, length, _, here = heapq.heappop(heap)
        if here in done:
            continue
        done.add(here)
        if here in search.ends:
            out.append(_path(here, back, fallen, length))
        if search.goes_no_further(here, begun=here not in back):
            continue
        for place, steps, fell, long in search.hops(here):
            total = (fallen + fell, length + long)
            if place not in done and total < best.get(place, (1e9, 1e9)):
                best[place] = total
                back[place] = (here, steps, fell)
                count += 1
                heapq.heappush(heap, (*total, count, place))
    return out


class _Climb:
    """What a search for the way up may pass, and what each move costs it."""

    def __init__(
        self,
        case: Case,
        passes: Passing,
        ends: frozenset[Place],
        line: float,
        drop: frozenset[Key],
        inside: str,
        skip: Skip | None,
    ) -> None:
        self.case, self.ways, self.passes, self.ends, self.line = case, case.ways, passes, ends, line
        self.drop, self.inside, self.skip = drop, inside, skip
        self.walls = set(self.ways.bodies("cistern"))
        self.bodies = set(self.ways.bodies()) - self.walls

    def goes_no_further(self, here: Place, *, begun: bool) -> bool:
        """Whether a walk ends at a place: a cistern, or a body that no move crosses on its own."""
        return here in self.walls or (here in self.bodies and not begun)

    def hops(self, here: Place) -> Iterator[Hop]:
        """Every move from a place: along an element, or through a body and out again."""
        for element in self.ways.links[here]:
            if not self._may(element, here):
                continue
            there, first = element.other(here), (element.key, element.a == here)
            if there in self.bodies and here not in self.bodies:
                yield from self._through(here, there, first)
            else:
                own = element.part and element.part == self.inside
                fell = 0.0 if own else fall_in(self.case, element, first[1], self.line)
                yield there, (first,), fell, length_m(self.ways, element)

    def _through(self, here: Place, body: Place, first: Step) -> Iterator[Hop]:
        if body in self.ends:
            yield body, (first,), 0.0, 0.0
        for onward in self.ways.links[body]:
            if onward.key == first[0] or not self._may(onward, body):
                continue
            beyond = onward.other(body)
            down = self.ways.at[here][1] - self.ways.at[beyond][1]
            yield beyond, (first, (onward.key, onward.a == body)), down if down > LEVEL_M else 0.0, 0.0

    def _may(self, element: Element, here: Place) -> bool:
        flag = FORWARD if element.a == here else BACK
        let = bool(self.passes[element.key] & flag) and element.key not in self.drop
        return let and not (self.skip and self.skip(element))


def _path(
    end: Place,
    back: dict[Place, tuple[Place, tuple[Step, ...], float]],
    fallen: float,
    length: float,
) -> VentPath:
    steps: list[Step] = []
    falls: list[str] = []
    here = end
    while here in back:
        here, part, fell = back[here]
        steps = [*part, *steps]
        if fell > 0.0:
            falls.append(part[0][0][1])
    return VentPath(end, tuple(steps), fallen, tuple(dict.fromkeys(reversed(falls))), length)


def vent_paths(
    case: Case, source: Source, least_mm: tuple[float, float] | None = None, *, opened: bool = False
) -> list[VentPath]:
    """One vent path of a source to each open end it reaches past nothing that can shut, least fall first.

    With `least_mm` (copper outside, other bore) only through what is at least that wide; `opened` takes every valve
    for open.
    """
    return _vent_paths(case, source.part, least_mm, opened)


@kept
def _vent_paths(case: Case, part: str, least_mm: tuple[float, float] | None, opened: bool) -> list[VentPath]:
    source = case.ways.source_of[part]
    water = water_of(case.ways, source.hot)
    if water is None:
        return []
    tops = [z for z in (line_m(case, e.part) for e in water.vent_ends) if z is not None]
    paths = least_fall(
        case,
        passing(case.ways, Ask.OPEN) if opened else bare(case),
        starts(source),
        vent_targets(case, water),
        max(tops, default=1e3),
        drop=own(source),
        inside=part,
        skip=(lambda e: narrow(case, e, *least_mm) is not None) if least_mm else None,
    )
    return sorted(paths, key=lambda p: (p.fall_m, p.length_m))


def can_block(case: Case, path: VentPath) -> tuple[str, ...]:
    """Parts on a vent path that can shut it."""
    ways = case.ways
    stop = (ways.elements[k] for k, _ in path.steps if k[0] == "way")
    return tuple(dict.fromkeys(e.part for e in stop if closable(ways, e) or bare(case)[e.key] == SHUT))


def cut_pipes(case: Case, source: Source) -> set[str]:
    """Pipes that every vent path of a source passes, whatever could shut it: that is for other rules."""
    ways, every = case.ways, passing(case.ways, Ask.OPEN)
    paths = vent_paths(case, source, opened=True)
    if not paths:
        return set()
    water = water_of(ways, source.hot)
    targets = vent_targets(case, water) if water else set()
    out: set[str] = set()
    asked: dict[int, bool] = {}
    for key, _ in paths[0].steps:
        chain = ways.skeleton.chain_of[key]
        if key[0] == "pipe" and chain not in asked:
            dropped = {*own(source), *(k for k, _ in ways.skeleton.chains[chain].steps)}
            asked[chain] = not reach(ways, every, starts(source), drop=dropped, walls=ways.bodies("cistern")) & targets
        if key[0] == "pipe" and asked[chain]:
            out.add(key[1])
    return out


# -- feeds --------------------------------------------------------------------------------------------------------


def refilled(case: Case, source: Source, *, drop: Collection[Key] = ()) -> set[Place]:
    """Which plenums of a source cold water reaches from the cistern by itself."""
    ways = case.ways
    water = water_of(ways, source.hot)
    if water is None:
        return set()
    seen = reach(ways, passing(ways, Ask.REFILL), feed_outlets(case, water), drop=drop, walls=ways.bodies("cistern"))
    return seen & {source.hot, source.cold}


def feed_pipes(case: Case, water: Water) -> dict[str, str]:
    """Cistern by pipe of each feed run of a water."""
    out = {}
    for key, run in feed_runs(case.ways).items():
        element = case.ways.elements[key]
        if (element.a in water.places or element.b in water.places) and element.part:
            out.update({k[1]: element.part for k in run if k[0] == "pipe"})
    return out
