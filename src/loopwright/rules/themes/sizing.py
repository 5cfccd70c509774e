"""Rules of sizes that ask for the solved flow: water too fast, pumps too weak."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.catalogue import Behaviour
from loopwright.engineering import pipes
from loopwright.engineering.circulation import Circulation, Question
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.flows import UNSETTLED, foreseen, running_waters
from loopwright.rules.registry import Case, Said, rule
from loopwright.waterways.graph import Element
from loopwright.waterways.waters import Water, waters

WATER_J_KG_K = 4186.0
DESIGN_DROP_K = 20.0  # upper end of dt.rad: the least flow that people design radiators for
FLOOR_DROP_K = 5.0  # spread of a warm floor: common practice, no source
ENOUGH = 0.9  # of the design flow: common practice, no source
SMALL_BORE_M = 0.0145  # inside 15 mm copper
WIDE_M = 0.05


def _pumps(case: Case, of: Water) -> list[Element]:
    return [e for e in case.ways.doing(Behaviour.PUMP) if e.key in of.elements]


@foreseen
def _questions(case: Case) -> Iterator[Question]:
    """Every water in normal running."""
    return map(Question, waters(case.ways))


def _untyped(case: Case, pump: Element) -> Missing | None:
    """A pump whose curve is only a usual one gives no figure to judge by."""
    for prop, words in (("head_m", "head with no flow"), ("flow_max_m3h", "flow with no head")):
        if not case.ways.typed(pump.part, prop):
            return Missing(pump.part, f"{case.name(pump.part)}: {words} is not stated", pump.part, prop)
    return None


def _circuits(case: Case) -> Iterator[tuple[Element, Circulation | Missing]]:
    """Every running pump and the solved water it stands in; what is missing in its stead."""
    for of, got in running_waters(case):
        for pump in _pumps(case, of):
            lacking = _untyped(case, pump)
            if isinstance(got, Missing):
                yield pump, Missing(pump.part, got.what, got.part, got.prop)
            elif lacking is not None:
                yield pump, lacking
            elif got.answer.outcome in UNSETTLED:
                yield pump, Missing(pump.part, f"{case.name(pump.part)}: {UNSETTLED[got.answer.outcome]}")
            elif not got.known:
                yield pump, Missing(pump.part, f"{case.name(pump.part)}: its water gets hotter than 110 °C")
            elif any(pump.key == key for run in got.drawn.runs.values() for key, _ in run.steps):
                yield pump, got


@rule("sizing/water-too-fast", about="one pump and the pipes of its circuit", computed=True)
def water_too_fast(case: Case) -> Iterator[Said]:
    """The greatest speed of water in each pumped circuit."""
    seen: set[str] = set()
    for pump, got in _circuits(case):
        if isinstance(got, Missing):
            yield got
            continue
        speeds = {pipe: abs(_speed(got, pipe)) for pipe in _driven(case, got, pump)}
        over = {p: v - _quiet(case, got, p) for p, v in speeds.items() if v > _quiet(case, got, p) and p not in seen}
        if not over:
            fastest = max(speeds.values(), default=0.0)
            yield Sound(pump.part, f"At most {fastest:.2g} m/s in the circuit of {case.name(pump.part)}")
            continue
        seen |= set(over)
        worst = max(over, key=lambda p: speeds[p])
        erodes = speeds[worst] > case.limit("vel.max.erosion")
        bore = got.drawn.pipes[worst].bore_m
        larger = pipes.next_size_up(case.sheet.pipes[worst].size, case.sheet.pipes[worst].material)
        yield Finding(
            severity=Severity.FAULT if erodes else Severity.ADVICE,
            subject=pump.part,
            culprits=tuple(sorted(over, key=lambda p: -speeds[p])),
            path=(pump.part, *over),
            message=f"Water runs at {speeds[worst]:.1f} m/s through {worst}, {1000 * bore:.0f} mm inside.",
            todo=f"Lay it in {larger}, or set {case.name(pump.part)} lower."
            if larger
            else f"Set {case.name(pump.part)} lower, or share the flow between two pipes.",
            measured=round(speeds[worst], 2),
            limit=case.limit("vel.max.erosion") if erodes else _quiet(case, got, worst),
            unit="m/s",
            sources=("vel.max.erosion", "vel.max.noise", "vel.max.quiet", "vel.steel"),
        )


def _speed(got: Circulation, pipe: str) -> float:
    return pipes.velocity_m_s(got.flow_kg_s(pipe), got.drawn.pipes[pipe].bore_m, got.pipe_C(pipe))


def _quiet(case: Case, got: Circulation, pipe: str) -> float:
    """The speed at which a pipe begins to be heard."""
    bore = got.drawn.pipes[pipe].bore_m
    if case.sheet.pipes[pipe].material == "steel":
        return case.limit("vel.steel", last=bore > WIDE_M)
    return case.limit("vel.max.quiet") if bore <= SMALL_BORE_M else case.limit("vel.max.noise")


def _driven(case: Case, got: Circulation, pump: Element) -> list[str]:
    """Pipes of a pump's own loop, and those of every emitter and source whose loop passes it."""
    out = list(got.pipes_on(pump.part))
    for part in got.drawn.at_cell:
        if _passes(got, part, pump):
            out += got.pipes_on(part)
    return list(dict.fromkeys(out))


def _passes(got: Circulation, part: str, pump: Element) -> bool:
    way = {name for name, _ in got.loop(part) or ()}
    return any(name in way and any(key == pump.key for key, _ in run.steps) for name, run in got.drawn.runs.items())


@rule(
    "sizing/pump-too-weak",
    about="one pump and what it must feed",
    computed=True,
    yields_to=("circuit/pumps-in-series", "circuit/pump-backwards", "circuit/air-trap"),
)
def pump_too_weak(case: Case) -> Iterator[Said]:
    """The solved flow of the hardest circuit against its design flow, with everything on."""
    for pump, got in _circuits(case):
        if isinstance(got, Missing):
            yield got
            continue
        wants: dict[str, float] = {}
        lacking: Missing | None = None
        for part in got.drawn.at_cell:
            if not _passes(got, part, pump):
                continue
            want = _design_kg_s(case, got, part)
            if isinstance(want, Missing):
                lacking = want
            elif want:
                wants[part] = want
        if lacking is not None:
            yield Missing(pump.part, lacking.what, lacking.part, lacking.prop)
            continue
        if not wants:
            continue
        have = {part: got.through(part).flow_kg_s / want for part, want in wants.items()}
        index = min(have, key=lambda p: have[p])
        if have[index] >= ENOUGH:
            yield Sound(pump.part, f"{case.name(index)}, hardest to reach, gets {100 * have[index]:.0f} % of its flow")
            continue
        on_loop = got.pipes_on(index)
        worst = max(on_loop, key=lambda p: got.loss_Pa(p), default=pump.part)
        kg_h = 3600 * have[index] * wants[index]
        yield Finding(
            severity=Severity.FAULT,
            subject=pump.part,
            culprits=(worst,),
            path=(pump.part, index, *on_loop),
            message=f"{case.name(pump.part)} sends {kg_h:.0f} kg/h through {case.name(index)}, which needs"
            f" {3600 * wants[index]:.0f} kg/h.",
            todo=f"Enlarge {worst}, which costs the most pressure, or fit a stronger pump.",
            measured=round(kg_h),
            limit=round(3600 * ENOUGH * wants[index]),
            unit="kg/h",
            sources=("dp.max",),
        )


def _design_kg_s(case: Case, got: Circulation, part: str) -> float | Missing | None:
    """The least flow a part is designed for; None if it asks for none."""
    ways = case.ways
    source = ways.source_of.get(part)
    if source is not None:
        if source.stops == "sun" or got.drawn.heats[part].watts <= 0.0:
            return None
        kw = ways.number(part, "power_kw")
        return None if kw is None else 1000.0 * kw / (WATER_J_KG_K * DESIGN_DROP_K)
    if not ways.typed(part, "output_w"):
        return Missing(part, f"{case.name(part)}: rated output is not stated", part, "output_w")
    watts = ways.number(part, "output_w") or 0.0
    drop = DESIGN_DROP_K
    if ways.has_tag(part, "underfloor"):
        drop = FLOOR_DROP_K
        if ways.value(part, "mixing_built_in"):  # it draws only what it needs from hotter water
            need = ways.number(part, "t_need_c") or 40.0
            drop = max(drop, got.through(part).inlet_C - (need - FLOOR_DROP_K))
    return watts / (WATER_J_KG_K * drop)
