"""Which pumps run: as their links ask, with the burner they serve, with a warm boiler or the sun, and on past its stop.

Owns that decision and what of the drawing it rests on, looked up once. Knows nothing of how a pump moves water (`gear`)
or of what a link senses (`controls`).
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loopwright.engineering.network import State
from loopwright.engineering.runs.controls import Controls
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.runs.heat import Burner
from loopwright.engineering.runs.whole import Whole
from loopwright.waterways.graph import Source
from loopwright.waterways.views import Condition

SUNNY_W_M2 = 150.0
"""Sun at which a pump of collectors alone runs where nothing else drives it."""
LOADS_K, STOPS_K = 5.0, 10.0
"""A loading unit's pump runs from so far below its opening temperature, and stops that far below it."""


@dataclass(frozen=True)
class Pumping:
    """A pump. `may`: it has power, and nobody stopped it; `burners`: those that it alone serves, each with the seconds
    it goes on past their stop; `own`: the burner that it is built into.

    `warm_C`: the opening temperature of a loading unit beside `sources`, by branch and cell; `sunny`: its water has no
    source but the sun.
    """

    part: str
    may: bool
    linked: bool
    burners: tuple[tuple[Burner, float], ...]
    own: Burner | None
    sources: tuple[tuple[int, int], ...]
    warm_C: float | None
    sunny: bool

    def wanted(self, controls: Controls, clock: bool, may_burn: bool, sun_W_m2: float, s: State, runs: bool) -> bool:
        """Whether it should run; `runs`: whether it does."""
        if not (self.may and controls.wants(self.part, clock, True)):
            return False
        if self.burners and not may_burn:  # the plan that stops those that it alone serves stops it, too
            return False
        if self.linked:
            return True
        if self.own is not None:
            return self.own.burning
        if self.warm_C is not None:
            least = self.warm_C - (STOPS_K if runs else LOADS_K)
            return any(s.T[cell] > least for cell in self.sources)
        return sun_W_m2 > SUNNY_W_M2 if self.sunny else True

    def overruns_until(self, t: float) -> float:
        """Until when it carries away the last heat of a burner that has stopped; at most `t` if it does not."""
        ends = (b.since_s + lasts for b, lasts in self.burners if self.may and b.starts and not b.burning)
        return max(ends, default=t)


def pumping(
    whole: Whole,
    condition: Condition,
    controls: Controls,
    burners: Mapping[str, Burner],
    sources: Mapping[str, Source],
) -> list[Pumping]:
    """Every pump with what it goes by."""
    ways, made = whole.ways, []
    for pump in whole.pumps:
        part, mates = pump.part, []
        for p, burner in burners.items():
            if whole.at[p][0] == pump.branch:
                minutes = ways.number(p, "overrun_min")
                mates.append((burner, 60.0 * (assumed("pump", "overrun_min") if minutes is None else minutes)))
        water = next((w for w in whole.waters if part in w.parts), None)
        beside = [s for s in sources.values() if water is not None and s in water.sources]
        loading = ways.has_tag(part, "loading_unit") and bool(beside)
        made.append(
            Pumping(
                part,
                condition.power and part not in condition.stopped,
                controls.linked(part),
                tuple(mates),
                burners.get(part),
                tuple(whole.at[s.part] for s in beside),
                (ways.number(part, "opens_c") or 60.0) if loading else None,
                bool(beside) and all(s.stops == "sun" for s in beside),
            )
        )
    return made
