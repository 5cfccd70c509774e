"""Rules of feeds and cisterns: how cold water gets in, and what the cistern over it must be."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.engineering.contents import contents, swelling_of
from loopwright.rules.bores import Narrow, narrow, no_size, unsized
from loopwright.rules.cuts import least_cut, only_pipe
from loopwright.rules.families import CAN_CLOSE, SHUTS_IN
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import (
    bare,
    feed_outlets,
    is_domestic,
    is_piped,
    line_m,
    lines_m,
    open_tops,
    refilled,
    runs,
    vent_targets,
    vented_waters,
)
from loopwright.waterways.graph import Element, Key, Source
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import cheapest, reach
from loopwright.waterways.profile import LEVEL_M, points_of
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, waters

FEED_BORE_MM = 13.0  # the bore of 15 mm copper, less what tables differ by: arithmetic
LARGE_FEED_BORE_MM = 19.0


@rule(
    "vent-and-feed/feed-and-vent-combined",
    about="one source on vented water",
    yields_to=(*CAN_CLOSE, "solid-fuel/no-open-vent", *SHUTS_IN),
)
def feed_and_vent_combined(case: Case) -> Iterator[Said]:
    """One pipe that is feed and vent, or a fire fed only by way of its flow."""
    for water in vented_waters(case):
        ends = vent_targets(case, water) | feed_outlets(case, water)
        if not ends:
            continue
        for source in water.sources:
            if source.stops == "sun" or not is_piped(case, source.part):
                continue
            fire = source.stays_hot
            pipe = None if open_tops(case, water) and not fire else only_pipe(case, [source.hot, source.cold], ends)
            if pipe is not None:
                yield from _single(case, water, source, pipe, fire)
            elif fire and refilled(case, source) and not _fed_by_return(case, source):
                yield _by_flow(case, water, source)
            else:
                yield Sound(source.part)


def _fed_by_return(case: Case, source: Source) -> bool:
    flow_ways = {e.key for e in case.ways.links[source.hot] if e.key != source.key}
    return bool(refilled(case, source, drop=flow_ways))


def _by_flow(case: Case, water: Water, source: Source) -> Said:
    """A fire that refills by its flow alone: for want of a feed at its return, or because that feed can be shut."""
    ways, name = case.ways, case.name(source.part)
    drop = {source.key, *(e.key for e in ways.links[source.hot])}
    outlets = feed_outlets(case, water)
    cut: tuple[str, ...] = ()
    if source.cold in reach(ways, passing(ways, Ask.OPEN), outlets, drop=drop, walls=ways.bodies("cistern")):
        cut = least_cut(case, passing(ways, Ask.REFILL), [source.cold], outlets, drop=drop, towards_near=True)
    names = " and ".join(case.name(c) for c in cut)
    return Finding(
        severity=Severity.FAULT,
        subject=source.part,
        culprits=cut or (source.part,),
        path=(source.part, *cut),
        message=f"{names} can keep cold water from the return of {name}; it then comes in by the flow,"
        " where steam comes out."
        if cut
        else f"Cold water reaches {name} only by its flow, where steam comes out.",
        todo=f"Take {names} out of the way of the feed." if cut else "Bring a separate feed to the return.",
        sources=("sf.feed.od.min",),
    )


def _single(case: Case, water: Water, source: Source, pipe: str, fire: bool) -> Iterator[Said]:
    ways = case.ways
    vent_od, bore = case.limit("sf.vent.od.min"), case.limit("vent.bore.min")
    if not fire:
        ends = vent_targets(case, water) | feed_outlets(case, water)
        fixed = reach(ways, bare(case), [source.hot, source.cold], walls=ways.bodies("cistern")) & ends
        small = narrow(case, ways.elements["pipe", pipe], vent_od, bore)
        limited = ways.value(source.part, "limit_thermostat")
        if fixed and small is None:
            if limited is None:
                words = f"{case.name(source.part)}: limit thermostat with hand reset is not answered"
                yield Missing(source.part, words, source.part, "limit_thermostat")
                return
            if limited:
                yield Sound(source.part, "One pipe is feed and vent, wide, open, and the boiler has a limit thermostat")
                return
    yield Finding(
        severity=Severity.DANGER if fire else Severity.FAULT,
        subject=source.part,
        culprits=(pipe,),
        path=(source.part, pipe),
        message=f"{case.name(pipe)} alone is both feed and vent of {case.name(source.part)}.",
        todo="Bring a separate feed to the return.",
        sources=("sf.vent.od.min", "sf.feed.od.min"),
    )


@rule("vent-and-feed/feed-too-small", about="one source on vented water")
def feed_too_small(case: Case) -> Iterator[Said]:
    """A cold feed through which a boiler refills too slowly."""
    for water in vented_waters(case):
        for source in water.sources:
            if source.stops != "sun" and refilled(case, source):
                yield _feed_size(case, water, source)


def _feed_size(case: Case, water: Water, source: Source) -> Said:
    ways = case.ways
    least, wanted = case.limit("sf.feed.od.min"), case.limit("sf.feed.od.solid")
    path, thin = _widest_feed(case, water, source, least, FEED_BORE_MM)
    gap = unsized(case, path)
    if gap:
        return no_size(case, source.part, gap)
    ids = tuple(dict.fromkeys(k[1] for k, _ in path))
    if thin:
        worst = min(thin, key=lambda n: n.size_mm)
        return Finding(
            severity=Severity.FAULT,
            subject=source.part,
            culprits=tuple(n.id for n in thin),
            path=ids,
            message=f"Cold feed of {case.name(source.part)} is {worst.words}; it needs {least:g} mm copper.",
            todo="Draw the feed one size larger, 22 mm for a stove.",
            measured=worst.size_mm,
            limit=least,
            unit="mm",
            sources=("sf.feed.od.min",),
        )
    power = ways.number(source.part, "power_kw")
    fire = source.stays_hot
    if fire or (power is not None and power > 25.0):
        path, thin = _widest_feed(case, water, source, wanted, LARGE_FEED_BORE_MM)
        if thin:
            worst = min(thin, key=lambda n: n.size_mm)
            why = "a stove" if fire else f"{power:g} kW"
            return Finding(
                severity=Severity.ADVICE,
                subject=source.part,
                culprits=tuple(n.id for n in thin),
                path=tuple(dict.fromkeys(k[1] for k, _ in path)),
                message=f"Cold feed of {case.name(source.part)} is {worst.words}; {wanted:g} mm is usual for {why}.",
                todo=f"Consider {wanted:g} mm, unbroken from the cistern.",
                measured=worst.size_mm,
                limit=wanted,
                unit="mm",
                sources=("sf.feed.od.solid",) if fire else ("vent.feed.size.2",),
            )
    return Sound(source.part)


def _widest_feed(
    case: Case,
    water: Water,
    source: Source,
    od: float,
    bore: float,
) -> tuple[tuple[Step, ...], list[Narrow]]:
    """The way cold water takes with the fewest narrow pipes, and those. Emitters do not feed a boiler well."""
    ways = case.ways

    def cost(element: Element, forward: bool) -> float:
        return (1.0 if element.pipe and narrow(case, element, od, bore) else 0.0) + 1e-4

    found = cheapest(
        ways,
        passing(ways, Ask.REFILL),
        sorted(feed_outlets(case, water)),
        {source.hot, source.cold},
        cost,
        walls=ways.bodies("cistern"),
    )
    path = found[1] if found else ()
    thin = [n for k, _ in path if k[0] == "pipe" and (n := narrow(case, ways.elements[k], od, bore))]
    return path, thin


@rule("vent-and-feed/cistern-too-small", about="one cistern over heating water")
def cistern_too_small(case: Case) -> Iterator[Said]:
    """A cistern without room for what the water swells."""
    ways = case.ways
    by_cistern: dict[str, list[Water]] = {}
    for water in vented_waters(case):
        if water.fluid != "domestic":
            for body in water.feeds:
                by_cistern.setdefault(body[1], []).append(water)
    for cistern, fed in sorted(by_cistern.items()):
        if any(len(water.feeds) > 1 for water in fed):
            continue  # two cisterns on one water are another rule's
        held = [contents(ways, water) for water in fed]
        litres, swells = sum(c.litres for c in held), sum(c.swells_l for c in held)
        hottest = max(c.hottest_c for c in held)
        more = swelling_of(sum(c.missing_at_most_l for c in held), hottest)
        missing = [m for c in held for m in c.missing]
        room = ways.number(cistern, "expansion_room_l")
        needed, words = swells, f"the water swells by {swells:.0f} l up to {hottest:g} °C"
        sources = ("fe.level", "fe.store.caution")
        if room is None:  # the whole cistern is then held to a share of the water
            room = ways.number(cistern, "content_l")
            share, least = case.limit("fe.capacity.large") / 100, case.limit("fe.capacity.min")
            more = share * sum(c.missing_at_most_l for c in held)
            needed = max(share * litres, least)
            words = f"{litres:.0f} l of water asks for {needed:.0f} l"
            sources = ("fe.capacity.large", "fe.capacity.min")
        if room is None:
            yield case.lacks(cistern, cistern, "expansion_room_l", "expansion room")
        elif needed > room + 0.05:
            yield Finding(
                severity=Severity.FAULT,
                subject=cistern,
                culprits=(cistern,),
                path=(cistern,),
                message=f"{case.name(cistern)} has room for {room:.0f} l; {words}.",
                todo=f"Fit a cistern with {needed:.0f} l of room, or lower its cold level.",
                measured=needed,
                limit=room,
                unit="l",
                sources=sources,
            )
        elif missing and needed + more > room:
            part, prop = missing[0]
            yield case.lacks(cistern, part, prop, "water content")
        else:
            yield Sound(cistern, f"{needed:.0f} l of {room:.0f} l room")


@rule("vent-and-feed/cistern-too-low", about="one vented water")
def cistern_too_low(case: Case) -> Iterator[Said]:
    """Pipes or radiators above the water line of the cistern that should fill them."""
    for water in vented_waters(case):
        lines = lines_m(case, water)
        if not water.feeds or not lines:
            continue
        line = min(lines)
        top = _highest(case, water)
        cisterns = tuple(sorted(b[1] for b in water.feeds))
        if top is None:
            continue
        ident, z = top
        if line <= z + LEVEL_M:
            yield Finding(
                severity=Severity.FAULT,
                subject=cisterns[0],
                culprits=(*cisterns, ident),
                path=(*cisterns, ident),
                message=f"Water in {case.name(cisterns[0])} stands at {line:.2f} m;"
                f" {case.name(ident)} reaches {z:.2f} m.",
                todo="Raise the cistern, or keep pipes and radiators below it.",
                measured=line,
                limit=z,
                unit="m",
                sources=("pump.head.cistern.pumped",),
            )
            continue
        pumped = _pumped_top(case, water)
        margin = case.limit("pump.head.cistern.pumped")
        # suction at the pump is not assessed yet; the usual margin speaks in its place
        if pumped is not None and line - pumped[1] < margin - 1e-3 and water.fluid != "domestic":
            yield Finding(
                severity=Severity.ADVICE,
                subject=cisterns[0],
                culprits=cisterns,
                path=(*cisterns, pumped[0]),
                message=f"{case.name(cisterns[0])} stands {line - pumped[1]:.2f} m above the highest pumped part;"
                f" {margin:g} m is usual.",
                todo=f"Consider raising it by {margin - line + pumped[1]:.2f} m.",
                measured=line - pumped[1],
                limit=margin,
                unit="m",
                sources=("pump.head.cistern.pumped",),
            )
        else:
            yield Sound(cisterns[0])


def _heights(case: Case, water: Water) -> list[tuple[str, float, Element]]:
    """The top of each element of a water, vents and stubs to a cap or an air vent excepted."""
    ways = case.ways
    spared = {k for run in runs(case, water) for k, _ in run.steps}
    spared |= _dead_ends(case)  # on the way to nothing but an open end, a cap, an air vent or a vent end
    out = []
    for key in water.elements:
        element = ways.elements[key]
        if key in spared or (element.part and ways.kind(element.part).body == "cistern"):
            continue
        out.append((key[1], max(z for _, z in points_of(ways, element)), element))
    return out


@kept
def _dead_ends(case: Case) -> set[Key]:
    """Elements of trees that end in nothing that heats, cools or feeds."""
    ways = case.ways
    cisterns = set(ways.bodies("cistern"))
    left = {p: {e.key for e in links} for p, links in ways.links.items()}
    todo = [p for p, keys in left.items() if len(keys) <= 1 and p not in cisterns]
    out: set[Key] = set()
    while todo:
        place = todo.pop()
        for key in list(left[place]):
            element = ways.elements[key]
            other = element.other(place)
            if other in cisterns and element.part and element.does is not Behaviour.AIR_GAP:
                continue
            out.add(key)
            left[place].discard(key)
            left[other].discard(key)
            if len(left[other]) == 1 and other not in cisterns:
                todo.append(other)
    return out


def _highest(case: Case, water: Water) -> tuple[str, float] | None:
    tops = [(z, ident) for ident, z, _ in _heights(case, water)]
    return (max(tops)[1], max(tops)[0]) if tops else None


def _pumped_top(case: Case, water: Water) -> tuple[str, float] | None:
    """The highest place that a pump of this water moves: what it reaches without crossing a body."""
    ways = case.ways
    pumps = [e for k in water.elements if (e := ways.elements[k]).does is Behaviour.PUMP]
    if not pumps:
        return None
    near = reach(ways, passing(ways, Ask.OPEN), {p for e in pumps for p in (e.a, e.b)}, walls=ways.bodies())
    tops = [(z, ident) for ident, z, e in _heights(case, water) if e.a in near and e.b in near]
    return (max(tops)[1], max(tops)[0]) if tops else None


@rule("vent-and-feed/two-cisterns", about="one vented water, or one cistern", yields_to=("domestic/primary-at-outlet",))
def two_cisterns(case: Case) -> Iterator[Said]:
    """Two cisterns feeding one water, or one feeding two."""
    feeds: dict[str, list[Water]] = {}
    for water in waters(case.ways):
        for body in water.feeds:
            feeds.setdefault(body[1], []).append(water)
        cisterns = sorted({b[1] for b in water.feeds})
        if len(cisterns) < 2:
            if cisterns:
                yield Sound(cisterns[0])
            continue
        if _linked(case, water, cisterns):
            yield Sound(cisterns[0], "Linked below the line and level")
            continue
        names = " and ".join(case.name(c) for c in cisterns)
        yield Finding(
            severity=Severity.FAULT,
            subject=cisterns[0],
            culprits=tuple(cisterns),
            path=tuple(cisterns),
            message=f"{names} feed one water; the lower one overflows or the levels drift.",
            todo="Give one water one cistern.",
            sources=("sf.cisterns.two",),
        )
    for cistern, fed in sorted(feeds.items()):
        if len(fed) > 1 and not is_domestic(case, cistern):
            first = sorted(p for w in fed for p in feed_outlets(case, w, cistern))
            yield Finding(
                severity=Severity.ADVICE,
                subject=cistern,
                culprits=(cistern,),
                path=tuple(p[1] for p in first),
                message=f"{case.name(cistern)} feeds {len(fed)} separate waters.",
                todo="Consider a cistern for each.",
                sources=("sf.cisterns.two",),
            )


def _linked(case: Case, water: Water, cisterns: list[str]) -> bool:
    """Lines level, and a way between the outlets that nothing can shut."""
    lines = [line_m(case, c) for c in cisterns]
    known = [z for z in lines if z is not None]
    if len(known) < len(cisterns) or max(known) - min(known) > LEVEL_M:
        return False
    outlets = [feed_outlets(case, water, c) for c in cisterns]
    seen = reach(case.ways, passing(case.ways, Ask.FIXED), outlets[0], walls=case.ways.bodies("cistern"))
    return all(group & seen for group in outlets[1:])
