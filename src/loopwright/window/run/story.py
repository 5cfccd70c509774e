"""What happened in a run, what comes of it, and where its heat went, in words for the window.

Owns words. Refuses to know widgets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopwright.window.run.reading import Reading

OFTEN = 3
"""What happens more often than this is told once."""
OUT_SHARE = 0.01
NEAR_BOILING_K = 10.0
STANDING = (
    "Assumes a filled system, an open vent and a clear flue. A competent person proves the installed system before "
    "a fire is lit."
)


@dataclass(frozen=True)
class Moment:
    """A line of what happened."""

    time_s: float
    what: str
    words: str
    often: int = 1


@dataclass(frozen=True)
class Verdict:
    """What comes of a run: a severity (`ok`, `advice`, `fault`, `danger`, `open`), a heading, and sentences."""

    severity: str
    heading: str
    words: str


@dataclass(frozen=True)
class Share:
    """A bar of where the heat went."""

    words: str
    kwh: float
    token: str
    gives: bool = False


def clock(kind: str, time_s: float) -> str:
    """A time of day, or hours and minutes after the power failed."""
    if kind == "short cut":
        return f"{time_s:.0f} s" if time_s < 120.0 else f"{int(time_s) // 60} min {int(time_s) % 60:02d}"
    minutes = int(time_s / 60.0 + 0.5)
    return f"{minutes // 60:02d}:{minutes % 60:02d}" if kind == "day" else f"{minutes // 60}:{minutes % 60:02d}"


def when(kind: str, time_s: float) -> str:
    """The same in words."""
    if kind == "day":
        return f"at {clock(kind, time_s)}"
    if kind == "short cut":
        return f"{clock(kind, time_s)} after the cut"
    minutes = int(time_s / 60.0 + 0.5)
    said = f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"
    return f"{said} after the cut"


def moments(reading: Reading, *, every: bool = False) -> list[Moment]:
    """Events in order, with the peak, the end of each fire and how the store was left."""
    run = reading.run
    often: dict[tuple[str, str], int] = {}
    for e in run.events:
        often[e.what, e.part] = often.get((e.what, e.part), 0) + 1
    told: set[tuple[str, str]] = set()
    out = []
    for e in run.events:
        key = (e.what, e.part)
        many = often[key] if often[key] > OFTEN and not every else 1
        if many > 1 and key in told:
            continue
        told.add(key)
        out.append(Moment(e.time_s, e.what, e.words + (f" ({many} times)" if many > 1 else ""), many))
    if not reading.under_way:
        out += _found(reading, {e.what for e in run.events})
    return sorted(out, key=lambda m: m.time_s)


def _found(reading: Reading, told: set[str]) -> list[Moment]:
    """What the curves show and no event says."""
    run, out = reading.run, []
    for part in reading.sources:
        if reading.stops(part) not in ("fire", "residual"):
            continue
        values = run.parts[part]
        top = int(np.argmax(values))
        if 0 < top < len(values) - 1:
            out.append(
                Moment(float(run.times_s[top]), "peak", f"Highest at {_the(reading.name(part))}, {values[top]:.0f} °C")
            )
        watts = run.powers.get(part)
        if watts is not None and "out" not in told and watts.max() > 0.0:
            lit = np.nonzero(watts > OUT_SHARE * watts.max())[0]
            if len(lit) and lit[-1] + 1 < len(watts):
                at = float(run.times_s[lit[-1] + 1])
                out.append(Moment(at, "out", f"{reading.name(part)} gives no more heat"))
    for store, table in run.layers.items():
        said = f"Top of {_the(reading.name(store))}"
        out.append(
            Moment(reading.end_s, "end", f"{said} {'still ' if run.kind != 'day' else ''}{table[-1, -1]:.0f} °C")
        )
    return out


def verdict(reading: Reading) -> Verdict:
    """What comes of a run."""
    run = reading.run
    said = run.verdict
    if reading.under_way:
        return Verdict("open", "Under way", said)
    if not run.complete:
        return Verdict("open", "Stopped by hand", said)
    if run.kind == "day":
        return _of_day(reading, said)
    figures = run.figures
    if run.outcome == "boils":
        minutes = figures.get("boils_min", 0.0)
        return Verdict("danger", f"Boils after {minutes:.0f} min" if minutes >= 1.0 else "Boils at once", said)
    over = [s for s in run.layers if _peak(reading, s) > reading.limit_c]
    near = _margin(reading)
    if near is not None and near < NEAR_BOILING_K:
        return Verdict("fault", "Comes near to boiling", said)
    if over:
        words = (
            f"{reading.name(over[0])} reaches {_peak(reading, over[0]):.0f} °C; its limit is {reading.limit_c:.0f} °C."
        )
        return Verdict("advice", "Does not boil, but the store passes its limit", f"{said} {words}")
    return Verdict("ok", "Does not boil", said)


def _peak(reading: Reading, store: str) -> float:
    return float(reading.run.layers[store].max())


def _margin(reading: Reading) -> float | None:
    """The least distance between a source and its boiling, K."""
    figures = reading.run.figures
    gaps = [figures[f"boils_at_{p}_c"] - float(reading.run.parts[p].max())
            for p in reading.sources if f"boils_at_{p}_c" in figures]  # fmt: skip
    return min(gaps) if gaps else None


def _of_day(reading: Reading, said: str) -> Verdict:
    figures = reading.run.figures
    if figures.get("boiled_kwh", 0.0) >= 0.05 or any(e.what == "boils" for e in reading.run.events):
        return Verdict("danger", "Water boils on this day", said)
    if any(v >= 1.0 for k, v in figures.items() if k.startswith("overheat_")):
        return Verdict("fault", "The store gets too hot", said)
    lacks = []
    if (cold := figures.get("unmet_heat_kwh", 0.0)) >= 0.05:
        lacks.append(f"rooms lack {cold:.1f} kWh")
    if (cool := figures.get("cool_water_l", 0.0)) >= 1.0:
        lacks.append(f"{cool:.0f} l of hot water run cool")
    if lacks:
        words = ", ".join(lacks)
        return Verdict("advice", words[0].upper() + words[1:], said)
    return Verdict("ok", "Nothing is lacking", said)


def shares(reading: Reading) -> list[Share]:
    """Where the heat of a run came from, and where it went, kWh; what is under a hundredth of it all is left out."""
    books = reading.run.books
    tokens = {"fire": "flow", "residual": "flow", "sun": "cold", "switched": "hot", "": "disch"}
    out = [
        Share(f"From {_the(reading.name(p))}", v, tokens[reading.stops(p)], True)
        for p, v in books.sources.items() if v >= 0.0
    ]  # fmt: skip
    if books.stored < 0.0:
        out.append(Share("Out of what was warm at the start", -books.stored, "vent", True))
    groups: dict[str, float] = {}
    for part, kwh in books.loads.items():
        sort = reading.load_sort(part)
        groups[sort] = groups.get(sort, 0.0) + kwh
    for sort, words, token in (
        ("heat leak", "Heat leak", "accent"),
        ("rooms", "Rooms", "ret"),
        ("hot water", "Hot water", "disch"),
        ("cooling", "Thrown away by the cooling coil", "feed"),
    ):
        if sort in groups:
            out.append(Share(words, groups[sort], token))
    if books.stored > 0.0:
        out.append(Share("Left in water and metal", books.stored, "vent"))
    out += [Share(f"Lost by {_the(reading.name(p))}", -v, "ink3") for p, v in books.sources.items() if v < 0.0]
    out.append(Share("Lost by pipes", books.pipes, "ink3"))
    out.append(Share("Lost through the lagging", books.stores, "ink3"))
    out.append(Share("Boiled away", books.boiled, "danger"))
    out.append(Share("Carried off by other water", books.into_held, "feed"))
    whole = max(sum(s.kwh for s in out if s.gives), 1e-9)
    return [s for s in out if abs(s.kwh) >= 0.005 * whole]


def closure(reading: Reading) -> str:
    """How well the books close."""
    books = reading.run.books
    whole = max(sum(abs(v) for v in books.sources.values()), abs(books.stored), 1e-9)
    share = 100.0 * abs(books.residual) / whole
    layers = next((t.shape[1] for t in reading.run.layers.values()), 0)
    said = f"Closes to {share:.2f} %." if share >= 0.005 else "Closes to better than 0.01 %."
    return f"{said} {layers} layers." if layers else said


def cautions(reading: Reading) -> list[str]:
    """What to keep in mind."""
    notes = [n[0].upper() + n[1:].rstrip(".") + "." for n in dict.fromkeys(reading.run.notes)]
    if reading.under_way:
        notes.insert(0, f"Under way: what is shown holds up to {clock(reading.clock, reading.end_s)}.")
    elif not reading.run.complete:
        notes.insert(0, f"Stopped by hand: it holds up to {clock(reading.clock, reading.end_s)} only.")
    return [STANDING, *notes]


def _the(name: str) -> str:
    return f"the {name[0].lower()}{name[1:]}" if name[1:2].islower() else name
