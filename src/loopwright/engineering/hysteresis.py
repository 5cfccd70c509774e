"""How a network answers a source's power on its way up and on its way down: where both differ, history decides.

Owns the sweep, made on demand: each power settles from the one before it, as a fire that grows and dies does.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopwright.engineering.arrays import arrays
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.steady import AGREE_KG_S, from_rest, settle
from loopwright.errors import FigureError


@dataclass(frozen=True)
class Point:
    """One power: flow of the source's branch and whether anything boils, on the way up and on the way down."""

    power_W: float
    up_kg_s: float
    down_kg_s: float
    up_boils: bool
    down_boils: bool

    @property
    def differs(self) -> bool:
        """Whether the two ways of coming to a power end in different states."""
        return self.up_boils != self.down_boils or abs(self.up_kg_s - self.down_kg_s) > AGREE_KG_S


def sweep(net: Net, branch: str, powers_W: Sequence[float]) -> tuple[Point, ...]:
    """The points of a sweep of a source's power, least first. Raises FigureError if there is no such branch."""
    source = next((b for b in net.branches if b.name == branch), None)
    if source is None:
        raise FigureError(f"There is no branch “{branch}” in the network")
    powers = sorted(powers_W)
    row = [b.name for b in net.branches].index(branch)
    found: dict[tuple[str, float], tuple[float, bool]] = {}
    state: State | None = None
    for way, order in (("up", powers), ("down", powers[::-1])):
        for power in order:
            A = arrays(net.with_branch(source.with_source(power)))
            ending = settle(A, from_rest(A) if state is None else state, way)
            state = ending.state
            if not np.all(np.isfinite(state.T)):
                state = None
            found[way, power] = (float(ending.state.m[row]), ending.boils)
    return tuple(
        Point(p, found["up", p][0], found["down", p][0], found["up", p][1], found["down", p][1]) for p in powers
    )
