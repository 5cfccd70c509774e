"""A stove in a power cut: its water's temperature until the charge is burnt, by a plain heat balance.

Owns a closed estimate for playing. The stove's water, and the store's as far as gravity reaches it, warm as one; open
radiators give their heat by the excess temperature. A day's run of the whole network is another package's work.
"""

from __future__ import annotations

import msgspec

from loopwright.engineering.water import boiling_under_head_C
from loopwright.rules.circuits import source_circuits
from loopwright.rules.registry import Case
from loopwright.rules.shedding import charge_kwh, emitter_kw, fixed_emitters, fixed_loops, sound_cooling
from loopwright.waterways.graph import Source
from loopwright.waterways.waters import water_of

STEP_S = 20.0
START_C, ROOM_C = 75.0, 20.0
BODY_WH_K = 12.0
"""Iron and firebricks of a stove that warm with its water, Wh/K: common practice, no source."""
WH_PER_LITRE_K = 1.163
EXPONENT = 1.3
LONGEST_H = 5.0


class Burning(msgspec.Struct, frozen=True, kw_only=True):
    """A fire left alone: degC at each of `minutes`; when it boils, if it does; and its hottest."""

    fire: str
    minutes: tuple[float, ...]
    water_c: tuple[float, ...]
    boils_at_min: float | None
    boils_c: float
    peak_c: float


def burn(case: Case, source: Source) -> Burning:
    """The power goes off under a full fire, with the store charged to its design temperature."""
    ways = case.ways
    power_w = 1000.0 * (ways.number(source.part, "power_kw") or 8.0)
    left_wh = 1000.0 * (charge_kwh(case, source) or power_w / 1000.0)
    middles = {s.part: s.height_m for s in ways.sinks if s.sort == "emitter"}
    emitters = {
        p: 1000.0 * (emitter_kw(case, p) or 0.0)
        for p in fixed_emitters(case, source)
        if middles[p] > source.height_m  # gravity moves no water to what lies below
    }
    own = BODY_WH_K + WH_PER_LITRE_K * (ways.number(source.part, "content_l") or 15.0)
    room = _store(case, source)
    heat, temp = own, START_C
    stores, store_c = room
    boils_c = _boils(case, source)
    cooled = sound_cooling(case, source)
    times, temps = [0.0], [temp]
    boils: float | None = None
    now = 0.0
    while now < LONGEST_H * 3600.0:
        now += STEP_S
        burnt = min(power_w * STEP_S / 3600.0, left_wh)
        left_wh -= burnt
        out = sum(w * (max(0.0, temp - ROOM_C - 5.0) / 50.0) ** EXPONENT for w in emitters.values()) * STEP_S / 3600.0
        if cooled and temp > 95.0:
            out = max(out, burnt)
        into = 0.0
        if stores > 0.0:  # gravity keeps the fire some kelvins above the store, by the power it has to move
            into = max(0.0, min(burnt - out + heat * (temp - store_c - 5.0), power_w * STEP_S / 3600.0))
            store_c += into / stores
        temp += (burnt - out - into) / heat
        if temp >= boils_c:
            temp = boils_c
            boils = boils if boils is not None else now / 60.0
        if round(now) % 60 == 0:
            times.append(now / 60.0)
            temps.append(round(temp, 2))
        if left_wh <= 0.0 and temp < START_C:
            break
    return Burning(
        fire=source.part, minutes=tuple(times), water_c=tuple(temps), boils_at_min=boils, boils_c=boils_c,
        peak_c=max(temps),
    )  # fmt: skip


def _store(case: Case, source: Source) -> tuple[float, float]:
    """Wh/K of store water that gravity reaches, and its temperature at the start."""
    reached = {loop.sink.part for loop in fixed_loops(case, source) if loop.sink.sort in ("body", "coil")}
    total, start = 0.0, 80.0
    for circuit in source_circuits(case):
        base, top = case.ways.body_range(circuit.store)
        above = base + circuit.enter_f * (top - base) > source.height_m
        if circuit.subject == source.part and circuit.store in reached and above and circuit.enter_f > circuit.leave_f:
            litres = case.ways.number(circuit.store, "volume_l") or 0.0
            total += WH_PER_LITRE_K * litres * (1.0 - circuit.leave_f)
            start = case.ways.number(circuit.store, "design_temp_c") or start
    return total, start


def _boils(case: Case, source: Source) -> float:
    """Where the water boils under the head of its cistern."""
    water = water_of(case.ways, source.hot)
    heads = [case.ways.sheet.parts[c].height_m for c in (water.cisterns if water else ())]
    head = max((h - source.height_m for h in heads), default=10.0)
    return float(boiling_under_head_C(max(0.1, min(head, 15.0))))
