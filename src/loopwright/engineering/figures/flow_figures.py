"""The figures of a sheet's flow under a condition: fires, pumps, emitters, pipes.

Owns their order, and the figures of pipes and emitters. Where a water does not settle, it says how it does not and
gives no figure that would need it to. Knows nothing of how a network is built or solved.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.engineering import pipes, radiator_valves
from loopwright.engineering.circulation import Circulation, circulations
from loopwright.engineering.drawn_branch import lagging_mm, warms
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.fires import fire_figures
from loopwright.engineering.figures.making import about_of, lacking, small, water_name
from loopwright.engineering.figures.outcome import SOLVER, how_not, outcome_figure
from loopwright.engineering.figures.pumps import pump_figures
from loopwright.engineering.steady import STILL_KG_S
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import Condition

ROOM_C = 20.0


def flow_figures(ways: Waterways, condition: Condition, lossy: bool = False) -> Iterator[Figure | Gap]:
    """Figures of every water in which something can go round under a condition."""
    found = circulations(ways, condition, lossy=lossy)
    yield from fire_figures(ways, condition, lossy)
    for of, got in found:
        group = f"Flow in {small(water_name(ways, of))}, {small(condition.words)}"
        if isinstance(got, FigureError):
            about, prop = about_of(ways, got)
            yield Gap(
                group=group,
                name="Flow",
                about=about,
                missing=lacking(got),
                topic="pipes",
                page="flow-network",
                prop=prop,
            )
            continue
        if got.steady:
            yield from pump_figures(ways, got)
        yield outcome_figure(ways, group, got)
        if got.steady:
            yield from _books(ways, group, got)
            yield from _sources(ways, group, got)
            yield from _valves(ways, group, got)
            yield from _emitters(ways, group, got)
            yield from _throttled(ways, group, got)
            yield from _pipes(ways, group, got)
        else:
            yield Gap(
                group=group,
                name="Pumps and pipes",
                about=(),
                missing=how_not(got),
                topic="pipes",
                page="flow-network",
            )


def _books(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """Where the heat of a water goes."""
    book = got.answer.ending.balance
    held = sum(got.through(part).heat_W for part, heat in got.drawn.heats.items() if _holds(got, part, heat.held_C))
    stores = tuple(s.name for s in got.drawn.net.stores if s.name in ways.sheet.parts)
    emitters = tuple(s.part for s in ways.sinks if s.sort == "emitter" and s.part in got.drawn.at_cell)
    sources = tuple(p for p in got.drawn.heats if p in got.drawn.at_cell)
    given = book.source_W + held
    rows = (
        ("Heat given by sources", given, sources, "Σ Q"),
        ("Heat given to rooms by emitters", book.emitted_W, emitters, "Σ Qn (ΔT / ΔTn)^n"),
        ("Heat lost by pipes", book.lost_W, tuple(got.drawn.pipes), "Σ UA (T - room)"),
        ("Heat going into stores", given - book.emitted_W - book.lost_W - book.boiled_W, stores, "what is left"),
    )
    for name, watts, about, equation in rows:
        if about and (abs(watts) > 0.5 or name != "Heat lost by pipes"):
            yield Figure(
                group=group,
                name=name,
                about=about,
                value=watts / 1000,
                unit="kW",
                equation=equation,
                inputs=(Input("sources", given, "W"),) if about is stores else (),
                source=SOLVER,
                note="below nil: the store gives heat" if about is stores and watts < -0.5 else "",
                topic="heat balance",
                page="heat-balance",
            )


def _sources(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """What passes each source and what it gives; a fire's loop has figures of its own beside these."""
    for part, heat in got.drawn.heats.items():
        if part not in got.drawn.at_cell:
            continue
        through, name = got.through(part), ways.name(part)
        given = Input("held at", heat.held_C, "°C") if heat.held_C is not None else Input("heat", heat.watts, "W")
        rows = (
            ("Heat given", through.heat_W / 1000, "kW", "m (h_flow - h_return)"),
            ("Flow", 3600 * through.flow_kg_s, "kg/h", "continuity and momentum"),
            ("Flow temperature", through.outlet_C, "°C", "h(flow) = h(return) + Q / m"),
            ("Return temperature", through.inlet_C, "°C", "mixing at every joint"),
        )
        for quantity, value, unit, equation in rows:
            yield Figure(
                group=group,
                name=f"{name}: {quantity.lower()}",
                about=(part,),
                value=value,
                unit=unit,
                equation=equation,
                inputs=(given,),
                source=SOLVER,
                topic="heat balance",
                quantity=quantity,
                page="flow-network",
            )


def _holds(got: Circulation, part: str, held_C: float | None) -> bool:
    return held_C is not None and part in got.drawn.at_cell


def _emitters(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """What each emitter gives with the water it gets."""
    for sink in ways.sinks:
        if sink.sort != "emitter" or sink.part not in got.drawn.at_cell:
            continue
        through, name = got.through(sink.part), ways.name(sink.part)
        rated = ways.number(sink.part, "output_w") or 0.0
        yield Figure(
            group=group,
            name=f"{name}: heat given",
            about=(sink.part,),
            value=-through.heat_W,
            unit="W",
            equation="Qn (ΔT / 50 K)^n on the mean of flow and return",
            inputs=(
                Input("rated output", rated, "W", not ways.typed(sink.part, "output_w")),
                Input("flow", 3600 * through.flow_kg_s, "kg/h"),
                Input("arrives at", through.inlet_C, "°C"),
                Input("leaves at", through.outlet_C, "°C"),
            ),
            source="EN 442; " + SOLVER,
            topic="heat balance",
            quantity="Heat given",
            page="emitters",
        )


def _throttled(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """What each radiator behind a thermostatic valve gives once that has come to rest, in design weather."""
    for part, rest in radiator_valves.at_rest(ways, got).items() if got.drawn.condition.power else ():
        yield Figure(
            group=group,
            name=f"{ways.name(part)}: heat given with its valve at rest",
            about=(part, rest.valve),
            value=rest.output_W,
            unit="W",
            equation="the opening at which the room is as warm as it asks for: open 2 K below its setting, shut at it",
            inputs=(
                Input(
                    "setting",
                    ways.number(rest.valve, "setting_c") or 20.0,
                    "°C",
                    not ways.typed(rest.valve, "setting_c"),
                ),
                Input("opening", 100.0 * rest.opening, "%"),
                Input("room", rest.room_C, "°C"),
                Input("flow", 3600 * rest.flow_kg_s, "kg/h"),
                Input("outdoors", radiator_valves.DESIGN_OUTDOOR_C, "°C", True),
            ),
            source="EN 215 for the band; the room loses what its radiators give at the water they need; " + SOLVER,
            topic="heat balance",
            quantity="Heat given with its valve at rest",
            page="emitters",
        )


def _valves(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """Where each mixing valve comes to rest."""
    for valve in got.drawn.valves:
        warm, cool = (abs(got.answer.flow_kg_s(name)) for name in (valve.warm, valve.cool))
        if warm + cool < STILL_KG_S:
            continue
        yield Figure(
            group=group,
            name=f"{ways.name(valve.part)}: share of the warmer water",
            about=(valve.part,),
            value=100 * warm / (warm + cool),
            unit="%",
            equation="the opening at which the mixed water is as warm as it asks for",
            inputs=(
                Input("setting", valve.set_C, "°C"),
                Input("band", valve.band_K, "K", valve.band_K > 0.0),
                Input("mixed water", got.answer.node_C(valve.joint), "°C"),
            ),
            source=SOLVER,
            topic="heat balance",
            quantity="Share of the warmer water",
            page="flow-network",
        )


def _pipes(ways: Waterways, group: str, got: Circulation) -> Iterator[Figure]:
    """Flow, speed and friction of each pipe, and the heat it would lose to the room as it is lagged."""
    for pipe, laid in got.drawn.pipes.items():
        flow = abs(got.flow_kg_s(pipe))
        warm = got.pipe_C(pipe)
        inputs = (Input("bore", 1000 * laid.bore_m, "mm"), Input("temperature", warm, "°C"))

        def figure(
            quantity: str,
            value: float,
            unit: str,
            equation: str,
            using: tuple[Input, ...],
            source: str,
            page: str,
            note: str = "",
            pipe: str = pipe,
        ) -> Figure:
            return Figure(
                group=group,
                name=f"{pipe}: {quantity.lower()}",
                about=(pipe,),
                value=value,
                unit=unit,
                equation=equation,
                inputs=using,
                source=source,
                note=note,
                topic="pipes",
                quantity=quantity,
                page=page,
            )

        rough = (*inputs, Input("roughness", 1000 * laid.roughness_m, "mm"))
        gradient = pipes.pressure_gradient_Pa_m(flow, laid.bore_m, warm, laid.roughness_m, got.drawn.net.fluid)
        yield figure("Flow", 3600 * flow, "kg/h", "continuity and momentum", inputs, SOLVER, "flow-network")
        yield figure(
            "Speed",
            pipes.velocity_m_s(flow, laid.bore_m, warm, got.drawn.net.fluid),
            "m/s",
            "m / (ρ π d² / 4)",
            inputs,
            "continuity",
            "pipe-friction",
        )
        yield figure(
            "Friction",
            gradient,
            "Pa/m",
            "f ρ v² / (2 d)",
            rough,
            "Darcy-Weisbach, Colebrook-White 1939",
            "pipe-friction",
        )
        drawn = ways.sheet.pipes[pipe]
        lagged = lagging_mm(drawn, warms(ways, got.drawn.runs[laid.branch]))
        yield figure(
            "Heat lost",
            laid.length_m * pipes.heat_loss_W_m(pipes.tube(drawn.size, drawn.material), warm, ROOM_C, lagged),
            "W",
            "L (T - room) / (wall + lagging + surface)",
            (
                *inputs,
                Input("length", laid.length_m, "m"),
                Input("lagging", lagged, "mm", drawn.insulation_mm is None),
                Input("room", ROOM_C, "°C", True),
            ),
            "EN ISO 12241",
            "pipe-heat-loss",
            "not taken from the water here" if not got.drawn.lossy else "",
        )
