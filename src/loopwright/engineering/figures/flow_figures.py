"""The figures of a sheet's flow under a condition: fires, pumps, pipes.

Owns which figures of a circulation people read. Where a water does not settle, it says how it does not and gives no
figure that would need it to. Knows nothing of how a network is built or solved.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering import pipes
from loopwright.engineering.circulation import (
    Circulation,
    circulation,
    circulations,
    enlarged,
    lowered,
    most_heat_W,
)
from loopwright.engineering.drawn import Drawn, drawn
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.sheet_figures import water_name
from loopwright.engineering.steady import STILL_KG_S
from loopwright.engineering.water import density_kg_m3
from loopwright.errors import FigureError
from loopwright.waterways.graph import Source, Waterways
from loopwright.waterways.views import Condition
from loopwright.waterways.waters import Water, waters

LIMIT_C, CEILING_KW, HIGHER_M = 95.0, 60.0, 0.5
SOLVER = "flow and heat solved together; water by Kell and IAPWS, friction by Darcy-Weisbach and Colebrook"


def flow_figures(ways: Waterways, condition: Condition) -> Iterator[Figure | Gap]:
    """Figures of every water in which something can go round under a condition."""
    found = circulations(ways, condition)
    for source in ways.fires:
        if source.part not in condition.out:
            yield from _fire(ways, source, condition)
    for of, got in found:
        group = f"Flow in {_small(water_name(ways, of))}, {_small(condition.words)}"
        if isinstance(got, FigureError):
            yield Gap(group=group, name="Flow", about=_about(ways, got), missing=_said(got))
            continue
        if got.steady:
            yield from _pumps(ways, got)
        yield _outcome(ways, group, got)
        if got.steady:
            yield from _pipes(group, got)
        else:
            yield Gap(group=group, name="Pumps and pipes", about=(), missing=_lacking(got))


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]


def _said(bad: FigureError) -> str:
    """What is missing, as the end of a sentence that says so."""
    return bad.what.removesuffix(" is missing")


def _about(ways: Waterways, bad: FigureError) -> tuple[str, ...]:
    named = bad.where.split(", ")[0]
    return (named,) if named in ways.sheet.parts or named in ways.sheet.pipes else ()


def outcome_words(got: Circulation) -> str:
    """How a water ends, in words."""
    answer = got.answer
    ending, where = answer.ending, answer.branch or ""
    if answer.outcome == "steady" and not got.known:
        return "it gets hotter than 110 °C, beyond which the figures of water are not known here"
    match answer.outcome:
        case "steady":
            return "steady"
        case "boils":
            return f"it boils in {where}"
        case "two states":
            return f"two states: what {where} carries depends on how it was started"
        case "swings" | "drifting" if ending.swing is not None:
            swing = ending.swing
            if answer.outcome == "drifting":
                return f"still drifting after hours in {swing.branch}"
            every = f" every {swing.period_s / 60:.0f} minutes" if swing.period_s else ""
            return f"it swings in {swing.branch}{every}"
        case "stalled":
            stall = ending.stalls[0]
            return f"it stalls in {stall.branch}" + (", held by its check valve" if stall.by_check else "")
    return answer.outcome


def _lacking(got: Circulation) -> str:
    return f"a steady flow ({outcome_words(got)})"


def _outcome(ways: Waterways, group: str, got: Circulation) -> Figure:
    """What can be said of a water however it ends: one true number and the words."""
    answer, ending = got.answer, got.answer.ending
    heats = tuple(
        Input(f"{ways.name(p)}: heat given", h.watts, "W")
        if h.held_C is None
        else Input(f"{ways.name(p)}: flow held at", h.held_C, "°C")
        for p, h in got.drawn.heats.items()
        if h.watts > 0
    )
    stores = tuple(
        Input(
            f"{ways.name(s.name)}: {'top' if s.layers_C[0] != s.layers_C[-1] else 'throughout'}", s.layers_C[-1], "°C"
        )
        for s in got.drawn.net.stores
        if s.name in ways.sheet.parts and not s.evolving
    )
    note = "; ".join([outcome_words(got), *(f"{ways.name(p)} stays off" for p in got.off), *got.drawn.assumed])
    about = tuple(dict.fromkeys(got.drawn.pipes))
    name, value, unit = "Heat unaccounted for", ending.balance.gap_W, "W"
    if answer.outcome == "boils" or (answer.outcome == "two states" and ending.boils):
        name, value = "Heat that boils away", sum(ending.boil_W.values())
    elif answer.outcome == "two states" and answer.branch:
        apart = abs(_at(answer.rest.state.m, got, answer.branch) - _at(answer.kick.state.m, got, answer.branch))
        name, value, unit = "Difference between the two states", 3600 * apart, "kg/h"
    elif answer.outcome == "swings" and ending.swing:
        name, value, unit = "Range of the swing", ending.swing.range_K, "K"
    elif answer.outcome == "drifting" and ending.swing:
        name, value, unit = "Drift in the last hour", ending.swing.net_K, "K"
    elif answer.outcome == "stalled":
        name, value, unit = "Flow where it should carry", 3600 * abs(ending.stalls[0].flow_kg_s), "kg/h"
    return Figure(
        group=group,
        name=name,
        about=about,
        value=float(value),
        unit=unit,
        equation="continuity, momentum and heat of every branch at rest in time",
        inputs=heats + stores,
        source=SOLVER,
        note=note,
    )


def _at(flows, got: Circulation, branch: str) -> float:
    return float(flows[[b.name for b in got.drawn.net.branches].index(branch)])


# fires


def _fire(ways: Waterways, source: Source, condition: Condition) -> Iterator[Figure | Gap]:
    name = ways.name(source.part)
    group = f"Circulation of {name}, {_small(condition.words)}"
    of = next(w for w in waters(ways) if source in w.sources)
    try:
        got = circulation(ways, of, condition)
        power = ways.number(source.part, "power_kw")
        given = Input("power to water", power or 0.0, "kW", not ways.typed(source.part, "power_kw"))
        if got is None or source.part not in got.drawn.at_cell:
            yield Gap(group=group, name="Flow", about=(source.part,), missing="a loop that water can go round")
        elif not got.steady:
            yield Gap(group=group, name="Flow", about=(source.part,), missing=_lacking(got))
        else:
            yield from _loop(ways, group, source.part, got, given)
        yield from _most(ways, group, source.part, of, condition)
    except FigureError as bad:
        yield Gap(group=group, name="Flow", about=(source.part,), missing=_said(bad))


def _loop(ways: Waterways, group: str, part: str, got: Circulation, given: Input) -> Iterator[Figure | Gap]:
    through, heads = got.through(part), got.heads(part)
    if heads is None:
        yield Gap(group=group, name="Flow", about=(part,), missing="a loop with water moving all the way round")
        return
    inputs = (
        given,
        *(
            Input(f"{ways.name(s.name)} at its top", s.layers_C[-1], "°C")
            for s in got.drawn.net.stores
            if s.name in ways.sheet.parts
        ),
    )
    pumped = f"pumps on the loop give {heads.pump_Pa:.0f} Pa more" if heads.pump_Pa > 0.5 else ""
    lit = (part, *got.pipes_on(part))

    def figure(
        name: str,
        value: float,
        unit: str,
        equation: str,
        note: str = "",
        about: tuple[str, ...] = (),
    ) -> Figure:
        return Figure(
            group=group,
            name=name,
            about=about or lit,
            value=value,
            unit=unit,
            equation=equation,
            inputs=inputs,
            source=SOLVER,
            note=note,
        )

    yield figure("Circulating pressure", heads.drive_Pa, "Pa", "-g Σ ρ(T) Δz round the loop", pumped)
    yield figure("Resistance at that flow", heads.loss_Pa, "Pa", "Σ (f L / d + K) ρ v² / 2 round the loop")
    yield figure("Flow", 3600 * through.flow_kg_s, "kg/h", "the flow at which the two are equal")
    yield figure("Flow temperature", through.outlet_C, "°C", "h(flow) = h(return) + Q / m")
    yield figure("Return temperature", through.inlet_C, "°C", "mixing at every joint")
    losses = {pipe: got.loss_Pa(pipe) for pipe in got.pipes_on(part)}
    if losses:
        worst = max(losses, key=lambda p: losses[p])
        yield figure(
            "Costliest pipe",
            losses[worst],
            "Pa",
            "(f L / d + K) ρ v² / 2",
            f"{worst}, {100 * losses[worst] / heads.loss_Pa:.0f} % of the loop",
            (worst,),
        )


def _most(ways: Waterways, group: str, part: str, of: Water, condition: Condition) -> Iterator[Figure | Gap]:
    """The most heat that gravity carries, as drawn, one size larger, and half a metre higher."""
    cut = msgspec.structs.replace(condition, power=False)
    built = drawn(ways, of, cut)
    name = f"Most heat by gravity before {LIMIT_C:g} °C"
    if built is None or part not in built.at_cell:
        yield Gap(group=group, name=name, about=(part,), missing="a loop that stays open without power")
        return
    rest = circulation(ways, of, cut)
    assert rest is not None
    lit = rest.pipes_on(part)
    yield _most_figure(group, name, part, built)
    if lit:
        larger = enlarged(ways, lit)
        of_larger = next(w for w in waters(larger) if w.number == of.number)
        wide = drawn(larger, of_larger, cut)
        if wide is not None:
            yield _most_figure(group, f"{name}, loop one size larger", part, wide)
    yield _most_figure(group, f"{name}, all {HIGHER_M:g} m higher", part, lowered(built, part, HIGHER_M))


def _most_figure(group: str, name: str, part: str, built: Drawn) -> Figure:
    most = most_heat_W(built, part, LIMIT_C, 1000 * CEILING_KW) / 1000
    note = f"more than {CEILING_KW:g} kW were not tried" if most >= CEILING_KW else ""
    stores = tuple(Input(f"{s.name} at its top", s.layers_C[-1], "°C") for s in built.net.stores)
    return Figure(
        group=group,
        name=name,
        about=(part,),
        value=most,
        unit="kW",
        equation="the power at which the flow reaches the limit, or something boils, within 1 %",
        inputs=stores,
        source=SOLVER,
        note=note,
    )


# pumps and pipes


def _pumps(ways: Waterways, got: Circulation) -> Iterator[Figure]:
    for name, run in got.drawn.runs.items():
        flow = got.answer.flow_kg_s(name)
        for key, _ in run.steps:
            element = ways.elements[key]
            if element.does is not Behaviour.PUMP or element.part in got.drawn.condition.stopped:
                continue
            if not got.drawn.condition.power:
                continue
            head, most = ways.number(element.part, "head_m"), ways.number(element.part, "flow_max_m3h")
            assert head is not None and most is not None  # the network was built with them
            m3h = 3600 * flow / density_kg_m3(_temperature(got, name))
            inputs = (
                Input("head with no flow", head, "m", not ways.typed(element.part, "head_m")),
                Input("flow with no head", most, "m³/h", not ways.typed(element.part, "flow_max_m3h")),
            )
            group = ways.name(element.part)
            yield Figure(
                group=group,
                name="Flow at the duty point",
                about=(element.part,),
                value=m3h,
                unit="m³/h",
                equation="where its curve H0 (1 - (V / Vmax)²) meets the circuit",
                inputs=inputs,
                source=SOLVER,
            )
            yield Figure(
                group=group,
                name="Head at the duty point",
                about=(element.part,),
                unit="m",
                value=head * (1 - (3.6 * flow / 0.998 / most) ** 2),
                equation="H0 (1 - (V / Vmax)²)",
                inputs=inputs,
                source="parabola between both ends of its curve: common practice",
            )


def _temperature(got: Circulation, branch: str) -> float:
    return min(110.0, max(0.0, got.answer.cells_C(branch)[0]))


def _pipes(group: str, got: Circulation) -> Iterator[Figure]:
    for pipe, laid in got.drawn.pipes.items():
        flow = abs(got.flow_kg_s(pipe))
        if flow < STILL_KG_S:
            continue
        warm = got.pipe_C(pipe)
        inputs = (Input("bore", 1000 * laid.bore_m, "mm"), Input("temperature", warm, "°C"))
        yield Figure(
            group=group,
            name=f"{pipe}: flow",
            about=(pipe,),
            value=3600 * flow,
            unit="kg/h",
            equation="continuity and momentum",
            inputs=inputs,
            source=SOLVER,
        )
        yield Figure(
            group=group,
            name=f"{pipe}: speed",
            about=(pipe,),
            unit="m/s",
            value=pipes.velocity_m_s(flow, laid.bore_m, warm),
            equation="m / (ρ π d² / 4)",
            inputs=inputs,
            source="continuity",
        )
        yield Figure(
            group=group,
            name=f"{pipe}: friction",
            about=(pipe,),
            unit="Pa/m",
            value=pipes.pressure_gradient_Pa_m(flow, laid.bore_m, warm, laid.roughness_m),
            equation="f ρ v² / (2 d)",
            inputs=inputs,
            source="Darcy-Weisbach, Colebrook-White 1939",
        )
