"""Figures of the circulation of each fire: what drives it, what resists it, and the most heat it can carry.

Owns which figures of a loop people read. Where a water does not settle, it says how it does not and gives no figure
that would need it to. Knows nothing of how a network is built or solved.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering.circulation import Circulation, circulation, enlarged, lowered, most_heat_W
from loopwright.engineering.drawn import Drawn, drawn
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, about_of, lacking, small
from loopwright.engineering.figures.outcome import SOLVER, how_not
from loopwright.engineering.water import GRAVITY
from loopwright.errors import FigureError
from loopwright.waterways.graph import Source, Waterways
from loopwright.waterways.views import Condition
from loopwright.waterways.waters import Water, waters

LIMIT_C, CEILING_KW, HIGHER_M = 95.0, 60.0, 0.5
MM_WATER_PA = GRAVITY
"""A millimetre of cold water, 1000 kg/m3, in pascals."""


def fire_figures(ways: Waterways, condition: Condition, lossy: bool = False) -> Iterator[Figure | Gap]:
    """Figures of every fire that burns under a condition."""
    for source in ways.fires:
        if source.part not in condition.out:
            yield from _fire(ways, source, condition, lossy)


def _fire(ways: Waterways, source: Source, condition: Condition, lossy: bool) -> Iterator[Figure | Gap]:
    part = source.part
    group = f"Circulation of {ways.name(part)}, {small(condition.words)}"
    of = Subject(group=group, about=(part,), topic="fires", page="flow-network")
    water = next(w for w in waters(ways) if source in w.sources)
    try:
        got = circulation(ways, water, condition, lossy=lossy)
        power = ways.number(part, "power_kw")
        given = Input("power to water", power or 0.0, "kW", not ways.typed(part, "power_kw"))
        if got is None or part not in got.drawn.at_cell:
            yield of.gap("Flow", "a loop that water can go round")
        elif not got.steady:
            yield of.gap("Flow", how_not(got))
        else:
            yield from _loop(ways, of, part, got, given)
        yield from _most(ways, of, part, water, condition)
    except FigureError as bad:
        about, prop = about_of(ways, bad)
        yield of.gap("Flow", lacking(bad), prop, about=about)


def _loop(ways: Waterways, of: Subject, part: str, got: Circulation, given: Input) -> Iterator[Figure | Gap]:
    through, heads = got.through(part), got.heads(part)
    if heads is None:
        yield of.gap("Flow", "a loop with water moving all the way round")
        return
    inputs = (given, *_charges(ways, got.drawn))
    pumped = f"pumps on the loop give {heads.pump_Pa:.0f} Pa more" if heads.pump_Pa > 0.5 else ""
    lit = (part, *got.pipes_on(part))

    def figure(
        name: str, value: float, unit: str, equation: str, note: str = "", about: tuple[str, ...] = ()
    ) -> Figure:
        return of.figure(name, value, unit, equation, inputs, SOLVER, note, about=about or lit)

    column = "-g Σ ρ(T) Δz round the loop"
    yield figure("Circulating pressure", heads.drive_Pa, "Pa", column, pumped)
    yield figure("Circulating pressure as a head", heads.drive_Pa / MM_WATER_PA, "mm water", f"{column}, / (1000 g)")
    yield figure("Resistance at that flow", heads.loss_Pa, "Pa", "Σ (f L / d + K) ρ v² / 2 round the loop")
    yield figure("Flow", 3600 * through.flow_kg_s, "kg/h", "the flow at which the two are equal")
    yield figure("Flow temperature", through.outlet_C, "°C", "h(flow) = h(return) + Q / m")
    yield figure("Return temperature", through.inlet_C, "°C", "mixing at every joint")
    losses = {pipe: got.loss_Pa(pipe) for pipe in got.pipes_on(part)}
    if losses:
        worst = max(losses, key=lambda p: losses[p])
        share = 100 * losses[worst] / heads.loss_Pa
        words = f"{worst}, {share:.0f} % of the loop"
        yield figure("Costliest pipe", losses[worst], "Pa", "(f L / d + K) ρ v² / 2", words, (worst,))


def _charges(ways: Waterways, built: Drawn) -> tuple[Input, ...]:
    """How hot each store is at its top."""
    return tuple(
        Input(f"{ways.name(s.name)} at its top", s.layers_C[-1], "°C")
        for s in built.net.stores
        if s.name in ways.sheet.parts
    )


def _most(ways: Waterways, of: Subject, part: str, water: Water, condition: Condition) -> Iterator[Figure | Gap]:
    """The most heat that gravity carries, as drawn, one size larger, and half a metre higher."""
    cut = msgspec.structs.replace(condition, power=False)
    built = drawn(ways, water, cut)
    name = f"Most heat by gravity before {LIMIT_C:g} °C"
    if built is None or part not in built.at_cell:
        yield of.gap(name, "a loop that stays open without power")
        return
    rest = circulation(ways, water, cut)
    assert rest is not None
    lit = rest.pipes_on(part)
    yield _most_figure(ways, of, name, part, built)
    if lit:
        larger = enlarged(ways, lit)
        of_larger = next(w for w in waters(larger) if w.number == water.number)
        wide = drawn(larger, of_larger, cut)
        if wide is not None:
            yield _most_figure(ways, of, f"{name}, loop one size larger", part, wide, tuple(lit))
    yield _most_figure(ways, of, f"{name}, all {HIGHER_M:g} m higher", part, lowered(built, part, HIGHER_M))


def _most_figure(
    ways: Waterways, of: Subject, name: str, part: str, built: Drawn, pipes: tuple[str, ...] = ()
) -> Figure:
    most = most_heat_W(built, part, LIMIT_C, 1000 * CEILING_KW) / 1000
    return of.figure(
        name,
        most,
        "kW",
        "the power at which the flow reaches the limit, or something boils, within 1 %",
        (*_charges(ways, built), Input("limit", LIMIT_C, "°C", True)),
        SOLVER,
        f"more than {CEILING_KW:g} kW were not tried" if most >= CEILING_KW else "",
        about=(part, *pipes),
    )
