"""The figures of a sheet's flow under a condition: fires, pumps, emitters, pipes.

Owns their order, and the figures of pipes and emitters. Where a water does not settle, it says how it does not and
gives no figure that would need it to. Knows nothing of how a network is built or solved.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering import pipes, radiator_valves
from loopwright.engineering.circulation import Circulation, circulations
from loopwright.engineering.drawn_branch import lagging_mm, warms
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.fires import fire_figures
from loopwright.engineering.figures.making import Subject, about_of, lacking, small, water_name
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
    for water, got in found:
        group = f"Flow in {small(water_name(ways, water))}, {small(condition.words)}"
        of = Subject(group=group, about=(), topic="heat balance", page="flow-network")
        of_pipes = msgspec.structs.replace(of, topic="pipes")
        if isinstance(got, FigureError):
            about, prop = about_of(ways, got)
            yield of_pipes.gap("Flow", lacking(got), prop, about=about)
            continue
        if got.steady:
            yield from pump_figures(ways, got)
        yield outcome_figure(ways, of, got)
        if got.steady:
            for make in (_books, _sources, _valves, _emitters, _throttled):
                yield from make(ways, of, got)
            yield from _pipes(ways, of_pipes, got)
        else:
            yield of_pipes.gap("Pumps and pipes", how_not(got))


def _books(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
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
            yield of.figure(
                name,
                watts / 1000,
                "kW",
                equation,
                (Input("sources", given, "W"),) if about is stores else (),
                SOLVER,
                "below nil: the store gives heat" if about is stores and watts < -0.5 else "",
                about=about,
                page="heat-balance",
            )


def _sources(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
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
            title = f"{name}: {quantity.lower()}"
            yield of.figure(title, value, unit, equation, (given,), SOLVER, quantity=quantity, about=(part,))


def _holds(got: Circulation, part: str, held_C: float | None) -> bool:
    return held_C is not None and part in got.drawn.at_cell


def _emitters(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
    """What each emitter gives with the water it gets."""
    for sink in ways.sinks:
        if sink.sort != "emitter" or sink.part not in got.drawn.at_cell:
            continue
        through, name = got.through(sink.part), ways.name(sink.part)
        rated = ways.number(sink.part, "output_w") or 0.0
        yield of.figure(
            f"{name}: heat given",
            -through.heat_W,
            "W",
            "Qn (ΔT / 50 K)^n on the mean of flow and return",
            (
                Input("rated output", rated, "W", not ways.typed(sink.part, "output_w")),
                Input("flow", 3600 * through.flow_kg_s, "kg/h"),
                Input("arrives at", through.inlet_C, "°C"),
                Input("leaves at", through.outlet_C, "°C"),
            ),
            "EN 442; " + SOLVER,
            quantity="Heat given",
            about=(sink.part,),
            page="emitters",
        )


def _throttled(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
    """What each radiator behind a thermostatic valve gives once that has come to rest, in design weather."""
    for part, rest in radiator_valves.at_rest(ways, got).items() if got.drawn.condition.power else ():
        setting = ways.number(rest.valve, "setting_c") or 20.0
        yield of.figure(
            f"{ways.name(part)}: heat given with its valve at rest",
            rest.output_W,
            "W",
            "the opening at which the room is as warm as it asks for: open 2 K below its setting, shut at it",
            (
                Input("setting", setting, "°C", not ways.typed(rest.valve, "setting_c")),
                Input("opening", 100.0 * rest.opening, "%"),
                Input("room", rest.room_C, "°C"),
                Input("flow", 3600 * rest.flow_kg_s, "kg/h"),
                Input("outdoors", radiator_valves.DESIGN_OUTDOOR_C, "°C", True),
            ),
            "EN 215 for the band; the room loses what its radiators give at the water they need; " + SOLVER,
            quantity="Heat given with its valve at rest",
            about=(part, rest.valve),
            page="emitters",
        )


def _valves(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
    """Where each mixing valve comes to rest."""
    for valve in got.drawn.valves:
        warm, cool = (abs(got.answer.flow_kg_s(name)) for name in (valve.warm, valve.cool))
        if warm + cool < STILL_KG_S:
            continue
        yield of.figure(
            f"{ways.name(valve.part)}: share of the warmer water",
            100 * warm / (warm + cool),
            "%",
            "the opening at which the mixed water is as warm as it asks for",
            (
                Input("setting", valve.set_C, "°C"),
                Input("band", valve.band_K, "K", valve.band_K > 0.0),
                Input("mixed water", got.answer.node_C(valve.joint), "°C"),
            ),
            SOLVER,
            quantity="Share of the warmer water",
            about=(valve.part,),
        )


def _pipes(ways: Waterways, of: Subject, got: Circulation) -> Iterator[Figure]:
    """Flow, speed and friction of each pipe, and the heat it would lose to the room as it is lagged."""
    fluid = got.drawn.net.fluid
    for pipe, laid in got.drawn.pipes.items():
        of = msgspec.structs.replace(of, about=(pipe,))
        flow = abs(got.flow_kg_s(pipe))
        warm = got.pipe_C(pipe)
        inputs = (Input("bore", 1000 * laid.bore_m, "mm"), Input("temperature", warm, "°C"))
        yield of.figure(
            f"{pipe}: flow", 3600 * flow, "kg/h", "continuity and momentum", inputs, SOLVER, quantity="Flow"
        )
        yield of.figure(
            f"{pipe}: speed",
            pipes.velocity_m_s(flow, laid.bore_m, warm, fluid),
            "m/s",
            "m / (ρ π d² / 4)",
            inputs,
            "continuity",
            quantity="Speed",
            page="pipe-friction",
        )
        yield of.figure(
            f"{pipe}: friction",
            pipes.pressure_gradient_Pa_m(flow, laid.bore_m, warm, laid.roughness_m, fluid),
            "Pa/m",
            "f ρ v² / (2 d)",
            (*inputs, Input("roughness", 1000 * laid.roughness_m, "mm")),
            "Darcy-Weisbach, Colebrook-White 1939",
            quantity="Friction",
            page="pipe-friction",
        )
        drawn = ways.sheet.pipes[pipe]
        lagged = lagging_mm(drawn, warms(ways, got.drawn.runs[laid.branch]))
        yield of.figure(
            f"{pipe}: heat lost",
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
            "not taken from the water here" if not got.drawn.lossy else "",
            quantity="Heat lost",
            page="pipe-heat-loss",
        )
