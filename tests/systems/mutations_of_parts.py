"""Mutations of closed waters, taps, discharge pipes, pumps, checks and controls.

Owns those kinds, each with its reasons beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from mutation_tools import all_ids, capped, exchanged, one, said, set_to, taken_away, without_links
from mutations import Mutant, kind, turned_round
from reasons import Must, goes_round, must, pumps
from trade import CATALOGUE, FORWARD, SHUT, Link, Trade, open_to_all, pumps_run

from loopwright.catalogue import Behaviour
from loopwright.draw import Drawing
from loopwright.sheet import edits
from loopwright.sheet.values import End, Sheet

# -- closed waters ----------------------------------------------------------------------------------------------------


@kind("relief-taken-away")
def relief_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A relief valve taken away and its branch capped, where no other guards the same water."""
    for valve in t.tagged("relief"):
        seat = next(x for x in t.links if x.owner == valve and x.does is Behaviour.RELIEF)
        water = t.reach([seat.a], open_to_all)
        others = [x for x in t.links if x.does is Behaviour.RELIEF and x.owner != valve and x.a in water]
        built = any(t.prop(s, "relief_built_in") for s in t.sources() if set(t.plenums(s)) & water)
        rules = {
            "sealed/no-relief",
            "sealed/relief-can-close",
            "solid-fuel/sealed-water",
            "domestic/unvented-no-relief",
            "domestic/expansion-unprovided",
        }
        mains = {("port", m, "a") for m in t.tagged("mains")}
        hot = "tp_relief" in CATALOGUE[sheet.parts[valve].kind].tags
        needed = hot if water & mains else not others and not built
        found = (must(rules, *all_ids(t)),) if needed else ()
        yield one(
            "relief-taken-away",
            name,
            valve,
            lambda valve=valve: taken_away(sheet, valve, *_beyond(t, valve)),  # type: ignore[misc]
            said(*found, may={*rules, "circuit/open-end", "order/mains-inlet"}),
        )


def _beyond(t: Trade, valve: str) -> list[str]:
    """The discharge pipe of a valve that goes, as far as it serves nothing else."""
    seat = next(x for x in t.links if x.owner == valve and x.does is Behaviour.RELIEF)

    def runs_off(link: Link) -> int:
        return FORWARD if link.owner in t.tagged("tundish") else open_to_all(link)

    gone = t.reach([seat.b], runs_off)
    return [p for p in t.sheet.parts if p != valve and any(n[0] == "port" and n[1] == p for n in gone)]


@kind("vessel-taken-away")
def vessel_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """An expansion vessel taken away and its branch capped, where there is no other."""
    rules = {"sealed/no-vessel", "domestic/expansion-unprovided", "solid-fuel/sealed-water"}
    for seal in [x for x in t.links if x.does is Behaviour.SEAL]:
        water = t.reach([seal.a], open_to_all)
        if any(x.does is Behaviour.SEAL and x.a in water and x is not seal for x in t.links):
            continue
        yield one(
            "vessel-taken-away",
            name,
            seal.owner,
            lambda part=seal.owner: taken_away(sheet, part),  # type: ignore[misc]
            said(must(rules, *all_ids(t)), may=rules),
        )


@kind("vessel-too-small")
def vessel_too_small(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A vessel of 1 l on a closed heating or solar water."""
    for vessel in t.tagged("vessel"):
        if "potable" not in CATALOGUE[sheet.parts[vessel].kind].tags and sheet.parts[vessel].props.get("volume_l"):
            rule = "sealed/vessel-too-small"
            yield set_to("vessel-too-small", name, sheet, vessel, "volume_l", 1.0, rule)


@kind("filled-by-a-pipe")
def filled_by_a_pipe(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A filling device taken out and a plain pipe left in its place: heating water meets drinking water."""
    rules = {"sealed/filling-unprotected", "domestic/primary-at-outlet", "domestic/backflow-unprotected"}
    may = {
        *rules,
        "sealed/no-vessel",
        "sealed/no-relief",
        "solid-fuel/sealed-water",
        "domestic/expansion-unprovided",
        "domestic/unvented-no-relief",
        "domestic/unvented-no-cut-out",
        "domestic/stored-too-cool",
        "domestic/scald-risk",
        "order/mains-inlet",
        "discharge/no-tundish",
    }
    for device in t.tagged("filling", "disconnector"):
        yield one(
            "filled-by-a-pipe",
            name,
            device,
            lambda device=device: edits.delete(sheet, [device], CATALOGUE),  # type: ignore[misc]
            said(must(rules, *all_ids(t)), may=may),
        )


# -- taps and discharge -----------------------------------------------------------------------------------------------


@kind("tundish-taken-away")
def tundish_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A tundish and its pipe taken away: the valve runs out where nobody sees it, or nowhere."""
    rules = {"discharge/no-tundish", "solid-fuel/cooling-supply-can-fail", "circuit/open-end"}
    for tundish in t.tagged("tundish"):
        yield one(
            "tundish-taken-away",
            name,
            tundish,
            lambda tundish=tundish: edits.delete(sheet, [tundish], CATALOGUE),  # type: ignore[misc]
            said(must(rules, *all_ids(t)), may=rules | {"solid-fuel/sealed-water"}),
        )


@kind("mixing-valve-taken-out")
def mixing_valve_taken_out(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A mixing valve taken out, hot joined to mixed and the cold branch capped."""
    for valve in t.tagged("mixing_valve"):
        beyond = t.reach([("port", valve, "mixed")], open_to_all, shut={valve})
        outlets = {n[1] for n in beyond if n[0] == "port" and "outlet" in CATALOGUE[sheet.parts[n[1]].kind].tags}
        floors = {n[1] for n in beyond if n[0] == "port" and "underfloor" in CATALOGUE[sheet.parts[n[1]].kind].tags}
        if (not outlets and not floors) or not t.sources():
            continue
        rules = {"domestic/scald-risk", "domestic/mixing-bypassed"} if outlets else {"underfloor/no-mixing"}

        def edit(valve: str = valve) -> Sheet:
            ends = [sheet.taken[End(valve, port)] for port in ("hot", "mixed")]
            one_pipe, two_pipe = (sheet.pipes[p] for p in ends)
            far = [next(e for e in (p.a, p.b) if e.part != valve) for p in (one_pipe, two_pipe)]
            gone = edits.delete(sheet, [valve], CATALOGUE)
            gone = edits.delete(gone, set(ends) & set(gone.pipes), CATALOGUE)
            drawing = Drawing(gone, CATALOGUE)
            drawing.pipe(far[0], far[1], one_pipe.size, via=[], id="straight")
            return capped(drawing.done(), sheet)

        yield one(
            "mixing-valve-taken-out",
            name,
            valve,
            edit,
            said(
                must(rules, *outlets, *floors),
                may={*rules, "circuit/crossed", "circuit/pumps-in-series", "circuit/air-trap"},
            ),
        )


CROSSED = {
    "domestic/scald-risk",
    "domestic/mixing-bypassed",
    "circuit/pump-backwards",
    "underfloor/no-mixing",
    "circuit/air-trap",
}


@kind("mixing-valve-crossed")
def mixing_valve_crossed(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The hot and cold inlets of a mixing or return valve exchanged."""
    for valve in t.tagged("mixing_valve", "return_valve"):
        yield one(
            "mixing-valve-crossed",
            name,
            valve,
            lambda valve=valve: exchanged(sheet, valve, "hot", "cold"),  # type: ignore[misc]
            said(
                must("order/mixing-valve-inlets", valve),
                may=CROSSED,
            ),
        )


@kind("mixing-valve-hot")
def mixing_valve_hot(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A mixing valve before taps set to 60 °C."""
    for valve in t.tagged("mixing_valve"):
        beyond = t.reach([("port", valve, "mixed")], open_to_all, shut={valve})
        taps = {n[1] for n in beyond if n[0] == "port" and "outlet" in CATALOGUE[sheet.parts[n[1]].kind].tags}
        if taps:
            yield one(
                "mixing-valve-hot",
                name,
                valve,
                lambda valve=valve: edits.set_property(sheet, valve, "setting_c", 60.0, CATALOGUE),  # type: ignore[misc]
                said(must("domestic/scald-risk", valve, *taps)),
            )


# -- pumps, checks and units ------------------------------------------------------------------------------------------


@kind("pump-reversed")
def pump_reversed(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A pump turned round, every pipe where it was."""
    alone = [x for x in pumps(t) if CATALOGUE[sheet.parts[x.owner].kind].inline]
    for pump in alone:
        if not goes_round(t, pump, pumps_run):
            continue
        yield one(
            "pump-reversed",
            name,
            pump.owner,
            lambda part=pump.owner: turned_round(sheet, part),  # type: ignore[misc]
            said(
                must(
                    {"circuit/pump-backwards", "order/loading-unit-sides", "solar/drain-down-cannot-fill"}, pump.owner
                ),
                may={
                    "gravity-loop/spring-check",
                    "circuit/pumps-in-series",
                    "circuit/dead-headed-pump",
                    "circuit/backflow-through-idle-circuit",
                },
            ),
        )


@kind("check-reversed")
def check_reversed(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """A check or a flap turned round, every pipe where it was."""
    for check in t.tagged("check"):
        link = next(x for x in t.links if x.owner == check)

        def turned(link: Link = link) -> Callable[[Link], int]:
            return lambda asked: 2 if asked is link else pumps_run(asked)

        stopped = [p.owner for p in pumps(t) if goes_round(t, p, pumps_run) and not goes_round(t, p, turned())]
        mains = {("port", m, "a") for m in t.tagged("mains")}
        inlet = bool(t.reach(mains, open_to_all) & {link.a, link.b})
        musts: list[Must] = []
        if stopped:
            musts.append(must({"circuit/pump-backwards", "order/loading-unit-sides"}, check, *stopped))
        elif link.flap and t.sources("fire"):
            musts.append(must({"gravity-loop/spring-check", "solid-fuel/feed-can-close"}, check))
        elif inlet and _feeds_a_heater(t, mains) and not _feeds_a_heater(t, mains, turned()):
            musts.append(must("order/mains-inlet", check))
        may = {"circuit/dead-headed-pump", "gravity-loop/spring-check", "circuit/night-thermosyphon"}
        may |= (
            {"order/mains-inlet", "domestic/backflow-unprotected", "domestic/expansion-unprovided"} if inlet else set()
        )
        yield one(
            "check-reversed",
            name,
            check,
            lambda check=check: turned_round(sheet, check),  # type: ignore[misc]
            said(*musts, may=may | {"vent-and-feed/feed-and-vent-combined", "circuit/backflow-through-idle-circuit"}),
        )


def _feeds_a_heater(t: Trade, mains: set[tuple[str, ...]], passes: Callable[[Link], int] = pumps_run) -> bool:
    heaters = {x.a for x in t.links if x.does is Behaviour.COIL} | {x.b for x in t.links if x.does is Behaviour.COIL}
    heaters |= set(t.body("cylinder"))
    mixing = {x.node for x in t.links if x.does is Behaviour.THERMAL}
    return bool(t.reach(mains, passes, drop=mixing) & heaters)


@kind("loading-unit-crossed")
def loading_unit_crossed(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """The two returns of a loading unit exchanged: it pushes into the store."""
    for unit in t.tagged("loading_unit"):
        yield one(
            "loading-unit-crossed",
            name,
            unit,
            lambda unit=unit: exchanged(sheet, unit, "store_return", "boiler_return"),  # type: ignore[misc]
            said(
                must("order/loading-unit-sides", unit),
                may={"circuit/pump-backwards", "gravity-loop/spring-check", "sealed/vessel-can-close"},
            ),
        )


@kind("bypass-taken-away")
def bypass_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """An automatic bypass taken out and its tees capped: with every valve shut the pump has nowhere to push."""
    for valve in t.tagged("bypass_valve"):

        def throttled(link: Link) -> int:
            tied = link.owner in sheet.parts and CATALOGUE[sheet.parts[link.owner].kind].positions
            return SHUT if link.does in (Behaviour.THERMAL, Behaviour.POWERED) and not tied else pumps_run(link)

        dead = [x.owner for x in pumps(t) if goes_round(t, x, throttled) and not goes_round(t, x, throttled, {valve})]

        def edit(valve: str = valve) -> Sheet:
            ends = [sheet.taken[End(valve, port)] for port in ("a", "b")]
            gone = edits.delete(sheet, [valve], CATALOGUE)
            return capped(edits.delete(gone, set(ends) & set(gone.pipes), CATALOGUE), sheet)

        musts = (must("circuit/dead-headed-pump", *dead),) if dead else ()
        yield one("bypass-taken-away", name, valve, edit, said(*musts))


@kind("link-taken-away")
def link_taken_away(name: str, sheet: Sheet, t: Trade) -> Iterator[Mutant]:
    """Every control link of a pump, a boiler or a valve taken away, while others stay drawn."""
    targets = sorted({k.target for k in sheet.links.values()})
    rules = {
        "control/pump-uncontrolled",
        "control/boiler-no-interlock",
        "control/store-no-high-limit",
        "solid-fuel/pump-without-thermostat",
        "underfloor/no-high-limit",
        "domestic/unvented-no-cut-out",
        "circuit/dead-headed-pump",
        "tapping/sensor-in-wrong-zone",
    }
    for target in targets:
        gone = {k.id for k in sheet.links.values() if k.target == target}
        if len(gone) == len(sheet.links):
            continue
        yield one(
            "link-taken-away",
            name,
            target,
            lambda gone=gone: without_links(sheet, gone),  # type: ignore[misc]
            said(must(rules, *all_ids(t)), may=rules),
        )
