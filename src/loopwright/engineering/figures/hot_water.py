"""Figures of hot water at the taps: yield of coils, flow through mixing valves, litres before it runs cool, dead legs.

Owns the way from what warms the water to each outlet. The laws are in `engineering.domestic`.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np

from loopwright.catalogue import Behaviour
from loopwright.engineering import coils, domestic, pipes, water
from loopwright.engineering.drawn_parts import Tubing, coil_tube, figure
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, about_of, lacking, stated
from loopwright.errors import FigureError
from loopwright.sheet.geometry import developed_length_m
from loopwright.sheet.values import Coil
from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.paths import shortest
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import Ask, passing
from loopwright.waterways.waters import water_of

TAP_C, COLD_C = 40.0, 10.0
LAYERS = 10
MOST_L_MIN = 60.0
COLD = Input("cold water", COLD_C, "°C", True)
NTU = "effectiveness 1 - exp(-UA/(m cp)) layer by layer; Kays and London"


def hot_water_figures(ways: Waterways) -> Iterator[Figure | Gap]:
    """Figures of every coil that warms tap water, and of every outlet that something warm reaches."""
    taps = _taps(ways)
    for origin in _origins(ways):
        served = [tap for tap in taps if tap.origin == origin]
        if origin.coil is not None:
            yield from _coil(ways, origin, served)
        elif ways.has_tag(origin.part, "plate"):
            yield from _plate(ways, origin, served)
    for tap in taps:
        yield from _tap(ways, tap)


class _Origin(msgspec.Struct, frozen=True):
    """What warms tap water: a coil or plate side with its warm end, or a cylinder's body."""

    part: str
    warm: Place
    key: Key | None = None
    coil: Coil | None = None


class _Tap(msgspec.Struct, frozen=True):
    """An outlet, what warms its water, the way from there, and the mixing valve passed."""

    part: str
    origin: _Origin
    steps: tuple[Step, ...]
    valve: str


def _origins(ways: Waterways) -> list[_Origin]:
    found = []
    for element in ways.doing(Behaviour.COIL):
        of = water_of(ways, element.a)
        if of is None or of.fluid != "domestic" or of.sources or ways.kind(element.part).source:
            continue
        name = element.key[2].removeprefix("coil ")
        coil = next((c for c in ways.sheet.parts[element.part].coils if c.name == name), None)
        warm = _warm_end(ways, element)
        if warm is not None and (coil is not None or ways.has_tag(element.part, "plate")):
            found.append(_Origin(element.part, warm, element.key, coil))
    for body in ways.bodies("cylinder"):
        of = water_of(ways, body)
        if of is not None and of.fluid == "domestic":
            found.append(_Origin(body[1], body))
    return found


def _blending(ways: Waterways) -> set[Key]:
    """Ways through which a mixing valve lets in cold water."""
    return {
        e.key
        for e in ways.doing(Behaviour.THERMAL)
        if ways.has_tag(e.part, "mixing_valve") and e.way and e.way.name == "cold"
    }


def _warm_end(ways: Waterways, element: Element) -> Place | None:
    """The end of a coil that the mains reaches last without passing the coil."""
    supplies: set[Place] = {("port", p.id, "a") for p in ways.tagged("mains")}
    supplies |= {e.other(b) for b in ways.bodies("cistern") for e in ways.links[b] if e.does is Behaviour.FREE}
    far = []
    for end in (element.a, element.b):
        way = shortest(ways, passing(ways, Ask.OPEN), [end], supplies, drop={element.key} | _blending(ways))
        far.append(float("inf") if way is None else len(way))
    if far[0] == far[1]:
        return None
    return element.b if far[0] < far[1] else element.a


def _taps(ways: Waterways) -> list[_Tap]:
    found = []
    origins = _origins(ways)
    drop = _blending(ways) | {o.key for o in origins if o.key is not None}
    for part in ways.tagged("outlet"):
        best: tuple[float, _Tap] | None = None
        for origin in origins:
            steps = shortest(ways, passing(ways, Ask.OPEN), [origin.warm], {("port", part.id, "hot")}, drop=drop)
            if steps is None:
                continue
            length = sum(_length_m(ways, key) for key, _ in steps)
            passed = (ways.elements[key].part for key, _ in steps)
            valve = next((p for p in passed if p and ways.has_tag(p, "mixing_valve")), "")
            if best is None or length < best[0]:
                best = (length, _Tap(part.id, origin, tuple(steps), valve))
        if best is not None:
            found.append(best[1])
    return found


def _length_m(ways: Waterways, key: Key) -> float:
    return developed_length_m(ways.sheet, ways.pipe(key), ways.catalogue) if key[0] == "pipe" else 0.0


def _subject(group: str, *about: str) -> Subject:
    return Subject(group=group, about=about, topic="hot water", page="hot-water")


# coils


def _coil(ways: Waterways, origin: _Origin, served: list[_Tap]) -> Iterator[Figure | Gap]:
    part, coil = origin.part, origin.coil
    assert coil is not None
    of = _subject(f"Hot water from {ways.name(part)}, coil “{coil.name}”", part)
    try:
        yield from _yields(ways, of, origin, coil, coil_tube(ways, part, coil), served)
    except FigureError as bad:
        about, prop = about_of(ways, bad)
        yield of.gap("Yield", lacking(bad), prop, about=about)


def _ua_by_layer(ways: Waterways, part: str, coil: Coil, ua: float, upwards: bool) -> list[float]:
    """Share of a coil's conductance in each layer of its vessel that it lies in, in order of flow."""
    base, top = ways.body_range(part)
    tall = (top - base) / LAYERS
    feet = [i * tall for i in range(LAYERS)]
    spans = np.array([max(0.0, min(coil.top_m, foot + tall) - max(coil.bottom_m, foot)) for foot in feet])
    if spans.sum() <= 0.0:
        spans[min(LAYERS - 1, max(0, int(coil.bottom_m / tall)))] = 1.0
    shares = list(ua * spans / spans.sum())
    return shares if upwards else shares[::-1]


def _yields(
    ways: Waterways, of: Subject, origin: _Origin, coil: Coil, tube: Tubing, served: list[_Tap]
) -> Iterator[Figure | Gap]:
    part = origin.part
    hot = stated(ways, part, "design_temp_c", "store throughout", "°C")
    volume = stated(ways, part, "volume_l", "volume", "l")
    if hot is None or volume is None:
        words = ("temperature at the top when charged", "design_temp_c") if hot is None else ("volume", "volume_l")
        yield of.gap("Yield", f"{ways.name(part)}: {words[0]}", words[1])
        return
    draws = [(t.part, ways.number(t.part, "demand_l_min")) for t in served]
    known = [(p, d) for p, d in draws if d]
    if not known:
        lacks = "draw-off of an outlet" if draws else "an outlet that it feeds"
        yield of.gap("Yield", lacks, "demand_l_min" if draws else "", about=tuple(p for p, _ in draws))
        return
    tap, draw = max(known, key=lambda d: d[1])
    flow = Input(f"draw-off of {ways.name(tap)}", draw, "l/min", not ways.typed(tap, "demand_l_min"))
    area = Input("coil surface", coil.area_m2 or 0.0, "m²")
    per_area = Input("heat passed", figure("coil", "watts_per_m2_K"), "W/(m² K)", True)
    shares = _ua_by_layer(ways, part, coil, tube.ua_W_K, origin.warm == ("port", part, coil.upper))
    layers = [hot.value] * LAYERS
    got = domestic.coil_yield(draw, COLD_C, shares, layers, TAP_C)
    inputs = (flow, hot, area, per_area, COLD)
    of = msgspec.structs.replace(of, about=(part, tap))
    yield of.figure(
        f"Temperature from the coil at {draw:g} l/min at the tap",
        got.outlet_C,
        "°C",
        "T = T_layer - (T_layer - T_in) exp(-UA/(m cp)), layer by layer",
        inputs,
        NTU,
        "" if got.reaches else f"cooler than {TAP_C:g} °C: more than the coil can warm",
        quantity="Temperature from the coil",
    )
    yield of.figure(
        f"Heat from the coil at {draw:g} l/min at the tap",
        got.heat_W / 1000,
        "kW",
        "Q = m (h_out - h_cold)",
        inputs,
        NTU,
        quantity="Heat from the coil",
    )
    most = _most_l_min(shares, layers)
    yield of.figure(
        f"Most flow at {TAP_C:g} °C",
        most,
        "l/min",
        "the flow that the coil, alone and full, warms just so far",
        inputs[1:],
        NTU,
        "" if most < MOST_L_MIN else "more was not tried",
        quantity="Most flow",
    )
    litres = domestic.litres_before_cool(volume.value / 1000, hot.value, tube.ua_W_K, draw, TAP_C, COLD_C)
    yield of.figure(
        f"Water at {TAP_C:g} °C before it runs cool",
        litres,
        "l",
        "ρ V (h_hot - h_end) / (h_tap - h_cold), T_end = cold + (tap - cold)/effectiveness",
        (*inputs, volume),
        "energy balance of a mixed store, no reheating",
        f"{litres / draw:.0f} minutes of {ways.name(tap)}",
        quantity="Water before it runs cool",
    )
    middle = 0.5 * (COLD_C + got.outlet_C)
    loss = pipes.pressure_loss_Pa(got.coil_kg_s, tube.bore_m, tube.length_m, 0.0, middle)
    yield of.figure(
        "Pressure lost in the coil",
        loss / 1000,
        "kPa",
        "f (L/d) ρ v² / 2; d = 4 V / A, L = A / (π d) from content and surface",
        (flow, area, Input("content", coil.content_l or 0.0, "l")),
        "Darcy-Weisbach, Colebrook-White 1939; the coil as one plain tube, its curving left out",
    )


def _most_l_min(shares: list[float], layers: list[float]) -> float:
    """The tap's flow at which all of it, through the coil, comes out at the tap's temperature; nil if none does."""

    def outlet(l_min: float) -> float:
        flow = l_min / 60.0 * water.density_kg_m3(COLD_C) / 1000.0
        return coils.through_layers(flow, COLD_C, shares, layers).outlet_C

    low, high = 0.1, MOST_L_MIN
    if outlet(low) < TAP_C:
        return 0.0
    if outlet(high) >= TAP_C:
        return high
    for _ in range(40):  # more flow is cooler, so halving finds it
        middle = 0.5 * (low + high)
        low, high = (middle, high) if outlet(middle) >= TAP_C else (low, middle)
    return low


def _plate(ways: Waterways, origin: _Origin, served: list[_Tap]) -> Iterator[Figure | Gap]:
    part = origin.part
    of = _subject(f"Hot water from {ways.name(part)}", part)
    ua = stated(ways, part, "ua_w_k", "heat passed per degree", "W/K")
    draws = [d for d in (ways.number(t.part, "demand_l_min") for t in served) if d]
    stores = [ways.number(b[1], "design_temp_c") for b in ways.bodies("store")]
    hot = max((t for t in stores if t is not None), default=None)
    if ua is None or not draws or hot is None:
        lacks, prop = (
            ("heat passed per degree", "ua_w_k")
            if ua is None
            else ("an outlet with its draw-off", "")
            if not draws
            else ("temperature of the store that heats it", "")
        )
        yield of.gap("Yield", lacks, prop)
        return
    draw = max(draws)
    flow = draw / 60.0 * water.density_kg_m3(COLD_C) / 1000.0
    watts = coils.exchanger_heat_W(ua.value, flow, hot, flow, COLD_C)
    inputs = (Input("draw-off", draw, "l/min"), Input("hot side in", hot, "°C", True), ua, COLD)
    yield of.figure(
        f"Heat passed at {draw:g} l/min on both sides",
        watts / 1000,
        "kW",
        "Q = e m cp (T_hot - T_cold), e = NTU/(1 + NTU)",
        inputs,
        "counterflow, equal flows; Kays and London",
        quantity="Heat passed",
    )


# outlets


def _tap(ways: Waterways, tap: _Tap) -> Iterator[Figure | Gap]:
    name = ways.name(tap.part)
    of = _subject(name, tap.part)
    draw = stated(ways, tap.part, "demand_l_min", "draw-off", "l/min")
    if draw is None or draw.value <= 0.0:
        yield of.gap("Flow of hot water", f"{name}: draw-off", "demand_l_min")
        return
    yield from _mixed(ways, of, tap, draw)
    litres = seconds = length = 0.0
    run = []
    for key, _ in tap.steps:
        if key[0] != "pipe" or ways.pipe(key).joint:
            continue
        pipe = ways.pipe(key)
        try:
            tube = pipes.tube(pipe.size, pipe.material)
        except FigureError as bad:
            yield of.gap("Dead leg", f"size of {pipe.id} ({bad.what})", "size", about=(pipe.id,))
            return
        metres = _length_m(ways, key)
        run.append(pipe.id)
        length += metres
        litres += metres * tube.litres_per_m
        seconds += domestic.dead_leg_seconds(metres, tube.bore_m, draw.value)
    of = _subject(name, tap.part, *run)
    inputs = (Input("length", length, "m"), draw)
    yield of.figure("Dead leg, water in it", litres, "l", "Σ π d² L / 4", inputs, "drawn lengths")
    yield of.figure(
        "Dead leg, wait for hot water",
        seconds,
        "s",
        "Σ π d² L / (4 V)",
        inputs,
        "plug flow; the pipe's own heat left out, which makes it longer",
    )


def _mixed(ways: Waterways, of: Subject, tap: _Tap, draw: Input) -> Iterator[Figure | Gap]:
    """What comes hot and what comes cold where the water is blended, at the valve or at the tap itself."""
    source = tap.origin.part
    setting = stated(ways, tap.valve, "setting_c", "set at", "°C") if tap.valve else Input("at the tap", TAP_C, "°C")
    hot = stated(ways, source, "design_temp_c", f"{ways.name(source)} throughout", "°C")
    if ways.has_tag(source, "plate") or hot is None or setting is None:
        if hot is None and not ways.has_tag(source, "plate"):
            missing = f"{ways.name(source)}: design temperature"
            yield of.gap("Flow of hot water", missing, "design_temp_c", about=(source,))
        return
    try:
        if tap.origin.coil is not None:
            tube = coil_tube(ways, source, tap.origin.coil)
            upwards = tap.origin.warm == ("port", source, tap.origin.coil.upper)
            shares = _ua_by_layer(ways, source, tap.origin.coil, tube.ua_W_K, upwards)
            got = domestic.coil_yield(draw.value, COLD_C, shares, [hot.value] * LAYERS, setting.value)
            share, arrives = got.hot_share, got.outlet_C
        else:
            arrives = hot.value
            share = domestic.mixing_share(arrives, COLD_C, setting.value) if arrives > setting.value else 1.0
    except FigureError as bad:
        about, prop = about_of(ways, bad)
        yield of.gap("Flow of hot water", lacking(bad), prop, about=about or (source,))
        return
    valve = f" through {ways.name(tap.valve)}" if tap.valve else ", mixed at the tap"
    yield of.figure(
        "Flow of hot water" + valve,
        share * draw.value,
        "l/min",
        "x = (h_mixed - h_cold)/(h_hot - h_cold)",
        (draw, hot, setting, Input("arrives at", arrives, "°C"), COLD),
        "energy balance of mixing",
        f"{(1 - share) * draw.value:.3g} l/min of cold makes up the rest"
        if share < 1.0
        else "nothing is left to mix with",
        quantity="Flow of hot water",
        about=(tap.part, source, *((tap.valve,) if tap.valve else ())),
    )
