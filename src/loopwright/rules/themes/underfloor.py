"""Rules of underfloor heating: water cool enough for a floor, and a limit that stops it when the mixing fails."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.links import HOLDS, NOT_DRAWN, drawn, driving, setting_c
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.warmth import heats
from loopwright.waterways.graph import Key, Place
from loopwright.waterways.keeping import kept
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Ask, passing

STILL_PLASTIC_C = 100.0
"""Beyond this a store gives a floor's plastic more than a breakdown may: pipe.class4."""


class Fed(msgspec.Struct, frozen=True, kw_only=True):
    """How a manifold is fed: what mixes, what heats it too far, and what stands in its pipes."""

    part: str
    built_in: bool | None
    mixers: tuple[str, ...]
    hot: tuple[str, ...]
    """Sources that could send it water hotter than its floor bears."""
    fierce: bool
    """Fire, sun, or a store that passes 100 degC."""
    along: frozenset[str]
    """Pumps and valves in its flow and return pipes."""
    vessels: tuple[str, ...]


@kept
def manifolds(case: Case) -> tuple[Fed, ...]:
    """Every underfloor manifold."""
    return tuple(_fed(case, part.id) for part in case.ways.tagged("underfloor"))


@kept
def _mixing(case: Case, limit: float) -> frozenset[Key]:
    """Hot and cold ways of what mixes cooler water in: valves set hotter than a floor bears do not."""
    ways = case.ways
    out = set()
    for element in ways.elements.values():
        if element.does is Behaviour.THERMAL and (
            ways.has_tag(element.part, "mixing_valve") or ways.has_tag(element.part, "return_valve")
        ):
            setting = ways.number(element.part, "setting_c")
            if setting is None or setting <= limit:
                out.add(element.key)
        elif ways.has_tag(element.part, "injector"):
            out.add(element.key)
    return frozenset(out)


def _fed(case: Case, part: str) -> Fed:
    ways = case.ways
    limit = case.limit("ctl.ufh.limit")
    heat = next(e for e in ways.by_part[part] if e.does is Behaviour.EMITTER)
    others = ways.keys_doing(Behaviour.EMITTER, Behaviour.COIL, Behaviour.SOURCE)
    walls = set(ways.bodies("store", "cylinder", "cistern"))
    mixing = _mixing(case, limit)
    every = passing(ways, Ask.OPEN)
    near = reach(ways, every, [heat.a], drop=others | mixing, walls=walls)
    further = reach(ways, every, [heat.a, heat.b], drop=others, walls=walls)
    mixers = tuple(sorted({ways.elements[k].part for k in mixing if {ways.elements[k].a, ways.elements[k].b} & near}))
    hot, fierce = _heat(case, near if not mixers else further, limit)
    doing = (Behaviour.PUMP, Behaviour.POWERED, Behaviour.HAND, Behaviour.THERMAL)
    along = {e.part for p in further for e in ways.links[p] if e.does in doing} | {part}
    built_in = ways.value(part, "mixing_built_in")
    unmixed = bool(_heat(case, near, limit)[0])
    return Fed(
        part=part,
        built_in=None if built_in is None else bool(built_in),
        mixers=() if unmixed else mixers,
        hot=hot,
        fierce=fierce,
        along=frozenset(along),
        vessels=tuple(sorted(b[1] for b in ways.bodies("store", "cylinder") if b in near)),
    )


def _heat(case: Case, places: set[Place], limit: float) -> tuple[tuple[str, ...], bool]:
    """Sources behind these places that pass the limit, and whether any of them cannot be stopped or boils a store."""
    ways = case.ways
    sources = {s.part for s in ways.sources if {s.hot, s.cold} & places}
    for body in ways.bodies("store", "cylinder"):
        if body in places:
            sources |= heats(case).get(body[1], set())
    hot, fierce = [], False
    for part in sorted(sources):
        stops = ways.source_of[part].stops if part in ways.source_of else "switched"
        sends = ways.number(part, "t_flow_c")
        if stops not in ("fire", "sun") and not ways.has_tag(part, "heat_pump"):
            sends = ways.number(part, "limit_c") or sends
        if stops in ("fire", "sun") or (sends is not None and sends > limit):
            hot.append(part)
            typed = ways.typed(part, "limit_c") and (sends or 0.0) > STILL_PLASTIC_C
            fierce = fierce or stops in ("fire", "sun") or typed
    return tuple(hot), fierce


def _limits(case: Case, fed: Fed) -> list[float | None]:
    """Settings of links that stop the manifold's pump or shut its valve when the flow is too hot."""
    out = []
    for link in driving(case, fed.along, *HOLDS):
        part = link.sensor.partition("/")[0]
        room = part in case.sheet.parts and case.sheet.parts[part].kind == "room_thermostat"
        if part not in fed.vessels and not room:
            out.append(setting_c(case, link))
    return out


@rule("underfloor/no-mixing", about="one underfloor manifold")
def no_mixing(case: Case) -> Iterator[Said]:
    """Water as hot as the store's straight into a floor."""
    limit = case.limit("ctl.ufh.limit")
    for fed in manifolds(case):
        name = case.name(fed.part)
        if not fed.hot:
            yield Sound(fed.part, f"Nothing that feeds it passes {limit:g} °C")
        elif fed.built_in or fed.mixers:
            yield Sound(fed.part, "Cooler water is mixed in")
        elif fed.built_in is None:
            yield Missing(fed.part, f"{name}: whether mixing is built in is not answered", fed.part, "mixing_built_in")
        else:
            limited = case.ways.value(fed.part, "high_limit_built_in") is not False or _limits(case, fed)
            worst = Severity.DANGER if fed.fierce and not limited else Severity.FAULT
            yield Finding(
                severity=worst,
                subject=fed.part,
                culprits=(fed.part,),
                path=(fed.part, *fed.hot, *fed.vessels),
                message=f"{name} gets water unmixed from {case.name(fed.hot[0])}, hotter than the "
                f"{limit:g} °C a floor bears.",
                todo="Put a mixing valve at the manifold.",
                limit=limit,
                unit="°C",
                sources=("ctl.ufh.limit", "pipe.class4", "ctl.ufh.stove"),
            )


@rule("underfloor/no-high-limit", about="one underfloor manifold", yields_to=("underfloor/no-mixing",))
def no_high_limit(case: Case) -> Iterator[Said]:
    """Mixing that nothing guards."""
    limit = case.limit("ctl.ufh.limit")
    for fed in manifolds(case):
        if not fed.hot or not (fed.built_in or fed.mixers):
            continue
        name, built_in = case.name(fed.part), case.ways.value(fed.part, "high_limit_built_in")
        settings = _limits(case, fed)
        known = [t for t in settings if t is not None]
        if built_in:
            yield Sound(fed.part, "A high limit is built in")
        elif known and min(known) <= limit:
            yield Sound(fed.part, f"It stops at {min(known):g} °C")
        elif settings and not known:
            yield Missing(fed.part, f"The temperature at which {name} stops is missing")
        elif built_in is None:
            yield Missing(
                fed.part, f"{name}: whether a high limit is built in is not answered", fed.part, "high_limit_built_in"
            )
        elif not drawn(case):
            yield Missing(fed.part, NOT_DRAWN)
        else:
            at = f"; it stops only at {min(known):g} °C" if known else ""
            yield Finding(
                severity=Severity.FAULT,
                subject=fed.part,
                culprits=(fed.part, *fed.mixers),
                path=(fed.part, *fed.mixers),
                message=f"Nothing stops the water of {name} at {limit:g} °C should the mixing fail{at}.",
                todo="Fit a limit thermostat on its flow that stops its pump or shuts its valve.",
                measured=min(known) if known else None,
                limit=limit,
                unit="°C",
                sources=("ctl.ufh.limit",),
            )
