"""A fire in a power cut, run in time, as lessons ask for it: its hottest water, and frames to play.

Owns the few questions that lessons put to a run, each answered once a sheet. The run itself is engineering's, cooling
coils included. Only where it cannot be made, for a figure that is missing, a sure cooling coil answers by itself.
"""

from __future__ import annotations

from typing import cast

from loopwright.engineering.runs.cut import power_cut
from loopwright.engineering.runs.result import Run
from loopwright.errors import FigureError
from loopwright.rules.cooling import sound_cooling
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Source
from loopwright.waterways.views import POWER_CUT

FRAMES = 120
"""Instants kept for playing, at most."""
NEVER = 600.0
"""Minutes said for water that does not boil at all."""


def cut(case: Case, *, full: bool = False, shut: frozenset[str] = frozenset()) -> Run | FigureError:
    """The run of a power cut, or why there is none. `full`: stores charged throughout; `shut`: valves shut with it."""
    memo = cast(dict[object, Run | FigureError], case.ways.cache.setdefault("lesson runs", {}))
    if (full, shut) not in memo:
        try:
            memo[full, shut] = power_cut(case.ways, POWER_CUT, store_full=full, shut=shut)
        except FigureError as bad:
            memo[full, shut] = bad
    return memo[full, shut]


def held_by_cooling(case: Case, fire: Source) -> float | None:
    """Where a sure cooling coil holds a fire's water, degC; None where there is none."""
    if not sound_cooling(case, fire):
        return None
    opens = [case.ways.number(p.id, "opens_c") for p in case.ways.tagged("thermal_discharge")]
    return max((t for t in opens if t is not None), default=95.0)


def peak_c(case: Case, fire: Source) -> float | FigureError:
    """Hottest water of a fire in a power cut with its store in use, degC."""
    run = cut(case)
    if not isinstance(run, FigureError):
        return float(run.parts[fire.part].max())
    held = held_by_cooling(case, fire)
    return run if held is None else held


def minutes_to_boil(case: Case, fire: Source, *, full: bool) -> float | FigureError:
    """Minutes until water boils somewhere in a power cut; `NEVER` if it does not before all has cooled."""
    run = cut(case, full=full)
    if isinstance(run, FigureError):
        return run if held_by_cooling(case, fire) is None else NEVER
    return next((e.time_s / 60.0 for e in run.events if e.what == "boils"), NEVER)


def picked(run: Run) -> list[int]:
    """Numbers of the instants to play: first and last among them."""
    count = len(run.times_s)
    step = max(1, -(-count // FRAMES))
    return sorted({*range(0, count, step), count - 1})
