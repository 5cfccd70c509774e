"""What a run gives back: temperatures, flows and heat over time, events, books, and a verdict in words.

Owns values only, as numpy arrays and plain figures, and their form as JSON and CSV. Knows nothing of how they are
computed. Times are seconds from the start of the run; n is the number of instants kept, the start included.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any, Literal

import msgspec
import numpy as np

from loopwright.waterways.views import Condition


class Event(msgspec.Struct, frozen=True):
    """Something that happened. `what` is a short key: on, off, lit, out, boils, limit, overheat, cool, cut, shut."""

    time_s: float
    what: str
    part: str
    words: str


class Books(msgspec.Struct, frozen=True):
    """Where the heat of a run went, kWh. Sources by part (given to water), loads by part (taken from water).

    `pipes` and `stores` are lost to the room, `boiled` is steam, `stored` what water and metal hold more than at the
    start, `into_held` what left into bodies of fixed temperature other than a tap. `residual` is what does not close.
    """

    sources: Mapping[str, float]
    loads: Mapping[str, float]
    pipes: float
    stores: float
    boiled: float
    stored: float
    residual: float
    into_held: float = 0.0

    @property
    def put_in(self) -> float:
        """Heat given by all sources, kWh."""
        return sum(self.sources.values())


class Run(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A run. Shapes: `times_s` (n,); `layers` (n, L), bottom first, degC; all else (n,) by id.

    `parts`: water of sources and emitters, degC; `room ID` the air about an emitter; a tap its water (NaN-free: the
    water standing in its pipe while nothing is drawn). `pipes`: mean degC. `flows`: kg/s towards the pipe's end b.
    `powers`: W given to the water (+) or taken from it (-). `outcome`: boils, peaks, or done (a day);
    cancelled, or under way.
    """

    kind: Literal["power cut", "day"]
    condition: Condition
    times_s: np.ndarray
    layers: Mapping[str, np.ndarray]
    parts: Mapping[str, np.ndarray]
    pipes: Mapping[str, np.ndarray]
    flows: Mapping[str, np.ndarray]
    powers: Mapping[str, np.ndarray]
    events: tuple[Event, ...]
    books: Books
    outcome: str
    verdict: str
    notes: tuple[str, ...] = ()
    title: str = ""
    figures: Mapping[str, float] = {}
    """Figures that the verdict rests on, by name, in the unit the name ends in."""
    names: Mapping[str, str] = {}
    """What people call each part that the run speaks of, by its id."""
    complete: bool = True
    """False where it was cancelled or is still under way: what is there holds up to the last time."""

    def called(self, part: str) -> str:
        """What people call a part: its name, else its id."""
        return self.names.get(part) or part

    def as_plain(self, digits: int = 3) -> dict[str, Any]:
        """The whole run as lists and numbers, ready for JSON."""

        def rows(table: Mapping[str, np.ndarray], places: int = digits) -> dict[str, Any]:
            return {key: np.round(value, places).tolist() for key, value in table.items()}

        return {
            "title": self.title,
            "kind": self.kind,
            "condition": self.condition.words,
            "outcome": self.outcome,
            "verdict": self.verdict,
            "complete": self.complete,
            "notes": list(self.notes),
            "names": dict(self.names),
            "figures": {k: round(v, 4) for k, v in self.figures.items()},
            "books_kwh": {
                "sources": {k: round(v, 4) for k, v in self.books.sources.items()},
                "loads": {k: round(v, 4) for k, v in self.books.loads.items()},
                **{
                    k: round(getattr(self.books, k), 4)
                    for k in ("pipes", "stores", "boiled", "stored", "into_held", "residual")
                },
            },
            "events": [msgspec.to_builtins(e) for e in self.events],
            "times_s": np.round(self.times_s, digits).tolist(),
            "layers_c": rows(self.layers),
            "parts_c": rows(self.parts),
            "pipes_c": rows(self.pipes),
            "flows_kg_s": rows(self.flows, 6),
            "powers_w": rows(self.powers, 1),
        }

    def as_csv(self) -> str:
        """One line an instant, one column a figure; units in the head of each column."""
        columns: list[tuple[str, np.ndarray]] = [("time_s", self.times_s)]
        for store, table in self.layers.items():
            columns += [(f"{store} layer {i + 1} (C)", table[:, i]) for i in range(table.shape[1])]
        for unit, group in (("C", self.parts), ("W", self.powers)):
            columns += [(f"{key} ({unit})", value) for key, value in group.items()]
        columns += [(f"{key} (C)", value) for key, value in self.pipes.items()]
        columns += [(f"{key} (kg/s)", value) for key, value in self.flows.items()]
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow([name for name, _ in columns])
        for i in range(len(self.times_s)):
            writer.writerow([f"{value[i]:.6g}" for _, value in columns])
        return out.getvalue()
