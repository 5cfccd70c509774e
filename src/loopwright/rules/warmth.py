"""Where tap water comes from cold, where it is warmed, and which source heats which vessel how far.

Shared by the rules of order and tap water. Owns derivations only, all cached on the waterways.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.circuits import immersions, legs_between, legs_round, load_circuits, same_water, source_circuits
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Key, Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import cheapest, reach
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, water_of


@kept
def mixing_ways(case: Case) -> frozenset[Key]:
    """The hot and cold ways of every mixing valve for tap or heating water."""
    return frozenset(e.key for e in case.ways.doing(Behaviour.THERMAL) if case.ways.has_tag(e.part, "mixing_valve"))


def cold_supplies(case: Case) -> set[Place]:
    """Ports where cold tap water comes from: mains, and feed outlets of cold-water cisterns."""
    ways = case.ways
    out: set[Place] = {("port", p.id, "a") for p in ways.tagged("mains")}
    for body in ways.bodies("cistern"):
        if ways.kind(body[1]).fluid == "domestic":
            out |= {e.other(body) for e in ways.links[body] if e.does is Behaviour.FREE}
    return out


@kept
def tap_coils(case: Case) -> tuple[tuple[Element, Place, Place], ...]:
    """Coils and plate sides that warm tap water: the element, its cold end and its hot end."""
    ways = case.ways
    out = []
    for sink in ways.sinks:
        if sink.sort not in ("coil", "plate"):
            continue
        element = ways.elements[sink.key]
        water = water_of(ways, element.a)
        if water is None or water.fluid != "domestic" or water.sources:
            continue
        cold = cold_end(case, element.key, (element.a, element.b))
        if cold is not None:
            out.append((element, cold, element.other(cold)))
    return tuple(out)


def cold_end(case: Case, key: Key, ends: Iterable[Place]) -> Place | None:
    """The end that cold supply reaches first, mixing valves and the element itself left out."""
    ways = case.ways
    best: tuple[float, Place] | None = None
    for end in ends:
        found = cheapest(
            ways,
            passing(ways, Ask.OPEN),
            [end],  # from here, so that no more than its own water is searched: every way passes both ways in `open`
            cold_supplies(case),
            lambda _e, _f: 1.0,
            drop=mixing_ways(case) | {key},
        )
        if found is not None and (best is None or found[0] < best[0]):
            best = (found[0], end)
    return best[1] if best else None


@kept
def cold_places(case: Case) -> set[Place]:
    """Places cold tap water reaches before it is warmed: coils, mixing valves and vessels not crossed."""
    ways = case.ways
    warming = ways.keys_doing(Behaviour.COIL, Behaviour.SOURCE) | mixing_ways(case)
    return reach(ways, passing(ways, Ask.OPEN), cold_supplies(case), drop=warming, walls=ways.bodies())


# who heats what


@kept
def heats(case: Case) -> dict[str, set[str]]:
    """Sources and immersions by the vessel (store or cylinder) they heat, heat going on from vessel to vessel."""
    out: dict[str, set[str]] = {b[1]: set() for b in case.ways.bodies("store", "cylinder")}
    for circuit in source_circuits(case):
        out[circuit.store].add(circuit.subject)
    for immersion in immersions(case):
        out[immersion.store].add(immersion.part)
    _through_headers(case, out)
    onward = [(c.store, c.sink.part) for c in load_circuits(case) if c.sink is not None and c.sink.part in out]
    for _ in range(len(onward) + 1):
        for giver, taker in onward:
            out[taker] |= out[giver]
    return out


def _through_headers(case: Case, out: dict[str, set[str]]) -> None:
    """A source on a header heats every vessel whose coil or body shares that header's water."""
    ways = case.ways
    for source in ways.sources:
        chain = ways.skeleton.chain_of[source.key]
        for header in ways.bodies("header"):
            if not same_water(ways, source.hot, header) or not legs_round(
                case, source.hot, source.cold, (header,), {chain}
            ):
                continue
            for sink in ways.sinks:
                if (sink.sort == "body" and same_water(ways, header, sink.ends[0])) or (
                    sink.sort == "coil"
                    and same_water(ways, header, sink.ends[0])
                    and legs_between(case, sink, (header,))
                ):
                    out[sink.part].add(source.part)


class Reach(msgspec.Struct, frozen=True):
    """Whether a vessel can pass a temperature: yes, no, or not known; `sure` if it rests on no filled-in default."""

    yes: bool
    sure: bool
    by: str = ""


def can_exceed(case: Case, vessel: str, limit_c: float) -> Reach:
    """Fire and sun always can; a switched source or immersion by its limit, else by the vessel's design temperature."""
    ways = case.ways
    best = Reach(False, True)
    for part in sorted(heats(case).get(vessel, ())):
        stops = ways.source_of[part].stops if part in ways.source_of else "switched"
        if stops in ("fire", "sun"):
            return Reach(True, True, part)
        owner, prop = (part, "limit_c") if ways.number(part, "limit_c") is not None else (vessel, "design_temp_c")
        top = ways.number(owner, prop)
        if top is not None and top > limit_c and not best.sure * best.yes:
            best = Reach(True, ways.typed(owner, prop), part)
    return best


def immersions_in(case: Case, vessel: str) -> list[str]:
    """Immersion heaters screwed into a vessel."""
    near = {pipe.other(vessel).part for pipe in case.sheet.pipes_of(vessel)}
    return sorted(part for part in near if case.ways.has_tag(part, "immersion"))


def heated_by_coil(case: Case, vessel: str) -> set[str]:
    """Sources whose own water passes a coil in a vessel (not those that heat it directly)."""
    return {source.part for water in _coil_waters(case, vessel) for source in water.sources}


def coil_heats(case: Case, vessel: str) -> bool:
    """Whether a coil brings heat to a vessel: from a source, or from a store of heating water."""
    stores = case.ways.bodies("store")
    return any(
        water.fluid != "domestic" and (water.sources or any(body in water.places for body in stores))
        for water in _coil_waters(case, vessel)
    )


def _coil_waters(case: Case, vessel: str) -> Iterator[Water]:
    """The waters in the coils of a vessel, other than its own."""
    body = water_of(case.ways, ("body", vessel))
    for element in case.ways.by_part.get(vessel, ()):
        if element.does is Behaviour.COIL:
            water = water_of(case.ways, element.a)
            if water is not None and water is not body:
                yield water
