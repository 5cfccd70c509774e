"""The figures of a sheet that need no flow: stores, waters, expansion, discharge pipes, heat balance."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.engineering import discharge, emitters, expansion, store
from loopwright.engineering.figures.contents import content, developed_m
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.errors import FigureError
from loopwright.waterways.graph import Element, Place, Waterways
from loopwright.waterways.waters import Water, waters

TAP_C, COLD_C = 40.0, 10.0
HOT_FIRE_C = 95.0
OUTLET = {"15": "1/2", "22": "3/4", "28": "1"}
"""Nominal thread of a relief valve's outlet by its tube size."""


def sheet_figures(ways: Waterways) -> tuple[Figure | Gap, ...]:
    """Every figure that needs no flow, in the order people read them."""
    out: list[Figure | Gap] = []
    for maker in (_stores, _waters, _discharges, _balance):
        out += maker(ways)
    return tuple(out)


def _input(ways: Waterways, part: str, prop: str, name: str, unit: str) -> Input | None:
    number = ways.number(part, prop)
    return None if number is None else Input(name, number, unit, not ways.typed(part, prop))


def _stores(ways: Waterways) -> Iterator[Figure | Gap]:
    for body in ways.bodies("store", "cylinder"):
        part = body[1]
        group = ways.name(part)
        volume = _input(ways, part, "volume_l", "volume", "l")
        design = _input(ways, part, "design_temp_c", "design temperature", "°C")
        if volume is None or design is None:
            yield Gap(group=group, name="Heat held", about=(part,), missing="volume or design temperature")
            continue
        litres, hot = volume.value, design.value
        try:
            yield Figure(
                group=group,
                name=f"Heat, {TAP_C:g} to {hot:g} °C",
                about=(part,),
                value=store.heat_between_J(litres / 1000, TAP_C, hot) / 3.6e6,
                unit="kWh",
                equation="V ∫ ρ(T) cp(T) dT from 40 °C to the design temperature",
                inputs=(volume, design),
                source="water after Kell 1975 and IAPWS-IF97",
            )
            usable = store.usable_litres([hot], litres / 1000, TAP_C, COLD_C)
            for name, value in (("if it never mixes", usable.plug_L), ("if it mixes at once", usable.mixed_L)):
                yield Figure(
                    group=group,
                    name=f"Hot water at {TAP_C:g} °C, {name}",
                    about=(part,),
                    value=value,
                    unit="l",
                    equation="energy balance of mixing with cold water at 10 °C",
                    inputs=(volume, design),
                    source="two bounds: plug flow and a mixed store",
                )
            yield Figure(
                group=group,
                name="Standing loss, most allowed",
                about=(part,),
                value=store.standing_loss_limit_kWh_day(litres),
                unit="kWh/day",
                equation="1.15 (0.2 + 0.051 V^(2/3))",
                inputs=(volume,),
                source="British compliance guide after BS 1566 (recalled)",
                note="at 45 K above the room",
            )
        except FigureError as bad:
            yield Gap(group=group, name="Heat held", about=(part,), missing=bad.what)
        for source in ways.sources:
            power = _input(ways, source.part, "power_kw", f"{ways.name(source.part)}: power to water", "kW")
            if power and power.value > 0 and source.stops != "sun" and _heats(ways, source.part, part):
                yield Figure(
                    group=group,
                    name=f"Litres a kilowatt of {ways.name(source.part)}",
                    about=(part, source.part),
                    value=store.litres_per_kilowatt(litres / 1000, power.value * 1000),
                    unit="l/kW",
                    equation="V / Q",
                    inputs=(volume, power),
                    source="ratio",
                )
                yield Figure(
                    group=group,
                    name=f"Heating {TAP_C:g} to {hot:g} °C by {ways.name(source.part)}",
                    about=(part, source.part),
                    unit="h",
                    value=store.heat_between_J(litres / 1000, TAP_C, hot) / (power.value * 1000) / 3600,
                    equation="heat held / Q",
                    inputs=(volume, design, power),
                    source="energy balance, losses left out",
                )


def _heats(ways: Waterways, source: str, vessel: str) -> bool:
    """Whether a loop of the source passes the vessel's body or one of its coils."""
    from loopwright.waterways.loops import loops
    from loopwright.waterways.views import Ask

    return any(loop.sink.part == vessel for loop in loops(ways, ways.source_of[source], Ask.OPEN))


def _hottest_c(ways: Waterways, water: Water) -> float:
    """The hottest a water is to be sized for: fires 95 °C, others their limit, vessels their design temperature."""
    temps = [
        HOT_FIRE_C if s.stops == "fire" else ways.number(s.part, "limit_c") or 90.0
        for s in water.sources
        if s.stops != "sun"
    ]
    temps += [
        ways.number(p[1], "design_temp_c") or 80.0
        for p in water.places
        if p[0] == "body" and ways.kind(p[1]).body in ("store", "cylinder")
    ]
    return min(110.0, max(temps, default=80.0))


def water_name(ways: Waterways, water: Water) -> str:
    """A water by what heats it, else by what it fills."""
    if water.sources:
        return "Water of " + " and ".join(ways.name(s.part) for s in water.sources[:2])
    bodies = sorted(p[1] for p in water.places if p[0] == "body")
    return f"Water of {ways.name(bodies[0])}" if bodies else f"Water {water.number + 1}"


def _waters(ways: Waterways) -> Iterator[Figure | Gap]:
    for water in waters(ways):
        if water.fluid == "domestic" or water.regime == "drain-down" or not (water.sources or water.feeds):
            continue
        group, about = water_name(ways, water), tuple(sorted(p for p in water.parts if p in ways.sheet.parts))
        held = content(ways, water)
        if held.missing:
            yield Gap(
                group=group,
                name="Water content",
                about=held.missing,
                missing=f"content or size of {', '.join(map(ways.name, held.missing))}",
            )
            continue
        inputs = (
            Input("in pipes", held.pipes_l, "l"),
            Input("in vessels", held.bodies_l, "l"),
            Input("in other parts", held.parts_l, "l", bool(held.assumed)),
        )
        yield Figure(
            group=group,
            name="Water content",
            about=about,
            value=held.total_l,
            unit="l",
            equation="Σ π d² L / 4 + Σ contents of parts",
            inputs=inputs,
            source="drawn lengths, bores by table",
        )
        hottest = _hottest_c(ways, water)
        hot = Input("hottest", hottest, "°C")
        try:
            if water.fluid != "solar":
                yield Figure(
                    group=group,
                    name=f"Expansion, 10 to {hottest:g} °C",
                    about=about,
                    value=expansion.expansion_L(held.total_l, hottest),
                    unit="l",
                    equation="C (ρ(10 °C) / ρ(T) - 1)",
                    inputs=(Input("content", held.total_l, "l"), hot),
                    source="water after Kell 1975",
                )
            if water.regime == "sealed":
                yield from _vessel(ways, water, group, about, held.total_l, hottest)
        except FigureError as bad:
            yield Gap(group=group, name="Expansion", about=about, missing=bad.what)


def _vessel(
    ways: Waterways,
    water: Water,
    group: str,
    about: tuple[str, ...],
    litres: float,
    hottest: float,
) -> Iterator[Figure | Gap]:
    settings = [s for s in (ways.number(r.part, "setting_bar") for r in water.reliefs) if s is not None]
    if not settings or not water.vessels:
        yield Gap(group=group, name="Vessel", about=about, missing="a relief valve or a vessel")
        return
    top = max(ways.at[p][1] for p in water.places)
    vessel_z = min(ways.at["port", v, "a"][1] for v in water.vessels)
    head, relief = max(0.0, top - vessel_z), min(settings)
    inputs: tuple[Input, ...] = (
        Input("content", litres, "l"),
        Input("hottest", hottest, "°C"),
        Input("static head", head, "m"),
        Input("relief setting", relief, "bar"),
    )
    if water.fluid == "solar":
        steam = sum(ways.number(s.part, "content_l") or 0.0 for s in water.sources)
        need = expansion.solar_vessel(litres, steam, min(hottest, 110.0), head, relief)
        inputs += (Input("collector content turned to steam", steam, "l"),)
        equation, source = "(Ve + Vsteam + Vr)(pe + 1)/(pe - p0)", "VDI 6002, EN 12977-1 (recalled)"
    else:
        need = expansion.sealed_vessel(litres, hottest, head, relief)
        equation, source = "(Ve + Vr)(pe + 1)/(pe - p0)", "EN 12828 annex D (recalled)"
    fitted = sum(ways.number(v, "volume_l") or 0.0 for v in water.vessels)
    yield Figure(
        group=group,
        name="Vessel, least",
        about=water.vessels,
        value=need.least_L,
        unit="l",
        equation=equation,
        inputs=inputs,
        source=source,
        note=f"{fitted:g} l is drawn",
    )
    yield Figure(
        group=group,
        name="Vessel precharge",
        about=water.vessels,
        value=need.precharge_bar,
        unit="bar",
        equation="static head + 0.3 bar, at least 0.7 bar",
        inputs=inputs[2:3],
        source="EN 12828",
    )
    yield Figure(
        group=group,
        name="Highest pressure used",
        about=water.vessels,
        value=need.final_bar,
        unit="bar",
        equation="setting - 0.5 bar, or 0.9 of it above 5 bar",
        inputs=inputs[3:4],
        source="EN 12828",
    )


def _discharges(ways: Waterways) -> Iterator[Figure | Gap]:
    for part in ways.tagged("tp_relief"):
        relief = next((e for e in ways.elements.values() if e.part == part.id and e.does is Behaviour.RELIEF), None)
        if relief is None:
            continue
        outlet = str(ways.value(part.id, "outlet_size") or "")
        after = _beyond_tundish(ways, relief.b)
        if not after:
            yield Gap(
                group=ways.name(part.id), name="Discharge pipe", about=(part.id,), missing="a tundish and pipe after it"
            )
            continue
        metres = sum(developed_m(ways, e.key) for e in after)
        bends = sum(len(ways.pipe(e.key).points) + ways.pipe(e.key).extra_bends for e in after)
        inputs = (Input("length", metres, "m"), Input("bends", bends, ""))
        about = (part.id, *(e.pipe for e in after))
        try:
            row = discharge.pipe_for(OUTLET.get(outlet, outlet), metres, bends)
        except FigureError as bad:
            yield Gap(group=ways.name(part.id), name="Discharge pipe", about=about, missing=bad.what)
            continue
        yield Figure(
            group=ways.name(part.id),
            name="Discharge pipe after the tundish",
            about=about,
            value=float(row.d2),
            unit="mm",
            equation="length + bends × allowance ≤ the row's most",
            inputs=inputs,
            source="statutory guidance on hot water safety, discharge pipe table",
        )


def _beyond_tundish(ways: Waterways, start: Place) -> list[Element]:
    """Pipes after the tundish on the way from a relief valve's outlet to its end."""
    out: list[Element] = []
    here, came, past = start, None, False
    for _ in range(200):
        onward = [e for e in ways.links[here] if e.key != came and e.does is not Behaviour.RELIEF]
        if len(onward) != 1:
            return out
        element = onward[0]
        if element.part and ways.has_tag(element.part, "tundish"):
            past = True
        elif past and element.pipe:
            out.append(element)
        here, came = element.other(here), element.key
    return out


def _balance(ways: Waterways) -> Iterator[Figure | Gap]:
    supply = [
        (s.part, _input(ways, s.part, "power_kw", ways.name(s.part), "kW")) for s in ways.sources if s.stops != "sun"
    ]
    known = [(p, i) for p, i in supply if i is not None]
    if known:
        yield Figure(
            group="Heat balance",
            name="Power of all sources",
            about=tuple(p for p, _ in known),
            value=sum(i.value for _, i in known),
            unit="kW",
            equation="Σ Q",
            inputs=tuple(i for _, i in known),
            source="makers' figures; the sun is left out",
        )
    parts = [s.part for s in ways.sinks if s.sort == "emitter"]
    outputs = [(p, _input(ways, p, "output_w", ways.name(p), "W")) for p in parts]
    stated = [(p, i) for p, i in outputs if i is not None]
    if stated:
        yield Figure(
            group="Heat balance",
            name="Output of all emitters at 50 K",
            about=tuple(p for p, _ in stated),
            value=sum(i.value for _, i in stated) / 1000,
            unit="kW",
            equation="Σ Qn",
            inputs=tuple(i for _, i in stated),
            source="EN 442 ratings",
        )
        yield Figure(
            group="Heat balance",
            name="Output of all emitters at 55/45 °C",
            about=tuple(p for p, _ in stated),
            unit="kW",
            value=sum(
                emitters.output_W(i.value, 55.0, 45.0, 20.0, ways.number(p, "exponent") or 1.3) for p, i in stated
            )
            / 1000,
            equation="Σ Qn (ΔT / 50)^n, ΔT = 50 - 20 K",
            inputs=tuple(i for _, i in stated),
            source="EN 442",
        )
