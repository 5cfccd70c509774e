"""The rule of pressures: what each rated part can see, against what it bears. Standing water only.

The rise of pumps needs the flow network and is not counted yet.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering.expansion import BAR_PER_M
from loopwright.rules.findings import Finding, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.vents import lines_m
from loopwright.waterways.graph import Place
from loopwright.waterways.paths import reach
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import Water, waters

LIFTING = 1.1
"""A relief valve may let a tenth more than parts are rated for: Pressure Equipment Directive, from memory."""
WEAK_BAR = 6.0
"""Tap water fittings are made for 10 bar; under this a vessel may not bear the main: common practice, no source."""


class Load(msgspec.Struct, frozen=True):
    """A rated part: what it sees, what it bears, and whether a person typed that."""

    part: str
    sees_bar: float
    bears_bar: float
    typed: bool

    @property
    def over(self) -> float:
        """How many times its rating it sees."""
        return self.sees_bar / self.bears_bar


@rule("sizing/pressure-above-rating", about="one water", yields_to=("sealed/no-relief",))
def pressure_above_rating(case: Case) -> Iterator[Said]:
    """Parts under more pressure than they bear."""
    for water in waters(case.ways):
        if water.mixed:
            continue
        if water.regime == "vented":
            yield from _vented(case, water)
        elif water.regime == "sealed":
            yield from _sealed(case, water)
        elif water.regime == "mains":
            yield from _mains(case, water)


def _rated(case: Case, water: Water) -> Iterator[tuple[str, float | None, float]]:
    """Parts whose own water this is, with rating and lowest height: not those it only passes in a coil."""
    ways = case.ways
    own = {s.part for s in water.sources}
    for name in sorted(water.parts):
        kind, part = ways.kind(name), ways.sheet.parts[name]
        if kind.prop("rating_bar") is None or "gauge" in kind.tags or "immersion" in kind.tags:
            continue
        if (kind.body and ("body", name) not in water.places) or (kind.source is not None and name not in own):
            continue
        yield name, ways.number(name, "rating_bar"), part.height_m


def _answer(
    case: Case, water: Water, loads: list[Load], slack: float, words: str, todo: str, sources: tuple[str, ...]
) -> Iterator[Said]:
    if not loads:
        return
    over = sorted((x for x in loads if x.over > slack + 1e-9), key=lambda x: -x.over)
    worst = max(loads, key=lambda x: x.over)
    if not over:
        yield Sound(worst.part, f"{worst.sees_bar:.1f} bar of {worst.bears_bar:g} bar")
        return
    fire = any(s.stays_hot for s in water.sources)
    unvented = water.regime == "mains" and any(b in water.places for b in case.ways.bodies("cylinder", "store"))
    danger = (fire or unvented) and any(x.typed for x in over)
    first = over[0]
    more = f", and {len(over) - 1} more part{'s' if len(over) > 2 else ''} with it" if len(over) > 1 else ""
    yield Finding(
        severity=Severity.DANGER if danger else Severity.FAULT,
        subject=first.part,
        culprits=tuple(x.part for x in over),
        path=tuple(x.part for x in over),
        measured=first.sees_bar,
        limit=first.bears_bar,
        unit="bar",
        sources=sources,
        todo=todo,
        message=f"{case.name(first.part)} bears {first.bears_bar:g} bar and sees {first.sees_bar:.1f} "
        f"bar {words}{more}.",
    )


def _vented(case: Case, water: Water) -> Iterator[Said]:
    ways = case.ways
    lines = lines_m(case, water)
    if not lines:
        return
    top, loads = max(lines), []
    low = case.limit("sf.vented.pmax")
    for name, bears, z in _rated(case, water):
        sees = max(0.0, top - z) * BAR_PER_M
        stove = ways.has_tag(name, "stove")
        if bears is None and stove:
            loads.append(Load(name, sees, low, True))  # what any stove made for vented water bears
        elif bears is None:
            yield case.lacks(name, name, "rating_bar", "rating")
        else:
            loads.append(Load(name, sees, bears, ways.typed(name, "rating_bar")))
    yield from _answer(
        case,
        water,
        loads,
        1.0,
        "under its cistern",
        "Lower the cistern, or fit a part rated for more.",
        ("sf.vented.pmax",),
    )


def _sealed(case: Case, water: Water) -> Iterator[Said]:
    ways = case.ways
    seats = [(s, ways.at[e.a][1]) for e in water.reliefs if (s := ways.number(e.part, "setting_bar")) is not None]
    if not seats:
        return
    setting, at = min(seats)
    loads = []
    for name, bears, z in _rated(case, water):
        if bears is None:
            yield case.lacks(name, name, "rating_bar", "rating")
        else:
            loads.append(Load(name, setting + (at - z) * BAR_PER_M, bears, ways.typed(name, "rating_bar")))
    solar = water.fluid == "solar"
    yield from _answer(
        case,
        water,
        loads,
        LIFTING,
        f"when its relief valve opens at {setting:g} bar",
        "Fit a relief valve of a lower setting, or a part rated for more.",
        ("sol.sv.set",)
        if solar
        else ("sf.en303_5.pmax",)
        if water.sources and water.sources[0].stops == "fire"
        else (),
    )


def _mains(case: Case, water: Water) -> Iterator[Said]:
    ways = case.ways
    mains = [p.id for p in ways.tagged("mains") if p.id in water.parts]
    reducing = [
        e for p in ways.tagged("reducing") if p.id in water.parts for e in ways.by_part[p.id] if e.key in water.elements
    ]
    begin: set[Place] = {("port", m, name) for m in mains for name in ways.ports[m]}
    street = reach(ways, passing(ways, Ask.OPEN), begin, drop={e.key for e in reducing})
    street_parts = {p[1] for p in street}
    stated = [ways.number(m, "pressure_bar") for m in mains]
    settings = [s for e in reducing if (s := ways.number(e.part, "setting_bar")) is not None]
    loads: list[Load] = []
    for name, bears, _ in _rated(case, water):
        if bears is None:
            continue
        if name in street_parts:
            if None in stated:
                if bears < WEAK_BAR:
                    part = mains[stated.index(None)]
                    yield case.lacks(name, part, "pressure_bar", "pressure")
                continue
            sees = max(s or 0.0 for s in stated)
        elif settings:
            sees = max(settings)
        else:
            continue
        loads.append(Load(name, sees, bears, ways.typed(name, "rating_bar")))
    yield from _answer(
        case,
        water,
        loads,
        1.0,
        "from the main",
        "Fit a pressure-reducing valve of a lower setting, or a part rated for more.",
        ("g3.prv",),
    )
