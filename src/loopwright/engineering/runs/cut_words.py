"""What is said of a power cut: when it boils or how hot it gets, and which path carried how much.

Owns words and the figures they rest on. Knows nothing of how the run is made.
"""

from __future__ import annotations

from loopwright.engineering.runs.house import House
from loopwright.engineering.runs.ledger import KWH
from loopwright.engineering.runs.record import Record
from loopwright.engineering.runs.result import Event

STEAM_J_KG = 2.25e6  # heat of evaporation near 100 degC, steam tables
COLD_TO_BOILING_J_KG = 0.38e6  # from 10 to 100 degC, steam tables


def figures_of(house: House, record: Record) -> dict[str, float]:
    """Figures of the run: peaks, times, and the kWh that each path carried."""
    ledger, whole = house.ledger, house.whole
    books = ledger.close(house.state)
    out = {"put_in_kwh": books.put_in, "lost_pipes_kwh": books.pipes, "lost_stores_kwh": books.stores}
    for part, kwh in books.loads.items():
        out[f"carried_{part}_kwh"] = kwh + _kept(house, part)  # not what it only gave up of its own water's heat
    for store in whole.layers:
        out[f"carried_{store}_kwh"] = ledger.store_J(store, house.state) / KWH
        out[f"peak_{store}_c"] = record.store_peak(store)[0]
    for part in whole.at:
        peak, when = record.peak(part)
        out[f"peak_{part}_c"] = peak
        out[f"peak_{part}_min"] = when / 60.0
    for part in house.sources:
        out[f"boils_at_{part}_c"] = float(house.A.boil[whole.at[part]])
    for cooler in house.coolers.values():
        if cooler.litres > 0.0:
            out[f"cooling_{cooler.valve}_l"] = cooler.litres
    limit = next((e for e in house.events if e.what == "limit"), None)
    for key, first in (("boils", boil_of(house)), ("limit", limit)):
        if first is not None:
            out[f"{key}_min"] = first.time_s / 60.0
    return out


def boil_of(house: House) -> Event | None:
    """The first boiling that ends the run: where a fire burns, that of a collector in the sun is only noted."""
    sunny = {p for p, s in house.sources.items() if s.stops == "sun"} if house.fires else set()
    return next((e for e in house.events if e.what == "boils" and e.part not in sunny), None)


def verdict_of(house: House, outcome: str, figures: dict[str, float]) -> str:
    """One plain sentence with the numbers."""
    name = house.ways.name
    parts = list(house.fires) or list(house.sources)
    if not parts:
        return "Nothing gives heat in this run."
    part = max(parts, key=lambda p: figures[f"peak_{p}_c"])
    limit = next((e for e in house.events if e.what == "limit"), None)
    limited = ""
    if limit is not None:
        told = boil_of(house)
        subject = told.part if outcome == "boils" and told is not None else part
        who = "it" if limit.part == subject else _the(name(limit.part))
        who = who[0].lower() + who[1:] if who.startswith("The ") else who
        limited = f"; {who} passes {limit.words.rpartition('passes ')[2]} {when_of(limit.time_s)}"
    if outcome == "boils":
        boil = boil_of(house)
        assert boil is not None
        at = figures.get(f"boils_at_{boil.part}_c")
        what = f"{_the(name(boil.part))} boils" if boil.part in whole_parts(house) else boil.words
        said = f"{what} {when_of(boil.time_s)}"
        if at is not None:
            said += f", at {at:.0f} °C under its head of water"
        return f"{said}{limited}. {paths(house, figures)}{steam_words(house, figures)}"
    peak, when = figures[f"peak_{part}_c"], figures[f"peak_{part}_min"]
    boils = figures[f"boils_at_{part}_c"]
    if outcome == "under way":
        return f"So far, after {minutes(house.time_s)}: {name(part)} has reached {peak:.0f} °C."
    if outcome == "cancelled":
        return f"Stopped by hand after {minutes(house.time_s)}: {name(part)} had reached {peak:.0f} °C."
    said = f"{_the(name(part))} peaks at {peak:.0f} °C after {minutes(60.0 * when)}, {boils - peak:.0f} K below boiling"
    return f"{said}{limited}. {paths(house, figures)}"


def steam_words(house: House, figures: dict[str, float]) -> str:
    """How much water boils away from then on in a vented water, and whether its cistern makes it up.

    At the fire's power now: watts over the heat that turns cold water to steam, evaporation and warming together. The
    charge that is left bounds it. A float valve needs no power; without one the cistern's own water is what there is.
    """
    told = boil_of(house)
    fire = None if told is None else next((p for p in house.fires if house.fires[p].burns(told.time_s)), None)
    water = next((w for w in house.whole.waters if fire is not None and house.sources[fire] in w.sources), None)
    if fire is None or told is None or water is None or water.regime != "vented":
        return ""
    watts = house.fires[fire].mean_W(told.time_s, 60.0)
    left_J = sum(c.heat_J - c.given_J(told.time_s - start) for start, c in house.fires[fire].charges)
    per_kg = STEAM_J_KG + COLD_TO_BOILING_J_KG
    figures["steam_l_h"], figures["steam_most_l"] = 3600.0 * watts / per_kg, left_J / per_kg
    said = f" It then boils away {figures['steam_l_h']:.0f} l an hour, {figures['steam_most_l']:.0f} l at most"
    cistern = next((part for _, part in water.feeds), None)
    if cistern is None:
        return f"{said}."
    name = house.ways.name(cistern)
    if house.ways.value(cistern, "float_valve"):
        return f"{said}; {name} makes it up by its float valve as long as the main runs."
    litres = house.ways.number(cistern, "volume_l")
    return f"{said}; nothing makes it up" + (f" but what {name} holds." if litres is None else f" but {litres:.0f} l.")


def paths(house: House, figures: dict[str, float]) -> str:
    """Which path carried how much of the fire's heat, largest first."""
    put_in = figures["put_in_kwh"]
    if put_in < 0.01:
        return "No heat was put in."
    name = house.ways.name
    leaks = list(house.meters.emitters)
    coolers = [v for v in house.meters.cooled if f"carried_{v}_kwh" in figures]
    carried = [(figures[f"carried_{p}_kwh"], name(p)) for p in (*leaks, *coolers, *house.whole.layers)]
    carried.append((figures["lost_pipes_kwh"], "pipes"))
    rest = put_in - sum(kwh for kwh, _ in carried)
    carried.append((rest, "the water and metal outside the store"))
    gave = [f"{words} gave up {-kwh:.1f} kWh" for kwh, words in sorted(carried) if kwh < -0.05 * put_in]
    carried = [(kwh, words) for kwh, words in sorted(carried, reverse=True) if kwh > 0.02 * put_in]
    said = ", ".join(f"{words} {100.0 * kwh / put_in:.0f} %" for kwh, words in carried)
    litres = sum(c.litres for c in house.coolers.values())
    more = f" {litres:.0f} l of cold water ran through the cooling coil." if litres >= 1.0 else ""
    besides = f"; {', '.join(gave)} of its own" if gave else ""
    return f"Of the {put_in:.1f} kWh given, by where it went: {said}{besides}.{more}"


def _kept(house: House, part: str) -> float:
    """Heat that an emitter's own water and metal hold more than at the start, kWh."""
    if part not in house.whole.at:
        return 0.0
    b, k = house.whole.at[part]
    kept = float(house.A.C[b, k] * (house.state.T[b, k] - house.ledger.start.T[b, k]))
    if part in house.whole.slabs:
        node = house.whole.slabs[part][1]
        kept += float(house.A.Cn[node] * (house.state.N[node] - house.ledger.start.N[node]))
    return kept / KWH


def whole_parts(house: House) -> set[str]:
    """Parts that are sources, emitters or vessels."""
    return {*house.whole.at, *house.whole.layers}


def when_of(seconds: float) -> str:
    """After how long something came, in words."""
    return f"after {minutes(seconds)}" if seconds > 1.0 else "even before the power fails"


def minutes(seconds: float) -> str:
    """A time as people say it."""
    total = round(seconds / 60.0)
    if total < 1:
        return f"{seconds:.0f} s"
    return f"{total} min" if total < 120 else f"{total // 60} h {total % 60} min"


def _the(name: str) -> str:
    """A part's name at the head of a sentence: a common noun gets its article, a name of its own does not."""
    common = name[:1].isupper() and name[1:].islower() and not name[-1].isdigit()
    return f"The {name[0].lower()}{name[1:]}" if common else name
