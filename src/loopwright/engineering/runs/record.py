"""Keeps what a house went through, and makes a `Run` of it.

Owns the picking of parts, pipes and layers out of states. Knows nothing of verdicts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic

import numpy as np

from loopwright.engineering.network import State
from loopwright.engineering.runs.house import House
from loopwright.engineering.runs.result import Run

PEEK_S = 0.8
"""Between two looks at a run under way, by the clock on the wall."""


class Peeks:
    """Hands a run under way to whoever wants to see it, now and then: what there is so far, as a run of its own."""

    def __init__(self, wanted: Callable[[Run], None] | None, told: Callable[[str], Run]) -> None:
        self._wanted, self._told, self._last = wanted, told, monotonic()

    def look(self) -> None:
        """Show it, if it is time."""
        if self._wanted is not None and monotonic() - self._last >= PEEK_S:
            self._wanted(self._told("under way"))
            self._last = monotonic()


@dataclass
class Record:
    """States, powers and rooms, one a step and one for the start."""

    house: House
    times: list[float] = field(default_factory=list)
    states: list[State] = field(default_factory=list)
    powers: list[np.ndarray] = field(default_factory=list)
    rooms: list[list[float]] = field(default_factory=list)

    def keep(self) -> None:
        """Keep where the house stands now."""
        self.times.append(self.house.time_s)
        self.states.append(self.house.state)
        self.powers.append(self.house.power_W)
        self.rooms.append([r.air_C for r in self.house.rooms.values()])

    def peak(self, part: str) -> tuple[float, float]:
        """Highest temperature of a source's or emitter's water and when, degC and s."""
        b, k = self.house.whole.at[part]
        track = [float(s.T[b, k]) for s in self.states]
        at = int(np.argmax(track))
        return track[at], self.times[at]

    def store_peak(self, store: str) -> tuple[float, float]:
        """Highest layer of a store and when, degC and s."""
        span = self.house.whole.layers[store]
        track = [float(s.N[span].max()) for s in self.states]
        at = int(np.argmax(track))
        return track[at], self.times[at]

    def run(self, **said: object) -> Run:
        """The run; `said` gives kind, outcome, verdict, notes, title, figures and complete."""
        house, whole = self.house, self.house.whole
        T = np.array([s.T for s in self.states])
        N = np.array([s.N for s in self.states])
        m = np.array([s.m for s in self.states])
        power = np.array(self.powers)
        power[0] = power[1] if len(power) > 1 else 0.0
        parts = {p: T[:, b, k] for p, (b, k) in whole.at.items()}
        parts.update({d.part: T[:, d.branch, 0] for d in whole.draws})
        if house.rooms_move and house.rooms:
            air = np.array(self.rooms)
            parts.update({f"room {p}": air[:, i] for i, p in enumerate(house.rooms)})
        meters = house.meters
        first, last = len(meters.sources), len(meters.sources) + len(meters.emitters) + len(meters.taps)
        sign = np.ones(len(meters.names))
        sign[first:last] = -1.0
        ways = house.ways
        spoken = (*parts, *whole.layers, *meters.names, *meters.cooled, *(pump.part for pump in whole.pumps))
        return Run(
            names={p: ways.name(p) for p in dict.fromkeys(spoken) if p in ways.sheet.parts},
            condition=house.condition,
            times_s=np.array(self.times),
            layers={name: N[:, span] for name, span in whole.layers.items()},
            parts=parts,
            pipes={p: T[:, b, laid.cell] for p, (b, laid) in whole.pipes.items()},
            flows={p: laid.sign * m[:, b] for p, (b, laid) in whole.pipes.items()},
            powers={name: sign[i] * power[:, i] for i, name in enumerate(meters.names)},
            events=tuple(sorted(house.events, key=lambda e: e.time_s)),
            books=house.ledger.close(house.state),
            **said,  # type: ignore[arg-type]
        )
