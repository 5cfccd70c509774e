"""A run made by hand, for tests of what is shown of one."""

from __future__ import annotations

import numpy as np

from loopwright.engineering.runs.result import Books, Event, Run
from loopwright.waterways.views import NORMAL, POWER_CUT


def made(kind="power cut", outcome="peaks", peak_c=90.0, **more) -> Run:
    """An hour in steps of a minute: a stove that rises to its peak at half time, a store in four layers."""
    times = np.arange(0.0, 3601.0, 60.0)
    share = 1.0 - np.abs(times / 1800.0 - 1.0)
    flows = {p: np.full_like(times, kg_s) for p, kg_s in (("out", 0.02), ("back", 0.02))}
    given = {
        "kind": kind,
        "condition": POWER_CUT if kind == "power cut" else NORMAL,
        "times_s": times,
        "layers": {"store": np.column_stack([20.0 + 10.0 * k + 0.0 * times for k in range(4)])},
        "parts": {"stove": 60.0 + (peak_c - 60.0) * share},
        "pipes": {p: np.full_like(times, 55.0) for p in flows},
        "flows": flows,
        "powers": {"stove": 8000.0 * (times < 1800.0)},
        "events": (Event(0.0, "cut", "", "Power cut"),),
        "books": Books({"stove": 4.0}, {}, 0.5, 0.1, 0.0, 3.399, 0.001),
        "outcome": outcome,
        "verdict": "Said by the run.",
        "notes": ("pump taken to stand",),
        "title": "Kiln Lane barn power cut",
        "figures": {"boils_at_stove_c": 110.0, "peak_stove_c": peak_c},
    }
    return Run(**{**given, **more})
