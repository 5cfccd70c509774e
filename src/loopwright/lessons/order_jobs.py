"""The jobs that a sheet asks for: which steps of the table it has, once for each thing they are about.

Owns the choice of jobs and what each concerns. Knows nothing of their order; the words are in `order_words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.lessons.order_pipes import Pipework, pipework, warmed
from loopwright.lessons.order_steps import checked
from loopwright.rules.circuits import immersions, load_circuits
from loopwright.rules.registry import Case
from loopwright.rules.shedding import fixed_emitters
from loopwright.rules.vents import line_m
from loopwright.waterways import Ask, Waterways
from loopwright.waterways.graph import Source
from loopwright.waterways.loops import loops
from loopwright.waterways.profile import points_of
from loopwright.waterways.waters import Water, water_of, waters

BURNERS = ("oil", "gas")
"""Words in the id of a switched source's kind that burns what a line brings."""

ELECTRIC = frozenset({"control", "pump", "loading_unit", "motorised", "immersion", "flow_switch", "fan"})
"""Tags of parts that have a cable."""


class Job(msgspec.Struct, frozen=True):
    """One job. `parts` and `pipes` are what it fits or handles; `near` what else it bears on."""

    step: str
    subject: str = ""
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    near: frozenset[str] = frozenset()
    waters: frozenset[int] = frozenset()
    whole: bool = False
    """It bears on everything."""
    wide: bool = False
    """It is done all along a water, on no floor of its own."""

    @property
    def key(self) -> str:
        """The name under which it is ticked: the step, and the part it is about."""
        return f"{self.step}@{self.subject}" if self.subject else self.step


def jobs(ways: Waterways) -> list[Job]:
    """Every job of a sheet, in the order of the sheet within each step. Raises LessonError for a step that is none."""
    if not ways.sheet.parts:
        return []
    maker = _Maker(ways)
    found = [*maker.positions(), *maker.piping(), *maker.tests(), *maker.filling(), *maker.electrics(), *maker.heat()]
    return [job for job in found if checked(job.step)]


class _Maker:
    """What several steps ask of one sheet."""

    def __init__(self, ways: Waterways) -> None:
        self.ways, self.case = ways, Case(ways)
        self.sheet = ways.sheet
        self.new = [p.id for p in self.sheet.parts.values() if not p.existing]
        self.works = pipework(self.case)
        self.vessels = [b[1] for b in ways.bodies("store", "cylinder")]
        self.cisterns = [b[1] for b in ways.bodies("cistern")]
        self.fires = [s for s in ways.sources if s.stops == "fire"]
        self.switched = [s for s in ways.sources if s.stops in ("switched", "residual")]
        self.suns = [s for s in ways.sources if s.stops == "sun"]
        self.heating = [w for w in waters(ways) if w.fluid == "heating" and not self._drains(w)]
        self.taps = [w for w in waters(ways) if w.fluid == "domestic" and (warmed(ways, w) or w.sources)]
        self.solar = [w for w in waters(ways) if w.fluid == "solar"]
        self.wired = self._wired()

    def _wired(self) -> list[str]:
        """Parts with a cable, in the order of the sheet."""
        ways, sheet = self.ways, self.sheet
        driven = {name.partition("/")[0] for k in sheet.links.values() for name in (k.sensor, k.second, k.target)}
        driven |= {s.part for s in self.switched}
        return [p for p in sheet.parts if p in driven or ELECTRIC & set(ways.kind(p).tags)]

    def _drains(self, water: Water) -> bool:
        """Whether it is what lies behind a relief seat or an overflow: it is never filled."""
        discharges = {p for work in self.works if work.step in ("discharge", "stand-cistern") for p in work.pipes}
        pipes = {k[1] for k in water.elements if k[0] == "pipe"}
        return not pipes or pipes <= discharges

    def main_of(self, water: Water) -> str:
        """The part a water is called after: its source, else its vessel, main, cistern, or first part."""
        candidates = [s.part for s in water.sources]
        candidates += [v for v in self.vessels if ("body", v) in water.places]
        if water.fluid == "domestic":
            candidates = [p for p in water.parts if self.ways.has_tag(p, "mains")] + candidates
        candidates += sorted(water.cisterns)
        order = list(self.sheet.parts)
        return candidates[0] if candidates else min(water.parts, key=order.index)

    def heated_by(self, source: Source) -> tuple[frozenset[int], frozenset[str]]:
        """Waters and vessels that a source's heat reaches: its own water, its vessels, and the tap water in these."""
        found: set[int] = set()
        bodies: set[str] = set()
        own = water_of(self.ways, source.hot)
        if own is not None:
            found.add(own.number)
        for loop in loops(self.ways, source, Ask.OPEN):
            if loop.sink.sort in ("body", "coil"):
                bodies.add(loop.sink.part)
        grown = True
        while grown:  # what a vessel's loads heat in their turn
            loads = {c.subject: c for c in load_circuits(self.case) if c.store in bodies and c.subject not in bodies}
            found |= {n for c in loads.values() if c.sink and c.sink.sort == "plate" for n in self.numbers(c.subject)}
            coils = {part for part, c in loads.items() if c.sink and c.sink.sort == "coil"}
            bodies |= coils
            grown = bool(coils)
        for vessel in bodies:
            found |= self.in_vessel(vessel)
        return frozenset(found), frozenset({source.part, *bodies})

    def in_vessel(self, vessel: str) -> set[int]:
        """Numbers of a vessel's own water and of the tap waters in its coils."""
        out = set()
        body = water_of(self.ways, ("body", vessel))
        if body is not None:
            out.add(body.number)
        for element in self.ways.by_part.get(vessel, ()):
            water = water_of(self.ways, element.a)
            if element.does is Behaviour.COIL and water is not None and water.fluid == "domestic":
                out.add(water.number)
        return out

    def numbers(self, part: str) -> frozenset[int]:
        """Numbers of the waters a part touches."""
        return frozenset(w.number for w in waters(self.ways) if part in w.parts)

    def about(self, step: str, part: str, *, parts: Iterable[str] = (), near: Iterable[str] = ()) -> Job:
        """A job about one part."""
        return Job(step, part, tuple(dict.fromkeys((part, *parts))), (), frozenset({part, *near}))

    def everywhere(self, step: str, parts: Iterable[str] = (), pipes: Iterable[str] = ()) -> Job:
        """A job about the whole sheet."""
        return Job(step, "", tuple(parts), tuple(pipes), whole=True)

    # -- position ---------------------------------------------------------------------------------------------------

    def positions(self) -> Iterator[Job]:
        """What stands, hangs or lies before any pipe."""
        ways, sheet = self.ways, self.sheet
        yield self.everywhere("papers")
        old = [p.id for p in sheet.parts.values() if p.existing]
        standing = [p.id for p in sheet.pipes.values() if p.a.part in old and p.b.part in old]
        mains = [p.id for p in ways.tagged("mains")]
        yield self.everywhere("make-safe", dict.fromkeys((*old, *mains)), standing)
        heavy = [p for p in self.new if ways.kind(p).body in ("store", "cylinder", "cistern")]
        if heavy:
            yield self.everywhere("bearing", heavy)
        risers = [p.id for p in sheet.pipes.values() if crossed(ways, p.id)]
        if risers:
            yield self.everywhere("holes", (), risers)
        new = set(self.new)
        for fire in (f.part for f in self.fires if f.part in new):
            yield self.about("hearth", fire)
            yield self.about("stand-fire", fire)
        for part in self.new:
            kind = ways.kind(part)
            if kind.body in ("store", "cylinder", "header", "drain_vessel"):
                yield self.about("stand-store", part)
            elif kind.body == "cistern":
                work = self._work("stand-cistern", part)
                pipes = tuple(work.pipes) if work else ()
                parts = (part, *(work.parts if work else ()))
                yield Job("stand-cistern", part, parts, pipes, frozenset({part}))
            elif part in ways.source_of:
                if ways.source_of[part].stops in ("switched", "residual"):
                    yield self.about("stand-boiler", part)
                elif ways.source_of[part].stops == "sun":
                    yield self.about("set-panels", part)
            elif "underfloor" in kind.tags:
                yield self.about("lay-floor", part)
            elif "emitter" in kind.tags or "plate" in kind.tags:
                yield self.about("hang-rads", part)
        for vessel in self.vessels:
            fitted = [p for p in self._screwed_to(vessel) if p in new]
            if fitted or any(t.purpose == "sensor" for t in sheet.parts[vessel].tappings):
                yield Job("bosses", vessel, tuple(fitted), (), frozenset({vessel, *fitted}))

    def _screwed_to(self, vessel: str) -> list[str]:
        """Immersions and caps that end on a vessel."""
        ends = {p.other(vessel).part for p in self.sheet.pipes_of(vessel)}
        return [p for p in self.sheet.parts if p in ends and {"immersion", "cap"} & set(self.ways.kind(p).tags)]

    def _work(self, step: str, subject: str) -> Pipework | None:
        return next((w for w in self.works if (w.step, w.subject) == (step, subject)), None)

    # -- first fix --------------------------------------------------------------------------------------------------

    def piping(self) -> Iterator[Job]:
        """What is piped."""
        ways = self.ways
        for fire in (f.part for f in self.fires if f.part in self.new):
            yield self.about("flue", fire)
        for work in self.works:
            if work.step == "stand-cistern":
                continue
            found = {w.number for w in waters(ways) if any(("pipe", p) in w.elements for p in work.pipes)}
            pieces = tuple(dict.fromkeys((*work.parts, *(n for n in work.near if self._fits(work, n)))))
            yield Job(
                work.step,
                work.subject,
                pieces,
                tuple(work.pipes),
                frozenset({*work.near, *work.parts}),
                frozenset(found),
                whole=not work.subject,
            )
        unvented = [v for v in self.vessels if self._unvented(v)]
        for vessel in unvented:
            if self._work("uv-safety", vessel) is None:
                yield self.about("uv-safety", vessel)
        for source in self.switched:
            if source.part in self.new and any(w in ways.kind(source.part).id for w in BURNERS):
                yield self.about("fuel", source.part)

    def _fits(self, work: Pipework, part: str) -> bool:
        """Whether what a piece of pipework bears on is fitted with it, not only joined by it."""
        if work.step in ("rad-pipes", "taps"):
            return part != work.subject
        return work.step == "floor-pipes" and part == work.subject

    def _unvented(self, vessel: str) -> bool:
        water = water_of(self.ways, ("body", vessel))
        return water is not None and water.regime == "mains"

    # -- look, flush, test, close -----------------------------------------------------------------------------------

    def tests(self) -> Iterator[Job]:
        """What is looked at, flushed, tested and closed."""
        ways, sheet = self.ways, self.sheet
        facing = [p.id for p in sheet.parts.values() if {"pump", "check", "loading_unit"} & set(ways.kind(p.id).tags)]
        if sheet.pipes:
            yield self.everywhere("look", facing)
        for floor in ways.tagged("underfloor"):
            if floor.id in self.new:
                number = self.numbers(floor.id)
                yield Job("test-floor", floor.id, (floor.id,), (), frozenset({floor.id}), number)
                if ways.value(floor.id, "in_screed") is not False:
                    yield Job("screed", floor.id, (floor.id,), (), frozenset({floor.id}), number)
        for water in waters(ways):
            cools = any(ways.has_tag(p, "thermal_discharge") for p in water.parts)
            if water.regime == "mains" and (water in self.taps or cools):
                yield self.of_water("flush-main", water)
                yield self.of_water("test-main", water)
        for water in self.heating:
            yield self.of_water("test-heat", water)
            washed = [p for p in self._in(water) if {"strainer", "check", "drain"} & set(ways.kind(p).tags)]
            yield self.of_water("flush", water, washed)
        for water in self.solar:
            yield self.of_water("test-solar", water)
        lagged = [p.id for p in sheet.pipes.values() if p.insulation_mm]
        if sheet.pipes:
            yield self.everywhere("close", (), lagged)

    def _in(self, water: Water) -> list[str]:
        return [p for p in self.sheet.parts if p in water.parts]

    def of_water(self, step: str, water: Water, parts: Iterable[str] = (), more: Iterable[int] = ()) -> Job:
        """A job about one water, called after its main part."""
        main = self.main_of(water)
        near = frozenset({main, *parts, *(b for b in water.cisterns)})
        return Job(step, main, tuple(parts), (), near, frozenset({water.number, *more}), wide=True)

    # -- water in ---------------------------------------------------------------------------------------------------

    def filling(self) -> Iterator[Job]:
        """What is filled, and the air let out."""
        ways, sheet = self.ways, self.sheet
        for vessel in ways.tagged("vessel"):
            yield Job("set-vessels", vessel.id, (vessel.id,), (), frozenset({vessel.id}), self.numbers(vessel.id))
        for water in self.heating:
            if water.regime in ("vented", "drain-down"):
                cisterns = sorted(water.cisterns, key=list(sheet.parts).index)
                yield self.of_water("fill-vented", water, cisterns)
            elif water.regime == "sealed":
                filling = [e.part for e in water.fillings]
                yield self.of_water("fill-sealed", water, dict.fromkeys(filling))
        for cistern in self.cisterns:
            if line_m(self.case, cistern) is not None:
                feeds = frozenset(w.number for w in waters(ways) if ("body", cistern) in w.feeds)
                yield Job("water-line", cistern, (cistern,), (), frozenset({cistern}), feeds)
        for water in self.taps:
            outlets = [p for p in self._in(water) if ways.has_tag(p, "outlet")]
            outlets.sort(key=lambda p: sheet.parts[p].height_m)
            yield self.of_water("fill-taps", water, outlets)
        for water in self.solar:
            yield self.of_water("fill-solar", water, water.vessels)
        for water in self.heating:
            if water.regime != "undefined":
                airy = [p for p in self._in(water) if {"air_vent", "own_air_vent"} & set(ways.kind(p).tags)]
                airy.sort(key=lambda p: sheet.parts[p].height_m)
                yield self.of_water("let-air", water, airy)
        for relief in ways.tagged("relief"):
            places = {e.a for e in ways.by_part[relief.id] if e.does is Behaviour.RELIEF}
            number = frozenset(w.number for w in waters(ways) if places & w.places)
            yield Job("lift-reliefs", relief.id, (relief.id,), (), frozenset({relief.id}), number)

    # -- electricity ------------------------------------------------------------------------------------------------

    def electrics(self) -> Iterator[Job]:
        """What is wired, proved and run."""
        ways, wired = self.ways, self.wired
        if not wired:
            return
        yield self.everywhere("wire", wired)
        yield self.everywhere("dead-test")
        yield self.everywhere("live", wired)
        stats = [p for p in wired if {"sensor", "control", "immersion"} & set(ways.kind(p).tags)]
        stats += [s.part for s in self.switched if s.part not in stats]
        if stats:
            yield self.everywhere("prove-stats", stats)
        pumps = [p for p in wired if {"pump", "loading_unit"} & set(ways.kind(p).tags)]
        if pumps:
            yield self.everywhere("cold-run", pumps)
        for water in self.heating:
            if water.regime != "undefined":
                yield self.of_water("dose", water)

    # -- heat -------------------------------------------------------------------------------------------------------

    def heat(self) -> Iterator[Job]:
        """First heat, switched before burning, and the papers."""
        ways = self.ways
        flames = [s.part for s in self.fires]
        flames += [s.part for s in self.switched if any(w in ways.kind(s.part).id for w in (*BURNERS, "pellet"))]
        if flames:
            yield self.everywhere("co-alarm", flames)
        by_switch: set[int] = set()
        for source in self.switched:
            found, near = self.heated_by(source)
            by_switch |= found
            yield Job("first-switched", source.part, (source.part,), (), near, found)
        for heater in immersions(self.case):
            found = frozenset(self.in_vessel(heater.store))
            by_switch |= found
            near = frozenset({heater.part, heater.store})
            yield Job("first-immersion", heater.part, (heater.part,), (), near, found)
        for source in self.suns:
            found, near = self.heated_by(source)
            yield Job("sun-on", source.part, (source.part,), (), near, found)
        hot = [w for w in self.heating if w.number in by_switch]
        for water in hot:
            vessels = [v for v in self.vessels if ("body", v) in water.places]
            yield self.of_water("hot-look", water, vessels, (n for v in vessels for n in self.in_vessel(v)))
        for floor in ways.tagged("underfloor"):
            if floor.id in self.new and ways.value(floor.id, "in_screed") is not False:
                yield Job("dry-screed", floor.id, (floor.id,), (), frozenset({floor.id}), self.numbers(floor.id))
        for valve in ways.tagged("thermal_discharge"):
            yield Job("cooling-proof", valve.id, (valve.id,), (), frozenset({valve.id}), self.numbers(valve.id))
        for fire in self.fires:
            found, near = self.heated_by(fire)
            yield self.about("draught", fire.part)
            cooled = self._cooled_by(fire.part)
            sheds = (*fixed_emitters(self.case, fire), *cooled)
            heats = (*sheds, *(p for p in self.sheet.parts if p in near))
            round_it = water_of(ways, fire.hot)
            exits = (*sorted(round_it.cisterns), *(e.part for e in round_it.reliefs)) if round_it is not None else ()
            for step, watched in (("first-fire", heats), ("power-cut", sheds), ("full-fire", (*sheds, *exits))):
                if step == "power-cut" and not self.wired:
                    continue
                parts = tuple(dict.fromkeys((fire.part, *watched)))
                yield Job(step, fire.part, parts, (), near | frozenset(cooled), found)
            alone = frozenset(found - by_switch)
            if alone:
                yield Job("hot-look-fire", fire.part, (), (), near, alone)
        for mixer in ways.tagged("mixing_valve"):
            mixed = water_of(ways, ("port", mixer.id, "mixed"))
            outlets = [p for p in self._in(mixed) if ways.has_tag(p, "outlet")] if mixed else []
            yield Job("set-mixers", mixer.id, (mixer.id, *outlets), (), frozenset({mixer.id}), self.numbers(mixer.id))
        yield self.everywhere("teach")
        yield self.everywhere("hand-over")

    def _cooled_by(self, fire: str) -> tuple[str, ...]:
        return tuple(w.subject for w in self.works if w.step == "cooling" and fire in w.near)


def crossed(ways: Waterways, pipe: str) -> list[str]:
    """Names of the floors that a pipe passes, lowest first. The lowest floor of the house counts for none."""
    heights = [z for _, z in points_of(ways, ways.elements["pipe", pipe])]
    levels = sorted(ways.sheet.levels, key=lambda level: level.height_m)[1:]
    return [level.name for level in levels if min(heights) < level.height_m < max(heights)]
