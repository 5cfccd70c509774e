"""What is said of a day, and of two days side by side.

Owns words and the figures they rest on. Knows nothing of how a run is made.
"""

from __future__ import annotations

import numpy as np

from loopwright.engineering.runs.house import House
from loopwright.engineering.runs.ledger import KWH
from loopwright.engineering.runs.record import Record
from loopwright.engineering.runs.result import Run

OVERHEAT_K = 5.0  # above its design temperature a store counts as too hot
CREPT_KWH = 0.5  # less than that by gravity in a day is not worth a note
WORTH_KWH = 0.05  # differences below this are not worth a word
STOPPED = {"cancelled": " Stopped by hand after {}.", "under way": " That is so far, after {}."}


def figures_of(house: House, record: Record) -> dict[str, float]:
    """Figures of a day: heat by source and load, unmet heat, cool water, starts, overheat, solar share, losses."""
    books, whole, ways = house.ledger.close(house.state), house.whole, house.ways
    out = {f"given_{p}_kwh": kwh for p, kwh in books.sources.items()}
    out.update({f"taken_{p}_kwh": kwh for p, kwh in books.loads.items()})
    taps, cooled = set(house.meters.taps), set(house.meters.cooled)
    out["heating_kwh"] = sum(kwh for p, kwh in books.loads.items() if p not in taps | cooled)
    out["cooled_kwh"] = sum(kwh for p, kwh in books.loads.items() if p in cooled)
    out["hot_water_kwh"] = sum(kwh for p, kwh in books.loads.items() if p in taps)
    out["lost_kwh"] = books.pipes + books.stores
    out["boiled_kwh"] = books.boiled
    out["unmet_heat_kwh"] = sum(r.lacking_J for r in house.rooms.values()) / KWH
    out["unmet_hot_water_kwh"] = house.short_J / KWH
    out["hot_water_l"], out["cool_water_l"] = house.drawn_litres, house.cool_litres
    for part, burner in house.burners.items():
        out[f"starts_{part}"] = float(burner.starts)
    for part, joules in house.electric_J.items():
        out[f"electric_{part}_kwh"] = joules / KWH
    sun = sum(kwh for p, kwh in books.sources.items() if p in house.sources and house.sources[p].stops == "sun")
    given = sum(max(0.0, kwh) for kwh in books.sources.values())
    out["solar_share"] = max(0.0, sun) / given if given > 0.0 else 0.0
    for store, span in whole.layers.items():
        design = ways.number(store, "design_temp_c") or 80.0
        tops = np.array([s.N[span].max() for s in record.states])
        out[f"overheat_{store}_min"] = float(_minutes(record, tops > design + OVERHEAT_K))
        out[f"peak_{store}_c"] = float(tops.max())
        out[f"kept_{store}_kwh"] = house.ledger.store_J(store, house.state) / KWH
    for part in house.sources:
        out[f"peak_{part}_c"] = record.peak(part)[0]
    for part, joules in house.crept_J.items():
        out[f"crept_{part}_kwh"] = joules / KWH
    for part, room in house.rooms.items():
        out[f"room_{part}_c"] = room.air_C
    return out


def crept_words(house: House) -> list[str]:
    """What went round by gravity to emitters that nothing called on, in words; what is not worth a word left out."""
    told = []
    for part, joules in house.crept_J.items():
        if joules / KWH >= CREPT_KWH:
            leak = house.ways.has_tag(part, "heat_leak")
            why = (
                "while no fire burned: its way stays open, as a heat leak's must" if leak else "past its standing pump"
            )
            told.append(f"{joules / KWH:.1f} kWh went round by gravity to {house.ways.name(part)} {why}")
    return told


def _minutes(record: Record, when: np.ndarray) -> float:
    steps = np.diff(np.array(record.times), prepend=0.0)
    return float((steps * when).sum() / 60.0)


def verdict_of(house: House, title: str, figures: dict[str, float], outcome: str) -> str:
    """One plain sentence with the numbers of a day."""
    name = house.ways.name
    given = [(figures[f"given_{p}_kwh"], p) for p in (*house.sources, *house.elements)]
    told = []
    for kwh, p in sorted(given, reverse=True):
        if kwh < 0.05:
            continue
        starts = figures.get(f"starts_{p}")
        more = f" in {starts:.0f} burn{'s' if starts > 1.5 else ''}" if starts else ""
        told.append(f"{name(p)} {kwh:.1f} kWh{more}")
    said = f"{title}: " + (", ".join(told) if told else "no source gave any heat")
    gone = [
        f"{figures[key]:.1f} kWh {words}"
        for key, words in (
            ("heating_kwh", "to the rooms"),
            ("hot_water_kwh", "to hot water"),
            ("cooled_kwh", "thrown away by the cooling coil"),
            ("lost_kwh", "lost by pipes and stores"),
        )
        if figures[key] >= WORTH_KWH
    ]
    said += f"; {', '.join(gone)}" if gone else ""
    lacks = []
    if figures["unmet_heat_kwh"] >= WORTH_KWH:
        lacks.append(f"the rooms lacked {figures['unmet_heat_kwh']:.1f} kWh")
    if figures["cool_water_l"] >= 1.0:
        lacks.append(f"{figures['cool_water_l']:.0f} of {figures['hot_water_l']:.0f} l ran cool")
    for store in house.whole.layers:
        if figures[f"overheat_{store}_min"] >= 1.0:
            lacks.append(f"{name(store)} was too hot for {figures[f'overheat_{store}_min']:.0f} min")
    if figures["boiled_kwh"] >= WORTH_KWH:
        lacks.append(f"{figures['boiled_kwh']:.1f} kWh boiled away")
    said += f"; {', '.join(lacks)}" if lacks else "; nothing was lacking"
    hours = f"{house.time_s / 3600.0:.1f} h"
    return f"{said}.{STOPPED.get(outcome, '').format(hours)}"


def signed(change: float, digits: int = 0) -> str:
    """A change with its sign, as it is printed: +0.3, −2.0."""
    return f"{change:+.{digits}f}".replace("-", "\N{MINUS SIGN}")


def compare(a: Run, b: Run) -> tuple[str, ...]:
    """What the second run does better or worse than the first, in words, the largest difference first.

    Both of one kind. Figures that differ by less than a twentieth of a kilowatt-hour are left out.
    """
    if a.kind == "power cut":
        return _compare_cuts(a, b)
    told: list[tuple[float, str]] = []

    def say(key: str, words: str, unit: str = "kWh", worth: float = WORTH_KWH) -> None:
        change = b.figures.get(key, 0.0) - a.figures.get(key, 0.0)
        if abs(change) >= worth:
            digits = 1 if unit == "kWh" else 0
            told.append((abs(change), f"{signed(change, digits)} {unit}{' ' if unit else ''}{words}"))

    for key in dict.fromkeys((*a.figures, *b.figures)):
        head, _, rest = key.partition("_")
        part = rest.rsplit("_", 1)[0]
        part = b.called(part) if part in b.names else a.called(part)
        if head == "given":
            say(key, f"from {part}")
        elif head == "starts":
            say(key, f"starts of {b.called(rest) if rest in b.names else a.called(rest)}", "", 1.0)
        elif head == "kept":
            say(key, f"left in {part} at the end")
        elif head == "overheat":
            say(key, f"with {part} too hot", "min", 1.0)
    say("heating_kwh", "to the rooms")
    say("hot_water_kwh", "to hot water")
    say("lost_kwh", "lost")
    say("boiled_kwh", "boiled away")
    say("unmet_heat_kwh", "lacking in the rooms")
    say("cool_water_l", "of water that ran cool", "l", 1.0)
    if not told:
        return ("Both do the same within a twentieth of a kilowatt-hour",)
    return tuple(words for _, words in sorted(told, key=lambda x: -x[0]))


def _compare_cuts(a: Run, b: Run) -> tuple[str, ...]:
    told = []
    if a.outcome != b.outcome:
        told.append(f"The first {a.outcome}, the second {b.outcome}")
    for key, words in (("boils_min", "until it boils"), ("limit_min", "until the limit")):
        if key in a.figures and key in b.figures and abs(b.figures[key] - a.figures[key]) >= 0.5:
            told.append(f"{signed(b.figures[key] - a.figures[key])} min {words}")
    for key in a.figures:
        change = b.figures.get(key, a.figures[key]) - a.figures[key]
        if key.startswith("peak_") and key.endswith("_c") and abs(change) >= 1.0:
            told.append(f"{signed(change)} K at the peak of {b.called(key[5:-2])}")
        if key.startswith("carried_") and abs(change) >= WORTH_KWH:
            told.append(f"{signed(change, 1)} kWh carried by {b.called(key[8:-4])}")
    return tuple(told) or ("Both do the same",)
