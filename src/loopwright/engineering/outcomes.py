"""What the settling of a flow network ends in: values only, each with the branch that decides.

Owns the words of an answer. Knows nothing of how it is reached (see `steady`).
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from dataclasses import dataclass

from loopwright.engineering.arrays import Arrays
from loopwright.engineering.books import Balance
from loopwright.engineering.network import State
from loopwright.errors import FigureError


@dataclass(frozen=True)
class Stall:
    """A branch that should carry and does not. `drive_Pa`: what would push it from a to b if it were open."""

    branch: str
    by_check: bool
    flow_kg_s: float
    drive_Pa: float
    column_Pa: float


@dataclass(frozen=True)
class Swing:
    """The largest movement over the last hour of a march, or its last hours for a slow swing: where, its range in K,
    net change and period.
    """

    branch: str
    range_K: float
    net_K: float
    period_s: float | None


@dataclass(frozen=True)
class Ending:
    """Where one start ends. `kind`: steady, swings or drifting; boiling and stalls are read off beside it.

    `boil_W`: heat that boils away, by branch, joint or store; empty if nothing worth naming does.
    """

    start: str
    kind: str
    state: State
    balance: Balance
    boil_W: dict[str, float]
    stalls: tuple[Stall, ...]
    swing: Swing | None = None
    marched: bool = False
    steps: int = 0

    @property
    def boils(self) -> bool:
        """Whether water boils anywhere."""
        return bool(self.boil_W)


@dataclass(frozen=True)
class Answer:
    """The outcome of a net: steady, boils, two states, swings, drifting or stalled, and the branch that decides.

    `ending` is the one to judge by: the worse of the two where they differ. Flows in kg/s from a to b.
    """

    outcome: str
    branch: str | None
    ending: Ending
    rest: Ending
    kick: Ending
    arrays: Arrays
    finer: str = ""
    """Where the starts disagree: the outcome with three times as many cells along every plain pipe."""

    @property
    def on_the_edge(self) -> bool:
        """Whether two states are so near their border that the fineness of the reckoning decides between them."""
        return self.outcome == "two states" and self.finer not in ("", "two states")

    def flow_kg_s(self, branch: str) -> float:
        return float(self.ending.state.m[self._row(branch)])

    def cells_C(self, branch: str) -> tuple[float, ...]:
        """Temperatures of a branch's cells from a to b."""
        row = self._row(branch)
        return tuple(float(t) for t in self.ending.state.T[row, : self.arrays.count[row]])

    def node_C(self, node: str) -> float:
        """Temperature of a joint."""
        for i, x in enumerate(self.arrays.net.nodes):
            if x.name == node:
                return float(self.ending.state.N[i])
        raise FigureError(f"There is no joint “{node}” in the network")

    def _row(self, branch: str) -> int:
        for i, b in enumerate(self.arrays.net.branches):
            if b.name == branch:
                return i
        raise FigureError(f"There is no branch “{branch}” in the network")
