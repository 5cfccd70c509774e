"""Runs in time that were handed in: the verdict, how temperatures and heat went, what happened when, where heat went.

Owns what of a run is printed. Refuses to run anything.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from loopwright.engineering.runs.result import Run
from loopwright.reports.matter import Matter
from loopwright.reports.model import Block, Cell, Chart, Column, Data, Heading, Line, Section, Table, Words
from loopwright.reports.words import capital, figure

MOST_POINTS = 240
HOURS_FROM_S = 3 * 3600.0


def timed(matter: Matter) -> Iterator[Section]:
    """A heading, charts and tables a run."""
    if not matter.asked.runs:
        return
    blocks: list[Block] = []
    for number, run in enumerate(matter.asked.runs, 1):
        blocks += _run(matter, run, number)
    yield Section(key="runs", title="Runs", aside="computed in time, not measured", blocks=tuple(blocks))


def _run(matter: Matter, run: Run, number: int) -> Iterator[Block]:
    title = run.title.removeprefix(matter.sheet.title).lstrip(": ") or run.kind
    aside = run.condition.words if run.condition.words != capital(title) else ""
    yield Heading(capital(title), aside, key=f"run-{number}")
    yield Words(run.verdict, "strong")
    if not run.complete:
        yield Words("It was stopped early and holds up to its last time only.")
    for note in run.notes:
        yield Words(capital(note.rstrip(".")) + ".", "quiet")
    unit, by = ("hours", 3600.0) if run.times_s[-1] > HOURS_FROM_S else ("minutes", 60.0)
    keep = np.unique(np.linspace(0, len(run.times_s) - 1, min(MOST_POINTS, len(run.times_s))).astype(int))
    hours = run.times_s[keep] / by

    def line(name: str, values: np.ndarray) -> Line:
        return Line(name, tuple((float(t), float(v)) for t, v in zip(hours, values[keep])))

    warm = [line(f"{matter.name(s)}, {where}", table[:, k]) for s, table in run.layers.items()
            for where, k in (("top", -1), ("bottom", 0))]  # fmt: skip
    sources = {s.part for s in matter.ways.sources}
    warm += [line(matter.name(p), values) for p, values in run.parts.items() if p in sources]
    if warm:
        yield Chart(title="Temperatures", across=unit, up="°C", lines=tuple(warm[:6]))
    heat = [line(matter.name(p), values / 1000.0) for p, values in run.powers.items() if np.abs(values).max() > 1.0]
    if heat:
        yield Chart(title="Heat given to the water, and taken from it", across=unit, up="kW", lines=tuple(heat[:6]))
    yield from _events(run, unit, by)
    yield from _books(matter, run)
    matter.record(_data(run, number))


def _events(run: Run, unit: str, by: float) -> Iterator[Block]:
    if run.events:
        clock = run.kind == "day"
        yield Table(
            columns=(
                Column(key="time", title="At" if clock else f"After, {unit}", share=0.8, places=1, align="right"),
                Column(key="words", title="What happened", share=6.0),
            ),
            rows=tuple((_clock(e.time_s) if clock else e.time_s / by, e.words) for e in run.events[:60]),
            note=f"{len(run.events) - 60} more events are left out." if len(run.events) > 60 else "",
        )


def _clock(time_s: float) -> str:
    """A time of day from seconds after midnight."""
    minutes = round(time_s / 60.0)
    return f"{minutes // 60:02}:{minutes % 60:02}"


def _books(matter: Matter, run: Run) -> Iterator[Block]:
    books = run.books
    rows: list[tuple[Cell, ...]] = [(f"given by {matter.name(p)}", v, None) for p, v in books.sources.items()]
    rows += [(f"taken by {matter.name(p)}", None, v) for p, v in books.loads.items()]
    for name, value in (
        ("lost by pipes", books.pipes),
        ("lost by stores", books.stores),
        ("boiled away", books.boiled),
        ("left into bodies of fixed temperature", books.into_held),
        ("held more than at the start", books.stored),
        ("not accounted for", books.residual),
    ):
        if abs(value) >= 0.0005:
            rows.append((name, None, value))
    yield Table(
        columns=(
            Column(key="what", title="Heat", share=4.0),
            Column(key="in_kwh", title="In", unit="kWh", share=1.2, places=2, align="right"),
            Column(key="out_kwh", title="Out", unit="kWh", share=1.2, places=2, align="right"),
        ),
        rows=tuple(rows),
        note=f"Put in: {figure(books.put_in, 2)} kWh.",
    )


def _data(run: Run, number: int) -> Data:
    """The whole run in columns."""
    columns: dict[str, np.ndarray] = {"time_s": run.times_s}
    for store, table in run.layers.items():
        columns |= {f"{store}_layer_{k + 1}_c": table[:, k] for k in range(table.shape[1])}
    columns |= {f"{part}_c": values for part, values in run.parts.items()}
    columns |= {f"{part}_w": values for part, values in run.powers.items()}
    rows = tuple(tuple(round(float(v[k]), 3) for v in columns.values()) for k in range(len(run.times_s)))
    return Data(f"run-{number}", tuple(columns), rows)
