"""Rules of size that need no flow network: heat for the house, coils, store for the sun."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from loopwright.engineering import coils, water
from loopwright.engineering.emitters import output_W
from loopwright.rules.circuits import SWITCHED, Circuit, load_circuits, source_circuits
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, Said, rule
from loopwright.rules.shedding import emitter_kw, fixed_emitters
from loopwright.rules.warmth import heats, tap_coils
from loopwright.sheet.values import Coil
from loopwright.waterways.waters import water_of

DROP_K = 10.0
"""Fall of temperature through an emitter, and rise through a source, at design: common practice, no source."""
SHORT = 0.9
"""Less than nine tenths is a fault, less than all advice."""
BEST_COIL_W_M2K = 700.0
"""Best handbook value of a plain tube coil in still water, from memory: too small by this is too small by any."""
BELOW_FLOW_K = 20.0
"""A store this far under the flow must take a source's whole power: common practice, no source."""
COLD_C, TAP_C, ROOM_C = 10.0, 40.0, 20.0


# -- heat for the house -----------------------------------------------------------------------------------------------


def _stated_kw(case: Case, name: str) -> float | None:
    found = case.sheet.facts.get(name)
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) and found > 0 else None


def _emitter_w(case: Case, part: str, flow_c: float | None = None) -> float | None:
    """Output of an emitter at its design flow temperature (or a cooler one), W; None when a datum is missing."""
    ways = case.ways
    rated, needs = ways.number(part, "output_w"), ways.number(part, "t_need_c")
    if rated is None or ways.has_tag(part, "underfloor"):
        return rated
    if needs is None:
        return None
    flow = needs if flow_c is None else min(needs, flow_c)
    exponent = min(1.6, max(1.0, ways.number(part, "exponent") or 1.3))
    return output_W(rated, flow, flow - DROP_K, ROOM_C, exponent)


@rule("sizing/output-below-demand", about="one house with a stated load", yields_to=("tapping/load-draws-cold",))
def output_below_demand(case: Case) -> Iterator[Said]:
    """Emitters, or the sources of a store, that give less than the house needs."""
    load = _stated_kw(case, "house_load_kw")
    if load is None:
        return
    emitters = list(dict.fromkeys(s.part for s in case.ways.sinks if s.sort == "emitter"))
    if emitters:
        yield _emitters(case, emitters, load)
    for store in sorted({c.store for c in load_circuits(case) if c.sink is not None and c.sink.sort == "emitter"}):
        yield from _sources(case, store, load)


def _emitters(case: Case, emitters: list[str], load: float) -> Said:
    given = [_emitter_w(case, p) for p in emitters]
    fed = next((c.store for c in load_circuits(case) if c.subject in emitters), emitters[0])
    if None in given:
        part = emitters[given.index(None)]
        return case.lacks(fed, part, "output_w", "output or design temperature")
    total = sum(g or 0.0 for g in given) / 1000
    said: dict[str, Any] = {
        "subject": fed,
        "culprits": tuple(emitters),
        "path": (fed, *emitters),
        "limit": load,
        "unit": "kW",
    }
    if total < load - 1e-9:
        return Finding(
            **said,
            severity=Severity.FAULT if total < SHORT * load else Severity.ADVICE,
            measured=total,
            message=f"Radiators and floors give {total:.1f} kW at their design temperatures; "
            f"the house needs {load:g} kW.",
            todo=f"Add {load - total:.1f} kW of emitters, or larger ones.",
        )
    cool = case.limit("ctl.flow.max")
    at_cool = sum(_emitter_w(case, p, cool) or 0.0 for p in emitters) / 1000
    fires = any(s.stops == "fire" for s in case.ways.sources)
    if at_cool < load - 1e-9 and not fires and any(case.ways.typed(p, "t_need_c") for p in emitters):
        return Finding(
            **said,
            severity=Severity.ADVICE,
            measured=at_cool,
            sources=("ctl.flow.max",),
            message=f"With water at {cool:g} °C radiators and floors give {at_cool:.1f} kW of the "
            f"{load:g} kW the house needs.",
            todo=f"Larger emitters let new heating run at {cool:g} °C or less.",
        )
    return Sound(fed, f"Emitters give {total:.1f} kW of {load:g} kW")


def _sources(case: Case, store: str, load: float) -> Iterator[Said]:
    ways = case.ways
    parts = sorted(p for p in heats(case).get(store, ()) if p not in ways.source_of or ways.source_of[p].stops != "sun")
    if not parts:
        return
    powers = [ways.number(p, "power_kw") for p in parts]
    if None in powers:
        part = parts[powers.index(None)]
        yield case.lacks(store, part, "power_kw", "power")
        return
    need = load + (_stated_kw(case, "hot_water_kw") or 0.0)
    total = sum(p or 0.0 for p in powers)
    if total >= need - 1e-9:
        yield Sound(store, f"Its sources give {total:g} kW of {need:g} kW")
        return
    yield Finding(
        severity=Severity.FAULT if total < SHORT * need else Severity.ADVICE,
        subject=store,
        culprits=tuple(parts),
        path=(store, *parts),
        measured=total,
        limit=need,
        unit="kW",
        message=f"Sources of {case.name(store)} give {total:g} kW; the house needs {need:g} kW.",
        todo=f"Add {need - total:.1f} kW.",
    )


# -- coils ------------------------------------------------------------------------------------------------------------


@rule("sizing/coil-duty-too-small", about="one coil", yields_to=("tapping/coil-upside-down",))
def coil_duty_too_small(case: Case) -> Iterator[Said]:
    """A coil that passes less than its source gives, or than the taps draw."""
    for circuit in source_circuits(case):
        if circuit.coil is not None and circuit.source is not None:
            yield (
                _solar_coil(case, circuit, circuit.coil)
                if circuit.source.stops == "sun"
                else _source_coil(case, circuit, circuit.coil)
            )
    for element, _, _ in tap_coils(case):
        coil = case.ways.coil_of(element)
        if coil is not None:
            yield _tap_coil(case, element.part, coil)
        else:
            yield Missing(element.part, "A plate exchanger needs the flow network: it is not assessed yet")


def _words(case: Case, store: str, coil: Coil) -> str:
    return f"Coil “{coil.name}” of {case.name(store)}"


def _no_area(case: Case, store: str, coil: Coil) -> Missing:
    return Missing(store, f"{_words(case, store, coil)}: surface is missing", store, "area_m2")


def _solar_coil(case: Case, circuit: Circuit, coil: Coil) -> Said:
    panels = {c.subject for c in source_circuits(case) if c.store == circuit.store and c.coil == coil}
    absorbers = [case.ways.number(p, "absorber_m2") for p in sorted(panels)]
    if coil.area_m2 is None:
        return _no_area(case, circuit.store, coil)
    if None in absorbers:
        return case.lacks(circuit.store, circuit.subject, "absorber_m2", "absorber area")
    wanted = case.limit("store.solar.hx") * sum(a or 0.0 for a in absorbers)
    if coil.area_m2 >= wanted - 1e-9:
        return Sound(circuit.store, f"{coil.area_m2:g} m² of {wanted:.2g} m²")
    return Finding(
        severity=Severity.ADVICE,
        subject=circuit.store,
        culprits=(circuit.store,),
        path=(circuit.store, *sorted(panels)),
        measured=coil.area_m2,
        limit=wanted,
        unit="m²",
        sources=("store.solar.hx",),
        message=f"{_words(case, circuit.store, coil)} has {coil.area_m2:g} m²; its collectors want {wanted:.2g} m².",
        todo=f"Fit a coil of {wanted:.2g} m² or more.",
    )


def _source_coil(case: Case, circuit: Circuit, coil: Coil) -> Said:
    ways, store, source = case.ways, circuit.store, circuit.source
    assert source is not None
    power, flow_c = ways.number(source.part, "power_kw"), ways.number(source.part, "t_flow_c")
    design = ways.number(store, "design_temp_c")
    ordinary = ways.kind(store).body == "cylinder" and (coil.area_m2 is None or coil.area_m2 < 1.0)
    most = case.limit("store.indirect.max")
    for prop, found, part in (
        ("power_kw", power, source.part),
        ("t_flow_c", flow_c, source.part),
        ("design_temp_c", design, store),
    ):
        if found is None:
            return Missing(store, f"{case.name(part)}: {prop.split('_')[0]} is missing", part, prop)
    assert power is not None and flow_c is not None and design is not None
    if source.stops == "fire":  # what its own radiators shed never passes the coil
        power -= sum(emitter_kw(case, p) or 0.0 for p in fixed_emitters(case, source))
    said: dict[str, Any] = {
        "subject": store,
        "culprits": (store,),
        "path": (store, source.part),
        "limit": max(power, 0.0),
        "unit": "kW",
    }
    if coil.area_m2 is not None and power > 0:
        capacity = 1000.0 * power / DROP_K  # W/K, at which the source warms its water by the usual rise
        passes = _passes_kw(coil.area_m2, capacity, flow_c - min(design, flow_c - BELOW_FLOW_K))
        if passes < SHORT * power:
            area = _area_m2(power, capacity, BELOW_FLOW_K)
            return Finding(
                **said,
                severity=Severity.FAULT,
                measured=passes,
                message=f"{_words(case, store, coil)} passes {passes:.0f} kW at best with the store "
                f"{BELOW_FLOW_K:g} K cooler "
                f"than the flow; {case.name(source.part)} gives {power:g} kW.",
                todo=f"Fit a coil of {area:.1f} m² or more." if area else "Fit a larger coil, or a plate exchanger.",
            )
    if ordinary and power > most:
        return Finding(
            **{**said, "limit": most},
            severity=Severity.ADVICE,
            measured=power,
            sources=("store.indirect.max",),
            message=f"{_words(case, store, coil)} is asked for {power:g} kW; an ordinary cylinder coil "
            f"takes {most:g} kW.",
            todo="Fit a cylinder with a quick-heating coil.",
        )
    if coil.area_m2 is None:
        return _no_area(case, store, coil)
    return Sound(store)


def _passes_kw(area_m2: float, capacity_w_k: float, difference_k: float) -> float:
    """Heat through a coil in still water, kW, at the best transfer of handbooks."""
    return coils.effectiveness_still(BEST_COIL_W_M2K * area_m2 / capacity_w_k) * capacity_w_k * difference_k / 1000


def _area_m2(power_kw: float, capacity_w_k: float, difference_k: float) -> float | None:
    share = 1000 * power_kw / (capacity_w_k * difference_k)
    return None if share >= 1 else -math.log1p(-share) * capacity_w_k / BEST_COIL_W_M2K


def _tap_coil(case: Case, store: str, coil: Coil) -> Said:
    ways = case.ways
    hot = ways.number(store, "design_temp_c")
    found = water_of(ways, ("port", store, coil.lower))
    outlets = sorted(p for p in found.parts if ways.has_tag(p, "outlet")) if found else []
    draws = [(d, p) for p in outlets if (d := ways.number(p, "demand_l_min"))]
    if not draws:
        return Missing(store, f"{_words(case, store, coil)}: no tap with a stated draw-off is drawn", store)
    if coil.area_m2 is None:
        return _no_area(case, store, coil)
    if hot is None:
        return case.lacks(store, store, "design_temp_c", "design temperature")
    draw, outlet = max(draws)
    # where even the whole draw through the coil comes out too cool, no mixing valve can help
    flow_kg_s = draw / 60 * water.density_kg_m3(COLD_C) / 1000
    got = coils.through_layers(flow_kg_s, COLD_C, [BEST_COIL_W_M2K * coil.area_m2], [hot])
    if got.outlet_C >= TAP_C:
        return Sound(store, f"{draw:g} l/min at {got.outlet_C:.0f} °C")
    capacity = flow_kg_s * water.specific_heat_J_kgK((COLD_C + TAP_C) / 2)
    share = (TAP_C - COLD_C) / (hot - COLD_C) if hot > TAP_C else 1.0
    area = -math.log1p(-share) * capacity / BEST_COIL_W_M2K if share < 1 else None
    return Finding(
        severity=Severity.FAULT,
        subject=store,
        culprits=(store,),
        path=(store, outlet),
        measured=got.outlet_C,
        limit=TAP_C,
        unit="°C",
        message=f"{_words(case, store, coil)} warms the {draw:g} l/min of {case.name(outlet)} to "
        f"{got.outlet_C:.0f} °C at best, "
        f"with the store at {hot:g} °C; {TAP_C:g} °C is wanted.",
        todo=f"Fit a coil of {area:.1f} m² or more." if area else "Keep the store hotter.",
    )


# -- store for the sun ------------------------------------------------------------------------------------------------


@rule(
    "sizing/store-too-small-for-solar",
    about="one store with collectors",
    yields_to=("tapping/solar-not-lowest", "tapping/steals-from-solar"),
)
def store_too_small_for_solar(case: Case) -> Iterator[Said]:
    """Too little water for a day of sun."""
    ways = case.ways
    by_store: dict[str, list[Circuit]] = {}
    for circuit in source_circuits(case):
        by_store.setdefault(circuit.store, []).append(circuit)
    for store, circuits in by_store.items():
        panels = sorted({c.subject for c in circuits if c.source is not None and c.source.stops == "sun"})
        if not panels:
            continue
        absorbers, litres = [ways.number(p, "absorber_m2") for p in panels], ways.number(store, "volume_l")
        if litres is None or None in absorbers:
            part, prop = (store, "volume_l") if litres is None else (panels[absorbers.index(None)], "absorber_m2")
            yield Missing(
                store, f"{case.name(part)}: {'volume' if litres is None else 'absorber area'} is missing", part, prop
            )
            continue
        area = sum(a or 0.0 for a in absorbers)
        returns = [c.leave_f for c in circuits if c.source is not None and c.source.stops in SWITCHED]
        alone = litres * min(returns, default=1.0)
        small, whole = case.limit("store.solar.uk") * area, case.limit("store.solar.dhw") * area
        said: dict[str, Any] = {
            "severity": Severity.ADVICE,
            "subject": store,
            "culprits": (store,),
            "path": (store, *panels),
            "unit": "l",
        }
        if litres < whole - 0.5:
            yield Finding(
                **said,
                measured=litres,
                limit=whole,
                sources=("store.solar.dhw",),
                message=f"{case.name(store)} holds {litres:.0f} l; {area:g} m² of collector want {whole:.0f} l.",
                todo=f"Add {whole - litres:.0f} l, or fewer collectors.",
            )
        elif alone < small - 0.5:
            yield Finding(
                **said,
                measured=alone,
                limit=small,
                sources=("store.solar.uk",),
                message=f"Below the lowest boiler return {case.name(store)} leaves {alone:.0f} l to the sun; "
                f"{area:g} m² of collector want {small:.0f} l.",
                todo="Raise the boiler's return.",
            )
        else:
            yield Sound(store, f"{litres / area:.0f} l a square metre" if area else "")
