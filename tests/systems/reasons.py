"""What must be said, and may be said besides, when something that can shut, or nothing at all, stands in a pipe.

Reasons of the trade alone, worked out on `trade`'s reading of the sound sheet; no rule is asked. Sources of the reasons
are those of the rules' own pages: an open vent and a feed without valves, a heat leak that nothing can shut, a relief
valve and a vessel that nothing parts from the source, discharge pipes without valves.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

import msgspec
from trade import (
    BOTH,
    CATALOGUE,
    FORWARD,
    SHUT,
    Link,
    Node,
    Passes,
    Trade,
    never_shuts,
    open_to_all,
    pumps_run,
    refills,
)

from loopwright.catalogue import Behaviour
from loopwright.sheet.ports import ports_of

L_WITH_STORE_KW, L_ALONE_KW = 1.0, 1.25
"""The least heat leak, with a store on the same gravity circuit and without (makers' instructions; see the page
solid-fuel/heat-leak-too-small)."""
SHEDDING = frozenset(
    {
        "solid-fuel/no-heat-leak",
        "solid-fuel/heat-leak-needs-power",
        "solid-fuel/heat-leak-can-be-shut",
        "gravity-loop/pump-in-line",
        "gravity-loop/isolating-valve",
        "gravity-loop/spring-check",
        "gravity-loop/flap-only-way",
        "solid-fuel/store-is-only-leak",
        "solid-fuel/heat-leak-too-small",
    }
)
NAMED_BY = {
    "hand": {"gravity-loop/isolating-valve"},
    "thermal": {"solid-fuel/heat-leak-can-be-shut"},
    "powered": {"solid-fuel/heat-leak-can-be-shut", "solid-fuel/heat-leak-needs-power"},
    "pump": {"gravity-loop/pump-in-line", "solid-fuel/heat-leak-needs-power"},
    "spring": {"gravity-loop/spring-check"},
    "flap": {"gravity-loop/flap-only-way", "gravity-loop/spring-check"},
}
ON_FIRE_PUMP = {
    "solid-fuel/pump-without-thermostat",
    "solid-fuel/cold-return",
    "circuit/pumps-in-series",
    "circuit/pump-backwards",
    "circuit/dead-headed-pump",
    "circuit/backflow-through-idle-circuit",
    "circuit/night-thermosyphon",
    "control/pump-uncontrolled",
}


class Must(msgspec.Struct, frozen=True):
    """One finding that has to be there: any of these rules, on any of these ids."""

    rules: frozenset[str]
    ids: frozenset[str]


class Verdict(msgspec.Struct, frozen=True):
    """What an edit must bring about, and which dangers and faults it may besides."""

    must: tuple[Must, ...]
    may: frozenset[str] = frozenset()
    where: frozenset[str] = frozenset()
    """Ids that every further finding must touch, when `may` is granted for a place alone."""


def must(rules: Iterable[str] | str, *ids: str) -> Must:
    """A finding of one of some rules on one of some ids."""
    return Must(frozenset([rules] if isinstance(rules, str) else rules), frozenset(ids))


class Obstacle(msgspec.Struct, frozen=True):
    """Something in a pipe: a hand, thermal or powered valve, a spring check, a flap, a pump. `ahead` is a -> b."""

    pipe: str
    sort: str
    id: str
    ahead: bool = True

    def through(self, passes: Passes, question: str) -> Passes:
        """A view of the water with the obstacle in its pipe."""
        along = FORWARD if self.ahead else 2
        if question == "running":
            here = along if self.sort in ("spring", "flap", "pump") else BOTH
        elif question == "refill":
            here = along if self.sort == "flap" else SHUT
        elif question == "pushed":
            here = along if self.sort in ("spring", "flap") else BOTH if self.sort == "pump" else SHUT
        else:
            here = SHUT

        def asked(link: Link) -> int:
            flags = passes(link)
            return flags & here if link.owner == self.pipe and link.does is Behaviour.PIPE else flags

        return asked


def judged(t: Trade, o: Obstacle) -> Verdict:
    """What must follow from an obstacle in a pipe of a sound sheet, and what may."""
    found: list[Must] = []
    may: set[str] = set()
    for source in t.sources("fire"):
        _fire(t, o, source, found, may)
    for source in t.sources():
        _closed(t, o, source, found, may)
    _vented(t, o, found)
    _stores(t, o, found)
    _mains(t, o, found, may)
    _away(t, o, found)
    _circulation(t, o, found, may)
    return Verdict(tuple(dict.fromkeys(found)), frozenset(may))


def cooled(t: Trade, source: str) -> bool:
    """Whether a fire has a cooling coil with a discharge valve: it needs neither vent nor leak."""
    coil = any(x.owner == source and x.does is Behaviour.COIL for x in t.links)
    return coil and bool(t.tagged("thermal_discharge"))


def least_kw(t: Trade, source: str, passes: Passes) -> float:
    """The least heat leak of a fire and of those that share it."""
    mine = set(t.emitters_on(source, passes))
    total = 0.0
    for fire in t.sources("fire"):
        if fire == source or mine & set(t.emitters_on(fire, passes)):
            total += L_WITH_STORE_KW if t.vessels_on(fire, passes) else L_ALONE_KW
    return total


def _fire(t: Trade, o: Obstacle, source: str, found: list[Must], may: set[str]) -> None:
    hot, cold = t.plenums(source)
    heart = t.heart(source)
    assert heart is not None
    water = t.reach([hot, cold], open_to_all)
    if o.sort == "pump" and any(x.owner == o.pipe and x.a in water for x in t.links):
        may |= ON_FIRE_PUMP
    if o.sort in ("spring", "flap"):  # a pump's own circuit past a flap should go round without the pump as well
        may |= NAMED_BY["spring"]
    if cooled(t, source):
        _cooling(t, o, source, found, may)
        return
    mine = {heart.node}
    blocked = o.through(never_shuts, "fixed")
    vents = t.reach([hot], never_shuts, drop=mine) & t.vent_mouths
    runs = set[str]().union(*(t.run_of(m) for m in t.vent_mouths & water))
    vent_cut = o.pipe in runs or bool(vents and not t.reach([hot], blocked, drop=mine) & t.vent_mouths)
    taps = t.outlets & water
    fed = t.reach(taps, refills) & {hot, cold}
    feed_cut = bool(fed and not t.reach(taps, o.through(refills, "refill")) & {hot, cold})
    before, after = t.emitters_on(source, never_shuts), t.emitters_on(source, blocked)
    enough = sum(before.values()) >= least_kw(t, source, never_shuts) - 1e-9
    leak_lost = enough and sum(after.values()) < least_kw(t, source, blocked) - 1e-9
    if vent_cut:
        found.append(must("solid-fuel/vent-can-close", o.id))
    elif feed_cut:
        found.append(must({"solid-fuel/feed-can-close", "solid-fuel/vent-can-close"}, o.id))
    if leak_lost:
        may |= SHEDDING
        if not vent_cut and not feed_cut:
            short = {"solid-fuel/heat-leak-too-small"} if after == before else set()  # a lone leak has to be larger
            found.append(must(NAMED_BY[o.sort] | short, o.id, *(before if short else ())))
    elif not vent_cut and not feed_cut and o.sort in ("hand", "spring", "flap"):
        view, asked = (never_shuts, "fixed") if o.sort == "hand" else (refills, "refill")
        lost = t.vessels_on(source, view) - t.vessels_on(source, o.through(view, asked))
        if lost:
            found.append(must(NAMED_BY[o.sort], o.id))
    if vents and any(x.owner == o.pipe and x.a in water for x in t.links):
        may.add("vent-and-feed/vent-dips")
    if vent_cut or feed_cut:
        may |= NAMED_BY[o.sort]
    if o.sort == "flap":
        may |= NAMED_BY["flap"] if t.vessels_on(source, never_shuts) - t.vessels_on(source, blocked) else set()
    drains = {("port", d, "a") for d in t.tagged("drain")}
    if not t.reach([cold, hot], blocked) & drains:
        may.add("circuit/no-drain")


def _cooling(t: Trade, o: Obstacle, source: str, found: list[Must], may: set[str]) -> None:
    """The water that cools a sealed fire must come and go whatever is shut."""
    coil = next(x for x in t.links if x.owner == source and x.does is Behaviour.COIL)
    valves = [x for x in t.links if x.owner in t.tagged("thermal_discharge")]

    def stands(link: Link) -> int:
        if link.does is Behaviour.ONE_WAY:
            return FORWARD
        locked = link.does is Behaviour.HAND and t.prop(link.owner, "locked_open") is True
        return BOTH if locked or link in valves else never_shuts(link)

    def checked(link: Link) -> int:
        flags = stands(link)
        if link.owner == o.pipe and link.does is Behaviour.PIPE:
            return flags & ((FORWARD if o.ahead else 2) if o.sort in ("spring", "flap") else SHUT)
        return flags

    mains = [("port", m, "a") for m in t.tagged("mains")]
    away = {("port", d, "in") for d in (*t.tagged("tundish"), *t.tagged("discharge_point"))}
    rules = {"solid-fuel/cooling-supply-can-fail", "solid-fuel/sealed-water", "discharge/no-tundish"}
    ends = {coil.a, coil.b}
    dry = t.reach(mains, stands) & ends and not t.reach(mains, checked) & ends
    stuck = t.reach(ends, stands) & away and not t.reach(ends, o.through(stands, "fixed")) & away
    if dry or stuck:
        found.append(must(rules, o.id, source, *(v.owner for v in valves)))
    may |= rules


def _closed(t: Trade, o: Obstacle, source: str, found: list[Must], may: set[str]) -> None:
    """A source in water that is open to nothing: its relief valve and its vessel."""
    begin = t.plenums(source)
    water = t.reach(begin, open_to_all)
    mains = {("port", m, "a") for m in t.tagged("mains")}
    drain_down = {("body", p) for p in t.tagged("drain_down")} | set(t.body("drain_vessel"))
    if water & (t.vent_mouths | t.outlets | mains | drain_down):
        return
    _parted(t, o, list(begin), water, found, reliefs=t.prop(source, "relief_built_in") is not True)
    if source in t.sources("fire"):
        may |= {"solid-fuel/sealed-water"}


def _parted(t: Trade, o: Obstacle, begin: list[Node], water: set[Node], found: list[Must], *, reliefs: bool) -> None:
    seats = {x.a for x in t.links if x.does is Behaviour.RELIEF and x.a in water}
    rooms = {x.a for x in t.links if x.does is Behaviour.SEAL and x.a in water}
    blocked = t.reach(begin, o.through(never_shuts, "fixed"))
    if reliefs and t.reach(begin, never_shuts) & seats and not blocked & seats:
        found.append(must({"sealed/relief-can-close", "solid-fuel/sealed-water"}, o.id))
    if t.reach(begin, t.pushed) & rooms and not t.reach(begin, o.through(t.pushed, "pushed")) & rooms:
        found.append(must("sealed/vessel-can-close", o.id))


def _vented(t: Trade, o: Obstacle, found: list[Must]) -> None:
    """Every boiler, and every vessel heated from outside, keeps a way to the open air."""
    begins: list[list[Node]] = [list(t.plenums(s)) for s in t.sources("switched", "residual")]
    for body in t.body("store", "cylinder"):
        coils = [c for c in t.sheet.parts[body[1]].coils if c.purpose in ("source", "solar")]
        if (coils or any("immersion" in p for p in _joined(t, body[1]))) and not t.prop(body[1], "integral_cistern"):
            begins.append([body])
    for begin in begins:
        if not t.reach(begin, open_to_all) & (t.vent_mouths | t.outlets):
            continue
        blocked = t.reach(begin, o.through(never_shuts, "fixed"))
        if t.reach(begin, never_shuts) & t.vent_mouths and not blocked & t.vent_mouths:
            found.append(must({"vent-and-feed/vent-can-close", "solid-fuel/vent-can-close"}, o.id))


def _joined(t: Trade, part: str) -> list[str]:
    return [CATALOGUE[t.sheet.parts[p.other(part).part].kind].id for p in t.sheet.pipes_of(part)]


def _stores(t: Trade, o: Obstacle, found: list[Must]) -> None:
    """A sealed store that a fire or the sun heats through a coil needs a relief valve of its own."""
    hot = {h for s in t.sources("fire", "sun") for h in t.plenums(s)}
    for body in t.body("store"):
        coils = [x for x in t.links if x.owner == body[1] and x.does is Behaviour.COIL]
        water = t.reach([body], open_to_all)
        if water & (t.vent_mouths | t.outlets) or not any(t.reach([x.a], open_to_all) & hot for x in coils):
            continue
        seats = {x.a for x in t.links if x.does is Behaviour.RELIEF and x.a in water}
        if t.reach([body], never_shuts) & seats and not t.reach([body], o.through(never_shuts, "fixed")) & seats:
            found.append(must("sealed/relief-can-close", o.id))


def _mains(t: Trade, o: Obstacle, found: list[Must], may: set[str]) -> None:
    """Heated mains water: its vessel, its relief valves, and nothing that shuts between them and the heat."""
    mains = {("port", m, "a") for m in t.tagged("mains")}
    heaters: list[list[Node]] = [[b] for b in t.body("cylinder", "store") if t.reach([b], open_to_all) & mains]
    heaters += [
        [x.a, x.b]
        for x in t.links
        if x.does is Behaviour.COIL and t.reach([x.a], open_to_all) & mains and x.owner not in t.sources()
    ]
    for begin in heaters:
        water = t.reach(begin, open_to_all)
        seats = {x.a: x.owner for x in t.links if x.does is Behaviour.RELIEF and x.a in water}
        rooms = {x.a for x in t.links if x.does is Behaviour.SEAL and x.a in water}
        blocked = t.reach(begin, o.through(t.pushed, "pushed"))
        fixed = t.reach(begin, o.through(never_shuts, "fixed"))
        if t.reach(begin, t.pushed) & rooms and not blocked & rooms:
            found.append(must({"domestic/expansion-unprovided", "order/mains-inlet"}, o.id, *(b[1] for b in begin)))
        hot = set(t.tagged("tp_relief"))  # what feels the heat stands on the vessel itself, a check between or not
        near = {x: (blocked if o.sort in ("spring", "flap") and seats[x] not in hot else fixed) for x in seats}
        lost = {seats[x] for x in t.reach(begin, never_shuts) & set(seats) if x not in near[x]}
        if any(x.owner == o.pipe and x.a in water for x in t.links):
            may.add("order/mains-inlet")
        dry = not t.reach(mains, o.through(pumps_run, "running")) & set(begin)
        if o.sort in ("spring", "flap") and t.reach(mains, pumps_run) & set(begin) and dry:
            found.append(must("order/mains-inlet", o.id))
        if lost:
            rules = {"domestic/unvented-no-relief", "order/mains-inlet"}
            rules |= {"domestic/expansion-unprovided"} if o.sort in ("spring", "flap") else set()
            found.append(must(rules, o.id, *(b[1] for b in begin), *lost))
            may |= {"domestic/relief-misplaced", *rules}


def _away(t: Trade, o: Obstacle, found: list[Must]) -> None:
    """A discharge pipe and an overflow are never shut."""

    def runs_off(link: Link) -> int:
        gap = link.does is Behaviour.AIR_GAP and link.owner in t.tagged("tundish")
        return BOTH if gap else open_to_all(link)

    seats = [x for x in t.links if x.does is Behaviour.RELIEF]
    gone = t.reach([x.b for x in seats], runs_off)
    if any(x.owner == o.pipe and x.does is Behaviour.PIPE and x.a in gone for x in t.links):
        found.append(must("discharge/no-tundish", o.id, *(x.owner for x in seats)))
    over = {
        ("port", b[1], name)
        for b in t.cisterns
        for name, port in ports_of(t.sheet.parts[b[1]], CATALOGUE).items()
        if port.role == "overflow"
    }
    if any(x.owner == o.pipe and {x.a, x.b} & over for x in t.links):
        found.append(must("vent-and-feed/cistern-unfit", o.id, *(b[1] for b in t.cisterns)))


def _circulation(t: Trade, o: Obstacle, found: list[Must], may: set[str]) -> None:
    """A check that faces its pump stops it; one that faces with it is what a fitter might well put there."""

    def throttled(link: Link) -> int:
        """Every valve shut that a thermostat or a motor moves, but for those that always leave a way."""
        tied = link.owner in t.sheet.parts and CATALOGUE[t.sheet.parts[link.owner].kind].positions
        if link.does in (Behaviour.THERMAL, Behaviour.POWERED) and not tied:
            return SHUT
        return pumps_run(link)

    sort = "running" if o.sort not in ("thermal", "powered") else "fixed"
    held = o.through(throttled, sort)
    dead = [x.owner for x in pumps(t) if goes_round(t, x, throttled) and not goes_round(t, x, held)]
    if dead or (sort == "fixed" and any(not goes_round(t, x, pumps_run, {o.pipe}) for x in pumps(t))):
        may.add("circuit/dead-headed-pump")
    if o.sort not in ("spring", "flap"):
        if dead and o.sort in ("thermal", "powered"):
            found.append(must("circuit/dead-headed-pump", o.id, *dead))
        return
    after = o.through(pumps_run, "running")
    stopped = [x.owner for x in pumps(t) if goes_round(t, x, pumps_run) and not goes_round(t, x, after)]
    if stopped:
        found.append(must("circuit/pump-backwards", o.id, *stopped))
        may.add("circuit/pump-backwards")
    elif dead:
        found.append(must({"circuit/dead-headed-pump", "circuit/pump-backwards"}, o.id, *dead))
    if any(x.owner in t.tagged("collector") for x in t.links) and t.body("drain_vessel"):
        may |= {"solar/drain-down-cannot-fill", "solar/drain-down-traps-water"}


def pumps(t: Trade) -> list[Link]:
    """Every pump's own way."""
    return [x for x in t.links if x.does is Behaviour.PUMP]


def goes_round(t: Trade, pump: Link, passes: Passes, without: Collection[str] = ()) -> bool:
    """Whether water that leaves a pump comes back to it."""
    return pump.a in t.reach([pump.b], passes, drop={pump.node}, shut=without)
