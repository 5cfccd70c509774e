"""Where a step will about end, by the two before it: a good guess saves Newton iterations, a bad one costs some.

Owns that guess and how far it is trusted. Knows nothing of what moves the water: it never changes an answer beyond what
an unfinished iteration leaves.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from loopwright.engineering.network import State

TRUSTED = 0.7
"""A guess is made as long as the last one missed by less than that share of what moved: else things jump about."""
Parts = tuple[np.ndarray, ...]


def _parts(s: State) -> Parts:
    return s.T, s.m, s.p, s.N


@dataclass
class Foresight:
    """Each quantity goes on at its rate of the last piece, slowed down as it was slowed down from the one before."""

    now: State
    rate: Parts | None = None
    fading: list[np.ndarray] = field(default_factory=list)
    """Rate of the last piece against that of the one before, 0 to 1."""
    guessed: State | None = None
    trusted: bool = True
    lasted_s: float = 0.0

    def learn(self, now: State, seconds: float) -> None:
        """Take in where a piece has ended."""
        was, before = self.now, self.rate
        self.now, self.lasted_s = now, seconds
        self.rate = tuple((x - y) / seconds for x, y in zip(_parts(now), _parts(was), strict=True))
        if before is not None:
            with np.errstate(all="ignore"):
                shares = (
                    np.where(np.abs(old) > 1e-12, new / old, 0.0) for new, old in zip(self.rate, before, strict=True)
                )
                self.fading = [np.minimum(np.maximum(np.nan_to_num(x), 0.0), 1.0) for x in shares]
        if self.guessed is not None:
            self.trusted = _apart(self.guessed, now) < TRUSTED * _apart(was, now)

    def guess(self, seconds: float) -> State | None:
        """Where a piece of so many seconds may end; None where nothing is known yet."""
        if self.rate is None or not self.fading:
            return None
        ahead = min(seconds, self.lasted_s)
        pairs = zip(_parts(self.now), self.rate, self.fading, strict=True)
        self.guessed = State(*(x + ahead * share * rate for x, rate, share in pairs))
        return self.guessed if self.trusted else self.now


def _apart(a: State, b: State) -> float:
    """Largest difference of a temperature, K."""
    return max(float(np.abs(a.T - b.T).max()), float(np.abs(a.N - b.N).max()))
